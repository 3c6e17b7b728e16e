package annotation

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"

	"benchleaf/condition"
)

// maxDepth is how deep groups may lie in one another.
const maxDepth = 50

// canvas is where the coordinates of an SVG lie on a face.
type canvas struct {
	reader
	x0, y0, x, y float64 // origin, and mm to a unit
	shapes       []condition.Shape
}

// svg reads the shapes of an SvgSelector (4.2.7). Style, script, text and what else
// is no shape is passed over, as the model asks; what would move a shape is refused.
func (r reader) svg(value string) ([]condition.Shape, error) {
	d := xml.NewDecoder(strings.NewReader(value))
	d.Strict = true
	c := canvas{reader: r}
	depth, began := 0, false
	for {
		t, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("its SVG is not well formed: %w", err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			if depth++; depth > maxDepth {
				return nil, fmt.Errorf("its SVG nests elements more than %d deep", maxDepth)
			}
			if !began {
				began = true
				if err := c.begin(t); err != nil {
					return nil, err
				}
				if t.Name.Local == "svg" {
					continue
				}
			}
			if skipped(t.Name.Local) {
				depth--
				if err := d.Skip(); err != nil {
					return nil, fmt.Errorf("its SVG is not well formed: %w", err)
				}
				continue
			}
			if err := c.element(t); err != nil {
				return nil, err
			}
		case xml.EndElement:
			depth--
		case xml.Directive:
			return nil, errors.New("its SVG has a document type, which is not read")
		}
		if len(c.shapes) > condition.MaxShapes {
			return nil, fmt.Errorf("its SVG has more than %d shapes", condition.MaxShapes)
		}
	}
	if len(c.shapes) == 0 {
		return nil, errors.New("its SVG has no shape: a path, rect, circle, ellipse, line, polyline or polygon is expected")
	}
	return c.shapes, nil
}

// skipped says whether an element and all in it shows nothing of the place.
func skipped(name string) bool {
	switch name {
	case "style", "script", "text", "title", "desc", "metadata", "defs", "animate", "animateTransform", "set", "filter":
		return true
	}
	return false
}

// begin finds the scale: the canvas is as large as the source.
func (c *canvas) begin(t xml.StartElement) error {
	box := numbers(attr(t, "viewBox"))
	w, h := length(attr(t, "width")), length(attr(t, "height"))
	switch {
	case len(box) == 4 && box[2] > 0 && box[3] > 0:
		c.x0, c.y0, w, h = box[0], box[1], box[2], box[3]
	case attr(t, "viewBox") != "":
		return fmt.Errorf("the viewBox %.60q of its SVG cannot be read", attr(t, "viewBox"))
	case w > 0 && h > 0:
	case c.px.Width > 0 && c.px.Height > 0:
		w, h = c.px.Width, c.px.Height
	default:
		return errors.New("its SVG does not say how large its canvas is, and the size of the picture is not known")
	}
	c.x, c.y = c.size.WidthMm/w, c.size.HeightMm/h
	return nil
}

func attr(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return strings.TrimSpace(a.Value)
		}
	}
	return ""
}

// length is a width or height in pixels, 0 for any other.
func length(s string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSuffix(s, "px"), 64)
	if err != nil {
		return 0
	}
	return v
}

// numbers reads numbers parted by blanks or commas; nil where one cannot be read.
func numbers(s string) []float64 {
	var list []float64
	for _, f := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(", \n\t\r", r) }) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
		list = append(list, v)
	}
	return list
}

func (c *canvas) at(x, y float64) condition.Point {
	return c.inside(condition.Point{XMm: (x - c.x0) * c.x, YMm: (y - c.y0) * c.y})
}

func (c *canvas) element(t xml.StartElement) error {
	if attr(t, "transform") != "" {
		return errors.New("its SVG moves a shape by a transform, which is not read: the shape itself must lie where it " +
			"is meant")
	}
	get := func(name string) float64 { return length(attr(t, name)) }
	switch t.Name.Local {
	case "svg", "g", "a":
	case "rect":
		c.add(condition.Box, c.at(get("x"), get("y")), c.at(get("x")+get("width"), get("y")+get("height")))
	case "circle":
		c.round(get("cx"), get("cy"), get("r"), get("r"))
	case "ellipse":
		c.round(get("cx"), get("cy"), get("rx"), get("ry"))
	case "line":
		c.add(condition.Line, c.at(get("x1"), get("y1")), c.at(get("x2"), get("y2")))
	case "polyline", "polygon":
		list := numbers(attr(t, "points"))
		if len(list) < 4 || len(list)%2 != 0 {
			return fmt.Errorf("the points %.40q of a %s cannot be read", attr(t, "points"), t.Name.Local)
		}
		var points []condition.Point
		for i := 0; i < len(list); i += 2 {
			points = append(points, c.at(list[i], list[i+1]))
		}
		if t.Name.Local == "polygon" {
			c.add(condition.Outline, points...)
			break
		}
		c.line(points, get("stroke-width"))
	case "path":
		return c.path(attr(t, "d"))
	default:
		return fmt.Errorf("its SVG has a %q, which is no shape that is read: a path, rect, circle, ellipse, line, polyline "+
			"or polygon is expected", t.Name.Local)
	}
	return nil
}

func (c *canvas) add(f condition.Form, points ...condition.Point) {
	c.shapes = append(c.shapes, condition.Shape{Form: f, Points: points})
}

