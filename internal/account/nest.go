package account

import (
	"fmt"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/makeup"
)

// fastenings are the bindings that a drawing shows.
var fastenings = map[record.Binding]makeup.Fastening{
	"saddle": makeup.ThroughFold, "side": makeup.ThroughSide, "glued": makeup.GluedAtSpine,
}

// Nest draws the sheets of a case as they lie in one another, in points; selected is
// the sheet that is looked at, -1 for none.
func Nest(c *record.Case, l makeup.Layout) makeup.Drawing {
	m := c.MakeUpFound()
	if m == nil {
		return makeup.Drawing{}
	}
	l.Fastening = fastenings[c.MakeUp.Body.Binding]
	return m.Draw(l)
}

// NestKey explains the signs that a drawing of the nest has.
func NestKey(c *record.Case, d makeup.Drawing) string {
	say := "The sheets in one another, seen from the head, front uppermost, with the pages of each leaf."
	if c.MakeUp != nil && c.MakeUp.Body.Build == record.BuildStack {
		say = "The leaves on one another, seen from the head, front uppermost, with their pages."
	}
	for _, sign := range []struct {
		pen  makeup.Pen
		says string
	}{
		{makeup.PenLoose, "Dashed: loose."}, {makeup.PenGone, "Dotted: missing."},
		{makeup.PenMarried, "Orange: from another copy."}, {makeup.PenInsert, "Dashed blue: an insert."},
		{makeup.PenStaple, "The red stroke is the fastening."}, {makeup.PenGlue, "The broad line is the glue."},
	} {
		if d.Uses(sign.pen) {
			say += " " + sign.says
		}
	}
	return say
}

// NestAlt says in words what a drawing of the nest shows.
func NestAlt(c *record.Case) string {
	if c.MakeUp == nil {
		return ""
	}
	b := &c.MakeUp.Body
	var s strings.Builder
	fmt.Fprintf(&s, "The sheets seen from the head: %s, %s.", record.Words(b.Cover), SheetsAre(b))
	for _, n := range c.Sheets() {
		if r := SheetRemark(c, n); r != "" {
			fmt.Fprintf(&s, " %s: %s.", en.Upper(record.SheetName(n)), r)
		}
	}
	return s.String()
}

// SpineMm is the height of the object along the spine: of the cover's paper, else of
// the first sheet's, else as the object was described; 0 where nothing is known.
func SpineMm(c *record.Case) float64 {
	for _, n := range []int{0, 1} {
		if s := c.StockOf(n); s != nil {
			return s.HeightMm
		}
	}
	if i := c.Identity; i != nil && i.HeightMm != nil {
		return *i.HeightMm
	}
	return 0
}

// StapleMap draws the spine from head to tail with its staples, in points.
func StapleMap(c *record.Case, width float64) makeup.Drawing {
	var list []makeup.SpineStaple
	for i := range c.Staples {
		s := &c.Staples[i]
		x := makeup.SpineStaple{
			Number: s.Body.Number, FromHeadMm: s.Body.FromHeadMm, Out: s.Out(),
			Rusty: s.Body.Rust != "none" && s.Body.Rust != "",
		}
		if s.Body.CrownMm != nil {
			x.CrownMm = *s.Body.CrownMm
		}
		list = append(list, x)
	}
	return makeup.DrawSpine(SpineMm(c), list, width, en.Number)
}

// StapleMapAlt says in words what the map of staples shows.
func StapleMapAlt(c *record.Case) string {
	var parts []string
	for i := range c.Staples {
		s := &c.Staples[i]
		where := "staple " + en.Number(float64(s.Body.Number)) +
			" at " + en.Quantity(s.Body.FromHeadMm, "mm") + " from the head"
		if s.Out() {
			where += ", out"
		}
		parts = append(parts, where)
	}
	return "The spine from head to tail with its staples: " + en.List(parts) + "."
}
