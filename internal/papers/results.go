package papers

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/record"
)

func (m *maker) results() {
	m.section("What it came to")
	begins := len(m.items)
	if _, option := m.c.Consented(); option != nil && option.Expect != "" {
		m.sub("Expected, as the agreed option said before the work")
		m.para(span{option.Expect, body})
	}
	m.damagesAfter()
	m.comparedReadings()
	m.facesCompared()
	m.areasElsewhere()
	m.pairs()
	if len(m.items) == begins {
		m.none("No result is recorded.")
	}
}

func (m *maker) damagesAfter() {
	if len(m.c.Damages) == 0 {
		return
	}
	var rows [][]cell
	judged := false
	for i, x := range m.c.Damages {
		after, text := "not judged after treatment", ""
		if x.After != nil {
			judged = true
			after, text = record.WordsOf(
				record.DamageOutcomes,
				x.After.Body.Outcome,
			), joined(
				"; ",
				x.After.Body.Text,
				x.After.By,
			)
		}
		rows = append(
			rows,
			[]cell{txt(fmt.Sprint(i + 1)), txt(termOf(x.Body.Term)), txt(x.Body.Place.String()), txt(after), txt(text)},
		)
	}
	if !judged {
		m.none("No damage has been judged after treatment.")
		return
	}
	m.sub("Each damage after treatment")
	m.table(
		[]column{{head: "No."}, {head: "Kind"}, {head: "Place"}, {head: "After treatment"}, {head: "Remark, by"}},
		rows,
	)
}

// compared is a quantity at a place, read before and after.
type compared struct {
	before, after *record.Stamped[record.Reading]
}

// comparedReadings sets what was measured before beside what was measured
// after. The uncertainty of a difference is the root of the sum of the squares
// of both, as for independent readings.
func (m *maker) comparedReadings() {
	var keys []string
	pairs := map[string]*compared{}
	for i := range m.c.Readings {
		x := &m.c.Readings[i]
		if x.Body.Stage == record.StageDuring {
			continue
		}
		key := x.Body.Quantity + "\x00" + x.Body.Place.String()
		p := pairs[key]
		if p == nil {
			p = &compared{}
			pairs[key] = p
			keys = append(keys, key)
		}
		if x.Body.Stage == record.StageAfter {
			p.after = x
		} else {
			p.before = x
		}
	}
	var rows [][]cell
	for _, key := range keys {
		p := pairs[key]
		if p.before == nil || p.after == nil {
			continue
		}
		a, b := p.before.Body, p.after.Body
		how := a.Method
		if b.Method != a.Method {
			how = "before: " + a.Method + "; after: " + b.Method
		}
		rows = append(
			rows,
			[]cell{
				txt(quantityWords(a.Quantity)),
				txt(a.Place.String()),
				txt(readingText(a)),
				txt(readingText(b)),
				txt(difference(a, b)),
				txt(how),
			},
		)
	}
	if len(rows) == 0 {
		if len(m.c.Runs) > 0 {
			what := "No quantity was read at the same place both before and after treatment."
			if len(m.c.Readings) == 0 {
				what = "No reading is recorded."
			}
			m.none(what)
		}
		return
	}
	m.sub("Before and after, by numbers")
	m.table(
		[]column{
			{head: "Quantity"},
			{head: "Place"},
			{head: "Before", align: right},
			{head: "After", align: right},
			{head: "Difference", align: right},
			{head: "Method"},
		},
		rows,
	)
	m.wide(
		span{
			"A value after ± is half the width of the range in which the true value lies with about 95 % (k = 2). " +
				"The difference carries the root of the sum of both squares; one that is smaller than that is no " +
				"change that was measured.",
			fineMuted,
		},
	)
}

