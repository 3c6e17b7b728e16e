package photo

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"time"

	"benchleaf/colour"

	"golang.org/x/image/tiff"
)

// Limits bound what one picture may cost before any of it is spent.
type Limits struct {
	// MaxBytes is the largest file read.
	MaxBytes int64
	// MaxPixels is the largest width times height.
	MaxPixels int64
	// MaxMemory bounds the bytes held at once while one picture is decoded, by
	// the header's word: decoder, its buffers and the finished Image. The file
	// itself, where a decoder wants it whole (HEIC), comes on top.
	MaxMemory int64
}

// DefaultLimits takes any picture of today's cameras: 300 MB, 120 megapixels,
// 1 GiB while decoding. Ordinary JPEG costs at most 9 bytes a pixel, so all
// 120 megapixels pass; progressive JPEG and 16-bit TIFF cost about twice that
// and pass up to about 60 megapixels.
var DefaultLimits = Limits{MaxBytes: 300 << 20, MaxPixels: 120_000_000, MaxMemory: 1 << 30}

// Info is what a picture's header says.
type Info struct {
	// Format is JPEG, PNG, TIFF or HEIC, by content, never by file name.
	Format string
	// Width and Height are in pixels, upright.
	Width, Height int
	// Orientation is the EXIF value 1 to 8 that was found; impossible values
	// count as 1. HEIC turns its pictures by other means, so 1 there.
	Orientation int
	// Taken is the camera's time. Without TakenZoneKnown it is a wall clock
	// reading of unknown zone, given as UTC.
	Taken          time.Time
	TakenKnown     bool
	TakenZoneKnown bool
	// Camera is maker and model, or "".
	Camera string
	// HasICC says that the file carries a colour profile, ICC holds its bytes.
	HasICC bool
	ICC    []byte
	// Profile names the profile by which the values are read.
	Profile string
	// BitDepth is the bits of one sample in the file.
	BitDepth int
	// ColourModel is "colour", "grey" or "CMYK".
	ColourModel string
	// Notes are sentences for the person about what was taken on trust, such
	// as a profile that could not be used.
	Notes []string

	profile    *colour.Profile
	ownProfile bool  // profile was read from ICC
	memory     int64 // what decoding costs, in bytes
}

// DecodeBytes is the memory that decoding takes, the finished Image included, by
// the header's word.
func (info *Info) DecodeBytes() int64 { return info.memory }

// Image is a decoded picture, upright, without transparency.
type Image struct {
	W, H int
	// Pix holds red, green, blue and 255 for each pixel, row by row without
	// gaps: pixel (x, y) starts at 4*(y*W+x). The values are as stored, in the
	// space of Profile, not converted.
	Pix []uint8
	// Deep holds the full red, green and blue of a 16-bit source, three values
	// a pixel; nil otherwise.
	Deep []uint16
	// Profile says what the values mean. Never nil.
	Profile *colour.Profile
	// ICC holds the file's profile when Profile was read from it and is for
	// colour: a grey profile does not fit these pixels.
	ICC []byte
}

// DropDeep lets go of the sixteen bits, which Compare and FindStains do not read.
func (m *Image) DropDeep() { m.Deep = nil }

// RGBA returns the 8-bit pixels as a standard image that shares Pix.
func (m *Image) RGBA() *image.RGBA {
	return &image.RGBA{Pix: m.Pix, Stride: 4 * m.W, Rect: image.Rect(0, 0, m.W, m.H)}
}

// FromImage copies a standard image, taken for sRGB, into an Image.
func FromImage(src image.Image) *Image {
	out, _ := toImage(src, 1, colour.SRGB())
	return out
}

// Cause sorts the reasons for which a picture is refused.
type Cause int

// The causes.
const (
	Empty       Cause = iota + 1 // no bytes at all
	TooLarge                     // above a limit
	NotPicture                   // some other kind of file
	Unsupported                  // a picture of a kind that is not read
	Damaged                      // breaks off, or contradicts itself
)

// Problem is the refusal of a picture. Say is one sentence for a person; Err
// is the decoder's own word, for the log, or nil.
type Problem struct {
	Cause Cause
	Say   string
	Err   error
}

func (p *Problem) Error() string { return p.Say }

// Unwrap returns the decoder's error.
func (p *Problem) Unwrap() error { return p.Err }

func refuse(c Cause, format string, args ...any) *Problem {
	return &Problem{Cause: c, Say: fmt.Sprintf(format, args...)}
}

// guard turns a panic of a decoder into a Problem. Decoders are other people's
// code on a stranger's bytes; this is the one place where a panic is caught.
func guard(err *error) {
	if r := recover(); r != nil {
		*err = &Problem{
			Damaged,
			"The picture breaks off or is damaged; copy it again from the camera.",
			fmt.Errorf("decoder panic: %v", r),
		}
	}
}

