package photo

import (
	"fmt"
	"slices"
)

// stainSheet is the sheet at the working size.
type stainSheet struct {
	face  mask    // paper and print, glare and losses left out
	lost  []shape // where the ground is seen through it
	glare float64 // share of the sheet that is overexposed
	notes []string
}

// sheetFor finds the face in l, the picture m of working size, or takes it from
// corners.
func sheetFor(m *Image, l *linearImage, corners *Quad) stainSheet {
	var s stainSheet
	var whole Quad
	if corners != nil {
		s.face, whole = faceOf(m, l, corners), *corners
	} else {
		found := FindSheet(m)
		s.face, whole = found.faceIn(l.w, l.h), found.Corners
		if cutFolds(l, s.face) > 0 {
			s.notes = append(s.notes, "What lies beyond a fold near the edge was left out.")
		}
	}
	s.leaveOutLosses(l, whole.scaled(float64(l.w)/float64(m.W), float64(l.h)/float64(m.H)))
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
		s.notes = append(
			s.notes,
			fmt.Sprintf("%.0f %% of the sheet is overexposed; faint stains there are lost.", 100*s.glare),
		)
		return s
	}
	lost = lost.grow(2)
	for i, b := range lost.v {
		s.face.v[i] = s.face.v[i] && !b
	}
	return s
}

// leaveOutLosses takes the losses out of the face.
func (s *stainSheet) leaveOutLosses(l *linearImage, corners Quad) {
	s.lost = losses(l, corners)
	if len(s.lost) == 0 {
		return
	}
	gone := newMask(l.w, l.h)
	for _, loss := range s.lost {
		for _, i := range loss.pixels {
			gone.v[i] = true
		}
	}
	for i, g := range gone.grow(max(2, min(l.w, l.h)/200)).v {
		s.face.v[i] = s.face.v[i] && !g
	}
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
	stained, lost, holes := 0.0, 0.0, 0
	for _, r := range s.Regions {
		if r.Kind == Loss {
			lost += r.AreaPx
			holes++
			continue
		}
		stained += r.AreaPx
	}
	if holes > 0 {
		s.Notes = append(
			s.Notes,
			fmt.Sprintf(
				"The ground is seen where the sheet should be (holes or missing parts: %d, %.1f %% of the sheet); "+
					"this is not counted as stained.",
				holes,
				100*lost/(s.FacePx+lost),
			),
		)
	}
	if s.FacePx > 0 {
		s.StainedFraction = min(1, stained/s.FacePx)
	}
	s.Notes = append(s.Notes, sheet.notes...)
}
