package papers

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
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
}

// maker is what all papers of a case share.
type maker struct {
	*sheet
	c     *record.Case
	st    *record.Studio
	o     Options
	k     words.Clock
	album album
	shown map[int64]bool // photographs by the seq of their entry
	// annexes counts them: what is numbered is found again.
	annexes int
	// legend says that it was said what ± means.
	legend bool
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
	for _, b := range []*record.Break{journal.Broken, st.Broken} {
		if b != nil {
			return nil, b.Refusal()
		}
	}
	if o.Date.IsZero() {
		o.Date = journal.Updated
	}
	if o.Zone == nil {
		o.Zone = zoneOf(journal)
	}
	s, err := newSheet(o.Size, o.Date.UTC().Truncate(time.Second))
	if err != nil {
		return nil, err
	}
	m := &maker{
		sheet: s, c: c, st: st, o: o, k: words.Clock{Language: en, Zone: o.Zone}, album: album{from: o.Pictures},
		shown: map[int64]bool{},
	}
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
		m.add(paragraph{t: m.t, spans: []span{{"Annexes", kind}}, tag: "P"}, 0, 3, true)
		m.items[len(m.items)-1].leads = true
		m.add(paragraph{t: m.t, spans: []span{{"What a conservator needs to judge the work, or to go on with it. The " +
			"report can be read without them.", bodyMuted}}, tag: "P"}, 0, 4, true)
	}
	m.section(fmt.Sprintf("Annex %d: %s", m.annexes, name))
}

// sayUncertainty says once on a paper what a value after ± is.
func (m *maker) sayUncertainty(before string) {
	if !m.legend {
		before = joined(" ", before, account.Uncertainty)
	}
	m.legend = true
	if before != "" {
		m.wide(span{before, fineMuted})
	}
}

func (m *maker) reportFacts() {
	closed := ""
	if c := m.c.Closed; c != nil {
		closed = joined(", ", m.k.Day(c.Time), record.Words(c.Body.Outcome))
	}
	list := []fact{
		say("Case", m.c.Number), say("Purpose", m.c.Purpose), say("Opened", m.k.Day(m.c.Opened)), say("Closed", closed),
		say("Date of report", m.k.Day(m.o.Date)), say("Studio", m.studioName()),
	}
	if d := m.st.Details; d != nil {
		list = append(list, say("", joined("\n", d.Address, d.Contact)))
	}
	m.facts(append(list, say("Times", "are given in "+m.zoneName()))...)
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
	if i := m.c.Identity; i == nil {
		m.none("The object was not described beyond its title.")
	} else {
		size := joined(", ", prefixed("height ", maybe(i.HeightMm, "mm")), prefixed("width ", maybe(i.WidthMm, "mm")))
		if i.HeightMm != nil && i.WidthMm != nil {
			size = quantity(*i.HeightMm, "mm") + " high × " + quantity(*i.WidthMm, "mm") + " wide"
		}
		m.facts(
			say("Title", i.Title), say("Issue", i.Issue), say("Maker", i.Maker), say("Date made", i.DateMade),
			say("Type", i.Type), say("Technique", i.Technique),
			say("Size", joined(", ", size, prefixed("thickness ", maybe(i.ThicknessMm, "mm")))),
			say("Inscriptions and marks", i.Inscriptions), say("Distinguishing features", i.Distinguishing),
			say("Description", i.Description),
		)
	}
	m.portrait()
}

// portrait shows the object as it came: the first pictures of the whole, else
// of the cover.
func (m *maker) portrait() {
	var row []picture
	for _, p := range m.c.Photos {
		if len(row) < 2 && len(p.Body.Place.Sheets) == 0 && account.BeforeTreatment(p.Body.Stage) &&
			!account.ForChart(m.c, p) {
			row = append(row, m.photo(p))
		}
	}
	for _, x := range account.PhotoPairs(m.c) {
		if len(row) == 0 && slices.Equal(x.Place.Sheets, []int{0}) && x.After == nil {
			row = append(row, m.photo(x.AllBefore[0]))
		}
	}
	if len(row) > 0 {
		m.add(pictures{m.t, row, 195}, 6, 10, false)
	}
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
		value = money(w.ValueMinor, w.Currency) +
			", as stated by the owner for insurance; it is no valuation by the studio"
	}
	m.facts(say("Owner", w.Owner), say("Contact", w.Contact), say("Who may consent", w.MayConsent),
		say("Agreed value", value), say("To be kept as it is", w.Keep))
	if w.Wishes != "" {
		m.sub("In the owner’s words")
		m.quote(w.Wishes)
	}
	m.notes("owner", "Also said by the owner")
	for _, x := range m.c.Earlier {
		m.facts(say("Earlier treatment", account.InWords(x.Body)))
	}
}

