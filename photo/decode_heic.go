package photo

import (
	"encoding/binary"
	"io"
)

// heicHeader reads the properties in the meta box (ISO/IEC 23008-12). The
// largest extent of any picture in the file is what memory is estimated by;
// colour and depth are those of the primary picture, since beside it a file
// holds thumbnails, tiles and gain maps with properties of their own. How the
// primary is turned, readTags asks imagemeta.
func heicHeader(r io.ReadSeeker, size int64, info *Info) error {
	meta, err := heicMeta(r, size)
	if err != nil {
		return err
	}
	be := binary.BigEndian
	var primary uint32
	var properties []heicProperty
	var uses []int // the primary's properties, counted from 1
	var ipma [][]byte
	var parts heicParts
	eachBox(meta, func(name string, body []byte) {
		switch {
		case name == "pitm" && len(body) >= 6 && body[0] == 0:
			primary = uint32(be.Uint16(body[4:]))
		case name == "pitm" && len(body) >= 8:
			primary = be.Uint32(body[4:])
		case name == "iref":
			parts = heicReferences(body)
		case name == "iprp":
			eachBox(body, func(name string, body []byte) {
				switch name {
				case "ipco":
					eachBox(body, func(name string, body []byte) {
						properties = append(properties, heicProperty{name, body})
					})
				case "ipma":
					ipma = append(ipma, body)
				}
			})
		}
	})
	for _, b := range ipma {
		uses = append(uses, heicAssociations(b, primary)...)
	}
	info.Orientation, info.BitDepth, info.ColourModel = 1, 8, "colour"
	var largest int64
	for _, p := range properties {
		if w, h, ok := p.extent(); ok && satMul(1, w, h) > largest {
			largest = satMul(1, w, h)
			info.Width, info.Height = int(w), int(h)
		}
	}
	for _, i := range uses {
		if i >= 1 && i <= len(properties) {
			properties[i-1].describe(info)
		}
	}
	if largest == 0 {
		return refuse(Damaged, "The HEIC picture does not say how large it is; copy it again from the camera.")
	}
	extents := map[uint32]int64{}
	for _, b := range ipma {
		heicUses(b, func(item uint32, i int) {
			if i >= 1 && i <= len(properties) {
				if w, h, ok := properties[i-1].extent(); ok {
					extents[item] = max(extents[item], satMul(1, w, h))
				}
			}
		})
	}
	if n, work := parts.work(primary, extents, largest); n > 1 && work > maxHEICPixels {
		return refuse(TooLarge, "This HEIC picture is put together from %d pieces, which takes minutes to read; save it "+
			"as an ordinary JPEG.", n)
	}
	// The decoder's own memory (heifMost), the finished Image and the file.
	info.memory = satMul(20, largest, 1) + 3*size
	return nil
}

// maxHEICPixels bounds the work on one picture: its decoder, compiled to
// WebAssembly, takes about a second for two megapixels on a slow machine.
const maxHEICPixels = 60_000_000

// heicParts says which items are put together from which others (ISO/IEC 23008-12,
// 6.6), and which stand beside them, such as their transparency.
type heicParts map[uint32][]uint32

// work counts the coded pieces that an item needs and their pixels; it stops above
// maxHEICPixels. A piece that does not say how large it is counts as the largest.
func (p heicParts) work(item uint32, extents map[uint32]int64, largest int64) (pieces int, pixels int64) {
	var walk func(item uint32, depth int)
	walk = func(item uint32, depth int) {
		switch list := p[item]; {
		case pixels > maxHEICPixels:
		case depth > 8: // a ring
			pixels = maxHEICPixels + 1
		case len(list) > 0:
			for _, x := range list {
				walk(x, depth+1)
			}
		default:
			n, ok := extents[item&^(1<<31)]
			if !ok {
				n = largest
			}
			pieces++
			pixels += max(n, 1000) // each has a start of its own
		}
	}
	walk(item, 0)
	return pieces, pixels
}

