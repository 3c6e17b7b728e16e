package photo

// outline goes once round the outer edge of a component, along the sides of its
// pixels, clockwise as seen; the corners are simplified to within tol pixels.
func (c *component) outline(width int, tol float64) []Point {
	w, h := c.x1-c.x0+2, c.y1-c.y0+2 // a rim of one on the right and below
	in := make([]bool, w*h)
	for _, p := range c.pixels {
		in[(int(p)/width-c.y0)*w+int(p)%width-c.x0] = true
	}
	at := func(x, y int) bool { return x >= 0 && y >= 0 && x < w && y < h && in[y*w+x] }
	// Corner (x, y) is the upper left one of pixel (x, y). Begin over the first
	// pixel and go right, the component on the right hand.
	x0 := 0
	for !in[x0] {
		x0++
	}
	dirs := [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}
	// The pixels ahead of a corner on the left and on the right hand.
	left := [4][2]int{{0, -1}, {0, 0}, {-1, 0}, {-1, -1}}
	right := [4][2]int{{0, 0}, {-1, 0}, {-1, -1}, {0, -1}}
	x, y, d := x0, 0, 0
	var pts []Point
	for range 4*len(c.pixels) + 4 {
		pts = append(pts, Point{float64(x+c.x0) - 0.5, float64(y+c.y0) - 0.5})
		x, y = x+dirs[d][0], y+dirs[d][1]
		switch l, r := at(x+left[d][0], y+left[d][1]), at(x+right[d][0], y+right[d][1]); {
		case l: // corners that touch count as joined
			d = (d + 3) % 4
		case !r:
			d = (d + 1) % 4
		}
		if x == x0 && y == 0 && d == 0 {
			break
		}
	}
	return thinRing(pts, tol)
}
