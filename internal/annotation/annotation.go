// Package annotation writes what is drawn on the faces of an object as W3C Web
// Annotations, and reads such files, of ours or of others.
//
// A note is what is said of a place on a face: in the words of the model an
// Annotation, with its text as an embedded TextualBody and its kind as a tag. A page
// is one face: an AnnotationPage whose notes have the face as their source. A
// collection is an object. Places are written twice, as the model allows: as an
// SvgSelector, exactly, on a canvas as large as the face in millimetres, and as a
// FragmentSelector with the box round them in per cent of the face.
//
// The rules are those of the Web Annotation Data Model, W3C Recommendation 23
// February 2017, and of Media Fragments URI 1.0, W3C Recommendation 25 September
// 2012; sections are named where they are followed.
package annotation

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"benchleaf/condition"
)

// Context is the JSON-LD context of the model (section 3.1).
const Context = "http://www.w3.org/ns/anno.jsonld"

// fragments names the specification of what a FragmentSelector holds (4.2.1).
const fragments = "http://www.w3.org/TR/media-frags/"

// Note is what is said of a place on a face.
type Note struct {
	// ID is an IRI that names the note (3.1).
	ID string
	// Text is what is said, Tags the kinds that it is of; either may be empty.
	Text string
	Tags []string
	// Creator is who said it, Created when; both may be left out.
	Creator string
	Created time.Time
	// Source is the IRI of what it lies on.
	Source string
	// Shapes lie on the face, in mm from its left edge and head.
	Shapes []condition.Shape
}

// Page is the notes of one face. A page without notes cannot be written: the model
// wants one or more (5.2).
type Page struct {
	// ID is an IRI; File is where the page is written, with no folder.
	ID, File string
	Label    string
	// Source is the IRI of the face, Size its size.
	Source string
	Size   condition.Size
	Notes  []Note
}

// Collection is the pages of one object.
type Collection struct {
	ID, Label string
	Pages     []Page
}

// File is one file of a written collection.
type File struct {
	Name string
	Data []byte
}

// Files writes a collection: its own file first, then one for each page that has
// notes. Each page can be read alone.
func (c Collection) Files() ([]File, error) {
	var pages []Page
	total := 0
	for _, p := range c.Pages {
		if len(p.Notes) > 0 {
			pages = append(pages, p)
			total += len(p.Notes)
		}
	}
	whole := object{
		"@context": Context, "id": c.ID, "type": "AnnotationCollection", "label": c.Label, "total": total, // 5.1
	}
	if len(pages) > 0 {
		whole["first"], whole["last"] = pages[0].ID, pages[len(pages)-1].ID
	}
	first, err := write(whole)
	if err != nil {
		return nil, err
	}
	files := []File{{"collection.json", first}}
	start := 0
	for i, p := range pages {
		page, err := p.object()
		if err != nil {
			return nil, err
		}
		page["@context"] = Context
		page["partOf"] = object{"id": c.ID, "type": "AnnotationCollection", "label": c.Label, "total": total}
		page["startIndex"] = start
		if i > 0 {
			page["prev"] = pages[i-1].ID
		}
		if i+1 < len(pages) {
			page["next"] = pages[i+1].ID
		}
		data, err := write(page)
		if err != nil {
			return nil, err
		}
		files = append(files, File{p.File, data})
		start += len(p.Notes)
	}
	return files, nil
}

// object is a JSON object that is being written.
type object map[string]any

func write(o object) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false) // the SVG stays readable
	e.SetIndent("", "  ")
	err := e.Encode(o)
	return b.Bytes(), err
}

func (p Page) object() (object, error) {
	if err := p.Size.Validate(); err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", p.Label, err)
	}
	items := make([]object, len(p.Notes))
	for i, n := range p.Notes {
		if n.ID == "" || len(n.Shapes) == 0 {
			return nil, fmt.Errorf("%s cannot be written: note %d has no name or no place", p.Label, i+1)
		}
		items[i] = p.note(n)
	}
	return object{"id": p.ID, "type": "AnnotationPage", "label": p.Label, "items": items}, nil
}

