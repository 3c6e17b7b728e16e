package account

import "time"

// or is t, or the time of the entry where the body gives none.
func or(t, entry time.Time) time.Time {
	if t.IsZero() {
		return entry
	}
	return t
}
