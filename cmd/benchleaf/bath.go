package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"benchleaf/internal/account"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/paper"
)

// bathCmd computes a sequence of baths on a sheet. docs/bath.md describes its
// file.
type bathCmd struct {
	File string `arg:"" help:"JSON file with sheet, steps and options, or - for standard input."`
}

// bathFile is the command's input. What is nil is not asked.
type bathFile struct {
	Sheet    paper.Sheet     `json:"sheet"`
	Steps    []bathStep      `json:"steps"`
	Options  paper.Options   `json:"options"`
	Reach    *reachQuestion  `json:"reach"`
	Serve    *serveQuestion  `json:"serve"`
	Rinses   *rinseQuestion  `json:"rinses"`
	Readings []paper.Reading `json:"readings"`
	Drying   *dryingQuestion `json:"drying"`
	Ageing   *ageingQuestion `json:"ageing"`
	// Washing asks what other ways to wash leave, Humidity how it is humidified.
	Washing  []paper.Wash     `json:"washing"`
	Humidity *chamberQuestion `json:"humidity"`
}

// chamberQuestion asks how the sheet takes up moisture in a chamber.
type chamberQuestion struct {
	paper.Chamber
	RoomPercent float64 `json:"room_percent"`
}

// reachQuestion asks for the least of a lever on one step (from 1) for a target.
type reachQuestion struct {
	Step  int         `json:"step"`
	Lever paper.Lever `json:"lever"`
	paper.Target
}

// serveQuestion asks how many sheets the trays serve one load after the other.
type serveQuestion struct {
	Sheets int          `json:"sheets"`
	Limits paper.Limits `json:"limits"`
}

// rinseQuestion compares fresh rinses with a cascade and with one filling, for loads
// of as many sheets as the first step takes together.
type rinseQuestion struct {
	Trays    int     `json:"trays"`
	Loads    int     `json:"loads"`
	VolumeMl float64 `json:"volume_ml"` // of a tray
}

// dryingQuestion asks how the sheet dries: in air, or between absorbents.
type dryingQuestion struct {
	paper.Air
	HumidityPercent interval.Range    `json:"humidity_percent"`
	OnSupport       bool              `json:"on_support"`
	Absorbents      *paper.Absorbents `json:"absorbents"`
	Weighings       []paper.Weighing  `json:"weighings"`
}

// ageingQuestion asks for the course in years before and after.
type ageingQuestion struct {
	PHBefore interval.Range `json:"ph_before"`
	paper.Climate
	HumidityPercent interval.Range `json:"humidity_percent"`
	DP              interval.Range `json:"dp"`
	Years           float64        `json:"years"`
	// AgeYears of the paper gives the life of its reserve; 0: it is not asked for.
	AgeYears float64 `json:"age_years"`
}

// bathAnswer is the command's output in JSON: the outcome, and what else was asked.
type bathAnswer struct {
	paper.Outcome
	Reach    *paper.Answer     `json:"reach,omitempty"`
	Serve    *paper.Served     `json:"serve,omitempty"`
	Rinses   []paper.Rinsed    `json:"rinses,omitempty"`
	Readings *paper.Verdict    `json:"readings,omitempty"`
	Drying   *paper.Drying     `json:"drying,omitempty"`
	Ageing   *paper.Ageing     `json:"ageing,omitempty"`
	Washing  []paper.Washed    `json:"washing,omitempty"`
	Humidity *paper.Humidified `json:"humidity,omitempty"`
	// ReserveLife is for how many years the reserve lasts, at least.
	ReserveLife *interval.Range `json:"reserve_life_years,omitempty"`

	// What the prose needs besides.
	ways      []paper.Wash
	years     float64
	bothFaces bool
}

