package papers

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
)

// Options say how a paper is made.
type Options struct {
	// Size is "A4" or "Letter"; empty: the studio's choice, else A4.
	Size string
	// Date stands on the paper. Zero: the time of the last entry, so that the
	// same record gives the same paper.
	Date time.Time
	// Zone is that of the times shown; nil: the zone of the last entry.
	Zone *time.Location
	// Pictures hands out photographs; nil leaves them out and says so.
	Pictures Pictures
	// Compared hands out the pictures of comparisons; nil leaves them out and
	// says so.
	Compared Comparisons
	// Operation names a planned operation by its slug; nil shows the slug.
	Operation func(slug string) string
}

// maker is what all papers of a case share.
type maker struct {
	*sheet
	c     *record.Case
	st    *record.Studio
	o     Options
	k     clock
	album album
	shown map[int64]bool // photographs by the seq of their entry
	// annexes counts them: what is numbered is found again.
	annexes int
}

// newMaker fills in the options that were left open. A nil studio is an empty
// one.
func newMaker(c *record.Case, st *record.Studio, o Options) (*maker, error) {
	if st == nil {
		st = &record.Studio{}
	}
	if o.Size == "" {
		o.Size = "A4"
		if st.Details != nil && st.Details.PaperSize != "" {
			o.Size = string(st.Details.PaperSize)
		}
	}
	journal := &st.Journal
	if c != nil {
		journal = &c.Journal
	}
	if o.Date.IsZero() {
		o.Date = journal.Updated
	}
	if o.Zone == nil {
		o.Zone = zoneOf(journal)
	}
	if o.Operation == nil {
		o.Operation = plainSlug
	}
	s, err := newSheet(o.Size, o.Date.UTC().Truncate(time.Second))
	if err != nil {
		return nil, err
	}
	m := &maker{sheet: s, c: c, st: st, o: o, k: clock{o.Zone}, album: album{from: o.Pictures}, shown: map[int64]bool{}}
	m.info.Author = m.studioName()
	return m, nil
}

func (m *maker) studioName() string {
	if m.st.Details != nil && m.st.Details.Name != "" {
		return m.st.Details.Name
	}
	return "Studio"
}

// person gives a name with its initials.
func (m *maker) person(initials string) string {
	if name := m.st.PersonNamed(initials); name != initials && name != "" {
		return name + " (" + initials + ")"
	}
	if initials == "" {
		return "not named"
	}
	return initials
}

// opening sets the head of the first page.
func (m *maker) opening(what string, about ...string) {
	m.headLeft = m.studioName() + " · " + what
	m.info.Title = joined(": ", what, m.c.Title)
	m.info.Subject = prefixed("Case ", m.c.Number)
	if m.c.Number != "" {
		m.headRight = "Case " + m.c.Number
	}
	if h := m.c.LastHash; !h.IsZero() {
		m.footLeft = fmt.Sprintf(
			"From a journal of %s; the last carries the seal %s.",
			plural(int(m.c.LastSeq), "entry", "entries"),
			h.String()[:16],
		)
	}
	m.add(paragraph{t: m.t, spans: []span{{what, kind}}, tag: "P"}, 0, 5, true)
	name := m.c.Title
	if name == "" {
		name = "Untitled object"
	}
	m.add(paragraph{t: m.t, spans: []span{{name, title}}, tag: "H1", mark: name}, 0, 5, true)
	if line := joined(" · ", about...); line != "" {
		m.add(paragraph{t: m.t, spans: []span{{line, subtitle}}, tag: "P"}, 0, 6, false)
	}
	m.add(white(6), 0, 0, false)
}

// none says that something was not recorded.
func (m *maker) none(what string) { m.para(span{what, bodyMuted}) }

// about is the line under the title: issue, maker and date of the object.
func (m *maker) about() []string {
	i := m.c.Identity
	if i == nil {
		return nil
	}
	return []string{i.Issue, i.Maker, i.DateMade}
}

// Report sets the treatment report of a case: the object, what was found, what
// was done, what it came to, and what the owner should know; then, in annexes,
// what a conservator needs to judge it or to go on with it.
// It holds what counts: a corrected entry shows its correction, a withdrawn one
// is left out and counted at the end.
//
// Errors: a size of paper that is not known. Photographs that are absent or
// damaged give a sentence in their place.
func Report(c *record.Case, st *record.Studio, o Options) ([]byte, error) {
	m, err := newMaker(c, st, o)
	if err != nil {
		return nil, err
	}
	m.opening("Treatment report", m.about()...)
	m.reportFacts()
	m.object()
	m.owner()
	m.custody()
	m.makeUp()
	m.condition()
	m.tests()
	m.agreed()
	m.work()
	m.addedAndRemoved()
	m.departures()
	m.results()
	m.advice()
	m.people()
	m.disclosure()
	m.sheetBySheet()
	m.comparisonsAnnex()
	m.adoptedAnnex()
	m.allReadings()
	m.gallery()
	m.seal()
	return m.finish()
}

// annex begins an annex; the first one begins a page.
func (m *maker) annex(name string) {
	m.annexes++
	if m.annexes == 1 {
		m.items = append(
			m.items,
			item{
				block: paragraph{t: m.t, spans: []span{{"Annexes", kind}}, tag: "P"},
				after: 3,
				keep:  true,
				leads: true,
			},
			item{
				block: paragraph{
					t: m.t,
					spans: []span{
						{
							"What a conservator needs to judge the work, or to go on with it. The report can be " +
								"read without them.",
							bodyMuted,
						},
					},
					tag: "P",
				},
				after: 4,
				keep:  true,
			},
		)
	}
	m.section(fmt.Sprintf("Annex %d: %s", m.annexes, name))
}

