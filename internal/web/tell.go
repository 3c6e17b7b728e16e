package web

import (
	"fmt"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// tell is a line of the log in words, with what became of it.
func (s *Server) tell(c *record.Case, l *record.Line) LogLine {
	out := LogLine{
		Seq:    l.Seq,
		Time:   l.Time,
		By:     l.By,
		Kind:   l.Kind,
		Said:   sentenceFor(c, l.Kind, l.Decoded),
		Struck: !l.Counts(),
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

// sentenceFor tells a body. A kind that this program does not know is named.
func sentenceFor(c *record.Case, kind record.Kind, b record.Body) string {
	if b == nil {
		return "An entry of the kind " + strconv.Quote(string(kind)) + ", which this version of benchleaf cannot read"
	}
	return upperFirst(strings.TrimSuffix(tellBody(c, b), "."))
}

func tellBody(c *record.Case, b record.Body) string {
	on := record.SheetNames
	switch b := b.(type) {
	case record.Opened:
		return "case " + b.Number + " opened: " + b.Title
	case record.Identity:
		return "object described: " + b.Title
	case record.Ownership:
		return "owner: " + b.Owner + after("; asks for: ", b.Wishes)
	case record.Custody:
		return record.WordsOf(record.CustodyActs, b.Act) + ", " + b.Place + after("; ", b.Condition)
	case record.Quarantine:
		return "quarantine: " + record.WordsOf(record.QuarantineStates, b.State) + "; " + record.WordsOf(record.Moistures, b.Moisture) + ", mould: " + record.WordsOf(record.MouldStates, b.Mould)
	case record.PartKept:
		return "kept: " + b.What + ", in " + b.Where
	case record.PartSettled:
		what := "a kept part"
		if p := partOf(c, b.Part); p != nil {
			what = p.Body.What
		}
		return what + ": " + record.WordsOf(record.PartOutcomes, b.Outcome)
	case record.Note:
		return record.WordsOf(record.Natures, b.Nature) + ", " + b.Place.String() + ": " + b.Text
	case record.Incident:
		return "incident, " + b.Place.String() + ": " + b.What
	case record.Photo:
		return "photograph, " + b.Place.String() + ", " + record.WordsOf(record.Stages, b.Stage) + after(": ", b.Caption)
	case record.PhotoColour:
		return "colour of photograph " + b.Photo.Short() + " set by " + colourBy(&b) + ", " + colourError(&b)
	case record.Stock:
		return "paper “" + b.Name + "”: " + record.WordsOf(record.StockClasses, b.Class) + ", " + fig(b.WidthMm) + " × " + fig(b.HeightMm) + " mm, " + fig(b.GrammageGM2) + " g/m², " + on(b.Sheets)
	case record.Reading:
		return tellReading(b)
	case record.MakeUp:
		return "make-up: " + plural(b.InnerSheets, "inner sheet", "inner sheets") + ", " + record.WordsOf(record.Covers, b.Cover)
	case record.SheetState:
		return record.SheetName(b.Sheet) + ": " + record.WordsOf(record.SheetConditions, b.State)
	case record.Staple:
		return "staple " + strconv.Itoa(b.Number) + " mapped, " + fig(b.FromHeadMm) + " mm from the head, rust: " + record.WordsOf(record.Rusts, b.Rust)
	case record.StapleMoved:
		return "staple " + strconv.Itoa(b.Number) + " " + record.WordsOf(record.StapleActs, b.Act)
	case record.Collation:
		order := "in order"
		if !b.InOrder {
			order = "not in order"
		}
		return "collated " + record.WordsOf(record.CollationTimes, b.When) + ": " + plural(b.SheetsCounted, "sheet", "sheets") + ", " + order
	case record.Damage:
		return b.Term + ", " + b.Place.String() + after(", ", extentOf(&b)) + ", " + b.Severity
	case record.FaceCompared:
		s := "pictures compared, " + b.Place.String()
		if b.PaperDE00 != nil {
			s += ", paper changed by " + fmt.Sprintf("%.1f", *b.PaperDE00) + " ΔE00"
		}
		return s
	case record.AreaOutlined:
		return tellArea(b)
	case record.AreaCompared:
		what := "an area"
		if c != nil {
			if a := c.Area(b.Area); a != nil {
				what = record.WordsOf(record.AreaLooks, a.Body.Look) + after(", ", a.Body.Name) + ", " + a.Body.Place.String()
			}
		}
		return what + ": changed by " + fmt.Sprintf("%.1f ± %.1f ΔE00, light evened", b.DE00Trend, b.DE00Uncertainty)
	case record.DamageAfter:
		what := "a damage"
		if d := damageOf(c, b.Damage); d != nil {
			what = d.Body.Term + ", " + on(d.Body.Place.Sheets)
		}
		return what + ": " + record.WordsOf(record.DamageOutcomes, b.Outcome)
	case record.SpotTest:
		return "test, " + orElse(b.Colour, record.WordsOf(record.TestSorts, b.Sort)) + " in " + record.WordsOf(record.TestLiquids, b.Liquid) + ": " + record.WordsOf(record.TestResults, b.Result) + after("; ", b.Change)
	case record.SpotReread:
		return "spot read again in " + record.WordsOf(record.Lights, b.Light) + ": " + record.WordsOf(record.TestResults, b.Result)
	}
	return tellWork(c, b)
}

// tellWork tells what is proposed, done and handed over.
func tellWork(c *record.Case, b record.Body) string {
	on := record.SheetNames
	switch b := b.(type) {
	case record.Proposal:
		return "proposal, version " + strconv.Itoa(b.Version) + ", " + plural(len(b.Options), "option", "options")
	case record.Consent:
		return record.WordsOf(record.ConsentAnswers, b.Answer) + " to version " + strconv.Itoa(b.Version) + after(", option ", b.Option) + ", by " + b.Who + ", " + record.WordsOf(record.ConsentWays, b.Way)
	case record.BathPlan:
		return "bath chosen for " + on(b.Sheets) + ": " + treatment.PlanWords(&b) + after(", because ", b.Reason)
	case record.RunStarted:
		s := b.OperationName + " of " + on(b.Sheets) + " started"
		if b.Bath != nil {
			s += " in " + fig(b.Bath.VolumeMl) + " mL of " + b.Bath.Liquid
		}
		for _, o := range b.Overrides {
			s += "; " + o.Gate + " passed: " + o.Reason
		}
		return s
	case record.RunEnded:
		s := runName(c, b.Run) + ": " + record.WordsOf(record.RunOutcomes, b.Outcome)
		if len(b.Sheets) > 0 {
			s += ", " + on(b.Sheets)
		}
		return s + after("; ", b.EndPoint) + after("; ", b.Seen) + after("; ", b.Reason)
	case record.AbsorbentChanged:
		s := "absorbents changed"
		if b.TakenUpG != nil {
			s += ", " + fig(*b.TakenUpG) + " g of water taken up"
		}
		return s
	case record.Mend:
		return "mend on " + b.Place.String() + ", " + record.WordsOf(record.MendStates, b.State) + ": " + b.Tissue + ", " + b.Adhesive
	case record.NextStep:
		if b.Done {
			return "settled, " + on(b.Sheets) + ": " + b.Text
		}
		return "next, " + on(b.Sheets) + ": " + b.Text + after(", because ", b.Reason)
	case record.ValueAdopted:
		return tellAdopted(b)
	case record.Waste:
		return "waste: " + b.What + ", to " + b.To
	case record.PaperIssued:
		return record.WordsOf(record.PaperSorts, b.Sort) + " given to " + b.To
	case record.Closed:
		return "case closed: " + record.WordsOf(record.CloseOutcomes, b.Outcome)
	case record.Reopened:
		return "case reopened: " + b.Reason
	}
	return tellStudio(b)
}

func tellArea(b record.AreaOutlined) string {
	s := "area outlined, " + record.WordsOf(record.AreaLooks, b.Look) + after(", ", b.Name) + ", " + b.Place.String()
	if b.AreaMm2 != nil {
		s += ", " + threeFigures(*b.AreaMm2) + " mm²"
	}
	return s + ", " + record.WordsOf(record.AreaSources, b.FoundBy)
}

func tellReading(b record.Reading) string {
	q := record.QuantityOf(b.Quantity)
	if q == nil {
		return "reading " + fig(b.Value)
	}
	s := q.Words + " " + fig(b.Value) + unitAfter(q.Unit)
	if b.Run == "" || len(b.Place.Sheets) > 0 {
		s += ", " + b.Place.String()
	}
	return s
}

func runName(c *record.Case, id string) string {
	if c != nil {
		if run := c.Run(id); run != nil {
			return run.Body.OperationName
		}
	}
	return "a run"
}

func partOf(c *record.Case, id string) *record.Part {
	if c == nil {
		return nil
	}
	return c.Part(id)
}

func damageOf(c *record.Case, id string) *record.FoundDamage {
	if c == nil {
		return nil
	}
	return c.DamageByID(id)
}

// after puts a word before s, unless s is empty.
func after(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

func orElse(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// operationChoices are all operations, as choices.
func operationChoices() []record.Choice {
	var list []record.Choice
	for _, o := range treatment.Operations {
		list = append(list, record.Choice{Value: o.Slug, Words: o.Name})
	}
	return list
}
