package papers

import (
	"github.com/carlos7ags/folio/layout"
)

// placed is what the PDF writer draws; its Y counts down from the top of the
// area that a block was given.
type placed = layout.PlacedBlock

// block is a piece of a paper that can be set down a page.
type block interface {
	// set sets as much of the block as the height h takes at width w. It
	// returns what it placed, the height used, and what is left, nil when all
	// is set. On a fresh page it places something whatever the height.
	set(w, h float64, fresh bool) (done []placed, used float64, rest block)
}

// item is a block in the flow, with the white around it; between two items the
// larger of after and before counts. A kept item stands on the page where the
// next one begins; a leading one begins a page.
type item struct {
	block
	before, after float64
	keep          bool
	leads         bool
}

// paginate sets items down pages of the given width and height.
func paginate(items []item, w, h float64) [][]placed {
	var pages [][]placed
	var page []placed
	y, gap := 0.0, 0.0
	blank := true
	next := func() {
		pages = append(pages, page)
		page, y, gap, blank = nil, 0, 0, true
	}
	// put sets one block at the present place and says what is left of it.
	put := func(it item) block {
		at := y
		if !blank {
			at += max(gap, it.before)
		}
		done, used, rest := it.set(w, h-at, blank)
		if len(done) == 0 && rest != nil {
			return rest
		}
		for _, b := range done {
			b.Y += at
			page = append(page, b)
		}
		y, gap, blank = at+used, it.after, false
		return rest
	}
	for i := 0; i < len(items); {
		if items[i].leads && !blank {
			next()
		}
		// A chain of kept items and the one that they introduce.
		j := i
		for j < len(items)-1 && items[j].keep {
			j++
		}
		mark, markY, markGap, markBlank := len(page), y, gap, blank
		for k := i; k <= j; k++ {
			it := items[k]
			for {
				before := len(page)
				rest := put(it)
				if rest == nil {
					break
				}
				nothing := len(page) == before
				// A heading whose text does not begin under it moves on with it.
				if nothing && k > i && !markBlank {
					page, y, gap, blank = page[:mark], markY, markGap, markBlank
					next()
					mark, markY, markGap, markBlank = 0, 0, 0, true
					k, it = i-1, item{}
					break
				}
				next()
				it.block = rest
				// What stands on pages that are done stays there.
				mark, markY, markGap, markBlank = 0, 0, 0, true
			}
		}
		i = j + 1
	}
	if len(page) > 0 || len(pages) == 0 {
		pages = append(pages, page)
	}
	return pages
}

// paragraph is running text, drawn with indent white at its left.
type paragraph struct {
	t      *typeface
	spans  []span
	tag    string
	indent float64
	align  align
	lines  []line // what is left of it, once it was begun
	begun  bool
	mark   string // label of a bookmark, for headings
}

func (p paragraph) set(w, h float64, fresh bool) ([]placed, float64, block) {
	if !p.begun {
		p.lines, p.begun = p.t.setLines(p.spans, w-p.indent), true
	}
	n := 0
	for used := 0.0; n < len(p.lines); n++ {
		used += p.lines[n].lead
		if used > h+slack {
			break
		}
	}
	if total := len(p.lines); n < total {
		// Neither a first line alone at the foot nor a last one at the head.
		if total-n < 2 {
			n = total - 2
		}
		if n < 2 {
			n = 0
		}
	}
	if n <= 0 {
		if !fresh {
			return nil, 0, p
		}
		n = 1
	}
	n = min(n, len(p.lines))
	now := p.lines[:n]
	used := height(now)
	t, al, width := p.t, p.align, w-p.indent
	done := []placed{
		{
			X:           p.indent,
			Width:       width,
			Height:      used,
			Tag:         p.tag,
			HeadingText: p.mark,
			Draw: func(ctx layout.DrawContext, x, top float64) {
				t.drawLines(ctx, now, x, top, width, al)
			},
		},
	}
	if n == len(p.lines) {
		return done, used, nil
	}
	p.lines, p.mark = p.lines[n:], ""
	return done, used, p
}

