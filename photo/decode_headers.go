package photo

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

const maxICC = 16 << 20

// jpegHeader walks the markers up to the frame (ITU-T T.81 annex B).
func jpegHeader(r io.ReadSeeker, info *Info) error {
	if _, err := r.Seek(2, io.SeekStart); err != nil {
		return err
	}
	var icc iccChunks
	for range 2000 {
		marker, n, err := jpegMarker(r)
		if err != nil {
			return err
		}
		switch {
		case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			info.ICC = icc.joined()
			return jpegFrame(r, marker, n, info)
		case marker == 0xd9 || marker == 0xda:
			return refuse(Damaged, "The JPEG picture has no frame: it holds nothing to see.")
		case marker == 0xe2 && n > 14:
			err = icc.add(r, n)
		default:
			_, err = r.Seek(int64(n), io.SeekCurrent)
		}
		if err != nil {
			return err
		}
	}
	return refuse(Damaged, "The JPEG picture has thousands of markers and no frame; it cannot be trusted.")
}

// jpegMarker reads the next marker and the length of what follows it.
func jpegMarker(r io.Reader) (marker byte, n int, err error) {
	var b [4]byte
	if _, err := io.ReadFull(r, b[:2]); err != nil {
		return 0, 0, err
	}
	if b[0] != 0xff {
		return 0, 0, refuse(Damaged, "The JPEG picture is damaged near its beginning; copy it again from the camera.")
	}
	for b[1] == 0xff { // fill bytes
		if _, err := io.ReadFull(r, b[1:2]); err != nil {
			return 0, 0, err
		}
	}
	if b[1] == 0xd9 || b[1] >= 0xd0 && b[1] <= 0xd8 || b[1] == 1 {
		return b[1], 0, nil
	}
	if _, err := io.ReadFull(r, b[2:]); err != nil {
		return 0, 0, err
	}
	n = int(binary.BigEndian.Uint16(b[2:])) - 2
	if n < 0 {
		return 0, 0, refuse(Damaged, "The JPEG picture is damaged near its beginning; copy it again from the camera.")
	}
	return b[1], n, nil
}

func jpegFrame(r io.Reader, marker byte, n int, info *Info) error {
	b := make([]byte, min(n, 6+3*4))
	if _, err := io.ReadFull(r, b); err != nil {
		return err
	}
	if len(b) < 9 {
		return refuse(Damaged, "The JPEG picture's frame is damaged; copy it again from the camera.")
	}
	if marker > 0xc2 {
		return refuse(
			Unsupported,
			"This JPEG is lossless, arithmetic or hierarchical, which is not read; save it as an ordinary JPEG.",
		)
	}
	info.BitDepth = int(b[0])
	if info.BitDepth != 8 {
		return refuse(
			Unsupported,
			"This JPEG has %d bits a sample; 8 are read. Save it as an ordinary JPEG or a 16-bit TIFF.",
			info.BitDepth,
		)
	}
	info.Height, info.Width = int(binary.BigEndian.Uint16(b[1:])), int(binary.BigEndian.Uint16(b[3:]))
	pixels := int64(info.Width) * int64(info.Height)
	components := int64(b[5])
	switch components {
	case 1:
		info.ColourModel = "grey"
	case 3:
		info.ColourModel = "colour"
	case 4:
		info.ColourModel = "CMYK"
	default:
		return refuse(Unsupported, "This JPEG has %d colour channels; 1, 3 or 4 are read.", components)
	}
	// The decoder's planes, CMYK's second copy, then RGBA.
	planes := components
	if components == 4 {
		planes = 8
	}
	info.memory = pixels * (planes + 4)
	if marker == 0xc2 { // coefficients of 4 bytes beside the planes
		info.memory = pixels * max(5*components, planes+4)
		return checkScans(r, pixels)
	}
	return nil
}

// maxScanPixels bounds the work of a progressive JPEG, whose decoder goes over all
// of the picture in each scan. Encoders write about ten scans; a small file can
// hold thousands.
const maxScanPixels = 2_000_000_000

