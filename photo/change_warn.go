package photo

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"
	"sync"
)

// WarningKind says what a warning is about.
type WarningKind string

// The kinds, the gravest first.
const (
	WarnInkLoss   WarningKind = "ink loss"
	WarnTideLine  WarningKind = "new tide line"
	WarnNewStain  WarningKind = "new stain"
	WarnDoubtful  WarningKind = "doubtful alignment"
	WarnCMYK      WarningKind = "printing colours"
	WarnProfile   WarningKind = "unknown colour profile"
	WarnGlare     WarningKind = "glare"
	WarnBlur      WarningKind = "blur"
	WarnBlank     WarningKind = "blank"
	WarnDark      WarningKind = "dark"
	WarnLight     WarningKind = "differing light"
	WarnPartial   WarningKind = "partial overlap"
	WarnFewPixels WarningKind = "few pixels"
)

var warningRank = func() map[WarningKind]int {
	m := map[WarningKind]int{}
	for i, k := range []WarningKind{
		WarnInkLoss, WarnTideLine, WarnNewStain, WarnDoubtful, WarnBlank, WarnCMYK, WarnProfile, WarnGlare, WarnBlur,
		WarnDark, WarnLight, WarnPartial, WarnFewPixels,
	} {
		m[k] = i
	}
	return m
}()

// Warning is something to look at before the numbers are trusted.
type Warning struct {
	Kind WarningKind
	// Say is one sentence for a person.
	Say string
	// Outline goes round the place in pixels of the before picture, nil where
	// there is no one place; Box is its bounding box.
	Outline []Point
	Box     image.Rectangle
	// AreaPx is the area in pixels of the before picture, AreaMM2 in mm2, 0 when
	// the scale is unknown.
	AreaPx, AreaMM2 float64
}

// maxPlaces is how many places of one kind are told one by one.
const maxPlaces = 8

// place makes a warning of a component of the grid.
func (c *Comparison) place(kind WarningKind, part *component, say string) Warning {
	g := c.grid
	w := Warning{Kind: kind, Say: say, AreaPx: float64(len(part.pixels)) * g.sx * g.sy}
	w.AreaMM2 = w.AreaPx * c.mm * c.mm
	for _, p := range part.outline(g.w, 1) {
		w.Outline = append(w.Outline, g.fromCell(p))
	}
	a := g.fromCell(Point{float64(part.x0) - 0.5, float64(part.y0) - 0.5})
	b := g.fromCell(Point{float64(part.x1) - 0.5, float64(part.y1) - 0.5})
	w.Box = image.Rect(
		int(math.Floor(a.X+0.5)), int(math.Floor(a.Y+0.5)), int(math.Ceil(b.X+0.5)), int(math.Ceil(b.Y+0.5)),
	)
	return w
}

// largest keeps the largest places of a kind.
func largest(ws []Warning) []Warning {
	slices.SortStableFunc(ws, func(a, b Warning) int { return cmp.Compare(b.AreaPx, a.AreaPx) })
	return ws[:min(len(ws), maxPlaces)]
}

// warnOfChange looks for what a treatment must not do.
func (c *Comparison) warnOfChange() {
	var ink, stains, glare []Warning
	var wg sync.WaitGroup
	wg.Go(func() { ink = c.lostInk() })
	wg.Go(func() { stains = c.newStains() })
	wg.Go(func() { glare = c.glare() })
	wg.Wait()
	// A tear that was mended is one place: its shadow gone, the mend a faint line.
	stains = slices.DeleteFunc(stains, func(w Warning) bool {
		return w.Kind == WarnTideLine &&
			slices.ContainsFunc(
				ink, func(i Warning) bool { return 5*boxArea(w.Box.Intersect(i.Box)) > 2*boxArea(w.Box) },
			)
	})
	c.Warnings = slices.Concat(c.Warnings, ink, stains, glare)
}

func boxArea(r image.Rectangle) int { return r.Dx() * r.Dy() }

// An inkKind is how ink is told from stains, by what it takes of red, green and
// blue light beyond its paper. Stains and rust are brown: they take two or more
// times as much blue as red.
type inkKind struct {
	channel int // the one in which its strength is read
	is      func(r, g, b float32) bool
}

