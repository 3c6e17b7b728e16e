package web

import (
	"context"
	"errors"
	"io"

	"benchleaf/internal/papers"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/treatment"
)

// Prints hands the pictures of one case to its papers outside a server: made once,
// and kept in the store's cache. Close it at the end.
type Prints struct {
	photos   photoPrints
	compared comparedPrints
}

// PrintsOf are the pictures of a case; work on them ends with the context.
func PrintsOf(ctx context.Context, s *store.Store, c *record.Case) *Prints {
	d := newDeriver(s)
	return &Prints{photoPrints{ctx, d}, comparedPrints{ctx, &comparer{d: d}, c}}
}

// Options are those of a paper with these pictures.
func (p *Prints) Options() papers.Options {
	return papers.Options{Pictures: p.photos, Compared: p.compared, Operation: treatment.Name}
}

// Close ends what is being made.
func (p *Prints) Close() { p.photos.d.close() }

// photoPrints hands photographs to papers, at most printLong along the longer side.
type photoPrints struct {
	ctx context.Context
	d   *deriver
}

// Picture gives a photograph as it was made for print, together with the sizes for
// the screen, or makes it. That it cannot be kept, on a full disk say, costs only
// time.
func (p photoPrints) Picture(h record.Hash) ([]byte, error) {
	if p.ctx.Err() != nil {
		return nil, errors.New("the work was interrupted")
	}
	f, err := p.d.open(p.ctx, h, printLong)
	switch {
	case p.ctx.Err() != nil:
		return nil, errors.New("the work was interrupted")
	case errors.Is(err, store.ErrNotFound):
		return nil, errors.New("it is not in the data folder")
	case err != nil:
		_, sizes, err := p.d.sizes(h)
		if err != nil {
			return nil, err
		}
		return sizes[len(sizes)-1].JPEG, nil
	}
	defer f.Close()
	return io.ReadAll(f)
}