func (m *maker) reportFacts() {
	closed := ""
	if c := m.c.Closed; c != nil {
		closed = joined(", ", m.k.day(c.Time), record.WordsOf(record.CloseOutcomes, c.Body.Outcome))
	}
	list := []fact{
		say("Case", m.c.Number),
		say("Purpose", m.c.Purpose),
		say("Opened", m.k.day(m.c.Opened)),
		say("Closed", closed),
		say("Date of report", m.k.day(m.o.Date)),
		say("Studio", m.studioName()),
	}
	if d := m.st.Details; d != nil {
		list = append(list, say("", joined("\n", d.Address, d.Contact)))
	}
	list = append(list, say("Times", "are given in "+m.zoneName()))
	m.facts(list...)
	if m.c.Closed == nil {
		words := "The case is not closed: this is an interim report of what is recorded up to its date."
		if wet := m.c.WetSheets(); len(wet) > 0 {
			words += " Wet or damp at the last entry: " + record.SheetNames(wet) + "."
		}
		m.caution("Interim report", words)
	} else if t := m.c.Closed.Body.Text; t != "" {
		m.box("In short", accent, ground, t)
	}
}

func (m *maker) zoneName() string {
	// Local says nothing to a reader elsewhere.
	if name := m.o.Zone.String(); name != "" && name != "Local" {
		return "the zone " + strings.ReplaceAll(name, "_", " ")
	}
	return "UTC" + strings.Replace(m.o.Date.In(m.o.Zone).Format("-07:00"), "-", "−", 1)
}

func (m *maker) object() {
	m.section("The object")
	i := m.c.Identity
	if i == nil {
		m.none("The object was not described beyond its title.")
	} else {
		size := ""
		if i.HeightMm != nil && i.WidthMm != nil {
			size = fmt.Sprintf("%s high × %s wide", quantity(*i.HeightMm, "mm"), quantity(*i.WidthMm, "mm"))
		} else {
			size = joined(", ", prefixed("height ", maybe(i.HeightMm, "mm")), prefixed("width ", maybe(i.WidthMm, "mm")))
		}
		m.facts(
			say("Title", i.Title), say("Issue", i.Issue), say("Maker", i.Maker), say("Date made", i.DateMade),
			say("Type", i.Type), say("Technique", i.Technique),
			say("Size", joined(", ", size, prefixed("thickness ", maybe(i.ThicknessMm, "mm")))),
			say("Inscriptions and marks", i.Inscriptions), say("Distinguishing features", i.Distinguishing), say("Description", i.Description),
		)
	}
	m.portrait()
}

// portrait shows the object as it came: the first pictures of the whole, else
// of the cover.
func (m *maker) portrait() {
	var row []picture
	for _, cover := range []bool{false, true} {
		for _, p := range m.c.Photos {
			if len(row) == 2 || p.Body.Stage != record.StageArrival && p.Body.Stage != record.StageBefore {
				continue
			}
			whole := len(p.Body.Place.Sheets) == 0 && !m.chartOnly(p)
			if !cover && whole ||
				cover && len(row) == 0 && slices.Equal(p.Body.Place.Sheets, []int{0}) && m.pairOf(p) == nil {
				row = append(row, m.photo(p))
			}
		}
	}
	if len(row) > 0 {
		m.add(pictures{m.t, row, 195}, 6, 10, false)
	}
}

// chartOnly says whether a photograph was taken for the colour chart in it: others
// have their colour from it.
func (m *maker) chartOnly(p record.Stamped[record.Photo]) bool {
	return slices.ContainsFunc(
		m.c.Colours,
		func(x record.Stamped[record.PhotoColour]) bool { return x.Body.From == p.Body.Hash },
	)
}

func (m *maker) owner() {
	m.section("The owner and what was asked")
	w := m.c.Ownership
	if w == nil {
		m.none("The owner is not recorded.")
		return
	}
	value := ""
	if w.ValueMinor > 0 {
		value = money(
			w.ValueMinor,
			w.Currency,
		) + ", as stated by the owner for insurance; it is no valuation by the studio"
	}
	m.facts(
		say("Owner", w.Owner),
		say("Contact", w.Contact),
		say("Who may consent", w.MayConsent),
		say("Agreed value", value),
		say("To be kept as it is", w.Keep),
	)
	if w.Wishes != "" {
		m.sub("In the owner’s words")
		m.quote(w.Wishes)
	}
	m.notes("owner", "Also said by the owner")
}

func (m *maker) custody() {
	m.section("Custody and quarantine")
	if len(m.c.Custody) == 0 {
		m.none("No change of custody is recorded.")
	} else {
		var rows [][]cell
		for _, x := range m.c.Custody {
			b := x.Body
			signed := ""
			if b.BothSigned {
				signed = "signed by both sides"
			}
			rows = append(rows, []cell{
				txt(m.k.shortMoment(or(b.At, x.Time))), txt(record.WordsOf(record.CustodyActs, b.Act)),
				txt(joined("; ", b.Place, prefixed("from ", b.From), prefixed("by ", b.Mover))), txt(joined("; ", b.Condition, signed)), txt(x.By),
			})
		}
		m.table([]column{{head: "When"}, {head: "What"}, {head: "Where, from whom, by whom"}, {head: "Condition seen"}, {head: "Entered by"}}, rows)
	}
	q := m.c.Quarantine
	if q == nil {
		m.none("No quarantine is recorded.")
		return
	}
	b := q.Body
	m.facts(
		say(
			"Quarantine",
			joined(
				", ",
				record.WordsOf(record.QuarantineStates, b.State),
				m.k.moment(or(b.At, q.Time)),
				prefixed("at ", b.Where),
				"by "+m.person(q.By),
			),
		),
		say(
			"Moisture",
			record.WordsOf(record.Wetnesses, b.Moisture),
		),
		say("Mould", record.WordsOf(record.MouldStates, b.Mould)),
		say("Odour", b.Odour),
		say("Insects", b.Insects),
		say("Reason", b.Reason),
	)
}