func difference(a, b record.Reading) string {
	d := math.Round((b.Value-a.Value)*1e6) / 1e6
	s := number(d)
	if d > 0 {
		s = "+" + s
	}
	if a.Uncertainty == nil || b.Uncertainty == nil {
		return s + " (uncertainty not stated)"
	}
	u := math.Hypot(*a.Uncertainty, *b.Uncertainty)
	s = asFine(s, twoFigures(u)) + nbsp + "±" + nbsp + twoFigures(u)
	if math.Abs(d) < u {
		s += " (no change measured)"
	}
	return s
}

// twoFigures rounds an uncertainty to two figures.
func twoFigures(v float64) string {
	if v == 0 {
		return "0"
	}
	s := strconv.FormatFloat(v, 'g', 2, 64)
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return s
	}
	return number(f)
}

func (m *maker) allReadings() {
	if len(m.c.Readings) == 0 {
		return
	}
	list := slices.Clone(m.c.Readings)
	slices.SortStableFunc(list, func(a, b record.Stamped[record.Reading]) int {
		return or(a.Body.At, a.Time).Compare(or(b.Body.At, b.Time))
	})
	var rows [][]cell
	for _, x := range list {
		b := x.Body
		where := b.Place.String()
		if r := m.c.Run(b.Run); r != nil {
			where = r.Body.OperationName
			if len(b.Place.Sheets) > 0 || b.Place.Words != "" {
				where += "; " + b.Place.String()
			}
		}
		around := joined(", ", maybe(b.TempC, "°C"), prefixed("RH ", maybe(b.HumidityPct, "%")))
		rows = append(rows, []cell{
			txt(
				m.k.shortMoment(or(b.At, x.Time)),
			), txt(record.WordsOf(record.Stages, b.Stage)), txt(quantityWords(b.Quantity)), txt(where), txt(readingText(b)),
			txt(
				joined("; ", b.Method, m.named(b.Instrument), prefixed("checked: ", b.Checked), around, b.Note),
			), txt(x.By),
		})
	}
	m.annex("All readings")
	m.table(
		[]column{
			{head: "When"},
			{head: "Stage"},
			{head: "Quantity"},
			{head: "Place"},
			{head: "Value", align: right},
			{head: "Method, instrument"},
			{head: "By"},
		},
		rows,
	)
}

// photo makes a picture of a photograph and remembers that it was shown.
func (m *maker) photo(p record.Stamped[record.Photo]) picture {
	m.shown[p.Seq] = true
	b := p.Body
	where := b.Place.String()
	first := upper(record.WordsOf(record.Stages, b.Stage))
	during := ""
	if r := m.c.Run(b.Run); r != nil {
		during = r.Body.OperationName
	}
	rest := joined("; ", where, record.WordsOf(record.Lights, b.Light), during, b.Caption)
	taken := ""
	if !b.Taken.IsZero() {
		taken = "camera’s time " + m.k.moment(b.Taken)
	}
	tail := joined(" · ", p.By, taken, b.FileName, b.Hash.Short(), prefixed("credit: ", b.Credit))
	return picture{
		photograph: m.album.get(b.Hash),
		caption:    []span{{first + ": ", captionBold}, {rest + ".", caption}, {"\n" + tail, captionFine}},
		alt:        "Photograph " + record.WordsOf(record.Stages, b.Stage) + ": " + rest,
	}
}

var (
	captionBold = &style{smallBold, 8.2, 10.8, ink}
	captionFine = &style{small, 7, 10.8, muted}
)

// pairKey names what a photograph shows, so that before and after find each
// other: the same sheets, face and light.
func pairKey(p record.Photo) string {
	s := slices.Clone(p.Place.Sheets)
	slices.Sort(s)
	key := fmt.Sprint(s, p.Place.Face, p.Light)
	if len(s) == 0 {
		key += p.Place.Words
	}
	return key
}

// pairOf finds the photograph after treatment of what p shows, or nil.
func (m *maker) pairOf(p record.Stamped[record.Photo]) *record.Stamped[record.Photo] {
	var after *record.Stamped[record.Photo]
	for i := range m.c.Photos {
		x := &m.c.Photos[i]
		if x.Body.Stage == record.StageAfter && pairKey(x.Body) == pairKey(p.Body) {
			after = x
		}
	}
	return after
}

