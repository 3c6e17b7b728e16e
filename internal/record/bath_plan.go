package record

import "slices"

// BathPlan is the bath that was chosen for some sheets after reckoning what it
// will do: its strength, its time, how many of them, and what is expected of
// them. For each sheet the last plan counts. It promises nothing and starts
// nothing; a run of its operation starts from it.
type BathPlan struct {
	Sheets []int `json:"sheets"`
	// Operation is a slug of package treatment's table.
	Operation string `json:"operation"`
	// Liquid, Substance and StrengthGL are as in Bath.
	Liquid     string   `json:"liquid"`
	Substance  string   `json:"substance,omitempty"`
	StrengthGL *Range   `json:"strength_g_l,omitempty"`
	CalciumMgL *float64 `json:"calcium_mg_l,omitempty"`
	VolumeMl   float64  `json:"volume_ml"`
	// Together is how many sheets are in it at once, Minutes how long, Baths how many
	// such baths follow each other; DriedBetween says that the sheets dry before
	// each next one.
	Together     int      `json:"together"`
	Minutes      float64  `json:"minutes"`
	Baths        int      `json:"baths"`
	DriedBetween bool     `json:"dried_between,omitempty"`
	TempC        *float64 `json:"temp_c,omitempty"`
	// What is expected of a sheet once it is dry.
	ReservePct     *Range `json:"reserve_percent_caco3,omitempty"`
	AcidLeftMmolKg *Range `json:"acid_left_mmol_kg,omitempty"`
	ExtractPH      *Range `json:"extract_ph,omitempty"`
	// RestsOn says what was measured and what was taken from the class of paper.
	RestsOn string `json:"rests_on"`
	Reason  string `json:"reason,omitempty"`
}

func (BathPlan) Kind() Kind { return "bath-plan" }

func (b BathPlan) Validate() error {
	var k check
	k.needSheets("sheets", b.Sheets)
	k.line("operation", "the operation", b.Operation)
	k.line("liquid", "the liquid", b.Liquid)
	k.maybeLine("substance", "the substance", b.Substance)
	k.maybeRange("strength", "the strength", b.StrengthGL, 0, 500, "g/L")
	k.maybe("calcium_mg_l", "the calcium", b.CalciumMgL, 0, 2000, "mg/L")
	k.number("volume_ml", "the volume", b.VolumeMl, 1, 1e6, "mL")
	k.number("together", "the number of sheets together", float64(b.Together), 1, 1000, "sheets")
	k.number("minutes", "the time", b.Minutes, 0.1, 60*24*30, "min")
	k.number("baths", "the number of baths", float64(b.Baths), 1, 12, "baths")
	k.maybe("temp_c", "the temperature", b.TempC, 0, 50, "°C")
	k.maybeRange("reserve", "the reserve", b.ReservePct, 0, 50, "% CaCO₃")
	k.maybeRange("acid_left", "the acid left", b.AcidLeftMmolKg, 0, 2000, "mmol/kg")
	k.maybeRange("extract_ph", "the extract pH", b.ExtractPH, 0, 14, "")
	k.needText("rests_on", "what the expectation rests on", b.RestsOn)
	k.text("reason", "the reason", b.Reason)
	return k.err()
}

func (b BathPlan) apply(c *Case, s Stamp) error {
	c.BathPlans = append(c.BathPlans, Stamped[BathPlan]{s, b})
	return c.haveSheets(b.Sheets)
}

// PlanOf is the bath last chosen for a sheet, of one operation or, with "", of
// any; nil when none was.
func (c *Case) PlanOf(sheet int, operation string) *Stamped[BathPlan] {
	for i := len(c.BathPlans) - 1; i >= 0; i-- {
		p := &c.BathPlans[i]
		if (operation == "" || p.Body.Operation == operation) && slices.Contains(c.sheetsOf(p.Body.Sheets), sheet) {
			return p
		}
	}
	return nil
}