func (m *maker) makeUp() {
	m.section("Make-up")
	if m.c.MakeUp == nil {
		m.none("The make-up is not recorded.")
	} else {
		b := &m.c.MakeUp.Body
		var printed, inserts []string
		for _, p := range b.Printed {
			what := "carries the number " + p.Printed
			if p.Printed == "" {
				what = "carries no number"
			}
			printed = append(printed, fmt.Sprintf("position %d %s", p.Position, what))
		}
		for _, i := range b.Inserts {
			inserts = append(inserts, fmt.Sprintf("%s, after page position %d", i.What, i.AfterPage))
		}
		m.facts(say("Sheets", plural(b.InnerSheets, "inner sheet", "inner sheets")+" of "+fmt.Sprint(4*b.InnerSheets)+" pages; "+record.WordsOf(record.Covers, b.Cover)),
			say("Binding", record.WordsOf(record.Bindings, b.Binding)), say("Page numbers", sentence(list(printed))), say("Inserts", sentence(list(inserts))), say("Note", b.Note))
		m.add(nest(m.t, m.c), 8, 2, true)
		m.add(paragraph{t: m.t, spans: []span{{nestCaption(m.c), caption}}, tag: "Caption", indent: axis}, 2, 8, false)
		var rows [][]cell
		for _, n := range m.c.Sheets() {
			if r := sheetRemark(m.c, n); r != "" {
				s := m.c.SheetStates[n]
				rows = append(rows, []cell{txt(upper(record.SheetName(n))), txt(r), txt(s.Body.Basis), txt(s.By)})
			}
		}
		if len(rows) > 0 {
			m.sub("Sheets that need a word")
			m.table([]column{{head: "Sheet"}, {head: "State"}, {head: "What that rests on"}, {head: "By"}}, rows)
		}
	}
	m.collations()
	m.stocks()
	m.staples()
}

func (m *maker) collations() {
	if len(m.c.Collations) == 0 {
		return
	}
	var rows [][]cell
	for _, x := range m.c.Collations {
		b := x.Body
		order := "not in order"
		if b.InOrder {
			order = "in order"
		}
		rows = append(
			rows,
			[]cell{
				txt(record.WordsOf(record.CollationTimes, b.When)),
				txt(m.k.shortMoment(or(b.At, x.Time))),
				txt(fmt.Sprint(b.SheetsCounted)),
				txt(order),
				txt(maybe(b.CreepMm, "mm")),
				txt(b.Findings),
				txt(x.By),
			},
		)
	}
	m.sub("Counted and compared")
	m.table(
		[]column{
			{head: "Stage"},
			{head: "When"},
			{head: "Sheets counted", align: right},
			{head: "Order"},
			{head: "Creep", align: right},
			{head: "Findings"},
			{head: "By"},
		},
		rows,
	)
}

func (m *maker) stocks() {
	if len(m.c.Stocks) == 0 {
		return
	}
	var rows [][]cell
	for _, x := range m.c.Stocks {
		b := x.Body
		rows = append(rows, []cell{
			txt(joined(": ", b.Name, record.WordsOf(record.StockClasses, b.Class))), txt(record.SheetNames(b.Sheets)),
			txt(fmt.Sprintf("%s × %s", number(b.WidthMm), quantity(b.HeightMm, "mm"))),
			txt(quantity(b.GrammageGM2, "g/m²") + ", " + record.WordsOf(record.Bases, b.GrammageBasis)),
			txt(
				joined(
					"; ",
					prefixed("thickness ", maybe(b.ThicknessUm, "µm")),
					"grain "+record.WordsOf(record.Grains, b.Grain),
					prefixed(
						"takes up ",
						rangeText(b.PickUpGG, "g/g"),
					),
					prefixed("acid ", rangeText(b.AcidMmolKg, "mmol/kg")),
					b.Note,
				),
			),
		})
	}
	m.sub("Papers")
	m.table(
		[]column{{head: "Paper"}, {head: "Sheets"}, {head: "Opened size"}, {head: "Grammage"}, {head: "Further"}},
		rows,
	)
}

// spineMm is the height of the object along the spine, from the cover's paper,
// the description, or what the staples need.
func (m *maker) spineMm() float64 {
	for _, n := range []int{0, 1} {
		if s := m.c.StockOf(n); s != nil {
			return s.HeightMm
		}
	}
	if i := m.c.Identity; i != nil && i.HeightMm != nil {
		return *i.HeightMm
	}
	return 0
}

func (m *maker) staples() {
	if len(m.c.Staples) == 0 {
		if m.c.MakeUp != nil && m.c.MakeUp.Body.Binding == "saddle" {
			m.none("No staple was mapped.")
		}
		return
	}
	m.sub("Staples, mapped before any was moved")
	spine, furthest := m.spineMm(), 0.0
	for _, s := range m.c.Staples {
		furthest = max(furthest, s.Body.FromHeadMm)
	}
	if spine < furthest {
		spine = furthest * 1.25
	}
	if spine > 0 {
		m.add(stapleMap(m.t, m.c, spine), 4, 6, true)
	}
	var rows [][]cell
	for _, s := range m.c.Staples {
		b := s.Body
		moves := []string{}
		for _, mv := range s.Moves {
			moves = append(
				moves,
				joined(
					", ",
					record.WordsOf(record.StapleActs, mv.Body.Act)+" "+m.k.short(or(mv.Body.At, mv.Time)),
					mv.Body.How,
					mv.By,
				),
			)
		}
		if len(moves) == 0 {
			moves = []string{"not moved"}
		}
		rows = append(rows, []cell{
			txt(fmt.Sprint(b.Number)), txt(quantity(b.FromHeadMm, "mm")),
			txt(
				joined(
					", ",
					prefixed("crown ", maybe(b.CrownMm, "mm")),
					prefixed("wire ", maybe(b.WireMm, "mm")),
					prefixed("legs ", maybe(b.LegMm, "mm")),
					record.WordsOf(record.Clinches, b.Clinch),
				),
			),
			txt(record.WordsOf(record.Rusts, b.Rust)), txt(b.Note), txt(strings.Join(moves, "\n")),
		})
	}
	m.table(
		[]column{
			{head: "No."},
			{head: "From head", align: right},
			{head: "Form"},
			{head: "Rust"},
			{head: "Note"},
			{head: "What became of it"},
		},
		rows,
	)
	m.staplePictures()
}

