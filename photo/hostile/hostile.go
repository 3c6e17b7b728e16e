// Package hostile makes pictures that ask their reader for more than they are
// worth: small files that claim, or unfold into, hundreds of megapixels, thousands
// of passes, tiles or tags. Tests alone use it.
package hostile

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"strconv"
)

// Picture is a file to be sent as a photograph.
type Picture struct {
	Name string
	File []byte
}

// Maker makes pictures from a HEIC picture of one coded item, as
// photo/testdata/test8.heic is.
type Maker struct {
	// Most bounds the zeros that a picture unfolds into, where its header is enough;
	// 0: all that it claims.
	Most int

	heic []byte
	rows map[int][]byte // zeros of so many bytes, compressed
}

// New returns a maker.
func New(heic []byte) *Maker { return &Maker{heic: heic, rows: map[int][]byte{}} }

// Kinds is how many kinds of picture there are.
const Kinds = 20

// At makes the nth picture: the kinds in turn, in sizes that follow from n.
func (m *Maker) At(n int) Picture {
	r := rand.New(rand.NewPCG(uint64(n), 7))
	name := func(s string) string { return strconv.Itoa(n) + "-" + s }
	side := []int{1200, 3000, 5000, 7000, 9000, 10900}[n/Kinds%6]
	switch n % Kinds {
	case 0:
		return Picture{name("scans.jpg"), Scans(side, 3000)}
	case 1:
		return Picture{name("few-scans.jpg"), Scans(side, 12)}
	case 2:
		return Picture{name("claims.jpg"), Scans(side, 0)}
	case 3:
		return Picture{name("grey.jpg"), GreyJPEG(side)}
	case 4:
		return Picture{name("deep.png"), m.PNG(side, 16, 6, false)}
	case 5:
		return Picture{name("deep-passes.png"), m.PNG(side, 16, 2, true)}
	case 6:
		return Picture{name("bits.png"), m.PNG(side, 1, 0, false)}
	case 7:
		return Picture{name("palette.png"), m.PNG(side, 1, 3, false)}
	case 8:
		return Picture{name("passes.png"), m.PNG(side, 8, 2, true)}
	case 9:
		return Picture{name("profile.png"), m.ProfileBomb()}
	case 10:
		return Picture{name("strip.tiff"), m.TIFF(side, side, side, 0, 16)}
	case 11:
		return Picture{name("tiles.tiff"), m.TIFF(side, side, 0, 8, 8)}
	case 12:
		return Picture{name("strips.tiff"), m.TIFF(side, side, 16, 0, 8)}
	case 13:
		return Picture{name("tags.tiff"), TagLoop(2000)}
	case 14:
		return Picture{name("frames.gif"), GIF(3000)}
	case 15:
		return Picture{name("tiles.heic"), m.HEIC(1+n/Kinds%24, 1+n/Kinds%24, 512*(1+n/Kinds%24))}
	case 16:
		if n/Kinds%2 == 1 {
			return Picture{name("lying.heic"), m.Lying(2 * side / 16 * 16)}
		}
		return Picture{name("small-of-many-tiles.heic"), m.HEIC(255, 255, 512)}
	case 17:
		return Picture{name("huge.png"), m.PNG(1<<30, 8, 2, false)}
	case 18:
		f := m.At(n - 1 - r.IntN(Kinds-2)).File
		return Picture{name("cut"), f[:r.IntN(len(f))]}
	}
	f := bytes.Clone(m.At(n - 2 - r.IntN(Kinds-2)).File)
	for range 1 + r.IntN(20) {
		f[r.IntN(min(len(f), 2000))] = byte(r.UintN(256))
	}
	return Picture{name("changed"), f}
}

