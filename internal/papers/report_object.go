package papers

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func (m *maker) makeUp() {
	m.section("Make-up")
	if m.c.MakeUp == nil {
		m.none("The make-up is not recorded.")
	} else {
		m.nestOfSheets(&m.c.MakeUp.Body)
	}
	m.collations()
	m.stocks()
	m.staples()
}

func (m *maker) nestOfSheets(b *record.MakeUp) {
	var printed, inserts []string
	for _, p := range b.Printed {
		what := "carries the number " + p.Printed
		if p.Printed == "" {
			what = "carries no number"
		}
		printed = append(printed, fmt.Sprintf("position %d %s", p.Position, what))
	}
	for _, i := range b.Inserts {
		leaves := ""
		if i.Leaves > 0 {
			leaves = plural(i.Leaves, "leaf", "leaves")
		}
		inserts = append(inserts, joined(", ", i.What, leaves, fmt.Sprintf("after page position %d", i.AfterPage)))
	}
	m.facts(
		say("Sheets", fmt.Sprintf("%s of %d pages; %s", account.SheetsAre(b), b.Science().Pages(), record.Words(b.Cover))),
		say("Binding", record.Words(b.Binding)), say("Fore-edges", record.Words(b.Trim)),
		say("Page numbers", sentence(list(printed))), say("Inserts", sentence(list(inserts))), say("Note", b.Note),
	)
	m.facts(accounted(account.Creep(m.c))...)
	m.add(m.nest(m.c), 8, 2, true)
	key := account.NestKey(m.c, account.Nest(m.c, m.nestLayout(9.4)))
	m.add(paragraph{t: m.t, spans: []span{{key, caption}}, tag: "Caption", indent: axis}, 2, 8, false)
	g := grid("Sheet|State|What that rests on|By")
	for _, n := range m.c.Sheets() {
		if r := account.SheetRemark(m.c, n); r != "" {
			s := m.c.SheetStates[n]
			g.row(upper(record.SheetName(n)), r, s.Body.Basis, s.By)
		}
	}
	m.grid("Sheets with remarks", g)
}

func (m *maker) collations() {
	g := grid("Stage|When|>Sheets counted|Order|>Creep|Findings|By")
	for _, x := range m.c.Collations {
		b := x.Body
		order := map[bool]string{true: "in order", false: "not in order"}[b.InOrder]
		g.row(record.Words(b.When), m.k.ShortMoment(or(b.At, x.Time)), fmt.Sprint(b.SheetsCounted), order,
			maybe(b.CreepMm, "mm"), strings.Join(account.CollationSays(m.c, &b), " "), x.By)
	}
	m.grid("Counted and compared", g)
	g = grid("When|Put together again, and looked at|>Creep|By")
	for _, x := range m.c.Reassembled {
		g.row(m.k.ShortMoment(or(x.Body.At, x.Time)), sentence(account.Said(m.c, x.Body)), maybe(x.Body.CreepMm, "mm"), x.By)
	}
	m.grid("Whole again", g)
}

// placed lists what was done where, and where readings are made again.
func (m *maker) placed() {
	g := grid("No.|What was done|Where|With|Can it be undone|By")
	for i, x := range account.PlacedWork(m.c) {
		g.row(fmt.Sprint(i+1), joined("; ", x.What, prefixed("for ", x.For)), x.Where, x.With, x.Undo, x.By)
	}
	m.grid("What was done, where", g)
	g = grid("No.|Where|>Spot|How it is found again|>Readings")
	for _, x := range account.MarkedPositions(m.c) {
		g.row(fmt.Sprint(x.No), x.Where, maybe(x.Body.AcrossMm, "mm"), x.Body.Note, fmt.Sprint(len(x.Readings)))
	}
	m.grid("Reading positions, to be read again in later years", g)
}

func (m *maker) stocks() {
	g := grid("Paper|Sheets|Opened size|Grammage|Further")
	for _, x := range m.c.Stocks {
		b := x.Body
		g.row(joined(": ", b.Name, record.Words(b.Class)), record.SheetNames(b.Sheets),
			number(b.WidthMm)+" × "+quantity(b.HeightMm, "mm"),
			quantity(b.GrammageGM2, "g/m²")+", "+record.Words(b.GrammageBasis),
			joined("; ", prefixed("thickness ", maybe(b.ThicknessUm, "µm")), "grain "+record.Words(b.Grain),
				prefixed("takes up ", rangeText(b.PickUpGG, "g/g")),
				prefixed("acid ", rangeText(b.AcidMmolKg, "mmol/kg")), b.Note))
	}
	m.grid("Papers", g)
}

