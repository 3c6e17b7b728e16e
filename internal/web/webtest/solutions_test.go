package webtest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/demo"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// Every screen of Solutions and Studio, filled by the demonstration and empty,
// on a tablet and on a phone.
func TestScreensOfSolutionsAndStudioAreClean(t *testing.T) {
	full, bare := newBench(t), newBench(t)
	if err := demo.Fill(context.Background(), full.store, time.Now()); err != nil {
		t.Fatal(err)
	}
	st, err := full.store.Studio(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	stock := full.bottle("lime water stock")
	plain := []string{
		"/solutions",
		"/solutions/bottles/new",
		"/solutions/mix",
		"/solutions/lime",
		"/solutions/rinse",
		"/solutions/match",
		"/solutions/carbonate",
		"/solutions/chelate",
		"/solutions/hydrogen",
		"/solutions/vapour",
		"/solutions/tray",
		"/solutions/strength",
		"/solutions/together?first=NaBH4&second=acetic+acid",
		"/studio",
		"/studio/details",
		"/studio/people",
		"/studio/waters",
		"/studio/glass",
		"/studio/instruments",
		"/studio/methods",
		"/studio/log",
	}
	for _, way := range []string{"stock", "conditioned", "solid", "bottle", "ethanol", "cellulose", "paste"} {
		plain = append(plain, "/solutions/mix?way="+way)
	}
	filled := append(
		[]string{
			"/solutions/bottles/" + stock,
			"/solutions/bottles/" + stock + "/correct",
			"/solutions/bottles/" + full.bottle("lime water 0.4 g/L"),
			"/solutions/mix?way=stock&water=" + st.Waters[0].ID,
			"/solutions/mix?way=stock&want=4+g%2FL&volume=1+L",
			"/solutions/mix?way=stock&want=4&volume=",
			"/studio/instruments/" + st.Instruments[0].ID,
			"/studio/waters?water=" + st.Waters[0].ID,
			"/studio/withdraw?entry=1",
		},
		plain...)
	for _, s := range []size{tablet, phone} {
		for _, x := range []struct {
			name  string
			b     *bench
			paths []string
		}{{"full", full, filled}, {"bare", bare, plain}} {
			p := x.b.open(s, "/")
			p.as("KM")
			for _, path := range x.paths {
				t.Run(s.name+" "+x.name+" "+path, func(t *testing.T) {
					q := *p
					q.t = t
					q.goTo(path)
					q.clean()
					q.shot(
						"solutions-" + x.name + strings.NewReplacer("/", "-", "?", "-", " ", "-", "=", "-", "&", "-", "%", "-", "+", "-").
							Replace(path),
					)
				})
			}
		}
	}
}

// 400 mL of lime water of 0.4 g/L from the saturated stock in hard tap water:
// recipe, pH and clouding as package solution works them out, and the way out
// that the page offers.
func TestMixLimeInHardWater(t *testing.T) {
	b := newBench(t)
	now := time.Now()
	alkalinity, hardness := 250.0, 205.0
	stock := record.NewID(now)
	b.write(
		record.StudioID,
		record.WaterSource{
			ID:            record.NewID(now),
			Name:          "tap",
			Source:        "tap",
			AlkalinityMgL: &alkalinity,
			HardnessMgL:   &hardness,
		},
		record.WaterSource{ID: record.NewID(now), Name: "de-ionised can", Source: "deionised"},
		record.Bottle{
			ID:        stock,
			Name:      "lime water stock",
			Substance: "calcium hydroxide",
			Form:      "saturated",
			Unit:      "g/L",
			VolumeMl:  5000,
			MadeAt:    now.Add(-time.Hour),
		},
	)
	p := b.open(tablet, "/")
	p.as("KM")
	p.goTo("/solutions")
	p.press("Mix something")
	p.click(`Array.from(document.querySelectorAll(".ways a")).find((a) => a.textContent.startsWith("Lime water"))`)
	p.settle()

	// The recipe follows the fields, and the address follows the recipe.
	p.fill("The stock stands at", "18")
	p.fill("How much", "400 mL")
	p.choose("Water", "Tap")
	p.until(
		"the recipe is in tap water",
		`document.querySelector(".pour").textContent.includes("Tap") && location.search.includes("volume=400")`,
	)

	want, err := solution.ParseWanted("0.4 g/L")
	if err != nil {
		t.Fatal(err)
	}
	recipe, err := solution.LimeFromStock{
		StockTemp: 18,
		StockName: "lime water stock",
		StockLeft: 5000,
		Want:      want,
		Volume:    400,
		Water:     solution.Water{Name: "tap", AlkalinityMgL: &alkalinity, HardnessMgL: &hardness},
		Seed:      1,
	}.Recipe()
	if err != nil {
		t.Fatal(err)
	}
	p.until(
		"the recipe is that of the engine",
		fmt.Sprintf(
			`Array.from(document.querySelectorAll(".pour .amount")).map((e) => e.textContent).join() === %q`,
			recipe.Lines[0].Amount+","+recipe.Lines[1].Amount,
		),
	)
	p.see(fmt.Sprintf("%.1f", recipe.Chemistry.PH.Best))
	p.see(words.English.Best(recipe.Chemistry.LimeLeft.Range, "") + " g/L")
	clouds := ""
	for _, x := range recipe.Warnings {
		if strings.Contains(x, "clouds") {
			clouds = x
		}
	}
	if clouds == "" {
		t.Fatalf("the engine does not say that it clouds: %q", recipe.Warnings)
	}
	p.see(clouds)
	p.axe()

	p.press("De-ionised can")
	p.until("the water is another", `document.querySelector(".pour").textContent.includes("De-ionised can")`)
	p.notSee("clouds it")
	p.press("It is made: put it on the shelf")
	p.see("The recipe that was followed")
	st, err := b.store.Studio(context.Background())
	if err != nil || len(st.Bottles) != 2 {
		t.Fatalf("the shelf holds %+v, %v", st.Bottles, err)
	}
	if x := st.Bottle(stock); x.LeftMl != 5000-st.Bottles[1].Body.From[0].Ml {
		t.Errorf("%g mL of stock are left", x.LeftMl)
	}
}

// What is typed while an answer is on its way stays, and so does the cursor.
func TestAnAnswerDoesNotTakeWhatIsTyped(t *testing.T) {
	b := newBench(t)
	p := b.open(tablet, "/solutions/mix?way=stock")
	p.run(
		`const old = fetch; window.fetch = async (...a) => { await new Promise((r) => setTimeout(r, 400)); return old(...a); }`,
	)
	p.fill("The stock stands at", "10")
	p.run(`const e = document.getElementById("mix-want"); e.focus(); e.value = "0.65 g/L"; e.setSelectionRange(2, 2);`)
	p.until(
		"the answer for 10 °C is there",
		`document.querySelector("svg.curve").getAttribute("aria-label").includes("10 °C")`,
	)
	if got := eval[string](p, `document.getElementById("mix-want").value + " " + document.activeElement.id + " " + document.activeElement.selectionStart`); got != "0.65 g/L mix-want 2" {
		t.Errorf("after the answer the field holds %q", got)
	}
}
