package account

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// StockWarnings say what must be seen to before a day starts: batches that are used up,
// past their date, failed by their test, or whose safety sheet nobody has; and bottles
// past their date.
func StockWarnings(st *record.Studio, now time.Time, k words.Clock) []string {
	var list []string
	for i := range st.Supplies {
		b := &st.Supplies[i]
		if b.Retired {
			continue
		}
		name := b.Name + words.After(", lot ", b.Lot)
		switch {
		case b.Left != nil && *b.Left == 0:
			list = append(list, name+": none is left.")
		case b.Left != nil && b.Least != nil && *b.Left < *b.Least:
			list = append(list, name+": "+en.Quantity(*b.Left, b.Unit)+" left, at least "+en.Quantity(*b.Least, b.Unit)+
				" wanted.")
		}
		if !b.ExpiresAt.IsZero() && now.After(b.ExpiresAt.AddDate(0, 0, 1)) {
			list = append(list, name+": past its date, "+k.Day(b.ExpiresAt)+".")
		}
		if b.Activity == record.ActivityFailed {
			list = append(list, name+": failed the photographic activity test ("+b.ActivityBy+"): not beside photographs, "+
				"nor where colour must last.")
		}
		if b.SafetySheet == "" && (b.Sort == "chemical" || b.Sort == "paste") {
			list = append(list, name+": its safety data sheet is not to hand.")
		}
	}
	for i := range st.Bottles {
		if b := &st.Bottles[i]; b.Emptied == nil && b.Expired(now) {
			list = append(list, b.Body.Name+": "+PastDate(b, k)+".")
		}
	}
	return list
}

// climateNear is how far from a moment a sample may lie to stand for it (common
// practice, no source).
const climateNear = 30 * time.Minute

// ClimateAt is the air that a logger wrote nearest to a moment, and whose it is; ok is
// false where none is near enough.
func ClimateAt(st *record.Studio, at time.Time) (x record.ClimateSample, from string, ok bool) {
	near := climateNear
	for i := range st.Climates {
		b := &st.Climates[i].Body
		j, _ := slices.BinarySearchFunc(
			b.Samples, at, func(s record.ClimateSample, t time.Time) int { return s.At.Compare(t) },
		)
		for _, n := range []int{j - 1, j} {
			if n >= 0 && n < len(b.Samples) {
				if d := b.Samples[n].At.Sub(at).Abs(); d <= near {
					near, x, from, ok = d, b.Samples[n], b.Logger+", "+b.Room, true
				}
			}
		}
	}
	return x, from, ok
}

// loggedAir gives a run the air of its room as a logger wrote it, where none was typed
// and its operation hangs on it.
func (p *RunPlan) loggedAir(a *RunAsked) {
	run := &p.Run
	hangs := p.Op.Drying || p.Op.Slug == "condition" || p.Op.Slug == "drain"
	if run.TempC != nil || run.HumidityPct != nil || !hangs {
		return
	}
	x, from, ok := ClimateAt(a.Studio, run.At)
	if !ok {
		return
	}
	run.TempC, run.HumidityPct = &x.TempC, &x.HumidityPct
	run.AirFrom = "logger " + from + ", " + plainBlanks(a.Now.Moment(x.At))
}

// Limits of a logger's file, and how far apart kept samples lie.
const (
	mostClimateLines = 400_000
	climateEvery     = 10 * time.Minute
)

