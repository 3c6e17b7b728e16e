package photo

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"syscall"
	"testing"
	"time"
)

func cpu() time.Duration {
	var r syscall.Rusage
	syscall.Getrusage(0, &r)
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

func env(k string, d int) int {
	if v, err := strconv.Atoi(os.Getenv(k)); err == nil {
		return v
	}
	return d
}

func TestExplore(t *testing.T) {
	lo, hi := env("LO", 0), env("HI", 10)
	px := float64(env("PX", 8000000))
	for seed := lo; seed < hi; seed++ {
		src := os.Getenv("SRC")
		p := alignCase(t, uint64(seed), kindOptions(os.Getenv("KIND"), src, px))
		t0 := time.Now()
		c0 := cpu()
		a, err := Align(context.Background(), p.before, p.after, AlignOptions{})
		if err != nil {
			t.Fatal(err)
		}
		e := []float32{-1}
		if a.Field != nil {
			e = p.alignErrors(a)
		}
		if len(e) == 0 {
			e = []float32{-1}
		}
		fmt.Printf("%3d %-20s %-9s med %.3f p95 %.3f max %.2f  resid %.3f/%.3f bend %.1f ov %.2f agree %.2f of %d  wall %v cpu %v %s\n", seed, p.name, a.Verdict, quantile(e, 0.5), quantile(e, 0.95), quantile(e, 1), a.ResidualMedianPx, a.ResidualP95Px, a.BendP95Px, a.Overlap, a.AgreeingShare, a.TexturedWindows, time.Since(t0).Round(time.Millisecond), (cpu() - c0).Round(time.Millisecond), a.Say)
	}
}

func kindOptions(kind, src string, px float64) pairOptions {
	o := pairOptions{source: src, pixels: px}
	switch kind {
	case "turn":
		o.anyTurn = true
	case "t90":
		o.turn = 90
	case "t180":
		o.turn = 180
	case "half":
		o.zoom = 0.5
	case "double":
		o.zoom = 2
	case "slant":
		o.slant = 5
	case "slant8":
		o.slant = 8
	case "bend":
		o.bend = 4
	case "bend8":
		o.bend = 8
	case "blur":
		o.blur = 3
	case "blur6":
		o.blur = 6
	case "bleach":
		o.bleach = true
	case "greya":
		o.grey = "after"
	case "greyb":
		o.grey = "before"
	case "table":
		o.ground = "table"
	case "clutter":
		o.ground = "clutter"
	case "part":
		o.part = [4]float64{0.3, 0.1, 0.9, 0.7}
	case "half2":
		o.part = [4]float64{0, 0, 1, 0.5}
	case "quarter":
		o.part = [4]float64{0.5, 0.5, 1, 1}
	case "torn":
		o.torn = [2]float64{0.5, 0.4}
		o.ground = "table"
	case "mirror":
		o.mirror = true
	case "all":
		o.anyTurn = true
		o.slant = 3
		o.bend = 2
		o.bleach = true
		o.ground = "clutter"
		o.blur = 1
	}
	return o
}
