package web

import "benchleaf/internal/account"

// Fact is a line of a list of facts: a value with its range and what it rests
// on, all as a person reads them.
type Fact struct {
	Code        account.Code
	Name        string
	Value, Unit string
	Range       string // "0.34 to 0.40"
	Basis       string // "weighed, sheet 5" or "from the class of paper"
	Good        bool   // it is what was aimed at
}

// Caution stands at the step where someone can be hurt.
type Caution struct {
	Title  string
	Points []string
	Grave  bool
}

// Empty says what belongs in a place where nothing is yet, and offers the
// first act.
type Empty struct {
	Title, Text string
	Act, Href   string
	Quiet       bool // the page has a weightier act than this one
}

// Thumb is a photograph in a grid.
type Thumb struct {
	Href, Src, Alt string
	Name, Note     string
}