func (m *maker) custody() {
	m.section("Custody and quarantine")
	g := grid("When|What|Where, from whom, by whom|Condition seen|Entered by")
	for _, x := range m.c.Custody {
		b := x.Body
		signed := ""
		if b.BothSigned {
			signed = "signed by both sides"
		}
		g.row(m.k.ShortMoment(or(b.At, x.Time)), record.Words(b.Act),
			joined("; ", b.Place, prefixed("from ", b.From), prefixed("by ", b.Mover)),
			joined("; ", b.Condition, signed), x.By)
	}
	m.gridOr(g, "No change of custody is recorded.")
	if n := len(m.c.Insured); n > 0 {
		m.facts(say("Insurance while here", account.InWords(m.c.Insured[n-1].Body)))
	}
	q := m.c.Quarantine
	if q == nil {
		m.none("No quarantine is recorded.")
		return
	}
	b := q.Body
	m.facts(
		say("Quarantine", joined(", ", record.Words(b.State), m.k.Moment(or(b.At, q.Time)), prefixed("at ", b.Where),
			"by "+m.person(q.By))),
		say("Moisture", record.Words(b.Moisture)), say("Mould", record.Words(b.Mould)),
		say("Odour", b.Odour), say("Insects", b.Insects), say("Reason", b.Reason),
	)
}

func (m *maker) people() {
	m.section("Who worked on it")
	count := map[string]int{}
	for _, l := range m.c.Log {
		count[l.By]++
	}
	g := grid("Initials|Name|Role|>Wrote")
	for _, w := range m.c.Workers() {
		role := ""
		for _, p := range m.st.People {
			if p.Initials == w {
				role = p.Role
			}
		}
		name := m.st.PersonNamed(w)
		if name == w {
			name = "name not in the studio’s list"
		}
		g.row(strong(w), name, role, plural(count[w], "entry", "entries"))
	}
	m.gridOr(g, "Nobody is named in the record.")
}

// did says whether an operation was performed on some sheets, and not given up.
func (m *maker) did(slugs ...string) bool {
	return slices.ContainsFunc(m.c.Runs, func(r record.Run) bool {
		return slices.Contains(slugs, r.Body.Operation) &&
			slices.ContainsFunc(r.Ends, func(e record.Stamped[record.RunEnded]) bool {
				return e.Body.Outcome != "abandoned"
			})
	})
}

// disclosed are the operations that must not be hidden in a later sale, in the
// order of the work.
var disclosed = []struct {
	words string
	slugs []string
}{
	{"surface cleaned", []string{"surface-clean"}},
	{"taken apart", []string{"take-apart", "staples-out"}},
	{"tape or old repairs removed", []string{"tape-off"}},
	{"humidified", []string{"humidify"}},
	{"washed in water", []string{"wash", "float-wash", "wet-out", "rinse"}},
	{"treated with a chelating bath", []string{"chelate"}},
	{"bleached by reduction", []string{"reduce"}},
	{"bleached by oxidation", []string{"oxidise"}},
	{"made alkaline", []string{"lime", "bicarbonate"}},
	{"resized", []string{"size"}},
	{"dried and pressed under restraint", []string{"dry-absorbent"}},
	{"losses filled", []string{"infill"}},
	{"flattened", []string{"flatten"}},
	{"put back in order", []string{"reassemble"}},
}

