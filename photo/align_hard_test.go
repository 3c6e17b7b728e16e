package photo

import (
	"fmt"
	"os"
	"testing"
)

// TestAlignHardPairs takes pairs of two megapixels that are hard in one way
// each. The bounds in pixels are this program's own.
func TestAlignHardPairs(t *testing.T) {
	for _, c := range []struct {
		name        string
		opt         pairOptions
		median, p95 float64
		always      bool
	}{
		{"any turn", pairOptions{anyTurn: true}, 0.15, 0.5, false},
		{"quarter turn", pairOptions{turn: 90}, 0.15, 0.5, false},
		{"half turn", pairOptions{turn: 180}, 0.15, 0.5, false},
		{"half as large", pairOptions{zoom: 0.5}, 0.15, 0.5, false},
		{"twice as large", pairOptions{zoom: 2}, 0.15, 0.6, false},
		{"aslant", pairOptions{slant: 8}, 0.15, 0.5, false},
		{"cockled", pairOptions{bend: 4}, 0.15, 0.5, false},
		{"much cockled", pairOptions{bend: 8}, 0.4, 5, true},
		{"blurred", pairOptions{blur: 3}, 0.5, 1.5, false},
		{"bleached", pairOptions{bleach: true}, 0.15, 0.6, false},
		{"after in grey", pairOptions{grey: "after"}, 0.15, 0.5, false},
		{"before in grey", pairOptions{grey: "before"}, 0.15, 0.5, false},
		{"on a table", pairOptions{ground: "table"}, 0.15, 0.5, false},
		{"on a cluttered table", pairOptions{ground: "clutter"}, 0.15, 1.5, true},
		{"part of it", pairOptions{part: [4]float64{0.3, 0.1, 0.9, 0.7}}, 0.15, 0.5, false},
		{"quarter of it", pairOptions{part: [4]float64{0.5, 0.5, 1, 1}}, 0.15, 0.5, false},
		{"type", pairOptions{source: "type"}, 0.15, 0.5, false},
		{"handwriting", pairOptions{source: "handwriting"}, 0.15, 0.5, false},
		{"comic", pairOptions{source: "comic"}, 0.25, 0.6, false},
		{"cover", pairOptions{source: "cover"}, 0.3, 0.8, false},
		{"nearly blank", pairOptions{source: "nearly blank"}, 0.15, 0.5, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.opt.pixels = 2e6
			seeds := []uint64{0, 1, 2, 3, 6}
			if os.Getenv("BENCHLEAF_SWEEP") == "" {
				if !c.always {
					t.Skip("long: BENCHLEAF_SWEEP=1 runs it")
				}
				c.opt.pixels, seeds = 6e5, seeds[3:4]
			}
			for _, seed := range seeds {
				p := alignCase(t, seed, c.opt)
				a := align(t, p.before, p.after)
				if a.Verdict != Aligned {
					t.Errorf("seed %d, %s: %s: %s", seed, p.name, a.Verdict, a.Say)
					continue
				}
				median, p95 := alignFigures(p, a)
				t.Logf("seed %d, %s: median %.3f px, p95 %.3f px", seed, p.name, median, p95)
				if median > c.median || p95 > c.p95 {
					t.Errorf("seed %d, %s: median %.3f px, p95 %.3f px", seed, p.name, median, p95)
				}
			}
		})
	}
}

// TestAlignSeries lays covers of one series on each other, which share a large
// title, alone and on one table: not one may be called aligned.
func TestAlignSeries(t *testing.T) {
	last := uint64(20 + sweeps(1, 8))
	for _, ground := range []string{"clutter", "", "table"}[:sweeps(1, 3)] {
		for seed := uint64(20); seed < last; seed++ {
			t.Run(fmt.Sprintf("%s %d", ground, seed), func(t *testing.T) {
				if a := align(t, takenOn(t, "cover", seed, seed, ground), takenOn(t, "cover", seed+50, seed, ground)); a.Verdict == Aligned {
					t.Errorf("called aligned: %s", a.Say)
				}
			})
		}
	}
}

// TestAlignNarrow takes pictures too narrow for a sheet's edge, either way round.
func TestAlignNarrow(t *testing.T) {
	page := decoded(t, "page.png")
	for _, c := range [][2]int{{1, 1}, {900, 1}, {1, 900}, {3, 2000}, {9, 7}, {40, 12}} {
		narrow := plainImage(c[0], c[1], 90)
		if a := align(t, narrow, page); a.Verdict != Different || a.Difference != BlankBefore {
			t.Errorf("%d by %d before: %s, %q", c[0], c[1], a.Verdict, a.Difference)
		}
		if a := align(t, page, narrow); a.Verdict != Different || a.Difference != BlankAfter {
			t.Errorf("%d by %d after: %s, %q", c[0], c[1], a.Verdict, a.Difference)
		}
	}
}
