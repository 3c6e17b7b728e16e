package account

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// en is the one language that is filled.
const en = words.English

// Line is an entry of a journal, told in one sentence.
type Line struct {
	Seq     int64
	Written time.Time
	// When is Written, with its day where that is not today.
	When string
	By   string
	Kind record.Kind
	Said string
	// Happened says when it was done, where the entry gives another time than
	// that of its writing.
	Happened string
	Struck   bool   // corrected or withdrawn
	Instead  string // the correction
	Because  string // why it was withdrawn
}

// wroteLate is how long after the act an entry may be written for the two times
// to be told as one.
const wroteLate = 2 * time.Minute

// Tell tells a line of a case's journal, with what became of it. A nil case is
// the studio's journal.
func Tell(c *record.Case, l *record.Line, k words.Clock) Line {
	out := Line{
		Seq: l.Seq, Written: l.Time, When: k.At(l.Time), By: l.By, Kind: l.Kind,
		Said: sentenceFor(c, l.Kind, l.Decoded), Struck: !l.Counts(),
	}
	if at := happened(l.Decoded); !at.IsZero() && l.Time.Sub(at).Abs() >= wroteLate {
		beside := k
		beside.Today = l.Time
		out.Happened = "at " + beside.At(at)
	}
	if x, is := l.Decoded.(record.Withdrawn); is {
		out.Said, out.Because = "Entry "+strconv.FormatInt(l.Corrects, 10)+" withdrawn", x.Reason
	} else if l.Corrects != 0 {
		out.Said = "Correcting entry " + strconv.FormatInt(l.Corrects, 10) + ": " + out.Said
	}
	switch {
	case l.WithdrawnBy != 0:
		out.Instead = "withdrawn by entry " + strconv.FormatInt(l.WithdrawnBy, 10)
	case l.CorrectedBy != 0:
		out.Instead = "corrected by entry " + strconv.FormatInt(l.CorrectedBy, 10)
	}
	return out
}

// happened is the time that a body gives for what it tells, zero where it gives
// none. Every kind that has one calls it At.
func happened(b record.Body) time.Time {
	v := reflect.ValueOf(b)
	if v.Kind() != reflect.Struct {
		return time.Time{}
	}
	if f := v.FieldByName("At"); f.IsValid() {
		if at, is := f.Interface().(time.Time); is {
			return at
		}
	}
	return time.Time{}
}

// Said is what the log says of a body, without its full stop.
func Said(c *record.Case, b record.Body) string { return sentenceFor(c, b.Kind(), b) }

// sentenceFor tells a body. A kind that this program does not know is named.
func sentenceFor(c *record.Case, kind record.Kind, b record.Body) string {
	if b == nil {
		return "An entry of the kind " + strconv.Quote(string(kind)) + ", which this version of benchleaf cannot read"
	}
	if c == nil {
		c = &record.Case{}
	}
	return en.Upper(strings.TrimSuffix(tellBody(c, b), "."))
}

