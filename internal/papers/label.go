package papers

import (
	"fmt"
	"slices"
	"strings"

	"github.com/carlos7ags/folio/layout"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// Labels sets the labels of bottles, by their IDs in the studio's journal, two
// across and four down a page, with lines to cut along. An ID may stand more
// than once, for more than one bottle.
//
// What it says of hazards is that of what is in the bottle, at its strength; the
// data sheet delivered with it decides, and every label says so.
//
// Errors: no bottle, or one that is not on the shelf; a size of paper that is
// not known.
func Labels(st *record.Studio, bottles []string, o Options) ([]byte, error) {
	if len(bottles) == 0 {
		return nil, fmt.Errorf("no bottle is named: labels are made for at least one")
	}
	list := make([]*record.ShelfBottle, len(bottles))
	for i, id := range bottles {
		if list[i] = st.Bottle(id); list[i] == nil {
			return nil, fmt.Errorf("there is no bottle %q in the studio’s list", id)
		}
	}
	m, err := newMaker(nil, st, o)
	if err != nil {
		return nil, err
	}
	m.bare = true
	m.info.Title = "Labels of " + plural(len(list), "bottle", "bottles")
	// Labels have a page of their own: narrow margins.
	m.size.left, m.size.right, m.size.top, m.size.bottom = 28, 28, 28, 28
	const across, down = 2, 4
	w, h := m.size.measure()/across, (m.size.height-56)/down
	for i := 0; i < len(list); i += across * down {
		end := min(i+across*down, len(list))
		g := labelSheet{m: m, w: w, h: h}
		for _, b := range list[i:end] {
			g.labels = append(g.labels, m.label(b, account.HazardsOf(b), w, h))
		}
		m.add(g, 0, 0, false)
	}
	return m.finish()
}

// label is what stands on one label: text at its left, signs at its right.
type label struct {
	left       []line
	pictograms []string
	alt        string
}

var (
	labelName     = &style{textBold, 15, 17, ink}
	labelStrength = &style{text, 11, 13.5, ink}
	labelText     = &style{small, 7.6, 9.6, ink}
	labelBold     = &style{smallBold, 7.6, 9.6, ink}
	labelMuted    = &style{small, 6.4, 7.8, muted}
	labelTiny     = &style{small, 6.4, 7.6, ink}
	labelSignal   = &style{smallBold, 9, 12, stop}
)

const labelPad, labelSide = 10.0, 52.0

func (m *maker) label(b *record.ShelfBottle, hz account.Hazards, w, h float64) label {
	x := b.Body
	var l label
	column := w - 2*labelPad
	if len(hz.Pictograms) > 0 {
		l.pictograms = hz.Pictograms
		l.alt = "Hazard pictograms " + strings.Join(l.pictograms, ", ")
		column -= labelSide + 7
	}
	set := func(lines []line, spans ...span) []line {
		if strings.TrimSpace(plain(spans)) == "" {
			return lines
		}
		return append(lines, m.t.setLines(spans, column)...)
	}
	var head, middle, tail []line
	head = set(head, span{upper(x.Name), labelName})
	substance := x.Substance
	if strings.EqualFold(substance, x.Name) {
		substance = ""
	}
	head = set(head, span{joined("\n", substance, strengthText(b)), labelStrength})
	head = append(head, line{lead: 3})
	made := "Made "
	if x.Form == record.FormSolid || x.Form == "solvent" || x.Form == "concentrate" {
		made = "Opened "
	}
	head = set(
		head,
		span{
			joined(
				" · ",
				made+m.k.Day(x.MadeAt)+prefixed(" by ", x.Maker),
				amountText(x),
				prefixed("lot ", x.Lot),
				x.Supplier,
			),
			labelText,
		},
	)
	expiry := "No date of expiry"
	if !x.ExpiresAt.IsZero() {
		expiry = "Use by " + m.k.Day(x.ExpiresAt)
	}
	head = set(head, span{expiry, labelBold}, span{prefixed(": ", x.ExpiryBasis), labelText})
	head = append(head, line{lead: 3})

	tail = set(tail, span{hz.Note, labelMuted})
	tail = set(tail, span{joined(" · ", m.studioName(), "bottle "+x.ID), labelMuted})
	// Signal word and codes always stand; statements are worded as far as there
	// is room, and cautions go into smaller type before any is cut.
	var cautions []line
	room := h - 2*labelPad
	head = shortened(m.t, head, room*0.6, column)
	for _, fit := range []struct {
		words int
		size  *style
	}{{2, labelText}, {1, labelText}, {0, labelText}, {0, labelTiny}} {
		said := joined(" ", strings.Join(hz.Lines, " "), strings.Join(x.Cautions, " "), strings.Join(x.Warnings, " "))
		cautions = set(nil, span{said, fit.size})
		middle = set(nil, span{upper(hz.Signal), labelSignal})
		middle = set(middle, span{
			joined(" ", statementsOf(hz.Statements, fit.words > 0), statementsOf(hz.Precautions, fit.words > 1)),
			labelMuted,
		})
		if height(head)+height(middle)+height(cautions)+height(tail) <= room {
			break
		}
	}
	cautions = shortened(m.t, cautions, room-height(head)-height(middle)-height(tail), column)
	l.left = slices.Concat(head, middle, cautions, tail)
	return l
}

// strengthText is the strength that counts now, with its range.
func strengthText(b *record.ShelfBottle) string {
	r := b.StrengthNow()
	switch {
	case b.Body.Unit == "pure":
		return "as supplied"
	case r != nil && b.Body.Unit == "parts":
		return "1 part in " + number(r.Best)
	}
	clouded := ""
	if b.Clouded() {
		clouded = "left, clouded: use it clear from above"
	}
	return joined(", ", rangeText(r, b.Body.Unit), clouded)
}

func amountText(b record.Bottle) string {
	var parts []string
	if b.VolumeMl > 0 {
		parts = append(parts, quantity(b.VolumeMl, "mL"))
	}
	if b.MassG > 0 {
		parts = append(parts, quantity(b.MassG, "g"))
	}
	return strings.Join(parts, ", ")
}

// shortened cuts lines that a label cannot hold and says so in the last one.
func shortened(t *typeface, lines []line, h, w float64) []line {
	if height(lines) <= h {
		return lines
	}
	note := t.setLines([]span{{"… more in the bottle’s record.", labelMuted}}, w)
	room := h - height(note)
	n, used := 0, 0.0
	for n < len(lines) && used+lines[n].lead <= room {
		used += lines[n].lead
		n++
	}
	return append(lines[:n:n], note...)
}

// labelSheet is a page of labels.
type labelSheet struct {
	m      *maker
	labels []label
	w, h   float64
}

func (g labelSheet) set(w, h float64, fresh bool) ([]placed, float64, block) {
	if !fresh {
		return nil, 0, g
	}
	var done []placed
	for i, l := range g.labels {
		x, y := float64(i%2)*g.w, float64(i/2)*g.h
		done = append(done, placed{X: x, Y: y, Draw: artifact(func(ctx layout.DrawContext, x, top float64) {
			stroke(ctx, rule, 0.5, 2, 2)
			ctx.Stream.Rectangle(x, top-g.h, g.w, g.h)
			ctx.Stream.Stroke()
			unstroke(ctx)
		})})
		done = append(
			done,
			placed{
				X:      x + labelPad,
				Y:      y + labelPad,
				Width:  g.w,
				Height: height(l.left),
				Tag:    "P",
				Draw: func(ctx layout.DrawContext, x, top float64) {
					g.m.t.drawLines(ctx, l.left, x, top, g.w, left)
				},
			},
		)
		if n := len(l.pictograms); n > 0 {
			r := min(labelSide/2, (g.h-2*labelPad)/float64(n)/2)
			done = append(
				done,
				placed{
					X:       x + g.w - labelPad - r,
					Y:       y + labelPad + r,
					Tag:     "Figure",
					AltText: l.alt,
					Draw: func(ctx layout.DrawContext, x, top float64) {
						for i, code := range l.pictograms {
							diamond(ctx, code, x, top-float64(i)*2*r, r)
						}
					},
				},
			)
		}
	}
	return done, h, nil
}
