package papers

import (
	"embed"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"

	"github.com/carlos7ags/folio/font"
	"golang.org/x/text/unicode/norm"
)

// The fonts are the files of Source Serif 4.005 as published, unchanged; their
// licence is fonts/OFL.txt.
//
//go:embed fonts/*.ttf
var fontFiles embed.FS

// face names one font file: a weight or slope, at the optical size that it was
// drawn for.
type face int

const (
	text      face = iota // running text, about 10 pt
	textIt                // the same, italic
	textBold              // the same, semibold
	small                 // captions and tables, about 8 pt
	smallIt               // the same, italic
	smallBold             // the same, semibold
	display               // titles, above 20 pt
	faces
)

var faceFiles = [faces]string{
	text: "SourceSerif4-Regular", textIt: "SourceSerif4-It", textBold: "SourceSerif4-Semibold",
	small: "SourceSerif4SmText-Regular", smallIt: "SourceSerif4SmText-It", smallBold: "SourceSerif4SmText-Semibold",
	display: "SourceSerif4Display-Regular",
}

// parsed is a font file read once for the whole program; it is safe for many
// papers at a time.
type parsed struct {
	font.Face
	perEm float64
}

var parsedFaces = sync.OnceValues(func() ([faces]*parsed, error) {
	var list [faces]*parsed
	for f, name := range faceFiles {
		data, err := fontFiles.ReadFile("fonts/" + name + ".ttf")
		if err != nil {
			return list, err
		}
		p, err := font.ParseTTF(data)
		if err != nil {
			return list, fmt.Errorf("the typeface %s cannot be read: %w", name, err)
		}
		list[f] = &parsed{Face: p, perEm: float64(p.UnitsPerEm())}
	}
	return list, nil
})

// typeface is the set of faces of one paper. It remembers which characters it
// had no form for.
type typeface struct {
	faces    [faces]*parsed
	embedded [faces]*font.EmbeddedFont
	missing  map[rune]bool
}

func newTypeface() (*typeface, error) {
	p, err := parsedFaces()
	if err != nil {
		return nil, err
	}
	t := &typeface{faces: p, missing: map[rune]bool{}}
	for f := range faces {
		t.embedded[f] = font.NewEmbeddedFont(p[f])
	}
	return t, nil
}

// twins are characters that share a form in the typeface with another one. A
// PDF can tell only one of them back, so the commoner stands for both.
var twins = map[rune]rune{
	'\u2010': '-', '\u2011': '-', '\u03bc': 'µ', '\u02bb': '\u2018', '\u02bc': '\u2019',
	'\u2206': 'Δ', '\u2126': 'Ω', '\u2215': '\u2044',
	// Spaces of any width become a plain one, those that do not break the
	// no-break space.
	'\u202f': '\u00a0', '\u2007': '\u00a0', '\t': ' ', '\u0085': '\n', '\u2028': '\n', '\u2029': '\n',
}

// legible gives s the characters that the typeface has: composed, twins
// replaced, and what has no form shown as its code. A run of such characters
// shares one pair of brackets.
func (t *typeface) legible(s string) string {
	plain := true
	for i := range len(s) {
		if c := s[i]; c >= 0x7f || c < ' ' && c != '\n' {
			plain = false
			break
		}
	}
	if plain {
		return s
	}
	s = norm.NFC.String(strings.ToValidUTF8(strings.ReplaceAll(s, "\r\n", "\n"), "\ufffd"))
	var b strings.Builder
	inCodes := false
	for _, r := range s {
		if tw, ok := twins[r]; ok {
			r = tw
		}
		switch {
		case unicode.Is(unicode.Zs, r) && r != '\u00a0':
			r = ' '
		case r == '\r':
			r = '\n'
		case unicode.Is(unicode.Cf, r): // no form by nature: joiners, soft hyphens, direction marks
			continue
		}
		if r != '\n' && t.faces[text].GlyphIndex(r) == 0 || r == '\u007f' {
			t.missing[r] = true
			if inCodes {
				b.WriteByte(' ')
			} else {
				b.WriteByte('[')
			}
			fmt.Fprintf(&b, "U+%04X", r)
			inCodes = true
			continue
		}
		if inCodes {
			b.WriteByte(']')
			inCodes = false
		}
		b.WriteRune(r)
	}
	if inCodes {
		b.WriteByte(']')
	}
	return b.String()
}

// missingNote is the sentence on characters without a form, empty when there
// are none.
func (t *typeface) missingNote() string {
	if len(t.missing) == 0 {
		return ""
	}
	list := make([]rune, 0, len(t.missing))
	for r := range t.missing {
		list = append(list, r)
	}
	slices.Sort(list)
	codes := make([]string, 0, len(list))
	const most = 40
	for i, r := range list {
		if i == most {
			codes = append(codes, fmt.Sprintf("and %d more", len(list)-most))
			break
		}
		codes = append(codes, fmt.Sprintf("U+%04X", r))
	}
	return "The typeface of this paper has no form for some characters of the record; each is shown as its Unicode " +
		"code in square brackets, and stands unchanged in the record itself: " +
		strings.Join(
			codes,
			", ",
		) + "."
}

// advance is the width of r in the face at size 1.
func (p *parsed) advance(r rune) float64 {
	return float64(p.GlyphAdvance(p.GlyphIndex(r))) / p.perEm
}

// kern is what is added between two characters at size 1.
func (p *parsed) kern(a, b rune) float64 {
	return float64(p.Kern(p.GlyphIndex(a), p.GlyphIndex(b))) / p.perEm
}