func tellBody(c *record.Case, b record.Body) string {
	on := record.SheetNames
	switch b := b.(type) {
	case record.Opened:
		return "case " + b.Number + " opened: " + b.Title
	case record.Identity:
		return "object described: " + b.Title
	case record.Ownership:
		return "owner: " + b.Owner + words.After("; asks for: ", b.Wishes)
	case record.Custody:
		return record.Words(b.Act) + ", " + b.Place + words.After("; ", b.Condition)
	case record.Quarantine:
		return "quarantine: " + record.Words(b.State) + "; " +
			record.Words(b.Moisture) + ", mould: " + record.Words(b.Mould)
	case record.PartKept:
		return "kept: " + b.What + ", in " + b.Where
	case record.PartSettled:
		what := "a kept part"
		if p := c.Part(b.Part); p != nil {
			what = p.Body.What
		}
		return what + ": " + record.Words(b.Outcome)
	case record.Note:
		return record.Words(b.Nature) + ", " + b.Place.String() + ": " + b.Text
	case record.Incident:
		return "incident, " + b.Place.String() + ": " + b.What
	case record.Photo:
		stage := record.Words(b.Stage)
		for i := range c.Photos {
			if p := &c.Photos[i]; p.Body.Hash == b.Hash && p.Body.Stage == b.Stage {
				stage = StageWords(c, p)
			}
		}
		return "photograph, " + b.Place.String() + ", " + stage + words.After(": ", b.Caption)
	case record.PhotoColour:
		return "colour of photograph " + b.Photo.Short() + " set by " + ColourBy(&b) + ", " + colourError(&b)
	case record.Stock:
		size := en.Number(b.WidthMm) + " × " + en.Quantity(b.HeightMm, "mm")
		return "paper “" + b.Name + "”: " + words.Joined(", ", record.Words(b.Class), size,
			en.Quantity(b.GrammageGM2, "g/m²"), on(b.Sheets))
	case record.Reading:
		return tellReading(c, &b)
	case record.MakeUp:
		return tellMakeUp(&b)
	case record.SheetState:
		return record.SheetName(b.Sheet) + ": " + SheetFound(&b)
	case record.Staple:
		return "staple " + strconv.Itoa(b.Number) + " mapped, " + en.Quantity(b.FromHeadMm, "mm") +
			" from the head, rust: " + record.Words(b.Rust)
	case record.StapleMoved:
		return "staple " + strconv.Itoa(b.Number) + " " + record.Words(b.Act)
	case record.Reassembled:
		return tellWhole(&b)
	case record.PositionMarked:
		return "reading position marked, " + b.Place.String() + ", " + en.Quantity(b.XMm, "mm") + " from the left edge, " +
			en.Quantity(b.YMm, "mm") + " from the head"
	case record.WorkPlaced:
		return record.Words(b.Sort) + " placed, " + b.Place.String() + ": " + b.Material + words.After(", lot ", b.Lot)
	case record.Collation:
		order := "in order"
		if !b.InOrder {
			order = "not in order"
		}
		return "collated " + record.Words(b.When) + ": " +
			en.Plural(b.SheetsCounted, "sheet", "sheets") + ", " + order
	case record.Damage:
		severity := record.Words(b.Severity)
		return words.Joined(", ", Term(b.Term), b.Place.String(), Extent(&b), severity)
	case record.FaceCompared:
		s := "pictures compared, " + b.Place.String()
		if b.PaperDE00 != nil && b.PaperDE00Uncertainty != nil {
			s += ", paper changed by " + DE00(*b.PaperDE00, *b.PaperDE00Uncertainty)
		}
		return s
	case record.AreaOutlined:
		return tellArea(b)
	case record.AreaCompared:
		what := "an area"
		if a := c.Area(b.Area); a != nil {
			what = words.Joined(", ", record.Words(a.Body.Look), a.Body.Name, a.Body.Place.String())
		}
		return what + ": changed by " + DE00(b.DE00Trend, b.DE00Uncertainty) + ", light evened"
	case record.PhotoLaid:
		return "photograph laid on its face, " + b.Place.String()
	case record.MendPlan:
		return words.Joined(", ", "mends planned: "+b.Tissue, en.Quantity(b.TissueGM2, "g/m²"), "strips of "+
			en.Quantity(b.StripWidthMm, "mm"), record.Words(b.Faces))
	case record.DamageAfter:
		what := "a damage"
		if d := c.DamageByID(b.Damage); d != nil {
			what = Term(d.Body.Term) + ", " + on(d.Body.Place.Sheets)
		}
		return what + ": " + record.Words(b.Outcome)
	case record.SpotTest:
		return "test, " + testName(&b) + ": " + record.Words(b.Result) + words.After("; ", b.Change)
	case record.SpotReread:
		of := ""
		if t := c.Test(b.Test); t != nil {
			of = " (" + testName(&t.Body) + ")"
		}
		return "spot" + of + " read again in " + record.Words(b.Light) + ": " + record.Words(b.Result)
	}
	return tellWork(c, b)
}

