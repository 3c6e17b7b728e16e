package treatment

import (
	"fmt"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// TakenApart is the entry by which the object was last taken apart, 0 where the
// record tells of none: its staples out, its sheets parted, a count of them apart.
func TakenApart(c *record.Case) int64 {
	var last int64
	for i := range c.Runs {
		if r := &c.Runs[i]; r.Body.Operation == "take-apart" || r.Body.Operation == "staples-out" {
			last = max(last, r.Seq)
		}
	}
	for i := range c.Staples {
		for _, mv := range c.Staples[i].Moves {
			if mv.Body.Act == record.StapleRemoved {
				last = max(last, mv.Seq)
			}
		}
	}
	for _, k := range c.Collations {
		if k.Body.When == "disbound" {
			last = max(last, k.Seq)
		}
	}
	return last
}

// Leaving says what must hold before a case is closed or its object goes back, and
// does not: that it is whole again, by a look since it was last taken apart, and
// that kept parts and staples are accounted for. Each can be passed with a reason.
func Leaving(c *record.Case) []Unmet {
	var list []Unmet
	if say := notWhole(c); say != "" {
		list = append(list, Unmet{"reassembly", true, say})
	}
	if say := partsOpen(c); say != "" {
		list = append(list, Unmet{"kept parts", true, say})
	}
	return list
}

func notWhole(c *record.Case) string {
	apart := TakenApart(c)
	if apart == 0 {
		return ""
	}
	var look *record.Stamped[record.Reassembled]
	for i := range c.Reassembled {
		if x := &c.Reassembled[i]; x.Seq > apart && (look == nil || x.Seq > look.Seq) {
			look = x
		}
	}
	switch {
	case look == nil:
		return "The object was taken apart, and nobody has looked since whether it is whole again: order, way round, " +
			"nothing left over, kept parts."
	case !look.Body.Whole():
		return "It was looked at put together again, and is not whole: " + strings.TrimSuffix(look.Body.Text, ".") + "."
	}
	return ""
}

// partsOpen names the kept parts and the staples of which nobody has said what
// becomes of them.
func partsOpen(c *record.Case) string {
	var open []string
	for i := range c.Parts {
		p := &c.Parts[i]
		if p.Settled == nil && !putBack(c, p.Body.ID) {
			open = append(open, p.Body.What+words.After(" ", p.Body.Label))
		}
	}
	for i := range c.Staples {
		s := &c.Staples[i]
		if n := len(s.Moves); n > 0 && s.Moves[n-1].Body.Act == record.StapleRemoved && s.Moves[n-1].Body.Part == "" {
			open = append(open, fmt.Sprintf("staple %d", s.Body.Number))
		}
	}
	if len(open) == 0 {
		return ""
	}
	return "Nobody has said what becomes of " + words.English.List(open) + "."
}

// putBack says whether a part is a staple that went back or was replaced since.
func putBack(c *record.Case, part string) bool {
	for i := range c.Staples {
		moves := c.Staples[i].Moves
		for j, mv := range moves {
			if mv.Body.Part == part && part != "" && j < len(moves)-1 && moves[len(moves)-1].Body.Act == record.StapleReused {
				return true
			}
		}
	}
	return false
}
