package photo

// cutFolds leaves out of the face what lies beyond a fold or gutter near one of
// its sides: a long dark valley, wider than any rule or frame of print, with
// paper on both sides of it. Beyond it lies another leaf, whose shade is no stain.
// It returns how many sides were cut.
func cutFolds(l *linearImage, face mask) int {
	short := min(l.w, l.h)
	r := max(2, short/120)
	red := l.densities()[0].extreme(r, false).extreme(r, true).gauss(float64(short) / 300)
	cuts := 0
	for side := range 4 {
		if fold := findFold(sideView{red, face, side}); fold != nil {
			sideView{red, face, side}.cut(fold, r)
			cuts++
		}
	}
	return cuts
}

// sideView looks at a picture from one side: line k along that side, depth d
// inwards from the picture's edge; sides left, top, right, bottom.
type sideView struct {
	p    plane
	face mask
	side int
}

func (s sideView) size() (length, depth int) {
	if s.side%2 == 1 {
		return s.p.w, s.p.h
	}
	return s.p.h, s.p.w
}

func (s sideView) index(k, d int) int {
	switch s.side {
	case 0:
		return k*s.p.w + d
	case 1:
		return d*s.p.w + k
	case 2:
		return k*s.p.w + s.p.w - 1 - d
	}
	return (s.p.h-1-d)*s.p.w + k
}

// foldDepth is how much darker a fold is than the paper on both sides of it, as
// density in red, of which stains take little.
const foldDepth = 0.22

// findFold follows the deepest valley along a side, within the outer quarter of
// the picture, and returns its depth at each line, or nil when it is no valley
// for most of its way. Dynamic programming: a step along is at most one aside.
func findFold(s sideView) []int {
	length, depth := s.size()
	band, reach := depth/4, max(4, min(length, depth)/16)
	const step = 4 // lines and pixels taken as one
	rows, cols := length/step, band/step
	if rows < 8 || cols < 4 {
		return nil
	}
	ridge := newPlane(cols, rows)
	inside := make([]bool, rows)
	for y := range rows {
		k := y * step
		for x := range cols {
			d := x * step
			if !s.face.v[s.index(k, d)] || d < reach/2 {
				continue
			}
			at := s.p.v[s.index(k, d)]
			before, after := at, at
			for e := max(0, d-reach); e <= min(depth-1, d+reach); e++ {
				i := s.index(k, e)
				if !s.face.v[i] {
					continue
				}
				inside[y] = true
				if e < d {
					before = min(before, s.p.v[i])
				} else {
					after = min(after, s.p.v[i])
				}
			}
			ridge.v[y*cols+x] = min(at-before, at-after, 1.5*foldDepth)
		}
	}
	best := newPlane(cols, rows)
	from := make([]int8, cols*rows)
	for y := range rows {
		for x := range cols {
			i := y*cols + x
			if y > 0 {
				best.v[i] = best.v[i-cols]
				for _, a := range [2]int{-1, 1} {
					if x+a >= 0 && x+a < cols && best.v[i-cols+a] > best.v[i]+0.02 {
						best.v[i], from[i] = best.v[i-cols+a], int8(a)
					}
				}
			}
			best.v[i] += ridge.v[i]
		}
	}
	last := (rows - 1) * cols
	x := 0
	for e := range cols {
		if best.v[last+e] > best.v[last+x] {
			x = e
		}
	}
	fold := make([]int, length)
	deep, all := 0, 0
	lo, hi := x, x
	for y := rows - 1; y >= 0; y-- {
		lo, hi = min(lo, x), max(hi, x)
		for k := y * step; k < length && k < (y+1)*step || y == rows-1 && k < length; k++ {
			fold[k] = x * step
		}
		if inside[y] {
			all++
			if ridge.v[y*cols+x] > foldDepth {
				deep++
			}
		}
		x += int(from[y*cols+x])
	}
	if 5*deep < 4*all || all < rows/2 || (hi-lo)*step > length/10 {
		return nil
	}
	return fold
}

// cut takes what lies between the picture's edge and the fold out of the face,
// and the fold itself.
func (s sideView) cut(fold []int, margin int) {
	_, depth := s.size()
	for k, f := range fold {
		for d := range min(depth, f+margin) {
			s.face.v[s.index(k, d)] = false
		}
	}
}
