package photo

import "context"

// Flatten is a face as if seen from straight above: so many pixels wide and high,
// the sheet from edge to edge, left at the head at its upper left. corners are where
// the sheet's corners lie in the picture, in the order of FaceHomography. Each pixel
// is the mean of a few places in its square, so that a larger picture does not
// flicker when it is made smaller. It reports false when the corners make no face.
func (m *Image) Flatten(ctx context.Context, corners Quad, widthPx, heightPx int) (*Image, bool, error) {
	to, ok := FaceHomography(corners, float64(widthPx), float64(heightPx))
	if !ok {
		return nil, false, nil
	}
	from, ok := to.Inverse()
	if !ok {
		return nil, false, nil
	}
	// As many places each way as a pixel covers pixels of the picture.
	n := 1
	for n < 4 && float64(n*n*widthPx*heightPx) < corners.area() {
		n++
	}
	out := *m
	out.W, out.H, out.Deep = widthPx, heightPx, nil
	out.Pix = make([]uint8, 4*widthPx*heightPx)
	var px [4]uint8
	for y := range heightPx {
		if err := ctx.Err(); err != nil {
			return nil, false, err
		}
		for x := range widthPx {
			var sum [3]int
			for j := range n {
				for i := range n {
					p := from.Map(Point{
						float64(x) + (float64(i)+0.5)/float64(n), float64(y) + (float64(j)+0.5)/float64(n),
					})
					m.cubic(p.X, p.Y, px[:])
					for c := range sum {
						sum[c] += int(px[c])
					}
				}
			}
			at := 4 * (y*widthPx + x)
			for c, v := range sum {
				out.Pix[at+c] = uint8((v + n*n/2) / (n * n))
			}
			out.Pix[at+3] = 255
		}
	}
	return &out, true, nil
}