// checkScans counts the scans of a progressive JPEG. Within a scan 0xff is
// followed by 0 or a restart marker only.
func checkScans(r io.Reader, pixels int64) error {
	in := bufio.NewReaderSize(r, 64<<10)
	scans, last := int64(0), byte(0)
	for {
		b, err := in.ReadByte()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if last == 0xff && b == 0xda {
			scans++
		}
		if last = b; scans*pixels > maxScanPixels && scans > 1 {
			return refuse(TooLarge, "This progressive JPEG goes over its picture too many times, which takes "+
				"minutes to "+
				"read; save it as an ordinary JPEG.")
		}
	}
}

// iccChunks joins the profile that a JPEG carries in pieces (ICC.1:2010 annex
// B.4).
type iccChunks struct {
	parts map[byte][]byte
	total int
	count byte
}

func (c *iccChunks) add(r io.Reader, n int) error {
	b := make([]byte, n)
	if _, err := io.ReadFull(r, b); err != nil {
		return err
	}
	if !bytes.HasPrefix(b, []byte("ICC_PROFILE\x00")) || c.total > maxICC {
		return nil
	}
	if c.parts == nil {
		c.parts = map[byte][]byte{}
	}
	c.count = b[13]
	c.parts[b[12]] = b[14:]
	c.total += n
	return nil
}

func (c *iccChunks) joined() []byte {
	var out []byte
	for i := 1; i <= int(c.count); i++ {
		part, ok := c.parts[byte(i)]
		if !ok {
			return nil
		}
		out = append(out, part...)
	}
	return out
}

// pngHeader reads the chunks up to the first picture data (ISO/IEC 15948).
func pngHeader(r io.ReadSeeker, info *Info) error {
	if _, err := r.Seek(8, io.SeekStart); err != nil {
		return err
	}
	for i := range 2000 {
		var b [8]byte
		if _, err := io.ReadFull(r, b[:]); err != nil {
			return err
		}
		n := int64(binary.BigEndian.Uint32(b[:]))
		name := string(b[4:])
		if (i == 0) != (name == "IHDR") || n > 1<<31 {
			return refuse(Damaged, "The PNG picture is damaged near its beginning; copy it again.")
		}
		used := int64(0)
		switch name {
		case "IHDR":
			var h [13]byte
			if _, err := io.ReadFull(r, h[:]); err != nil {
				return err
			}
			used = 13
			pngFrame(h, info)
		case "iCCP":
			if n > maxICC {
				break
			}
			p := make([]byte, n)
			if _, err := io.ReadFull(r, p); err != nil {
				return err
			}
			used = n
			info.ICC = pngICC(p)
		case "IDAT", "IEND":
			return nil
		}
		if _, err := r.Seek(n-used+4, io.SeekCurrent); err != nil {
			return err
		}
	}
	return refuse(Damaged, "The PNG picture has thousands of chunks and no picture data; it cannot be trusted.")
}

func pngFrame(h [13]byte, info *Info) {
	w, ht := binary.BigEndian.Uint32(h[:]), binary.BigEndian.Uint32(h[4:])
	info.Width, info.Height = int(min(w, 1<<31)), int(min(ht, 1<<31))
	info.BitDepth = int(h[8])
	info.ColourModel = "colour"
	if h[9] == 0 || h[9] == 4 {
		info.ColourModel = "grey"
	}
	perPixel := int64(8) // decoder's RGBA or NRGBA, then ours
	if info.BitDepth == 16 {
		perPixel = 8 + 6 + 4
	}
	info.memory = satMul(perPixel, int64(info.Width), int64(info.Height))
}

// satMul multiplies positive numbers and stops at the largest int64.
func satMul(a, b, c int64) int64 {
	const most = 1<<63 - 1
	if b != 0 && a > most/b {
		return most
	}
	if c != 0 && a*b > most/c {
		return most
	}
	return a * b * c
}

func pngICC(p []byte) []byte {
	i := bytes.IndexByte(p, 0)
	if i < 0 || i+2 > len(p) {
		return nil
	}
	z, err := zlib.NewReader(bytes.NewReader(p[i+2:]))
	if err != nil {
		return nil
	}
	defer z.Close()
	out, err := io.ReadAll(io.LimitReader(z, maxICC+1))
	if err != nil || len(out) > maxICC {
		return nil
	}
	return out
}