// asProblem gives a decoder's error its sentence. Errors of the reader itself
// come through as they are.
func asProblem(format string, err error) error {
	var p *Problem
	if err == nil || errors.As(err, &p) {
		return err
	}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return &Problem{
			Damaged,
			"The " + format + " picture breaks off or is damaged; copy it again from the camera.",
			err,
		}
	}
	var ju jpeg.UnsupportedError
	var pu png.UnsupportedError
	var tu tiff.UnsupportedError
	if errors.As(err, &ju) || errors.As(err, &pu) || errors.As(err, &tu) {
		return &Problem{
			Unsupported,
			"This kind of " + format + " is not read; save it as an ordinary RGB " + format + ".",
			err,
		}
	}
	var jf jpeg.FormatError
	var pf png.FormatError
	var tf tiff.FormatError
	if errors.As(err, &jf) || errors.As(err, &pf) || errors.As(err, &tf) || errors.Is(err, errHeif) {
		return &Problem{
			Damaged,
			"The " + format + " picture breaks off or is damaged; copy it again from the camera.",
			err,
		}
	}
	return &Problem{Damaged, "The " + format + " picture could not be decoded; copy it again from the camera.", err}
}

// Inspect reads a picture's header: its kind, size, time and profile. It
// spends little memory whatever the file claims. The error is a *Problem
// except when r itself fails.
func Inspect(r io.ReadSeeker, lim Limits) (info Info, err error) {
	defer guard(&err)
	kind, size, err := sniff(r)
	if err != nil {
		return Info{}, err
	}
	if size > lim.MaxBytes {
		return Info{}, refuse(
			TooLarge,
			"The file has %d MB; pictures up to %d MB are read.",
			(size+1<<20-1)>>20,
			lim.MaxBytes>>20,
		)
	}
	if kind == heicFile {
		err = heicHeader(r, size, &info)
	} else {
		switch info.Orientation = 1; kind {
		case jpegFile:
			err = jpegHeader(r, &info)
		case pngFile:
			err = pngHeader(r, &info)
		case tiffFile:
			err = tiffHeader(r, size, &info)
		}
	}
	if err != nil {
		return Info{}, asProblem(string(kind), err)
	}
	info.Format = string(kind)
	if err := checkSize(info, lim); err != nil {
		return Info{}, err
	}
	readTags(r, kind, &info)
	if info.Orientation >= 5 {
		info.Width, info.Height = info.Height, info.Width
	}
	info.chooseProfile()
	return info, nil
}

func checkSize(info Info, lim Limits) error {
	w, h := int64(info.Width), int64(info.Height)
	if w <= 0 || h <= 0 {
		return refuse(Damaged, "The picture says it is %d by %d pixels; it holds nothing to see.", w, h)
	}
	if w > 1<<30 || h > 1<<30 || w*h > lim.MaxPixels {
		return refuse(TooLarge, "The picture is %d by %d pixels, %d megapixels; pictures up to %d megapixels are read.",
			w, h, w*h/1_000_000, lim.MaxPixels/1_000_000)
	}
	if info.memory > lim.MaxMemory {
		return refuse(
			TooLarge,
			"The picture is %d by %d pixels and, as a %s, would need %d MB of memory; at most %d MB are given. Save "+
				"it as an ordinary 8-bit JPEG.",
			w,
			h,
			info.kindInWords(),
			info.memory>>20,
			lim.MaxMemory>>20,
		)
	}
	return nil
}

func (info Info) kindInWords() string {
	if info.BitDepth > 8 {
		return fmt.Sprintf("%d-bit %s", info.BitDepth, info.Format)
	}
	if info.Format == string(jpegFile) {
		return "progressive JPEG"
	}
	return info.Format
}

// Decode reads a picture upright, with its header's Info. Memory is bounded by
// lim.MaxMemory as Limits describes. The error is a *Problem except when r
// itself fails.
func Decode(r io.ReadSeeker, lim Limits) (*Image, Info, error) {
	return DecodeContext(context.Background(), r, lim)
}