// staplePictures shows photographs of staples that are not in the list of
// photographs anyway.
func (m *maker) staplePictures() {
	var row []picture
	flush := func() {
		if len(row) > 0 {
			m.add(pictures{m.t, row, 150}, 4, 10, false)
			row = nil
		}
	}
	for _, s := range m.c.Staples {
		h := s.Body.Photo
		if h.IsZero() ||
			slices.ContainsFunc(m.c.Photos, func(p record.Stamped[record.Photo]) bool { return p.Body.Hash == h }) {
			continue
		}
		words := fmt.Sprintf("Staple %d", s.Body.Number)
		row = append(
			row,
			picture{
				m.album.get(h),
				[]span{{words, captionBold}, {"\n" + s.By + " · " + h.Short(), captionFine}},
				words,
			},
		)
		if len(row) == 2 {
			flush()
		}
	}
	flush()
}

// named gives the studio's name for what is written as one of its identifiers.
func (m *maker) named(s string) string {
	if !record.IsID(s) {
		return s
	}
	for _, x := range m.st.Methods {
		if x.ID == s {
			return x.Name
		}
	}
	for _, x := range m.st.Instruments {
		if x.ID == s {
			return x.Name
		}
	}
	if w := m.st.Water(s); w != nil {
		return w.Name
	}
	return s
}

// termOf writes a term of the vocabulary of damages as running text has it.
func termOf(term string) string {
	if term == "tideline" {
		return "tide line"
	}
	return term
}

// extent writes the measures of a damage.
func extent(d record.Damage) string {
	var parts []string
	if d.LengthMm != nil && d.WidthMm != nil {
		parts = append(parts, fmt.Sprintf("%s × %s", number(*d.LengthMm), quantity(*d.WidthMm, "mm")))
	} else {
		parts = append(parts, maybe(d.LengthMm, "mm"), prefixed("width ", maybe(d.WidthMm, "mm")))
	}
	parts = append(parts, maybe(d.AreaMm2, "mm²"))
	if d.Count != nil {
		parts = append(parts, plural(*d.Count, "spot or piece", "spots or pieces"))
	}
	return joined(", ", parts...)
}

// placeOf writes where a damage is, through which sheets it runs, and a point.
func placeOf(d record.Damage) string {
	s := d.Place.String()
	if n := len(d.Place.Sheets); n > 1 {
		s = "through " + s
	}
	if d.Through {
		s += ", shows on both faces"
	}
	if d.XMm != nil && d.YMm != nil {
		s += fmt.Sprintf(
			", at %s from the left edge and %s from the head",
			quantity(*d.XMm, "mm"),
			quantity(*d.YMm, "mm"),
		)
	}
	return s
}

// plainSlug is what an operation is called when nobody gave names for slugs.
func plainSlug(s string) string { return strings.ReplaceAll(s, "-", " ") }

func (m *maker) condition() {
	m.section("Condition before treatment")
	if len(m.c.Damages) == 0 {
		m.none("No damage is recorded.")
	} else {
		var rows [][]cell
		for i, x := range m.c.Damages {
			b := x.Body
			cause := record.WordsOf(record.CauseBases, b.CauseIs)
			if b.Cause != "" {
				cause = b.Cause + " (" + strings.TrimPrefix(cause, "cause ") + ")"
			}
			rows = append(rows, []cell{
				txt(fmt.Sprint(i + 1)), {{termOf(b.Term), fineBold}}, txt(placeOf(b)), txt(extent(b)), txt(record.WordsOf(record.Severities, b.Severity)),
				txt(cause), txt(record.WordsOf(record.Activities, b.Active)), txt(joined("; ", b.Note, x.By)),
			})
		}
		m.table([]column{{head: "No."}, {head: "Kind"}, {head: "Place"}, {head: "Extent"}, {head: "Severity"}, {head: "Cause"}, {head: "Active"}, {head: "Note, by"}}, rows)
	}
	m.notes("observed", "Observed")
	m.notes("inferred", "Inferred")
	m.notes("note", "Notes")
}

// notes lists the notes of one nature that belong to no run.
func (m *maker) notes(nature record.Nature, name string) {
	var rows [][]cell
	for _, x := range m.c.Notes {
		b := x.Body
		if b.Nature != nature || b.Run != "" {
			continue
		}
		text := b.Text
		if nature == "owner" {
			text = "“" + strings.TrimSpace(text) + "”"
		}
		rows = append(
			rows,
			[]cell{
				txt(m.k.shortMoment(x.Time)),
				txt(b.Place.String()),
				txt(joined("\n", text, prefixed("Rests on: ", b.RestsOn))),
				txt(x.By),
			},
		)
	}
	if len(rows) == 0 {
		return
	}
	m.sub(name)
	m.table([]column{{head: "Noted"}, {head: "Place"}, {head: "Words"}, {head: "By"}}, rows)
}

func (m *maker) tests() {
	m.section("Tests")
	if len(m.c.Tests) == 0 {
		m.none("No test is recorded.")
		return
	}
	var rows [][]cell
	for i := range m.c.Tests {
		x := &m.c.Tests[i]
		b := x.Body
		how := joined(
			", ",
			record.WordsOf(record.TestLiquids, b.Liquid),
			b.Strength,
			prefixed("at ", maybe(b.TempC, "°C")),
			prefixed("for ", seconds(b.DwellS)),
		)
		result := cell{{record.WordsOf(record.TestResults, b.Result), fineBold}}
		if b.Change != "" {
			result = append(result, span{"\n" + b.Change, fine})
		}
		var again []string
		for _, r := range x.Rereads {
			again = append(
				again,
				joined(
					", ",
					m.k.short(or(r.Body.At, r.Time)),
					record.WordsOf(record.Lights, r.Body.Light),
					record.WordsOf(record.TestResults, r.Body.Result),
					r.Body.Change,
					r.By,
				),
			)
		}
		if len(again) == 0 {
			again = []string{"not read again"}
		}
		rows = append(rows, []cell{
			txt(
				joined(": ", record.WordsOf(record.TestSorts, b.Sort), b.Colour),
			), txt(b.Place.String()), txt(how), result, txt(strings.Join(again, "\n")),
			txt(joined(", ", m.k.short(or(b.At, x.Time)), x.By, prefixed("sample agreed by ", b.Consent))),
		})
	}
	m.table(
		[]column{
			{head: "Test"},
			{head: "Place"},
			{head: "Liquid"},
			{head: "Result"},
			{head: "Read again"},
			{head: "When, by"},
		},
		rows,
	)
}

