package annotation

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/condition"
)

// What a file may hold at most: more than any object has, and too little to fill
// the memory of a small machine.
const (
	MaxBytes = 16 << 20
	MaxNotes = 10_000
)

// PixelSize is the size in pixels of a picture that annotations of others lie on;
// zero where it is not known.
type PixelSize struct{ Width, Height float64 }

// Read takes the notes out of a file: one annotation, a page, or a collection whose
// first page is in it. Their places are laid on a face of that size. An error is one
// sentence that says which annotation cannot be read, and why.
func Read(data []byte, size condition.Size, px PixelSize) ([]Note, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("the file has %d MB: at most %d MB can be read", len(data)>>20, MaxBytes>>20)
	}
	if err := size.Validate(); err != nil {
		return nil, err
	}
	var top node
	if err := json.Unmarshal(data, &top); err != nil {
		return nil, fmt.Errorf("the file is no whole JSON: %w", err)
	}
	if !slices.Contains(list(top["@context"]), any(Context)) {
		if top.is("Annotation") || top.is("AnnotationPage") || top.is("AnnotationCollection") {
			// 3.1, 5.1, 5.2
			return nil, fmt.Errorf("the file does not name %s as its @context, so its words may mean anything", Context)
		}
		return nil, errNone
	}
	items, err := itemsOf(top)
	if err != nil {
		return nil, err
	}
	if len(items) > MaxNotes {
		return nil, fmt.Errorf("the file has %d annotations: at most %d can be read at once", len(items), MaxNotes)
	}
	r := reader{size: size, px: px}
	notes := make([]Note, len(items))
	for i, it := range items {
		n, err := r.note(it)
		if err != nil {
			return nil, fmt.Errorf("annotation %d of %d: %w", i+1, len(items), err)
		}
		notes[i] = n
	}
	return notes, nil
}

// node is a JSON object as it was read.
type node map[string]any

func asNode(v any) node {
	m, _ := v.(map[string]any)
	return m
}

func (n node) text(key string) string {
	s, _ := n[key].(string)
	return s
}

// is says whether a class is among the types.
func (n node) is(class string) bool { return slices.Contains(list(n["type"]), any(class)) }

// list is a value that may stand alone or in an array, as JSON-LD allows.
func list(v any) []any {
	switch v := v.(type) {
	case nil:
		return nil
	case []any:
		return v
	}
	return []any{v}
}

func itemsOf(top node) ([]node, error) {
	page := top
	switch {
	case top.is("Annotation"):
		return []node{top}, nil
	case top.is("AnnotationCollection"):
		if page = asNode(top["first"]); page == nil {
			return nil, errors.New("the collection only names its pages: read the file of a page itself") // 5.1
		}
		if page.text("next") != "" {
			return nil, errors.New("the collection has further pages that are not in this file: read the file of each page")
		}
	case !top.is("AnnotationPage"):
		return nil, errNone
	}
	if page.text("id") == "" {
		return nil, errors.New("the page has no id: the model wants exactly one") // 5.2
	}
	items, isList := page["items"].([]any)
	if !isList || len(items) == 0 {
		return nil, errors.New("the page has no items: the model wants a list of one annotation or more") // 5.2
	}
	nodes := make([]node, len(items))
	for i, it := range items {
		if nodes[i] = asNode(it); nodes[i] == nil {
			return nil, fmt.Errorf("annotation %d of %d is only named here: the annotations themselves are expected", i+1,
				len(items))
		}
	}
	return nodes, nil
}

type reader struct {
	size condition.Size
	px   PixelSize
}

func (r reader) note(a node) (Note, error) {
	n := Note{ID: a.text("id")}
	switch {
	case !a.is("Annotation"):
		return n, errors.New("its type is not Annotation") // 3.1
	case n.ID == "":
		return n, errors.New("it has no id: the model wants exactly one") // 3.1
	case a["bodyValue"] != nil && a["body"] != nil:
		return n, errors.New("it has both bodyValue and body, of which the model allows one") // 3.2.5
	}
	if t := a.text("bodyValue"); t != "" {
		n.Text = t
	}
	r.bodies(&n, a["body"])
	if c := a.text("created"); c != "" {
		n.Created, _ = time.Parse(time.RFC3339, c) // a time that cannot be read is none
	}
	n.Creator = nameOf(a["creator"])
	targets := list(a["target"])
	if len(targets) == 0 {
		return n, errors.New("it has no target: the model wants one or more") // 3.1
	}
	for _, t := range targets {
		shapes, source, err := r.target(t)
		if err != nil {
			return n, err
		}
		n.Shapes = append(n.Shapes, shapes...)
		if n.Source == "" {
			n.Source = source
		}
	}
	for i, s := range n.Shapes {
		if err := s.Validate(r.size); err != nil {
			return n, fmt.Errorf("shape %d: %w", i+1, err)
		}
	}
	return n, nil
}

// bodies takes embedded texts (3.2.4); a plain string is the IRI of something
// elsewhere, which is kept as text.
func (r reader) bodies(n *Note, v any) {
	var say []string
	if n.Text != "" {
		say = append(say, n.Text)
	}
	for _, b := range list(v) {
		if iri, is := b.(string); is {
			say = append(say, iri)
			continue
		}
		body := asNode(b)
		value := body.text("value")
		if value == "" {
			continue
		}
		if slices.Contains(list(body["purpose"]), any("tagging")) {
			n.Tags = append(n.Tags, value)
		} else {
			say = append(say, value)
		}
	}
	n.Text = strings.Join(say, "\n")
}

