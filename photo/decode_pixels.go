package photo

import (
	"encoding/binary"
	"image"
	"image/color"
	"sync/atomic"

	"benchleaf/colour"
)

// toImage converts a decoder's picture to upright RGBA, and keeps 16-bit
// samples. It reports whether transparent pixels were put on white.
func toImage(src image.Image, orientation int, p *colour.Profile) (*Image, bool) {
	b := src.Bounds()
	w, h := b.Dx(), b.Dy()
	out := &Image{W: w, H: h, Profile: p}
	if orientation >= 5 {
		out.W, out.H = h, w
	}
	var clear atomic.Bool
	if deep := deepRows(src, &clear); deep != nil {
		out.Deep = make([]uint16, 3*w*h)
		turn(out.Deep, w, h, 3, orientation, deep)
		out.Pix = make([]uint8, 4*w*h)
		colour.Parallel(w*h, 1<<16, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				for c := range 3 {
					// 65535/255 = 257 exactly, so this rounds to nearest.
					out.Pix[4*i+c] = uint8((uint32(out.Deep[3*i+c]) + 128) / 257)
				}
				out.Pix[4*i+3] = 255
			}
		})
		return out, clear.Load()
	}
	if m, ok := src.(*image.RGBA); ok && orientation <= 1 && m.Stride == 4*w && m.Opaque() {
		out.Pix = m.Pix[:4*w*h]
		return out, false
	}
	out.Pix = make([]uint8, 4*w*h)
	turn(out.Pix, w, h, 4, orientation, rows8(src, &clear))
	return out, clear.Load()
}

// A rowReader writes source row y into dst, all of it.
type rowReader[T uint8 | uint16] func(y int, dst []T)

// turn writes the rows of a w by h picture into dst turned upright by the EXIF
// orientation, n values a pixel. Quarter turns go by bands of rows, so that
// writes stay together.
func turn[T uint8 | uint16](dst []T, w, h, n, orientation int, read rowReader[T]) {
	if orientation <= 1 {
		colour.Parallel(h, 64, func(lo, hi int) {
			for y := lo; y < hi; y++ {
				read(y, dst[n*w*y:n*w*(y+1)])
			}
		})
		return
	}
	const band = 32
	colour.Parallel((h+band-1)/band, 1, func(lo, hi int) {
		buf := make([]T, band*n*w)
		for ; lo < hi; lo++ {
			y0, y1 := lo*band, min(h, lo*band+band)
			for y := y0; y < y1; y++ {
				read(y, buf[(y-y0)*n*w:(y-y0+1)*n*w])
			}
			for x := range w {
				for y := y0; y < y1; y++ {
					i := n * uprightIndex(x, y, w, h, orientation)
					copy(dst[i:i+n], buf[(y-y0)*n*w+n*x:][:n])
				}
			}
		}
	})
}

// uprightIndex says where stored pixel (x, y) of a w by h picture goes (EXIF
// 2.32, tag Orientation).
func uprightIndex(x, y, w, h, orientation int) int {
	switch orientation {
	case 2:
		return y*w + w - 1 - x
	case 3:
		return (h-1-y)*w + w - 1 - x
	case 4:
		return (h-1-y)*w + x
	case 5:
		return x*h + y
	case 6:
		return x*h + h - 1 - y
	case 7:
		return (w-1-x)*h + h - 1 - y
	case 8:
		return (w-1-x)*h + y
	}
	return y*w + x
}

// rows8 reads any picture as 8-bit RGBA.
func rows8(src image.Image, clear *atomic.Bool) rowReader[uint8] {
	b := src.Bounds()
	switch m := src.(type) {
	case *image.YCbCr:
		return ycbcrRows(m)
	case *image.Gray:
		return func(y int, dst []uint8) {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			for x := range b.Dx() {
				v := row[x]
				dst[4*x], dst[4*x+1], dst[4*x+2], dst[4*x+3] = v, v, v, 255
			}
		}
	case *image.Paletted:
		return palettedRows(m, clear)
	case *image.NRGBA:
		return func(y int, dst []uint8) {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			for x := range b.Dx() {
				p := row[4*x : 4*x+4 : 4*x+4]
				a := uint32(p[3])
				if a != 255 {
					clear.Store(true)
				}
				for c := range 3 {
					dst[4*x+c] = uint8((uint32(p[c])*a + 255*(255-a) + 127) / 255)
				}
				dst[4*x+3] = 255
			}
		}
	}
	return func(y int, dst []uint8) {
		for x := range b.Dx() {
			r, g, bl, a := src.At(b.Min.X+x, b.Min.Y+y).RGBA()
			if a != 0xffff {
				clear.Store(true)
			}
			p := onWhite(r, g, bl, a)
			copy(dst[4*x:], p[:])
		}
	}
}

// onWhite lays a premultiplied 16-bit colour on white.
func onWhite(r, g, b, a uint32) [4]uint8 {
	var p [4]uint8
	for c, v := range [3]uint32{r, g, b} {
		p[c] = uint8(min(255, (v+0xffff-a+128)/257))
	}
	p[3] = 255
	return p
}

// palettedRows looks colours up that were worked out once: asked for pixel by
// pixel, a hundred megapixels take half a minute.
func palettedRows(m *image.Paletted, clear *atomic.Bool) rowReader[uint8] {
	var colours [256][4]uint8
	var see [256]bool
	for i, c := range m.Palette[:min(256, len(m.Palette))] {
		r, g, b, a := c.RGBA()
		colours[i], see[i] = onWhite(r, g, b, a), a != 0xffff
	}
	return func(y int, dst []uint8) {
		row := m.Pix[m.PixOffset(m.Rect.Min.X, m.Rect.Min.Y+y):]
		for x := range m.Rect.Dx() {
			v := row[x]
			copy(dst[4*x:4*x+4], colours[v][:])
			if see[v] {
				clear.Store(true)
			}
		}
	}
}