// pairs sets the last photograph before treatment beside the last after it.
func (m *maker) pairs() {
	before := map[string]record.Stamped[record.Photo]{}
	var keys []string
	for _, p := range m.c.Photos {
		if p.Body.Stage != record.StageBefore && p.Body.Stage != record.StageArrival || m.chartOnly(p) {
			continue
		}
		key := pairKey(p.Body)
		old, have := before[key]
		if !have {
			keys = append(keys, key)
		}
		if have && old.Body.Stage == record.StageBefore && p.Body.Stage == record.StageArrival {
			continue
		}
		before[key] = p
	}
	// By sheet, outer face first, as a person turns them.
	slices.SortStableFunc(
		keys,
		func(a, b string) int { return slices.Compare(before[a].Body.Place.Sheets, before[b].Body.Place.Sheets) },
	)
	named := false
	for _, key := range keys {
		p := before[key]
		after := m.pairOf(p)
		if after == nil || m.shown[p.Seq] && m.shown[after.Seq] {
			continue
		}
		if !named {
			m.sub(
				map[bool]string{false: "Before and after, by pictures", true: "Before and after, not compared by " +
					"numbers"}[len(m.c.Compared) > 0],
			)
			named = true
		}
		m.add(pictures{m.t, []picture{m.photo(p), m.photo(*after)}, 285}, 6, 12, false)
	}
}

// gallery shows the photographs that stand nowhere else.
func (m *maker) gallery() {
	var row []picture
	named := false
	flush := func() {
		if len(row) > 0 {
			m.add(pictures{m.t, row, 240}, 6, 12, false)
			row = nil
		}
	}
	for _, stage := range record.Stages {
		for _, p := range m.c.Photos {
			if p.Body.Stage != record.Stage(stage.Value) || m.shown[p.Seq] {
				continue
			}
			if !named {
				m.annex("Further photographs")
				named = true
			}
			row = append(row, m.photo(p))
			if len(row) == 2 {
				flush()
			}
		}
	}
	flush()
	if len(m.c.Photos) == 0 {
		m.annex("Photographs")
		m.none("No photograph is recorded.")
	}
}

// alkalised says whether a bath left an alkaline reserve in some sheet.
func (m *maker) alkalised() (sheets []int) {
	for i := range m.c.Runs {
		b := m.c.Runs[i].Body
		if b.Bath == nil || !leavesReserve(b) {
			continue
		}
		list := b.Sheets
		if len(list) == 0 {
			list = m.c.Sheets()
		}
		for _, n := range list {
			if !slices.Contains(sheets, n) {
				sheets = append(sheets, n)
			}
		}
	}
	slices.Sort(sheets)
	return sheets
}

// lignin says what the lignin tests on the paper of these sheets found:
// positive, another result, or empty when none was made.
func (m *maker) lignin(sheets []int) record.TestResult {
	found := record.TestResult("")
	for i := range m.c.Tests {
		t := &m.c.Tests[i]
		if t.Body.Sort != record.TestLignin || !m.samePaper(t.Body.Place.Sheets, sheets) {
			continue
		}
		if t.Result() == record.ResultPositive {
			return record.ResultPositive
		}
		found = t.Result()
	}
	return found
}

// samePaper says whether what was found on some sheets holds for others: they
// share a sheet or a paper, or it is not known which they are.
func (m *maker) samePaper(tested, sheets []int) bool {
	if len(tested) == 0 {
		return true
	}
	for _, n := range tested {
		paper := m.c.StockOf(n)
		for _, s := range sheets {
			if s == n || paper == nil || m.c.StockOf(s) == paper || m.c.StockOf(s) == nil {
				return true
			}
		}
	}
	return false
}

// groundwood says whether one of the sheets is of groundwood paper.
func (m *maker) groundwood(sheets []int) bool {
	return slices.ContainsFunc(sheets, func(n int) bool {
		s := m.c.StockOf(n)
		return s != nil && s.Class == "groundwood"
	})
}

