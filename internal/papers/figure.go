package papers

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image/jpeg"

	folioimage "github.com/carlos7ags/folio/image"
	"github.com/carlos7ags/folio/layout"

	"benchleaf/internal/record"
)

// Pictures hands out photographs for print: JPEG in sRGB, upright, at a size
// that suits a column of about 80 mm (1000 pixels on the longer edge are
// ample). An error's text stands in the paper in the picture's place.
type Pictures interface {
	Picture(record.Hash) ([]byte, error)
}

// album reads each photograph once.
type album struct {
	from Pictures
	got  map[record.Hash]photograph
}

// photograph is a picture, or the reason why there is none.
type photograph struct {
	image  *folioimage.Image
	reason string
}

func (a *album) get(h record.Hash) photograph {
	if p, ok := a.got[h]; ok {
		return p
	}
	p := a.read(h)
	if a.got == nil {
		a.got = map[record.Hash]photograph{}
	}
	a.got[h] = p
	return p
}

func (a *album) read(h record.Hash) photograph {
	if a.from == nil {
		return photograph{reason: "This paper was made without its photographs."}
	}
	data, err := a.from.Picture(h)
	if err != nil {
		return photograph{reason: sentence("The photograph is not shown: " + err.Error())}
	}
	img, err := readJPEG(data)
	if err != nil {
		return photograph{reason: sentence("The photograph is not shown, since its file is damaged: " + err.Error())}
	}
	return photograph{image: img}
}

// readJPEG takes a JPEG as it is when PDF readers can show it, and recodes one
// in the colours of a printing press, which PDF/A does not allow here.
func readJPEG(data []byte) (*folioimage.Image, error) {
	parts, err := checkJPEG(data)
	if err != nil {
		return nil, err
	}
	if parts == 4 {
		img, err := jpeg.Decode(bytes.NewReader(data))
		if err != nil {
			return nil, errors.New("its content cannot be decoded")
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 90}); err != nil {
			return nil, err
		}
		data = b.Bytes()
	}
	img, err := folioimage.NewJPEG(data)
	if err != nil {
		return nil, errors.New("its header cannot be read")
	}
	return img, nil
}

// checkJPEG walks the segments of a JPEG to its end mark and gives the number
// of its colour components (ITU-T T.81, annex B).
func checkJPEG(data []byte) (components int, err error) {
	if len(data) < 4 || data[0] != 0xff || data[1] != 0xd8 {
		return 0, errors.New("it is not a JPEG")
	}
	for i := 2; i+4 <= len(data); {
		if data[i] != 0xff {
			return 0, errors.New("its segments do not follow each other")
		}
		mark := data[i+1]
		if mark == 0xff { // filling
			i++
			continue
		}
		n := int(binary.BigEndian.Uint16(data[i+2:]))
		if n < 2 || i+2+n > len(data) {
			break
		}
		switch {
		case mark >= 0xc0 && mark <= 0xc2 && n >= 8:
			components = int(data[i+9])
		case mark >= 0xc3 && mark <= 0xcf && mark != 0xc4 && mark != 0xc8 && mark != 0xcc:
			return 0, errors.New("it is coded in a way that PDF does not take")
		case mark == 0xda:
			if components == 0 || !bytes.Contains(data[i+2+n:], []byte{0xff, 0xd9}) {
				return 0, errors.New("it is cut short")
			}
			return components, nil
		}
		i += 2 + n
	}
	return 0, errors.New("it is cut short")
}

// picture is a photograph with what is to be said of it.
type picture struct {
	photograph
	caption []span
	alt     string
}

// pictures is a row of one or two pictures, each with its caption below.
type pictures struct {
	t    *typeface
	row  []picture
	most float64 // height of the tallest picture
}

const pictureGutter = 15

func (p pictures) set(w, h float64, fresh bool) ([]placed, float64, block) {
	// What is left of a page may hold the pictures a little smaller.
	for _, k := range []float64{1, 0.85, 0.72, 0.6} {
		done, used := p.placed(w, p.most*k)
		if used <= h+slack {
			return done, used, nil
		}
	}
	if !fresh {
		return nil, 0, p
	}
	done, used := p.placed(w, max(h-60, 60))
	return done, used, nil
}

// placed sets the pictures no higher than most.
func (p pictures) placed(w, most float64) ([]placed, float64) {
	colW := (w - pictureGutter) / 2
	type sized struct{ w, h float64 }
	sizes := make([]sized, len(p.row))
	imageH := 0.0
	for i, pic := range p.row {
		s := sized{colW, 0}
		if pic.image != nil && pic.image.Width() > 0 && pic.image.Height() > 0 {
			k := min(colW/float64(pic.image.Width()), most/float64(pic.image.Height()))
			s = sized{k * float64(pic.image.Width()), k * float64(pic.image.Height())}
		}
		sizes[i] = s
		imageH = max(imageH, s.h)
	}
	var done []placed
	used := 0.0
	for i, pic := range p.row {
		x := float64(i) * (colW + pictureGutter)
		pw, ph := sizes[i].w, sizes[i].h
		if pic.image != nil {
			img := pic.image
			done = append(
				done,
				placed{
					X:       x,
					Width:   pw,
					Height:  ph,
					Tag:     "Figure",
					AltText: p.t.legible(pic.alt),
					Draw: func(ctx layout.DrawContext, x, top float64) {
						ctx.Stream.SaveState()
						ctx.Stream.ConcatMatrix(pw, 0, 0, ph, x, top-ph)
						ctx.Stream.Do(registerImage(ctx.Page, img))
						ctx.Stream.RestoreState()
					},
				},
			)
		} else {
			lines := p.t.setLines([]span{{pic.reason, fineMuted}}, colW-16)
			imageH = max(imageH, height(lines)+16)
			ph = height(lines) + 16
			done = append(done,
				placed{X: x, Draw: artifact(func(ctx layout.DrawContext, x, top float64) {
					fill(ctx, ground, x, top-ph, colW, ph)
				})},
				placed{X: x + 8, Y: 8, Width: colW - 16, Height: height(lines), Tag: "P",
					Draw: func(ctx layout.DrawContext, x, top float64) {
						p.t.drawLines(ctx, lines, x, top, colW-16, left)
					}})
		}
	}
	for i, pic := range p.row {
		x := float64(i) * (colW + pictureGutter)
		lines := p.t.setLines(pic.caption, colW)
		done = append(
			done,
			placed{
				X:      x,
				Y:      imageH + 4,
				Width:  colW,
				Height: height(lines),
				Tag:    "Caption",
				Draw: func(ctx layout.DrawContext, x, top float64) {
					p.t.drawLines(ctx, lines, x, top, colW, left)
				},
			},
		)
		used = max(used, imageH+4+height(lines))
	}
	return done, used
}

func registerImage(page *layout.PageResult, img *folioimage.Image) string {
	for _, e := range page.Images {
		if e.Image == img {
			return e.Name
		}
	}
	name := fmt.Sprintf("P%d", len(page.Images)+1)
	page.Images = append(page.Images, layout.ImageEntry{Name: name, Image: img})
	return name
}
