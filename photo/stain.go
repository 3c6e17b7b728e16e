package photo

// StainKind is what a stained region looks like, in the terms of condition
// records.
type StainKind string

// The kinds. They name a look, not a cause: Mould is grey or greenish spotting
// of the kind mould leaves, and whether it is mould only an examination tells.
const (
	Foxing        StainKind = "foxing"
	TideLine      StainKind = "tideline"
	Discoloration StainKind = "stain"
	Mould         StainKind = "mould"
	Loss          StainKind = "loss"
	Rust          StainKind = "rust migration"
)
