package pictures

import (
	"errors"

	"benchleaf/colour"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// Pair is two photographs of one face, or one alone: then After is zero.
type Pair struct {
	Before, After record.Hash
	// Colour names the corrections of both, where both have their colour set; else
	// they are compared as the cameras wrote them.
	Colour string
}

// PairOf is a pair with its colour as it is set in a case now.
func PairOf(c *record.Case, before, after record.Hash) Pair {
	return Pair{before, after, pairColour(c.ColourOf(before), c.ColourOf(after))}
}

// Recorded is the pair of a comparison that was recorded, with the colour that it
// had then.
func Recorded(c *record.Case, x *record.Stamped[record.FaceCompared]) (Pair, error) {
	before, after := c.ColourAt(x.Body.Before, x.Seq), c.ColourAt(x.Body.After, x.Seq)
	of := Pair{x.Body.Before, x.Body.After, pairColour(before, after)}
	if colourSays(before, after) != x.Body.Colour {
		return of, errors.New("the colour of the photographs was withdrawn or corrected after they were compared, so " +
			"the recorded numbers have no picture that goes with them: record the comparison again")
	}
	return of, nil
}

func pairColour(before, after *record.Stamped[record.PhotoColour]) string {
	if before == nil || after == nil {
		return ""
	}
	return ColourKey(&before.Body) + ColourKey(&after.Body)
}

func colourSays(before, after *record.Stamped[record.PhotoColour]) string {
	if before == nil || after == nil {
		return account.ColourOfPair(nil, nil)
	}
	return account.ColourOfPair(&before.Body, &after.Body)
}

// ColourSays says what sets the colour of a pair.
func (p Pair) ColourSays(c *record.Case) string {
	return colourSays(c.ColourOf(p.Before), c.ColourOf(p.After))
}

// Job names the comparison of a pair, or the tiles of one photograph alone.
func (p Pair) Job() Job {
	if p.After.IsZero() {
		return TilesJob(p.Before)
	}
	return Job("compare/" + p.name())
}

func (p Pair) name() string { return p.Before.String() + "/" + p.After.String() + "/" + p.Set() }

// asTaken stands in addresses and names for photographs without correction.
const asTaken = "as-taken"

// Set names the colour of a pair in an address; SetOf reads it.
func (p Pair) Set() string {
	if p.Colour == "" {
		return asTaken
	}
	return p.Colour
}

// SetOf is the colour that Set named.
func SetOf(set string) string {
	if set == asTaken {
		return ""
	}
	return set
}

// pack is the name of a layer in the cache, under the before picture. What an
// earlier form measured has another name.
func (p Pair) pack(layer string) string {
	return layer + "-" + CompareForm + "-" + compareForms[len(compareForms)-1] + "-" + p.After.String() + "-" + p.Set()
}

// corrections are those of both pictures, nil where they are taken as they are.
func (p Pair) corrections(c *record.Case) (list [2]*colour.Correction, err error) {
	if p.Colour == "" {
		return list, nil
	}
	for i, h := range []record.Hash{p.Before, p.After} {
		b := colourNamed(c, h, p.Colour[16*i:16*i+16])
		if b == nil {
			return list, errors.New("the colour of the photographs was set anew: look at the comparison again")
		}
		if list[i], err = b.Correction(); err != nil {
			return list, err
		}
	}
	return list, nil
}

// colourNamed is the latest correction of a photograph that does what a key says.
func colourNamed(c *record.Case, h record.Hash, key string) *record.PhotoColour {
	for i := len(c.Colours) - 1; i >= 0; i-- {
		if b := &c.Colours[i].Body; b.Photo == h && ColourKey(b) == key {
			return b
		}
	}
	return nil
}
