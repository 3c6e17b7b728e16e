package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"benchleaf/colour"
	"benchleaf/photo/hostile"

	"golang.org/x/image/tiff"
)

// picture reads a file of testdata.
func picture(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// decoded decodes a file of testdata.
// decoded is a picture of the test data, decoded once for all tests: it is only to
// be read.
func decoded(t testing.TB, name string) *Image {
	t.Helper()
	if m, ok := decodedOnce.Load(name); ok {
		return m.(*Image)
	}
	m, _, err := Decode(bytes.NewReader(picture(t, name)), DefaultLimits)
	if err != nil {
		t.Fatal(err)
	}
	decodedOnce.Store(name, m)
	return m
}

var decodedOnce sync.Map // name to *Image

func TestDecodePhotographs(t *testing.T) {
	for _, c := range []struct {
		file, format, model string
		w, h, bits          int
	}{
		// Sizes as the file utility gives them.
		{"1555.003.jpg", "JPEG", "colour", 927, 1390, 8},
		{"cookbook-page-a.jpg", "JPEG", "colour", 2448, 3264, 8}, // stored 3264 x 2448, turned
		{"page.png", "PNG", "grey", 384, 191, 8},
		{"graf1.png", "PNG", "colour", 800, 640, 8},
		{"gray.heic", "HEIC", "", 0, 0, 8},
		{"test8.heic", "HEIC", "", 0, 0, 8},
		{"test12.heic", "HEIC", "", 0, 0, 12},
	} {
		m, info, err := Decode(bytes.NewReader(picture(t, c.file)), DefaultLimits)
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		if info.Format != c.format || info.BitDepth != c.bits || c.model != "" && info.ColourModel != c.model {
			t.Errorf(
				"%s: %s %s %d bits, want %s %s %d",
				c.file,
				info.Format,
				info.ColourModel,
				info.BitDepth,
				c.format,
				c.model,
				c.bits,
			)
		}
		if c.w > 0 && (info.Width != c.w || info.Height != c.h) || m.W != info.Width || m.H != info.Height ||
			len(m.Pix) != 4*m.W*m.H {
			t.Errorf(
				"%s: %d x %d with %d bytes, header %d x %d, want %d x %d",
				c.file,
				m.W,
				m.H,
				len(m.Pix),
				info.Width,
				info.Height,
				c.w,
				c.h,
			)
		}
		if m.Profile == nil || m.Deep != nil {
			t.Errorf("%s: profile %v, %d deep values", c.file, m.Profile, len(m.Deep))
		}
	}
}

func TestTagsOfPhonePhotograph(t *testing.T) {
	info, err := Inspect(bytes.NewReader(picture(t, "cookbook-page-a.jpg")), DefaultLimits)
	if err != nil {
		t.Fatal(err)
	}
	// As the file utility reads them: orientation upper-right, which is 6.
	if want := time.Date(2016, 8, 8, 12, 2, 59, 0, time.UTC); !info.TakenKnown || info.TakenZoneKnown ||
		!info.Taken.Equal(want) {
		t.Errorf(
			"taken %v (known %v, zone %v), want %v of unknown zone",
			info.Taken,
			info.TakenKnown,
			info.TakenZoneKnown,
			want,
		)
	}
	if info.Orientation != 6 || info.Camera != "Apple iPhone 6" {
		t.Errorf("orientation %d, camera %q", info.Orientation, info.Camera)
	}
}

// Every orientation of EXIF, from a picture whose corners differ. Which stored
// corner is upright's upper left follows from the tag's definition (EXIF 2.32:
// where the 0th row and the 0th column are seen).
func TestOrientation(t *testing.T) {
	stored := image.NewNRGBA(image.Rect(0, 0, 40, 70))
	marks := map[image.Point]color.NRGBA{
		{0, 0}: {255, 0, 0, 255}, {39, 0}: {0, 255, 0, 255}, {0, 69}: {0, 0, 255, 255}, {39, 69}: {255, 255, 0, 255},
	}
	for p, c := range marks {
		stored.SetNRGBA(p.X, p.Y, c)
	}
	// Stored positions of the upright picture's upper left and upper right.
	corner := [9][2]image.Point{
		1: {{0, 0}, {39, 0}}, 2: {{39, 0}, {0, 0}}, 3: {{39, 69}, {0, 69}}, 4: {{0, 69}, {39, 69}},
		5: {{0, 0}, {0, 69}}, 6: {{0, 69}, {0, 0}}, 7: {{39, 69}, {39, 0}}, 8: {{39, 0}, {39, 69}},
	}
	for o := 1; o <= 8; o++ {
		m, _ := toImage(stored, o, colour.SRGB())
		left := color.NRGBAModel.Convert(m.RGBA().At(0, 0))
		right := color.NRGBAModel.Convert(m.RGBA().At(m.W-1, 0))
		if left != color.Color(marks[corner[o][0]]) || right != color.Color(marks[corner[o][1]]) {
			t.Errorf(
				"orientation %d: upper corners %v %v, want %v %v",
				o,
				left,
				right,
				marks[corner[o][0]],
				marks[corner[o][1]],
			)
		}
		if o >= 5 != (m.W == 70) {
			t.Errorf("orientation %d: %d x %d", o, m.W, m.H)
		}
	}
}

// Grey and uniform pictures show the conversion against image/color, whose
// chroma is not interpolated.
func TestYCbCrConversion(t *testing.T) {
	for _, ratio := range []image.YCbCrSubsampleRatio{
		image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420,
		image.YCbCrSubsampleRatio440, image.YCbCrSubsampleRatio411,
	} {
		for _, c := range [][3]uint8{{0, 128, 128}, {255, 128, 128}, {128, 128, 128}, {90, 200, 60}, {200, 30, 220}, {150, 110, 140}} {
			src := image.NewYCbCr(image.Rect(0, 0, 7, 5), ratio)
			for i := range src.Y {
				src.Y[i] = c[0]
			}
			for i := range src.Cb {
				src.Cb[i], src.Cr[i] = c[1], c[2]
			}
			m := FromImage(src)
			r, g, b := color.YCbCrToRGB(c[0], c[1], c[2])
			for i := 0; i < len(m.Pix); i += 4 {
				for k, want := range []uint8{r, g, b, 255} {
					if d := int(m.Pix[i+k]) - int(want); d < -1 || d > 1 {
						t.Fatalf("%v %v: pixel %d is %v, want %v", ratio, c, i/4, m.Pix[i:i+4], []uint8{r, g, b, 255})
					}
				}
			}
		}
	}
}

func TestSixteenBits(t *testing.T) {
	src := image.NewRGBA64(image.Rect(0, 0, 33, 21))
	for y := range 21 {
		for x := range 33 {
			src.SetRGBA64(x, y, color.RGBA64{uint16(x * 1985), uint16(y * 3120), 12345, 65535})
		}
	}
	var p, q bytes.Buffer
	if err := png.Encode(&p, src); err != nil {
		t.Fatal(err)
	}
	if err := tiff.Encode(&q, src, &tiff.Options{Compression: tiff.Deflate, Predictor: true}); err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"PNG": p.Bytes(), "TIFF": q.Bytes()} {
		m, info, err := Decode(bytes.NewReader(b), DefaultLimits)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		i := 7*33 + 12
		if info.BitDepth != 16 || m.Deep[3*i] != 12*1985 || m.Deep[3*i+1] != 7*3120 || m.Deep[3*i+2] != 12345 {
			t.Errorf(
				"%s: %d bits, pixel %v, want 16 and %v",
				name,
				info.BitDepth,
				m.Deep[3*i:3*i+3],
				[]int{12 * 1985, 7 * 3120, 12345},
			)
		}
		if m.Pix[4*i] != 93 { // 23820/257 = 92.7
			t.Errorf("%s: 8-bit red %d, want 93", name, m.Pix[4*i])
		}
	}
}

