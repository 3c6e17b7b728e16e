package account

import (
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
)

// WindowEnds are both ends of the time in which a sheet is damp enough to mend, as
// ranges of clock times.
func WindowEnds(w treatment.Window, k words.Clock) (opens, closes string) {
	at := func(m float64) string { return k.At(w.Out.Add(time.Duration(m * float64(time.Minute)))) }
	end := func(r interval.Range) string { return at(r.Best) + " (" + at(r.Low) + " to " + at(r.High) + ")" }
	if opens = end(w.From); blotted(w) {
		opens = at(w.From.Best)
	}
	return opens, end(w.Until)
}

// blotted says whether a window opened at one moment, as that of a blotted sheet does.
func blotted(w treatment.Window) bool { return w.From.High-w.From.Low < 1 }

// WindowWords says from when and until when a sheet is damp enough to mend.
func WindowWords(w treatment.Window, k words.Clock) string {
	opens, closes := WindowEnds(w, k)
	if !blotted(w) {
		opens += ", when its gloss is gone; blotted, at once"
	}
	return "damp enough to mend from " + opens + "; until " + closes + ", when it begins to shrink; " + w.RestsOn
}

// WindowNow is the window of a sheet that lies open since its last bath, in words,
// blotted after so many minutes unless nil; "" when it has none.
func WindowNow(c *record.Case, sheet int, k words.Clock, blottedMin *float64) string {
	w, ok := treatment.MendWindow(c, sheet)
	if ok && blottedMin != nil {
		w, ok = treatment.MendWindowBlotted(c, sheet,
			w.Out.Add(time.Duration(*blottedMin*float64(time.Minute))))
	}
	if !ok {
		return ""
	}
	return en.Upper(WindowWords(w, k)) + "."
}
