package pictures

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"benchleaf/colour"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/words"
	"benchleaf/photo"
)

// ColourKey names a correction of colour by what it does.
func ColourKey(b *record.PhotoColour) string {
	sum := sha256.Sum256(fmt.Append(nil, b.Fit, b.Exponent, b.Coefficients))
	return hex.EncodeToString(sum[:8])
}

// correctedSide is the longer side of a corrected picture on the screen.
const correctedSide = 1280

// Corrected opens a photograph with its colour set, for the screen, a JPEG.
func (m *Maker) Corrected(ctx context.Context, b *record.PhotoColour) (io.ReadSeekCloser, error) {
	name := "colour-" + ColourKey(b) + ".jpg"
	f, err := m.store.OpenDerived(b.Photo, name)
	if !errors.Is(err, store.ErrNotFound) {
		return f, err
	}
	correction, err := b.Correction()
	if err != nil {
		return nil, err
	}
	err = m.see(ctx, b.Photo, func(img *photo.Image, _ *photo.Info) error {
		img.Correct(correction)
		sizes, err := img.Sizes(correctedSide)
		if err != nil {
			return err
		}
		return m.keep(b.Photo, name, sizes[0].JPEG)
	})
	if err != nil {
		return nil, err
	}
	return m.store.OpenDerived(b.Photo, name)
}

// ReadColour reads a photograph between the corners of b and fills in the
// correction that follows by b's method: from a chart by the values of its file,
// from a grey card by its lightness, else from a paper taken for white. An error
// that a person can mend is a refusal at "corners".
func (m *Maker) ReadColour(ctx context.Context, b *record.PhotoColour, file *record.ChartFile) error {
	return m.see(ctx, b.Photo, func(img *photo.Image, info *photo.Info) error {
		return readColour(b, img, info, file)
	})
}

func readColour(b *record.PhotoColour, img *photo.Image, info *photo.Info, file *record.ChartFile) error {
	if info.ColourModel == "CMYK" {
		return record.Invalidf("corners", "The photograph holds printing colours (CMYK), in which no colour is "+
			"measured: take the camera’s own file.")
	}
	b.Profile = info.Profile
	correction, err := fit(b, img, file)
	if err != nil {
		return err
	}
	b.Fit, b.Exponent, b.Coefficients = string(correction.Kind), correction.Exponent, correction.Coefficients()
	b.Used = correction.Used
	b.ErrorDE00, b.ErrorHighDE00 = correction.Expect()
	return nil
}

// fit makes the correction; the corners begin at the chart's first patch then.
func fit(b *record.PhotoColour, img *photo.Image, file *record.ChartFile) (*colour.Correction, error) {
	atCorners := func(err error) error {
		var p *photo.Problem
		if errors.As(err, &p) {
			return record.Invalidf("corners", "%s", p.Say)
		}
		return record.Invalidf("corners", "%s", words.English.Sentence(err.Error()))
	}
	quad := quadOf(b.Corners)
	if b.Method == "chart" {
		chart, err := file.Chart()
		if err != nil {
			return nil, err
		}
		correction, readings, quad, err := photo.CorrectByChart(img, quad, chart)
		if err != nil {
			return nil, atCorners(err)
		}
		b.Corners, b.LeftOut = cornersOf(quad), len(readings)-correction.Used
		return correction, nil
	}
	readings, err := photo.ChartAt(img, quad, 1, 1)
	if err != nil {
		return nil, atCorners(err)
	}
	var correction *colour.Correction
	if b.Method == "grey-card" {
		correction, err = colour.FromGreyCard(img.Profile, readings[0], b.Lightness)
	} else {
		correction, err = colour.FromWhitePaper(img.Profile, readings[0])
	}
	if err != nil {
		return nil, atCorners(err)
	}
	return correction, nil
}

// Profile names what the values of a photograph mean.
func (m *Maker) Profile(h record.Hash) (string, error) {
	f, err := m.store.OpenPhoto(h)
	if err != nil {
		return "", err
	}
	defer f.Close()
	info, err := photo.Inspect(f, limits)
	return info.Profile, sayable(err)
}

// Corners go round a chart in a photograph, clockwise from its first patch, in
// pixels.
type Corners [4][2]float64

func quadOf(c Corners) (q photo.Quad) {
	for i, p := range c {
		q[i] = photo.Point{X: p[0], Y: p[1]}
	}
	return q
}

func cornersOf(q photo.Quad) (c Corners) {
	for i, p := range q {
		c[i] = [2]float64{p.X, p.Y}
	}
	return c
}

// finds remembers where charts were looked for, so that a page shown again does
// not look anew.
type finds struct {
	mu    sync.Mutex
	known map[[2]record.Hash]*Corners
}

// mostFinds is how many are remembered.
const mostFinds = 500

// FindChart looks for a chart in a photograph; nil where it is not found for
// certain. It looks in the largest size for the screen, where patches are as plain
// to see as in the original, and gives corners in pixels of the original.
func (m *Maker) FindChart(ctx context.Context, b *record.Photo, file *record.ChartFile) (*Corners, error) {
	key := [2]record.Hash{b.Hash, sha256.Sum256(fmt.Append(nil, file.Rows, file.Columns, file.Text))}
	m.finds.mu.Lock()
	known, ok := m.finds.known[key]
	m.finds.mu.Unlock()
	if ok {
		return known, nil
	}
	chart, err := file.Chart()
	if err != nil {
		return nil, err
	}
	f, err := m.Open(ctx, b.Hash, "large")
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var found *Corners
	err = m.inRoom(ctx, leastRoom, func(begin func() bool) error {
		img, _, err := photo.Decode(f, limits)
		if err != nil {
			return err
		}
		if !begin() {
			return ctx.Err()
		}
		at, err := photo.FindChart(img, file.Rows, file.Columns, chart.Patches)
		if err != nil {
			return nil // it is not there, or not for certain
		}
		c := cornersOf(at.Corners)
		sx, sy := float64(b.WidthPx)/float64(img.W), float64(b.HeightPx)/float64(img.H)
		for i, p := range c {
			c[i] = [2]float64{(p[0]+0.5)*sx - 0.5, (p[1]+0.5)*sy - 0.5}
		}
		found = &c
		return nil
	})
	if err != nil {
		return nil, err
	}
	m.finds.mu.Lock()
	defer m.finds.mu.Unlock()
	if len(m.finds.known) >= mostFinds || m.finds.known == nil {
		m.finds.known = map[[2]record.Hash]*Corners{}
	}
	m.finds.known[key] = found
	return found, nil
}

// ChartPatches reads the file of a chart's values: how many patches it has, and
// in how many rows and columns, 0 where it does not tell.
func ChartPatches(text string) (patches, rows, columns int, err error) {
	c, err := colour.ParseChart(strings.NewReader(text))
	if err != nil {
		return 0, 0, 0, err
	}
	return len(c.Patches), c.Rows, c.Columns, nil
}