// tiny returns a small picture in each format that Go can write.
func tiny(t testing.TB) map[string][]byte {
	t.Helper()
	src := image.NewRGBA(image.Rect(0, 0, 1, 1))
	src.Set(0, 0, color.RGBA{200, 180, 150, 255})
	out := map[string][]byte{}
	var b bytes.Buffer
	for name, encode := range map[string]func() error{
		"JPEG": func() error { return jpeg.Encode(&b, src, nil) },
		"PNG":  func() error { return png.Encode(&b, src) },
		"TIFF": func() error { return tiff.Encode(&b, src, nil) },
	} {
		b.Reset()
		if err := encode(); err != nil {
			t.Fatal(err)
		}
		out[name] = bytes.Clone(b.Bytes())
	}
	return out
}

func TestOnePixel(t *testing.T) {
	for name, b := range tiny(t) {
		m, info, err := Decode(bytes.NewReader(b), DefaultLimits)
		if err != nil || m.W != 1 || m.H != 1 || info.Format != name {
			t.Errorf("%s of one pixel: %v, %+v", name, err, info)
		}
	}
}

// pngClaiming makes a PNG whose header claims a size, with no data to speak of.
func pngClaiming(w, h uint32) []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	body := []byte("IHDR\x00\x00\x00\x00\x00\x00\x00\x00\x08\x02\x00\x00\x00")
	binary.BigEndian.PutUint32(body[4:], w)
	binary.BigEndian.PutUint32(body[8:], h)
	for _, c := range [][]byte{body, []byte("IDATxxxx"), []byte("IEND")} {
		binary.Write(&b, binary.BigEndian, uint32(len(c)-4))
		b.Write(c)
		binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(c))
	}
	return b.Bytes()
}

