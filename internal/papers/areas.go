package papers

import (
	"fmt"

	"benchleaf/internal/record"
)

// facesCompared sets what two photographs of a face, laid one on the other,
// showed to have changed, and the areas that were outlined on them.
func (m *maker) facesCompared() {
	if len(m.c.Compared) > 0 {
		var rows [][]cell
		for _, x := range m.c.Compared {
			b := x.Body
			paper := "hardly any bare paper"
			if b.PaperDE00 != nil && b.PaperDE00Uncertainty != nil {
				paper = twoFigures(*b.PaperDE00) + nbsp + "±" + nbsp + twoFigures(*b.PaperDE00Uncertainty)
			}
			left := number(b.ResidualPx) + " px"
			if b.ResidualMm != nil {
				left += ", " + number(*b.ResidualMm) + " mm"
			}
			rows = append(rows, []cell{txt(b.Place.String()), txt(paper), txt(number(b.DE00Trend)), txt(number(b.DE00)), txt(left), txt(number(b.ComparedPercent) + nbsp + "%"), txt(b.Colour)})
		}
		m.sub("Pictures compared")
		m.table([]column{{head: "Face"}, {head: "Paper changed by, ΔE00", align: right}, {head: "Median ΔE00, light evened", align: right}, {head: "as photographed", align: right}, {head: "Left between the pictures", align: right}, {head: "Compared", align: right}, {head: "Colour"}}, rows)
		for _, x := range m.c.Compared {
			for _, w := range x.Body.Warnings {
				m.wide(span{upper(x.Body.Place.String()) + ": " + w, fineMuted})
			}
		}
	}
	if len(m.c.Areas) == 0 {
		return
	}
	var rows [][]cell
	for _, a := range m.c.Areas {
		size := ""
		switch {
		case a.Body.AreaMm2 != nil && a.Body.AreaUncertaintyMm2 != nil:
			size = twoFiguresOf(*a.Body.AreaMm2, *a.Body.AreaUncertaintyMm2) + " mm²"
		case a.Body.FacePercent != nil:
			size = number(*a.Body.FacePercent) + nbsp + "% of the face"
		}
		around, change := "", "not measured"
		if a.Body.StandsOutDE00 != nil {
			around = number(*a.Body.StandsOutDE00)
		}
		if x := a.Compared; x != nil {
			change = fmt.Sprintf("%.1f%s±%s%.1f", x.Body.DE00Trend, nbsp, nbsp, x.Body.DE00Uncertainty)
			if x.Body.StoodOutDE00 != nil && x.Body.StandsOutDE00 != nil {
				around = fmt.Sprintf("%.1f to %.1f", *x.Body.StoodOutDE00, *x.Body.StandsOutDE00)
			}
		}
		rows = append(rows, []cell{txt(joined(", ", record.WordsOf(record.AreaLooks, a.Body.Look), a.Body.Name)), txt(a.Body.Place.String()), txt(record.WordsOf(record.AreaSources, a.Body.FoundBy)), txt(size), txt(around), txt(change), txt(a.By)})
	}
	m.sub("Areas outlined on photographs")
	m.table([]column{{head: "Looks like"}, {head: "Place"}, {head: "Found"}, {head: "Size", align: right}, {head: "Against paper round it, ΔE00", align: right}, {head: "Changed by, ΔE00", align: right}, {head: "By"}}, rows)
	m.wide(span{"ΔE00 is the CIEDE2000 colour difference; changes are with the slow trend of the light taken out. A value after ± is one standard deviation. The name says what an area looks like, not what it is from.", fineMuted})
}

// twoFiguresOf writes a value and its uncertainty.
func twoFiguresOf(v, u float64) string {
	return fmt.Sprintf("%.0f%s±%s%s", v, nbsp, nbsp, twoFigures(u))
}
