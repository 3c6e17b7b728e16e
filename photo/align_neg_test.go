package photo

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// cut is the part of m from (x0, y0) up to (x1, y1), shares of its sides.
func (m *Image) cut(x0, y0, x1, y1 float64) *Image {
	a, b := int(x0*float64(m.W)), int(y0*float64(m.H))
	out := &Image{W: int(x1*float64(m.W)) - a, H: int(y1*float64(m.H)) - b, Profile: m.Profile}
	for y := range out.H {
		i := 4 * ((b+y)*m.W + a)
		out.Pix = append(out.Pix, m.Pix[i:i+4*out.W]...)
	}
	return out
}

func (m *Image) flipped() *Image {
	out := &Image{W: m.W, H: m.H, Profile: m.Profile, Pix: slices.Clone(m.Pix)}
	for y := range m.H {
		for x := range m.W {
			copy(out.Pix[4*(y*m.W+x):][:4], m.Pix[4*(y*m.W+m.W-1-x):])
		}
	}
	return out
}

// shown photographs a source with the ground of table.
func shown(t testing.TB, source string, seed, sheetSeed, table uint64, groundKind string, pixels float64) *Image {
	s := newSheetSource(t, source, pixels, sheetSeed)
	rng := rand.New(rand.NewPCG(seed, 8))
	inset := 0.0
	if groundKind != "" {
		inset = 0.12 * float64(max(s.w, s.h))
	}
	w, h := s.w+int(2*inset), s.h+int(2*inset)
	dx, dy := rng.NormFloat64()*0.01*float64(w), rng.NormFloat64()*0.01*float64(w)
	return s.photograph(t, rng, shot{w: w, h: h, way: func(q Point) Point { return Point{q.X - inset + dx, q.Y - inset + dy} }, lamp: randomLight(rng, 0.2), sigma: 0.5, ground: newGround(groundKind, table, w, h), left: [2]float64{1, 1}})
}

func TestExploreNegatives(t *testing.T) {
	try := func(name string, b, a *Image) {
		r, err := Align(context.Background(), b, a, AlignOptions{})
		if err != nil {
			t.Fatal(err)
		}
		flag := ""
		if r.Verdict == Aligned {
			flag = "!!!!"
		}
		fmt.Printf("%4s %-60s %-9s %-14s share %.2f of %d: %s\n", flag, name, r.Verdict, r.Difference, r.AgreeingShare, r.TexturedWindows, r.Say)
	}
	var all []*Image
	names := append(slices.Clone(alignSources[1:]), "page.png", "graf1.png", "graf3.png")
	for _, n := range names {
		all = append(all, decoded(t, n))
	}
	set := env("SET", -1)
	if set < 0 || set == 0 {
		for i := range all {
			for j := range all {
				if i != j && !(i >= len(all)-2 && j >= len(all)-2) && (i+j)%2 == 0 {
					try(names[i]+" "+names[j], all[i], all[j])
				}
			}
		}
	}
	if set < 0 || set == 1 {
		for i := range all {
			try("mirror "+names[i], all[i], all[i].flipped())
			try("halves lr "+names[i], all[i].cut(0, 0, 0.5, 1), all[i].cut(0.5, 0, 1, 1))
			try("halves tb "+names[i], all[i].cut(0, 0, 1, 0.5), all[i].cut(0, 0.5, 1, 1))
		}
		c := decoded(t, "cookbook-page-a.jpg")
		try("halves cook", c.cut(0.1, 0.05, 0.9, 0.5), c.cut(0.1, 0.5, 0.9, 0.95))
		try("halves lr cook", c.cut(0.1, 0.05, 0.5, 0.9), c.cut(0.5, 0.05, 0.95, 0.9))
	}
	if set < 0 || set == 2 {
		for _, k := range drawnSheets {
			for s := range uint64(4) {
				try(fmt.Sprintf("drawn %s %d %d", k, s, s+10), shown(t, k, s, s, 0, "", 1.5e6), shown(t, k, s+10, s+10, 0, "", 1.5e6))
			}
		}
	}
	if set < 0 || set == 3 {
		for _, g := range []string{"table", "clutter"} {
			for s, k := range drawnSheets {
				try(fmt.Sprintf("on same %s %s", g, k), shown(t, k, 1, 1, uint64(s), g, 1.5e6), shown(t, k, 2, 2, uint64(s), g, 1.5e6))
			}
			for i := 1; i < len(alignSources); i++ {
				j := 1 + i%(len(alignSources)-1)
				try(fmt.Sprintf("on same %s %s %s", g, alignSources[i], alignSources[j]), shown(t, alignSources[i], 1, 1, uint64(i), g, 1.3e6), shown(t, alignSources[j], 2, 2, uint64(i), g, 1.3e6))
			}
		}
	}
}
