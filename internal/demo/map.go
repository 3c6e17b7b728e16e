package demo

import (
	"math"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

// shapes are what is drawn on a face as a hand would draw them, in mm.
func shapes(text string) []condition.Shape { return must(condition.ParseShapes(text)) }

// circle is what a hand draws round a round thing.
func circle(xMm, yMm, rMm float64) []condition.Shape {
	s := condition.Shape{Form: condition.Outline}
	for i := range 24 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 24)
		s.Points = append(s.Points, condition.Point{
			XMm: math.Round(10*(xMm+rMm*cos)) / 10, YMm: math.Round(10*(yMm+rMm*sin)) / 10,
		})
	}
	return []condition.Shape{s}
}

// laid lays a drawn picture of an opened sheet on its face.
func (f *filler) laid(p picture, on record.Photo) {
	b := record.PhotoLaid{Photo: on.Hash, Place: on.Place, By: record.LaidByHand}
	for i, mm := range [4][2]float64{{0, 0}, {340, 0}, {340, 262}, {0, 262}} {
		b.CornersPx[i] = p.onPicture(mm[0], mm[1])
	}
	f.add(b)
}

// windlassDamages are drawn where the drawn pictures show them, and on faces that
// have no picture.
func (f *filler) windlassDamages(tear string) {
	outer := func(sheets ...int) record.Place { return record.Place{Sheets: sheets, Face: record.FaceOuter} }
	inner := func(sheets ...int) record.Place { return record.Place{Sheets: sheets, Face: record.FaceInner} }
	said := func(p record.Place, words string) record.Place { p.Words = words; return p }
	f.add(
		record.Damage{
			ID: tear, Term: "tear", Place: said(outer(2, 3, 4), "through a line of print"), Through: true,
			Shapes:   shapes("line 340,179.7 331,178.8 320,176.9 309,180 298,180.8 284,183.5 276,181 256,181.5"),
			LengthMm: num(84), Severity: "moderate",
			Cause: "handling", CauseIs: "inferred", Active: "no", Found: record.FoundOnArrival, SeenIn: record.LightNormal,
			Note: "bevelled",
		},
		record.Damage{
			ID: f.newID(), Term: "tideline", Place: outer(sheets(1, 6)...), Through: true,
			Shapes: shapes("strip 4 0,174.7 27.6,180.8 41.4,185.5 55.2,185.7 69,184.3 82.8,180.8 93.8,178 104.9,177.5 " +
				"121.4,179.4 138,185.5 154.5,185.5 165.6,186.3 179.4,193.2 198.7,200 220.8,203.7 240,208.4 259.4,208.4 270.5,207 " +
				"287,193.2 303.6,187.7 320,189 340,196.5"),
			Severity: "severe", Cause: "roof leak", CauseIs: "inferred", Active: "no", Found: record.FoundOnArrival,
			SeenIn: record.LightNormal, Note: "weaker from sheet 4 inwards",
		},
		record.Damage{
			ID: f.newID(), Term: "foxing", Place: inner(0), Count: count(35),
			Shapes: shapes("outline 22,20 150,14 160,120 120,240 40,248 16,140; " +
				"outline 196,30 300,24 322,150 280,236 210,220"),
			Severity: "slight", CauseIs: "unknown", Active: "unknown", Found: record.FoundExamining,
		},
		record.Damage{
			ID: f.newID(), Term: "pressure-sensitive tape", Place: inner(9), Shapes: shapes("strip 18 170,70 170,180"),
			Severity: "moderate", Cause: "earlier repair", CauseIs: "observed", Active: "no", Found: record.FoundExamining,
		},
		record.Damage{
			ID: f.newID(), Term: "rust migration", Place: said(outer(0, 1, 2), "round the lower staple"), Through: true,
			Shapes: circle(170, 198, 5), Severity: "moderate", Cause: "staple", CauseIs: "observed", Active: "unknown",
			Found: record.FoundExamining,
		},
		record.Damage{
			ID: f.newID(), Term: "loss", Place: outer(1), Through: true,
			Shapes:   shapes("outline 0,238 9,247 17,254 24,262 0,262"),
			Severity: "moderate", CauseIs: "unknown", Active: "no", Found: record.FoundOnArrival,
		},
		record.Damage{
			ID: f.newID(), Term: "inscription", Place: said(outer(0), "pencil"), Shapes: shapes("box 306,10 332,20"),
			Severity: "slight", Cause: "seller's price", CauseIs: "inferred", Active: "no", Found: record.FoundOnArrival,
			Note: "to be kept: owner's wish",
		},
		record.Damage{ // opened at the examination, not yet judged
			ID: f.newID(), Term: "spine split", Place: outer(3), Through: true, Shapes: shapes("line 170,262 170,226"),
			Found: record.FoundExamining,
		},
	)
}
