package treatment

import (
	"container/list"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"
	"math"
	"reflect"
	"runtime"
	"slices"
	"sync"

	"benchleaf/paper"
)

// keeper holds answers of computations by a digest of all that went into them, the
// latest used ones. Who asks for one that is being worked out waits for it instead of
// beginning another; a computation that nobody waits for any more is ended.
type keeper struct {
	mu     sync.Mutex
	most   int
	of     map[[sha256.Size]byte]*list.Element
	latest *list.List // of *kept, the latest used first
}

type kept struct {
	key    [sha256.Size]byte
	done   chan struct{} // closed once value and err stand
	value  any
	err    error
	fell   any // what it panicked with
	cancel context.CancelFunc
	// waiting is how many wait for it.
	waiting int
}

// mostKept answers are some megabytes: those of a long evening with several cases.
const mostKept = 512

var answers = newKeeper(mostKept)

func newKeeper(most int) *keeper {
	return &keeper{most: most, of: map[[sha256.Size]byte]*list.Element{}, latest: list.New()}
}

// Keep is what work answers for inputs, worked out once: name and inputs, made of
// structs, lists, pointers, words and numbers, are all that the answer depends on. It
// may be shared, so nobody may change it. Errors are not kept. Error: ctx's when the
// caller waits no more; that of work.
func Keep[T any](ctx context.Context, name string, inputs any, work func(ctx context.Context) (T, error)) (T, error) {
	v, err := answers.keep(ctx, name, inputs, func(ctx context.Context) (any, error) { return work(ctx) })
	answer, _ := v.(T) // nil where there is an error
	return answer, err
}

func (k *keeper) keep(
	ctx context.Context, name string, inputs any, work func(ctx context.Context) (any, error),
) (any, error) {
	h := sha256.New()
	digest(h, reflect.ValueOf(name))
	digest(h, reflect.ValueOf(inputs))
	x := k.begin(ctx, [sha256.Size]byte(h.Sum(nil)), work)
	defer k.leave(x)
	select {
	case <-x.done:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if x.fell != nil {
		panic(x.fell)
	}
	return x.value, x.err
}

// digest writes a value so that another value is written otherwise: every field, those
// too that JSON leaves out.
func digest(h hash.Hash, v reflect.Value) {
	number := func(n uint64) { h.Write(binary.LittleEndian.AppendUint64([]byte{byte(v.Kind())}, n)) }
	switch v.Kind() {
	case reflect.Bool:
		number(map[bool]uint64{true: 1}[v.Bool()])
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		number(uint64(v.Int()))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		number(v.Uint())
	case reflect.Float32, reflect.Float64:
		number(math.Float64bits(v.Float()))
	case reflect.String:
		number(uint64(v.Len()))
		h.Write([]byte(v.String()))
	case reflect.Slice, reflect.Array:
		number(uint64(v.Len()))
		for i := range v.Len() {
			digest(h, v.Index(i))
		}
	case reflect.Pointer, reflect.Interface:
		if v.IsNil() {
			number(0)
			return
		}
		number(1)
		digest(h, v.Elem())
	case reflect.Struct:
		number(uint64(v.NumField()))
		for i := range v.NumField() {
			digest(h, v.Field(i))
		}
	default:
		panic(fmt.Sprintf("treatment: an answer cannot be kept by a %s", v.Type()))
	}
}

// begin finds what is kept or being worked out for a key, or begins it.
func (k *keeper) begin(
	ctx context.Context, key [sha256.Size]byte, work func(ctx context.Context) (any, error),
) *kept {
	k.mu.Lock()
	defer k.mu.Unlock()
	if e, ok := k.of[key]; ok {
		k.latest.MoveToFront(e)
		x := e.Value.(*kept)
		x.waiting++
		return x
	}
	x := &kept{key: key, done: make(chan struct{}), waiting: 1}
	ctx, x.cancel = context.WithCancel(context.WithoutCancel(ctx))
	k.of[key] = k.latest.PushFront(x)
	for k.latest.Len() > k.most {
		k.drop(k.latest.Back().Value.(*kept))
	}
	go func() {
		defer func() {
			x.fell = recover() // told to those who wait, whose goroutines know what to do
			x.cancel()
			k.mu.Lock()
			if x.err != nil || x.fell != nil {
				k.drop(x)
			}
			k.mu.Unlock()
			close(x.done)
		}()
		x.value, x.err = work(ctx)
	}()
	return x
}

// drop forgets an entry; who waits for it still gets it.
func (k *keeper) drop(x *kept) {
	if e, ok := k.of[x.key]; ok && e.Value == any(x) {
		k.latest.Remove(e)
		delete(k.of, x.key)
	}
}

// leave ends what nobody waits for any more.
func (k *keeper) leave(x *kept) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if x.waiting--; x.waiting > 0 {
		return
	}
	select {
	case <-x.done:
	default:
		x.cancel()
		k.drop(x) // whoever asks next begins anew
	}
}

// turns bounds how many computations run side by side: each takes all processors, so
// more of them would only make each other slow. There are two at least, so that a short
// one need not wait for a long one.
var turns = make(chan struct{}, max(2, runtime.GOMAXPROCS(0)/2))

// Turn waits until there is room for a computation; done gives the room back. It must
// not be asked for by one who has it. Error: ctx's.
func Turn(ctx context.Context) (done func(), err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	select {
	case turns <- struct{}{}:
		return func() { <-turns }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// bathing is all that the outcome of baths depends on.
type bathing struct {
	Sheet   paper.Sheet
	Baths   []paper.Bath
	Options paper.Options
}

// Bathe is paper.RunContext, kept, in its turn.
func Bathe(ctx context.Context, s paper.Sheet, baths []paper.Bath, o paper.Options) (paper.Outcome, error) {
	return Keep(ctx, "bathe", bathing{s, baths, o}, func(ctx context.Context) (paper.Outcome, error) {
		done, err := Turn(ctx)
		if err != nil {
			return paper.Outcome{}, err
		}
		defer done()
		out, err := paper.RunContext(ctx, s, baths, o)
		// Who appends to a list gets one of his own.
		out.RestsOn, out.Assumed = slices.Clip(out.RestsOn), slices.Clip(out.Assumed)
		out.Conclusions, out.Warnings = slices.Clip(out.Conclusions), slices.Clip(out.Warnings)
		return out, err
	})
}

// compareReadings is paper.CompareReadingsContext, kept, in its turn.
func compareReadings(
	ctx context.Context, s paper.Sheet, baths []paper.Bath, o paper.Options, readings []paper.Reading,
) (paper.Verdict, error) {
	inputs := struct {
		bathing
		Readings []paper.Reading
	}{bathing{s, baths, o}, readings}
	return Keep(ctx, "compare", inputs, func(ctx context.Context) (paper.Verdict, error) {
		done, err := Turn(ctx)
		if err != nil {
			return paper.Verdict{}, err
		}
		defer done()
		return paper.CompareReadingsContext(ctx, s, baths, o, readings)
	})
}
