package papers

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/photo"
)

// ComparedPictures and ComparedPlace are what account says of a comparison.
type (
	ComparedPictures = account.ComparedPictures
	ComparedPlace    = account.ComparedPlace
)

// Comparisons hands out the pictures of a comparison that was recorded. An
// error's text stands in the paper in their place.
type Comparisons interface {
	Comparison(*record.Stamped[record.FaceCompared]) (*ComparedPictures, error)
}

// facesCompared shows what photographs of a face, laid on each other, tell.
func (m *maker) facesCompared() {
	if len(m.c.Compared) == 0 {
		return
	}
	m.sub("Before and after, laid on each other")
	m.lead(
		span{
			"The photograph after treatment is laid on the one before, so that both are seen in the same scale, and " +
				"the colour is compared place by place. ΔE00 counts the difference of two colours: 1 is just seen " +
				"by a careful eye where the two touch, 5 is plain to anyone (common practice, no source). What " +
				"the numbers rest on stands in the annex.",
			body,
		},
	)
	for _, x := range m.compared() {
		m.faceCompared(x)
	}
}

// compared lists the comparisons by sheet, outer face first, as a person turns them.
func (m *maker) compared() []*record.Stamped[record.FaceCompared] {
	var list []*record.Stamped[record.FaceCompared]
	for i := range m.c.Compared {
		list = append(list, &m.c.Compared[i])
	}
	side := func(x *record.Stamped[record.FaceCompared]) int {
		face := string(x.Body.Place.Face)
		return slices.IndexFunc(record.Faces, func(f record.Choice) bool { return f.Value == face })
	}
	slices.SortStableFunc(list, func(a, b *record.Stamped[record.FaceCompared]) int {
		return cmp.Or(slices.Compare(a.Body.Place.Sheets, b.Body.Place.Sheets), cmp.Compare(side(a), side(b)))
	})
	return list
}

func (m *maker) faceCompared(x *record.Stamped[record.FaceCompared]) {
	b := &x.Body
	before, after := m.c.PhotoByHash(b.Before), m.c.PhotoByHash(b.After)
	if before == nil || after == nil {
		return // the fold has told it among the problems
	}
	begins := len(m.items)
	m.add(
		paragraph{t: m.t, spans: []span{{upper(b.Place.String()), sub}}, tag: "H4", mark: upper(b.Place.String())},
		12, 4, true,
	)
	areas := m.areasOn(x)
	words := m.comparedWords(x)
	pics, err := m.comparedPictures(x)
	figure := -1
	if err != nil {
		m.add(pictures{m.t, []picture{m.photo(*before), m.photo(*after)}, 250}, 4, 6, false)
		m.wide(span{sentence("The pictures laid on each other and the map are not shown: " + err.Error()), fineMuted})
		for _, s := range words {
			m.para(span{s, body})
		}
	} else {
		f := m.comparedFigure(x, pics, *before, *after, areas)
		f.words = words
		figure = len(m.items)
		m.add(f, 4, 8, false)
		if pics.Note != "" {
			m.wide(span{pics.Note, fineMuted})
		}
	}
	m.warningsOf(x, pics)
	m.areaTable(areas)
	// A face stands on one page with what is said of it; its pictures are the part
	// that gives way.
	if figure >= 0 {
		f := m.items[figure].block.(comparedFigure)
		f.follow = m.heightOf(m.items[figure:]) - m.heightOf(m.items[figure:figure+1])
		m.items[figure].block = f
	}
	for i := range m.items[begins : len(m.items)-1] {
		m.items[begins+i].keep = true
	}
}

// heightOf is the height of items set below each other.
func (m *maker) heightOf(items []item) float64 {
	const all = 1e6
	high, gap := 0.0, 0.0
	for i, it := range items {
		_, used, _ := it.set(m.size.measure(), all, true)
		if i > 0 {
			high += max(gap, it.before)
		}
		high, gap = high+used, it.after
	}
	return high
}