// jpegClaiming rewrites the size in a JPEG's frame.
func jpegClaiming(t testing.TB, w, h uint16) []byte {
	b := tiny(t)["JPEG"]
	i := bytes.Index(b, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(b[i+5:], h)
	binary.BigEndian.PutUint16(b[i+7:], w)
	return b
}

// tiffWith makes a TIFF directory from tags of one short or long value.
func tiffWith(tags ...[2]uint32) []byte {
	b := []byte("II*\x00\x08\x00\x00\x00")
	b = binary.LittleEndian.AppendUint16(b, uint16(len(tags)))
	for _, t := range tags {
		b = binary.LittleEndian.AppendUint16(b, uint16(t[0]))
		b = binary.LittleEndian.AppendUint16(b, 4)
		b = binary.LittleEndian.AppendUint32(b, 1)
		b = binary.LittleEndian.AppendUint32(b, t[1])
	}
	return append(b, 0, 0, 0, 0)
}

func TestRefusals(t *testing.T) {
	cookbook := picture(t, "cookbook-page-a.jpg")
	graf := picture(t, "graf1.png")
	heicPicture := picture(t, "test8.heic")
	for _, c := range []struct {
		name  string
		file  []byte
		cause Cause
		says  string
	}{
		{"nothing", nil, Empty, "0 bytes"},
		{"renamed program", append([]byte("MZ\x90\x00"), make([]byte, 500)...), NotPicture, "a program"},
		{"renamed Linux program", append([]byte("\x7fELF\x02\x01"), make([]byte, 500)...), NotPicture, "a program"},
		{"document", []byte("%PDF-1.7 and so on"), NotPicture, "PDF"},
		{"text", []byte("Dear colleague, here is the photograph."), NotPicture, "not a picture"},
		{"one byte", []byte{0xff}, NotPicture, "not a picture"},
		{"raw camera file", []byte("II*\x00\x10\x00\x00\x00CR\x02\x00 and so on"), Unsupported, "raw"},
		{"truncated JPEG", cookbook[:len(cookbook)/2], Damaged, "breaks off"},
		{"JPEG header alone", cookbook[:30], Damaged, "breaks off"},
		{"truncated PNG", graf[:len(graf)/2], Damaged, "breaks off"},
		{"truncated HEIC", heicPicture[:len(heicPicture)/2], Damaged, "HEIC"},
		{"HEIC beginning alone", heicPicture[:40], Damaged, "HEIC"},
		{"20000 x 20000 PNG", pngClaiming(20000, 20000), TooLarge, "20000 by 20000"},
		{"PNG bomb", pngClaiming(1<<31-1, 1<<31-1), TooLarge, "megapixels"},
		{"empty PNG", pngClaiming(0, 5), Damaged, "nothing to see"},
		{"20000 x 20000 JPEG", jpegClaiming(t, 20000, 20000), TooLarge, "20000 by 20000"},
		{"JPEG that claims more than it has", jpegClaiming(t, 9000, 9000), Damaged, "breaks off"},
		{"TIFF bomb", tiffWith([2]uint32{256, 4000000000}, [2]uint32{257, 4000000000}, [2]uint32{258, 8}, [2]uint32{262, 1}), TooLarge, "megapixels"},
		{"CMYK TIFF", tiffWith([2]uint32{256, 10}, [2]uint32{257, 10}, [2]uint32{258, 8}, [2]uint32{262, 5}), Unsupported, "CMYK"},
		{"planar TIFF", tiffWith([2]uint32{256, 10}, [2]uint32{257, 10}, [2]uint32{258, 8}, [2]uint32{262, 2}, [2]uint32{277, 3}, [2]uint32{284, 2}), Unsupported, "separate planes"},
		{"JPEG in TIFF", tiffWith([2]uint32{256, 10}, [2]uint32{257, 10}, [2]uint32{258, 8}, [2]uint32{259, 7}, [2]uint32{262, 2}), Unsupported, "JPEG inside TIFF"},
		{"DNG", tiffWith([2]uint32{256, 10}, [2]uint32{257, 10}, [2]uint32{262, 2}, [2]uint32{50706, 1}), Unsupported, "raw camera"},
		{"TIFF directory beyond the end", []byte("II*\x00\xff\xff\xff\x00"), Damaged, "breaks off"},
	} {
		m, _, err := Decode(bytes.NewReader(c.file), DefaultLimits)
		var p *Problem
		if m != nil || !errors.As(err, &p) {
			t.Errorf("%s: %v, want a Problem", c.name, err)
			continue
		}
		if p.Cause != c.cause || !strings.Contains(p.Say, c.says) {
			t.Errorf("%s: cause %d, %q; want cause %d and %q", c.name, p.Cause, p.Say, c.cause, c.says)
		}
		if !strings.HasSuffix(p.Say, ".") || strings.Count(p.Say, "\n") > 0 {
			t.Errorf("%s: %q is not a sentence", c.name, p.Say)
		}
	}
}

func TestLimits(t *testing.T) {
	b := picture(t, "graf1.png")
	for _, c := range []struct {
		lim  Limits
		says string
	}{
		{Limits{MaxBytes: 1000, MaxPixels: 1e9, MaxMemory: 1 << 40}, "MB"},
		{Limits{MaxBytes: 1e9, MaxPixels: 800*640 - 1, MaxMemory: 1 << 40}, "megapixels"},
		{Limits{MaxBytes: 1e9, MaxPixels: 1e9, MaxMemory: 1 << 20}, "memory"},
	} {
		_, err := Inspect(bytes.NewReader(b), c.lim)
		var p *Problem
		if !errors.As(err, &p) || p.Cause != TooLarge || !strings.Contains(p.Say, c.says) {
			t.Errorf("limits %+v: %v, want a refusal about %s", c.lim, err, c.says)
		}
	}
}

// withICC puts a profile into a JPEG, in two pieces.
func withICC(jpg, icc []byte) []byte {
	out := bytes.Clone(jpg[:2])
	half := len(icc) / 2
	for i, part := range [][]byte{icc[:half], icc[half:]} {
		seg := append([]byte("ICC_PROFILE\x00"), byte(i+1), 2)
		seg = append(seg, part...)
		out = append(out, 0xff, 0xe2)
		out = binary.BigEndian.AppendUint16(out, uint16(len(seg)+2))
		out = append(out, seg...)
	}
	return append(out, jpg[2:]...)
}

func TestProfileOfJPEG(t *testing.T) {
	icc := colour.DisplayP3().ICC()
	m, info, err := Decode(bytes.NewReader(withICC(tiny(t)["JPEG"], icc)), DefaultLimits)
	if err != nil || !info.HasICC || !bytes.Equal(info.ICC, icc) || !bytes.Equal(m.ICC, icc) || m.Profile.IsSRGB() {
		t.Errorf("profile %q, %d bytes kept, %v", info.Profile, len(m.ICC), err)
	}
	m, info, err = Decode(
		bytes.NewReader(withICC(tiny(t)["JPEG"], []byte("no profile at all, only some text"))),
		DefaultLimits,
	)
	if err != nil || len(info.Notes) != 1 || m.Profile != colour.SRGB() || m.ICC != nil {
		t.Errorf("a broken profile: notes %q, profile %q, %v", info.Notes, m.Profile.Name, err)
	}
}

func TestTransparencyBecomesWhite(t *testing.T) {
	src := image.NewNRGBA(image.Rect(0, 0, 2, 1))
	src.SetNRGBA(0, 0, color.NRGBA{10, 20, 30, 0})
	src.SetNRGBA(1, 0, color.NRGBA{10, 20, 30, 255})
	var b bytes.Buffer
	png.Encode(&b, src)
	m, info, err := Decode(bytes.NewReader(b.Bytes()), DefaultLimits)
	if err != nil || fmt.Sprint(m.Pix) != "[255 255 255 255 10 20 30 255]" || len(info.Notes) != 1 {
		t.Errorf("%v, notes %q, %v", m.Pix, info.Notes, err)
	}
}

func FuzzDecode(f *testing.F) {
	for _, b := range tiny(f) {
		f.Add(b)
	}
	for _, name := range []string{"page.png", "test8.heic", "lyra.005.jpg"} {
		f.Add(picture(f, name))
	}
	f.Add(picture(f, "cookbook-page-a.jpg")[:40000])
	f.Add(tiffWith([2]uint32{256, 10}, [2]uint32{257, 10}, [2]uint32{258, 8}, [2]uint32{262, 5}))
	lim := Limits{MaxBytes: 1 << 20, MaxPixels: 1 << 20, MaxMemory: 32 << 20}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 12 && string(b[4:8]) == "ftyp" {
			// The HEIC decoder runs in a sandbox and is slow (FuzzHEIC); its header is ours.
			if _, err := Inspect(bytes.NewReader(b), lim); err != nil {
				checkProblem(t, err)
			}
			return
		}
		m, info, err := Decode(bytes.NewReader(b), lim)
		if err != nil {
			checkProblem(t, err)
			return
		}
		if m.W != info.Width || m.H != info.Height || len(m.Pix) != 4*m.W*m.H || m.Profile == nil {
			t.Fatalf("inconsistent picture %d x %d, header %+v", m.W, m.H, info)
		}
		// What was accepted survives being written and read again.
		var out bytes.Buffer
		if err := png.Encode(&out, m.RGBA()); err != nil {
			t.Fatal(err)
		}
		again, _, err := Decode(bytes.NewReader(out.Bytes()), DefaultLimits)
		if err != nil || !bytes.Equal(again.Pix, m.Pix) {
			t.Fatalf("written as PNG it reads differently: %v", err)
		}
	})
}