func seconds(v *float64) string {
	switch {
	case v == nil:
		return ""
	case *v >= 120 && math.Mod(*v, 60) == 0:
		return quantity(*v/60, "min")
	}
	return quantity(*v, "s")
}

func (m *maker) agreed() {
	m.section("What was proposed and agreed")
	if len(m.c.Proposals) == 0 {
		m.none("No proposal is recorded.")
	}
	for _, x := range m.c.Proposals {
		b := x.Body
		var options []string
		for _, o := range b.Options {
			options = append(options, o.Name+": "+o.Title)
		}
		m.facts(
			say(
				fmt.Sprintf("Version %d", b.Version),
				joined(
					". ",
					m.k.day(x.Time),
					map[bool]string{true: "Option ", false: "Options "}[len(options) == 1]+strings.Join(options, "; "),
					prefixed("Changed: ", b.Changed),
				),
			),
		)
	}
	for _, x := range m.c.Consents {
		b := x.Body
		what := fmt.Sprintf("%s to version %d", upper(record.WordsOf(record.ConsentAnswers, b.Answer)), b.Version)
		if b.Option != "" {
			what += ", option " + b.Option
		}
		later := ""
		if !b.Written() {
			later = "no written confirmation is part of this entry"
		}
		m.facts(
			say(
				"Answer",
				joined(
					", ",
					what,
					m.k.day(or(b.At, x.Time)),
					record.WordsOf(record.ConsentWays, b.Way),
					"entered by "+m.person(x.By),
				)+".",
			),
			say(
				"Given by",
				joined(", ", b.Who, b.Standing),
			),
			say("Words", quoted(b.Words)),
			say("Declined", b.Declined),
			say("Note", later),
		)
	}
	consent, option := m.c.Consented()
	if consent == nil || option == nil {
		if len(m.c.Runs) > 0 {
			m.caution("Consent", "No consent that counts is recorded for the work in this report.")
		}
		return
	}
	m.sub("The agreed plan: option " + option.Name + ", " + option.Title)
	var rows [][]cell
	for _, p := range option.Operations {
		rows = append(
			rows,
			[]cell{txt(m.o.Operation(p.Operation)), txt(record.SheetNames(p.Sheets)), txt(p.Detail), txt(p.Why)},
		)
	}
	m.table([]column{{head: "Operation"}, {head: "Sheets"}, {head: "Detail"}, {head: "Why"}}, rows)
	if v := m.c.Unanswered(); v > 0 {
		m.para(span{fmt.Sprintf("Version %d of the proposal has not been answered.", v), body})
	}
}

func quoted(s string) string {
	if strings.TrimSpace(s) == "" {
		return ""
	}
	return "“" + strings.TrimSpace(s) + "”"
}

// event is something done, in time.
type event struct {
	at  time.Time
	seq int64
	set func()
}

func (m *maker) work() {
	m.section("What was done")
	var events []event
	add := func(at time.Time, seq int64, set func()) { events = append(events, event{at, seq, set}) }
	for i := range m.c.Runs {
		r := &m.c.Runs[i]
		add(r.Body.At, r.Seq, func() { m.run(r) })
	}
	for i := range m.c.Mends {
		x := m.c.Mends[i]
		if x.Body.Run == "" || m.c.Run(x.Body.Run) == nil {
			add(or(x.Body.At, x.Time), x.Seq, func() {
				m.sub("Mend: " + x.Body.Place.String())
				m.facts(m.mendFacts(x)...)
			})
		}
	}
	for i := range m.c.Staples {
		for _, mv := range m.c.Staples[i].Moves {
			add(or(mv.Body.At, mv.Time), mv.Seq, func() {
				m.sub(fmt.Sprintf("Staple %d %s", mv.Body.Number, record.WordsOf(record.StapleActs, mv.Body.Act)))
				m.facts(
					say("When", m.k.moment(or(mv.Body.At, mv.Time))),
					say("By", m.person(mv.By)),
					say("How", mv.Body.How),
				)
			})
		}
	}
	for _, x := range m.c.Incidents {
		add(or(x.Body.At, x.Time), x.Seq, func() { m.incident(x) })
	}
	if len(events) == 0 {
		m.none("No treatment is recorded.")
	} else {
		m.lead(span{"In the order of time. A person is named by initials where space is short; the names stand " +
			"under “Who worked on it”.", bodyMuted})
	}
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.seq, b.seq)) })
	for _, e := range events {
		e.set()
	}
	m.decisions()
	m.learnt()
	m.wastes()
}

func (m *maker) incident(x record.Stamped[record.Incident]) {
	b := x.Body
	told := b.OwnerTold
	if told == "" {
		told = "not recorded"
	}
	m.caution(
		"Accident or loss: "+b.Place.String(),
		joined(
			" ",
			m.k.moment(or(b.At, x.Time))+".",
			sentence(b.What),
			prefixed("Done: ", sentence(b.Done)),
			"The owner was told: "+told+".",
			"Entered by "+m.person(x.By)+".",
		),
	)
}

// span of a run in time.
func (m *maker) runTime(r *record.Run) string {
	s := m.k.moment(r.Body.At)
	if r.Open() {
		return s + ", not ended at the last entry"
	}
	end := r.Ended()
	to := m.k.time(end)
	if m.k.day(end) != m.k.day(r.Body.At) {
		to = m.k.moment(end)
	}
	return fmt.Sprintf("%s to %s (%s)", s, to, lasted(end.Sub(r.Body.At)))
}

