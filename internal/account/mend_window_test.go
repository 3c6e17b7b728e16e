package account

import (
	"strings"
	"testing"
	"time"

	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
)

// Both ends of the window stand in its words, each with its range; blotted, it opens
// at one time.
func TestWindowWordsNameBothEnds(t *testing.T) {
	k := words.Clock{Language: words.English, Zone: time.UTC, Today: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
	w := treatment.Window{
		Out:  time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC),
		From: interval.Range{Low: 20, Best: 30, High: 40}, Until: interval.Range{Low: 50, Best: 65, High: 90},
	}
	for _, want := range []string{"from 10:30 (10:20 to 10:40)", "until 11:05 (10:50 to 11:30)", "shrink"} {
		if got := WindowWords(w, k); !strings.Contains(got, want) {
			t.Errorf("%q lacks %q", got, want)
		}
	}
	w.From = interval.Exactly(12)
	if got := WindowWords(w, k); !strings.Contains(got, "from 10:12; until") {
		t.Errorf("blotted: %q", got)
	}
}