// tellWork tells what is proposed, done and handed over.
func tellWork(c *record.Case, b record.Body) string {
	on := record.SheetNames
	switch b := b.(type) {
	case record.Proposal:
		return "proposal, version " + strconv.Itoa(b.Version) + ", " + en.Plural(len(b.Options), "option", "options")
	case record.Consent:
		return record.Words(b.Answer) + " to version " + strconv.Itoa(b.Version) +
			words.After(", option ", b.Option) + ", by " + b.Who + ", " + record.Words(b.Way)
	case record.BathPlan:
		return "bath chosen for " + on(b.Sheets) + ": " + treatment.PlanWords(&b) + words.After(", because ", b.Reason)
	case record.RunStarted:
		s := b.OperationName + " of " + on(b.Sheets) + " started"
		if b.Bath != nil {
			s += " in " + BathWords(b.Bath)
		}
		for _, o := range b.Overrides {
			s += "; " + o.Gate + " passed: " + o.Reason
		}
		return s
	case record.RunExpected:
		return tellExpected(c, &b)
	case record.RunEnded:
		sheets := b.Sheets
		if r := c.Run(b.Run); r != nil && len(sheets) == 0 {
			sheets = r.Body.Sheets
		}
		s := runWords(c, b.Run, sheets) + ": " + record.Words(b.Outcome)
		return s + words.After("; ", b.EndPoint) + words.After("; ", b.Seen) + words.After("; ", b.Reason)
	case record.AbsorbentChanged:
		s := "absorbents changed, " + runWords(c, b.Run, nil)
		if b.TakenUpG != nil {
			s += ", " + en.Quantity(*b.TakenUpG, "g") + " of water taken up"
		}
		return s
	case record.Blotted:
		return on(b.Sheets) + " blotted: the mending window begins"
	case record.Mend:
		return "mend on " + b.Place.String() + ", " + record.Words(b.State) + ": " + b.Tissue + ", " +
			b.Adhesive
	case record.NextStep:
		if b.Done {
			return "settled, " + on(b.Sheets) + ": " + b.Text
		}
		return "next, " + on(b.Sheets) + ": " + b.Text + words.After(", because ", b.Reason)
	case record.RunJudged:
		return tellJudged(c, &b)
	case record.Trial:
		return words.Joined("; ", "trial of "+treatment.Name(b.Operation)+" on "+b.On+", "+b.Place.String(), b.With, b.Seen) +
			words.After(". The step ", record.Words(b.Verdict))
	case record.DayPlan:
		return "day planned: " + en.Plural(len(b.Tasks), "task", "tasks") + words.After(", because ", b.Because)
	case record.ValueAdopted:
		return tellAdopted(&b)
	case record.Waste:
		return "waste: " + words.Joined(", ", b.What, maybe(b.VolumeMl, "mL")) + ", to " + b.To
	case record.PaperIssued:
		return record.Words(b.Sort) + " given to " + b.To
	case record.Closed:
		return "case closed: " + record.Words(b.Outcome)
	case record.Reopened:
		return "case reopened: " + b.Reason
	}
	return tellStudio(b)
}

// tellStudio tells the entries of the studio's own journal.
func tellStudio(b record.Body) string {
	switch b := b.(type) {
	case record.StudioDetails:
		return "studio: " + b.Name + ", " + en.Money(words.Money{Minor: b.RateMinor, Currency: b.Currency}) + " an hour"
	case record.Person:
		return "person: " + b.Initials + ", " + b.Name
	case record.WaterSource:
		return "water: " + b.Name + ", " + WaterText(&b)
	case record.Bottle:
		return "bottle: " + b.Name + words.After(", lot ", b.Lot)
	case record.BottleDrawn:
		amount := en.Quantity(b.G, "g")
		if b.Ml > 0 {
			amount = en.Quantity(b.Ml, "mL")
		}
		return amount + " drawn from a bottle" + words.After(" for ", b.For)
	case record.BottleChecked:
		s := "bottle checked, " + b.How
		if b.PH != nil {
			s += ", pH " + en.Number(*b.PH)
		}
		if b.Strength != nil {
			s += ", strength " + en.Number(b.Strength.Best)
		}
		return s
	case record.BottleEmptied:
		return "bottle emptied: " + b.Reason + "; the rest to " + b.To
	case record.Glassware:
		return "glassware: " + b.Name + ", " + GlassText(&b)
	case record.Instrument:
		return "instrument: " + b.Name
	case record.InstrumentChecked:
		return "instrument checked in " + en.Plural(len(b.Buffers), "buffer", "buffers") + words.After("; ", b.Text)
	case record.Method:
		return "method: " + b.Name + ", " + MethodText(&b)
	case record.OwnRange:
		return tellOwn(&b)
	case record.Supply:
		return "stock: " + b.Name + words.After(", lot ", b.Lot) + words.After(", activity test ", record.Words(b.Activity))
	case record.Exposure:
		return words.Joined(", ", record.Words(b.Sort)+": "+b.What, b.Amount, b.Who) + words.After("; ", b.Done)
	case record.RoomClimate:
		return "climate of " + b.Room + " by " + b.Logger + ", " + en.Plural(len(b.Samples), "sample", "samples")
	case record.ChartFile:
		return "colour chart: " + b.Name + ", " + ChartText(&b)
	case record.BackupPlan:
		s := "backups: every " + en.Plural(b.EveryHours, "hour", "hours") + " to " + b.Folder
		if b.Recipient != "" {
			s += ", encrypted"
		}
		return s
	}
	return strings.ReplaceAll(string(b.Kind()), "-", " ") + words.After(": ", InWords(b))
}

func tellReading(c *record.Case, b *record.Reading) string {
	place := ""
	if b.Run == "" || len(b.Place.Sheets) > 0 {
		place = b.Place.String()
	}
	run := ""
	if b.Run != "" {
		run = runWords(c, b.Run, nil)
	}
	return words.Joined(", ", QuantityName(b.Quantity)+" "+Value(b), place, run)
}