// disclosure says in one place what must not be hidden in a later sale.
func (m *maker) disclosure() {
	m.section("Disclosure")
	var acts []string
	for _, x := range disclosed {
		if m.did(x.slugs...) {
			acts = append(acts, x.words)
		}
	}
	if n := len(m.c.Mends); n > 0 {
		acts = append(acts, "mended in "+plural(n, "place", "places")+" with tissue and adhesive")
	}
	fates := map[string]int{}
	const out = "taken out, and not put back up to now"
	for i := range m.c.Staples {
		s := &m.c.Staples[i]
		if len(s.Moves) == 0 {
			continue
		}
		switch s.Moves[len(s.Moves)-1].Body.Act {
		case "reused":
			fates["taken out and put back"]++
		case "replaced":
			fates["replaced"]++
		default:
			fates[out]++
		}
	}
	for _, fate := range []string{"taken out and put back", "replaced", out} {
		if n := fates[fate]; n > 0 {
			acts = append(acts, plural(n, "staple", "staples")+" "+fate)
		}
	}
	if len(acts) == 0 {
		m.para(span{"No treatment of the object is recorded in this case.", body})
	} else {
		m.para(span{"Up to the date of this report the object was: " + strings.Join(acts, "; ") + ". Washing, " +
			"bleaching and making alkaline cannot be undone. Details, with materials and sheets, stand in this report.",
			body})
	}
	var going []string
	for _, r := range m.c.OpenRuns() {
		going = append(going, r.Body.OperationName+" of "+record.SheetNames(m.c.SheetsIn(r)))
	}
	if len(going) > 0 {
		m.para(span{upper(account.InProgress) + ", and not counted above: " + strings.Join(going, "; ") + ".", body})
	}
	var married []string
	for _, n := range m.c.Sheets() {
		if m.c.SheetStates[n].Body.Married != "" {
			married = append(married, record.SheetName(n))
		}
	}
	if len(married) > 0 {
		m.para(span{upper(list(married)) + " may come from another copy; the make-up says what that rests on.", body})
	}
	if n := len(m.c.Incidents); n > 0 {
		is := map[bool]string{true: "is", false: "are"}[n == 1]
		m.para(span{plural(n, "accident or loss", "accidents or losses") + " in the studio’s care " + is +
			" recorded, and described under “What was done”.", body})
	}
	m.para(span{"That a thing has been treated may change its value in the market, and must not be hidden when it is " +
		"sold. This report gives no opinion on value or authenticity. Keep it with the object: it is the owner’s " +
		"copy of the record, and the studio keeps another. It should be printed on permanent paper (ISO 9706) as " +
		"well as filed.", body})
	m.signature("For "+m.studioName(), "Date")
}

// seal says what the report was drawn from, so that it can be held against the
// record.
func (m *maker) seal() {
	m.annex("The record behind this report")
	corrected, unknown := 0, 0
	var withdrawn []string
	for i := range m.c.Log {
		l := &m.c.Log[i]
		switch {
		case l.WithdrawnBy != 0 && l.Kind != (record.Withdrawn{}).Kind():
			withdrawn = append(withdrawn, strconv.FormatInt(l.Seq, 10))
		case l.CorrectedBy != 0 && l.Corrects == 0:
			corrected++
		case l.Decoded == nil:
			unknown++
		}
	}
	gone, fixed := "none", "none"
	if n := len(withdrawn); n > 0 {
		which := strings.Join(withdrawn, ", ")
		if n > 60 {
			which = strings.Join(withdrawn[:60], ", ") + " and more"
		}
		gone = fmt.Sprintf("%d: %s. They are not in this report; the record keeps them, with the reasons.", n, which)
	}
	if corrected > 0 {
		fixed = fmt.Sprintf("%d. This report shows what counts now; the record keeps what stood before.", corrected)
	}
	list := []fact{
		say("Journal", string(m.c.ID)), say("Entries", fmt.Sprint(m.c.LastSeq)),
		say("Last entry", m.k.Moment(m.c.Updated)), say("Corrected entries", fixed), say("Withdrawn entries", gone),
	}
	if unknown > 0 {
		list = append(list, say("Not readable here", plural(unknown, "entry", "entries")+" of a kind that this "+
			"program does not know or cannot read; they are kept in the record and not in this report."))
	}
	for _, p := range m.c.Problems {
		if len(list) > 30 {
			list = append(list, say("", "and more"))
			break
		}
		list = append(list, say(fmt.Sprintf("Entry %d", p.Seq), "breaks a rule of the record: "+p.Say))
	}
	if h := m.c.LastHash; !h.IsZero() {
		list = append(list, say("Seal", h.String()))
	}
	for _, x := range m.c.Issued {
		what := record.Words(x.Body.Sort)
		if x.Body.Version > 0 {
			what += fmt.Sprintf(" %d", x.Body.Version)
		}
		at := m.k.Day(or(x.Body.At, x.Time))
		list = append(list, say("Issued", joined(", ", what, "to "+x.Body.To, x.Body.Way, at)))
	}
	m.facts(list...)
	m.para(span{"The seal is the SHA-256 of the journal’s last entry, which holds that of the entry before it, and " +
		"so on to the first: a change to any entry changes the seal.", bodyMuted})
}
