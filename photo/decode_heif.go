package photo

import (
	"bytes"
	"compress/gzip"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"image"
	"io"
	"sync"
	"time"

	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/experimental"
	"github.com/tetratelabs/wazero/imports/wasi_snapshot_preview1"
)

// The HEIC decoder is libheif with libde265, compiled to WebAssembly by the project
// gen2brain/heic, from whose version 0.4.5 the file is taken as it is (NOTICE). It runs
// in a sandbox: it reaches no file, no clock and no memory but its own, of which it
// gets as much as the header accounts for, and it ends when its time is up or when
// nobody waits for the picture any more. What the coded stream says of its size is not
// what the header says, and only the decoder learns it.
//
//go:embed heif.wasm.gz
var heifModule []byte

// errHeif says that the decoder gave the picture up.
var errHeif = errors.New("the HEIC decoder gave up")

// heifSandbox compiles the decoder once, which takes a second or two.
var heifSandbox = sync.OnceValues(func() (s struct {
	wazero.Runtime
	wazero.CompiledModule
}, err error) {
	packed, err := gzip.NewReader(bytes.NewReader(heifModule))
	if err != nil {
		return s, err
	}
	code, err := io.ReadAll(packed)
	if err != nil {
		return s, err
	}
	ctx := experimental.WithFunctionListenerFactory(context.Background(), heifSteps{})
	s.Runtime = wazero.NewRuntime(ctx)
	if _, err = wasi_snapshot_preview1.Instantiate(ctx, s.Runtime); err != nil {
		return s, err
	}
	s.CompiledModule, err = s.CompileModule(ctx, code)
	return s, err
})

// heifSteps watches the two functions of the decoder that it calls for each block of
// 16 to 64 pixels square, and in them ends it when its time is up: to look at every
// loop, as wazero can, makes it fifteen times slower. Their numbers belong to the file,
// and were found by counting calls: 65 and 1426 for a picture of 64 blocks.
type heifSteps struct{}

func (heifSteps) NewFunctionListener(f api.FunctionDefinition) experimental.FunctionListener {
	if n := f.Index(); n == 878 || n == 864 {
		return heifSteps{}
	}
	return nil
}

// Before ends the decoder by a panic, which the sandbox turns into an error.
func (heifSteps) Before(ctx context.Context, _ api.Module, _ api.FunctionDefinition, _ []uint64,
	_ experimental.StackIterator) {
	if err := ctx.Err(); err != nil {
		panic(err)
	}
}

func (heifSteps) After(context.Context, api.Module, api.FunctionDefinition, []uint64) {}

func (heifSteps) Abort(context.Context, api.Module, api.FunctionDefinition, error) {}

// heifMemory is the memory of one sandbox. It is taken whole, since to grow by copying
// would hold it twice; the system gives pages of it as they are used.
type heifMemory struct {
	most  uint64
	bytes []byte
	short bool // it asked for more
}

func (m *heifMemory) Allocate(_, _ uint64) experimental.LinearMemory {
	m.bytes = make([]byte, 0, m.most)
	return m
}

func (m *heifMemory) Reallocate(size uint64) []byte {
	if size > m.most {
		m.short = true
		return nil
	}
	m.bytes = m.bytes[:size]
	return m.bytes
}

func (m *heifMemory) Free() {}

// heifMost is the memory that a picture of so many pixels in a file of so many bytes
// may take in its sandbox. Measured: 6 bytes a pixel and twice the file at 8 bits and
// half the colour, 12 at 10 bits or the whole colour.
func heifMost(pixels, file int64) uint64 { return uint64(satMul(16, pixels, 1) + 2*file + 4<<20) }

// heifTime is how long a picture of so many pixels may take: many times what the
// decoder takes for it on a slow machine, about a second for two megapixels.
func heifTime(pixels int64) time.Duration {
	return 20*time.Second + time.Duration(pixels)*4*time.Microsecond
}

// decodeHeif decodes a HEIC file of at most so many pixels.
func decodeHeif(ctx context.Context, file []byte, pixels int64) (image.Image, error) {
	sandbox, err := heifSandbox()
	if err != nil {
		return nil, fmt.Errorf("start the HEIC decoder: %w", err)
	}
	within := heifTime(pixels)
	timed, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	memory := &heifMemory{most: heifMost(pixels, int64(len(file)))}
	timed = experimental.WithMemoryAllocator(timed, memory)
	mod, err := sandbox.InstantiateModule(timed, sandbox.CompiledModule, wazero.NewModuleConfig().WithName(""))
	if err != nil {
		return nil, fmt.Errorf("start the HEIC decoder: %w", err)
	}
	defer mod.Close(context.WithoutCancel(ctx))
	h := &heif{ctx: timed, mod: mod}
	img := h.decode(file, pixels)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case timed.Err() != nil:
		return nil, refuse(TooLarge, "This HEIC picture is not read after %d seconds, far longer than one of its size "+
			"takes; save it as an ordinary JPEG.", int(within.Seconds()))
	case memory.short:
		return nil, refuse(Damaged, "This HEIC picture needs far more memory than one of the size that its header says; "+
			"it cannot be trusted. Copy it again from the camera, or save it as an ordinary JPEG.")
	case h.err != nil:
		return nil, h.err
	}
	return img, nil
}