func (m *maker) run(r *record.Run) {
	b := r.Body
	m.sub(upper(b.OperationName) + ": " + record.SheetNames(b.Sheets))
	planned := ""
	if b.PlannedMin > 0 {
		planned = quantity(b.PlannedMin, "min") + " were planned"
	}
	list := []fact{
		say("When", joined("; ", m.runTime(r), planned)),
		say("By", m.runPeople(r)),
		say("Aim", b.Aim),
		say("Method", prefixed("the studio’s own: ", m.named(b.Method))),
	}
	list = append(list, m.bathFacts(b.Bath)...)
	list = append(list, say("Readings", strings.Join(m.runReadings(b.ID), "\n")))
	var mats []string
	for _, x := range b.Materials {
		mats = append(mats, material(x))
	}
	list = append(list, say("Materials", strings.Join(mats, "\n")),
		say("Room", joined(", ", maybe(b.TempC, "°C"), prefixed("relative humidity ", maybe(b.HumidityPct, "%")))))
	var changes []string
	for _, x := range r.Changes {
		changes = append(
			changes,
			joined(
				"; ",
				m.k.moment(x.Body.At)+" ("+lasted(x.Body.At.Sub(b.At))+" after the start)",
				x.Body.What,
				prefixed("took up ", maybe(x.Body.TakenUpG, "g")),
				x.Body.Seen,
				x.By,
			),
		)
	}
	list = append(list, say("Absorbents changed", strings.Join(changes, "\n")))
	for _, x := range m.c.Mends {
		if x.Body.Run == b.ID {
			list = append(list, say("Mend", m.mendText(x)))
		}
	}
	for _, x := range m.c.Notes {
		if x.Body.Run == b.ID {
			text := x.Body.Text
			if x.Body.Nature == "owner" {
				text = quoted(text)
			}
			place := ""
			if len(x.Body.Place.Sheets) > 0 || x.Body.Place.Words != "" {
				place = x.Body.Place.String()
			}
			list = append(
				list,
				say(
					upper(record.WordsOf(record.Natures, x.Body.Nature)),
					joined("; ", joined(": ", place, text), prefixed("rests on ", x.Body.RestsOn), x.By),
				),
			)
		}
	}
	for i, x := range r.Ends {
		e := x.Body
		words := joined(
			"; ",
			m.k.moment(
				e.At,
			)+", "+record.SheetNames(
				m.endedSheets(r, i),
			)+": "+record.WordsOf(
				record.RunOutcomes,
				e.Outcome,
			)+", left "+string(
				e.Leaves,
			),
			prefixed("end point: ", e.EndPoint),
			prefixed("seen: ", e.Seen),
			prefixed("reason: ", e.Reason),
			x.By,
		)
		list = append(list, say("Ended", words))
	}
	list = append(list, say("Not as planned", b.Departure))
	for _, o := range b.Overrides {
		list = append(list, say("Gate passed over", o.Gate+": "+o.Reason))
	}
	list = append(list, fact{"Cautions shown", []span{{strings.Join(b.Cautions, "\n"), fine}}})
	for _, x := range m.c.Wastes {
		if x.Body.Run == b.ID {
			list = append(list, say("Waste", wasteText(x.Body)))
		}
	}
	m.facts(list...)
}

// endedSheets lists the sheets that left a run by its i-th ending: those named,
// or all that no ending before it named.
func (m *maker) endedSheets(r *record.Run, i int) []int {
	if named := r.Ends[i].Body.Sheets; len(named) > 0 {
		return named
	}
	if i == 0 {
		return r.Body.Sheets
	}
	all := r.Body.Sheets
	if len(all) == 0 {
		all = m.c.Sheets()
	}
	var left []int
	for _, n := range all {
		if !slices.ContainsFunc(
			r.Ends[:i],
			func(e record.Stamped[record.RunEnded]) bool { return slices.Contains(e.Body.Sheets, n) },
		) {
			left = append(left, n)
		}
	}
	return left
}

// runPeople names who wrote the start and the ends of a run.
func (m *maker) runPeople(r *record.Run) string {
	names := []string{m.person(r.By)}
	for _, e := range r.Ends {
		if p := m.person(e.By); !slices.Contains(names, p) {
			names = append(names, p)
		}
	}
	for _, e := range r.Changes {
		if p := m.person(e.By); !slices.Contains(names, p) {
			names = append(names, p)
		}
	}
	return list(names)
}

func (m *maker) bathFacts(b *record.Bath) []fact {
	if b == nil {
		return nil
	}
	var from []string
	for _, d := range b.Bottles {
		ml := ""
		if d.Ml > 0 {
			ml = quantity(d.Ml, "mL")
		}
		from = append(from, joined(", ", d.Name, ml, prefixed("lot ", d.Lot)))
	}
	var with []string
	for _, w := range b.With {
		with = append(with, "case "+w.Number+", "+record.SheetNames(w.Sheets))
	}
	ph := ""
	if b.PH != nil {
		ph = joined(" by ", "pH "+number(*b.PH), b.PHMethod)
	}
	start := joined(
		", ",
		maybe(b.TempC, "°C"),
		ph,
		prefixed("conductivity ", maybe(b.ConductUS, "µS/cm")),
		prefixed("calcium ", maybe(b.CalciumMgL, "mg/L")),
	)
	substance := joined(", ", b.Substance, rangeText(b.StrengthGL, "g/L"))
	return []fact{
		say(
			"Bath",
			joined("; ", b.Liquid, quantity(b.VolumeMl, "mL"), prefixed("in ", b.Tray)),
		), say("Strength", substance), say("Drawn from", strings.Join(from, "\n")),
		say("Water", m.named(b.Water)), say("At the start", start), say("Shared with", strings.Join(with, "\n")),
	}
}

func (m *maker) runReadings(run string) []string {
	var out []string
	for _, x := range m.c.Readings {
		if x.Body.Run == run {
			place := ""
			if len(x.Body.Place.Sheets) > 0 || x.Body.Place.Words != "" {
				place = x.Body.Place.String()
			}
			out = append(
				out,
				joined(
					", ",
					m.k.time(or(x.Body.At, x.Time))+" "+quantityWords(x.Body.Quantity)+" "+readingText(x.Body),
					place,
					x.Body.Method,
					m.named(x.Body.Instrument),
					x.Body.Note,
					x.By,
				),
			)
		}
	}
	return out
}

