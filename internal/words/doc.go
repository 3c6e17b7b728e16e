// Package words is the one way to say a thing to a person: money, numbers with
// their unit and uncertainty, ranges, spans of time, dates, lists, names. What
// it writes stands the same on screen, on paper and on the command line.
//
// The one rule for digits is that of interval.Decimals: a value is written to the
// place of its uncertainty, and nothing finer than it was stated. What has no
// uncertainty is written as it was given, what was computed in four figures.
//
// It knows no case, no HTML and no PDF. Every way of writing is a method of a
// Language; only English is filled.
package words

// Language is a language by its BCP 47 tag.
type Language string

// English is British English with a decimal point.
const English Language = "en"

// NBSP keeps a number and its unit on one line. What is written to a terminal
// replaces it by a blank.
const NBSP = "\u00a0"