func (p Page) note(n Note) object {
	var bodies []object
	for _, t := range n.Tags {
		bodies = append(bodies, object{"type": "TextualBody", "purpose": "tagging", "value": t, "language": "en"})
	}
	if n.Text != "" {
		bodies = append(bodies, object{
			"type": "TextualBody", "purpose": "describing", "value": n.Text, "format": "text/plain", "language": "en",
		})
	}
	selectors := []object{{"type": "SvgSelector", "value": svgOf(n.Shapes, p.Size)}} // 4.2.7
	if box, has := percentOf(n.Shapes, p.Size); has {
		selectors = append(selectors, object{"type": "FragmentSelector", "conformsTo": fragments, "value": box}) // 4.2.1
	}
	o := object{
		"id": n.ID, "type": "Annotation", "motivation": "describing",
		"target": object{"type": "SpecificResource", "source": p.Source, "selector": selectors}, // 4
	}
	if len(bodies) > 0 {
		o["body"] = bodies
	}
	if !n.Created.IsZero() {
		o["created"] = n.Created.UTC().Format(time.RFC3339) // 3.3.1: UTC, expressed as Z
	}
	if n.Creator != "" {
		o["creator"] = object{"type": "Person", "nickname": n.Creator}
	}
	return o
}

// spotMm is the radius of the circle that stands for a spot, which has no extent.
const spotMm = 1

// svgOf writes shapes as SVG on a canvas as large as the face. A strip is a line
// with the width of its stroke, which is part of its place and no ornament.
func svgOf(shapes []condition.Shape, size condition.Size) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s">`, num(size.WidthMm), num(size.HeightMm))
	if len(shapes) > 1 {
		b.WriteString("<g>")
	}
	for _, s := range shapes {
		b.WriteString(element(s))
	}
	if len(shapes) > 1 {
		b.WriteString("</g>")
	}
	b.WriteString("</svg>")
	return b.String()
}

func element(s condition.Shape) string {
	switch s.Form {
	case condition.Spot:
		return fmt.Sprintf(`<circle cx="%s" cy="%s" r="%d"/>`, num(s.Points[0].XMm), num(s.Points[0].YMm), spotMm)
	case condition.Box:
		low, high := s.Bounds()
		return fmt.Sprintf(`<rect x="%s" y="%s" width="%s" height="%s"/>`,
			num(low.XMm), num(low.YMm), num(high.XMm-low.XMm), num(high.YMm-low.YMm))
	case condition.Outline:
		return `<polygon points="` + pointsOf(s) + `"/>`
	case condition.Strip:
		return `<polyline points="` + pointsOf(s) + `" fill="none" stroke-width="` + num(s.WidthMm) + `"/>`
	}
	return `<polyline points="` + pointsOf(s) + `" fill="none"/>`
}

func pointsOf(s condition.Shape) string {
	parts := make([]string, len(s.Points))
	for i, p := range s.Points {
		parts[i] = num(p.XMm) + "," + num(p.YMm)
	}
	return strings.Join(parts, " ")
}

// num writes millimetres to a ten-thousandth, far finer than anything is drawn.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 4, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// percentOf is the box round shapes in per cent of the face, as Media Fragments 4.2.2
// writes it; a box without extent is none.
func percentOf(shapes []condition.Shape, size condition.Size) (string, bool) {
	var all condition.Shape
	for _, s := range shapes {
		low, high := s.Bounds()
		half := s.WidthMm / 2
		if s.Form == condition.Spot {
			half = spotMm
		}
		all.Points = append(all.Points,
			condition.Point{XMm: max(low.XMm-half, 0), YMm: max(low.YMm-half, 0)},
			condition.Point{XMm: min(high.XMm+half, size.WidthMm), YMm: min(high.YMm+half, size.HeightMm)})
	}
	low, high := all.Bounds()
	w, h := high.XMm-low.XMm, high.YMm-low.YMm
	x, y := 100/size.WidthMm, 100/size.HeightMm
	const least = 1e-4 // per cent, as num writes it
	if !(w*x >= least && h*y >= least) {
		return "", false
	}
	return fmt.Sprintf("xywh=percent:%s,%s,%s,%s", num(low.XMm*x), num(low.YMm*y), num(w*x), num(h*y)), true
}

// errNone is the sentence for what is no annotation at all.
var errNone = errors.New("the file holds no Web Annotation: a JSON object is expected whose type is Annotation, " +
	"AnnotationPage or AnnotationCollection")
