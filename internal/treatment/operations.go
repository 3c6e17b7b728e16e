// Package treatment holds the operations that a bench performs, the order
// they keep, the gates that must hold before one may start, and the way from a
// case to a plan and to the next step.
//
// An operation is a kind of act; a run, in package record, is one performed. A
// gate is a condition that must hold before an operation may start. A gate that
// does not hold can be passed with a reason, which the report shows: practice
// here is data with its basis, not law.
package treatment

import (
	"slices"
	"strings"

	"benchleaf/internal/record"
)

// Operation is one kind of act on the sheets.
type Operation struct {
	Slug, Name string
	// Purpose says what it is for; Usual what benches usually do, with Basis.
	// Neither is an instruction: the object and its tests decide.
	Purpose, Usual, Basis string
	// WhyNot says what one might look for here, and why it is not done or calculated.
	WhyNot string
	// Rank is its place in the order that benches keep.
	Rank int
	// Bath says that a liquid in a container is part of it; Substances are
	// those that its liquid is usually made with.
	Bath       bool
	Substances []string
	// Makes is the wetness of the sheets while it lasts, Leaves after it.
	Makes, Leaves record.Wetness
	// Drying says that absorbents are changed on the way.
	Drying bool
	// ThenAtOnce names the operation that must follow without delay.
	ThenAtOnce string
	Cautions   []Caution
	gates      []gate
}

// Sign is the kind of a hazard.
type Sign string

const (
	SignAlkali   Sign = "lime"
	SignHydrogen Sign = "hydrogen"
	SignSolvent  Sign = "solvent"
	SignMould    Sign = "mould"
	SignBlade    Sign = "blade"
	SignDust     Sign = "dust"
	SignPress    Sign = "press"
	SignOxidiser Sign = "oxidiser"
)

// Caution is a hazard at the step where it matters.
type Caution struct {
	Sign   Sign
	Points []string // whole sentences
	// Defers says that local rules and the supplier's sheet decide, and not these.
	Defers bool
}

// Text is the caution as one text, as the record keeps it.
func (c Caution) Text() string {
	points := c.Points
	if c.Defers {
		points = append(slices.Clip(points), "Local rules and the supplier's safety data sheet decide.")
	}
	return strings.Join(points, " ")
}

// The usual cautions: common practice after suppliers' sheets (from memory),
// as docs/sources.md says.
var (
	cautionLime = Caution{SignAlkali, []string{
		"Lime water is caustic: goggles and gloves.", "Add lime to water, never water to lime; it heats.",
		"Neutralise before it goes down a drain, where that is allowed.",
	}, true}
	cautionAlkali = Caution{SignAlkali, []string{"Alkaline bath: goggles and gloves; watch for colours that shift."},
		true}
	cautionHydride = Caution{SignHydrogen, []string{
		"Borohydride gives off hydrogen with water, faster with acid: open tray, no lid, never a closed bottle, no " +
			"flame or spark, fan or hood on.",
		"It is toxic and corrosive and ends as borate: goggles, nitrile gloves; powder into alkaline water, " +
			"never water onto powder.",
		"Keep acid, oxidants and metal away.",
	}, true}
	cautionHydrideStop = Caution{SignHydrogen, []string{
		"Take the sheet out and rinse at once when it blisters or bubbles form in it, when a colour shifts, when " +
			"fibres lift or foam stands, or when the pH falls under 9.",
	}, false}
	cautionSpentHydride = Caution{SignHydrogen, []string{
		"Spent bath: leave it open in moving air until the gas has ended, then to waste by local rules.",
	}, false}
	cautionSolvent = Caution{SignSolvent, []string{
		"Ethanol and other solvents burn: small amounts, no spark or flame, exhaust on.",
		"Soaked blotters are a fire load.", "Waste into the solvent can.",
	}, true}
	cautionMould = Caution{SignMould, []string{
		"Mould: respirator by local rule, gloves, goggles; HEPA vacuum through a screen, no brushing while it is " +
			"active.",
		"People with asthma, allergy or weak defence stay away.",
	}, true}
	cautionDust  = Caution{SignDust, []string{"Dust and eraser crumbs: mask or local exhaust; wash hands."}, false}
	cautionBlade = Caution{SignBlade, []string{
		"Blades, spatulas and wire ends cut: away from the hand, sharps box; old rust in a wound needs a doctor's " +
			"word on tetanus.",
	}, false}
	cautionPress = Caution{SignPress, []string{
		"Presses crush and hot tools burn: keep fingers and cords clear.",
	}, false}
	cautionPeroxide = Caution{SignOxidiser, []string{
		"Hydrogen peroxide oxidises: goggles, gloves, vented bottle, never together with borohydride, solvents or " +
			"metal.",
	}, true}
)

