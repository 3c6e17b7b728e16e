package account

import "benchleaf/internal/words"

// Code names a fact or a sentence for the parts of the program that act on it;
// its text may be reworded without changing what they do.
type Code string

// Basis says what a figure rests on.
type Basis string

// What a figure can rest on.
const (
	Measured Basis = "measured" // read on the object, with a method
	Computed Basis = "computed" // by a model, from what was recorded
	Counted  Basis = "counted"  // added up from entries
	Stated   Basis = "stated"   // typed by a person, without a method
	Adopted  Basis = "adopted"  // fitted to readings on one sheet, and taken over by an entry
	Assumed  Basis = "assumed"  // from the class of paper or a handbook's table
)

// Fact is one thing that a case or a calculation says, ready to be shown.
type Fact struct {
	Code Code
	// Name is what it is, in a few words: "Alkaline reserve".
	Name string
	// Figure is the number, nil when the fact is Text alone.
	Figure *words.Figure
	// Text is what stands in the figure's place, or beside it.
	Text  string
	Basis Basis
	// RestsOn says what the figure rests on or what dominates its range.
	RestsOn string
	// Good says that it is what was aimed at: no acid left.
	Good bool
	// Limit says what the figure does not tell, or where its model ends.
	Limit string
}

// Value writes the figure, or the text where there is none.
func (f Fact) Value(l words.Language) string {
	if f.Figure == nil {
		return f.Text
	}
	return l.Figure(*f.Figure)
}

// Sentence is a sentence that other parts act on by its code.
type Sentence struct {
	Code Code
	Text string
}
