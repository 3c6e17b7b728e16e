package record

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"

	jsonv2 "github.com/go-json-experiment/json"
)

// spec is what the journal knows of a kind.
type spec struct {
	version  int
	commutes bool
	decode   func(json.RawMessage) (Body, error)
	// up[v] turns the JSON of version v into that of version v+1. Old entries
	// stay as they were written; only the fold sees the new form.
	up map[int]func(json.RawMessage) (json.RawMessage, error)
}

var kinds = map[Kind]*spec{}

// register adds the body type B at its present version. To add a kind, define
// its type, with the tags of its fields (see Field), Kind and apply (or
// applyStudio), and register it here; to change one, raise its version and give
// the step up from the old.
func register[B Body](version int, commutes bool) *spec {
	var zero B
	s := &spec{version: version, commutes: commutes, decode: func(raw json.RawMessage) (Body, error) {
		var b B
		// The second version of the standard decoder reads twice as fast,
		// which is what a fold spends its time on.
		err := jsonv2.Unmarshal(raw, &b)
		return b, err
	}}
	if kinds[zero.Kind()] != nil {
		panic("record: kind registered twice: " + string(zero.Kind()))
	}
	kinds[zero.Kind()] = s
	tables[reflect.TypeFor[B]()] = tableOf(reflect.TypeFor[B]())
	return s
}

// Whether a kind commutes: appending it after entries that its writer had not
// seen means the same as appending it before them. Log lines do; anything that
// replaces a state or counts versions does not.
const (
	commutes = true
	ordered  = false
)

func init() {
	register[Opened](1, ordered)
	register[Identity](1, ordered)
	register[Ownership](2, ordered).up = inMinorUnits("value_minor")
	register[Custody](2, commutes).up = asItWas
	register[Insurance](1, ordered)
	register[Quarantine](1, ordered)
	register[EarlierTreatment](1, commutes)
	register[PartKept](1, commutes)
	register[PartSettled](1, ordered)
	register[Note](1, commutes)
	register[Incident](1, commutes)
	register[Photo](1, commutes)
	register[PhotoColour](1, ordered)

	register[Stock](1, ordered)
	register[Reading](2, commutes).up = asItWas
	register[MakeUp](2, ordered).up = map[int]func(json.RawMessage) (json.RawMessage, error){1: stayed}
	register[SheetState](2, ordered).up = map[int]func(json.RawMessage) (json.RawMessage, error){1: oneState}
	register[Staple](1, ordered)
	register[StapleMoved](1, ordered)
	register[Collation](1, commutes)
	register[Reassembled](1, commutes)
	register[PositionMarked](1, ordered)
	register[WorkPlaced](1, commutes)
	register[Damage](2, commutes).up = pointsToShapes
	register[DamageAfter](2, ordered).up = asItWas
	register[PhotoLaid](1, ordered)
	register[MendPlan](1, ordered)
	register[FaceCompared](1, commutes)
	register[AreaOutlined](1, commutes)
	register[AreaCompared](1, commutes)
	register[SpotTest](1, commutes)
	register[SpotReread](1, commutes)

	register[Proposal](2, ordered).up = inMinorUnits("rate_minor_per_hour", "minimum_minor", "materials_minor")
	register[Consent](1, ordered)
	register[Trial](1, commutes)
	register[BathPlan](1, ordered)

	register[RunStarted](1, ordered)
	register[RunExpected](1, commutes)
	register[RunEnded](1, ordered)
	register[AbsorbentChanged](1, commutes)
	register[Blotted](1, commutes)
	register[Mend](1, commutes)
	register[NextStep](1, ordered)
	register[RunJudged](1, ordered)
	register[Waste](1, commutes)
	register[ValueAdopted](1, ordered)

	register[PaperIssued](1, commutes)
	register[Closed](2, ordered).up = asItWas
	register[Reopened](1, ordered)
	register[Withdrawn](1, ordered)

	register[StudioDetails](2, ordered).up = inMinorUnits("rate_minor_per_hour", "minimum_minor")
	register[Person](1, ordered)
	register[WaterSource](1, ordered)
	register[Bottle](1, commutes)
	register[BottleDrawn](1, commutes)
	register[BottleChecked](1, commutes)
	register[BottleEmptied](1, ordered)
	register[Glassware](1, ordered)
	register[Instrument](1, ordered)
	register[InstrumentChecked](1, commutes)
	register[Method](1, ordered)
	register[ChartFile](1, ordered)
	register[Supply](1, ordered)
	register[Exposure](1, commutes)
	register[RoomClimate](1, commutes)
	register[OwnRange](1, ordered)
	register[BackupPlan](1, ordered)
	register[DayPlan](1, ordered)
}

// Commutes says whether entries of this kind may be appended after entries
// that their writer had not seen.
func Commutes(k Kind) bool {
	s := kinds[k]
	return s != nil && s.commutes
}

// Kinds lists the registered kinds in alphabetical order.
func Kinds() []Kind {
	list := make([]Kind, 0, len(kinds))
	for k := range kinds {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

// Encode gives a body the form it has in an entry.
func Encode(b Body) (Kind, int, json.RawMessage, error) {
	s := kinds[b.Kind()]
	if s == nil {
		return "", 0, nil, fmt.Errorf("record: kind %q is not registered", b.Kind())
	}
	raw, err := Marshal(b)
	return b.Kind(), s.version, raw, err
}

// Decode reads the body of an entry. A kind or version that this program does
// not know gives a nil body and no error: such entries are kept and shown.
func Decode(k Kind, version int, raw json.RawMessage) (Body, error) {
	s := kinds[k]
	if s == nil || version > s.version {
		return nil, nil
	}
	for v := version; v < s.version; v++ {
		step := s.up[v]
		if step == nil {
			return nil, fmt.Errorf("there is no way from version %d of %q to version %d", v, k, v+1)
		}
		var err error
		if raw, err = step(raw); err != nil {
			return nil, fmt.Errorf("version %d of %q: %w", v, k, err)
		}
	}
	return s.decode(raw)
}
