package condition

import (
	"fmt"
	"strconv"
	"strings"
)

// String writes a shape as ParseShapes reads it.
func (s Shape) String() string {
	parts := []string{string(s.Form)}
	if s.Form == Strip {
		parts = append(parts, written(s.WidthMm))
	}
	for _, p := range s.Points {
		parts = append(parts, written(p.XMm)+","+written(p.YMm))
	}
	return strings.Join(parts, " ")
}

// WriteShapes writes shapes as ParseShapes reads them.
func WriteShapes(shapes []Shape) string {
	list := make([]string, len(shapes))
	for i, s := range shapes {
		list[i] = s.String()
	}
	return strings.Join(list, "; ")
}

// MarshalText writes the shape as String does.
func (s Shape) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads one shape as ParseShapes does.
func (s *Shape) UnmarshalText(text []byte) error {
	list, err := ParseShapes(string(text))
	if err == nil && len(list) != 1 {
		err = fmt.Errorf("one shape is expected, not %d", len(list))
	}
	if err == nil {
		*s = list[0]
	}
	return err
}

func written(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// ParseShapes reads shapes as a person can type them, parted by semicolons: the
// form, for a strip its width in mm, then the points in mm from the left edge and
// from the head.
//
//	line 340,180 256,182; strip 4 0,230 340,226; spot 12,30
//
// Whether they are shapes that a sheet can have, Validate says.
func ParseShapes(text string) ([]Shape, error) {
	var list []Shape
	for part := range strings.SplitSeq(strings.ReplaceAll(text, "\n", ";"), ";") {
		words := strings.Fields(part)
		if len(words) == 0 {
			continue
		}
		if len(list) == MaxShapes {
			return nil, fmt.Errorf("more than %d shapes stand here: record several findings", MaxShapes)
		}
		s := Shape{Form: Form(strings.ToLower(words[0]))}
		words = words[1:]
		if s.Form == Strip {
			if len(words) == 0 {
				return nil, fmt.Errorf("a strip needs its width in mm before its points")
			}
			w, err := strconv.ParseFloat(words[0], 64)
			if err != nil {
				return nil, fmt.Errorf("the width of a strip cannot be %.40q: a number of mm is expected", words[0])
			}
			s.WidthMm, words = w, words[1:]
		}
		if len(words) > MaxPoints {
			return nil, fmt.Errorf("a shape has %d points: at most %d are possible", len(words), MaxPoints)
		}
		for _, w := range words {
			x, y, both := strings.Cut(w, ",")
			px, err := strconv.ParseFloat(x, 64)
			py, err2 := strconv.ParseFloat(y, 64)
			if !both || err != nil || err2 != nil {
				return nil, fmt.Errorf(
					"a point cannot be %.40q: two numbers of mm as in 256,182 are expected, from the left edge and from the head", w)
			}
			s.Points = append(s.Points, Point{px, py})
		}
		list = append(list, s)
	}
	return list, nil
}
