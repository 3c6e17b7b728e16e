package photo

import (
	"fmt"
	"math"

	"benchleaf/colour"
)

// PaperReading is the colour of a sheet's bare paper in a picture.
type PaperReading struct {
	// Lab is the commonest colour of the paper.
	Lab colour.Lab
	// Spread is the half width, in L, a and b, within which the middle 68 % of
	// the bare paper lies: light falling unevenly, toning and grain together.
	Spread colour.Lab
	// Yellowness is the E313 index of Lab.
	Yellowness colour.Yellowness
	// Share is the part of the face that was taken for bare paper.
	Share float64
	// Note is a sentence about what limits the reading, or "".
	Note string
}

// PaperColour reads the colour of the paper without print: the light pixels of
// little texture, and of those the commonest colour. corners is the sheet; nil
// lets the sheet be found. The colour is as the picture's profile says; it is
// comparable between pictures only under the same light or after a correction.
func PaperColour(m *Image, corners *Quad) (PaperReading, error) {
	w, h := m.fit(900)
	l := m.shrink(w, h)
	face := faceOf(m, l, corners)
	if face.count() < 400 {
		return PaperReading{}, refuse(
			Unsupported,
			"The sheet is too small in the picture to read its paper: %d by %d pixels.",
			m.W,
			m.H,
		)
	}
	v := viewPaper(l, face)
	lab := l.lab()
	light := channel(lab, w, h, 0)
	smooth := light.gaussOne()
	var texture []float32
	for i := range light.v {
		if face.v[i] && !v.print.v[i] {
			texture = append(texture, abs(light.v[i]-smooth.v[i]))
		}
	}
	if len(texture) < 200 {
		return PaperReading{}, refuse(
			Unsupported,
			"Hardly any bare paper shows between the print, so its colour cannot be read.",
		)
	}
	calm := quantile(texture, 0.6)
	var ls, as, bs []float32
	for i := range light.v {
		if face.v[i] && !v.print.v[i] && abs(light.v[i]-smooth.v[i]) <= calm {
			ls, as, bs = append(ls, lab[3*i]), append(as, lab[3*i+1]), append(bs, lab[3*i+2])
		}
	}
	return paperReadingOf(ls, as, bs, face.count()), nil
}

// paperReadingOf reads the paper's colour from the pixels taken for bare paper,
// of a face of the given number of pixels. Without any it is zero.
func paperReadingOf(ls, as, bs []float32, face int) PaperReading {
	if len(ls) == 0 {
		return PaperReading{Note: "No bare paper shows."}
	}
	centre := modeOfLab(ls, as, bs)
	r := PaperReading{Lab: centre, Yellowness: centre.Yellowness(), Share: float64(len(ls)) / float64(face)}
	r.Spread = spreadOf(ls, as, bs)
	switch {
	case r.Lab.L > 98.5:
		r.Note = "The paper is overexposed in this picture; its colour cannot be read."
	case r.Spread.L > 6:
		r.Note = fmt.Sprintf(
			"The light falls unevenly: the paper's lightness varies by %.0f either way over the sheet.",
			r.Spread.L,
		)
	case r.Share < 0.05:
		r.Note = "Little bare paper shows, so the reading rests on small gaps between the print."
	}
	return r
}

// spreadOf is half the width within which the middle 68 % lie; it reorders its
// arguments.
func spreadOf(ls, as, bs []float32) colour.Lab {
	half := func(vs []float32) float64 { return float64(quantile(vs, 0.84)-quantile(vs, 0.16)) / 2 }
	return colour.Lab{L: half(ls), A: half(as), B: half(bs)}
}

func abs(x float32) float32 { return float32(math.Abs(float64(x))) }

// modeOfLab finds the commonest colour: it starts at the fullest bin of
// lightness and moves to the mean of what lies near, until it rests (mean
// shift, Comaniciu and Meer 2002, flat kernel).
func modeOfLab(ls, as, bs []float32) colour.Lab {
	const bin = 1.5
	var counts [100]int
	for _, l := range ls {
		counts[min(99, max(0, int(l/bin)))]++
	}
	best := 0
	for i := 1; i < 99; i++ {
		if counts[i-1]+2*counts[i]+counts[i+1] > counts[max(1, best)-1]+2*counts[max(1, best)]+counts[max(1, best)+1] {
			best = i
		}
	}
	var a0, b0 []float32
	for i, l := range ls {
		if abs(l-float32(best)*bin-bin/2) < 2*bin {
			a0, b0 = append(a0, as[i]), append(b0, bs[i])
		}
	}
	at := [3]float64{(float64(best) + 0.5) * bin, float64(quantile(a0, 0.5)), float64(quantile(b0, 0.5))}
	if len(a0) == 0 {
		return colour.Lab{L: float64(quantile(ls, 0.5)), A: float64(quantile(as, 0.5)), B: float64(quantile(bs, 0.5))}
	}
	for range 30 {
		var sum [3]float64
		n := 0.0
		for i := range ls {
			dl, da, db := float64(ls[i])-at[0], float64(as[i])-at[1], float64(bs[i])-at[2]
			if dl*dl+da*da+db*db < 16 { // 4 in CIELAB: grain, not toning
				sum[0] += float64(ls[i])
				sum[1] += float64(as[i])
				sum[2] += float64(bs[i])
				n++
			}
		}
		if n == 0 {
			break
		}
		next := [3]float64{sum[0] / n, sum[1] / n, sum[2] / n}
		moved := math.Abs(next[0]-at[0]) + math.Abs(next[1]-at[1]) + math.Abs(next[2]-at[2])
		at = next
		if moved < 1e-3 {
			break
		}
	}
	return colour.Lab{L: at[0], A: at[1], B: at[2]}
}

// faceOf marks the sheet in a picture of working size: inside corners when they
// are given, else as found; a little inside its edge, which is mixed.
func faceOf(m *Image, l *linearImage, corners *Quad) mask {
	if corners == nil {
		found := FindSheet(m)
		return found.faceIn(l.w, l.h)
	}
	q := corners.scaled(float64(l.w)/float64(m.W), float64(l.h)/float64(m.H))
	return maskOf(q.ordered(), l.w, l.h).grow(-faceInset(l.w, l.h))
}

// faceIn is the face that was found, in a picture of w by h pixels.
func (s *Sheet) faceIn(w, h int) mask {
	if s.face.v == nil {
		return maskOf(
			Quad{{-1, -1}, {float64(w), -1}, {float64(w), float64(h)}, {-1, float64(h)}},
			w,
			h,
		).grow(-faceInset(w, h))
	}
	return s.face.resize(w, h).grow(-faceInset(w, h))
}

// faceInset is how far inside its edge the face is taken, where colours mix.
func faceInset(w, h int) int { return max(1, min(w, h)/200) }

// scaled is q in a picture whose sides are x and y times as long.
func (q Quad) scaled(x, y float64) Quad {
	for i, p := range q {
		q[i] = Point{(p.X+0.5)*x - 0.5, (p.Y+0.5)*y - 0.5}
	}
	return q
}

// maskOf marks the pixels inside q.
func maskOf(q Quad, w, h int) mask {
	out := newMask(w, h)
	for y := range h {
		for x := range w {
			out.v[y*w+x] = q.contains(Point{float64(x), float64(y)})
		}
	}
	return out
}
