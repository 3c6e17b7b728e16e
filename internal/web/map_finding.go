package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesFinding(mux *http.ServeMux) {
	mux.Handle("POST /cases/{case}/areas/take", s.doCase(s.areaTake))
	mux.Handle("POST /cases/{case}/findings/{damage}/split", s.doCase(s.findingSplit))
	mux.Handle("POST /cases/{case}/findings/{damage}/merge", s.doCase(s.findingMerge))
}

// findingPage is one finding for life: what it is, its run through the sheets as
// one drawing, how it stands, and the acts on it.
type findingPage struct {
	Page
	C       *record.Case
	D       account.Damage
	Meaning string
	Caution string
	Open    []string
	Moved   string
	Run     []runSheet
	Shapes  []string
	Facts   []account.Fact
	After   *Form
	Mends   []record.Choice
	Runs    []record.Choice
	Others  []record.Choice
	Form    *Form
}

// runSheet is a sheet that a finding runs through: both faces.
type runSheet struct {
	Name         string
	Outer, Inner mapFace
}

var findingView = declare[findingPage]("finding")

// damageAsked is the finding that the address names, withdrawn ones among them.
func damageAsked(r *http.Request, c *record.Case) (*account.Damage, error) {
	for _, d := range account.DamagesEver(c) {
		if d.Body.ID == r.PathValue("damage") {
			return &d, nil
		}
	}
	return nil, store.ErrNotFound
}

func (s *Server) findingPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	d, err := damageAsked(r, c)
	if err != nil {
		return err
	}
	p := findingPage{Page: s.casePage(r, c, "condition"), C: c, D: *d, Open: openOf(&d.Body)}
	p.Title = fmt.Sprintf("No. %d: %s", d.No, d.Name)
	if k, known := condition.Look(condition.Term(d.Body.Term)); known {
		p.Meaning, p.Caution = k.Meaning, k.Caution
	}
	for _, x := range d.Body.Shapes {
		p.Shapes = append(p.Shapes, x.String())
	}
	if m := account.MapOf(c); m != nil {
		p.Run = sheetsOfRun(c, m, d)
		p.Facts = account.ExtentFacts(c, &d.Body)
	}
	p.Moved = account.AskedAbout(c, &d.FoundDamage)
	p.Mends, p.Runs = doneTo(c, d)
	for _, o := range account.Damages(c) {
		same := slices.Equal(o.Body.Place.Sheets, d.Body.Place.Sheets) && o.Body.Place.Face == d.Body.Place.Face
		if o.No != d.No && same && o.Body.Term == d.Body.Term && len(o.Body.Shapes) > 0 && len(d.Body.Shapes) > 0 {
			p.Others = append(p.Others, record.Choice{Value: o.Body.ID, Words: fmt.Sprintf("no. %d, %s", o.No, o.Extent)})
		}
	}
	after := record.DamageAfter{Damage: d.Body.ID}
	p.After = s.bodyForm(r, "after", c.LastSeq, after, false, fills{"back": casePath(c.ID, "findings/"+d.Body.ID)})
	p.Form = s.form(r, "finding", c.LastSeq, nil)
	return findingView.show(s, w, r, p)
}

// afterPage shows a finding whose form on how it stands was refused.
func (s *Server) afterPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	if back := refusedOf(r.Context()); back != nil {
		r.SetPathValue("damage", back.form.Line("damage"))
	}
	return s.findingPage(w, r, c)
}

// sheetsOfRun are the sheets that a finding runs through, its own marks alone on them.
func sheetsOfRun(c *record.Case, m *account.Map, d *account.Damage) []runSheet {
	var list []runSheet
	only := func(o *account.Damage) bool { return o.No == d.No }
	for _, n := range d.Body.Place.Sheets {
		x := runSheet{Name: upperFirst(record.SheetName(n))}
		outer, inner := account.FaceOf{Sheet: n, Face: record.FaceOuter}, account.FaceOf{Sheet: n, Face: record.FaceInner}
		size, known := m.Size(outer)
		if !known {
			continue
		}
		for _, v := range []struct {
			of account.FaceOf
			to *mapFace
		}{{outer, &x.Outer}, {inner, &x.Inner}} {
			*v.to = mapFace{
				Of: v.of, Name: faceName(v.of), Pages: strings.Join(m.Pages(v.of), " | "), Href: mapPath(c, v.of), Sized: true,
				Drawing: drawFace(m, v.of, laidAddresses(c, laidOn(c, v.of), size), "small", only),
			}
		}
		list = append(list, x)
	}
	return list
}

