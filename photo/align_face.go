package photo

// FaceHomography takes places of a picture to millimetres on the face: from its
// left edge and its head as seen, for a sheet of known size whose corners are
// where they are given. It reports false when the corners do not make a face.
func FaceHomography(corners Quad, widthMM, heightMM float64) (Homography, bool) {
	if !(widthMM > 0 && heightMM > 0) || corners.area() < 1 {
		return Homography{}, false
	}
	return fitHomography(corners[:], []Point{{0, 0}, {widthMM, 0}, {widthMM, heightMM}, {0, heightMM}}, nil)
}
