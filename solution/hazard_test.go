package solution

import (
	"slices"
	"strconv"
	"strings"
	"testing"
)

func TestHazardWording(t *testing.T) {
	h := HazardOf(Ingredient{Substance: find(t, "ethanol")})
	if h == nil || h.SignalWord != "Danger" ||
		h.Statements[0] != (Statement{"H225", "Highly flammable liquid and vapour."}) {
		t.Errorf("ethanol: got %+v", h)
	}
	if h := HazardOf(Ingredient{Substance: find(t, "calcium carbonate")}); h == nil || len(h.Classes) != 0 {
		t.Errorf("calcium carbonate: got %+v, want it known and not classified", h)
	}
	if h := HazardOf(Ingredient{Substance: find(t, "methyl cellulose")}); h != nil {
		t.Errorf("methyl cellulose: got %+v, want it unknown", h)
	}
}

// The limits of Regulation (EC) No 1272/2008: acetic acid, index 607-002-00-6 (Skin
// Corr. 1A from 90 %, 1B from 25 %, irritant from 10 %) and ICSC 0363 (flash point
// 39 °C); hydrogen peroxide, index 008-003-00-9 and a published classification of
// its solutions from 8 to 35 %; sodium hydroxide, index 011-002-00-6; Repr. 1B from
// 0.3 % (Annex I, table 3.7.2); ethanol by its published flash points.
func TestHazardByStrength(t *testing.T) {
	percent := func(name string, v float64) Ingredient { return Ingredient{find(t, name), Strength{v, PercentWW}} }
	pure := func(name string) Ingredient { return Ingredient{Substance: find(t, name)} }
	for _, row := range []struct {
		of     []Ingredient
		codes  string
		signs  string
		signal string
	}{
		{[]Ingredient{pure("acetic acid")}, "H226 H314", "GHS02 GHS05", "Danger"},
		{[]Ingredient{percent("acetic acid", 60)}, "H314", "GHS05", "Danger"},
		{[]Ingredient{percent("acetic acid", 24.9)}, "H315 H319", "GHS07", "Warning"},
		{[]Ingredient{percent("acetic acid", 5)}, "", "", ""},
		{[]Ingredient{pure("hydrogen peroxide 30 %")}, "H272 H302 H332 H318", "GHS03 GHS05 GHS07", "Danger"},
		{[]Ingredient{percent("hydrogen peroxide", 9)}, "H272 H318", "GHS03 GHS05", "Danger"},
		{[]Ingredient{percent("hydrogen peroxide", 6)}, "H319", "GHS07", "Warning"},
		{[]Ingredient{pure("hydrogen peroxide 3 %")}, "", "", ""},
		{[]Ingredient{pure("calcium oxide")}, "H315 H318 H335", "GHS05 GHS07", "Danger"},
		{[]Ingredient{pure("calcium hydroxide")}, "H315 H318 H335", "GHS05 GHS07", "Danger"},
		{[]Ingredient{percent("calcium hydroxide", 0.15)}, "H318", "GHS05", "Danger"},
		{[]Ingredient{percent("calcium hydroxide", 0.01)}, "", "", ""},
		{[]Ingredient{pure("sodium borohydride")}, "H260 H301 H311 H314 H360FD", "GHS02 GHS05 GHS06 GHS08", "Danger"},
		{[]Ingredient{percent("sodium borohydride", 0.5)}, "H360FD", "GHS08", "Danger"},
		{[]Ingredient{percent("sodium borohydride", 0.1)}, "", "", ""},
		{[]Ingredient{percent("borax", 1)}, "H360FD", "GHS08", "Danger"},
		{[]Ingredient{pure("sodium hydroxide")}, "H290 H314", "GHS05", "Danger"},
		{[]Ingredient{percent("sodium hydroxide", 3)}, "H290 H314", "GHS05", "Danger"},
		{[]Ingredient{percent("sodium hydroxide", 1)}, "H290 H315 H318", "GHS05", "Danger"},
		{[]Ingredient{pure("ammonia solution 25 %")}, "H314 H335 H400", "GHS05 GHS07 GHS09", "Danger"},
		{[]Ingredient{percent("ammonia", 2)}, "H315 H319", "GHS07", "Warning"},
		{[]Ingredient{percent("sodium hypochlorite", 6)}, "H314 H400 H411 EUH031", "GHS05 GHS09", "Danger"},
		{[]Ingredient{percent("hydrochloric acid", 12)}, "H290 H315 H319 H335", "GHS05 GHS07", "Warning"},
		{[]Ingredient{percent("ethanol", 62)}, "H225 H319", "GHS02 GHS07", "Danger"},
		{[]Ingredient{percent("ethanol", 20)}, "H226", "GHS02", "Warning"},
		// Two halves of a limit make a whole: Annex I, 3.3.3.3.
		{[]Ingredient{percent("acetic acid", 6), percent("citric acid", 6)}, "H319", "GHS07", "Warning"},
		{[]Ingredient{percent("sodium borohydride", 0.5), percent("ethanol", 99)}, "H225 H319 H360FD",
			"GHS02 GHS07 GHS08", "Danger"},
	} {
		h := HazardOf(row.of...)
		if h == nil {
			t.Errorf("%s: unknown", row.of[0].Substance.Name)
			continue
		}
		var codes []string
		for _, s := range h.Statements {
			codes = append(codes, s.Code)
		}
		want := strings.Fields(row.codes)
		slices.Sort(codes)
		slices.Sort(want)
		if !slices.Equal(codes, want) || strings.Join(h.Pictograms, " ") != row.signs || h.SignalWord != row.signal {
			t.Errorf("%s: got %v, %v, %q, want %s, %s, %q", h.Of, codes, h.Pictograms, h.SignalWord, row.codes, row.signs,
				row.signal)
		}
	}
}