// The TIFF tags that matter here (TIFF 6.0, TIFF/EP, ICC.1 annex B.5).
const (
	tiffSubfile     = 254
	tiffWidth       = 256
	tiffHeight      = 257
	tiffBits        = 258
	tiffCompression = 259
	tiffPhotometric = 262
	tiffSamples     = 277
	tiffPlanar      = 284
	tiffSubIFDs     = 330
	tiffICC         = 34675
	tiffDNGVersion  = 50706
)

// tiffHeader reads the first directory.
func tiffHeader(r io.ReadSeeker, size int64, info *Info) error {
	at := &seekReaderAt{r}
	var b [8]byte
	if _, err := at.ReadAt(b[:], 0); err != nil {
		return err
	}
	var order binary.ByteOrder = binary.LittleEndian
	if b[0] == 'M' {
		order = binary.BigEndian
	}
	dir := int64(order.Uint32(b[4:]))
	if _, err := at.ReadAt(b[:2], dir); err != nil {
		return err
	}
	entries := make([]byte, 12*int(order.Uint16(b[:2])))
	if _, err := at.ReadAt(entries, dir+2); err != nil {
		return err
	}
	tag := map[uint16]int64{}
	for e := entries; len(e) > 0; e = e[12:] {
		id, typ, count := order.Uint16(e), order.Uint16(e[2:]), int64(order.Uint32(e[4:]))
		switch {
		case id == tiffICC && count <= maxICC && count > 4:
			icc := make([]byte, min(count, size))
			if _, err := at.ReadAt(icc, int64(order.Uint32(e[8:]))); err == nil {
				info.ICC = icc
			}
		case typ == 3 && count == 1:
			tag[id] = int64(order.Uint16(e[8:]))
		case typ == 3 && count == 2: // two values inside, all equal in use
			tag[id] = int64(order.Uint16(e[8:]))
		case typ == 3 && id == tiffBits: // three or more, elsewhere
			var v [2]byte
			if _, err := at.ReadAt(v[:], int64(order.Uint32(e[8:]))); err != nil {
				return err
			}
			tag[id] = int64(order.Uint16(v[:]))
		case typ == 4 || id == tiffDNGVersion:
			tag[id] = int64(order.Uint32(e[8:]))
		}
	}
	return tiffFrame(tag, info)
}

func tiffFrame(tag map[uint16]int64, info *Info) error {
	_, raw := tag[tiffDNGVersion]
	_, sub := tag[tiffSubIFDs]
	if raw || sub && tag[tiffSubfile]&1 == 1 {
		return refuse(Unsupported, rawCameraSay)
	}
	info.Width, info.Height = int(tag[tiffWidth]), int(tag[tiffHeight])
	info.BitDepth = int(max(1, tag[tiffBits]))
	switch p := tag[tiffPhotometric]; p {
	case 0, 1:
		info.ColourModel = "grey"
	case 2, 3:
		info.ColourModel = "colour"
	case 5:
		return refuse(
			Unsupported,
			"This TIFF holds printing colours (CMYK), from which the paper's colour cannot be told; save it as RGB.",
		)
	default:
		return refuse(
			Unsupported,
			"This TIFF holds its colours in a way that is not read (photometric %d); save it as RGB.",
			p,
		)
	}
	if tag[tiffPlanar] == 2 && tag[tiffSamples] > 1 {
		return refuse(
			Unsupported,
			"This TIFF holds its colours in separate planes, which is not read; save it interleaved.",
		)
	}
	switch c := tag[tiffCompression]; c {
	case 0, 1, 2, 3, 4, 5, 8, 32773, 32946:
	default:
		return refuse(
			Unsupported,
			"This TIFF is compressed in a way that is not read (%s); save it uncompressed or with LZW or ZIP.",
			tiffCompressionName(c),
		)
	}
	perPixel := int64(12) // the decoder's pixels and at worst one strip with all of it
	if info.BitDepth > 8 {
		perPixel = 18
	}
	info.memory = satMul(perPixel, int64(info.Width), int64(info.Height))
	return nil
}

func tiffCompressionName(c int64) string {
	switch c {
	case 6, 7:
		return "JPEG inside TIFF"
	case 34713:
		return "raw camera data"
	case 50000:
		return "Zstandard"
	}
	return fmt.Sprintf("number %d", c)
}