// DecodeContext is Decode until ctx ends, which ends the decoder of HEIC; the others
// end with the reading of r, which is theirs to end.
func DecodeContext(ctx context.Context, r io.ReadSeeker, lim Limits) (img *Image, info Info, err error) {
	defer guard(&err)
	info, err = Inspect(r, lim)
	if err != nil {
		return nil, Info{}, err
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, Info{}, err
	}
	var src image.Image
	switch kind(info.Format) {
	case jpegFile:
		src, err = jpeg.Decode(r)
	case pngFile:
		src, err = png.Decode(r)
	case tiffFile:
		src, err = tiff.Decode(readAtOnly(r))
	case heicFile:
		var file []byte
		if file, err = io.ReadAll(io.LimitReader(r, lim.MaxBytes)); err == nil {
			src, err = decodeHeif(ctx, file, int64(info.Width)*int64(info.Height))
		}
	}
	if ctx.Err() != nil {
		return nil, Info{}, ctx.Err()
	}
	if err != nil {
		return nil, Info{}, asProblem(info.Format, err)
	}
	b := src.Bounds()
	if info.Format == string(heicFile) {
		// Cropping and turning are the decoder's business here.
		info.Width, info.Height = b.Dx(), b.Dy()
		if err := checkSize(info, lim); err != nil {
			return nil, Info{}, err
		}
	}
	w, h := info.Width, info.Height
	if info.Orientation >= 5 {
		w, h = h, w
	}
	// A header that says one size over data that hold another would have
	// passed the limits on a lie.
	if b.Dx() != w || b.Dy() != h {
		return nil, Info{}, refuse(
			Damaged,
			"The picture's header says %d by %d pixels and its data hold %d by %d; it cannot be trusted.",
			w,
			h,
			b.Dx(),
			b.Dy(),
		)
	}
	img, clear := toImage(src, info.Orientation, info.profile)
	if clear {
		info.Notes = append(info.Notes, "Transparent parts of the picture are shown white.")
	}
	if info.ownProfile && !info.profile.Grey {
		img.ICC = info.ICC
	}
	return img, info, nil
}

// kind is a picture format, named as in Info.Format.
type kind string

const (
	jpegFile kind = "JPEG"
	pngFile  kind = "PNG"
	tiffFile kind = "TIFF"
	heicFile kind = "HEIC"
)

// sniff tells what a file is by its first bytes and how long it is.
func sniff(r io.ReadSeeker) (kind, int64, error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return "", 0, err
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return "", 0, err
	}
	if size == 0 {
		return "", 0, refuse(Empty, "The file is empty: 0 bytes. The copy from the camera did not finish.")
	}
	var head [32]byte
	n, err := io.ReadFull(r, head[:])
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return "", 0, err
	}
	k, err := kindOf(head[:n])
	return k, size, err
}

const (
	rawCamera    = "a raw camera file"
	rawCameraSay = "The file is a raw camera file; develop it to a 16-bit TIFF or a JPEG first."
)

// others are files that are no picture of ours, by how they begin.
var others = []struct {
	offset int
	magic  string
	is     string
}{
	{0, "MZ", "a program"},
	{0, "\x7fELF", "a program"},
	{0, "\xcf\xfa\xed\xfe", "a program"},
	{0, "#!", "a script"},
	{0, "%PDF", "a PDF document"},
	{0, "PK\x03\x04", "a zip archive or office document"},
	{0, "GIF8", "a GIF picture"},
	{0, "BM", "a BMP picture"},
	{8, "WEBP", "a WebP picture"},
	{0, "8BPS", "a layered picture of an image editor"},
	{0, "II+\x00", "a BigTIFF picture"},
	{0, "MM\x00+", "a BigTIFF picture"},
	{8, "CR\x02", rawCamera},
	{0, "FUJIFILMCCD-RAW", rawCamera},
	{4, "ftypcrx", rawCamera},
	{4, "ftypavi", "an AVIF picture"},
	{4, "ftypmp4", "a film"},
	{4, "ftypisom", "a film"},
	{4, "ftypqt", "a film"},
	{0, "<svg", "a drawing"},
	{0, "<!DOCTYPE", "a web page"},
	{0, "<html", "a web page"},
}

func kindOf(head []byte) (kind, error) {
	at := func(offset int, magic string) bool {
		return len(head) >= offset+len(magic) && string(head[offset:offset+len(magic)]) == magic
	}
	for _, o := range others {
		if at(o.offset, o.magic) {
			if o.is == rawCamera {
				return "", refuse(Unsupported, rawCameraSay)
			}
			return "", refuse(
				NotPicture,
				"The file is %s, whatever its name says; JPEG, PNG, TIFF and HEIC pictures are read.",
				o.is,
			)
		}
	}
	switch {
	case at(0, "\xff\xd8\xff"):
		return jpegFile, nil
	case at(0, "\x89PNG\r\n\x1a\n"):
		return pngFile, nil
	case at(0, "II*\x00"), at(0, "MM\x00*"):
		return tiffFile, nil
	}
	for _, brand := range []string{"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1"} {
		if at(4, "ftyp"+brand) {
			return heicFile, nil
		}
	}
	return "", refuse(NotPicture, "The file is not a picture that can be read; JPEG, PNG, TIFF and HEIC are.")
}

// readAtOnly gives the TIFF decoder random access without a copy of the file.
func readAtOnly(r io.ReadSeeker) io.Reader {
	if _, ok := r.(io.ReaderAt); ok {
		return r
	}
	return &seekReaderAt{r}
}

// seekReaderAt serves ReadAt by seeking; for one goroutine.
type seekReaderAt struct{ io.ReadSeeker }

func (s *seekReaderAt) ReadAt(p []byte, off int64) (int, error) {
	if _, err := s.Seek(off, io.SeekStart); err != nil {
		return 0, err
	}
	n, err := io.ReadFull(s.ReadSeeker, p)
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = io.EOF
	}
	return n, err
}