// ReadClimate reads a logger's CSV: a head with a time, a temperature in °C and a
// relative humidity, in any order and among other columns, parted by comma, semicolon or
// tab; times are of the zone. Samples are thinned to one in ten minutes. What is broken
// is refused with its line; the hour that comes twice when summer time ends is taken as
// it follows.
func ReadClimate(data []byte, zone *time.Location) ([]record.ClimateSample, error) {
	no := func(format string, line int, more string) error {
		return record.Invalidf("climate_file", format, line, more)
	}
	head, sep := climateHead(data)
	if head < 0 {
		return nil, record.Invalidf("climate_file", "No head with a time, a temperature and a humidity was found: a CSV "+
			"file of a logger is expected.")
	}
	lines := bytes.SplitN(data, []byte("\n"), head+2)
	r := csv.NewReader(bytes.NewReader(bytes.Join(lines[head:], []byte("\n"))))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes, r.TrimLeadingSpace = sep, -1, true, true
	names, err := r.Read()
	if err != nil {
		return nil, no("Line %d cannot be read: %s.", head+1, err.Error())
	}
	at, temp, hum := columnsOf(names)
	var list []record.ClimateSample
	layout := ""
	for n := head + 2; ; n++ {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, no("Line %d cannot be read: %s.", n, err.Error())
		}
		if n > mostClimateLines {
			return nil, record.Invalidf(
				"climate_file", "The file has more than %d lines: export a shorter time.", mostClimateLines,
			)
		}
		if len(row) <= max(at, temp, hum) {
			return nil, no("Line %d ends early: %s.", n, words.Clip(strings.Join(row, string(sep))))
		}
		t, v, err := climateRow(row[at], row[temp], row[hum], &layout, zone)
		if err != nil {
			return nil, no("Line %d: %s", n, err.Error())
		}
		if k := len(list); k > 0 && !t.After(list[k-1].At) {
			// Summer time ended: the clock showed this hour a second time.
			if later := t.Add(time.Hour); later.After(list[k-1].At) && sameWall(later, t) {
				t = later
			} else {
				return nil, no("Line %d: the time goes back to %s: was the logger’s clock set? Export the time after "+
					"that.", n, words.Clip(row[at]))
			}
		}
		if k := len(list); k == 0 || t.Sub(list[k-1].At) >= climateEvery {
			v.At = t
			list = append(list, v)
		}
	}
	if len(list) == 0 {
		return nil, record.Invalidf("climate_file", "The file has a head and no samples.")
	}
	return list, nil
}

// climateHead is the line of the head and what parts its columns; -1 where none is.
func climateHead(data []byte) (line int, sep rune) {
	const looked = 40 // lines of what loggers write before the table
	for i, l := range bytes.SplitN(data, []byte("\n"), looked) {
		for _, sep := range []rune{';', '\t', ','} {
			at, temp, hum := columnsOf(strings.Split(string(l), string(sep)))
			if at >= 0 && temp >= 0 && hum >= 0 {
				return i, sep
			}
		}
	}
	return -1, 0
}

func columnsOf(names []string) (at, temp, hum int) {
	at, temp, hum = -1, -1, -1
	for i, n := range names {
		n = strings.ToLower(strings.Trim(n, " \"\r\ufeff"))
		switch {
		case at < 0 && (strings.Contains(n, "time") || strings.Contains(n, "date")):
			at = i
		case temp < 0 && strings.Contains(n, "temp"):
			temp = i
		case hum < 0 && (strings.Contains(n, "hum") || n == "rh" || strings.HasPrefix(n, "rh ") ||
			strings.HasPrefix(n, "rh(") || strings.HasPrefix(n, "%rh")):
			hum = i
		}
	}
	return at, temp, hum
}

// climateLayouts are the forms of a time that are told apart without a guess.
var climateLayouts = []string{
	time.RFC3339, "2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04",
	"02.01.2006 15:04:05", "02.01.2006 15:04",
}

func climateRow(
	at, temp, hum string, layout *string, zone *time.Location,
) (t time.Time, x record.ClimateSample, err error) {
	at = strings.TrimSpace(at)
	for _, l := range climateLayouts {
		if *layout != "" && l != *layout {
			continue
		}
		if t, err = time.ParseInLocation(l, at, zone); err == nil {
			if first := t.Add(-time.Hour); sameWall(first, t) {
				t = first // of an hour that comes twice, the first one
			}
			*layout = l
			break
		}
	}
	if err != nil {
		return t, x, errors.New("the time “" + words.Clip(at) + "” cannot be told: 2030-05-14 18:30 is expected")
	}
	if x.TempC, err = climateNumber(temp); err != nil {
		return t, x, errors.New("the temperature “" + words.Clip(temp) + "” is no number")
	}
	if x.HumidityPct, err = climateNumber(hum); err != nil {
		return t, x, errors.New("the humidity “" + words.Clip(hum) + "” is no number")
	}
	return t, x, nil
}

// sameWall says whether a clock on the wall shows the same at two moments.
func sameWall(a, b time.Time) bool { return a.Format(time.DateTime) == b.Format(time.DateTime) }

func climateNumber(s string) (float64, error) {
	s = strings.TrimRight(strings.ReplaceAll(strings.TrimSpace(s), ",", "."), " °Cc%")
	v, err := strconv.ParseFloat(s, 64)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		err = strconv.ErrRange
	}
	return v, err
}