func quantityWords(q string) string {
	if x := record.QuantityOf(q); x != nil {
		return x.Words
	}
	return q
}

func unitOf(q string) string {
	if x := record.QuantityOf(q); x != nil {
		return x.Unit
	}
	return ""
}

// readingText writes a value with its uncertainty and unit.
func readingText(r record.Reading) string {
	if r.Uncertainty == nil {
		return quantity(r.Value, unitOf(r.Quantity))
	}
	u := number(*r.Uncertainty)
	return asFine(number(r.Value), u) + nbsp + "±" + nbsp + joined(nbsp, u, unitOf(r.Quantity))
}

func material(x record.Material) string {
	stays := ""
	if x.Stays {
		stays = "stays in or on the object"
	}
	return joined(", ", x.Name, x.Strength, x.Amount, prefixed("lot ", x.Lot), stays)
}

func (m *maker) mendText(x record.Stamped[record.Mend]) string {
	b := x.Body
	size := extent(record.Damage{LengthMm: b.LengthMm, WidthMm: b.WidthMm})
	return joined(
		"; ",
		m.k.moment(or(b.At, x.Time)),
		b.Place.String(),
		m.mendedDamages(b.Damages),
		joined(", ", b.Tissue, maybe(b.TissueGM2, "g/m²")),
		joined(
			", ",
			b.Adhesive,
			prefixed("lot ", b.AdhesiveLot),
		),
		size,
		record.WordsOf(record.MendStates, b.State),
		prefixed("edge ", b.Edge),
		b.Note,
		x.By,
	)
}

func (m *maker) mendedDamages(ids []string) string {
	var parts []string
	for _, id := range ids {
		for i := range m.c.Damages {
			if m.c.Damages[i].Body.ID == id {
				parts = append(parts, fmt.Sprintf("%s (no. %d)", termOf(m.c.Damages[i].Body.Term), i+1))
			}
		}
	}
	return list(parts)
}

func (m *maker) mendFacts(x record.Stamped[record.Mend]) []fact {
	b := x.Body
	return []fact{
		say("When", m.k.moment(or(b.At, x.Time))), say("By", m.person(x.By)), say("Damage", m.mendedDamages(b.Damages)),
		say(
			"Tissue",
			joined(", ", b.Tissue, maybe(b.TissueGM2, "g/m²")),
		), say("Adhesive", joined(", ", b.Adhesive, prefixed("lot ", b.AdhesiveLot))),
		say(
			"Size",
			extent(record.Damage{LengthMm: b.LengthMm, WidthMm: b.WidthMm}),
		), say("Sheet", joined(", ", record.WordsOf(record.MendStates, b.State), prefixed("edge ", b.Edge))), say("Note", b.Note),
	}
}

func (m *maker) decisions() {
	var rows [][]cell
	for _, x := range m.c.Decisions {
		b := x.Body
		state := ""
		if b.Done {
			state = "settled"
		}
		rows = append(
			rows,
			[]cell{
				txt(m.k.shortMoment(x.Time)),
				txt(record.SheetNames(b.Sheets)),
				txt(
					joined(
						"; ",
						b.Text,
						prefixed("waits for ", b.Who),
						prefixed("due ", m.k.shortMoment(b.Due)),
						state,
					),
				),
				txt(b.Reason),
				txt(x.By),
			},
		)
	}
	if len(rows) > 0 {
		m.sub("Decisions at the bench")
		m.table([]column{{head: "When"}, {head: "Sheets"}, {head: "Next step"}, {head: "Reason"}, {head: "By"}}, rows)
	}
}

func wasteText(w record.Waste) string {
	return joined(", ", w.What, maybe(w.VolumeMl, "mL")) + ": " + w.To
}

func (m *maker) wastes() {
	var facts []fact
	for _, x := range m.c.Wastes {
		if x.Body.Run == "" {
			facts = append(facts, say(m.k.day(or(x.Body.At, x.Time)), wasteText(x.Body)+"; "+x.By))
		}
	}
	if len(facts) > 0 {
		m.sub("Waste")
		m.facts(facts...)
	}
}

// sheetBySheet repeats the work as each sheet met it.
func (m *maker) sheetBySheet() {
	sheets := m.c.Sheets()
	if len(sheets) == 0 || len(m.c.Runs) == 0 && len(m.c.Mends) == 0 {
		return
	}
	m.annex("Sheet by sheet")
	var rows [][]cell
	for _, n := range sheets {
		type step struct {
			at   time.Time
			text string
		}
		var steps []step
		for _, r := range m.c.RunsOn(n) {
			what := r.Body.OperationName
			if r.Body.Bath != nil {
				what += " in " + r.Body.Bath.Liquid
			}
			steps = append(steps, step{r.Body.At, joined(", ", m.runSpanOn(r, n), what, r.By)})
		}
		for _, x := range m.c.Mends {
			if slices.Contains(x.Body.Place.Sheets, n) {
				at := or(x.Body.At, x.Time)
				steps = append(
					steps,
					step{at, joined(", ", m.k.time(at), "mended with "+x.Body.Tissue+" and "+x.Body.Adhesive, x.By)},
				)
			}
		}
		slices.SortStableFunc(steps, func(a, b step) int { return a.at.Compare(b.at) })
		// Each day has its line.
		var lines cell
		day := ""
		for _, s := range steps {
			if d := m.k.day(s.at); d != day {
				day = d
				lines = append(lines, span{day + "\n", caption})
			}
			lines = append(lines, span{s.text + "\n", fine})
		}
		if len(lines) == 0 {
			lines = txt("nothing was done to it")
		}
		lines[len(lines)-1].text = strings.TrimSuffix(lines[len(lines)-1].text, "\n")
		rows = append(rows, []cell{{{upper(record.SheetName(n)), fineBold}}, lines})
	}
	m.table([]column{{head: "Sheet", fixed: 52}, {head: "What was done, in order of time"}}, rows)
}