// Scans is a progressive JPEG of so many scans, each a few bytes: the decoder goes
// over the whole picture in each (ITU-T T.81, annex G).
func Scans(side, scans int) []byte {
	high, low := byte(side>>8), byte(side)
	b := []byte{0xff, 0xd8}
	// One code of one bit: a run of blocks that end, of 2^14 and more.
	b = append(b, 0xff, 0xc4, 0, 3+17, 0x10, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xe0)
	b = append(b, 0xff, 0xdb, 0, 67, 0)
	b = append(b, bytes.Repeat([]byte{1}, 64)...)
	b = append(b, 0xff, 0xc2, 0, 11, 8, high, low, high, low, 1, 1, 0x11, 0)
	blocks := (side + 7) / 8 * ((side + 7) / 8)
	for i := range scans {
		at := byte(1 + i%63)
		b = append(b, 0xff, 0xda, 0, 8, 1, 1, 0, at, at, 0)
		b = append(b, make([]byte, (blocks>>14+1)*15/8+2)...)
	}
	return append(b, 0xff, 0xd9)
}

// GreyJPEG is a whole baseline JPEG of one grey: its blocks all say the same in six
// bits.
func GreyJPEG(side int) []byte {
	var out bytes.Buffer
	g := image.NewGray(image.Rect(0, 0, 8, 8))
	for i := range g.Pix {
		g.Pix[i] = 128
	}
	if err := jpeg.Encode(&out, g, nil); err != nil {
		panic(err)
	}
	b := out.Bytes()
	frame := bytes.Index(b, []byte{0xff, 0xc0})
	binary.BigEndian.PutUint16(b[frame+5:], uint16(side))
	binary.BigEndian.PutUint16(b[frame+7:], uint16(side))
	scan := bytes.Index(b, []byte{0xff, 0xda})
	head := bytes.Clone(b[:scan+2+int(binary.BigEndian.Uint16(b[scan+2:]))])
	blocks := (side + 7) / 8 * ((side + 7) / 8)
	// Category 0 of the usual tables is 00, the end of a block 1010 (annex K).
	bits, n := []byte{}, 0
	for range blocks {
		for _, bit := range []byte{0, 0, 1, 0, 1, 0} {
			if n%8 == 0 {
				bits = append(bits, 0)
			}
			bits[n/8] |= bit << (7 - n%8)
			n++
		}
	}
	return append(append(head, bits...), 0xff, 0xd9)
}

// PNG is a whole PNG of zeros.
func (m *Maker) PNG(side, depth int, colourType byte, passes bool) []byte {
	channels := map[byte]int{0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[colourType]
	row := 1 + (side*depth*channels+7)/8
	size := side * row
	if side > 1<<20 {
		size = 1 // the header's claim is enough
	}
	head := binary.BigEndian.AppendUint32(nil, uint32(side))
	head = binary.BigEndian.AppendUint32(head, uint32(side))
	pass := byte(0)
	if passes {
		pass, size = 1, 0
		for _, p := range [][4]int{ // x, y, and the steps of either (ISO/IEC 15948, 8.2)
			{0, 0, 8, 8}, {4, 0, 8, 8}, {0, 4, 4, 8}, {2, 0, 4, 4}, {0, 2, 2, 4}, {1, 0, 2, 2}, {0, 1, 1, 2},
		} {
			w, h := (side-p[0]+p[2]-1)/p[2], (side-p[1]+p[3]-1)/p[3]
			size += h * (1 + (w*depth*channels+7)/8)
		}
	}
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk(&b, "IHDR", append(head, byte(depth), colourType, 0, 0, pass))
	if colourType == 3 {
		chunk(&b, "PLTE", []byte{0, 0, 0, 255, 255, 255})
		chunk(&b, "tRNS", []byte{100, 200})
	}
	chunk(&b, "IDAT", m.zeros(size))
	chunk(&b, "IEND", nil)
	return b.Bytes()
}

// ProfileBomb is a small PNG whose colour profile unfolds to a gigabyte.
func (m *Maker) ProfileBomb() []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk(&b, "IHDR", []byte{0, 0, 0, 8, 0, 0, 0, 8, 8, 2, 0, 0, 0})
	chunk(&b, "iCCP", append([]byte("x\x00\x00"), m.zeros(1<<30)...))
	chunk(&b, "IDAT", m.zeros(8*25))
	chunk(&b, "IEND", nil)
	return b.Bytes()
}

