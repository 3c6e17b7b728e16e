package webtest

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/paper"
)

// sheetCase is a case with one described paper on sheets 1 to 3.
func (b *bench) sheetCase() *record.Case {
	b.t.Helper()
	id := record.NewCaseID(time.Now())
	b.write(
		id,
		record.Opened{Number: "2026-077", Title: "The Windlass Monthly"},
		record.MakeUp{InnerSheets: 3, Cover: "separate", Binding: "loose", FirstPage: 1},
		record.Stock{
			ID:            record.NewID(time.Now()),
			Name:          "interior",
			Class:         "groundwood",
			Sheets:        []int{1, 2, 3},
			WidthMm:       340,
			HeightMm:      262,
			GrammageGM2:   50,
			GrammageBasis: "measured",
			Grain:         "unknown",
		},
	)
	return b.theCase(id)
}

// drag moves a slider as a hand does, through some values on the way to one.
func (p *tab) drag(name string, values ...string) {
	p.t.Helper()
	for _, v := range values {
		p.run(`const e = document.querySelector("[data-slide='` + name + `'] input[type=range]");
			e.value = ` + quote(v) + `;
			e.dispatchEvent(new Event("input", {bubbles: true}))`)
	}
	p.run(
		`document.querySelector("[data-slide='` + name + `'] input[type=range]").dispatchEvent(new Event("change", {bubbles: true}))`,
	)
}

// rested waits until the answer with all samples is there for what stands in the
// form.
func (p *tab) rested() {
	p.t.Helper()
	p.until("the hand has rested", `document.querySelector("#sheet-answer").dataset.samples === "full"`)
}

func (p *tab) figure(key, part string) string {
	p.t.Helper()
	return eval[string](p, `(document.querySelector("[data-figure='`+key+`'] .`+part+`")?.textContent ?? "").trim()`)
}

// One drags strength and time, and sees what the engine says of the same.
func TestDraggingABathShowsWhatTheEngineSays(t *testing.T) {
	b := newBench(t)
	c := b.sheetCase()
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/cases/"+string(c.ID)+"/sheets/1")
		before := p.figure("reserve", "value")
		p.drag("minutes", "15", "8", "5")
		p.drag("strength", "0.5", "0.7", "0.9")
		// While the hand moves it follows, with fewer samples.
		p.until(
			"the figure has moved",
			`document.querySelector("[data-figure=reserve] .value").textContent.trim() !== `+quote(before),
		)
		p.rested()
		trial := treatment.Trial{
			Kind:     treatment.WaterKindOf("lime"),
			Strength: 0.9,
			VolumeMl: 1000,
			Together: 1,
			Minutes:  5,
			Baths:    1,
			TempC:    20,
		}
		out := b.computed(c, trial)
		last := out.Steps[0]
		for _, x := range []struct{ key, part, want string }{
			{"reserve", "value", words.English.Best(out.ReservePercentChalk.Range, "") + " % CaCO₃"},
			{"reserve", "range", words.English.Span(out.ReservePercentChalk.Range)},
			{"acid", "value", words.English.Best(out.AcidLeftMmolPerKg.Range, "") + " mmol/kg"},
			{"sheet-ph", "value", fmt.Sprintf("%.1f", out.ExtractPH.Best)},
			{"bath-ph", "value", fmt.Sprintf("%.1f", last.BathPH.Best)},
			{"spent", "value", fmt.Sprintf("%d such sheets", last.SheetsToHalf)},
		} {
			if got := p.figure(x.key, x.part); got != x.want {
				t.Errorf("%s: %s %s is %q; the engine says %q", s.name, x.key, x.part, got, x.want)
			}
		}
		if got := eval[string](p, `document.querySelector("[name=strength]").value + " " + new URLSearchParams(location.search).get("strength")`); got != "0.9 0.9" {
			t.Errorf("%s: the number and the address have %q, not 0.9", s.name, got)
		}
		if n := eval[float64](p, `document.querySelectorAll("#sheet-answer path.band").length`); n < 4 {
			t.Errorf("%s: %v bands; want one for each line", s.name, n)
		}
		p.screen("sheet-dragged")
		p.clean()
	}
}

