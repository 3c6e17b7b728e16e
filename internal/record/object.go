package record

import "time"

// MaxSheets is the largest number of inner sheets that a make-up may have.
const MaxSheets = 200

// Place says where on the object something is. No sheet means the whole
// object; several mean each of them.
type Place struct {
	// Sheets counts from the outside in; 0 is the cover where it is separate.
	Sheets []int `json:"sheets,omitempty"`
	// Face is one of Faces, or empty for both or not said.
	Face Face `json:"face,omitempty"`
	// Words says it as a person would: "page 12, fore-edge, near the head".
	Words string `json:"words,omitempty"`
}

func (p Place) check(k *check) {
	k.sheets("sheets", p.Sheets)
	k.maybeChoice("face", "the face", string(p.Face), Faces)
	k.maybeLine("place_words", "the place", p.Words)
}

func (p Place) String() string {
	s := SheetNames(p.Sheets)
	if p.Face != "" {
		s += ", " + Words(p.Face)
	}
	if p.Words != "" {
		s += ", " + p.Words
	}
	return s
}

// Opened is the first entry of every case.
type Opened struct {
	// Number is the studio's own case number.
	Number string `json:"number"`
	Title  string `json:"title"`
	// Purpose is why the object is here: "examination and treatment".
	Purpose string `json:"purpose,omitempty"`
}

func (Opened) Kind() Kind { return "case-opened" }

func (b Opened) Validate() error {
	var k check
	k.line("number", "the case number", b.Number)
	k.line("title", "the title", b.Title)
	k.text("purpose", "the purpose", b.Purpose)
	return k.err()
}

func (b Opened) apply(c *Case, s Stamp) error {
	if s.Seq != 1 {
		return Invalidf("", "Case %s is open already.", c.Number)
	}
	c.Number, c.Title, c.Purpose, c.Opened = b.Number, b.Title, b.Purpose, s.Time
	return nil
}

// Identity is what identifies this one object, after the open Object ID list:
// type, materials and techniques, measurements, inscriptions and marks,
// distinguishing features, title, date, maker, description. The latest counts.
type Identity struct {
	Title          string   `json:"title"`
	Issue          string   `json:"issue,omitempty"`
	Maker          string   `json:"maker,omitempty"`
	DateMade       string   `json:"date_made,omitempty"`
	Type           string   `json:"type,omitempty"`
	Technique      string   `json:"technique,omitempty"`
	HeightMm       *float64 `json:"height_mm,omitempty"`
	WidthMm        *float64 `json:"width_mm,omitempty"`
	ThicknessMm    *float64 `json:"thickness_mm,omitempty"`
	Inscriptions   string   `json:"inscriptions,omitempty"`
	Distinguishing string   `json:"distinguishing,omitempty"`
	Description    string   `json:"description,omitempty"`
}

func (Identity) Kind() Kind { return "object-described" }

func (b Identity) Validate() error {
	var k check
	k.line("title", "the title", b.Title)
	k.maybeLine("issue", "the issue", b.Issue)
	k.maybeLine("maker", "the maker", b.Maker)
	k.maybeLine("date_made", "the date made", b.DateMade)
	k.maybeLine("type", "the type", b.Type)
	k.maybeLine("technique", "the technique", b.Technique)
	k.maybe("height_mm", "the height", b.HeightMm, 10, 1500, "mm")
	k.maybe("width_mm", "the width", b.WidthMm, 10, 1500, "mm")
	k.maybe("thickness_mm", "the thickness", b.ThicknessMm, 0.05, 200, "mm")
	k.text("inscriptions", "the inscriptions", b.Inscriptions)
	k.text("distinguishing", "the distinguishing features", b.Distinguishing)
	k.text("description", "the description", b.Description)
	return k.err()
}

func (b Identity) apply(c *Case, s Stamp) error {
	c.Identity, c.Title = &b, b.Title
	return nil
}

// Ownership says whose the object is, who may consent, what it is agreed to be
// worth and what is wished, in the owner's own words. The latest counts.
type Ownership struct {
	Owner   string `json:"owner"`
	Contact string `json:"contact,omitempty"`
	// MayConsent says who may approve treatment and on what ground, when the
	// client is not the owner.
	MayConsent string `json:"may_consent,omitempty"`
	// ValueMinor is the agreed value in minor units of Currency.
	ValueMinor int64  `json:"value_minor,omitempty"`
	Currency   string `json:"currency,omitempty"`
	Wishes     string `json:"wishes,omitempty"`
	// Keep is what must stay as it is: a pencilled price, a date stamp.
	Keep string `json:"keep,omitempty"`
}

func (Ownership) Kind() Kind { return "owner-recorded" }

