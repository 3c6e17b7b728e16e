package record

import "time"

// AsOf is the case by what had happened by t: runs, moves, tests, looks, answers
// and changes of hands that were later are left out. What describes the object
// (its make-up, papers, damages, photographs) counts whenever it was written,
// since it was so before.
func (c *Case) AsOf(t time.Time) *Case {
	lines := make([]Line, len(c.Log))
	copy(lines, c.Log) // resolving writes into them
	return foldEffects(lines, func(e effect) bool {
		at, happened := happenedAt(e.body)
		if !happened {
			return true
		}
		if at.IsZero() {
			at = e.stamp.Time // nobody said when, so it is only known by its writing
		}
		return !at.After(t)
	})
}

// happenedAt is when a body says that it happened, zero where it does not say;
// ok is false for a body that describes.
func happenedAt(body Body) (at time.Time, ok bool) {
	switch b := body.(type) {
	case RunStarted:
		return b.At, true
	case RunEnded:
		return b.At, true
	case AbsorbentChanged:
		return b.At, true
	case Consent:
		return b.At, true
	case Custody:
		return b.At, true
	case Quarantine:
		return b.At, true
	case StapleMoved:
		return b.At, true
	case Collation:
		return b.At, true
	case Reassembled:
		return b.At, true
	case WorkPlaced:
		return b.At, true
	case SpotTest:
		return b.At, true
	case SpotReread:
		return b.At, true
	case Trial:
		return b.At, true
	case Mend:
		return b.At, true
	}
	return time.Time{}, false
}

// ReceivedAt is when the object first came in, zero where nobody recorded it.
func (c *Case) ReceivedAt() time.Time {
	for _, x := range c.Custody {
		if x.Body.Act != CustodyReceived {
			continue
		}
		if x.Body.At.IsZero() {
			return x.Time
		}
		return x.Body.At
	}
	return time.Time{}
}