// line adds a line, or a strip where its stroke has a width.
func (c *canvas) line(points []condition.Point, width float64) {
	s := condition.Shape{Form: condition.Line, Points: points}
	if width > 0 {
		s.Form, s.WidthMm = condition.Strip, width*(c.x+c.y)/2
	}
	c.shapes = append(c.shapes, s)
}

// round adds a circle or an ellipse: as small as the one that stands for a spot it is
// a spot, else an outline of 72 corners.
func (c *canvas) round(cx, cy, rx, ry float64) {
	if rx*c.x <= spotMm+0.001 && ry*c.y <= spotMm+0.001 {
		c.add(condition.Spot, c.at(cx, cy))
		return
	}
	const corners = 72
	var points []condition.Point
	for i := range corners {
		a := 2 * math.Pi * float64(i) / corners
		points = append(points, c.at(cx+rx*math.Cos(a), cy+ry*math.Sin(a)))
	}
	c.add(condition.Outline, points...)
}

// pen follows the data of a path.
type pen struct {
	c       *canvas
	x, y    float64
	points  []condition.Point
	startXY [2]float64
}

// pathArguments are how many numbers each command takes.
var pathArguments = map[byte]int{'M': 2, 'L': 2, 'H': 1, 'V': 1, 'C': 6, 'Q': 4, 'Z': 0}

// path reads the data of a path: straight pieces, and curves of Bezier as short
// straight ones. Each piece that is closed is an outline, each other a line.
func (c *canvas) path(data string) error {
	p := &pen{c: c}
	rest := strings.TrimSpace(data)
	for rest != "" {
		command := rest[0]
		upper := command &^ 0x20
		most, known := pathArguments[upper]
		if !known {
			return fmt.Errorf("the path has %.10q, which is not read: straight pieces and Bezier curves are (M, L, H, V, C, "+
				"Q, Z)", rest)
		}
		end := strings.IndexFunc(rest[1:], func(r rune) bool { return r != 'e' && r != 'E' && unicode.IsLetter(r) })
		args := rest[1:]
		if end >= 0 {
			args, rest = rest[1:1+end], rest[1+end:]
		} else {
			rest = ""
		}
		list := numbers(spread(args))
		if most == 0 && strings.TrimSpace(args) == "" {
			p.close()
			continue
		}
		if most == 0 || len(list) == 0 || len(list)%most != 0 {
			return fmt.Errorf("the numbers after %q in a path cannot be read", string(command))
		}
		for i := 0; i < len(list); i += most {
			p.do(upper, command != upper, list[i:i+most], i > 0)
		}
		if len(p.points) > condition.MaxPoints {
			return fmt.Errorf("a path has more than %d points", condition.MaxPoints)
		}
	}
	p.lift()
	return nil
}

// spread parts numbers that stand against each other, as paths may: "10-5".
func spread(s string) string {
	var b strings.Builder
	for i, r := range s {
		if r == '-' && i > 0 && s[i-1] != 'e' && s[i-1] != 'E' {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
	}
	return b.String()
}

func (p *pen) do(command byte, relative bool, v []float64, again bool) {
	at := func(i int) (x, y float64) {
		if relative {
			return p.x + v[i], p.y + v[i+1]
		}
		return v[i], v[i+1]
	}
	if command != 'M' && len(p.points) == 0 {
		p.to(p.x, p.y) // goes on from where a closed piece began
	}
	switch command {
	case 'M':
		x, y := at(0)
		if !again { // further pairs are lines
			p.lift()
			p.startXY = [2]float64{x, y}
		}
		p.to(x, y)
	case 'L':
		p.to(at(0))
	case 'H':
		if relative {
			v[0] += p.x
		}
		p.to(v[0], p.y)
	case 'V':
		if relative {
			v[0] += p.y
		}
		p.to(p.x, v[0])
	case 'C':
		x1, y1 := at(0)
		x2, y2 := at(2)
		x3, y3 := at(4)
		p.curve(x1, y1, x2, y2, x3, y3)
	case 'Q':
		x1, y1 := at(0)
		x2, y2 := at(2)
		// The same curve as a cubic one.
		p.curve(p.x+2*(x1-p.x)/3, p.y+2*(y1-p.y)/3, x2+2*(x1-x2)/3, y2+2*(y1-y2)/3, x2, y2)
	}
}

func (p *pen) to(x, y float64) {
	p.x, p.y = x, y
	p.points = append(p.points, p.c.at(x, y))
}

// curve goes along a cubic curve in steps that no hand can tell from it.
func (p *pen) curve(x1, y1, x2, y2, x3, y3 float64) {
	const steps = 16
	x0, y0 := p.x, p.y
	for i := 1; i <= steps; i++ {
		t := float64(i) / steps
		a, b, c, d := (1-t)*(1-t)*(1-t), 3*(1-t)*(1-t)*t, 3*(1-t)*t*t, t*t*t
		p.to(a*x0+b*x1+c*x2+d*x3, a*y0+b*y1+c*y2+d*y3)
	}
}

func (p *pen) close() {
	if len(p.points) >= 3 {
		first, last := p.points[0], p.points[len(p.points)-1]
		if len(p.points) > 3 && first == last {
			p.points = p.points[:len(p.points)-1]
		}
		p.c.add(condition.Outline, p.points...)
	}
	p.points = nil
	p.x, p.y = p.startXY[0], p.startXY[1]
}

func (p *pen) lift() {
	if len(p.points) >= 2 {
		p.c.line(p.points, 0)
	}
	p.points = nil
}