func (b Ownership) Validate() error {
	var k check
	k.line("owner", "the owner", b.Owner)
	k.text("contact", "the contact", b.Contact)
	k.text("may_consent", "who may consent", b.MayConsent)
	k.money("value", "the agreed value", b.ValueMinor, b.Currency)
	k.currency("currency", b.Currency)
	k.text("wishes", "the owner's wishes", b.Wishes)
	k.text("keep", "what must be kept", b.Keep)
	return k.err()
}

func (k *check) currency(field, s string) {
	if s == "" {
		return
	}
	ok := len(s) == 3
	for i := range len(s) {
		ok = ok && s[i] >= 'A' && s[i] <= 'Z'
	}
	if !ok {
		k.refuse(field, "%q is not a currency: three capital letters of ISO 4217 are expected, as in EUR.", clip(s))
	}
}

func (b Ownership) apply(c *Case, s Stamp) error {
	c.Ownership = &b
	return nil
}

// Custody logs each change of hands or place, with who moved it.
type Custody struct {
	Act   CustodyAct `json:"act"`
	At    time.Time  `json:"at,omitzero"`
	Place string     `json:"place"`
	From  string     `json:"from,omitempty"`
	Mover string     `json:"mover,omitempty"`
	// Packing and the condition seen at that moment.
	Condition  string `json:"condition,omitempty"`
	BothSigned bool   `json:"both_signed,omitempty"`
}

func (Custody) Kind() Kind { return "custody" }

func (b Custody) Validate() error {
	var k check
	k.choice("custody_act", "what happened", string(b.Act), CustodyActs)
	k.when("at", "the time", b.At)
	k.line("custody_place", "the place", b.Place)
	k.maybeLine("from", "from whom", b.From)
	k.maybeLine("mover", "the mover", b.Mover)
	k.text("condition", "the condition", b.Condition)
	return k.err()
}

func (b Custody) apply(c *Case, s Stamp) error {
	c.Custody = append(c.Custody, Stamped[Custody]{s, b})
	return s.notAfter(b.At)
}

// Quarantine is the check before the object meets others. The latest counts.
type Quarantine struct {
	State    QuarantineState `json:"state"`
	At       time.Time       `json:"at,omitzero"`
	Moisture Wetness         `json:"moisture"`
	Mould    MouldState      `json:"mould"`
	Odour    string          `json:"odour,omitempty"`
	Insects  string          `json:"insects,omitempty"`
	Where    string          `json:"where,omitempty"`
	Reason   string          `json:"reason,omitempty"`
}

func (Quarantine) Kind() Kind { return "quarantine" }

func (b Quarantine) Validate() error {
	var k check
	k.choice("quarantine", "the quarantine", string(b.State), QuarantineStates)
	k.when("at", "the time", b.At)
	k.choice("moisture", "the moisture", string(b.Moisture), Wetnesses)
	k.choice("mould", "the mould", string(b.Mould), MouldStates)
	k.maybeLine("odour", "the odour", b.Odour)
	k.maybeLine("insects", "traces of insects", b.Insects)
	k.maybeLine("where", "the place of quarantine", b.Where)
	k.text("reason", "the reason", b.Reason)
	if b.State == QuarantineReleased && b.Mould == MouldActive {
		k.refuse("quarantine", "Active mould cannot be released: dry it until it is inactive, clean, and look again.")
	}
	return k.err()
}

func (b Quarantine) apply(c *Case, s Stamp) error {
	c.Quarantine = &Stamped[Quarantine]{s, b}
	return s.notAfter(b.At)
}

// PartKept is a thing taken off the object or found with it, labelled and kept.
type PartKept struct {
	ID    string   `json:"id"`
	Sort  PartSort `json:"sort"`
	What  string   `json:"what"`
	From  Place    `json:"from,omitzero"`
	Label string   `json:"label,omitempty"`
	Where string   `json:"where"`
}

func (PartKept) Kind() Kind { return "part-kept" }

func (b PartKept) Validate() error {
	var k check
	k.id("part", "the part", b.ID)
	k.choice("part_sort", "the sort", string(b.Sort), PartSorts)
	k.line("part_what", "what it is", b.What)
	b.From.check(&k)
	k.maybeLine("part_label", "the label", b.Label)
	k.line("part_where", "where it is kept", b.Where)
	return k.err()
}

func (b PartKept) apply(c *Case, s Stamp) error {
	if c.Part(b.ID) != nil {
		return Invalidf("part", "This part is recorded already.")
	}
	c.Parts = append(c.Parts, Part{Stamped: Stamped[PartKept]{s, b}})
	return c.haveSheets(b.From.Sheets)
}

// PartSettled says what became of a kept part, and with whose agreement.
type PartSettled struct {
	Part       string      `json:"part"`
	Outcome    PartOutcome `json:"outcome"`
	AgreedWith string      `json:"agreed_with,omitempty"`
	Note       string      `json:"note,omitempty"`
}

func (PartSettled) Kind() Kind { return "part-settled" }