func checkProblem(t *testing.T, err error) {
	t.Helper()
	var p *Problem
	if !errors.As(err, &p) || p.Say == "" {
		t.Fatalf("%v is not a Problem", err)
	}
}

func BenchmarkDecode24MP(b *testing.B) {
	file := jpeg24MP(b)
	for b.Loop() {
		if _, _, err := Decode(bytes.NewReader(file), DefaultLimits); err != nil {
			b.Fatal(err)
		}
	}
}

// jpeg24MP is a 6000 by 4000 JPEG made from the 8-megapixel telephone
// photograph side by side with itself, so that it keeps real grain.
func jpeg24MP(t testing.TB) []byte {
	t.Helper()
	m := decoded(t, "cookbook-page-a.jpg")
	wide := image.NewRGBA(image.Rect(0, 0, 6000, 4000))
	for y := range 4000 {
		for x := 0; x < 6000; x += 1 {
			sx, sy := x%(2*m.W), y%(2*m.H)
			if sx >= m.W {
				sx = 2*m.W - 1 - sx
			}
			if sy >= m.H {
				sy = 2*m.H - 1 - sy
			}
			copy(wide.Pix[wide.PixOffset(x, y):][:4], m.Pix[4*(sy*m.W+sx):][:4])
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, wide, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// A progressive JPEG is refused by its scans times its pixels before any of it is
// decoded (markers: ITU-T T.81, annex B).
func TestManyScansAreRefused(t *testing.T) {
	for _, x := range []struct {
		side, scans int
		fine        bool
	}{{7600, 10, true}, {7600, 3000, false}, {800, 100, true}} {
		high, low := byte(x.side>>8), byte(x.side)
		b := []byte{0xff, 0xd8, 0xff, 0xc2, 0, 17, 8, high, low, high, low, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0}
		for range x.scans {
			b = append(b, 0xff, 0xda, 0, 8, 1, 1, 0, 0, 0, 0, 0x55, 0xff, 0)
		}
		b = append(b, 0xff, 0xd9)
		_, err := Inspect(bytes.NewReader(b), Limits{MaxBytes: 1 << 20, MaxPixels: 1 << 30, MaxMemory: 1 << 40})
		var p *Problem
		if refused := errors.As(err, &p) && p.Cause == TooLarge; err != nil != !x.fine || refused == x.fine {
			t.Errorf("%d scans of %d by %d pixels: %v", x.scans, x.side, x.side, err)
		}
	}
}

// The decoder takes the first of several values of a tag from where the entry
// points; so must who bounds it: a width of two values, the first of them 60,000.
func TestAWidthOfSeveralValuesIsReadAsTheDecoderDoes(t *testing.T) {
	b := hostile.New(nil).TIFF(64, 64, 64, 0, 8)
	at := 8 + 2 // the first entry: the width
	le := binary.LittleEndian
	le.PutUint32(b[at+4:], 2)
	le.PutUint32(b[at+8:], uint32(len(b)))
	b = le.AppendUint32(le.AppendUint32(b, 60000), 64)
	info, err := Inspect(bytes.NewReader(b), Limits{MaxBytes: 1 << 20, MaxPixels: 1 << 40, MaxMemory: 1 << 50})
	if err != nil || info.Width != 60000 {
		t.Errorf("the width is read as %d, %v; the decoder takes 60000", info.Width, err)
	}
}

// A HEIC whose coded stream says that it is far larger than its header says gets no
// more memory than the header accounts for.
func TestAHEICStreamLargerThanItsHeaderGetsNoMoreMemory(t *testing.T) {
	m := hostile.New(picture(t, "test8.heic"))
	if _, _, err := Decode(bytes.NewReader(m.Lying(512)), DefaultLimits); err != nil {
		t.Fatalf("with the size that its header says: %v", err) // and the decoder is compiled
	}
	for _, side := range []int{4096, 8192, 16384} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, _, err := Decode(bytes.NewReader(m.Lying(side)), DefaultLimits)
		runtime.ReadMemStats(&after)
		var p *Problem
		if !errors.As(err, &p) || p.Cause != Damaged {
			t.Errorf("%d by %d pixels in the stream of one of 512 by 512: %v, want it refused as damaged", side, side, err)
		}
		if n := (after.TotalAlloc - before.TotalAlloc) >> 20; n > 40 {
			t.Errorf("%d by %d pixels in the stream: %d MB were taken", side, side, n)
		}
	}
}

// Who waits no longer for a HEIC ends its decoder.
func TestAHEICIsNotDecodedForNobody(t *testing.T) {
	file := hostile.New(picture(t, "test8.heic")).HEIC(10, 10, 5120)
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(20*time.Millisecond, cancel)
	if _, _, err := DecodeContext(ctx, bytes.NewReader(file), DefaultLimits); !errors.Is(err, context.Canceled) {
		t.Errorf("it ends with %v, want that nobody waits", err)
	}
	late, cancel := context.WithTimeout(t.Context(), -time.Second)
	defer cancel()
	if _, _, err := DecodeContext(late, bytes.NewReader(file), DefaultLimits); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("it ends with %v, want that its time is up", err)
	}
}

// What a header says that decoding costs is no less than what the decoder and we
// hold at once, as far as that can be counted: the decoder's picture and ours.
func TestCostIsThatOfTheDecodersPicture(t *testing.T) {
	m := hostile.New(picture(t, "test8.heic"))
	for name, tc := range map[string]struct {
		file []byte
		each int64 // bytes a pixel, from the types of package image
	}{
		"grey JPEG":             {hostile.GreyJPEG(640), 1 + 4},
		"scans":                 {hostile.Scans(640, 3), 5},
		"PNG of one bit":        {m.PNG(640, 1, 0, false), 1 + 4},
		"PNG of a palette":      {m.PNG(640, 1, 3, false), 1 + 4},
		"PNG, RGB":              {m.PNG(640, 8, 2, false), 4 + 4},
		"PNG, RGB in passes":    {m.PNG(640, 8, 2, true), 4 + 2 + 4},
		"PNG, 16 bits":          {m.PNG(640, 16, 6, false), 8 + 6},
		"PNG, grey of 16 bits":  {m.PNG(640, 16, 0, false), 6 + 4},
		"TIFF in strips":        {m.TIFF(640, 640, 16, 0, 8), 4 + 4},
		"TIFF of 16 bits":       {m.TIFF(640, 640, 16, 0, 16), 8 + 6},
		"TIFF of one strip":     {m.TIFF(640, 640, 640, 0, 8), 4 + 3*8},
		"HEIC":                  {picture(t, "test8.heic"), 18},
		"HEIC of 2 by 2 tiles":  {m.HEIC(2, 2, 1024), 18},
		"photograph, half size": {picture(t, "cookbook-page-a.jpg"), 1 + 4},
	} {
		img, info, err := Decode(bytes.NewReader(tc.file), DefaultLimits)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := info.DecodeBytes() / int64(img.W*img.H); got < tc.each || got > 2*tc.each {
			t.Errorf("%s: %d bytes a pixel by the header, want %d and not twice as many", name, got, tc.each)
		}
	}
}

// FuzzHEIC changes a HEIC picture, its coded stream too: it is decoded as large as it
// says, or refused, within its time.
func FuzzHEIC(f *testing.F) {
	file := picture(f, "test8.heic")
	f.Add(file, uint16(600), byte(1))
	f.Add(hostile.New(file).Lying(1024), uint16(0), byte(0))
	f.Add(hostile.New(file).HEIC(2, 2, 1024), uint16(900), byte(7))
	lim := Limits{MaxBytes: 1 << 20, MaxPixels: 2 << 20, MaxMemory: 64 << 20}
	if _, err := heifSandbox(); err != nil { // its making is not to count as an input that hangs
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, b []byte, at uint16, x byte) {
		if len(b) == 0 {
			return
		}
		b = bytes.Clone(b)
		b[int(at)%len(b)] ^= x
		began := time.Now()
		m, info, err := Decode(bytes.NewReader(b), lim)
		if err != nil {
			checkProblem(t, err)
		} else if m.W != info.Width || m.H != info.Height || len(m.Pix) != 4*m.W*m.H {
			t.Errorf("inconsistent picture %d x %d, header %+v", m.W, m.H, info)
		}
		if spent := time.Since(began); spent > 2*heifTime(lim.MaxPixels) {
			t.Errorf("it took %v", spent)
		}
	})
}
