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
	ycc := true
	for range 2000 {
		marker, n, err := jpegMarker(r)
		if err != nil {
			return err
		}
		switch {
		case marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			info.ICC = icc.joined()
			return jpegFrame(r, marker, n, info, ycc)
		case marker == 0xd9 || marker == 0xda:
			return refuse(Damaged, "The JPEG picture has no frame: it holds nothing to see.")
		case marker == 0xe2 && n > 14:
			err = icc.add(r, n)
		case marker == 0xee && n >= 12: // Adobe: the last byte is 0 for RGB and CMYK
			b := make([]byte, n)
			if _, err := io.ReadFull(r, b); err != nil {
				return err
			}
			ycc = string(b[:5]) != "Adobe" || b[11] != 0
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

// jpegFrame reads the frame; ycc is false where the file says that its three
// components are not luma and chroma.
func jpegFrame(r io.Reader, marker byte, n int, info *Info, ycc bool) error {
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
	samples, err := jpegSamples(b[6:], info)
	if err != nil {
		return err
	}
	pixels := satMul(1, int64(info.Width), int64(info.Height))
	// The decoder's planes, then RGBA. CMYK, and JPEG that holds RGB itself, are
	// copied together in between.
	info.memory = samples + 4*pixels
	if components == 4 || components == 3 && (b[6] == 'R' || !ycc) {
		info.memory += 4 * pixels
	}
	if marker == 0xc2 { // coefficients of 4 bytes beside the planes
		info.memory = max(info.memory, 5*samples)
	}
	return checkScans(r, pixels)
}

// jpegSamples counts the samples of all components, in whole blocks (ITU-T T.81,
// A.1.1), from the frame's list of components.
func jpegSamples(list []byte, info *Info) (int64, error) {
	var most, sum int64 = 1, 0
	var h, v int64
	for i := 0; i+2 < len(list); i += 3 {
		ch, cv := int64(list[i+1]>>4), int64(list[i+1]&15)
		if ch < 1 || ch > 4 || cv < 1 || cv > 4 {
			return 0, refuse(Damaged, "The JPEG picture's frame is damaged; copy it again from the camera.")
		}
		h, v, sum = max(h, ch), max(v, cv), sum+ch*cv
	}
	if len(list) <= 3 { // one component is not interleaved
		h, v, sum = 1, 1, 1
	}
	most = h * v
	across, down := (int64(info.Width)+8*h-1)/(8*h)*8*h, (int64(info.Height)+8*v-1)/(8*v)*8*v
	return across * down * sum / most, nil
}

// maxScanPixels bounds the work of a JPEG whose decoder goes over all of the
// picture in each scan. Encoders write about ten scans; a small file can hold
// thousands.
const maxScanPixels = 1_200_000_000

// checkScans walks the markers after the frame and counts the scans. Within a scan
// 0xff is followed by 0, by 0xff or by a restart marker only. What comes after the
// end of the picture, such as a film, is not read.
func checkScans(r io.Reader, pixels int64) error {
	in := bufio.NewReaderSize(r, 64<<10)
	for scans, marker := int64(0), byte(0); ; {
		if marker == 0 {
			b, err := in.ReadByte()
			if err == nil && b == 0xff {
				marker, err = in.ReadByte()
			}
			if errors.Is(err, io.EOF) {
				return nil // that the picture breaks off, its decoder says
			}
			if err != nil {
				return err
			}
		}
		switch {
		case marker == 0, marker >= 0xd0 && marker <= 0xd8, marker == 1:
			marker = 0
			continue
		case marker == 0xff:
			if err := in.UnreadByte(); err != nil {
				return err
			}
			marker = 0
			continue
		case marker == 0xd9:
			return nil
		case marker == 0xda:
			if scans++; scans*pixels > maxScanPixels && scans > 1 {
				return refuse(TooLarge, "This JPEG goes over its picture too many times, which takes minutes to read; "+
					"save it as an ordinary JPEG.")
			}
		}
		marker = 0
		var n [2]byte
		if _, err := io.ReadFull(in, n[:]); err != nil {
			return ended(err)
		}
		if _, err := in.Discard(max(0, int(binary.BigEndian.Uint16(n[:]))-2)); err != nil {
			return ended(err)
		}
	}
}

// ended makes of a file's end no error: what is missing, its decoder says.
func ended(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return nil
	}
	return err
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
	var h [13]byte
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
			if _, err := io.ReadFull(r, h[:]); err != nil {
				return err
			}
			used = 13
			pngFrame(h, info)
		case "tRNS":
			info.pngCost(h[9], h[12] == 1, true)
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
	info.pngCost(h[9], h[12] == 1, false)
}

// pngCost says what decoding costs, by the type of colour (ISO/IEC 15948, table
// 11.1): with a colour that is transparent all are spread out; in passes, half of
// the pixels stand once more beside the rest.
func (info *Info) pngCost(colourType byte, passes, clear bool) {
	decoder := int64(4)
	if colourType == 3 || colourType == 0 && !clear {
		decoder = 1
	}
	if info.BitDepth == 16 {
		decoder = 8
		if colourType == 0 && !clear {
			decoder = 2
		}
	}
	if passes {
		decoder += (decoder + 1) / 2
	}
	info.pixelCost(decoder)
}

// pixelCost says what decoding costs, by the bytes a pixel of the decoder: they
// stand beside ours, of sixteen bits first where there are as many, then beside
// the 8-bit ones.
func (info *Info) pixelCost(decoder int64) {
	each := decoder + 4
	if info.BitDepth == 16 {
		each = max(decoder+6, 6+4)
	}
	info.memory = satMul(each, int64(info.Width), int64(info.Height))
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
	tiffSubfile      = 254
	tiffWidth        = 256
	tiffHeight       = 257
	tiffBits         = 258
	tiffCompression  = 259
	tiffPhotometric  = 262
	tiffSamples      = 277
	tiffRowsPerStrip = 278
	tiffPlanar       = 284
	tiffTileWidth    = 322
	tiffTileLength   = 323
	tiffSubIFDs      = 330
	tiffICC          = 34675
	tiffDNGVersion   = 50706
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
	last := -1
	for e := entries; len(e) > 0; e = e[12:] {
		id, typ, count := order.Uint16(e), order.Uint16(e[2:]), int64(order.Uint32(e[4:]))
		if int(id) <= last { // TIFF 6.0, section 2: in ascending order, so each once
			return refuse(Damaged, "The TIFF picture's list of tags is damaged; copy it again.")
		}
		last = int(id)
		if id == tiffICC && count <= maxICC && count > 4 {
			icc := make([]byte, min(count, size))
			if _, err := at.ReadAt(icc, int64(order.Uint32(e[8:]))); err == nil {
				info.ICC = icc
			}
			continue
		}
		v, ok, err := tiffFirst(at, order, typ, count, e[8:12])
		if err != nil {
			return err
		}
		if ok {
			tag[id] = v
		}
	}
	return tiffFrame(tag, info)
}

// tiffFirst is the first value of an entry of the directory: it stands in the
// entry itself where all of them fit, else where the entry points.
func tiffFirst(
	at io.ReaderAt, order binary.ByteOrder, typ uint16, count int64, field []byte,
) (v int64, ok bool, err error) {
	size := map[uint16]int64{1: 1, 3: 2, 4: 4}[typ] // BYTE, SHORT, LONG
	if size == 0 || count == 0 {
		return 0, false, nil
	}
	b := bytes.Clone(field)
	if size*count > 4 {
		n, err := at.ReadAt(b[:size], int64(order.Uint32(field)))
		if err != nil && int64(n) < size {
			if errors.Is(err, io.EOF) {
				return 0, false, nil // one that nobody reads may point anywhere; the others lack then
			}
			return 0, false, err
		}
	}
	switch size {
	case 1:
		return int64(b[0]), true, nil
	case 2:
		return int64(order.Uint16(b)), true, nil
	}
	return int64(order.Uint32(b)), true, nil
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
	return tiffCost(tag, info)
}

// maxTIFFBlocks bounds the strips or tiles, each of which costs its decoder a
// start of its own. A tile of 64 by 64 pixels, the smallest that is usual, divides
// 120 megapixels into half of it.
const maxTIFFBlocks = 1 << 16

// tiffCost bounds the strips or tiles, and what they cost: the decoder unpacks one
// at a time into up to 8 bytes a pixel, in a buffer that doubles as it grows.
func tiffCost(tag map[uint16]int64, info *Info) error {
	w, h := int64(info.Width), int64(info.Height)
	if w <= 0 || h <= 0 || satMul(1, w, h) > 1<<40 {
		return nil // checkSize says so
	}
	bw, bh := w, h
	switch {
	case tag[tiffTileWidth] > 0:
		bw, bh = tag[tiffTileWidth], max(1, tag[tiffTileLength])
	case tag[tiffRowsPerStrip] > 0:
		bh = min(h, tag[tiffRowsPerStrip])
	}
	if blocks := satMul(1, (w+bw-1)/bw, (h+bh-1)/bh); blocks > maxTIFFBlocks {
		return refuse(
			TooLarge,
			"This TIFF is cut into %d pieces; up to %d are read. Save it with larger strips or tiles.",
			blocks,
			maxTIFFBlocks,
		)
	}
	decoder := int64(4)
	switch {
	case info.BitDepth > 8:
		decoder = 8
	case info.ColourModel == "grey" || tag[tiffPhotometric] == 3:
		decoder = 1
	}
	info.pixelCost(decoder)
	each := int64(32)
	if c := tag[tiffCompression]; c == 0 || c == 1 {
		// Read as it lies in the file, in a buffer that grows by quarters.
		each = (9*decoder + 3) / 4
	}
	block := satMul(each, bw, bh)
	if block > 1<<60 || info.memory > 1<<60 {
		info.memory = 1 << 62
		return nil
	}
	// The buffer is let go of before ours is made.
	pixels := w * h
	info.memory = max(info.memory, decoder*pixels+block)
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
