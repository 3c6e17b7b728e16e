package record

import "time"

// MaxSheets is the largest number of inner sheets that a make-up may have.
const MaxSheets = 200

// Place says where on the object something is. No sheet means the whole
// object; several mean each of them.
type Place struct {
	// Sheets counts from the outside in; 0 is the cover where it is separate.
	Sheets []int `json:"sheets,omitempty" say:"the sheets"`
	// Face is one of Faces, or empty for both or not said.
	Face Face `json:"face,omitempty" say:"the face"`
	// Words says it as a person would: "page 12, fore-edge, near the head".
	Words string `json:"words,omitempty" form:"place_words" say:"the place"`
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
	Number string `json:"number" say:"the case number"`
	Title  string `json:"title" say:"the title"`
	// Purpose is why the object is here: "examination and treatment".
	Purpose string `json:"purpose,omitempty" say:"the purpose" as:"text"`
}

func (Opened) Kind() Kind { return "case-opened" }

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
	Title          string   `json:"title" say:"the title"`
	Issue          string   `json:"issue,omitempty" say:"the issue"`
	Maker          string   `json:"maker,omitempty" say:"the maker"`
	DateMade       string   `json:"date_made,omitempty" say:"the date made"`
	Type           string   `json:"type,omitempty" say:"the type" help:"comic, pulp, magazine …"`
	Technique      string   `json:"technique,omitempty" say:"the technique" label:"Materials and technique"`
	HeightMm       *float64 `json:"height_mm,omitempty" say:"the height" in:"10..1500 mm"`
	WidthMm        *float64 `json:"width_mm,omitempty" say:"the width" in:"10..1500 mm" label:"Width, closed"`
	ThicknessMm    *float64 `json:"thickness_mm,omitempty" say:"the thickness" in:"0.05..200 mm"`
	Inscriptions   string   `json:"inscriptions,omitempty" say:"inscriptions and marks" as:"text"`
	Distinguishing string   `json:"distinguishing,omitempty" say:"the distinguishing features" as:"text"`
	Description    string   `json:"description,omitempty" say:"the description" as:"text"`
}

func (Identity) Kind() Kind { return "object-described" }

func (b Identity) apply(c *Case, s Stamp) error {
	c.Identity, c.Title = &b, b.Title
	return nil
}

// Ownership says whose the object is, who may consent, what it is agreed to be
// worth and what is wished, in the owner's own words. The latest counts.
type Ownership struct {
	Owner   string `json:"owner" say:"the owner"`
	Contact string `json:"contact,omitempty" say:"the contact" as:"text"`
	// MayConsent says who may approve treatment and on what ground, when the
	// client is not the owner.
	MayConsent string `json:"may_consent,omitempty" say:"who may consent" as:"text" label:"Who may consent, and why"`
	// ValueMinor is the agreed value in minor units of Currency.
	ValueMinor int64  `json:"value_minor,omitempty" form:"value" say:"the agreed value" as:"money"`
	Currency   string `json:"currency,omitempty" say:"the currency" as:"currency"`
	Wishes     string `json:"wishes,omitempty" say:"the owner's wishes" as:"text" label:"What the owner asks for"`
	// Keep is what must stay as it is: a pencilled price, a date stamp.
	Keep string `json:"keep,omitempty" say:"what must be kept" as:"text" label:"What must stay as it is"`
}

func (Ownership) Kind() Kind { return "owner-recorded" }