func (m *maker) comparedPictures(x *record.Stamped[record.FaceCompared]) (*ComparedPictures, error) {
	if m.o.Compared == nil {
		return nil, fmt.Errorf("this paper was made without them")
	}
	return m.o.Compared.Comparison(x)
}

// comparedWords say for an owner what a comparison found.
func (m *maker) comparedWords(x *record.Stamped[record.FaceCompared]) []string {
	b := &x.Body
	list := []string{paperChanged(b), evened(b)}
	before, after := m.c.ColourAt(b.Before, x.Seq), m.c.ColourAt(b.After, x.Seq)
	switch {
	case before == nil || after == nil:
		list = append(
			list,
			"No chart sets the colour of both photographs, so a change of lamp or camera counts as a change of the "+
				"paper. What changed in one place and not in another is surer.",
		)
	case before.Body.Method == "chart" && after.Body.Method == "chart":
		list = append(
			list,
			fmt.Sprintf(
				"The colour of both photographs was set by a colour chart, within about %.1f ΔE00.",
				max(before.Body.ErrorDE00, after.Body.ErrorDE00),
			),
		)
	default:
		list = append(
			list,
			fmt.Sprintf(
				"The colour of the photographs was set by %s before and %s after, within about %.1f ΔE00.",
				setBy(&before.Body), setBy(&after.Body), max(before.Body.ErrorDE00, after.Body.ErrorDE00),
			),
		)
	}
	if len(b.Warnings) == 0 {
		list = append(list, "No lost print, no new tide line and no new stain was found.")
	}
	return list
}

func setBy(b *record.PhotoColour) string {
	switch b.Method {
	case "chart":
		return "a colour chart"
	case "grey-card":
		return "a grey card"
	}
	return "a paper taken for white"
}

// paperChanged says what became of the colour of the bare paper. One standard
// deviation is recorded; a change below twice that is none that was measured.
func paperChanged(b *record.FaceCompared) string {
	if b.PaperDE00 == nil || b.PaperDE00Uncertainty == nil {
		return "Hardly any bare paper is seen in both photographs, so the colour of the paper could not be compared."
	}
	value := account.DE00(*b.PaperDE00, *b.PaperDE00Uncertainty)
	if *b.PaperDE00 < 2**b.PaperDE00Uncertainty {
		return "No change of the bare paper was measured: " + value + " is within what two such photographs of " +
			"one sheet may differ by."
	}
	return fmt.Sprintf(
		"The bare paper is %s and %s than before: %s.",
		moreOrLess(b.PaperAfterLab[0]-b.PaperBeforeLab[0], "lighter", "darker"),
		moreOrLess(b.PaperAfterLab[2]-b.PaperBeforeLab[2], "yellower", "less yellow"), value,
	)
}

func moreOrLess(v float64, above, below string) string {
	if v < 0 {
		return fmt.Sprintf("%.1f %s", -v, below)
	}
	return fmt.Sprintf("%.1f %s", v, above)
}

func evened(b *record.FaceCompared) string {
	return fmt.Sprintf(
		"Apart from what changed evenly over the face, the paper and the light, half of it differs by less than "+
			"%.1f ΔE00. The map shows the places that changed for themselves.",
		b.DE00Trend,
	)
}

// greek writes ΔE00 as papers do.
func greek(s string) string {
	return strings.NewReplacer("dE00", "ΔE00", "dL*", "ΔL*", "db*", "Δb*").Replace(s)
}

// labelled is an outline with its letter, in pixels of the before photograph.
type labelled struct {
	label string
	rings [][]photo.Point
}

// comparedArea is an area with the letter that it has on the pictures of a face,
// empty where it is outlined on none of them.
type comparedArea struct {
	label string
	*record.Area
}