// nameOf is how an agent is called (3.3.2).
func nameOf(v any) string {
	for _, a := range list(v) {
		if iri, is := a.(string); is {
			return iri
		}
		who := asNode(a)
		for _, key := range []string{"nickname", "name", "id"} {
			if s := who.text(key); s != "" {
				return s
			}
		}
	}
	return ""
}

// target is where one target lies. An IRI with a fragment is read as well as a
// FragmentSelector, as 4.2.1 asks of clients.
func (r reader) target(v any) ([]condition.Shape, string, error) {
	if iri, is := v.(string); is {
		return r.iri(iri)
	}
	t := asNode(v)
	source := t.text("source")
	if source == "" {
		source = asNode(t["source"]).text("id")
	}
	selectors := list(t["selector"])
	switch {
	case source == "" && t.text("id") != "" && len(selectors) == 0:
		return r.iri(t.text("id"))
	case source == "":
		return nil, "", errors.New("its target has no source: the model wants exactly one") // 4
	case len(selectors) == 0:
		return r.iri(source)
	}
	var why error
	// The exact one first; of several that differ, one is picked (4.2).
	for _, class := range []string{"SvgSelector", "FragmentSelector"} {
		for _, s := range selectors {
			sel := asNode(s)
			if !sel.is(class) {
				continue
			}
			shapes, err := r.selector(sel)
			if err == nil {
				return shapes, source, nil
			}
			why = errors.Join(why, err)
		}
	}
	if why == nil {
		why = errors.New("none of its selectors says where it lies on a picture: an SvgSelector or a FragmentSelector is " +
			"expected")
	}
	first, _, _ := strings.Cut(why.Error(), "\n")
	return nil, source, errors.New(first)
}

func (r reader) selector(s node) ([]condition.Shape, error) {
	value := s.text("value")
	switch {
	case s["refinedBy"] != nil:
		return nil, errors.New("its selector is refined by another, which is not read here") // 4.2.9
	case s.is("SvgSelector") && value == "":
		return nil, errors.New("its SVG lies in another file: it must be in the annotation itself to be read")
	case s.is("SvgSelector"):
		return r.svg(value)
	case value == "":
		return nil, errors.New("its FragmentSelector has no value: the model wants exactly one") // 4.2.1
	}
	box, err := r.fragment(value)
	return []condition.Shape{box}, err
}

// iri reads the place from the fragment of an IRI; without one it is the whole face.
func (r reader) iri(iri string) ([]condition.Shape, string, error) {
	source, frag, has := strings.Cut(iri, "#")
	if !has {
		corner := condition.Point{XMm: r.size.WidthMm, YMm: r.size.HeightMm}
		whole := condition.Shape{Form: condition.Box, Points: []condition.Point{{}, corner}}
		return []condition.Shape{whole}, source, nil
	}
	box, err := r.fragment(frag)
	return []condition.Shape{box}, source, err
}

// fragment reads a box of Media Fragments (4.2.2): xywh=10,10,30,20 or
// xywh=pixel:…, in pixels, or xywh=percent:….
func (r reader) fragment(value string) (condition.Shape, error) {
	bad := func(why string) (condition.Shape, error) {
		return condition.Shape{}, fmt.Errorf("%.60q is no place on a picture: %s", value, why)
	}
	for part := range strings.SplitSeq(value, "&") {
		spec, is := strings.CutPrefix(part, "xywh=")
		if !is {
			continue
		}
		unit, numbers, has := strings.Cut(spec, ":")
		if !has {
			unit, numbers = "pixel", spec
		}
		var v [4]float64
		fields := strings.Split(numbers, ",")
		if len(fields) != 4 {
			return bad("four numbers are expected after xywh=, as in xywh=percent:10,20,30,40")
		}
		for i, f := range fields {
			n, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
			if err != nil || math.IsNaN(n) || math.IsInf(n, 0) || n < 0 {
				return bad("four numbers from 0 upwards are expected")
			}
			v[i] = n
		}
		var x, y float64
		switch {
		case unit == "percent":
			x, y = r.size.WidthMm/100, r.size.HeightMm/100
		case unit != "pixel":
			return bad("its unit is pixel or percent")
		case r.px.Width <= 0 || r.px.Height <= 0:
			return bad("it is in pixels, and the size of the picture is not known")
		default:
			x, y = r.size.WidthMm/r.px.Width, r.size.HeightMm/r.px.Height
		}
		if v[2] <= 0 || v[3] <= 0 {
			return bad("its width and height must be above 0")
		}
		low := condition.Point{XMm: v[0] * x, YMm: v[1] * y}
		high := condition.Point{XMm: (v[0] + v[2]) * x, YMm: (v[1] + v[3]) * y}
		return condition.Shape{Form: condition.Box, Points: []condition.Point{low, r.inside(high)}}, nil
	}
	return bad("a box is expected, as in xywh=percent:10,20,30,40")
}

// inside takes back what rounding has put beyond the edge.
func (r reader) inside(p condition.Point) condition.Point {
	const rounding = 0.01 // mm
	if p.XMm > r.size.WidthMm && p.XMm < r.size.WidthMm+rounding {
		p.XMm = r.size.WidthMm
	}
	if p.YMm > r.size.HeightMm && p.YMm < r.size.HeightMm+rounding {
		p.YMm = r.size.HeightMm
	}
	return p
}