func (m *maker) staples() {
	if len(m.c.Staples) == 0 {
		if m.c.MakeUp != nil && m.c.MakeUp.Body.Binding == "saddle" {
			m.none("No staple was mapped.")
		}
		return
	}
	m.sub("Staples, mapped before any was moved")
	m.add(figureOf(m.t, account.StapleMap(m.c, m.size.measure()-axis), account.StapleMapAlt(m.c)), 4, 6, true)
	g := grid("No.|>From head|Form|Rust|Note|What became of it")
	for _, s := range m.c.Staples {
		b := s.Body
		var moves []string
		for _, mv := range s.Moves {
			moves = append(moves, joined(", ", record.Words(mv.Body.Act)+" "+m.k.ShortDay(or(mv.Body.At, mv.Time)),
				mv.Body.How, mv.By))
		}
		if len(moves) == 0 {
			moves = []string{"not moved"}
		}
		form := joined(", ", prefixed("crown ", maybe(b.CrownMm, "mm")), prefixed("wire ", maybe(b.WireMm, "mm")),
			prefixed("legs ", maybe(b.LegMm, "mm")), record.Words(b.Clinch))
		g.row(fmt.Sprint(b.Number), quantity(b.FromHeadMm, "mm"), form, record.Words(b.Rust), b.Note,
			strings.Join(moves, "\n"))
	}
	m.grid("", g)
	m.staplePictures()
}

// staplePictures shows photographs of staples that are not in the list of
// photographs anyway.
func (m *maker) staplePictures() {
	var row []picture
	for _, s := range m.c.Staples {
		h := s.Body.Photo
		if h.IsZero() || m.c.PhotoByHash(h) != nil {
			continue
		}
		words := fmt.Sprintf("Staple %d", s.Body.Number)
		by := span{"\n" + s.By + " · " + h.Short(), captionFine}
		row = append(row, picture{m.album.get(h), []span{{words, captionBold}, by}, words})
	}
	for two := range slices.Chunk(row, 2) {
		m.add(pictures{m.t, two, 150}, 4, 10, false)
	}
}

func (m *maker) condition() {
	m.section("Condition before treatment")
	g := grid("No.|Kind|Place|Extent|Severity|Cause|Active|Note, by")
	for _, d := range account.DamagesEver(m.c) {
		if d.Withdrawn != nil { // its number is given to nothing else
			g.row(fmt.Sprint(d.No), "withdrawn: "+d.Name, "", "", "", "", "", d.Remark)
			continue
		}
		g.row(fmt.Sprint(d.No), strong(d.Name), d.Place, d.Extent, d.Severity, d.Cause, d.Active,
			joined("; ", d.Body.Note, d.Looked, d.By))
	}
	m.gridOr(g, "No damage is recorded.")
	m.faceMaps()
	m.totals()
	m.mendsTaken()
	m.notes("observed", "Observed")
	m.notes("inferred", "Inferred")
	m.notes("note", "Notes")
}

// totals adds up over the whole object what there is to mend.
func (m *maker) totals() {
	if list := account.DamageTotals(m.c); len(list) > 0 {
		m.sub("Over the whole object")
		m.facts(accounted(list)...)
	}
}

// accounted are facts as a paper sets them.
func accounted(list []account.Fact) []fact {
	out := make([]fact, len(list))
	for i, f := range list {
		out[i] = say(f.Name, joined("; ", f.Value(en), f.RestsOn))
	}
	return out
}

// notes lists the notes of one nature that belong to no run.
func (m *maker) notes(nature record.Nature, name string) {
	g := grid("Noted|Place|Words|By")
	for _, x := range m.c.Notes {
		b := x.Body
		if b.Nature != nature || b.Run != "" {
			continue
		}
		text := b.Text
		if nature == "owner" {
			text = quoted(text)
		}
		g.row(m.k.ShortMoment(x.Time), b.Place.String(), joined("\n", text, prefixed("Rests on: ", b.RestsOn)), x.By)
	}
	m.grid(name, g)
}

func (m *maker) tests() {
	m.section("Tests")
	g := grid("Test|Place|Liquid|Result|Read again|When, by")
	for i := range m.c.Tests {
		x := &m.c.Tests[i]
		b := x.Body
		how := joined(", ", record.Words(b.Liquid), b.Strength, prefixed("at ", maybe(b.TempC, "°C")),
			prefixed("for ", seconds(b.DwellS)))
		result := cell{{record.Words(b.Result), fineBold}}
		if b.Change != "" {
			result = append(result, span{"\n" + b.Change, fine})
		}
		again := []string{}
		for _, r := range x.Rereads {
			again = append(again, joined(", ", m.k.ShortDay(or(r.Body.At, r.Time)), record.Words(r.Body.Light),
				record.Words(r.Body.Result), r.Body.Change, r.By))
		}
		if len(again) == 0 {
			again = append(again, "not read again")
		}
		g.row(joined(": ", record.Words(b.Sort), b.Colour), b.Place.String(), how, result, strings.Join(again, "\n"),
			joined(", ", m.k.ShortDay(or(b.At, x.Time)), x.By, prefixed("sample agreed by ", b.Consent)))
	}
	m.gridOr(g, "No test is recorded.")
	if list := account.Unread(m.c); len(list) > 0 {
		m.para(span{"Never read again, as the spot dried: " + strings.Join(list, "; ") + ".", body})
	}
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
