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
	eachBox(meta, func(name string, body []byte) {
		switch {
		case name == "pitm" && len(body) >= 6 && body[0] == 0:
			primary = uint32(be.Uint16(body[4:]))
		case name == "pitm" && len(body) >= 8:
			primary = be.Uint32(body[4:])
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
	// The decoder holds about three copies of the planes, then the planes
	// handed over, then RGBA.
	info.memory = satMul(9, largest, 1)
	return nil
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
	if len(b) < 8 {
		return nil
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
				return uses
			}
		}
		n, size := int(b[0]), 1
		if wide {
			size = 2
		}
		b = b[1:]
		if len(b) < n*size {
			return uses
		}
		for i := range n {
			index := int(b[i*size] & 0x7f)
			if wide {
				index = int(be.Uint16(b[2*i:]) & 0x7fff)
			}
			if id == item {
				uses = append(uses, index)
			}
		}
		b = b[n*size:]
	}
	return uses
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