var inkKinds = []inkKind{
	{0, func(r, g, b float32) bool { return r > 0.25 && (b < 1.8*r+0.1 || r > 0.9) }},
	{1, func(r, g, b float32) bool { return g > 0.3 && g-r > 0.3 && g-r > 0.65*(b-r) }},
}

// lostInk compares how much ink lies in small windows. Ink is summed as the
// share of light it takes from its paper: a sum that blur, a shift of a pixel,
// stains, light and exposure leave alone. It fills in PrintRatio.
func (c *Comparison) lostInk() []Warning {
	g := c.grid
	short := min(g.w, g.h)
	lost := newMask(g.w, g.h)
	var allBefore, allAfter float64
	gone := newPlane(g.w, g.h)
	inner := g.ok.grow(-max(2, short/100)) // at the rim of a picture things are cut
	for _, kind := range inkKinds {
		core := newMask(g.w, g.h)
		for i := range core.v {
			if g.ok.v[i] && g.viewBefore.print.v[i] {
				core.v[i] = kind.is(
					g.viewBefore.beyondPaper(0, i), g.viewBefore.beyondPaper(1, i), g.viewBefore.beyondPaper(2, i),
				)
			}
		}
		if core.count() == 0 {
			continue
		}
		near := core.grow(2)
		before, after := newPlane(g.w, g.h), newPlane(g.w, g.h)
		for i, on := range near.v {
			if on && g.ok.v[i] {
				before.v[i] = g.viewBefore.cover(kind.channel, i)
				after.v[i] = g.viewAfter.cover(kind.channel, i)
			}
		}
		r := max(2, short/220)
		sumBefore, sumAfter := before.boxBlur(r), after.boxBlur(r)
		var ratios []float32
		for i, on := range core.v {
			if on && sumBefore.v[i] > 0.02 {
				ratios = append(ratios, sumAfter.v[i]/sumBefore.v[i])
			}
		}
		if len(ratios) < 50 {
			continue
		}
		usual := max(0.5, min(1.5, quantile(ratios, 0.5)))
		for i, on := range near.v {
			if !on || !g.ok.v[i] {
				continue
			}
			allBefore, allAfter = allBefore+float64(before.v[i]), allAfter+float64(after.v[i])
			if inner.v[i] && sumBefore.v[i] > 0.03 && sumAfter.v[i] < 0.6*usual*sumBefore.v[i] {
				lost.v[i] = true
				gone.v[i] += usual*before.v[i] - after.v[i]
			}
		}
	}
	if allBefore > 0 {
		c.PrintRatio = allAfter / allBefore
	}
	// Letters that lie together are one place.
	reach := max(2, short/80)
	parts, _ := lost.grow(reach).components()
	var ws []Warning
	for k := range parts {
		ink, paler, n := 0.0, 0.0, 0
		for _, i := range parts[k].pixels {
			ink += float64(gone.v[i])
			if lost.v[i] {
				paler, n = paler+float64(c.paler(int(i))), n+1
			}
		}
		// On flat colours the paper is a guess; what is no paler by itself is not gone.
		if paler < 0.15*float64(n) {
			continue
		}
		// A letter of small type holds some twenty cells of ink.
		if ink < 12*float64(short*short)/(900*900) {
			continue
		}
		ws = append(
			ws,
			c.place(
				WarnInkLoss,
				&parts[k],
				"Print or other dark marks, such as the shadow of a tear, that the before picture shows here are "+
					"gone or much paler in the after picture.",
			),
		)
	}
	ws = largest(ws)
	if c.PrintRatio > 0 && c.PrintRatio < 0.75 {
		ws = append(
			ws,
			Warning{
				Kind: WarnInkLoss,
				Say: fmt.Sprintf(
					"Print is paler all over the sheet: %.0f %% as dark against its paper as before; a veil of "+
						"light in the after picture can do that, or ink was lost everywhere.",
					100*c.PrintRatio,
				),
			},
		)
	}
	return ws
}