func (k *check) currency(field, s string, needed bool) {
	if s == "" {
		if needed {
			k.refuse(field, "The currency is missing: three capital letters of ISO 4217, as in EUR.")
		}
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
	Act   CustodyAct `json:"act" form:"custody_act" say:"what happened"`
	At    time.Time  `json:"at,omitzero" say:"the time" as:"moment" label:"When"`
	Place string     `json:"place" form:"custody_place" say:"the place"`
	From  string     `json:"from,omitempty" say:"from whom" label:"From"`
	Mover string     `json:"mover,omitempty" say:"the mover" label:"Moved by"`
	// Packing and the condition seen at that moment.
	Condition  string `json:"condition,omitempty" say:"the condition" as:"text" label:"Condition and packing"`
	BothSigned bool   `json:"both_signed,omitempty" say:"both signed"`
	// Overrides are gates that did not hold as it went back, with the reason.
	Overrides []Override `json:"overrides,omitempty" say:"the gates passed"`
}

func (Custody) Kind() Kind { return "custody" }

func (b Custody) apply(c *Case, s Stamp) error {
	c.Custody = append(c.Custody, Stamped[Custody]{s, b})
	return s.notAfter(b.At)
}

// Quarantine is the check before the object meets others. The latest counts.
type Quarantine struct {
	State    QuarantineState `json:"state" form:"quarantine" say:"the quarantine"`
	At       time.Time       `json:"at,omitzero" say:"the time" as:"moment"`
	Moisture Wetness         `json:"moisture" say:"the moisture"`
	Mould    MouldState      `json:"mould,omitempty" say:"the mould"`
	Odour    string          `json:"odour,omitempty" say:"the odour"`
	Insects  string          `json:"insects,omitempty" say:"traces of insects"`
	Where    string          `json:"where,omitempty" say:"the place of quarantine" label:"Where"`
	Reason   string          `json:"reason,omitempty" say:"the reason" as:"text" label:"Seen and decided because"`
}

func (Quarantine) Kind() Kind { return "quarantine" }

func (b Quarantine) rules(k *check) {
	if b.State == QuarantineReleased && b.Mould == MouldActive {
		k.refuse("quarantine", "Active mould cannot be released: dry it until it is inactive, clean, and look again.")
	}
}

func (b Quarantine) apply(c *Case, s Stamp) error {
	c.Quarantine = &Stamped[Quarantine]{s, b}
	return s.notAfter(b.At)
}

// PartKept is a thing taken off the object or found with it, labelled and kept.
type PartKept struct {
	ID    string   `json:"id" form:"part" say:"the part" as:"own"`
	Sort  PartSort `json:"sort" form:"part_sort" say:"the sort"`
	What  string   `json:"what" form:"part_what" say:"what it is" label:"What"`
	From  Place    `json:"from,omitzero" say:"the place"`
	Label string   `json:"label,omitempty" form:"part_label" say:"the label"`
	Where string   `json:"where" form:"part_where" say:"where it is kept"`
}

func (PartKept) Kind() Kind { return "part-kept" }

func (b PartKept) apply(c *Case, s Stamp) error {
	if c.Part(b.ID) != nil {
		return Invalidf("part", "This part is recorded already.")
	}
	c.Parts = append(c.Parts, Part{Stamped: Stamped[PartKept]{s, b}})
	return c.haveSheets(b.From.Sheets)
}

// PartSettled says what became of a kept part, and with whose agreement.
type PartSettled struct {
	Part       string      `json:"part" say:"the part" as:"id" label:"Which"`
	Outcome    PartOutcome `json:"outcome" form:"part_outcome" say:"what became of it"`
	AgreedWith string      `json:"agreed_with,omitempty" say:"with whom it was agreed" label:"Agreed with"`
	Note       string      `json:"note,omitempty" say:"the note" as:"text"`
}

func (PartSettled) Kind() Kind { return "part-settled" }

func (b PartSettled) rules(k *check) {
	if b.Outcome == PartDisposed && b.AgreedWith == "" {
		k.refuse("agreed_with", "A part is only disposed of by agreement: say with whom.")
	}
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
	Nature Nature `json:"nature" say:"the nature of the note" label:"This was"`
	Place  Place  `json:"place,omitzero" say:"the place"`
	Text   string `json:"text" say:"the text" as:"text"`
	// RestsOn says what an inference rests on.
	RestsOn string `json:"rests_on,omitempty" say:"what it rests on" label:"Rests on"`
	Run     string `json:"run,omitempty" say:"the run" as:"id"`
}

func (Note) Kind() Kind { return "note" }

func (b Note) rules(k *check) {
	if b.Nature == Inferred && b.RestsOn == "" {
		k.refuse("rests_on", "An inference needs what it rests on: name the observation or test.")
	}
}

func (b Note) apply(c *Case, s Stamp) error {
	c.Notes = append(c.Notes, Stamped[Note]{s, b})
	return first(c.haveSheets(b.Place.Sheets), c.haveRun(b.Run))
}

// Incident is a loss or accident while the object was in the studio's care.
type Incident struct {
	At    time.Time `json:"at,omitzero" say:"the time" as:"moment" label:"When"`
	Place Place     `json:"place,omitzero" say:"the place"`
	What  string    `json:"what" say:"what happened" as:"text"`
	Done  string    `json:"done,omitempty" say:"what was done" as:"text"`
	// OwnerTold says when and how the owner was told.
	OwnerTold string `json:"owner_told,omitempty" say:"how the owner was told" help:"At once, and in writing"`
}

func (Incident) Kind() Kind { return "incident" }

func (b Incident) apply(c *Case, s Stamp) error {
	c.Incidents = append(c.Incidents, Stamped[Incident]{s, b})
	return first(s.notAfter(b.At), c.haveSheets(b.Place.Sheets))
}

// Photo names a photograph that the store holds under the SHA-256 of its bytes.
type Photo struct {
	Hash     Hash   `json:"hash" say:"the photograph" form:"photo"`
	FileName string `json:"file_name,omitempty" say:"the file's name"`
	Bytes    int64  `json:"bytes" say:"the size of the file" as:"raw"`
	Format   string `json:"format" say:"the form of the file" as:"raw"`
	WidthPx  int    `json:"width_px" say:"the width in pixels"`
	HeightPx int    `json:"height_px" say:"the height in pixels"`
	// Taken is the camera's own time when it gives one; cameras lie.
	Taken   time.Time `json:"taken,omitzero" say:"the camera's time"`
	Stage   Stage     `json:"stage" say:"the stage"`
	Light   Light     `json:"light" say:"the light"`
	Place   Place     `json:"place,omitzero" say:"the place"`
	Caption string    `json:"caption,omitempty" say:"the caption"`
	Run     string    `json:"run,omitempty" say:"the run" as:"id"`
	// Credit names origin and licence of a picture that the studio did not take.
	Credit string `json:"credit,omitempty" say:"the credit"`
}

func (Photo) Kind() Kind { return "photo" }

func (b Photo) rules(k *check) {
	if b.Hash.IsZero() || b.Bytes <= 0 || b.WidthPx <= 0 || b.HeightPx <= 0 {
		k.refuse("photo", "The photograph was not stored: send it again.")
	}
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
