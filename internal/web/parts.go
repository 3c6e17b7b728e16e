package web

import (
	"time"

	"benchleaf/internal/record"
)

// Fact is a line of a list of facts: a value with its range and what it rests
// on, all as a person reads them.
type Fact struct {
	Name        string
	Value, Unit string
	Range       string // "0.34 to 0.40"
	Basis       string // "weighed, sheet 5" or "from the class of paper"
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

// LogLine is an entry as the log shows it.
type LogLine struct {
	Seq     int64
	Time    time.Time
	By      string
	Kind    record.Kind
	Said    string
	Struck  bool   // corrected or withdrawn
	Instead string // the correction
	Because string // why it was withdrawn
}

// logLine tells an entry that stands outside its case.
func (s *Server) logLine(e *record.Entry) LogLine {
	b, err := record.Decode(e.Kind, e.Version, e.Body)
	if err != nil {
		b = nil
	}
	return LogLine{Seq: e.Seq, Time: e.Time, By: e.By, Kind: e.Kind, Said: sentenceFor(nil, e.Kind, b)}
}
