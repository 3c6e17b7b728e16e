package papers

import (
	"context"
	"fmt"
	"slices"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (m *maker) results() {
	m.section("Results")
	begins := len(m.items)
	if _, option := m.c.Consented(); option != nil && option.Expect != "" {
		m.sub("Expected, as the agreed option said before the work")
		m.para(span{option.Expect, body})
	}
	m.damagesAfter()
	m.comparedReadings()
	m.leftInPaper()
	m.facesCompared()
	m.areasElsewhere()
	m.pairs()
	if len(m.items) == begins {
		m.none("No result is recorded.")
	}
}

func (m *maker) damagesAfter() {
	g := grid("No.|Kind|Place|After treatment|Remark, by")
	judged := false
	for _, d := range account.Damages(m.c) {
		judged = judged || d.After != nil
		g.row(fmt.Sprint(d.No), d.Name, d.Place, d.Now, d.Remark)
	}
	if len(g.rows) > 0 && !judged {
		m.none("No damage has been judged after treatment.")
		return
	}
	m.grid("Each damage after treatment", g)
}

// comparedReadings sets what was measured before beside what was measured
// after.
func (m *maker) comparedReadings() {
	g := grid("Quantity|Place|>Before|>After|>Difference|Method, remarks")
	for _, x := range account.CompareReadings(m.c, m.st) {
		g.row(x.Name, x.Where, x.BeforeText(), x.AfterText(), x.Change,
			joined("\n", append([]string{x.Method}, account.Texts(x.Remarks)...)...))
	}
	if len(g.rows) > 0 {
		m.grid("Before and after, by numbers", g)
		m.sayUncertainty("")
	} else if len(m.c.Runs) > 0 {
		m.none("No reading of the object is recorded.")
	}
}

// leftInPaper sets what the baths left in the paper: computed, measured or
// neither.
func (m *maker) leftInPaper() {
	for i, x := range account.InPaper(context.Background(), m.c) {
		if i == 0 {
			m.sub("Left in the paper by its baths")
		}
		var list []fact
		for _, f := range x.Facts {
			list = append(list, fact{f.Name, []span{
				{joined(" ", f.Value(en), x.BasisWords(f)), body},
				{prefixed("\n", joined(" ", f.RestsOn, f.Limit)), fineMuted},
			}})
		}
		m.para(span{x.Name, body})
		m.facts(list...)
	}
}

func (m *maker) allReadings() {
	if len(m.c.Readings) == 0 {
		return
	}
	list := slices.Clone(m.c.Readings)
	slices.SortStableFunc(list, func(a, b record.Stamped[record.Reading]) int {
		return or(a.Body.At, a.Time).Compare(or(b.Body.At, b.Time))
	})
	g := grid("When|Stage|Quantity|Place|>Value|Method, instrument|By")
	for _, x := range list {
		b := x.Body
		where := b.Place.String()
		if r := m.c.Run(b.Run); r != nil {
			where = joined("; ", r.Body.OperationName, named(b.Place))
		}
		around := joined(", ", maybe(b.TempC, "°C"), prefixed("RH ", maybe(b.HumidityPct, "%")))
		how := joined("; ", b.Method, account.NameOf(m.st, b.Instrument), prefixed("checked: ", b.Checked), around,
			b.Note)
		g.row(m.k.ShortMoment(or(b.At, x.Time)), record.Words(b.Stage), account.QuantityName(b.Quantity), where,
			account.Value(&b), joined("\n", append([]string{how}, account.Texts(account.Remarks(m.st, &x))...)...),
			x.By)
	}
	m.annex("All readings")
	m.grid("", g)
	m.sayUncertainty("")
}

// photo makes a picture of a photograph and remembers that it was shown.
func (m *maker) photo(p record.Stamped[record.Photo]) picture {
	m.shown[p.Seq] = true
	b := p.Body
	stage := account.StageWords(m.c, &p)
	during := ""
	if r := m.c.Run(b.Run); r != nil {
		during = r.Body.OperationName
	}
	rest := joined("; ", b.Place.String(), record.Words(b.Light), during, b.Caption)
	taken := ""
	if !b.Taken.IsZero() {
		taken = "camera’s time " + m.k.Moment(b.Taken)
	}
	tail := joined(" · ", p.By, taken, b.FileName, b.Hash.Short(), prefixed("credit: ", b.Credit))
	return picture{
		photograph: m.album.get(b.Hash),
		caption:    []span{{upper(stage) + ": ", captionBold}, {rest + ".", caption}, {"\n" + tail, captionFine}},
		alt:        "Photograph " + stage + ": " + rest,
	}
}

var (
	captionBold = &style{smallBold, 8.2, 10.8, ink}
	captionFine = &style{small, 7, 10.8, muted}
)

// pairs sets beside each other the photographs that account pairs, where they
// are not shown already.
func (m *maker) pairs() {
	named := false
	for _, x := range account.PhotoPairs(m.c) {
		if x.After == nil || m.shown[x.Before.Seq] && m.shown[x.After.Seq] || account.ForChart(m.c, *x.Before) {
			continue
		}
		if !named {
			named = true
			what := "by pictures"
			if len(m.c.Compared) > 0 {
				what = "not compared by numbers"
			}
			m.sub("Before and after, " + what)
		}
		m.add(pictures{m.t, []picture{m.photo(*x.Before), m.photo(*x.After)}, 285}, 6, 12, false)
	}
}

// gallery shows the photographs that stand nowhere else.
func (m *maker) gallery() {
	if len(m.c.Photos) == 0 {
		m.annex("Photographs")
		m.none("No photograph is recorded.")
		return
	}
	var row []picture
	for _, stage := range record.Stages {
		for _, p := range m.c.Photos {
			if string(account.StageOf(m.c, &p)) == stage.Value && !m.shown[p.Seq] {
				row = append(row, m.photo(p))
			}
		}
	}
	if len(row) > 0 {
		m.annex("Further photographs")
	}
	for two := range slices.Chunk(row, 2) {
		m.add(pictures{m.t, two, 240}, 6, 12, false)
	}
}

// advice is what an owner should know for keeping the object. Ranges are those
// of library and conservation guidance: Library of Congress on comic books for
// cool, about 35 % RH and dark; the mould limit is common practice; 50 lux is
// CIE 157, from memory.
func (m *maker) advice() {
	m.section("Advice for keeping it")
	sheets := account.Alkalised(m.c)
	lignin, tested := account.Lignin(m.c, sheets)
	switch {
	case len(sheets) > 0 && lignin != "":
		m.caution("Keep it dark",
			"The paper of "+record.SheetNames(sheets)+" was made alkaline, and "+lignin+". Alkali protects such paper "+
				"from its own acid, but in light it then yellows faster than before. Keep it in the dark; show it "+
				"only for short times, at no more than 50 lux and without ultraviolet.",
			"This warning is dated "+m.k.Day(m.o.Date)+" and should stay with the object.")
	case len(sheets) > 0 && tested:
		m.caution("Light", "The lignin test was negative. Light still fades and yellows old paper: no more than 50 "+
			"lux, no ultraviolet, short times.")
	case len(sheets) > 0:
		m.caution("Light", "A test for lignin is not recorded. Paper with lignin that was made alkaline yellows "+
			"faster in light: until it is tested, treat it as if it had lignin and keep it dark.")
	default:
		m.caution("Light", "Light yellows and embrittles old paper, most of all newsprint: keep it dark, show it for "+
			"short times, at no more than 50 lux and without ultraviolet.")
	}
	m.facts(
		say("Climate", "Cool, at room temperature or below, at about 35 % relative humidity (30 to 50 % is common in "+
			"libraries), and steady. Above 60 to 65 % mould can grow and staples rust. Not in an attic or cellar, not "+
			"near a heater."),
		say("Enclosure", "A stiff polyester sleeve or a lignin-free folder or board with a buffer, upright and snug "+
			"or lying flat in a box. No vinyl, no old sleeve, no acid board. Where print or colour shifts in alkali, "+
			"ask before buffered board is used next to it."),
		say("Handling", "Clean dry hands; not opened past 180 degrees; no clips, tape, bands or weights."),
		say("Look again", m.reinspect()),
	)
}

func (m *maker) reinspect() string {
	words := "Yearly: smell, rust at the staples, new tide lines or spots, mends that lift."
	if m.c.Closed != nil && !m.c.Closed.Body.Reinspect.IsZero() {
		return "Next on " + m.k.Day(m.c.Closed.Body.Reinspect) + ". " + words
	}
	return words + " No date for the next look is recorded."
}