// paler is by how much a cell is less dense after than before, the trend taken
// out, in the one of red and green in which it is more.
func (c *Comparison) paler(i int) float32 {
	g := c.grid
	less := func(k int) float32 {
		return g.viewBefore.density[k].v[i] - g.viewAfter.density[k].v[i] + g.trends[k].v[i]
	}
	return max(less(0), less(1))
}

// beyondPaper is the density of print over its paper in one channel.
func (v *face) beyondPaper(c, i int) float32 { return v.density[c].v[i] - v.paper[c].v[i] }

// cover is the share of light that print takes from its paper.
func (v *face) cover(c, i int) float32 { return 1 - expOf(-v.beyondPaper(c, i)) }

// newStains looks for lines and patches that are darker after.
func (c *Comparison) newStains() []Warning {
	g := c.grid
	short := min(g.w, g.h)
	var d [3]plane // density of red and blue gained by the paper, the trend taken out
	var wg sync.WaitGroup
	for _, k := range []int{0, 2} {
		wg.Go(func() {
			gained := newPlane(g.w, g.h)
			for i := range gained.v {
				gained.v[i] = g.viewAfter.paper[k].v[i] - g.viewBefore.paper[k].v[i] - g.trends[k].v[i]
			}
			d[k] = gained.boxBlur(1).boxBlur(1)
		})
	}
	wg.Wait()
	paper := g.paper
	inner := g.ok.grow(-max(2, short/100))
	blue := d[2]
	// Narrow lines stand out over what is darker broadly.
	wide := max(3, short/40)
	narrow := newPlane(g.w, g.h)
	open := blue.extreme(wide, false).extreme(wide, true)
	for i := range narrow.v {
		// Between two places that got lighter, what stayed is no line.
		narrow.v[i] = blue.v[i] - max(0, open.v[i])
	}
	// Where something light went, as the lit edge of a tear that was mended, the
	// after picture shows no line.
	shown := overBroad(g.viewAfter.paper[2].boxBlur(1).boxBlur(1), wide)
	lines := newMask(g.w, g.h)
	least := max(0.07, 4*usualHeight(narrow, paper))
	for i, v := range narrow.v {
		lines.v[i] = inner.v[i] && v > least
	}
	var ws []Warning
	// Print and glare interrupt a line.
	gap := max(1, short/90)
	parts, _ := lines.grow(gap).grow(-gap).components()
	for k := range parts {
		p := &parts[k]
		extent := math.Hypot(float64(p.x1-p.x0), float64(p.y1-p.y0))
		if length, width := p.lengthWidth(g.w); extent < 0.1*float64(short) || length < 0.12*float64(short) ||
			length < 6*width {
			continue
		}
		brown, bare := c.brownness(p, d, paper)
		switch {
		case bare < 0.3: // what changed is print, not paper
		case c.browner(p) < 0.5*usualOver(p, narrow): // only the guess under print changed
		case usualOver(p, shown) < 0.5*usualOver(p, narrow):
		case brown > 0.3:
			ws = append(
				ws,
				c.place(
					WarnTideLine,
					p,
					"A brown line is there in the after picture that the before picture does not show: the edge of "+
						"a wet place, perhaps.",
				),
			)
		case usualOver(p, narrow) > 0.12:
			ws = append(
				ws,
				c.place(
					WarnTideLine,
					p,
					"A dark line is there in the after picture that the before picture does not show: a tide line "+
						"of dirt, a fold or its shadow.",
				),
			)
		}
	}
	tides := largest(ws)
	broad := blue.gauss(float64(short) / 120)
	patches := newMask(g.w, g.h)
	least = max(0.1, 4*usualSpread(broad, paper))
	for i, v := range broad.v {
		patches.v[i] = inner.v[i] && v > least
	}
	ws = nil
	parts, _ = patches.components()
	for k := range parts {
		p := &parts[k]
		if brown, bare := c.brownness(p, d, paper); float64(len(p.pixels)) < 0.002*float64(g.ok.count()) ||
			brown < 0.3 ||
			bare < 0.1 ||
			c.browner(p) < 0.5*usualOver(p, broad) {
			continue
		}
		if slices.ContainsFunc(tides, func(w Warning) bool {
			a := g.toCell(Point{float64(w.Box.Min.X), float64(w.Box.Min.Y)})
			b := g.toCell(Point{float64(w.Box.Max.X), float64(w.Box.Max.Y)})
			return image.Rect(int(a.X), int(a.Y), int(b.X)+1, int(b.Y)+1).Overlaps(image.Rect(p.x0, p.y0, p.x1, p.y1))
		}) {
			continue
		}
		ws = append(
			ws,
			c.place(
				WarnNewStain, p,
				"A patch is browner in the after picture than before, against the rest of the sheet.",
			),
		)
	}
	return append(tides, largest(ws)...)
}