// areasOn lists the areas of a face that was compared: those outlined on its
// before photograph, or measured on the two.
func (m *maker) areasOn(x *record.Stamped[record.FaceCompared]) []comparedArea {
	var list []comparedArea
	n := 0
	for i := range m.c.Areas {
		a := &m.c.Areas[i]
		on := a.Body.Photo == x.Body.Before
		if !on &&
			(a.Compared == nil || a.Compared.Body.Before != x.Body.Before || a.Compared.Body.After != x.Body.After) {
			continue
		}
		area := comparedArea{Area: a}
		if on {
			area.label = letter(n)
			n++
		}
		list = append(list, area)
	}
	return list
}

// letter counts A, B … Z, AA, AB …
func letter(n int) string {
	s := ""
	for n++; n > 0; n = (n - 1) / 26 {
		s = string(rune('A'+(n-1)%26)) + s
	}
	return s
}

// comparedFigure makes the figure of a face.
func (m *maker) comparedFigure(
	x *record.Stamped[record.FaceCompared],
	p *ComparedPictures,
	before, after record.Stamped[record.Photo],
	areas []comparedArea,
) comparedFigure {
	m.shown[before.Seq], m.shown[after.Seq] = true, true
	face := x.Body.Place.String()
	f := comparedFigure{t: m.t, legend: &p.Legend, frame: p.Frame}
	for _, a := range areas {
		if a.label != "" {
			f.areas = append(f.areas, labelled{a.label, points(a.Body.OutlinePx)})
		}
	}
	for _, w := range countedWarnings(x.Body.Warnings, p.Places) {
		for i, outline := range w.outlines {
			f.places = append(f.places, labelled{fmt.Sprint(w.first + i), [][]photo.Point{outline}})
		}
	}
	named := ""
	if len(f.areas) > 0 {
		named = ", with the areas that were measured"
	}
	change := greek(p.Legend.Title)
	f.panels = [3]panel{
		m.panel(p.Before, readJPEG, "Before: ", m.photoWords(before), "Photograph of "+face+" before treatment"+named),
		m.panel(
			p.After, readJPEG, "After, laid on before: ", m.photoWords(after),
			"Photograph of "+face+" after treatment, laid on the one before"+named,
		),
		m.panel(
			p.Map,
			readPNG,
			"Map of the change: ",
			fmt.Sprintf(
				"%s; 0 is %s, the other end %s; grey was not compared. Colours: %s.", change, p.Legend.LowSays,
				p.Legend.HighSays, p.Legend.Source,
			),
			fmt.Sprintf(
				"Map of the change of %s: %s, from %s at the dark end, 0, to %s at the light end, %s and more. "+
					"Median %.1f.",
				face,
				change,
				p.Legend.LowSays,
				p.Legend.HighSays,
				number(p.Legend.High),
				x.Body.DE00Trend,
			),
		),
	}
	return f
}

// photoWords says which photograph it is.
func (m *maker) photoWords(p record.Stamped[record.Photo]) string {
	taken := ""
	if !p.Body.Taken.IsZero() {
		taken = m.k.Day(p.Body.Taken)
	}
	return joined(
		" · ", sentence(joined("; ", record.WordsOf(record.Lights, p.Body.Light), p.Body.Caption)), taken, p.By,
		p.Body.FileName, p.Body.Hash.Short(), prefixed("credit: ", p.Body.Credit),
	)
}

func points(rings []record.Ring) [][]photo.Point {
	out := make([][]photo.Point, len(rings))
	for i, r := range rings {
		for _, q := range r {
			out[i] = append(out[i], photo.Point{X: q[0], Y: q[1]})
		}
	}
	return out
}

// countedWarning is a warning that was recorded once or oftener, with the places
// that it points to, numbered from first.
type countedWarning struct {
	say      string
	first    int
	outlines [][]photo.Point
}

// countedWarnings gathers what is said several times, and finds the places.
func countedWarnings(warnings []string, places []ComparedPlace) []countedWarning {
	var list []countedWarning
	n := 1
	for _, say := range warnings {
		if slices.ContainsFunc(list, func(w countedWarning) bool { return w.say == say }) {
			continue
		}
		w := countedWarning{say: say, first: n}
		for _, p := range places {
			if p.Say == say && len(p.Outline) > 2 {
				w.outlines = append(w.outlines, p.Outline)
			}
		}
		n += len(w.outlines)
		list = append(list, w)
	}
	return list
}