// bathStep is one bath, its liquid given by substance and strength, by the
// alkalinity of a water, or as pure water.
type bathStep struct {
	Name      string             `json:"name"`
	Substance string             `json:"substance"`
	Strength  string             `json:"strength"`
	Within    float64            `json:"strength_within_percent"`
	Alkali    interval.Range     `json:"alkalinity_mmol_per_l"`
	Water     string             `json:"water"`
	VolumeMl  interval.Range     `json:"volume_ml"`
	Together  int                `json:"together"`
	Minutes   *paper.Minutes     `json:"minutes"`
	Motion    paper.Motion       `json:"motion"`
	Supported bool               `json:"supported"`
	Stack     int                `json:"stack"`
	Celsius   *paper.Celsius     `json:"temperature_c"`
	DepthMm   *paper.Millimetres `json:"depth_mm"`
	Dried     bool               `json:"dried_before"`
	Stood     *paper.Minutes     `json:"stood_minutes"`
}

// maxBathFile bounds what is read, bytes.
const maxBathFile = 1 << 20

// Run computes the file and writes the outcome.
func (c *bathCmd) Run(g *globals) error {
	f, err := g.input(c.File)
	if err != nil {
		return err
	}
	defer f.Close()
	name := c.File
	if name == "-" {
		name = "standard input"
	}
	in, err := readBathFile(f)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	var baths []paper.Bath
	for i, s := range in.Steps {
		b, err := s.bath()
		if err != nil {
			return fmt.Errorf("%s: step %d: %w", name, i+1, err)
		}
		baths = append(baths, b)
	}
	out, err := in.answer(baths)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if g.JSON {
		return g.writeJSON(out)
	}
	return writeBath(g.Stdout, out)
}

// answer computes the baths and all else that is asked.
func (in *bathFile) answer(baths []paper.Bath) (a bathAnswer, err error) {
	if a.Outcome, err = paper.Run(in.Sheet, baths, in.Options); err != nil {
		return a, err
	}
	if q := in.Reach; q != nil {
		x, err := paper.Reach(in.Sheet, baths, q.Step-1, q.Lever, q.Target, in.Options)
		if err != nil {
			return a, fmt.Errorf("reach: %w", err)
		}
		a.Reach = &x
	}
	if q := in.Serve; q != nil {
		x, err := paper.Serve(in.Sheet, baths, q.Sheets, q.Limits)
		if err != nil {
			return a, fmt.Errorf("serve: %w", err)
		}
		a.Serve = &x
	}
	if q := in.Rinses; q != nil {
		held := a.HeldMl.Best * float64(max(baths[0].Together, 1))
		a.Rinses, err = paper.Rinses(paper.Millilitres(held), paper.Millilitres(q.VolumeMl), q.Trays, q.Loads)
		if err != nil {
			return a, fmt.Errorf("rinses: %w", err)
		}
	}
	if len(in.Readings) > 0 {
		x, err := paper.CompareReadings(in.Sheet, baths, in.Options, in.Readings)
		if err != nil {
			return a, err
		}
		a.Readings = &x
	}
	if q := in.Drying; q != nil {
		x, err := in.dry(q)
		if err != nil {
			return a, fmt.Errorf("drying: %w", err)
		}
		a.Drying, a.bothFaces = &x, !q.OnSupport
	}
	for _, w := range in.Washing {
		x, err := paper.WashBy(in.Sheet, w, in.Options)
		if err != nil {
			return a, fmt.Errorf("washing: %w", err)
		}
		a.Washing, a.ways = append(a.Washing, x), append(a.ways, w)
	}
	if q := in.Humidity; q != nil {
		q.Room = paper.Humidity(q.RoomPercent / 100)
		x, err := paper.Humidify(in.Sheet, q.Chamber, in.Options)
		if err != nil {
			return a, fmt.Errorf("humidity: %w", err)
		}
		a.Humidity = &x
	}
	if q := in.Ageing; q != nil {
		q.Humidity = q.HumidityPercent.Scale(0.01)
		if q.AgeYears != 0 {
			var err error
			if a.ReserveLife, err = account.LifeOf(&a.Outcome, q.AgeYears, in.Options); err != nil {
				return a, fmt.Errorf("ageing: %w", err)
			}
		}
		x, err := paper.CompareAgeing(
			in.Sheet.Class, q.PHBefore, a.ExtractPH.Range, q.Climate, q.DP, q.Years, a.ReserveLife, in.Options,
		)
		if err != nil {
			return a, fmt.Errorf("ageing: %w", err)
		}
		a.Ageing, a.years = &x, q.Years
	}
	return a, nil
}