// browner is by how much more blue a place takes after than before, print and all,
// the trend taken out.
func (c *Comparison) browner(p *component) float64 {
	g, sum := c.grid, 0.0
	for _, i := range p.pixels {
		sum += float64(g.viewAfter.density[2].v[i] - g.viewBefore.density[2].v[i] - g.trends[2].v[i])
	}
	return sum / float64(len(p.pixels))
}

// overBroad is by how much a plane stands out over what is broader than 2r+1.
func overBroad(p plane, r int) plane {
	open := p.extreme(r, false).extreme(r, true)
	for i, v := range open.v {
		open.v[i] = p.v[i] - v
	}
	return open
}

// brownness is by how much more blue than red a place gained, 0 for grey and 1
// for a stain that leaves red alone, and the share of it that is bare paper.
func (c *Comparison) brownness(p *component, d [3]plane, paper mask) (brown, bare float64) {
	var r, b float64
	for _, i := range p.pixels {
		r, b = r+float64(d[0].v[i]), b+float64(d[2].v[i])
		// What takes nearly all blue is flat print, and its blue mostly noise.
		if _, _, deep := c.grid.viewBefore.beyondGround(int(i)); paper.v[i] && deep < 1 {
			bare++
		}
	}
	return (b - r) / math.Max(1e-9, b), bare / float64(len(p.pixels))
}

// usualHeight is a robust measure of values at or above nought.
func usualHeight(p plane, on mask) float32 { return quantileOn(p, on, 0.84) }

// usualSpread is a robust standard deviation.
func usualSpread(p plane, on mask) float32 {
	return (quantileOn(p, on, 0.84) - quantileOn(p, on, 0.16)) / 2
}

func quantileOn(p plane, on mask, q float64) float32 {
	var vs []float32
	for i := 0; i < len(p.v); i += 3 {
		if on.v[i] {
			vs = append(vs, p.v[i])
		}
	}
	if len(vs) == 0 {
		return 0
	}
	return quantile(vs, q)
}

// usualOver is the mean of a plane over a component.
func usualOver(c *component, p plane) float64 {
	sum := 0.0
	for _, i := range c.pixels {
		sum += float64(p.v[i])
	}
	return sum / float64(len(c.pixels))
}

// lengthWidth takes a component for a line bent at will: half of its outline is
// its length, its area over that its width.
func (c *component) lengthWidth(width int) (length, across float64) {
	ring := c.outline(width, 0.9)
	for i, p := range ring {
		length += distance(p, ring[(i+1)%len(ring)]) / 2
	}
	if length == 0 {
		return 0, 0
	}
	return length, float64(len(c.pixels)) / length
}

// glare outlines what is overexposed.
func (c *Comparison) glare() []Warning {
	g := c.grid
	on := newMask(g.w, g.h)
	for i := range on.v {
		on.v[i] = g.face.v[i] && g.seen.v[i] && g.lost.v[i]
	}
	var ws []Warning
	parts, _ := on.grow(2).components()
	for k := range parts {
		if float64(len(parts[k].pixels)) > 0.001*float64(g.w*g.h) {
			ws = append(
				ws,
				c.place(
					WarnGlare,
					&parts[k],
					"Glare or overexposure in one of the pictures: no colour can be read here, so the place is left "+
						"out.",
				),
			)
		}
	}
	return largest(ws)
}

