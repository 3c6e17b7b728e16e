package record

import (
	"time"

	"benchleaf/internal/words"
)

// Proposal is one version of what is proposed to the owner. Versions count
// 1, 2, 3 …; a change of scope is a new version to consent to.
type Proposal struct {
	Version int `json:"version"`
	// Summary is the examination in the owner's language.
	Summary string   `json:"summary,omitempty"`
	Options []Option `json:"options"`
	// Currency and rates are those of the day; amounts in minor units.
	Currency     string  `json:"currency"`
	RateMinor    int64   `json:"rate_minor_per_hour"`
	MinimumMinor int64   `json:"minimum_minor,omitempty"`
	TaxPercent   float64 `json:"tax_percent,omitempty"`
	ValidDays    int     `json:"valid_days"`
	// Alternatives include doing nothing; Risks what cannot be undone.
	Alternatives string `json:"alternatives"`
	Risks        string `json:"risks"`
	// Changed says what is different from the version before.
	Changed string `json:"changed,omitempty"`
}

// Option is one way to treat the object: "A", "B" …
type Option struct {
	Name       string    `json:"name"`
	Title      string    `json:"title"`
	Operations []Planned `json:"operations"`
	// Expect is what it should achieve, with ranges, and what it cannot.
	Expect string `json:"expect,omitempty"`
}

// Planned is one operation on some sheets. Operation is a slug of package
// treatment's table.
type Planned struct {
	Operation      string  `json:"operation"`
	Sheets         []int   `json:"sheets,omitempty"`
	Detail         string  `json:"detail,omitempty"`
	Why            string  `json:"why,omitempty"`
	Hours          float64 `json:"hours"`
	MaterialsMinor int64   `json:"materials_minor,omitempty"`
}

// Hours of work in the option.
func (o Option) Hours() float64 {
	h := make([]float64, len(o.Operations))
	for i, p := range o.Operations {
		h[i] = p.Hours
	}
	return words.Sum(h...)
}

// Price is what an option costs, in minor units.
type Price struct{ WorkMinor, MaterialsMinor, NetMinor, TaxMinor, TotalMinor int64 }

// Price of an option: hours times rate, materials, at least the minimum fee,
// then tax. The sums are exact; halves of a minor unit are rounded up, once for
// the work and once for the tax.
func (p Proposal) Price(o Option) Price {
	var r Price
	r.WorkMinor = p.WorkMinor(o.Hours())
	for _, op := range o.Operations {
		r.MaterialsMinor += op.MaterialsMinor
	}
	r.NetMinor = max(r.WorkMinor+r.MaterialsMinor, p.MinimumMinor)
	r.TaxMinor = words.Part(r.NetMinor, p.TaxPercent, 100)
	r.TotalMinor = r.NetMinor + r.TaxMinor
	return r
}

// WorkMinor is what hours of work cost at the proposal's rate.
func (p Proposal) WorkMinor(hours float64) int64 { return words.Part(p.RateMinor, hours, 1) }

// Option finds an option by name, or nil.
func (p Proposal) Option(name string) *Option {
	for i := range p.Options {
		if p.Options[i].Name == name {
			return &p.Options[i]
		}
	}
	return nil
}

func (Proposal) Kind() Kind { return "proposal" }

func (b Proposal) Validate() error {
	var k check
	k.text("summary", "the summary", b.Summary)
	if len(b.Options) == 0 || len(b.Options) > 9 {
		k.refuse("options", "A proposal has one to nine options; this one has %d.", len(b.Options))
	}
	names := map[string]bool{}
	for _, o := range b.Options {
		k.line("option_name", "the option's letter", o.Name)
		k.line("option_title", "the option's title", o.Title)
		if names[o.Name] {
			k.refuse("option_name", "Option %s stands twice.", o.Name)
		}
		names[o.Name] = true
		if len(o.Operations) > 200 {
			k.refuse("operations", "Option %s has %d operations; at most 200 are possible.", o.Name, len(o.Operations))
		}
		k.text("expect", "what is expected", o.Expect)
		for _, p := range o.Operations {
			k.line("operation", "the operation", p.Operation)
			k.sheets("sheets", p.Sheets)
			k.text("detail", "the detail", p.Detail)
			k.text("why", "the reason", p.Why)
			k.number("hours", "the hours", p.Hours, 0, 1000, "h")
			k.money("materials", "the materials", p.MaterialsMinor, b.Currency)
		}
	}
	if b.Currency == "" {
		k.refuse("currency", "The currency is missing: three capital letters of ISO 4217, as in EUR.")
	}
	k.currency("currency", b.Currency)
	k.money("rate", "the rate", b.RateMinor, b.Currency)
	k.money("minimum", "the minimum fee", b.MinimumMinor, b.Currency)
	k.number("tax_percent", "the tax", b.TaxPercent, 0, 50, "%")
	k.number("valid_days", "the validity", float64(b.ValidDays), 1, 730, "days")
	k.needText("alternatives", "what else could be done, doing nothing included", b.Alternatives)
	k.needText("risks", "the risks", b.Risks)
	k.text("changed", "what has changed", b.Changed)
	return k.err()
}

func (b Proposal) apply(c *Case, s Stamp) error {
	if want := len(c.Proposals) + 1; b.Version != want {
		return Invalidf("version", "This would be version %d of the proposal, but version %d is next.", b.Version, want)
	}
	c.Proposals = append(c.Proposals, Stamped[Proposal]{s, b})
	for _, o := range b.Options {
		for _, p := range o.Operations {
			if err := c.haveSheets(p.Sheets); err != nil {
				return err
			}
		}
	}
	return nil
}

// Consent is the answer of one who may give it, to one version.
type Consent struct {
	Version int           `json:"version"`
	Option  string        `json:"option,omitempty"`
	Answer  ConsentAnswer `json:"answer"`
	Who     string        `json:"who"`
	// Standing is why this person may answer: owner, agent with letter of …
	Standing string     `json:"standing"`
	Way      ConsentWay `json:"way"`
	At       time.Time  `json:"at,omitzero"`
	Words    string     `json:"words,omitempty"`
	// Declined names what was expressly not wanted.
	Declined string `json:"declined,omitempty"`
}

func (Consent) Kind() Kind { return "consent" }

func (b Consent) Validate() error {
	var k check
	k.choice("answer", "the answer", string(b.Answer), ConsentAnswers)
	k.line("who", "who answered", b.Who)
	k.line("standing", "why this person may answer", b.Standing)
	k.choice("way", "the way", string(b.Way), ConsentWays)
	k.when("at", "the time", b.At)
	k.text("words", "the words", b.Words)
	k.text("declined", "what was declined", b.Declined)
	if b.Answer == ConsentGiven {
		k.line("option", "the option", b.Option)
	}
	return k.err()
}

func (b Consent) apply(c *Case, s Stamp) error {
	if b.Version < 1 || b.Version > len(c.Proposals) {
		return Invalidf("version", "There is no version %d of the proposal to consent to.", b.Version)
	}
	if b.Answer == ConsentGiven && c.Proposals[b.Version-1].Body.Option(b.Option) == nil {
		return Invalidf("option", "Version %d of the proposal has no option %s.", b.Version, b.Option)
	}
	c.Consents = append(c.Consents, Stamped[Consent]{s, b})
	return s.notAfter(b.At)
}

// Written says whether the consent needs no letter to follow it.
func (b Consent) Written() bool { return b.Way == ByLetter || b.Way == ByMail || b.Way == BySigned }