// runSpanOn is the time of day that one sheet was in a run, with the day of its
// end where that is another.
func (m *maker) runSpanOn(r *record.Run, sheet int) string {
	for _, e := range r.Ends {
		if len(e.Body.Sheets) == 0 || slices.Contains(e.Body.Sheets, sheet) {
			s := m.k.time(r.Body.At) + " to "
			if m.k.day(e.Body.At) == m.k.day(r.Body.At) {
				s += m.k.time(e.Body.At)
			} else {
				s += m.k.shortMoment(e.Body.At)
			}
			if e.Body.Outcome != record.RunDone {
				s += " (" + record.WordsOf(record.RunOutcomes, e.Body.Outcome) + ")"
			}
			return s
		}
	}
	return "since " + m.k.time(r.Body.At)
}

func (m *maker) addedAndRemoved() {
	m.section("What was added and what was removed")
	var added [][]cell
	for i := range m.c.Runs {
		b := m.c.Runs[i].Body
		for _, x := range b.Materials {
			if x.Stays {
				added = append(
					added,
					[]cell{
						txt(joined(", ", x.Name, x.Strength, x.Amount, prefixed("lot ", x.Lot))),
						txt(record.SheetNames(b.Sheets)),
						txt(b.OperationName + ", " + m.k.short(b.At)),
					},
				)
			}
		}
		if b.Bath != nil && leavesReserve(b) {
			added = append(
				added,
				[]cell{
					txt("alkaline reserve from " + b.Bath.Liquid),
					txt(record.SheetNames(b.Sheets)),
					txt(b.OperationName + ", " + m.k.short(b.At)),
				},
			)
		}
	}
	for _, x := range m.c.Mends {
		b := x.Body
		added = append(
			added,
			[]cell{
				txt(joined(", ", b.Tissue, maybe(b.TissueGM2, "g/m²"), "with "+b.Adhesive)),
				txt(b.Place.String()),
				txt("mend, " + m.k.short(or(b.At, x.Time))),
			},
		)
	}
	for i := range m.c.Staples {
		for _, mv := range m.c.Staples[i].Moves {
			if mv.Body.Act == "replaced" {
				added = append(
					added,
					[]cell{
						txt(fmt.Sprintf("a new staple in place of staple %d", mv.Body.Number)),
						txt("spine"),
						txt(joined(", ", mv.Body.How, m.k.short(or(mv.Body.At, mv.Time)))),
					},
				)
			}
		}
	}
	if len(added) == 0 {
		m.none("Nothing that stays in or on the object is recorded as added.")
	} else {
		m.sub("Added, and still in or on the object")
		m.table([]column{{head: "What"}, {head: "Where"}, {head: "In which work"}}, added)
	}
	m.removed()
}

// leavesReserve says whether a bath leaves an alkaline reserve: it was made
// with one of the alkalis used for that, or the operation is one of those.
func leavesReserve(b record.RunStarted) bool {
	if b.Operation == "lime" || b.Operation == "bicarbonate" {
		return true
	}
	s := strings.ToLower(b.Bath.Substance)
	return s == "calcium hydroxide" || strings.HasSuffix(s, "bicarbonate") || s == "magnesium hydroxide"
}

func (m *maker) removed() {
	var rows [][]cell
	for i := range m.c.Parts {
		p := &m.c.Parts[i]
		b := p.Body
		fate := "not settled; kept at: " + b.Where
		if s := p.Settled; s != nil {
			fate = joined(
				"; ",
				record.WordsOf(record.PartOutcomes, s.Body.Outcome)+", "+m.k.short(s.Time),
				prefixed("agreed with ", s.Body.AgreedWith),
				s.Body.Note,
			)
			if s.Body.Outcome == "kept" {
				fate += "; at: " + b.Where
			}
		}
		rows = append(
			rows,
			[]cell{
				txt(joined(": ", record.WordsOf(record.PartSorts, b.Sort), b.What)),
				txt(b.From.String()),
				txt(b.Label),
				txt(fate),
				txt(p.By),
			},
		)
	}
	for i := range m.c.Staples {
		s := &m.c.Staples[i]
		if s.Out() {
			last := s.Moves[len(s.Moves)-1]
			if last.Body.Part != "" && m.c.Part(last.Body.Part) != nil {
				continue // stands among the parts
			}
			rows = append(
				rows,
				[]cell{
					txt(fmt.Sprintf("staple %d", s.Body.Number)),
					txt("spine"),
					nil,
					txt(record.WordsOf(record.StapleActs, last.Body.Act) + "; where it is now is not recorded"),
					txt(last.By),
				},
			)
		}
	}
	if len(rows) == 0 {
		m.none("Nothing is recorded as removed or kept apart.")
		return
	}
	m.sub("Removed or kept apart, and where it is now")
	m.table([]column{{head: "What"}, {head: "From"}, {head: "Label"}, {head: "Where it is now"}, {head: "By"}}, rows)
}

func (m *maker) departures() {
	m.section("Departures from the plan")
	var rows [][]cell
	row := func(r *record.Run, what, why, by string) {
		rows = append(
			rows,
			[]cell{
				txt(m.k.shortMoment(r.Body.At)),
				txt(r.Body.OperationName + ", " + record.SheetNames(r.Body.Sheets)),
				{{what, fineBold}},
				txt(why),
				txt(by),
			},
		)
	}
	for i := range m.c.Runs {
		r := &m.c.Runs[i]
		if r.Body.Departure != "" {
			row(r, "not as agreed", r.Body.Departure, r.By)
		}
		for _, o := range r.Body.Overrides {
			row(r, "gate passed over: "+o.Gate, o.Reason, r.By)
		}
		for i, e := range r.Ends {
			if e.Body.Outcome != record.RunDone {
				row(
					r,
					record.WordsOf(record.RunOutcomes, e.Body.Outcome)+": "+record.SheetNames(m.endedSheets(r, i)),
					e.Body.Reason,
					e.By,
				)
			}
		}
	}
	if len(rows) == 0 {
		m.none("None is recorded: no gate was passed over, no step was stopped or abandoned.")
		return
	}
	m.table([]column{{head: "When"}, {head: "Operation"}, {head: "What"}, {head: "Reason"}, {head: "By"}}, rows)
}
