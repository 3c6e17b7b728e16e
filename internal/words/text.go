package words

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Upper makes the first letter a capital, in any script.
func (l Language) Upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 || r == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// Sentence begins with a capital and ends with a full stop.
func (l Language) Sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	if !strings.ContainsAny(s[len(s)-1:], ".!?:") {
		s += "."
	}
	return l.Upper(s)
}

// List writes "a, b and c"; what is empty is left out.
func (l Language) List(parts []string) string {
	parts = filled(parts)
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	last := len(parts) - 1
	return strings.Join(parts[:last], ", ") + " and " + parts[last]
}

// Joined writes the parts that are not empty, one after the other.
func Joined(sep string, parts ...string) string { return strings.Join(filled(parts), sep) }

// After puts before in front of s, unless s is empty.
func After(before, s string) string {
	if strings.TrimSpace(s) == "" {
		return ""
	}
	return before + s
}

// Plural counts: "1 sheet", "9 sheets".
func (l Language) Plural(n int, one, many string) string {
	if n == 1 {
		return "1" + NBSP + one
	}
	return strconv.Itoa(n) + NBSP + many
}

// Clip keeps a quoted input short enough for one sentence.
func Clip(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

func filled(parts []string) []string {
	var out []string
	for _, p := range parts {
		if strings.TrimSpace(p) != "" {
			out = append(out, p)
		}
	}
	return out
}