func chunk(b *bytes.Buffer, kind string, data []byte) {
	c := append([]byte(kind), data...)
	b.Write(binary.BigEndian.AppendUint32(nil, uint32(len(data))))
	b.Write(c)
	b.Write(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(c)))
}

// zeros is n zeros in zlib's format: a thousandth of them.
func (m *Maker) zeros(n int) []byte {
	if m.Most > 0 {
		n = min(n, m.Most)
	}
	if z, ok := m.rows[n]; ok {
		return z
	}
	var b bytes.Buffer
	z, err := zlib.NewWriterLevel(&b, zlib.BestSpeed)
	if err != nil {
		panic(err)
	}
	for left, part := n, make([]byte, 1<<20); left > 0; left -= len(part) {
		part = part[:min(left, len(part))]
		if _, err := z.Write(part); err != nil {
			panic(err)
		}
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	m.rows[n] = b.Bytes()
	return b.Bytes()
}

// TIFF is an RGB TIFF of zeros, in strips of so many rows, or in square tiles: all
// of them the same piece of the file. Each piece unfolds to four times what a strip
// may hold.
func (m *Maker) TIFF(w, h, rows, tile, depth int) []byte {
	across, down, px := 1, (h+max(1, rows)-1)/max(1, rows), w*rows
	if tile > 0 {
		across, down, px = (w+tile-1)/tile, (h+tile-1)/tile, tile*tile
	}
	data := m.zeros(px * 3 * depth / 8 * 4)
	n := across * down
	le := binary.LittleEndian
	type entry struct {
		tag, typ uint16
		count    int
		value    uint32
	}
	const dir, entries = 8, 10
	bits := dir + 2 + 12*entries + 4
	offsets := bits + 6
	counts := offsets + 4*n
	at := counts + 4*n
	many := func(tag uint16, where int, one uint32) entry {
		if n == 1 {
			return entry{tag, 4, 1, one}
		}
		return entry{tag, 4, n, uint32(where)}
	}
	list := []entry{
		{256, 4, 1, uint32(w)}, {257, 4, 1, uint32(h)}, {258, 3, 3, uint32(bits)}, {259, 3, 1, 8}, {262, 3, 1, 2},
	}
	if tile > 0 {
		list = append(list, entry{277, 3, 1, 3}, entry{322, 4, 1, uint32(tile)}, entry{323, 4, 1, uint32(tile)},
			many(324, offsets, uint32(at)), many(325, counts, uint32(len(data))))
	} else {
		list = append(list, many(273, offsets, uint32(at)), entry{277, 3, 1, 3}, entry{278, 4, 1, uint32(rows)},
			many(279, counts, uint32(len(data))), entry{284, 3, 1, 1})
	}
	b := append([]byte("II*\x00"), dir, 0, 0, 0)
	b = le.AppendUint16(b, uint16(len(list)))
	for _, e := range list {
		b = le.AppendUint16(b, e.tag)
		b = le.AppendUint16(b, e.typ)
		b = le.AppendUint32(b, uint32(e.count))
		b = le.AppendUint32(b, e.value)
	}
	b = le.AppendUint32(b, dir) // the next directory is this one again
	for range 3 {
		b = le.AppendUint16(b, uint16(depth))
	}
	for range n {
		b = le.AppendUint32(b, uint32(at))
	}
	for range n {
		b = le.AppendUint32(b, uint32(len(data)))
	}
	return append(b, data...)
}

// TagLoop is a TIFF of so many profiles, all of them the same sixteen megabytes,
// whose directory is followed by itself.
func TagLoop(tags int) []byte {
	le := binary.LittleEndian
	b := append([]byte("II*\x00"), 8, 0, 0, 0)
	b = le.AppendUint16(b, uint16(tags))
	for range tags {
		b = le.AppendUint16(b, 34675)
		b = le.AppendUint16(b, 7)
		b = le.AppendUint32(b, 16<<20)
		b = le.AppendUint32(b, 0)
	}
	b = le.AppendUint32(b, 8)
	return append(b, make([]byte, 16<<20)...)
}

// GIF is an animation, which is no photograph.
func GIF(frames int) []byte {
	b := append([]byte("GIF89a"), 0xff, 0xff, 0xff, 0xff, 0x80, 0, 0, 0, 0, 0, 255, 255, 255)
	for range frames {
		b = append(b, 0x2c, 0, 0, 0, 0, 0xff, 0xff, 0xff, 0xff, 0, 2, 1, 0x44, 0)
	}
	return append(b, 0x3b)
}

// HEIC is a grid of rows by columns of the same coded tile, cut to side by side
// pixels (ISO/IEC 23008-12, 6.6.2.3).
func (m *Maker) HEIC(rows, columns, side int) []byte {
	return m.grid(rows, columns, side, find(m.heic, "hvcC"))
}

func (m *Maker) grid(rows, columns, side int, hvcC []byte) []byte {
	be := binary.BigEndian
	coded := m.heic[0x1f2 : 0x1f2+0x4ce1] // item 1, by the file's iloc
	full := func(kind string, version byte, body []byte) []byte {
		return box(kind, append([]byte{version, 0, 0, 0}, body...))
	}
	infe := func(id uint16, kind string, hidden byte) []byte {
		b := append([]byte{2, 0, 0, hidden}, be.AppendUint16(nil, id)...)
		return box("infe", append(append(b, 0, 0), kind+"\x00"...))
	}
	ispe := func(w, h int) []byte {
		return full("ispe", 0, be.AppendUint32(be.AppendUint32(nil, uint32(w)), uint32(h)))
	}
	grid := []byte{0, 1, byte(rows - 1), byte(columns - 1)}
	grid = be.AppendUint32(be.AppendUint32(grid, uint32(side)), uint32(side))
	// Each tile is an item of its own, since a grid may name none twice; all of
	// them lie at the same place in the file.
	tiles := min(rows*columns, 65000)
	var infes, dimg, uses []byte
	list := be.AppendUint16(nil, uint16(tiles+1))
	for id := range tiles + 1 {
		kind, hidden, used := "hvc1", byte(1), []byte{3, 0x81, 2, 3}
		if id == 0 {
			kind, hidden, used = "grid", 0, []byte{2, 4, 3}
		} else {
			dimg = be.AppendUint16(dimg, uint16(id+1))
		}
		infes = append(infes, infe(uint16(id+1), kind, hidden)...)
		uses = append(be.AppendUint16(uses, uint16(id+1)), used...)
	}
	dimg = append(be.AppendUint16(be.AppendUint16(nil, 1), uint16(tiles)), dimg...)
	pixi := full("pixi", 0, []byte{3, 8, 8, 8})
	ipco := box("ipco", bytes.Join([][]byte{hvcC, ispe(512, 512), pixi, ispe(side, side)}, nil))
	ipma := full("ipma", 0, append(be.AppendUint32(nil, uint32(tiles+1)), uses...))
	ftyp := box("ftyp", []byte("heic\x00\x00\x00\x00mif1heic"))
	build := func(base int) []byte {
		iloc := be.AppendUint16([]byte{0x44, 0x00}, uint16(tiles+1))
		for id := range tiles + 1 {
			at, n := base+len(grid), len(coded)
			if id == 0 {
				at, n = base, len(grid)
			}
			iloc = be.AppendUint16(iloc, uint16(id+1))
			iloc = append(iloc, 0, 0, 0, 1) // this file, one extent
			iloc = be.AppendUint32(be.AppendUint32(iloc, uint32(at)), uint32(n))
		}
		return full("meta", 0, bytes.Join([][]byte{
			full("hdlr", 0, []byte("\x00\x00\x00\x00pict\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00")),
			full("pitm", 0, []byte{0, 1}),
			full("iloc", 0, iloc),
			full("iinf", 0, append(list, infes...)),
			box("iprp", append(ipco, ipma...)),
			full("iref", 0, box("dimg", dimg)),
		}, nil))
	}
	base := len(ftyp) + len(build(0)) + 8
	return bytes.Join([][]byte{ftyp, build(base), box("mdat", append(grid, coded...))}, nil)
}

// Lying is a HEIC picture of 512 by 512 pixels by its header, whose coded stream says
// side by side in its sequence parameter set (ITU-T H.265, 7.3.2.2).
func (m *Maker) Lying(side int) []byte {
	be := binary.BigEndian
	hvcC := find(m.heic, "hvcC")
	i := 8 + 23 // after the configuration's own fields: arrays of units
	for n := hvcC[i-1]; n > 0; n-- {
		unit := i + 3
		size := int(be.Uint16(hvcC[unit:]))
		if hvcC[i]&0x3f == 33 {
			sps := resized(hvcC[unit+2:unit+2+size], side)
			longer := bytes.Clone(hvcC[:unit])
			longer = append(be.AppendUint16(longer, uint16(len(sps))), sps...)
			longer = append(longer, hvcC[unit+2+size:]...)
			be.PutUint32(longer, uint32(len(longer)))
			return m.grid(1, 1, 512, longer)
		}
		i = unit + 2 + size
	}
	panic("the picture has no sequence parameter set")
}

// resized is a sequence parameter set with another width and height.
func resized(sps []byte, side int) []byte {
	sps = bytes.ReplaceAll(sps, []byte{0, 0, 3}, []byte{0, 0})
	in, out := 0, []byte{}
	n := 0
	put := func(bit byte) {
		if n%8 == 0 {
			out = append(out, 0)
		}
		out[n/8] |= bit << (7 - n%8)
		n++
	}
	bit := func() byte { b := sps[in/8] >> (7 - in%8) & 1; in++; return b }
	pass := func(bits int) {
		for range bits {
			put(bit())
		}
	}
	golomb := func() (v int) { // ue(v), 9.2
		zeros := 0
		for bit() == 0 {
			zeros++
		}
		v = 1
		for range zeros {
			v = v<<1 | int(bit())
		}
		return v - 1
	}
	putGolomb := func(v int) {
		v++
		width := 0
		for v>>width > 0 {
			width++
		}
		for range width - 1 {
			put(0)
		}
		for i := width - 1; i >= 0; i-- {
			put(byte(v >> i & 1))
		}
	}
	pass(16 + 4 + 3 + 1 + 96) // unit header, first fields, profile and level of one layer
	putGolomb(golomb())       // its own number
	putGolomb(golomb())       // chroma_format_idc
	golomb()
	golomb()
	putGolomb(side)
	putGolomb(side)
	for in < 8*len(sps) {
		put(bit())
	}
	var escaped []byte
	zeros := 0
	for _, x := range out {
		if zeros >= 2 && x <= 3 {
			escaped, zeros = append(escaped, 3), 0
		}
		if escaped = append(escaped, x); x == 0 {
			zeros++
		} else {
			zeros = 0
		}
	}
	return escaped
}

func box(kind string, body []byte) []byte {
	return append(append(binary.BigEndian.AppendUint32(nil, uint32(8+len(body))), kind...), body...)
}

// find is a box by its name, wherever it stands.
func find(file []byte, kind string) []byte {
	i := bytes.Index(file, []byte(kind)) - 4
	return file[i : i+int(binary.BigEndian.Uint32(file[i:]))]
}

// Ordinary is a photograph of grain, as a JPEG.
func Ordinary(w, h int, seed uint64) []byte {
	r := rand.New(rand.NewPCG(seed, 1))
	m := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	for i := range m.Y {
		m.Y[i] = uint8(180 + r.IntN(40))
	}
	for i := range m.Cb {
		m.Cb[i], m.Cr[i] = 120, 136
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, m, &jpeg.Options{Quality: 85}); err != nil {
		panic(err)
	}
	return out.Bytes()
}