// advice is what an owner should know for keeping the object. Ranges are those
// of library and conservation guidance: Library of Congress on comic books for
// cool, about 35 % RH and dark; the mould limit is common practice; 50 lux is
// CIE 157, from memory.
func (m *maker) advice() {
	m.section("Advice for keeping it")
	sheets := m.alkalised()
	lignin := m.lignin(sheets)
	switch {
	case len(sheets) > 0 && (lignin == "positive" || m.groundwood(sheets)):
		why := "its lignin test was positive"
		if lignin != "positive" {
			why = "it is groundwood paper, which holds lignin"
		}
		m.caution(
			"Keep it dark",
			"The paper of "+record.SheetNames(
				sheets,
			)+" was made alkaline, and "+why+". Alkali protects such paper from its own acid, but in light it then "+
				"yellows faster than before. Keep it in the dark; show it only for short times, at no more than 50 "+
				"lux and without ultraviolet.",
			"This warning is dated "+m.k.day(m.o.Date)+" and should stay with the object.",
		)
	case len(sheets) > 0:
		words := "A test for lignin is not recorded. Paper with lignin that was made alkaline yellows faster in " +
			"light: until it is tested, treat it as if it had lignin and keep it dark."
		if lignin == "negative" {
			words = "The lignin test was negative. Light still fades and yellows old paper: no more than 50 lux, no " +
				"ultraviolet, short times."
		}
		m.caution("Light", words)
	default:
		m.caution(
			"Light",
			"Light yellows and embrittles old paper, most of all newsprint: keep it dark, show it for short times, "+
				"at no more than 50 lux and without ultraviolet.",
		)
	}
	m.facts(
		say(
			"Climate",
			"Cool, at room temperature or below, at about 35 % relative humidity (30 to 50 % is common in "+
				"libraries), and steady. Above 60 to 65 % mould can grow and staples rust. Not in an attic or "+
				"cellar, not near a heater.",
		),
		say(
			"Enclosure",
			"A stiff polyester sleeve or a lignin-free folder or board with a buffer, upright and snug or lying "+
				"flat in a box. No vinyl, no old sleeve, no acid board. Where print or colour shifts in alkali, ask "+
				"before buffered board is used next to it.",
		),
		say("Handling", "Clean dry hands; not opened past 180 degrees; no clips, tape, bands or weights."),
		say("Look again", m.reinspect()),
	)
}

func (m *maker) reinspect() string {
	words := "Yearly: smell, rust at the staples, new tide lines or spots, mends that lift."
	if m.c.Closed != nil && !m.c.Closed.Body.Reinspect.IsZero() {
		return "Next on " + m.k.day(m.c.Closed.Body.Reinspect) + ". " + words
	}
	return words + " No date for the next look is recorded."
}

// did says whether an operation was performed and not given up on all sheets.
func (m *maker) did(slugs ...string) bool {
	for i := range m.c.Runs {
		r := &m.c.Runs[i]
		if !slices.Contains(slugs, r.Body.Operation) {
			continue
		}
		if len(r.Ends) == 0 ||
			slices.ContainsFunc(
				r.Ends,
				func(e record.Stamped[record.RunEnded]) bool { return e.Body.Outcome != "abandoned" },
			) {
			return true
		}
	}
	return false
}