// warnOfPictures tells what is wrong with the pictures as a whole.
func (c *Comparison) warnOfPictures(opt CompareOptions) {
	say := func(k WarningKind, format string, args ...any) {
		c.Warnings = append(c.Warnings, Warning{Kind: k, Say: fmt.Sprintf(format, args...)})
	}
	a := c.Alignment
	if a.Verdict == Doubtful {
		say(WarnDoubtful, "%s", a.Say)
	}
	for _, p := range []struct {
		name string
		m    *Image
		q    *Quality
		info *Info
	}{{"before", c.full.before, &c.Before, opt.BeforeInfo}, {"after", c.full.after, &c.After, opt.AfterInfo}} {
		switch {
		case p.q.Blank:
			say(WarnBlank, "The %s picture is blank: it shows hardly any contrast.", p.name)
			continue
		case min(p.m.W, p.m.H) < 300:
			say(
				WarnFewPixels,
				"The %s picture is only %d by %d pixels; print and stains are too coarse in it to be told apart.",
				p.name, p.m.W, p.m.H,
			)
		}
		if p.q.BlurPx > blurWarn {
			say(
				WarnBlur,
				"The %s picture is blurred: its sharpest edges spread over %.1f pixels, where 1 is sharp.", p.name,
				p.q.BlurPx,
			)
		}
		if p.q.Clipped > 0.002 {
			say(
				WarnGlare,
				"%.1f %% of the %s picture is overexposed or glare; no colour can be read there, so it is left out.",
				100*p.q.Clipped, p.name,
			)
		}
		if p.q.Dark > 0.5 {
			say(WarnDark, "More than half of the %s picture is black; there was too little light.", p.name)
		}
		if p.info != nil {
			c.warnOfProfile(p.name, p.info)
		}
	}
	if c.Compared {
		c.warnOfLight(opt)
	}
	if a.Verdict != Different && a.Overlap < 0.9 {
		say(
			WarnPartial, "The after picture shows only %.0f %% of the sheet; the rest could not be compared.",
			100*a.Overlap,
		)
	}
	slices.SortStableFunc(
		c.Warnings, func(a, b Warning) int { return cmp.Compare(warningRank[a.Kind], warningRank[b.Kind]) },
	)
}

func (c *Comparison) warnOfProfile(name string, info *Info) {
	w := Warning{Kind: WarnProfile}
	switch {
	case info.ColourModel == "CMYK":
		w.Kind, w.Say = WarnCMYK, "The "+name+" picture holds printing colours (CMYK); they are shown by a rough "+
			"conversion, so no number of colour in this comparison can be trusted."
	case info.HasICC && !info.ownProfile:
		w.Say = "The " + name + " picture's colour profile could not be used; its values are taken for " +
			info.Profile + ", so its colours may be off."
	case info.ColourModel == "grey":
		w.Say = "The " + name + " picture is grey: it holds lightness and no colour."
	default:
		return
	}
	c.Warnings = append(c.Warnings, w)
}

// warnOfLight tells when lamp or camera differed more than a change of paper
// usually does (our own limits).
func (c *Comparison) warnOfLight(opt CompareOptions) {
	l := c.Light
	fixed := opt.BeforeColour != nil && opt.AfterColour != nil
	var what []string
	if math.Abs(l.Stops) > 0.3 && !fixed {
		what = append(
			what,
			fmt.Sprintf("the after picture is %.1f stops %s", math.Abs(l.Stops), either(l.Stops, "brighter", "darker")),
		)
	}
	if math.Abs(l.Warmer) > 0.2 && !fixed {
		what = append(what, fmt.Sprintf("its light is %s", either(l.Warmer, "warmer", "cooler")))
	}
	if l.Unevenness > 0.25 {
		what = append(what, fmt.Sprintf("the change varies by %.1f stops over the sheet", l.Unevenness))
	}
	if len(what) == 0 {
		return
	}
	say := what[0]
	for i, s := range what[1:] {
		if i == len(what)-2 {
			say += " and " + s
		} else {
			say += ", " + s
		}
	}
	c.Warnings = append(
		c.Warnings,
		Warning{
			Kind: WarnLight,
			Say: "Light or camera differed: " + say + ". Trust the numbers without the trend, and the paper's " +
				"change only as far as a chart corrects both pictures.",
		},
	)
}
