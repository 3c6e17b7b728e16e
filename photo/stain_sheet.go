package photo

import (
	"fmt"
	"slices"
)

// stainSheet is the sheet at the working size.
type stainSheet struct {
	face  mask    // paper and print, glare left out
	glare float64 // share of the sheet that is overexposed
	notes []string
}

// sheetFor finds the face in l, the picture m of working size, or takes it from
// corners.
func sheetFor(m *Image, l *linearImage, corners *Quad) stainSheet {
	s := stainSheet{face: faceOf(m, l, corners)}
	lost := newMask(l.w, l.h)
	n := 0
	for i := range lost.v {
		lost.v[i] = s.face.v[i] && l.pix[3*i] > 0.98 && l.pix[3*i+1] > 0.98
		if lost.v[i] {
			n++
		}
	}
	s.glare = float64(n) / float64(max(1, s.face.count()))
	if s.glare > 0.25 {
		s.notes = append(s.notes, fmt.Sprintf("%.0f %% of the sheet is overexposed; faint stains there are lost.", 100*s.glare))
		return s
	}
	lost = lost.grow(2)
	for i, b := range lost.v {
		s.face.v[i] = s.face.v[i] && !b
	}
	return s
}

// finish sorts the regions and adds up the face.
func (s *Stains) finish(m *Image, sheet stainSheet, scale pixelScale) {
	slices.SortStableFunc(s.Regions, func(a, b Region) int {
		switch {
		case a.AreaPx > b.AreaPx:
			return -1
		case a.AreaPx < b.AreaPx:
			return 1
		}
		return 0
	})
	s.FacePx = float64(sheet.face.count()) * scale.area()
	stained := 0.0
	for _, r := range s.Regions {
		stained += r.AreaPx
	}
	if s.FacePx > 0 {
		s.StainedFraction = min(1, stained/s.FacePx)
	}
	s.Notes = append(s.Notes, sheet.notes...)
}
