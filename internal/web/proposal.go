package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/papers"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

func (s *Server) routesProposal(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/proposal", s.doCase(s.proposal))
	mux.Handle("GET /cases/{case}/proposal/new", s.doCase(s.proposalNew))
	mux.Handle("POST /cases/{case}/proposal", s.doCase(s.proposalSave))
	mux.Handle("GET /cases/{case}/proposal/{version}", s.doCase(s.proposalPDF))
}

// proposalPage is what is proposed, what it costs, and what was answered.
type proposalPage struct {
	Page
	C        *record.Case
	Latest   *record.Stamped[record.Proposal]
	Options  []optionView
	Consent  *record.Consent
	LeftOut  []string
	Choices  []treatment.Choice
	Form     *Form
	Names    []record.Choice
	Waiting  bool
	Earlier  []record.Stamped[record.Proposal]
	Currency string
}

type optionView struct {
	record.Option
	Price  []account.SumLine
	Agreed bool
	Rows   []plannedView
}

type plannedView struct {
	record.Planned
	Name string
}

var proposalView = declare[proposalPage]("proposal")

func (s *Server) proposal(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := proposalPage{
		Page:    s.casePage(r, c, "proposal"),
		C:       c,
		Waiting: c.Unanswered() > 0,
	}
	draft := treatment.DraftPlan(c)
	p.LeftOut, p.Choices = draft.LeftOut, draft.Choices
	consent, agreed := c.Consented()
	p.Consent = consent
	answer := record.Consent{}
	if n := len(c.Proposals); n > 0 {
		p.Latest, p.Earlier = &c.Proposals[n-1], c.Proposals[:n-1]
		b := p.Latest.Body
		p.Currency = b.Currency
		for _, o := range b.Options {
			v := optionView{
				Option: o,
				Price:  account.PriceLines(&b, &o),
				Agreed: agreed != nil && consent.Version == b.Version && agreed.Name == o.Name,
			}
			for _, x := range o.Operations {
				v.Rows = append(v.Rows, plannedView{x, treatment.Name(x.Operation)})
			}
			p.Options = append(p.Options, v)
			p.Names = append(p.Names, record.Choice{Value: o.Name, Words: "Option " + o.Name})
		}
		answer.Version = b.Version
		if len(b.Options) == 1 { // a yes to this version can mean no other
			answer.Option = b.Options[0].Name
		}
	}
	p.Form = s.bodyForm(r, "consent", c.LastSeq, answer, false, nil)
	return proposalView.show(s, w, r, p)
}

// optionOnlyWhenGiven drops the option of a refusal.
func optionOnlyWhenGiven(_ *Server, _ *http.Request, _ *record.Case, _ *Form, b *record.Consent) error {
	if b.Answer == record.ConsentRefused {
		b.Option = ""
	}
	return nil
}

// proposalNewPage writes the next version.
type proposalNewPage struct {
	Page
	C          *record.Case
	Form       *Form
	Options    []optionForm
	Operations []record.Choice
	LeftOut    []string
	Choices    []treatment.Choice
	Drafted    bool
}

// optionForm names the fields of one option.
type optionForm struct {
	Index int
	Name  string
	Rows  []int
}

// Field is the name of a field of the option, or of one of its rows.
func (o optionForm) Field(what string, row ...int) string {
	name := "o" + strconv.Itoa(o.Index) + "_" + what
	for _, k := range row {
		name += "_" + strconv.Itoa(k)
	}
	return name
}

var proposalNewView = declare[proposalNewPage]("proposal_new")

const (
	optionsInForm = 3
	spareRows     = 3
	mostRows      = 60
)