// deepRows reads 16-bit pictures as RGB; nil for others.
func deepRows(src image.Image, clear *atomic.Bool) rowReader[uint16] {
	b := src.Bounds()
	be := binary.BigEndian
	switch m := src.(type) {
	case *image.Gray16:
		return func(y int, dst []uint16) {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			for x := range b.Dx() {
				v := be.Uint16(row[2*x:])
				dst[3*x], dst[3*x+1], dst[3*x+2] = v, v, v
			}
		}
	case *image.RGBA64: // premultiplied
		return func(y int, dst []uint16) {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			for x := range b.Dx() {
				a := uint32(be.Uint16(row[8*x+6:]))
				if a != 0xffff {
					clear.Store(true)
				}
				for c := range 3 {
					dst[3*x+c] = uint16(min(0xffff, uint32(be.Uint16(row[8*x+2*c:]))+0xffff-a))
				}
			}
		}
	case *image.NRGBA64:
		return func(y int, dst []uint16) {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			for x := range b.Dx() {
				a := uint64(be.Uint16(row[8*x+6:]))
				if a != 0xffff {
					clear.Store(true)
				}
				for c := range 3 {
					v := uint64(be.Uint16(row[8*x+2*c:]))
					dst[3*x+c] = uint16((v*a + 0xffff*(0xffff-a) + 0x7fff) / 0xffff)
				}
			}
		}
	}
	return nil
}

// ycbcrRows converts JPEG colour (JFIF 1.02), with chroma at half resolution
// interpolated linearly as other viewers do, so that print has no coloured
// steps at its edges.
func ycbcrRows(m *image.YCbCr) rowReader[uint8] {
	b := m.Rect
	halfX := m.SubsampleRatio == image.YCbCrSubsampleRatio420 || m.SubsampleRatio == image.YCbCrSubsampleRatio422
	halfY := m.SubsampleRatio == image.YCbCrSubsampleRatio420 || m.SubsampleRatio == image.YCbCrSubsampleRatio440
	if b.Min != (image.Point{}) ||
		!halfX && m.SubsampleRatio != image.YCbCrSubsampleRatio444 && m.SubsampleRatio != image.YCbCrSubsampleRatio440 {
		return func(y int, dst []uint8) {
			for x := range b.Dx() {
				c := m.YCbCrAt(b.Min.X+x, b.Min.Y+y)
				dst[4*x], dst[4*x+1], dst[4*x+2] = color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
				dst[4*x+3] = 255
			}
		}
	}
	w, h := b.Dx(), b.Dy()
	cw, ch := w, h
	if halfX {
		cw = (w + 1) / 2
	}
	if halfY {
		ch = (h + 1) / 2
	}
	return func(y int, dst []uint8) {
		near, far := y, y
		if halfY {
			near = y / 2
			far = min(ch-1, max(0, near-1+2*(y&1)))
		}
		luma := m.Y[y*m.YStride:][:w]
		cb, cbFar := m.Cb[near*m.CStride:][:cw], m.Cb[far*m.CStride:][:cw]
		cr, crFar := m.Cr[near*m.CStride:][:cw], m.Cr[far*m.CStride:][:cw]
		dst = dst[:4*w]
		if !halfX {
			for x, l := range luma {
				u := 4 * (3*int32(cb[x]) + int32(cbFar[x]))
				v := 4 * (3*int32(cr[x]) + int32(crFar[x]))
				putYCbCr(dst[4*x:4*x+4:4*x+4], l, u, v)
			}
			return
		}
		// u and v below are chroma times 16: 3/4 of the nearer sample and 1/4
		// of the farther, along and across.
		u1, v1 := 3*int32(cb[0])+int32(cbFar[0]), 3*int32(cr[0])+int32(crFar[0])
		u0, v0 := u1, v1
		for i := range cw {
			u2, v2 := u1, v1
			if i+1 < cw {
				u2, v2 = 3*int32(cb[i+1])+int32(cbFar[i+1]), 3*int32(cr[i+1])+int32(crFar[i+1])
			}
			x := 2 * i
			putYCbCr(dst[4*x:4*x+4:4*x+4], luma[x], 3*u1+u0, 3*v1+v0)
			if x+1 < w {
				putYCbCr(dst[4*x+4:4*x+8:4*x+8], luma[x+1], 3*u1+u2, 3*v1+v2)
			}
			u0, v0, u1, v1 = u1, v1, u2, v2
		}
	}
}

// putYCbCr writes one pixel; u and v are Cb and Cr times 16. The factors are
// those of JFIF times 2^16.
func putYCbCr(dst []uint8, luma uint8, u, v int32) {
	y := int32(luma)<<16 + 1<<15
	u, v = u-128*16, v-128*16
	r := (y + 5743*v) >> 16 // 1.402 * 2^16 / 16 = 5742.6
	g := (y - 1410*u - 2925*v) >> 16
	bl := (y + 7258*u) >> 16
	if uint32(r|g|bl) > 255 { // below nought has the highest bits
		r, g, bl = int32(clamp8(r)), int32(clamp8(g)), int32(clamp8(bl))
	}
	binary.LittleEndian.PutUint32(dst, uint32(r)|uint32(g)<<8|uint32(bl)<<16|0xff<<24)
}

func clamp8(v int32) uint8 {
	if uint32(v) < 256 {
		return uint8(v)
	}
	return uint8(^(v >> 31))
}