const common = "common practice, no source"

// RigidGels says why rigid gels are not calculated.
const RigidGels = "Rigid gels (gellan, agar) are not calculated: what they release depends on make, strength, " +
	"weight and thickness, and no figures are held here that carry over. Weigh the gel before and after; residues " +
	"of gel can stay on the paper (Heritage Science, February 2024, abstract read)."

// peroxideOnGroundwood says why peroxide does not belong on groundwood.
const peroxideOnGroundwood = "Out of place on groundwood: it bleaches lignin only for a time, since that darkens " +
	"again in light, makes new acid groups, and iron or copper specks set it off; all oxidants have damaged " +
	"cellulose at times. So no bath of it is calculated (common practice; notes on practice, section 5)."

// Operations in the order that benches keep (common practice, no source).
var Operations = []*Operation{
	{Slug: "surface-clean", Name: "surface cleaning", Rank: 10, Purpose: "takes off loose soil that water would set",
		Usual: "soft brush, rubber sponge, eraser crumbs; from the centre out; all crumbs removed", Basis: common,
		Makes: record.Dry, Leaves: record.Dry, Cautions: []Caution{cautionDust, cautionMould},
		gates: []gate{gateMouldInactive}},
	{Slug: "staples-out", Name: "staples out", Rank: 20, Purpose: "frees the sheets and keeps rust out of the water",
		Usual: "legs bent up with a flat spatula over thin card, pushed back through, kept numbered", Basis: common,
		Makes: record.Dry, Leaves: record.Dry, Cautions: []Caution{cautionBlade},
		gates: []gate{gateConsent, gateStaplesMapped, gateArrivalPhotos}},
	{Slug: "take-apart", Name: "taking the sheets apart", Rank: 25, Purpose: "lets each sheet get its own treatment",
		Usual: "from the outside in, each sheet numbered in pencil on its support, counted", Basis: common,
		Makes: record.Dry, Leaves: record.Dry, gates: []gate{gateConsent, gateMakeUp}},
	{
		Slug:     "tape-off",
		Name:     "tape and old repairs off",
		Rank:     30,
		Purpose:  "removes carrier and adhesive that stain and stiffen",
		Usual:    "carrier first, warm tool or slow peel, then the adhesive; before water, which can set it",
		Basis:    common,
		Makes:    record.Dry,
		Leaves:   record.Dry,
		Cautions: []Caution{cautionSolvent, cautionBlade},
		gates:    []gate{gateConsent},
	},
	{Slug: "humidify", Name: "humidifying", Rank: 40, Purpose: "relaxes the sheet before a bath or before flattening",
		Usual: "80 to 95 % RH or damp blotter under a membrane, 0.5 to 4 h; over a day risks mould", Basis: common,
		Makes: record.Damp, Leaves: record.Damp, Cautions: []Caution{cautionMould},
		gates: []gate{gateConsent, gateMouldInactive, gateWater}},
	{
		Slug:       "wet-out",
		Name:       "wetting out",
		Rank:       45,
		Purpose:    "wets evenly, so that no air is trapped and no tide line forms",
		Usual:      "fine mist, or ethanol and water 1:1 to 7:3, 1 to 5 min",
		Basis:      common,
		Bath:       true,
		Substances: []string{"ethanol", "water"},
		Makes:      record.Wet,
		Leaves:     record.Wet,
		Cautions:   []Caution{cautionSolvent},
		gates: []gate{
			gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater, gateEthanol,
		},
	},
	{Slug: "wash", Name: "washing", Rank: 50, Purpose: "takes out soluble acid and stain",
		Usual: "2 to 4 baths of calcium-conditioned water, 10 to 30 min, 50 to 100 mL per g of paper; until the " +
			"bath stays colourless and its conductivity levels", WhyNot: RigidGels, Basis: common, Bath: true,
		Substances: []string{"water"},
		Makes:      record.Wet, Leaves: record.Wet,
		gates: []gate{gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater}},
	{
		Slug:       "float-wash",
		Name:       "washing on floats, screen or blotters",
		Rank:       52,
		Purpose:    "washes with less swelling and less contact with ink",
		Usual:      "blotter change each 10 to 30 min, 1 to 4 h",
		Basis:      common,
		Bath:       true,
		Substances: []string{"water"},
		Makes:      record.Wet,
		Leaves:     record.Wet,
		gates:      []gate{gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater},
	},
	{Slug: "chelate", Name: "chelating bath", Rank: 55, Purpose: "binds iron and soil",
		Usual: "citrate 0.1 to 2 % at pH 6 to 9, 5 to 30 min, then rinsed thoroughly, since it strips calcium",
		Basis: common, Bath: true, Substances: []string{"citrate"},
		Makes: record.Wet, Leaves: record.Wet, ThenAtOnce: "rinse",
		gates: []gate{gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater}},
	{
		Slug:       "reduce",
		Name:       "reducing bleach",
		Rank:       60,
		Purpose:    "reduces coloured groups; brightens and makes the paper stabler to alkali",
		Usual:      "sodium borohydride 0.01 to 2 %, pH 9 to 10.5, 5 to 30 min, fresh, after the acid is out",
		Basis:      common,
		Bath:       true,
		Substances: []string{"sodium borohydride"},
		Makes:      record.Wet,
		Leaves:     record.Wet,
		ThenAtOnce: "rinse",
		Cautions:   []Caution{cautionHydride, cautionHydrideStop, cautionSpentHydride},
		gates: []gate{
			gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater, gateBleach, gateAcidOut,
			gateBleachPH,
		},
	},
	{Slug: "oxidise", Name: "oxidising bleach", Rank: 61, Purpose: "oxidises coloured matter",
		Usual:  "hydrogen peroxide 0.5 to 3 %, pH 8.5 to 10, 5 to 60 min; not on lignin, not with iron or copper",
		WhyNot: peroxideOnGroundwood, Basis: common, Bath: true, Substances: []string{"hydrogen peroxide"},
		Makes: record.Wet, Leaves: record.Wet, ThenAtOnce: "rinse", Cautions: []Caution{cautionPeroxide},
		gates: []gate{
			gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater, gatePeroxide, gateNoLignin,
		}},
	{
		Slug:       "rinse",
		Name:       "rinsing",
		Rank:       65,
		Purpose:    "takes the bath before out of the sheet, to an end point and not to a count",
		Usual:      "calcium-conditioned water, 2 to 4 times, until the conductivity of the bath levels",
		Basis:      common,
		Bath:       true,
		Substances: []string{"water"},
		Makes:      record.Wet,
		Leaves:     record.Wet,
		gates:      []gate{gateWater},
	},
	{Slug: "lime", Name: "lime bath", Rank: 70, Purpose: "neutralises acid and leaves calcium carbonate as a reserve",
		Usual: "clear lime water, 0.07 to 0.7 g/L, 10 to 30 min, covered from air; not rinsed where a reserve is " +
			"wanted", Basis: common, Bath: true, Substances: []string{"calcium hydroxide"},
		Makes: record.Wet, Leaves: record.Wet, Cautions: []Caution{cautionLime},
		gates: []gate{
			gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater, gateAlkali, gateHydrideOut,
		}},
	{
		Slug:    "bicarbonate",
		Name:    "bicarbonate bath",
		Rank:    71,
		Purpose: "neutralises acid and leaves a carbonate reserve, at a mild pH",
		Usual: "magnesium bicarbonate 0.02 to 0.06 mol/L or calcium bicarbonate up to 0.01 mol/L, 15 to 30 " +
			"min; not rinsed",
		Basis:      common,
		Bath:       true,
		Substances: []string{"magnesium bicarbonate", "calcium bicarbonate"},
		Makes:      record.Wet,
		Leaves:     record.Wet,
		Cautions:   []Caution{cautionAlkali},
		gates: []gate{
			gateConsent, gateMouldInactive, gateStaplesOut, gateApart, gateCleaned, gateWater, gateAlkali, gateHydrideOut,
		},
	},
	{Slug: "size", Name: "resizing", Rank: 75, Purpose: "gives the sheet back some strength and handle",
		Usual: "gelatine 0.25 to 1 % or methyl cellulose 0.1 to 0.5 %", Basis: common, Bath: true,
		Substances: []string{"gelatine", "methyl cellulose"},
		Makes:      record.Wet, Leaves: record.Wet, gates: []gate{gateConsent, gateStaplesOut, gateWater}},
	{Slug: "drain", Name: "draining", Rank: 78, Purpose: "lets the free water run off before mending or drying",
		Usual: "on the support, slanted, minutes", Basis: common, Makes: record.Wet, Leaves: record.Damp},
	{
		Slug:    "mend-damp",
		Name:    "mending while damp",
		Rank:    80,
		Purpose: "joins tears so that sheet and tissue dry as one",
		Usual: "torn kozo tissue 2 to 10 g/m², stiff wheat paste or methyl cellulose 2 to 5 %, overlap 1 to 3 " +
			"mm each side, restrained at once",
		Basis:      common,
		Makes:      record.Damp,
		Leaves:     record.Damp,
		ThenAtOnce: "dry-absorbent",
		Cautions:   []Caution{cautionBlade},
		gates:      []gate{gateConsent, gateDamp},
	},
	{Slug: "dry-absorbent", Name: "drying between absorbents", Rank: 85, Purpose: "dries flat under restraint",
		Usual: "absorbents changed after 5 to 15 min, 30 to 60 min, 2 to 4 h, overnight, then daily until the " +
			"weight is constant", Basis: common, Drying: true,
		Makes: record.Damp, Leaves: record.Dry, Cautions: []Caution{cautionPress}},
	{
		Slug:    "dry-air",
		Name:    "drying in air",
		Rank:    86,
		Purpose: "dries without pressure; the sheet shrinks and cockles more",
		Usual:   "on felt or net",
		Basis:   common,
		Drying:  true,
		Makes:   record.Damp,
		Leaves:  record.Dry,
	},
	{Slug: "mend-dry", Name: "mending dry", Rank: 90, Purpose: "joins tears with little water",
		Usual: "stiff paste or pre-coated tissue, at once under weight", Basis: common, Makes: record.Dry,
		Leaves: record.Dry, Cautions: []Caution{cautionBlade}, gates: []gate{gateConsent}},
	{Slug: "infill", Name: "infilling losses", Rank: 92, Purpose: "gives a loss support; never drawn over print",
		Usual: "toned tissue or like paper cut to the loss, 0.5 to 1 mm overlap", Basis: common, Makes: record.Dry,
		Leaves: record.Dry, Cautions: []Caution{cautionBlade}, gates: []gate{gateConsent, gateDry}},
	{Slug: "flatten", Name: "flattening", Rank: 94, Purpose: "brings the dry sheet flat, after humidifying",
		Usual: "1 to 5 kPa between boards, 12 to 72 h; more flattens texture and staple dents", Basis: common,
		Drying: true,
		Makes:  record.Damp, Leaves: record.Dry, Cautions: []Caution{cautionPress}, gates: []gate{gateConsent}},
	{
		Slug:    "condition",
		Name:    "conditioning",
		Rank:    96,
		Purpose: "brings all sheets to one moisture before they are measured and put together",
		Usual:   "a day at a stated humidity, until the weight is constant",
		Basis:   common,
		Makes:   record.Dry,
		Leaves:  record.Dry,
		gates:   []gate{gateDry},
	},
	{
		Slug:     "reassemble",
		Name:     "putting back in order",
		Rank:     98,
		Purpose:  "refolds on the old line, in order, creep and staple holes in register",
		Usual:    "old staples through the old holes, legs bent once; or thread, with consent",
		Basis:    common,
		Makes:    record.Dry,
		Leaves:   record.Dry,
		Cautions: []Caution{cautionBlade},
		gates:    []gate{gateConsent, gateAllDry},
	},
	{Slug: "house", Name: "housing", Rank: 99, Purpose: "protects what was done",
		Usual: "polyester sleeve or buffered folder, a week or more after drying", Basis: common, Makes: record.Dry,
		Leaves: record.Dry, gates: []gate{gateAllDry}},
}

// Find gives an operation by slug, or nil.
func Find(slug string) *Operation {
	for _, o := range Operations {
		if o.Slug == slug {
			return o
		}
	}
	return nil
}

// Name gives an operation's name, or the slug itself when it is none of ours.
func Name(slug string) string {
	if o := Find(slug); o != nil {
		return o.Name
	}
	return slug
}

// Wets says whether the operation brings water to the sheet.
func (o *Operation) Wets() bool { return o.Makes == record.Wet || o.Slug == "humidify" }