func tellArea(b record.AreaOutlined) string {
	size := ""
	if b.AreaMm2 != nil {
		size = AreaSize(&b)
	}
	return "area outlined, " + words.Joined(", ", record.Words(b.Look), b.Name, b.Place.String(), size,
		record.Words(b.FoundBy))
}

func tellAdopted(b *record.ValueAdopted) string {
	what := b.Quantity
	if q := record.AdoptedQuantityOf(b.Quantity); q != nil {
		what = q.Words
	}
	return what + " " + en.Range(b.Value, b.Unit) + " estimated from readings on " + record.SheetName(b.FromSheet) +
		" and adopted for " + record.SheetNames(b.Sheets) + words.After(", widened since ", b.Spread) +
		", because " + b.Reason
}

func testName(b *record.SpotTest) string {
	name := b.Colour
	if name == "" {
		name = record.Words(b.Sort)
	}
	return name + " in " + record.Words(b.Liquid)
}

// runWords names a run by what is done, the sheets (nil: all that it began
// with) and the bath, so that two of one evening are told apart.
func runWords(c *record.Case, id string, sheets []int) string {
	r := c.Run(id)
	if r == nil {
		return "a run"
	}
	if sheets == nil {
		sheets = r.Body.Sheets
	}
	s := r.Body.OperationName + " of " + record.SheetNames(sheets)
	if b := r.Body.Bath; b != nil {
		return s + " in " + words.Joined(", ", b.Liquid, b.Tray)
	}
	return s
}

// BathWords names a bath by its volume, its liquid and its tray.
func BathWords(b *record.Bath) string {
	return words.Joined(", ", en.Quantity(b.VolumeMl, "mL")+" of "+b.Liquid, b.Tray)
}

// ColourBy says what set the colour of a photograph. Recorded comparisons hold
// this text, and find their colours by it: keep it as it is.
func ColourBy(b *record.PhotoColour) string {
	by := "a paper taken for white"
	switch b.Method {
	case "chart":
		by = "the chart “" + b.ChartName + "”"
	case "grey-card":
		by = "a grey card of L* " + en.Number(b.Lightness)
	}
	if !b.From.IsZero() {
		by += " in another photograph of the same light"
	}
	return by
}

func colourError(b *record.PhotoColour) string {
	if b.Method == "chart" {
		return fmt.Sprintf("patches left out come back within %.1f ΔE00 (median)", b.ErrorDE00)
	}
	return fmt.Sprintf("a colour by itself is off by about %.1f ΔE00 (rule of thumb)", b.ErrorDE00)
}

// WaterText says what is known of a water.
func WaterText(x *record.WaterSource) string {
	return words.Joined(", ", record.Words(x.Source),
		words.After("hardness ", maybe(x.HardnessMgL, "mg/L CaCO₃")),
		words.After("alkalinity ", maybe(x.AlkalinityMgL, "mg/L HCO₃")),
		words.After("calcium ", maybe(x.CalciumMgL, "mg/L")), words.After("pH ", maybe(x.PH, "")),
		maybe(x.ConductUS, "µS/cm"))
}

// GlassText says what a piece of glassware measures.
func GlassText(x *record.Glassware) string {
	s := en.Quantity(x.CapacityMl, "mL") + ", graduated to " + en.Quantity(x.GraduationMl, "mL")
	if x.GraduationMl == x.CapacityMl {
		s = en.Quantity(x.CapacityMl, "mL") + ", one mark"
	}
	if x.ToleranceMl > 0 {
		s += ", ±" + en.Quantity(x.ToleranceMl, "mL")
	}
	return s
}

// MethodText says what a method of the studio does.
func MethodText(x *record.Method) string {
	min, due := "", make([]string, len(x.DueMin))
	if x.PlannedMin > 0 {
		min = en.Quantity(x.PlannedMin, "min")
	}
	for i, v := range x.DueMin {
		due[i] = en.Number(v)
	}
	return words.Joined(", ", treatment.Name(x.Operation), x.Liquid, min,
		words.After("due after ", words.After(strings.Join(due, ", "), words.NBSP+"min")))
}

// ChartText says how many patches a colour chart has.
func ChartText(x *record.ChartFile) string {
	return strconv.Itoa(x.Rows) + " rows of " + strconv.Itoa(x.Columns) + " patches"
}

func maybe(v *float64, unit string) string {
	if v == nil {
		return ""
	}
	return en.Quantity(*v, unit)
}
