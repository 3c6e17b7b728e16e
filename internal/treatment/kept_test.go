package treatment

import (
	"context"
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"

	"benchleaf/interval"
	"benchleaf/paper"
)

// Eight who ask the same at once get one answer, worked out once; another question has
// another.
func TestAnAnswerIsWorkedOutOnce(t *testing.T) {
	k := newKeeper(10)
	var worked atomic.Int32
	begin := make(chan struct{})
	work := func(context.Context) (any, error) {
		<-begin
		return worked.Add(1), nil
	}
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			if v, err := k.keep(t.Context(), "sum", 1, work); err != nil || v != int32(1) {
				t.Errorf("got %v, %v, want the one answer", v, err)
			}
		})
	}
	close(begin)
	wait.Wait()
	if v, _ := k.keep(t.Context(), "sum", 1, work); v != int32(1) {
		t.Errorf("asked again: %v, want what is kept", v)
	}
	if v, _ := k.keep(t.Context(), "sum", 2, work); v != int32(2) {
		t.Errorf("another input: %v, want an answer of its own", v)
	}
	if v, _ := k.keep(t.Context(), "difference", 1, work); v != int32(3) {
		t.Errorf("another name: %v, want an answer of its own", v)
	}
}

// A computation goes on while somebody waits, and ends with the last who does.
func TestWorkEndsWhenNobodyWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := newKeeper(10)
		ended := false
		work := func(ctx context.Context) (any, error) {
			<-ctx.Done()
			ended = true
			return nil, ctx.Err()
		}
		var wait sync.WaitGroup
		var leave [2]context.CancelFunc
		for i := range leave {
			var ctx context.Context
			ctx, leave[i] = context.WithCancel(t.Context())
			wait.Go(func() {
				if _, err := k.keep(ctx, "long", 1, work); !errors.Is(err, context.Canceled) {
					t.Errorf("who left got %v", err)
				}
			})
		}
		synctest.Wait()
		leave[0]()
		synctest.Wait()
		if ended {
			t.Error("it ended though one still waited")
		}
		leave[1]()
		wait.Wait()
		synctest.Wait()
		if !ended {
			t.Error("it goes on though nobody waits")
		}
		if v, err := k.keep(t.Context(), "long", 1, func(context.Context) (any, error) { return 7, nil }); v != 7 {
			t.Errorf("asked anew: %v, %v; an ended computation is not kept", v, err)
		}
	})
}

func TestWhatIsKeptIsBounded(t *testing.T) {
	k := newKeeper(3)
	var worked []int
	ask := func(n int) {
		if _, err := k.keep(t.Context(), "n", n, func(context.Context) (any, error) {
			worked = append(worked, n)
			return n, nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	for _, n := range []int{1, 2, 3, 1, 4, 1, 2} { // 2 is the one used longest ago when 4 comes
		ask(n)
	}
	if len(worked) != 5 || worked[3] != 4 || worked[4] != 2 || k.latest.Len() != 3 || len(k.of) != 3 {
		t.Errorf("worked out %v with room for 3, %d kept", worked, k.latest.Len())
	}
}

// An error is told and not kept, and a panic reaches who asked.
func TestFailuresAreNotKept(t *testing.T) {
	k := newKeeper(3)
	fails := errors.New("no")
	if _, err := k.keep(t.Context(), "n", 1, func(context.Context) (any, error) { return nil, fails }); err != fails {
		t.Errorf("got %v", err)
	}
	func() {
		defer func() {
			if r := recover(); r != "broken" {
				t.Errorf("recovered %v, want the panic of the work", r)
			}
		}()
		_, _ = k.keep(t.Context(), "n", 1, func(context.Context) (any, error) { panic("broken") })
	}()
	if v, err := k.keep(t.Context(), "n", 1, func(context.Context) (any, error) { return 1, nil }); v != 1 || err != nil {
		t.Errorf("got %v, %v", v, err)
	}
}

// Every field counts, and what looks alike when written one after the other does not.
func TestOtherInputsHaveOtherAnswers(t *testing.T) {
	k := newKeeper(100)
	half, exact := new(paper.Millimetres(5)), interval.Exactly(2)
	same := paper.Sheet{Class: paper.Newsprint, WidthMm: 300, HeightMm: 200}
	weighed := same
	weighed.MassG = &exact
	n := 0
	for i, x := range []any{
		bathing{Sheet: same}, bathing{Sheet: weighed}, bathing{Sheet: same, Baths: []paper.Bath{{}}},
		bathing{Sheet: same, Baths: []paper.Bath{{DepthMm: half}}}, bathing{Sheet: same, Options: paper.Options{Seed: 2}},
		[]string{"ab", "c"}, []string{"a", "bc"}, []string{"abc"}, []string{}, []string(nil) == nil, 1, 1.0, "1",
	} {
		if _, err := k.keep(t.Context(), "n", x, func(context.Context) (any, error) { n++; return n, nil }); err != nil ||
			n != i+1 {
			t.Errorf("%+v has the answer of another", x)
		}
	}
	other := 2 * exact.Best / 2
	equal := weighed
	equal.MassG = &interval.Range{Low: other, Best: other, High: other}
	if v, _ := k.keep(t.Context(), "n", bathing{Sheet: equal}, func(context.Context) (any, error) { return 0, nil }); v != 2 {
		t.Errorf("equal values at another place: %v, want what is kept", v)
	}
}

// Who waits for a turn gives way.
func TestATurnIsGivenUp(t *testing.T) {
	ctx, leave := context.WithCancel(t.Context())
	var back []func()
	for range cap(turns) {
		done, err := Turn(ctx)
		if err != nil {
			t.Fatal(err)
		}
		back = append(back, done)
	}
	leave()
	if _, err := Turn(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want that nobody waits", err)
	}
	for _, done := range back {
		done()
	}
	if _, err := Bathe(ctx, paper.Sheet{}, nil, paper.Options{}); err == nil ||
		strings.Contains(err.Error(), "sheet") {
		t.Errorf("who has left gets %v", err)
	}
}