// heif is one use of the decoder. After the first error nothing more is done.
type heif struct {
	ctx context.Context
	mod api.Module
	err error
}

// call calls a function of the decoder; 0 means that it failed.
func (h *heif) call(name string, args ...uint64) uint32 {
	if h.err != nil {
		return 0
	}
	res, err := h.mod.ExportedFunction(name).Call(h.ctx, args...)
	if err != nil {
		h.err = fmt.Errorf("%w: %v", errHeif, err)
		return 0
	}
	if uint32(res[0]) == 0 {
		h.err = errHeif
	}
	return uint32(res[0])
}

// number reads a number that the decoder left.
func (h *heif) number(at uint32) uint32 {
	n, ok := h.mod.Memory().ReadUint32Le(at)
	if !ok && h.err == nil {
		h.err = errHeif
	}
	return n
}

// The decoder's numbers for colour and chroma (heif_colorspace, heif_chroma).
const (
	heifYCbCr = 0
	heifRGB   = 1
	heifGrey  = 2
	heif420   = 1
	heif422   = 2
	heif444   = 3
)

var heifSubsampling = map[uint32]image.YCbCrSubsampleRatio{
	heif420: image.YCbCrSubsampleRatio420, heif422: image.YCbCrSubsampleRatio422, heif444: image.YCbCrSubsampleRatio444,
}

func (h *heif) decode(file []byte, most int64) image.Image {
	in := h.call("malloc", uint64(len(file)))
	if h.err == nil && !h.mod.Memory().Write(in, file) {
		h.err = errHeif
	}
	out := h.call("malloc", 5*4)
	args := []uint64{uint64(in), uint64(len(file)), 1, 0, 0, 0, 0, 0, 0}
	for i := range 5 { // width, height, colour, chroma, whether multiplied by alpha
		args[3+i] = uint64(out) + uint64(4*i)
	}
	h.call("decode", args...)
	w, ht := int(h.number(out)), int(h.number(out+4))
	if h.err != nil {
		return nil
	}
	if w <= 0 || ht <= 0 || int64(w)*int64(ht) > most {
		h.err = refuse(Damaged, "The picture's header says fewer pixels than the %d by %d of its data; it cannot be trusted.",
			w, ht)
		return nil
	}
	img, size := heifImage(image.Rect(0, 0, w, ht), h.number(out+8), h.number(out+12), h.number(out+16) == 1)
	if img == nil {
		h.err = fmt.Errorf("%w: a colour of its own", errHeif)
		return nil
	}
	pixels := h.call("malloc", uint64(size))
	args[2], args[8] = 0, uint64(pixels)
	h.call("decode", args...)
	if h.err != nil {
		return nil
	}
	b, ok := h.mod.Memory().Read(pixels, uint32(size))
	if !ok {
		h.err = errHeif
		return nil
	}
	return img(b)
}

// heifImage says how many bytes a picture takes as the decoder leaves it, and makes
// an image of them; nil for what it never leaves. Rows are multiples of 16 bytes.
func heifImage(r image.Rectangle, colour, chroma uint32, multiplied bool) (of func([]byte) image.Image, size int) {
	stride := func(n int) int { return (n + 15) &^ 15 }
	w, h := r.Dx(), r.Dy()
	switch colour {
	case heifYCbCr:
		ratio, known := heifSubsampling[chroma]
		if !known {
			return nil, 0
		}
		cw, ch := w, h
		if ratio != image.YCbCrSubsampleRatio444 {
			cw = (w + 1) / 2
		}
		if ratio == image.YCbCrSubsampleRatio420 {
			ch = (h + 1) / 2
		}
		y, c := stride(w)*h, stride(cw)*ch
		return func(b []byte) image.Image {
			return &image.YCbCr{Y: b[:y], Cb: b[y : y+c], Cr: b[y+c:], YStride: stride(w), CStride: stride(cw),
				SubsampleRatio: ratio, Rect: r}
		}, y + 2*c
	case heifGrey:
		return func(b []byte) image.Image { return &image.Gray{Pix: b, Stride: stride(w), Rect: r} }, stride(w) * h
	case heifRGB:
		return func(b []byte) image.Image {
			if multiplied {
				return &image.RGBA{Pix: b, Stride: stride(4 * w), Rect: r}
			}
			return &image.NRGBA{Pix: b, Stride: stride(4 * w), Rect: r}
		}, stride(4*w) * h
	}
	return nil, 0
}