func (s *Server) proposalNew(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	b, drafted := s.nextProposal(c, st, r.URL.Query().Get("from") == "findings")
	f := s.form(r, "proposal", c.LastSeq, proposalFill(b))
	p := proposalNewPage{
		Page:       s.casePage(r, c, "proposal"),
		C:          c,
		Form:       f,
		Operations: operationChoices(),
		Drafted:    drafted,
	}
	draft := treatment.DraftPlan(c)
	p.LeftOut, p.Choices = draft.LeftOut, draft.Choices
	p.Title = fmt.Sprintf("Proposal, version %d", len(c.Proposals)+1)
	for i := range optionsInForm {
		o := optionForm{Index: i, Name: string(rune('A' + i))}
		for k := range rowsIn(f, o) + spareRows {
			o.Rows = append(o.Rows, k)
		}
		p.Options = append(p.Options, o)
	}
	return proposalNewView.show(s, w, r, p)
}

// nextProposal starts from the version before, or from the findings.
func (s *Server) nextProposal(c *record.Case, st *record.Studio, findings bool) (record.Proposal, bool) {
	b := record.Proposal{ValidDays: 60, Currency: "EUR"}
	if d := st.Details; d != nil {
		b.Currency, b.RateMinor, b.MinimumMinor, b.TaxPercent = d.Currency, d.RateMinor, d.MinimumMinor, d.TaxPercent
	}
	if n := len(c.Proposals); n > 0 && !findings {
		last := c.Proposals[n-1].Body
		last.Changed = ""
		return last, false
	}
	ops := treatment.DraftPlan(c).Operations
	for i := range ops {
		if op := ops[i].Operation; op == "mend-damp" || op == "mend-dry" {
			ops[i].Detail = account.MendWords(c)
		}
	}
	b.Options = []record.Option{
		{Name: "A", Title: "As the findings call for", Operations: ops, Expect: expectOf(c, ops)},
	}
	return b, true
}

// expectOf is what is expected of the baths that were chosen for the operations.
func expectOf(c *record.Case, ops []record.Planned) string {
	var lines []string
	for _, x := range ops {
		if len(x.Sheets) == 0 {
			continue
		}
		if p := c.PlanOf(x.Sheets[0], x.Operation); p != nil {
			lines = append(
				lines,
				upperFirst(treatment.Name(x.Operation))+": "+account.ExpectWords(&p.Body)+" (10 to 90 %, not a "+
					"promise).",
			)
		}
	}
	return strings.Join(lines, "\n")
}

func proposalFill(b record.Proposal) fills {
	m := fills{"valid_days": strconv.Itoa(b.ValidDays)}
	m.text("summary", b.Summary).
		text("alternatives", b.Alternatives).
		text("risks", b.Risks).
		text("changed", b.Changed).
		text("currency", b.Currency).
		money("rate", b.RateMinor, b.Currency).
		money("minimum", b.MinimumMinor, b.Currency).
		plain("tax_percent", b.TaxPercent)
	for i, o := range b.Options {
		f := optionForm{Index: i}
		m.text(f.Field("title"), o.Title).text(f.Field("expect"), o.Expect)
		for k, x := range o.Operations {
			m.text(f.Field("op", k), x.Operation).
				text(f.Field("sheets", k), sheetsText(x.Sheets)).
				text(f.Field("why", k), x.Why).
				text(f.Field("detail", k), x.Detail).
				plain(f.Field("hours", k), x.Hours).
				money(f.Field("materials", k), x.MaterialsMinor, b.Currency)
		}
	}
	return m
}

// rowsIn counts the rows that an option's form already has.
func rowsIn(f *Form, o optionForm) int {
	n := 0
	for k := range mostRows {
		if f.Line(o.Field("op", k)) != "" {
			n = k + 1
		}
	}
	return n
}

