package account

import (
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
)

// WindowWords says from when and until when a sheet is damp enough to mend, both as
// ranges of clock times.
func WindowWords(w treatment.Window, k words.Clock) string {
	at := func(m float64) string { return k.At(w.Out.Add(time.Duration(m * float64(time.Minute)))) }
	end := func(r interval.Range) string { return at(r.Best) + " (" + at(r.Low) + " to " + at(r.High) + ")" }
	opens := "damp enough to mend from " + end(w.From) + ", when its gloss is gone; blotted, at once"
	if w.From.High-w.From.Low < 1 {
		opens = "damp enough to mend from " + at(w.From.Best)
	}
	return opens + "; until " + end(w.Until) + ", when it begins to shrink; " + w.RestsOn
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
