package pictures

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"benchleaf/internal/record"
	"benchleaf/photo"
)

// decode reads a stored photograph, and what its header says.
func (m *Maker) decode(ctx context.Context, h record.Hash) (*photo.Image, photo.Info, error) {
	f, err := m.store.OpenPhoto(h)
	if err != nil {
		return nil, photo.Info{}, err
	}
	defer f.Close()
	img, info, err := photo.DecodeContext(ctx, ctxFile{ctx, f}, limits)
	switch {
	case ctx.Err() != nil:
		return nil, info, ctx.Err()
	case err != nil:
		return nil, info, fmt.Errorf("photograph %s: %w", h.Short(), sayable(err))
	}
	return img, info, nil
}

// ctxFile is a file whose reading ends with a context, and with it a decoder.
type ctxFile struct {
	ctx context.Context
	*os.File
}

func (f ctxFile) Read(p []byte) (int, error) {
	if err := f.ctx.Err(); err != nil {
		return 0, err
	}
	return f.File.Read(p)
}

func (f ctxFile) ReadAt(p []byte, off int64) (int, error) {
	if err := f.ctx.Err(); err != nil {
		return 0, err
	}
	return f.File.ReadAt(p, off)
}

// sayable makes of a picture's refusal one that a form can show.
func sayable(err error) error {
	var p *photo.Problem
	if errors.As(err, &p) {
		return record.Invalidf("", "%s", p.Say)
	}
	return err
}

// keep writes bytes into the cache, under a photograph.
func (m *Maker) keep(h record.Hash, name string, data []byte) error {
	return m.store.PutDerived(h, name, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

func (m *Maker) keepJSON(h record.Hash, name string, v any) error {
	raw, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("write %s of photograph %s: %w", name, h.Short(), err)
	}
	return m.keep(h, name, raw)
}

// keptJSON reads what keepJSON wrote; false where it is not there, or cannot be
// read: then it is made anew.
func (m *Maker) keptJSON(h record.Hash, name string, v any) bool {
	f, err := m.store.OpenDerived(h, name)
	if err != nil {
		return false
	}
	defer f.Close()
	return json.NewDecoder(f).Decode(v) == nil
}
