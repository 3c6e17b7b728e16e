package colour

import (
	"encoding/binary"
	"math"
)

// ICC writes p as a version 4 display profile by matrix and curves
// (ICC.1:2010), so that a picture in p's values can be shown rightly by others.
// A grey profile is written as RGB with equal curves.
func (p *Profile) ICC() []byte {
	name := p.Name
	if name == "" {
		name = "RGB"
	}
	type tag struct {
		name string
		body []byte
	}
	m := p.toXYZ
	if p.Grey {
		// Any primaries serve, since the channels are always equal.
		m = srgb.toXYZ
	}
	tags := []tag{
		{"desc", iccText(name)},
		{"cprt", iccText("No copyright, use freely")},
		{"wtpt", iccXYZ(D50.X, D50.Y, D50.Z)},
		{"chad", iccAdaptation()},
	}
	for j, ch := range []string{"r", "g", "b"} {
		tags = append(tags, tag{ch + "XYZ", iccXYZ(m[0][j], m[1][j], m[2][j])}, tag{ch + "TRC", p.curves[j].icc()})
	}
	out := make([]byte, 132+12*len(tags))
	be := binary.BigEndian
	be.PutUint32(out[128:], uint32(len(tags)))
	for i, t := range tags {
		e := out[132+12*i:]
		copy(e, t.name)
		be.PutUint32(e[4:], uint32(len(out)))
		be.PutUint32(e[8:], uint32(len(t.body)))
		out = append(out, t.body...)
		for len(out)%4 != 0 {
			out = append(out, 0)
		}
	}
	be.PutUint32(out, uint32(len(out)))
	be.PutUint32(out[8:], 0x04300000) // version 4.3
	copy(out[12:], "mntrRGB XYZ ")
	// A fixed date keeps the bytes the same from run to run.
	copy(out[24:], []byte{0x07, 0xd0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0})
	copy(out[36:], "acsp")
	copy(out[68:], iccXYZ(0.9642, 1, 0.8249)[8:20]) // the connection space's white, as the standard rounds it
	return out
}

func iccXYZ(x, y, z float64) []byte {
	b := append([]byte("XYZ "), 0, 0, 0, 0)
	for _, v := range []float64{x, y, z} {
		b = appendFixed(b, v)
	}
	return b
}

func appendFixed(b []byte, v float64) []byte {
	return binary.BigEndian.AppendUint32(b, uint32(int32(math.Round(v*65536))))
}

// iccAdaptation is the chad tag: how the D65 white of the display was adapted.
func iccAdaptation() []byte {
	b := append([]byte("sf32"), 0, 0, 0, 0)
	for _, row := range Bradford(D65, D50) {
		for _, v := range row {
			b = appendFixed(b, v)
		}
	}
	return b
}

// iccText writes a multiLocalizedUnicodeType of one English text.
func iccText(s string) []byte {
	be := binary.BigEndian
	b := append([]byte("mluc"), 0, 0, 0, 0)
	b = be.AppendUint32(b, 1)
	b = be.AppendUint32(b, 12)
	b = append(b, "enUS"...)
	b = be.AppendUint32(b, uint32(2*len(s)))
	b = be.AppendUint32(b, 28)
	for _, r := range s {
		if r > 0xffff {
			r = '?'
		}
		b = be.AppendUint16(b, uint16(r))
	}
	be.PutUint32(b[20:], uint32(len(b)-28))
	return b
}

// icc writes a curve: as a table when it is one, else as the full parametric
// curve.
func (t *curve) icc() []byte {
	be := binary.BigEndian
	if t.table != nil {
		b := append([]byte("curv"), 0, 0, 0, 0)
		b = be.AppendUint32(b, uint32(len(t.table)))
		for _, v := range t.table {
			b = be.AppendUint16(b, uint16(math.Round(math.Min(1, math.Max(0, v))*65535)))
		}
		return b
	}
	b := append([]byte("para"), 0, 0, 0, 0, 0, 4, 0, 0)
	for _, v := range []float64{t.g, t.a, t.b, t.c, t.d, t.e, t.f} {
		b = appendFixed(b, v)
	}
	return b
}
