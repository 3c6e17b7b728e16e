package web

import (
	"fmt"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

// choiceLists are the closed lists of the record, by the name that templates
// call them: {{pick .Form "stage" "Stage" (choices "stages")}}.
var choiceLists = map[string][]record.Choice{
	"activities": record.Activities, "area-looks": record.AreaLooks, "area-sources": record.AreaSources,
	"bindings": record.Bindings, "colour-methods": record.ColourMethods,
	"bases": record.Bases, "bottle-forms": record.BottleForms,
	"cause-bases": record.CauseBases, "classes": record.StockClasses, "clinches": record.Clinches,
	"close-outcomes":  record.CloseOutcomes,
	"collation-times": record.CollationTimes, "consent-answers": record.ConsentAnswers,
	"consent-ways": record.ConsentWays,
	"covers":       record.Covers, "custody-acts": record.CustodyActs, "damage-outcomes": record.DamageOutcomes,
	"faces": record.Faces, "found-stages": record.FoundStages,
	"grains": record.Grains, "instrument-sorts": record.InstrumentSorts, "leaves": record.Leaves,
	"lights":      record.Lights,
	"mend-states": record.MendStates, "moistures": record.Wetnesses, "mould": record.MouldStates,
	"natures":     record.Natures,
	"paper-sizes": record.PaperSizes, "paper-sorts": record.PaperSorts, "part-outcomes": record.PartOutcomes,
	"part-sorts": record.PartSorts,
	"quarantine": record.QuarantineStates, "run-outcomes": record.RunOutcomes, "rusts": record.Rusts,
	"severities":       record.Severities,
	"photo-activities": record.PhotoActivities, "safety-sorts": record.SafetySorts, "supply-sorts": record.SupplySorts,
	"stages": record.Stages, "staple-acts": record.StapleActs,
	"strength-units": record.StrengthUnits,
	"test-liquids":   record.TestLiquids, "test-results": record.TestResults, "test-sorts": record.TestSorts,
	"trial-verdicts": record.TrialVerdicts, "aim-verdicts": record.AimVerdicts, "after-runs": record.AfterRuns,
	"waters":    record.WaterSources,
	"wetnesses": record.Wetnesses, "terms": damageTerms(),
}

func choicesOf(name string) ([]record.Choice, error) {
	list, ok := choiceLists[name]
	if !ok {
		return nil, fmt.Errorf("there is no list of choices %q", name)
	}
	return list, nil
}

// damageTerms are the kinds of damage of package condition.
func damageTerms() []record.Choice {
	var list []record.Choice
	for _, k := range condition.Kinds() {
		list = append(list, record.Choice{Value: string(k.Term), Words: string(k.Term)})
	}
	return list
}

// mouldCaution stands where an object is looked at for mould.
func mouldCaution() Caution {
	return Caution{Title: "Mould", Points: []string{
		"Respirator by local rule, gloves, goggles; no brushing while it is active.",
		"People with asthma, allergy or weak defence stay away.",
		"Bag and label what was wiped; wash hands.",
	}}
}

// emptyMakeUp stands where sheets are needed and none are known.
func emptyMakeUp(id record.CaseID) Empty {
	return Empty{
		Title: "The sheets are not counted yet", Text: "Enter the number of inner sheets and the cover first.",
		Act: "Go to Make-up", Href: casePath(id, "make-up"), Quiet: true,
	}
}

// bladeCaution stands where wire and blades are handled.
func bladeCaution() Caution {
	return Caution{Title: "Wire and blades", Points: []string{
		"Wire ends and blades cut: away from the hand, sharps box.",
		"Old rust in a wound: ask a doctor about tetanus.",
	}}
}

func yesNo() []record.Choice {
	return []record.Choice{{Value: "yes", Words: "yes"}, {Value: "no", Words: "no"}}
}

// uvCaution stands where spots are read and reagents used.
func uvCaution() Caution {
	return Caution{Title: "Reagents and ultraviolet", Points: []string{
		"Acid, iodine and ninhydrin are used in drops only: they burn and stain.",
		"Shield eyes and skin from ultraviolet; keep the object under it briefly.",
		"A tested spot can leave its own tide line: smallest drop, blotted at once.",
	}}
}