func (in *bathFile) dry(q *dryingQuestion) (paper.Drying, error) {
	q.Humidity = q.HumidityPercent.Scale(0.01)
	if q.Absorbents != nil {
		return paper.DryBetween(
			in.Sheet, *q.Absorbents, paper.Celsius(q.TemperatureC.Best), paper.Humidity(q.Humidity.Best),
			in.Options,
		)
	}
	return paper.DryInAir(in.Sheet, in.Options.EndsAs, q.Air, q.OnSupport, q.Weighings, in.Options)
}

func readBathFile(r io.Reader) (bathFile, error) {
	var in bathFile
	data, err := io.ReadAll(io.LimitReader(r, maxBathFile+1))
	if err != nil {
		return in, err
	}
	if len(data) > maxBathFile {
		return in, errors.New("the file is larger than 1 MB: a sequence of baths takes a few kB")
	}
	dec := json.NewDecoder(strings.NewReader(string(data)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&in); err != nil {
		return in, fmt.Errorf(
			"it is not the JSON that docs/bath.md describes: %s", strings.TrimPrefix(err.Error(), "json: "),
		)
	}
	if dec.More() {
		return in, errors.New("there is more after the end of the JSON")
	}
	return in, nil
}

// bath makes the step's liquid and bath.
func (s bathStep) bath() (paper.Bath, error) {
	b := paper.Bath{Name: s.Name, VolumeMl: s.VolumeMl, Together: s.Together, Minutes: s.Minutes,
		Motion: s.Motion, Supported: s.Supported, Stack: s.Stack, TemperatureC: s.Celsius,
		DepthMm: s.DepthMm, DriedBefore: s.Dried, StoodMinutes: s.Stood}
	switch {
	case s.Substance != "":
		if !(s.Within >= 0 && s.Within <= 90) {
			return b, fmt.Errorf("the strength's uncertainty must lie between 0 and 90 %%, not at %g %%", s.Within)
		}
		l, err := treatment.SolutionOf(s.Substance, s.Strength, s.Within)
		b.Liquid = l
		return b, err
	case s.Strength != "":
		return b, fmt.Errorf("the strength %q needs a substance", s.Strength)
	}
	b.Liquid = paper.Liquid{Name: s.Water, AlkaliMmolPerL: s.Alkali, Base: paper.Calcium, Anion: paper.Bicarbonate}
	if b.Liquid.Name == "" {
		b.Liquid.Name = "water"
	}
	if s.Alkali.IsZero() {
		b.Liquid.Base, b.Liquid.Anion = paper.NoBase, ""
	}
	return b, nil
}

// writeBath writes the outcome for a person.
func writeBath(w io.Writer, out bathAnswer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", out.Limit)
	facts(&b, account.OutcomeFacts(&out.Outcome))
	fmt.Fprintf(&b, "(ranges 10 to 90 %%) %s\n\n", out.Dominant)

	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(
		t,
		"bath\talkali, mmol\tspent\tto acid\tleft, mmol/L\tpH of bath\tof sheet\treserve, % CaCO₃\tacid left, "+
			"mmol/kg\tsheets to half\t",
	)
	for i, s := range out.Steps {
		half := "-"
		if s.SheetsToHalf > 0 {
			half = fmt.Sprint(s.SheetsToHalf)
		}
		fmt.Fprintf(
			t, "%d %s\t%s\t%.0f %%\t%.0f %%\t%s\t%.1f to %.1f\t%.1f\t%s\t%s\t%s\t\n", i+1, s.Name,
			s.TrayMmol.BestText(), 100*s.SpentShare.Best, 100*s.AcidShare.Best, s.AlkaliAfterMmolPerL.BestText(),
			s.BathPHBefore.Best, s.BathPH.Best, s.SheetPH.Best, s.ReservePercentChalk.BestText(),
			s.AcidLeftMmolPerKg.BestText(), half,
		)
	}
	t.Flush()
	b.WriteByte('\n')
	if err := writeCourse(&b, out.Steps); err != nil {
		return err
	}
	for _, r := range out.Conclusions {
		fmt.Fprintln(&b, r.Text)
	}
	out.writeMore(&b)
	var warnings []string
	for _, r := range out.Warnings {
		warnings = append(warnings, r.Text)
	}
	list(&b, "Note", warnings)
	list(&b, "Taken from the class, not measured", out.Assumed)
	list(&b, "Rests on", out.RestsOn)
	return prose(w, b.String())
}

// writeCourse writes each bath with time.
func writeCourse(w io.Writer, steps []paper.StepOutcome) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	any := false
	for i, s := range steps {
		for j, m := range s.Course {
			if !any {
				fmt.Fprintln(t, "bath\tminutes\tpH of bath\tof sheet\tacid left, mmol/kg\treserve, % CaCO₃\t")
				any = true
			}
			name := ""
			if j == 0 {
				name = fmt.Sprintf("%d %s", i+1, s.Name)
			}
			fmt.Fprintf(
				t, "%s\t%s\t%.1f\t%.1f\t%s\t%s\t\n", name, interval.Digits(float64(m.Minutes), float64(m.Minutes)),
				m.BathPH.Best, m.SheetPH.Best, m.AcidLeftMmolPerKg.BestText(), m.ReservePercentChalk.BestText(),
			)
		}
	}
	if any {
		fmt.Fprintln(t)
	}
	return t.Flush()
}