// doneTo are the mends and runs on the sheets of a finding, to say by which it
// changed.
func doneTo(c *record.Case, d *account.Damage) (mends, runs []record.Choice) {
	on := func(sheets []int) bool {
		return len(sheets) == 0 || len(d.Body.Place.Sheets) == 0 ||
			slices.ContainsFunc(sheets, func(n int) bool { return slices.Contains(d.Body.Place.Sheets, n) })
	}
	for _, m := range c.Mends {
		if slices.Contains(m.Body.Damages, d.Body.ID) || len(m.Body.Damages) == 0 && on(m.Body.Place.Sheets) {
			words := m.Body.Tissue + ", " + record.SheetNames(m.Body.Place.Sheets)
			mends = append(mends, record.Choice{Value: m.Body.ID, Words: words})
		}
	}
	for i := range c.Runs {
		if x := &c.Runs[i]; on(x.Body.Sheets) {
			words := x.Body.OperationName + ", " + record.SheetNames(x.Body.Sheets)
			runs = append(runs, record.Choice{Value: x.Body.ID, Words: words})
		}
	}
	return mends, runs
}

// findingSplit makes the shapes that are named a finding of their own, with what
// was said of the first.
func (s *Server) findingSplit(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, d, err := s.findingSent(w, r, c)
	if err != nil {
		return err
	}
	rest, apart := d.Body, d.Body
	rest.Shapes, apart.Shapes, apart.ID = nil, nil, f.ID(0)
	out := f.numbered("shape", "shape")
	for i, x := range d.Body.Shapes {
		if slices.Contains(out, i) {
			apart.Shapes = append(apart.Shapes, x)
		} else {
			rest.Shapes = append(rest.Shapes, x)
		}
	}
	if len(rest.Shapes) == 0 || len(apart.Shapes) == 0 {
		f.Refuse("shape", "Name one shape or more that become a finding of their own, and not all of them.")
		return again(w, r, f, errRefused, s.inCase(s.findingPage))
	}
	// What was measured was measured of both together, and the area on a photograph
	// stays with the first.
	for _, b := range []*record.Damage{&rest, &apart} {
		b.LengthMm, b.WidthMm, b.AreaMm2, b.Count = nil, nil, nil, nil
	}
	apart.Area = ""
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: []record.Item{{Body: rest, Corrects: d.Seq}, {Body: apart}},
		To: casePath(c.ID, "findings/"+d.Body.ID), Said: fmt.Sprintf("No. %d is split in two.", d.No),
	}, s.inCase(s.findingPage))
}

// findingMerge takes the shapes of another finding into this one; the other is
// withdrawn and keeps its number.
func (s *Server) findingMerge(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, d, err := s.findingSent(w, r, c)
	if err != nil {
		return err
	}
	other := c.DamageByID(f.Line("other"))
	if other == nil || other.No == d.No || other.Body.Term != d.Body.Term || other.Body.Place.Face != d.Body.Place.Face ||
		!slices.Equal(other.Body.Place.Sheets, d.Body.Place.Sheets) {
		f.Refuse("other", "Two findings of one kind, on the same face of the same sheets, can be merged: choose another.")
		return again(w, r, f, errRefused, s.inCase(s.findingPage))
	}
	b := d.Body
	b.Shapes = append(slices.Clone(b.Shapes), other.Body.Shapes...)
	b.LengthMm, b.WidthMm, b.AreaMm2, b.Count = nil, nil, nil, nil
	reason := record.Withdrawn{Reason: fmt.Sprintf("Merged into no. %d.", d.No)}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: []record.Item{{Body: b, Corrects: d.Seq}, {Body: reason, Corrects: other.Seq}},
		To:   casePath(c.ID, "findings/"+d.Body.ID),
		Said: fmt.Sprintf("No. %d is merged into no. %d.", other.No, d.No),
	}, s.inCase(s.findingPage))
}

// areaTake takes an area that was outlined on a photograph over as a finding: one
// place, one record.
func (s *Server) areaTake(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "take-area")
	if err != nil {
		return err
	}
	a := c.Area(f.Line("area"))
	if a == nil {
		return record.Invalidf("area", "This area is not in the record, or was withdrawn already.")
	}
	b, err := account.FindingOf(c, &a.Body, f.ID(0))
	if err != nil {
		return err
	}
	return s.save(w, r, f, Saving{
		Case: c.ID, Items: items(b), To: casePath(c.ID, "findings/"+b.ID), Said: account.Said(c, b) + ".",
	}, func(w http.ResponseWriter, r *http.Request) error { return refusedOf(r.Context()).form.Refused[0] })
}

func (s *Server) findingSent(w http.ResponseWriter, r *http.Request, c *record.Case) (*Form, *account.Damage, error) {
	f, err := s.sent(w, r, "finding")
	if err != nil {
		return nil, nil, err
	}
	d, err := damageAsked(r, c)
	if err == nil && d.Withdrawn != nil {
		err = record.Invalidf("", "No. %d was withdrawn: nothing more is done with it.", d.No)
	}
	return f, d, err
}