// disclosure says in one place what must not be hidden in a later sale.
func (m *maker) disclosure() {
	m.section("Disclosure")
	var acts []string
	for _, x := range []struct {
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
	} {
		if m.did(x.slugs...) {
			acts = append(acts, x.words)
		}
	}
	if n := len(m.c.Mends); n > 0 {
		acts = append(acts, "mended in "+plural(n, "place", "places")+" with tissue and adhesive")
	}
	reused, replaced, out := 0, 0, 0
	for i := range m.c.Staples {
		s := &m.c.Staples[i]
		if len(s.Moves) == 0 {
			continue
		}
		switch s.Moves[len(s.Moves)-1].Body.Act {
		case "reused":
			reused++
		case "replaced":
			replaced++
		default:
			out++
		}
	}
	for _, x := range []struct {
		n     int
		words string
	}{{reused, "taken out and put back"}, {replaced, "replaced"}, {out, "taken out, and not put back up to now"}} {
		if x.n > 0 {
			acts = append(acts, plural(x.n, "staple", "staples")+" "+x.words)
		}
	}
	if len(acts) == 0 {
		m.para(span{"No treatment of the object is recorded in this case.", body})
	} else {
		m.para(span{"Up to the date of this report the object was: " + strings.Join(acts, "; ") + ". Washing, bleaching and making alkaline cannot be undone. Details, with materials and sheets, stand in this report.", body})
	}
	var married []string
	for _, n := range m.c.Sheets() {
		if s := m.c.SheetStates[n]; s.Body.State == "married" {
			married = append(married, record.SheetName(n))
		}
	}
	if len(married) > 0 {
		m.para(span{upper(list(married)) + " may come from another copy; the make-up says what that rests on.", body})
	}
	if n := len(m.c.Incidents); n > 0 {
		m.para(
			span{
				plural(
					n,
					"accident or loss",
					"accidents or losses",
				) + " in the studio’s care " + map[bool]string{true: "is", false: "are"}[n == 1] + " recorded, and described under “What was done”.",
				body,
			},
		)
	}
	m.para(
		span{
			"That a thing has been treated may change its value in the market, and must not be hidden when it is " +
				"sold. This report gives no opinion on value or authenticity. Keep it with the object: it is the " +
				"owner’s copy of the record, and the studio keeps another. It should be printed on permanent " +
				"paper (ISO 9706) as well as filed.",
			body,
		},
	)
	m.signature("For "+m.studioName(), "Date")
}

func (m *maker) people() {
	m.section("Who worked on it")
	workers := m.c.Workers()
	if len(workers) == 0 {
		m.none("Nobody is named in the record.")
		return
	}
	count := map[string]int{}
	for _, l := range m.c.Log {
		count[l.By]++
	}
	var rows [][]cell
	for _, w := range workers {
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
		rows = append(rows, []cell{{{w, fineBold}}, txt(name), txt(role), txt(plural(count[w], "entry", "entries"))})
	}
	m.table([]column{{head: "Initials"}, {head: "Name"}, {head: "Role"}, {head: "Wrote", align: right}}, rows)
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
	gone := "none"
	if n := len(withdrawn); n > 0 {
		which := strings.Join(withdrawn, ", ")
		if n > 60 {
			which = strings.Join(withdrawn[:60], ", ") + " and more"
		}
		gone = fmt.Sprintf("%d: %s. They are not in this report; the record keeps them, with the reasons.", n, which)
	}
	fixed := "none"
	if corrected > 0 {
		fixed = fmt.Sprintf("%d. This report shows what counts now; the record keeps what stood before.", corrected)
	}
	list := []fact{
		say(
			"Journal",
			string(m.c.ID),
		), say("Entries", fmt.Sprint(m.c.LastSeq)), say("Last entry", m.k.moment(m.c.Updated)),
		say("Corrected entries", fixed), say("Withdrawn entries", gone),
	}
	if unknown > 0 {
		list = append(
			list,
			say(
				"Not readable here",
				plural(
					unknown,
					"entry",
					"entries",
				)+" of a kind that this program does not know or cannot read; they are kept in the record and not "+
					"in this report.",
			),
		)
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
		b := x.Body
		what := record.WordsOf(record.PaperSorts, b.Sort)
		if b.Version > 0 {
			what += fmt.Sprintf(" %d", b.Version)
		}
		list = append(list, say("Issued", joined(", ", what, "to "+b.To, b.Way, m.k.day(or(b.At, x.Time)))))
	}
	m.facts(list...)
	m.para(
		span{
			"The seal is the SHA-256 of the journal’s last entry, which holds that of the entry before it, and so " +
				"on to the first: a change to any entry changes the seal.",
			bodyMuted,
		},
	)
}
