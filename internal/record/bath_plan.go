package record

import "slices"

// BathPlan is the bath that was chosen for some sheets after computing what it
// will do: its strength, its time, how many of them, and what is expected of
// them. For each sheet the last plan counts. It promises nothing and starts
// nothing; a run of its operation starts from it.
type BathPlan struct {
	Sheets []int `json:"sheets" say:"the sheets"`
	// Operation is a slug of package treatment's table.
	Operation string `json:"operation" say:"the operation"`
	// Liquid, Substance and StrengthGL are as in Bath.
	Liquid     string   `json:"liquid" say:"the liquid"`
	Substance  string   `json:"substance,omitempty" say:"the substance"`
	StrengthGL *Range   `json:"strength_g_l,omitempty" form:"strength" say:"the strength" in:"0..500 g/L"`
	CalciumMgL *float64 `json:"calcium_mg_l,omitempty" say:"the calcium" in:"0..2000 mg/L"`
	VolumeMl   float64  `json:"volume_ml" say:"the volume" in:"1..1e6 mL"`
	// Together is how many sheets are in it at once, Minutes how long, Baths how many
	// such baths follow each other; DriedBetween says that the sheets dry before
	// each next one.
	Together     int      `json:"together" say:"the number of sheets together" in:"1..1000 sheets"`
	Minutes      float64  `json:"minutes" say:"the time" in:"0.1..43200 min"`
	Baths        int      `json:"baths" say:"the number of baths" in:"1..12 baths"`
	DriedBetween bool     `json:"dried_between,omitempty" say:"dried between"`
	TempC        *float64 `json:"temp_c,omitempty" say:"the temperature" in:"0..50 °C"`
	// What is expected of a sheet once it is dry.
	ReservePct     *Range `json:"reserve_percent_caco3,omitempty" form:"reserve" say:"the reserve" in:"0..50 % CaCO₃"`
	AcidLeftMmolKg *Range `json:"acid_left_mmol_kg,omitempty" form:"acid_left" say:"the acid left" in:"0..2000 mmol/kg"`
	ExtractPH      *Range `json:"extract_ph,omitempty" say:"the extract pH" in:"0..14"`
	// RestsOn says what was measured and what was taken from the class of paper.
	RestsOn string `json:"rests_on" say:"what the expectation rests on" as:"text"`
	Reason  string `json:"reason,omitempty" say:"the reason" as:"text"`
}

func (BathPlan) Kind() Kind { return "bath-plan" }

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
