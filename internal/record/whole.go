package record

import "time"

// Reassembled is a look at the object put together again, before it is closed or
// goes back: what a person saw, point by point.
type Reassembled struct {
	At     time.Time `json:"at,omitzero" say:"the time" as:"moment"`
	Order  bool      `json:"order" say:"whether each sheet is in its place" as:"yesno" label:"Each sheet in its place"`
	Facing bool      `json:"facing" say:"whether each sheet is the right way round" as:"yesno" label:"Each the right way round"`
	// NothingLeft says that no leaf, insert or fragment was left over.
	NothingLeft bool `json:"nothing_left" say:"whether nothing is left over" as:"yesno" label:"Nothing left over"`
	// PartsKnown says that every kept part was looked for and found.
	PartsKnown bool `json:"parts_known" say:"whether each kept part is accounted for" as:"yesno" label:"Kept parts there"`
	// CreepMm is the creep of the innermost sheet as it lies now.
	CreepMm *float64 `json:"creep_mm,omitempty" say:"the creep" in:"0..50 mm"`
	Text    string   `json:"text,omitempty" say:"what is not so" as:"text" label:"What is not so, or was seen"`
}

// Kind is the kind of the entry.
func (Reassembled) Kind() Kind { return "reassembly-checked" }

// Whole says whether all was as it should be.
func (b Reassembled) Whole() bool { return b.Order && b.Facing && b.NothingLeft && b.PartsKnown }

func (b Reassembled) rules(k *check) {
	if !b.Whole() && b.Text == "" {
		k.refuse("text", "Something is not as it should be: say what.")
	}
}

func (b Reassembled) apply(c *Case, s Stamp) error {
	c.Reassembled = append(c.Reassembled, Stamped[Reassembled]{s, b})
	if c.MakeUp == nil {
		return Invalidf("", "The make-up is not recorded, so nothing can be held against it.")
	}
	return s.notAfter(b.At)
}