// warningsOf sets what should be looked at before the numbers are trusted.
func (m *maker) warningsOf(x *record.Stamped[record.FaceCompared], p *ComparedPictures) {
	var places []ComparedPlace
	if p != nil {
		places = p.Places
	}
	var texts []string
	for _, w := range countedWarnings(x.Body.Warnings, places) {
		var numbers []string
		for i := range w.outlines {
			numbers = append(numbers, fmt.Sprint(w.first+i))
		}
		where := sentence(prefixed("outlined on the map as ", list(numbers)))
		texts = append(texts, joined(" ", greek(w.say), where))
	}
	if len(texts) > 0 {
		m.caution("To be looked at with these pictures", texts...)
	}
}

// areaTable lists areas with their numbers.
func (m *maker) areaTable(areas []comparedArea) {
	first := "Place"
	if slices.ContainsFunc(areas, func(a comparedArea) bool { return a.label != "" }) {
		first = "Area"
	}
	g := grid(first + "|Looks like|Outline|>Size|>Against paper round it, ΔE00|>Changed by|By")
	for _, a := range areas {
		at := any(a.Body.Place.String())
		if first == "Area" {
			at = strong(a.label)
		}
		x := account.AreaNumbers(a.Area)
		g.row(at, joined(", ", record.Words(a.Body.Look), a.Body.Name), record.Words(a.Body.FoundBy), x.Size, x.Around,
			x.Change, a.By)
	}
	m.grid("", g)
}

// areasElsewhere lists the areas on photographs of faces that were not compared,
// and says what the columns of all such tables mean.
func (m *maker) areasElsewhere() {
	if len(m.c.Areas) == 0 {
		return
	}
	var left []comparedArea
	for i := range m.c.Areas {
		a := comparedArea{Area: &m.c.Areas[i]}
		if !slices.ContainsFunc(m.c.Compared, func(x record.Stamped[record.FaceCompared]) bool {
			return slices.ContainsFunc(m.areasOn(&x), func(b comparedArea) bool { return b.Area == a.Area })
		}) {
			left = append(left, a)
		}
	}
	if len(left) > 0 {
		m.sub("Areas outlined on photographs")
		m.areaTable(left)
	}
	m.sayUncertainty("ΔE00 is the CIEDE2000 colour difference. The change of an area is with the slow trend of the " +
		"light taken out. The name says what an area looks like, not what it is from.")
}

// comparisonsAnnex sets what the numbers of each comparison rest on.
func (m *maker) comparisonsAnnex() {
	if len(m.c.Compared) == 0 && len(m.c.Colours) == 0 {
		return
	}
	m.annex("Photographs: colour and comparison")
	m.colours()
	for _, x := range m.compared() {
		m.comparedFacts(x)
	}
}

func (m *maker) comparedFacts(x *record.Stamped[record.FaceCompared]) {
	b := &x.Body
	left := quantity(b.ResidualPx, "px")
	if b.ResidualMm != nil {
		left += ", or " + quantity(*b.ResidualMm, "mm")
	}
	paper := "hardly any bare paper is seen in both"
	if b.PaperDE00 != nil && b.PaperDE00Uncertainty != nil {
		paper = account.DE00(*b.PaperDE00, *b.PaperDE00Uncertainty) + "; from L* a* b* " + lab(b.PaperBeforeLab) +
			" to " + lab(b.PaperAfterLab) + " (CIELAB under D50)"
	}
	m.sub("Compared: " + b.Place.String())
	m.facts(
		say("Photographs", "before "+m.which(b.Before)+"; after "+m.which(b.After)),
		say("Alignment", "aligned; residual misalignment "+left+" (median)"),
		say(
			"Compared",
			quantity(b.ComparedPercent, "%")+" of the face, seen in both photographs and overexposed in neither",
		),
		say("Bare paper", paper),
		say(
			"Whole face",
			fmt.Sprintf(
				"median %.1f ΔE00 as photographed; %.1f ΔE00 with the slow trend of the light taken out, and with "+
					"it what the treatment did to all of the paper alike",
				b.DE00,
				b.DE00Trend,
			),
		),
		say("Colour", b.Colour),
		say("Warnings", greek(strings.Join(slices.Compact(slices.Clone(b.Warnings)), "\n"))),
		say("Recorded", joined(", ", m.k.Moment(x.Time), m.person(x.By), "method "+b.Method)),
	)
}

