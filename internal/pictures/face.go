package pictures

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"

	"benchleaf/condition"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// The longer sides of a face laid to the millimetre, in pixels. The largest shows
// about ten pixels to the millimetre of an opened periodical.
var faceSides = map[string]int{"small": 320, "medium": 1280, "large": 3400}

var faceLongs = []int{320, 1280, 3400}

// FaceKey names what a photograph was laid by: its corners and the sheet's size, so
// that a face laid anew is another picture.
func FaceKey(b *record.PhotoLaid, size condition.Size) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%v %v", b.CornersPx, size))
	return hex.EncodeToString(sum[:8])
}

// Face opens a photograph laid to the millimetre on its face: "small", "medium" or
// "large", a JPEG that holds the sheet from edge to edge. What the cache does not
// have is made, and waited for.
func (m *Maker) Face(
	ctx context.Context, b *record.PhotoLaid, sheet condition.Size, size string,
) (io.ReadSeekCloser, error) {
	long, ok := faceSides[size]
	if !ok {
		return nil, store.ErrNotFound
	}
	name := func(long int) string { return fmt.Sprintf("face-%s-%d.jpg", FaceKey(b, sheet), long) }
	f, err := m.store.OpenDerived(b.Photo, name(long))
	if !errors.Is(err, store.ErrNotFound) {
		return f, err
	}
	x := m.begin(Job("face/"+b.Photo.String()+"/"+FaceKey(b, sheet)), func(ctx context.Context, x *Work) error {
		return m.see(ctx, b.Photo, func(img *photo.Image, _ *photo.Info) error {
			sizes, err := flattened(ctx, img, b, sheet)
			if err != nil {
				return err
			}
			for i, s := range sizes {
				if err := m.keep(b.Photo, name(faceLongs[i]), s.JPEG); err != nil {
					return err
				}
			}
			return nil
		})
	})
	if err := x.Wait(ctx); err != nil {
		return nil, err
	}
	return m.store.OpenDerived(b.Photo, name(long))
}

func flattened(
	ctx context.Context, img *photo.Image, b *record.PhotoLaid, sheet condition.Size,
) ([]photo.Size, error) {
	most := faceLongs[len(faceLongs)-1]
	scale := float64(most) / math.Max(sheet.WidthMm, sheet.HeightMm)
	flat, ok, err := img.Flatten(
		ctx, quadOf(Corners(b.CornersPx)), int(math.Round(sheet.WidthMm*scale)), int(math.Round(sheet.HeightMm*scale)))
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, record.Invalidf("corners", "The corners of this photograph do not make a face: lay it again.")
	}
	return flat.Sizes(faceLongs...)
}

// FoundCorners are the corners of the sheet as the program sees them in a
// photograph, for a person to look at, in pixels of the upright picture.
type FoundCorners struct {
	Corners [4][2]float64 `json:"corners_px"`
	// Seen says that ground was seen beyond all four sides: else a corner lies at
	// the picture's own edge.
	Seen bool   `json:"seen"`
	Note string `json:"note,omitempty"`
}

// cornersName is where the cache keeps them; the number is that of how they are
// found.
const cornersName = "corners-1.json"

// Corners looks for the corners of the sheet in a photograph.
func (m *Maker) Corners(ctx context.Context, h record.Hash) (*FoundCorners, error) {
	var out FoundCorners
	if m.keptJSON(h, cornersName, &out) {
		return &out, nil
	}
	err := m.see(ctx, h, func(img *photo.Image, _ *photo.Info) error {
		sheet := photo.FindSheet(img)
		out = FoundCorners{Seen: sheet.Seen == [4]bool{true, true, true, true}, Note: sheet.Note}
		for i, p := range sheet.Corners {
			out.Corners[i] = [2]float64{math.Round(10*p.X) / 10, math.Round(10*p.Y) / 10}
		}
		return m.keepJSON(h, cornersName, out)
	})
	if err != nil {
		return nil, err
	}
	return &out, nil
}
