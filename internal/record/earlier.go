package record

import "time"

// EarlierTreatment is what was seen of earlier treatment: one thing on one place,
// or that none was seen.
type EarlierTreatment struct {
	Seen   EarlierSeen `json:"seen" form:"earlier_seen" say:"earlier treatment"`
	What   string      `json:"what,omitempty" say:"what was seen" as:"text"`
	Nature Nature      `json:"nature,omitempty" form:"earlier_nature" say:"how it is known" label:"This was"`
	Place  Place       `json:"place,omitzero" say:"the place"`
	// RestsOn says what an inference rests on, or who told it.
	RestsOn string `json:"rests_on,omitempty" say:"what it rests on" label:"Rests on, or told by"`
}

// EarlierSeen is the answer to the question for earlier treatment.
type EarlierSeen string

const EarlierNone EarlierSeen = "none"

var EarliersSeen = listOf[EarlierSeen]([]Choice{{"none", "none seen"}, {"seen", "seen, or told of"}})

func (EarlierTreatment) Kind() Kind { return "earlier-treatment" }

func (b EarlierTreatment) rules(k *check) {
	switch {
	case b.Seen == EarlierNone && b.What != "":
		k.refuse("earlier_seen", "None was seen, and yet something is described: choose one of the two.")
	case b.Seen != EarlierNone && b.What == "":
		k.refuse("what", "Say what was seen or told of: an old repair, trimming, bleaching, tape.")
	case b.Seen != EarlierNone && b.Nature == "":
		k.refuse("earlier_nature", "Say how it is known: observed, inferred, or the owner's words.")
	case b.Nature == Inferred && b.RestsOn == "":
		k.refuse("rests_on", "An inference needs what it rests on: name the observation or test.")
	}
}

func (b EarlierTreatment) apply(c *Case, s Stamp) error {
	c.Earlier = append(c.Earlier, Stamped[EarlierTreatment]{s, b})
	return c.haveSheets(b.Place.Sheets)
}

// Insurance says who insures the object while it is here. The latest counts.
type Insurance struct {
	Answer   Insured `json:"answer" form:"insured" say:"insurance" label:"While it is here"`
	Insurer  string  `json:"insurer,omitempty" say:"who insures it" help:"The insurer, and the policy"`
	SumMinor int64   `json:"sum_minor,omitempty" form:"insured_sum" say:"the insured sum" as:"money"`
	Currency string  `json:"currency,omitempty" say:"the currency" as:"currency"`
	// From and Until bound the cover; zero: not said.
	From  time.Time `json:"from,omitzero" form:"insured_from" say:"the first day" label:"From" as:"date"`
	Until time.Time `json:"until,omitzero" form:"insured_until" say:"the last day" label:"Until" as:"date"`
	Note  string    `json:"note,omitempty" say:"the note" as:"text"`
}

// Insured is the answer to the question for insurance in custody.
type Insured string

const (
	InsuredByOwner  Insured = "owner"
	InsuredByStudio Insured = "studio"
	NotInsured      Insured = "declined"
)

var InsuranceAnswers = listOf[Insured]([]Choice{
	{"owner", "insured by the owner"}, {"studio", "insured by the studio"}, {"declined", "declined by the owner"},
})

func (Insurance) Kind() Kind { return "insurance" }

func (b Insurance) rules(k *check) {
	switch {
	case b.Answer == NotInsured && b.SumMinor != 0:
		k.refuse("insured_sum", "Insurance was declined, and yet a sum is given: choose one of the two.")
	case b.SumMinor != 0 && b.Currency == "":
		k.refuse("currency", "The currency is missing: three capital letters of ISO 4217, as in EUR.")
	case b.Answer != NotInsured && b.Answer != "" && b.Insurer == "":
		k.refuse("insurer", "Say who insures it: the insurer and the policy.")
	case !b.Until.IsZero() && b.Until.Before(b.From):
		k.refuse("insured_until", "The cover cannot end before it begins.")
	}
}

func (b Insurance) apply(c *Case, s Stamp) error {
	c.Insured = append(c.Insured, Stamped[Insurance]{s, b})
	return nil
}