func lab(v [3]float64) string {
	return strings.ReplaceAll(fmt.Sprintf("%.1f, %.1f, %.1f", v[0], v[1], v[2]), "-", "−")
}

// which names a photograph by its file and hash.
func (m *maker) which(h record.Hash) string {
	name := ""
	if p := m.c.PhotoByHash(h); p != nil {
		name = p.Body.FileName
	}
	return joined(" ", name, h.Short())
}

// colours says which photographs had their colour set, by what and how well, and
// what it means that others had not.
func (m *maker) colours() {
	var rows [][]cell
	set, plain := 0, 0
	for _, p := range m.c.Photos {
		x := m.c.ColourOf(p.Body.Hash)
		if x == nil {
			plain++
			continue
		}
		set++
		b := &x.Body
		by := joined(", ", upper(setBy(b)), prefixed("“", b.ChartName)+map[bool]string{true: "”"}[b.ChartName != ""])
		if b.Method == "grey-card" {
			by += ", L* " + number(b.Lightness)
		}
		from := ""
		if !b.From.IsZero() {
			from = "read in photograph " + b.From.Short() + ", of the same light and settings"
		}
		patches := ""
		if b.Method == "chart" {
			patches = fmt.Sprintf("%d of %d patches", b.Used, b.Used+b.LeftOut)
		}
		basis := "rule of thumb"
		if b.Method == "chart" {
			basis = "each patch left out of the fit in turn"
		}
		rows = append(rows, []cell{
			txt(
				joined(
					", ", upper(account.StageWords(m.c, &p)), p.Body.Place.String(),
				) + "\n" + joined(" ", p.Body.FileName, p.Body.Hash.Short()),
			),
			txt(joined("\n", by, from, prefixed("values: ", b.ChartSource))), txt(joined("\n", b.Fit, patches)),
			txt(
				fmt.Sprintf("%.1f, 95 %% within %.1f\n%s", b.ErrorDE00, b.ErrorHighDE00, basis),
			), txt(joined(", ", m.k.ShortDay(x.Time), x.By)),
		})
	}
	m.sub("Colour of the photographs")
	if len(rows) > 0 {
		m.table(
			[]column{
				{head: "Photograph"},
				{head: "Colour set by"},
				{head: "Fit"},
				{head: "Error, ΔE00 (median)"},
				{head: "When, by"},
			},
			rows,
		)
	}
	switch {
	case set == 0:
		m.para(span{"No photograph of this case had its colour set by a chart or a grey card. " + uncorrected, body})
	case plain > 0:
		m.para(
			span{
				upper(
					plural(plain, "photograph is", "photographs are"),
				) + " shown as the camera wrote " + map[bool]string{true: "it", false: "them"}[plain == 1] + ". " + uncorrected,
				body,
			},
		)
	}
}

// uncorrected is what to think of photographs as cameras make them; the two
// ΔE00 are the program's own estimate, see docs/photographs.md.
const uncorrected = "Where neither a chart nor a grey card sets the colour, lamp, exposure and white balance are " +
	"part of it: a colour read in such a photograph is taken to be uncertain by 2 ΔE00, one standard deviation, by " +
	"our own estimate, and a change of the whole paper seen in two of them is no proof of one. Differences " +
	"within one photograph, and places that changed against their surroundings, suffer little."

// roundedTo keeps a position on the page to a hundredth of a point.
func roundedTo(v float64) float64 { return math.Round(v*100) / 100 }