// computed is what the engine says of a trial on sheet 1.
func (b *bench) computed(c *record.Case, trial treatment.Trial) paper.Outcome {
	b.t.Helper()
	s, ok := treatment.TakenSheetOf(c, 1)
	if !ok {
		b.t.Fatal("the paper is not described")
	}
	out, err := paper.Run(s.Sheet, trial.After(nil, false, trial.Baths), paper.Options{Samples: 500, Seed: 1})
	if err != nil {
		b.t.Fatal(err)
	}
	return out
}

// Keys do what the hand does; a number may be typed; another kind brings its own
// unit and span; what cannot be is told at the field, and goes away again.
func TestABathByKeysAndItsRefusals(t *testing.T) {
	b := newBench(t)
	c := b.sheetCase()
	p := b.open(tablet, "/cases/"+string(c.ID)+"/sheets/1")
	p.run(`document.querySelector("[data-slide='strength'] input[type=range]").focus()`)
	p.key(kb.ArrowRight)
	p.until("the number follows the slider", `document.querySelector("[name=strength]").value === "0.41"`)
	p.fill("Volume", "0")
	p.see("A bath of 0 mL has no liquid")
	p.see("What stands below is of the bath before.")
	p.axe()
	p.shot("sheet-refused")
	p.fill("Volume", "800")
	p.until("the sentence is gone", `!document.querySelector("#trial .refusal")`)
	p.choose("Kind of bath", "Magnesium bicarbonate")
	p.rested()
	trial := treatment.Trial{
		Kind:     treatment.WaterKindOf("magnesium-bicarbonate"),
		Strength: 20,
		VolumeMl: 800,
		Together: 1,
		Minutes:  20,
		Baths:    1,
		TempC:    20,
	}
	p.until(
		"it is computed",
		`document.querySelector("[data-figure=reserve] .value").textContent.includes(`+quote(
			words.English.Best(b.computed(c, trial).ReservePercentChalk.Range, ""),
		)+`)`,
	)
	if got := eval[string](p, `document.querySelector("[data-slide='strength'] .unit").textContent`); got != "mmol/L" {
		t.Errorf("the strength is in %q", got)
	}
	p.choose("Kind of bath", "Pure water")
	p.until("pure water has no strength", `document.querySelector("[data-slide='strength']").hidden`)
}

// What was dragged to is what is chosen, though the page was made with another, and
// the bench begins with it.
func TestTheDraggedBathIsChosenForTheBench(t *testing.T) {
	b := newBench(t)
	c := b.sheetCase()
	p := b.open(phone, "/")
	p.as("KM")
	p.goTo("/cases/" + string(c.ID) + "/sheets/1")
	p.drag("strength", "0.2")
	p.drag("baths", "2")
	p.rested()
	p.fill("Why this one", "milder")
	p.press("Choose it for the plan")
	p.see("Chosen for sheet 1")
	plan := b.theCase(c.ID).PlanOf(1, "lime")
	if plan == nil || plan.Body.StrengthGL.Best != 0.2 || plan.Body.Baths != 2 || plan.Body.Reason != "milder" {
		t.Fatalf("%+v", plan)
	}
	p.press("Start it")
	p.see("Begins with the bath that was chosen")
	if got := eval[string](p, `document.querySelector("#run-liquid").value`); !strings.Contains(
		got,
		"calcium hydroxide in water, 0.2 g/L",
	) {
		t.Errorf("the run begins with %q", got)
	}
	p.shot("sheet-run-start")
}

// The tabs go on with the bath that was tried.
func TestTabsOfASheetGoOnWithTheBath(t *testing.T) {
	b := newBench(t)
	c := b.sheetCase()
	p := b.open(tablet, "/cases/"+string(c.ID)+"/sheets/1")
	p.drag("strength", "0.6")
	p.rested()
	p.press("Tray")
	p.see("calcium hydroxide in water, 0.6 g/L")
	p.press("Drying and mending")
	p.choose("It dries", "between absorbents")
	p.see("Change the absorbents")
	p.press("Ageing")
	p.see("not a promise")
}