func (b PartSettled) Validate() error {
	var k check
	k.id("part", "the part", b.Part)
	k.choice("part_outcome", "what became of it", string(b.Outcome), PartOutcomes)
	k.maybeLine("agreed_with", "with whom it was agreed", b.AgreedWith)
	k.text("note", "the note", b.Note)
	if b.Outcome == PartDisposed && b.AgreedWith == "" {
		k.refuse("agreed_with", "A part is only disposed of by agreement: say with whom.")
	}
	return k.err()
}

func (b PartSettled) apply(c *Case, s Stamp) error {
	p := c.Part(b.Part)
	if p == nil {
		return Invalidf("part", "The part that was settled is not in the record.")
	}
	p.Settled = &Stamped[PartSettled]{s, b}
	return nil
}

// Note is one line of the log, on a place, during a run or at large.
type Note struct {
	Nature Nature `json:"nature"`
	Place  Place  `json:"place,omitzero"`
	Text   string `json:"text"`
	// RestsOn says what an inference rests on.
	RestsOn string `json:"rests_on,omitempty"`
	Run     string `json:"run,omitempty"`
}

func (Note) Kind() Kind { return "note" }

func (b Note) Validate() error {
	var k check
	k.choice("nature", "the nature of the note", string(b.Nature), Natures)
	b.Place.check(&k)
	k.needText("text", "the text", b.Text)
	k.maybeLine("rests_on", "what it rests on", b.RestsOn)
	k.maybeID("run", "the run", b.Run)
	if b.Nature == Inferred && b.RestsOn == "" {
		k.refuse("rests_on", "An inference needs what it rests on: name the observation or test.")
	}
	return k.err()
}

func (b Note) apply(c *Case, s Stamp) error {
	c.Notes = append(c.Notes, Stamped[Note]{s, b})
	return first(c.haveSheets(b.Place.Sheets), c.haveRun(b.Run))
}

// Incident is a loss or accident while the object was in the studio's care.
type Incident struct {
	At    time.Time `json:"at,omitzero"`
	Place Place     `json:"place,omitzero"`
	What  string    `json:"what"`
	Done  string    `json:"done,omitempty"`
	// OwnerTold says when and how the owner was told.
	OwnerTold string `json:"owner_told,omitempty"`
}

func (Incident) Kind() Kind { return "incident" }

func (b Incident) Validate() error {
	var k check
	k.when("at", "the time", b.At)
	b.Place.check(&k)
	k.needText("what", "what happened", b.What)
	k.text("done", "what was done", b.Done)
	k.maybeLine("owner_told", "how the owner was told", b.OwnerTold)
	return k.err()
}

func (b Incident) apply(c *Case, s Stamp) error {
	c.Incidents = append(c.Incidents, Stamped[Incident]{s, b})
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets))
}

// Photo names a photograph that the store holds under the SHA-256 of its bytes.
type Photo struct {
	Hash     Hash   `json:"hash"`
	FileName string `json:"file_name,omitempty"`
	Bytes    int64  `json:"bytes"`
	Format   string `json:"format"`
	WidthPx  int    `json:"width_px"`
	HeightPx int    `json:"height_px"`
	// Taken is the camera's own time when it gives one; cameras lie.
	Taken   time.Time `json:"taken,omitzero"`
	Stage   Stage     `json:"stage"`
	Light   Light     `json:"light"`
	Place   Place     `json:"place,omitzero"`
	Caption string    `json:"caption,omitempty"`
	Run     string    `json:"run,omitempty"`
	// Credit names origin and licence of a picture that the studio did not take.
	Credit string `json:"credit,omitempty"`
}

func (Photo) Kind() Kind { return "photo" }

func (b Photo) Validate() error {
	var k check
	if b.Hash.IsZero() || b.Bytes <= 0 || b.WidthPx <= 0 || b.HeightPx <= 0 {
		k.refuse("photo", "The photograph was not stored: send it again.")
	}
	k.maybeLine("file_name", "the file's name", b.FileName)
	k.choice("stage", "the stage", string(b.Stage), Stages)
	k.choice("light", "the light", string(b.Light), Lights)
	b.Place.check(&k)
	k.maybeLine("caption", "the caption", b.Caption)
	k.maybeLine("credit", "the credit", b.Credit)
	k.maybeID("run", "the run", b.Run)
	return k.err()
}

func (b Photo) apply(c *Case, s Stamp) error {
	c.Photos = append(c.Photos, Stamped[Photo]{s, b})
	return first(c.haveSheets(b.Place.Sheets), c.haveRun(b.Run))
}

// PhotosNamed lists the photographs that a body names.
func PhotosNamed(b Body) []Hash {
	switch b := b.(type) {
	case Photo:
		return []Hash{b.Hash}
	case Staple:
		if !b.Photo.IsZero() {
			return []Hash{b.Photo}
		}
	}
	return nil
}