// Sums by Annex I of Regulation (EC) No 1272/2008 at and just under the limits, made
// by hand: skin by 3.2.3.3, eyes by 3.3.3.3 (what burns skin counts for eyes), toxicity
// by 3.1.3.6.1, repeated exposure by table 3.9.4, reproduction by table 3.7.2 (boron
// compounds add up by note 11 of Annex VI), water by 4.1.3.5.5; specific limits of
// Annex VI go before. The comment beside a row is its sum.
func TestHazardSums(t *testing.T) {
	for _, row := range []struct {
		of    string
		codes string
	}{
		{"hydrochloric acid 9.9", "H290"},
		{"hydrochloric acid 24.9", "H290 H315 H319 H335"},
		{"hydrochloric acid 25", "H290 H314 H335"},
		{"acetic acid 9.9", ""},
		{"acetic acid 24; oxalic acid 2.9", "H315 H318"},             // eyes 24/25 + 2.9/3 = 1.93; skin 0.96
		{"sodium hydroxide 1.9", "H290 H315 H318"},                   // skin 1.9/2
		{"sodium hydroxide 2", "H290 H314"},                          // skin 2/2
		{"sodium hydroxide 1; ammonia 2.5", "H290 H314"},             // skin 1/2 + 2.5/5 = 1
		{"sodium hydroxide 0.4; ammonia 0.4", "H315 H318"},           // skin irritation 0.4/0.5 + 0.4/1 = 1.2
		{"ammonia 2.9", "H315 H319"},                                 // eyes 2.9/3
		{"ammonia 4.9", "H315 H318"},                                 // skin 4.9/5, eyes 4.9/3
		{"ammonia 5", "H314 H335"},                                   // 5/5
		{"hydrogen peroxide 4.9", ""},                                // eyes 4.9/5
		{"hydrogen peroxide 7.9", "H319"},                            // 7.9/8
		{"hydrogen peroxide 24.9", "H272 H318"},                      // toxicity 24.9/25
		{"hydrogen peroxide 50", "H272 H302 H314 H332 H335"},         // 50/50
		{"propan-2-ol 19.9", "H226 H319"},                            // 19.9/20
		{"propan-2-ol 30", "H225 H319 H336"},                         // 30/20
		{"acetone 19.9", "H225 H319"},                                // 19.9/20
		{"oxalic acid 0.9", ""},                                      // eyes 0.9/1
		{"oxalic acid 2.9", "H319"},                                  // 2.9/3
		{"oxalic acid 5", "H302 H312 H318"},                          // 5/5
		{"citric acid 6; oxalic acid 0.5", "H319"},                   // eyes 6/10 + 0.5/1 = 1.1
		{"citric acid 19.9", "H319"},                                 // airways 19.9/20
		{"sodium hypochlorite 0.9", "H412"},                          // water 0.9/0.25, eyes 0.9
		{"sodium hypochlorite 2.9", "H315 H319 H400 H411"},           // eyes 2.9/3, water 2.9/2.5
		{"sodium hypochlorite 5", "H314 H400 H411 EUH031"},           // 5/5
		{"calcium hypochlorite 0.9", "H319"},                         // eyes 0.9/0.5, skin 0.9
		{"calcium hypochlorite 3", "H315 H318 H400"},                 // eyes 3/3, water 3/2.5
		{"sodium borohydride 0.29", ""},                              // 0.29/0.3
		{"sodium borohydride 3", "H315 H318 H360FD"},                 // eyes 3/3
		{"sodium borohydride 5", "H302 H314 H360FD"},                 // skin and toxicity 5/5
		{"sodium borohydride 0.2; sodium tetraborate 0.2", "H360FD"}, // 0.4/0.3
		{"sodium dithionite 24.9", "EUH031"},                         // toxicity 24.9/25
		{"sodium dithionite 25", "H302 EUH031"},                      // 25/25
		{"iodine 1", "H373"},                                         // 1/1
		{"iodine 10", "H315 H319 H372"},                              // 10/10
		{"disodium EDTA 29", "H373"},                                 // toxicity 29/30, repeated 29/10
	} {
		var of []Ingredient
		for part := range strings.SplitSeq(row.of, "; ") {
			i := strings.LastIndex(part, " ")
			v, err := strconv.ParseFloat(part[i+1:], 64)
			if err != nil {
				t.Fatal(err)
			}
			of = append(of, Ingredient{find(t, part[:i]), Strength{v, PercentWW}})
		}
		var codes []string
		for _, s := range HazardOf(of...).Statements {
			codes = append(codes, s.Code)
		}
		want := strings.Fields(row.codes)
		slices.Sort(codes)
		slices.Sort(want)
		if !slices.Equal(codes, want) {
			t.Errorf("%s: got %v, want %v", row.of, codes, want)
		}
	}
}

// What is stronger is never on a label with less danger.
func TestHazardGrowsWithStrength(t *testing.T) {
	rank := map[string]int{"": 0, "Warning": 1, "Danger": 2}
	for _, s := range Substances() {
		last := 0
		for v := 0.001; v <= 100; v *= 1.3 {
			h := HazardOf(Ingredient{s, Strength{v, PercentWW}})
			if h == nil {
				break
			}
			if rank[h.SignalWord] < last {
				t.Errorf("%s: %q, milder than at a lower strength", h.Of, h.SignalWord)
			}
			last = rank[h.SignalWord]
		}
	}
}
