package pictures

import (
	"context"
	"math"

	"benchleaf/internal/record"
	"benchleaf/photo"
)

// Stains are what was found on a photograph, proposed and not recorded.
type Stains struct {
	Share float64  `json:"stained_share"` // of the face, losses left out
	Notes []string `json:"notes,omitempty"`
	Found []Stain  `json:"found"` // largest first
}

// Stain is a proposed area.
type Stain struct {
	Look    string        `json:"look"` // one of record.AreaLooks
	Outline []record.Ring `json:"outline_px"`
	Share   float64       `json:"face_share"`
	DE00    float64       `json:"mean_de00"` // against the paper round it
	Why     string        `json:"why"`
}

// Mould says whether it looks as mould does.
func (s *Stain) Mould() bool { return s.Look == string(photo.Mould) }

// StainsJob looks for stains on a photograph.
func StainsJob(h record.Hash) Job { return Job("stains/" + h.String()) }

// BeginStains looks for stains on a photograph in the background.
func (m *Maker) BeginStains(h record.Hash) *Work {
	return m.beginLong(StainsJob(h), func(ctx context.Context, x *Work) error {
		x.tell(0, "reading the photograph")
		img, _, err := m.decode(ctx, h)
		if err != nil {
			return err
		}
		found, err := photo.FindStains(ctx, img, photo.StainOptions{
			Progress: func(share float64, doing string) { x.tell(0.1+0.9*share, doing) },
		})
		if err != nil {
			return sayable(err)
		}
		return m.keepJSON(h, stainsName, stainsOf(found))
	})
}

func stainsOf(found *photo.Stains) Stains {
	out := Stains{Share: found.StainedFraction, Notes: found.Notes}
	for _, r := range found.Regions {
		out.Found = append(out.Found, Stain{
			string(r.Kind), ringsOf(r.Outline), r.AreaPx / math.Max(1, found.FacePx), r.MeanDE00, r.Why,
		})
	}
	return out
}

// Stains are the stains that were found on a photograph; nil when none were
// looked for.
func (m *Maker) Stains(h record.Hash) *Stains {
	var x Stains
	if !m.keptJSON(h, stainsName, &x) {
		return nil
	}
	return &x
}
