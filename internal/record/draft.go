package record

// Draft is what a writer asks the store to append to one journal: the bodies,
// in order, that become entries when they are accepted.
type Draft struct {
	Case CaseID
	// Expect is the seq of the last entry that the writer had seen (0 for a
	// new journal). When the journal has grown since, the store appends all
	// the same if every body here commutes with what came (see Commutes);
	// otherwise it refuses with a Clash.
	Expect int64
	// Key is that of the form that asks, in the form of NewID; empty for none. The
	// drafts of one call have the same one, and are written once with it.
	Key   string
	By    string
	Zone  string
	Items []Item
}

// Item is one body, with the seq of the entry it corrects, or 0.
type Item struct {
	Body     Body
	Corrects int64
}

// Body is the typed content of an entry. Kinds are registered in kinds.go.
type Body interface {
	// Kind names the body's type in the journal.
	Kind() Kind
}