// heicReferences reads the iref box.
func heicReferences(b []byte) heicParts {
	parts := heicParts{}
	if len(b) < 4 {
		return parts
	}
	be := binary.BigEndian
	wide := b[0] > 0
	id := func(b []byte) (uint32, []byte) {
		switch {
		case wide && len(b) >= 4:
			return be.Uint32(b), b[4:]
		case !wide && len(b) >= 2:
			return uint32(be.Uint16(b)), b[2:]
		}
		return 0, nil
	}
	eachBox(b[4:], func(name string, body []byte) {
		from, body := id(body)
		if len(body) < 2 {
			return
		}
		n := int(be.Uint16(body))
		body = body[2:]
		for i := 0; i < n && len(body) > 0; i++ {
			var to uint32
			to, body = id(body)
			switch name {
			case "dimg":
				parts[from] = append(parts[from], to)
			case "auxl":
				// What lies beside an item is decoded with it.
				if len(parts[to]) == 0 {
					parts[to] = append(parts[to], to|1<<31)
				}
				parts[to] = append(parts[to], from)
			}
		}
	})
	return parts
}

// heicProperty is one box of the item properties.
type heicProperty struct {
	name string
	body []byte
}

func (p heicProperty) extent() (w, h int64, ok bool) {
	if p.name != "ispe" || len(p.body) < 12 {
		return 0, 0, false
	}
	return int64(binary.BigEndian.Uint32(p.body[4:])), int64(binary.BigEndian.Uint32(p.body[8:])), true
}

func (p heicProperty) describe(info *Info) {
	switch {
	case p.name == "colr" && len(p.body) > 4 && (string(p.body[:4]) == "prof" || string(p.body[:4]) == "rICC"):
		info.ICC = p.body[4:]
	case p.name == "colr" && len(p.body) >= 10 && string(p.body[:4]) == "nclx":
		info.heicPrimaries(binary.BigEndian.Uint16(p.body[4:]))
	case p.name == "pixi" && len(p.body) >= 6:
		info.BitDepth = int(p.body[5])
		if p.body[4] == 1 {
			info.ColourModel = "grey"
		}
	}
}

// heicAssociations reads which properties belong to an item from an ipma box.
func heicAssociations(b []byte, item uint32) (uses []int) {
	heicUses(b, func(id uint32, index int) {
		if id == item {
			uses = append(uses, index)
		}
	})
	return uses
}

// heicUses calls f for each item of an ipma box and each of its properties.
func heicUses(b []byte, f func(item uint32, index int)) {
	if len(b) < 8 {
		return
	}
	be := binary.BigEndian
	version, wide := b[0], b[3]&1 == 1
	for b = b[8:]; len(b) >= 5; {
		id := uint32(be.Uint16(b))
		b = b[2:]
		if version > 0 {
			id = id<<16 | uint32(be.Uint16(b))
			b = b[2:]
			if len(b) == 0 {
				return
			}
		}
		n, size := int(b[0]), 1
		if wide {
			size = 2
		}
		b = b[1:]
		if len(b) < n*size {
			return
		}
		for i := range n {
			index := int(b[i*size] & 0x7f)
			if wide {
				index = int(be.Uint16(b[2*i:]) & 0x7fff)
			}
			f(id, index)
		}
		b = b[n*size:]
	}
}

// heicMeta finds the meta box and reads it whole.
func heicMeta(r io.ReadSeeker, size int64) ([]byte, error) {
	const maxMeta = 8 << 20
	pos := int64(0)
	for range 1000 {
		if _, err := r.Seek(pos, io.SeekStart); err != nil {
			return nil, err
		}
		var b [16]byte
		if _, err := io.ReadFull(r, b[:8]); err != nil {
			return nil, err
		}
		n, head := int64(binary.BigEndian.Uint32(b[:])), int64(8)
		if n == 1 {
			if _, err := io.ReadFull(r, b[8:]); err != nil {
				return nil, err
			}
			n, head = int64(binary.BigEndian.Uint64(b[8:])), 16
		}
		if n == 0 {
			n = size - pos
		}
		if n < head || n > size-pos {
			return nil, io.ErrUnexpectedEOF
		}
		if string(b[4:8]) == "meta" {
			if n > maxMeta || n < head+4 {
				return nil, refuse(Damaged, "The HEIC picture's description is damaged; copy it again from the camera.")
			}
			body := make([]byte, n-head)
			if _, err := io.ReadFull(r, body); err != nil {
				return nil, err
			}
			return body[4:], nil // after version and flags
		}
		pos += n
	}
	return nil, io.ErrUnexpectedEOF
}

// eachBox calls f for the boxes inside b, and stops at one that runs past it.
func eachBox(b []byte, f func(name string, body []byte)) {
	for len(b) >= 8 {
		n := int64(binary.BigEndian.Uint32(b))
		if n == 0 {
			n = int64(len(b))
		}
		if n < 8 || n > int64(len(b)) {
			return
		}
		f(string(b[4:8]), b[8:n])
		b = b[n:]
	}
}