func (s *Server) proposalSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "proposal")
	if err != nil {
		return err
	}
	b := record.Proposal{
		Version:      len(c.Proposals) + 1,
		Summary:      f.Text("summary"),
		Alternatives: f.Text("alternatives"),
		Risks:        f.Text("risks"),
		Changed:      f.Text("changed"),
		Currency:     f.Currency(),
		RateMinor:    f.Money("rate", "the rate"),
		MinimumMinor: f.Money("minimum", "the minimum fee"),
		ValidDays:    f.Whole("valid_days", "the validity"),
	}
	if v := f.MaybeNumber("tax_percent", "the tax"); v != nil {
		b.TaxPercent = *v
	}
	for i := range optionsInForm {
		if o, ok := optionOf(f, optionForm{Index: i, Name: string(rune('A' + i))}); ok {
			b.Options = append(b.Options, o)
		}
	}
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  c.ID,
			Items: items(b),
			To:    casePath(c.ID, "proposal"),
			Said:  fmt.Sprintf("Version %d stands. It waits for the owner’s answer.", b.Version),
		},
		s.inCase(s.proposalNew),
	)
}

func optionOf(f *Form, form optionForm) (record.Option, bool) {
	o := record.Option{Name: form.Name, Title: f.Line(form.Field("title")), Expect: f.Text(form.Field("expect"))}
	for k := range mostRows {
		op := f.Line(form.Field("op", k))
		if op == "" {
			continue
		}
		x := record.Planned{
			Operation:      op,
			Sheets:         parseSheets(f, form.Field("sheets", k)),
			Why:            f.Text(form.Field("why", k)),
			Detail:         f.Text(form.Field("detail", k)),
			MaterialsMinor: f.Money(form.Field("materials", k), "the materials"),
		}
		if v := f.MaybeNumber(form.Field("hours", k), "the hours"); v != nil {
			x.Hours = *v
		}
		o.Operations = append(o.Operations, x)
	}
	return o, o.Title != "" || len(o.Operations) > 0
}

// sheetsText writes sheets as they are typed: "cover, 1-6, 9".
func sheetsText(list []int) string {
	s := slices.Sorted(slices.Values(list))
	var parts []string
	for i := 0; i < len(s); {
		j := i
		for s[i] != 0 && j+1 < len(s) && s[j+1] == s[j]+1 {
			j++
		}
		switch {
		case s[i] == 0:
			parts = append(parts, "cover")
		case j > i:
			parts = append(parts, fmt.Sprintf("%d-%d", s[i], s[j]))
		default:
			parts = append(parts, strconv.Itoa(s[i]))
		}
		i = j + 1
	}
	return strings.Join(parts, ", ")
}

// parseSheets reads what sheetsText writes; empty is the whole object.
func parseSheets(f *Form, field string) []int {
	var list []int
	wrong := func() []int {
		f.Refuse(
			field,
			"The sheets cannot be %q: sheets such as cover, 1-6, 9 are expected, or nothing for all.",
			clip(f.Line(field)),
		)
		return nil
	}
	for _, part := range strings.FieldsFunc(f.Line(field), func(r rune) bool { return r == ',' || r == ';' }) {
		part = strings.TrimSpace(strings.ToLower(part))
		if part == "cover" || part == "" {
			if part != "" {
				list = append(list, 0)
			}
			continue
		}
		from, to, isRange := strings.Cut(strings.ReplaceAll(part, "–", "-"), "-")
		a, err := strconv.Atoi(strings.TrimSpace(from))
		b := a
		if err == nil && isRange {
			b, err = strconv.Atoi(strings.TrimSpace(to))
		}
		if err != nil || a < 0 || b < a || b > record.MaxSheets {
			return wrong()
		}
		for n := a; n <= b; n++ {
			list = append(list, n)
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

func (s *Server) proposalPDF(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	n, err := strconv.Atoi(strings.TrimSuffix(r.PathValue("version"), ".pdf"))
	if err != nil || n < 1 || n > len(c.Proposals) {
		return record.Invalidf("", "Case %s has no version %s of the proposal.", c.Number, clip(r.PathValue("version")))
	}
	return s.pdf(
		w,
		r,
		c,
		fmt.Sprintf("proposal-%s-%d", c.Number, n),
		func(st *record.Studio, o papers.Options) ([]byte, error) {
			return papers.Proposal(c, st, n, o)
		},
	)
}