// writeMore writes what else was asked.
func (a *bathAnswer) writeMore(w *strings.Builder) {
	if x := a.Reach; x != nil {
		fmt.Fprintf(w, "\n%s\n", x.Sentence)
		list(w, "What would reach it", x.Instead)
	}
	if x := a.Serve; x != nil {
		fmt.Fprintf(w, "\n%s %.1f L filled in, %.0f min in all.\n", x.Limit, x.WaterMl/1000, float64(x.Minutes))
	}
	for _, x := range a.Rinses {
		fmt.Fprintf(
			w, "\nRinses, %s: the last load keeps %.2g of what it held, with %.1f L of water.", x.Scheme,
			x.Left[len(x.Left)-1], x.WaterMl/1000,
		)
	}
	if len(a.Rinses) > 0 {
		w.WriteByte('\n')
	}
	if x := a.Readings; x != nil {
		fmt.Fprintf(w, "\n%s\n", x.Sentence)
		for _, r := range x.Readings {
			fmt.Fprintln(w, r.Sentence)
		}
		for _, f := range x.Fits {
			fmt.Fprintln(w, f.Sentence)
		}
	}
	if x := a.Drying; x != nil {
		w.WriteByte('\n')
		facts(w, account.DryingFacts(x, a.bothFaces))
		if len(x.ChangesMin) > 0 {
			var at []string
			for _, c := range x.ChangesMin {
				at = append(at, roughly(c))
			}
			fmt.Fprintf(w, "Change the absorbents after %s min.\n", strings.Join(at, ", "))
		}
		list(w, "Of drying", x.Warnings)
		taken(w, x.Taken)
	}
	for i, x := range a.Washing {
		fmt.Fprintf(w, "\nWashed %s:\n", account.WashName(a.ways[i].Way))
		facts(w, account.WashedFacts(&x))
		taken(w, x.Taken)
	}
	if x := a.Humidity; x != nil {
		w.WriteByte('\n')
		facts(w, account.HumidityFacts(x))
		list(w, "Of humidifying", x.Warnings)
		taken(w, x.Taken)
	}
	if x := a.Ageing; x != nil {
		y := account.AgeingOf(*x, a.ReserveLife, a.years)
		fmt.Fprintf(w, "\n%s\n", words.Joined(" ", y.Limit, y.Headline))
		facts(w, y.Figures)
		list(w, "Where it holds", y.Domain)
	}
}

// taken lists what was taken without a measurement, each with its basis.
func taken(w *strings.Builder, values []paper.Taken) {
	var lines []string
	for _, f := range account.TakenFacts(values) {
		lines = append(lines, f.Name+": "+f.Value(words.English)+", "+f.RestsOn)
	}
	list(w, "Taken, not measured", lines)
}

// roughly writes a time that is known to a factor.
func roughly(minutes float64) string { return words.English.About(minutes) }