// drawing is a picture of fixed size made of lines and words. It never splits;
// what is too large for a page is scaled by its maker.
type drawing struct {
	height float64
	alt    string
	draw   func(ctx layout.DrawContext, x, top, w float64)
}

func (d drawing) set(w, h float64, fresh bool) ([]placed, float64, block) {
	if d.height > h+slack && !fresh {
		return nil, 0, d
	}
	tag := "Figure"
	draw := func(ctx layout.DrawContext, x, top float64) { d.draw(ctx, x, top, w) }
	if d.alt == "" {
		tag, draw = "", artifact(draw)
	}
	return []placed{{Width: w, Height: d.height, Tag: tag, AltText: d.alt, Draw: draw}}, d.height, nil
}

// fitting is the first of some drawings that fits what is left of a page together
// with what follows it, or the first on the next page.
type fitting struct {
	from   []drawing
	follow float64
}

func (f fitting) set(w, h float64, fresh bool) ([]placed, float64, block) {
	if !fresh {
		for _, d := range f.from {
			if d.height+f.follow <= h {
				return d.set(w, h, false)
			}
		}
		return nil, 0, f
	}
	return f.from[0].set(w, h, true)
}

// artifact marks what a reader of the text should pass over: rules, grounds,
// running heads. It stands beside tagged blocks, never in one. The library's
// own BeginArtifact writes an operator that takes one operand more than it
// gives.
func artifact(draw func(ctx layout.DrawContext, x, top float64)) func(ctx layout.DrawContext, x, top float64) {
	return func(ctx layout.DrawContext, x, top float64) {
		ctx.Stream.BeginMarkedContent("Artifact")
		draw(ctx, x, top)
		ctx.Stream.EndMarkedContent()
	}
}

// boxed is a stack of items on a ground with a bar at its left. It stays whole
// where a page can hold it.
type boxed struct {
	items       []item
	indent      float64
	ground, bar layout.Color
	pad         float64
}

const barWidth = 2.4

func (b boxed) set(w, h float64, fresh bool) ([]placed, float64, block) {
	inner := w - b.indent - 2*b.pad - barWidth
	var done []placed
	y, gap := b.pad, 0.0
	rest := b
	rest.items = nil
	for i, it := range b.items {
		at := y
		if i > 0 {
			at += max(gap, it.before)
		}
		d, used, r := it.set(inner, h-at-b.pad, fresh && i == 0)
		for _, p := range d {
			p.X += b.indent + barWidth + b.pad
			p.Y += at
			done = append(done, p)
		}
		if len(d) > 0 {
			y, gap = at+used, it.after
		}
		if r != nil {
			rest.items = append([]item{{r, it.before, it.after, it.keep, false}}, b.items[i+1:]...)
			break
		}
	}
	if len(rest.items) > 0 && !fresh {
		return nil, 0, b
	}
	used := y + b.pad
	ground := placed{
		X:      b.indent,
		Width:  w - b.indent,
		Height: used,
		Draw: artifact(func(ctx layout.DrawContext, x, top float64) {
			fill(ctx, b.ground, x, top-used, w-b.indent, used)
			fill(ctx, b.bar, x, top-used, barWidth, used)
		}),
	}
	done = append([]placed{ground}, done...)
	if len(rest.items) > 0 {
		return done, used, rest
	}
	return done, used, nil
}

func fill(ctx layout.DrawContext, c layout.Color, x, y, w, h float64) {
	ctx.Stream.SetFillColorRGB(c.R, c.G, c.B)
	ctx.Stream.Rectangle(x, y, w, h)
	ctx.Stream.Fill()
}

func hairline(ctx layout.DrawContext, c layout.Color, x1, y1, x2, y2, width float64) {
	ctx.Stream.SetStrokeColorRGB(c.R, c.G, c.B)
	ctx.Stream.SetLineWidth(width)
	ctx.Stream.MoveTo(x1, y1)
	ctx.Stream.LineTo(x2, y2)
	ctx.Stream.Stroke()
}

// white is empty height.
type white float64

func (s white) set(w, h float64, fresh bool) ([]placed, float64, block) {
	return []placed{{Height: float64(s)}}, min(float64(s), max(h, 0)), nil
}
