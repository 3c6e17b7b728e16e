package account

import (
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/paper"
)

// ReachQuestion asks the other way round: the least of a lever that reaches a
// target.
type ReachQuestion struct {
	Target string   `field:"target"` // acid, reserve or ph
	Value  *float64 `field:"target_value" what:"the target"`
	Lever  string   `field:"lever" start:"strength"`
}

// ReachTargets and ReachLevers are what a ReachQuestion can name.
var (
	ReachTargets = []record.Choice{
		{Value: "acid", Words: "all acid gone"},
		{Value: "reserve", Words: "a reserve of, % CaCO₃"},
		{Value: "ph", Words: "a pH of the dry sheet of"},
	}
	ReachLevers = []record.Choice{
		{Value: string(paper.Strength), Words: "strength"},
		{Value: string(paper.Number), Words: "more baths, kept wet"},
		{Value: string(paper.Cycles), Words: "more baths, dried between"},
		{Value: string(paper.Time), Words: "time"},
		{Value: string(paper.Volume), Words: "volume"},
	}
)

// Reach is the least that reaches a target, or why nothing does.
type Reach struct {
	Reached  bool
	Sentence string
	Instead  []string
	Which    string // which bath of several is changed
	// Try is the trial with the answer in it, as fields and values; "" takes a
	// field away. Nil where the target is out of reach.
	Try map[string]string
}

// Reach answers q; without a target there is no answer.
func (x *Trial) Reach(q ReachQuestion) (*Reach, []*record.Invalid) {
	var r refusals
	var t paper.Target
	switch q.Target {
	case "":
		return nil, nil
	case "acid":
		t.AcidLeftMmolPerKg = some(0.0)
	case "reserve":
		t.ReservePercentChalk = q.Value
	case "ph":
		t.ExtractPH = q.Value
	default:
		r.say("target", "%q is no target: choose one.", words.Clip(q.Target))
		return nil, r
	}
	if q.Target != "acid" && q.Value == nil {
		r.say("target_value", "Please enter the target.")
		return nil, r
	}
	lever, out := paper.Lever(q.Lever), &Reach{}
	baths := x.baths(x.Baths)
	if lever == paper.Number || lever == paper.Cycles {
		baths = x.baths(1)
	} else if x.Baths > 1 {
		out.Which = "Of the " + en.Number(float64(x.Baths)) + " baths the last is changed, the others stay."
	}
	a, err := paper.Reach(x.sheet, baths, len(baths)-1, lever, t, paper.Options{Samples: fullLeast, Seed: 1})
	if err != nil {
		r.at("target_value", err)
		return nil, r
	}
	out.Reached, out.Sentence, out.Instead = a.Reached, a.Sentence, a.Instead
	if a.Reached {
		out.Try = x.with(lever, a.Least)
	}
	return out, nil
}

// with is the trial's fields with a lever at a value, a little more than the
// least so that rounding does not miss it.
func (x *Trial) with(lever paper.Lever, v float64) map[string]string {
	const more = 1.005
	plain := func(v float64) string { return en.Number(figures3(v)) }
	switch lever {
	case paper.Strength:
		return map[string]string{"strength": plain(x.Strength * v / x.Kind.Alkali(x.Strength) * more)}
	case paper.Time:
		return map[string]string{"minutes": plain(v * more)}
	case paper.Volume:
		return map[string]string{"volume_ml": plain(v * more)}
	case paper.Cycles:
		return map[string]string{"baths": plain(v), "dried": "yes"}
	}
	return map[string]string{"baths": plain(v), "dried": ""}
}
