package web

import (
	"strconv"
	"time"
)

// fills holds the values that a form starts with; blanks are left out.
type fills map[string]string

func (m fills) text(field, s string) fills {
	if s != "" {
		m[field] = s
	}
	return m
}

func (m fills) number(field string, v *float64) fills {
	if v != nil {
		m[field] = plainNumber(*v)
	}
	return m
}

func (m fills) plain(field string, v float64) fills {
	if v != 0 {
		m[field] = plainNumber(v)
	}
	return m
}

func (m fills) whole(field string, v *int) fills {
	if v != nil {
		m[field] = strconv.Itoa(*v)
	}
	return m
}

func (m fills) money(field string, minor int64, currency string) fills {
	if minor != 0 {
		m[field] = amount(minor, currency)
	}
	return m
}

func (s *Server) fillTime(m fills, field string, t time.Time) {
	if !t.IsZero() {
		m[field] = t.In(s.zone).Format(timeValue)
	}
}

// setSheets ticks sheets in a form that is shown for the first time.
func (f *Form) setSheets(field string, sheets []int) *Form {
	if len(f.Refused) > 0 || f.Clash != nil {
		return f // what was typed stays
	}
	f.values.Del(field)
	for _, n := range sheets {
		f.values.Add(field, strconv.Itoa(n))
	}
	return f
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// happened is a time given in a form, or the moment of the press.
func happened(f *Form, field, what string) time.Time {
	if t := f.Time(field, what); !t.IsZero() {
		return t
	}
	return f.At()
}

// Open says whether a folded form must stand open: it was refused, it corrects
// an entry, or the address asked for it.
func (f *Form) Open() bool {
	return len(f.Refused) > 0 || f.Clash != nil || f.Line("corrects") != "" || f.Line("open") != ""
}
