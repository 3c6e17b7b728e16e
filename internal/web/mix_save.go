package web

import (
	"net/http"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/solution"
)

// mixSave makes the recipe: it writes the bottle, and draws what went into it
// from the bottles that it came from, in the same act.
func (s *Server) mixSave(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "make")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	m := s.readMix(s.formOf(r, "mix", f.values), st)
	recipe, ok := m.recipe()
	if !ok {
		f.Refuse("", "The recipe cannot be made as it stands: %s", orElse(m.cannot, firstRefusal(m.f)))
		return s.save(w, r, f, Saving{Case: record.StudioID}, s.mixPage)
	}
	b := s.bottleOf(f, m, recipe)
	bodies := append([]record.Body{b}, m.draws(recipe, b.Name)...)
	return s.save(
		w,
		r,
		f,
		Saving{
			Case:  record.StudioID,
			Items: items(bodies...),
			To:    bottlePath(b.ID),
			Said:  "Made: " + b.Name + ". Its label is ready to print.",
		},
		s.mixPage,
	)
}

func firstRefusal(f *Form) string {
	for _, x := range f.Refused {
		if x.Say != "" {
			return x.Say
		}
	}
	return "a field is missing."
}

// bottleOf is the bottle that a recipe makes.
func (s *Server) bottleOf(f *Form, m *mix, recipe solution.Recipe) record.Bottle {
	strength, unit := keptStrength(recipe.Strength)
	b := record.Bottle{
		ID: f.ID(
			0,
		), Name: orElse(f.Line("bottle_name"), bottleName(recipe)), Substance: recipe.Substance, Form: record.BottleForm(recipe.Form), Strength: &strength, Unit: unit,
		VolumeMl: round(
			recipe.VolumeMl.Best,
		), MadeAt: f.At(), ExpiresAt: f.Time("expires_at", "the expiry"), ExpiryBasis: recipe.Keeping.Text + " (" + string(recipe.Keeping.Basis) + ")",
		Maker: f.By, Lot: f.Line("lot"), Water: m.waterName, Recipe: recipe.Steps(), RestsOn: strings.Join(recipe.RestsOn, " "),
		Cautions: recipe.Cautions, Warnings: recipe.Warnings, Note: f.Text("note"),
	}
	if m.way == "stock" || m.way == "conditioned" {
		b.TempC = &m.stockTemp
	}
	if v := f.MaybeNumber("volume_ml", "the volume"); v != nil {
		b.VolumeMl = *v
	}
	for _, d := range recipe.Draws {
		if d.Substance == "water" {
			continue
		}
		x := record.Drawn{Name: orElse(d.Bottle, d.Substance), Ml: float64(d.Ml)}
		if m.stock != nil {
			x.Bottle, x.Name, x.Lot = m.stock.Body.ID, m.stock.Body.Name, m.stock.Body.Lot
		}
		b.From = append(b.From, x)
	}
	return b
}

// keptStrength is a strength in a unit that bottles are kept in.
func keptStrength(s solution.StrengthRange) (record.Range, string) {
	switch s.Unit {
	case solution.MilligramL:
		return s.Scale(1e-3), string(solution.GramL)
	case solution.MmolL:
		return s.Scale(1e-3), string(solution.MolL)
	}
	return s.Range, string(s.Unit)
}

// draws are what the recipe takes from the bottle that was chosen.
func (m *mix) draws(recipe solution.Recipe, what string) []record.Body {
	if m.stock == nil {
		return nil
	}
	var list []record.Body
	for _, d := range recipe.Draws {
		x := record.BottleDrawn{Bottle: m.stock.Body.ID, For: what}
		switch {
		case d.Substance == "water":
			continue
		case m.stock.Body.VolumeMl > 0 && d.Ml > 0:
			x.Ml = float64(d.Ml)
		case m.stock.Body.MassG > 0 && d.G > 0:
			x.G = float64(d.G)
		default:
			continue
		}
		list = append(list, x)
	}
	return list
}
