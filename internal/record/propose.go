package record

import (
	"time"

	"benchleaf/internal/words"
)

// Proposal is one version of what is proposed to the owner. Versions count
// 1, 2, 3 …; a change of scope is a new version to consent to.
type Proposal struct {
	Version int `json:"version" say:"the version"`
	// Summary is the examination in the owner's language.
	Summary string   `json:"summary,omitempty" say:"the summary" as:"text"`
	Options []Option `json:"options" say:"the options"`
	// Currency and rates are those of the day; amounts in minor units.
	Currency     string  `json:"currency" say:"the currency" as:"currency"`
	RateMinor    int64   `json:"rate_minor_per_hour" form:"rate" say:"the rate" as:"money"`
	MinimumMinor int64   `json:"minimum_minor,omitempty" form:"minimum" say:"the minimum fee" as:"money"`
	TaxPercent   float64 `json:"tax_percent,omitempty" say:"the tax" in:"0..50 %"`
	ValidDays    int     `json:"valid_days" say:"the validity" in:"1..730 days"`
	// Alternatives include doing nothing; Risks what cannot be undone.
	Alternatives string `json:"alternatives" say:"what else could be done, doing nothing included" as:"text"`
	Risks        string `json:"risks" say:"the risks" as:"text"`
	// Changed says what is different from the version before.
	Changed string `json:"changed,omitempty" say:"what has changed" as:"text"`
}

// Option is one way to treat the object: "A", "B" …
type Option struct {
	Name       string    `json:"name" form:"option_name" say:"the option's letter"`
	Title      string    `json:"title" form:"option_title" say:"the option's title"`
	Operations []Planned `json:"operations" say:"the operations"`
	// Expect is what it should achieve, with ranges, and what it cannot.
	Expect string `json:"expect,omitempty" say:"what is expected" as:"text"`
}

// Planned is one operation on some sheets. Operation is a slug of package
// treatment's table.
type Planned struct {
	Operation      string  `json:"operation" say:"the operation"`
	Sheets         []int   `json:"sheets,omitempty" say:"the sheets"`
	Detail         string  `json:"detail,omitempty" say:"the detail" as:"text"`
	Why            string  `json:"why,omitempty" say:"the reason" as:"text"`
	Hours          float64 `json:"hours" say:"the hours" in:"0..1000 h"`
	MaterialsMinor int64   `json:"materials_minor,omitempty" form:"materials" say:"the materials" as:"raw"`
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

func (b Proposal) rules(k *check) {
	if len(b.Options) == 0 || len(b.Options) > 9 {
		k.refuse("options", "A proposal has one to nine options; this one has %d.", len(b.Options))
	}
	names := map[string]bool{}
	for _, o := range b.Options {
		if names[o.Name] {
			k.refuse("option_name", "Option %s stands twice.", o.Name)
		}
		names[o.Name] = true
		if len(o.Operations) > 200 {
			k.refuse("operations", "Option %s has %d operations; at most 200 are possible.", o.Name, len(o.Operations))
		}
		if len(o.Operations) > 0 && o.Hours() == 0 && b.Price(o).NetMinor == 0 {
			k.refuse("", "Option %s has no hours, no materials and no fee: enter what it takes, since nobody can agree to "+
				"nothing.", o.Name)
		}
		for _, p := range o.Operations {
			k.money("materials", "the materials", p.MaterialsMinor, b.Currency)
		}
	}
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
	Version int           `json:"version" say:"the version"`
	Option  string        `json:"option,omitempty" say:"the option"`
	Answer  ConsentAnswer `json:"answer" say:"the answer" label:"Answer to version"`
	Who     string        `json:"who" say:"who answered"`
	// Standing is why this person may answer: owner, agent with letter of …
	Standing string     `json:"standing" say:"why this person may answer"`
	Way      ConsentWay `json:"way" say:"the way" label:"How"`
	At       time.Time  `json:"at,omitzero" say:"the time" as:"moment" label:"When"`
	Words    string     `json:"words,omitempty" say:"the words" as:"text" label:"In these words"`
	// Declined names what was expressly not wanted.
	Declined string `json:"declined,omitempty" say:"what was declined" as:"text" label:"Expressly not wanted"`
}

func (Consent) Kind() Kind { return "consent" }

func (b Consent) rules(k *check) {
	if b.Answer == ConsentGiven {
		k.line("option", "the option", b.Option)
	}
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
