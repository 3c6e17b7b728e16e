package paper

// tally is the mass balance by which sheets are counted out to a bath: each is
// taken as level with it at once. It is what the chemistry comes to where groups
// and liquid are simple, and quick enough for ten thousand sheets.
type tally struct {
	heldMl, acid, alkali float64 // mL, mmol, mmol in one sheet
}

// lower takes one sheet through a bath of strength mmol/L and volume mL.
func (t tally) lower(strength, volume, carry float64) (after tally, strengthAfter float64) {
	liquid := volume + t.heldMl
	alkali := t.alkali + strength*volume/1000
	used := min(alkali, t.acid)
	alkali -= used
	out := min(carry, liquid)
	return tally{out, t.acid - used, alkali * out / liquid}, alkali / liquid * 1000
}

// until lowers one sheet after another, each as t, into one bath, and counts
// those after which share of its alkali is gone. 0 means never, or not within
// 10,000.
func (t tally) until(strength, volume, carry, share float64) int {
	limit := strength * volume * (1 - share)
	for n := 1; n <= 10_000 && strength > 0; n++ {
		after, next := t.lower(strength, volume, carry)
		strength, volume = next, volume+t.heldMl-after.heldMl
		if strength*volume <= limit {
			return n
		}
	}
	return 0
}
