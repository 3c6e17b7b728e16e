package record

import (
	"reflect"

	"benchleaf/makeup"
)

// Choice is one value of a closed list, with the words that a person sees.
type Choice struct{ Value, Words string }

// vocabularies are the closed lists by the type of their values; unsaid is how
// the empty value of a judgement reads.
var (
	vocabularies = map[reflect.Type][]Choice{}
	unsaid       = map[reflect.Type]string{}
)

// listOf makes the list of a type's values. A first line without a value is no
// choice: it says how a judgement reads that nobody made.
func listOf[T ~string](list []Choice) []Choice {
	t := reflect.TypeFor[T]()
	if list[0].Value == "" {
		unsaid[t], list = list[0].Words, list[1:]
	}
	vocabularies[t] = list
	return list
}

// ChoicesOf are the values that a type has.
func ChoicesOf[T ~string]() []Choice { return vocabularies[reflect.TypeFor[T]()] }

// Words are what a person sees of a value of a closed list.
func Words[T ~string](v T) string {
	if v == "" {
		return unsaid[reflect.TypeFor[T]()]
	}
	return WordsOf(ChoicesOf[T](), v)
}

// WordsOf gives the words of value in list, or the value itself.
func WordsOf[T ~string](list []Choice, value T) string {
	for _, c := range list {
		if c.Value == string(value) {
			return c.Words
		}
	}
	return string(value)
}

// Face of a sheet: outer is the one turned to the cover's front.
type Face string

const (
	FaceOuter Face = "outer"
	FaceInner Face = "inner"
)

var Faces = listOf[Face]([]Choice{{"outer", "outer face"}, {"inner", "inner face"}})

// Stage of the work at which something was read or photographed.
type Stage string

const (
	StageArrival Stage = "arrival"
	StageBefore  Stage = "before"
	StageDuring  Stage = "during"
	StageAfter   Stage = "after"
)

var Stages = listOf[Stage]([]Choice{
	{
		"arrival",
		"on arrival",
	}, {"before", "before treatment"}, {"during", "during treatment"}, {"after", "after treatment"},
})

// Light in which something was looked at.
type Light string

const LightNormal Light = "normal"

var Lights = listOf[Light]([]Choice{
	{"normal", "normal light"}, {"raking", "raking light"}, {"transmitted", "transmitted light"}, {"uv", "ultraviolet"},
})

// Wetness of a sheet, as an operation leaves it.
type Wetness string

const (
	Dry  Wetness = "dry"
	Damp Wetness = "damp"
	Wet  Wetness = "wet"
)

var Wetnesses = listOf[Wetness]([]Choice{{"dry", "dry"}, {"damp", "damp"}, {"wet", "wet"}})

// CustodyAct is what can happen to the custody of an object.
type CustodyAct string

const (
	CustodyReceived CustodyAct = "received"
	CustodyReturned CustodyAct = "returned"
)

var CustodyActs = listOf[CustodyAct]([]Choice{
	{
		"received",
		"received",
	}, {"moved", "moved"}, {"lent", "handed out for a time"}, {"returned", "returned to the owner"},
})

// QuarantineState is whether the object may meet others.
type QuarantineState string

const (
	QuarantineWaiting  QuarantineState = "waiting"
	QuarantineReleased QuarantineState = "released"
)

var QuarantineStates = listOf[QuarantineState]([]Choice{
	{"waiting", "in quarantine"}, {"released", "released"}, {"not-needed", "inspected, quarantine not needed"},
})

// MouldState is what was judged of mould; empty and "unknown" are not judged.
type MouldState string

const (
	MouldNone     MouldState = "none"
	MouldInactive MouldState = "inactive"
	MouldActive   MouldState = "active"
	MouldUnknown  MouldState = "unknown"
)

var MouldStates = listOf[MouldState]([]Choice{
	{"", "not judged"},
	{"none", "none seen"}, {"inactive", "inactive (dry, powdery)"}, {"active", "active (soft, damp, smears)"},
	{"unknown", "not judged"},
})

// PartSort is a sort of thing that comes off an object.
type PartSort string

const (
	PartEnclosure PartSort = "enclosure"
	PartStaple    PartSort = "staple"
	PartSample    PartSort = "sample"
)

var PartSorts = listOf[PartSort]([]Choice{
	{"enclosure", "old sleeve, board or folder"}, {"tape", "tape"}, {"staple", "staple"}, {"fragment", "fragment"},
	{"sample", "sample"}, {"insert", "insert"}, {"repair", "old repair"}, {"other", "other"},
})

// PartOutcome is what became of a kept part.
type PartOutcome string

const PartDisposed PartOutcome = "disposed"

var PartOutcomes = listOf[PartOutcome]([]Choice{
	{"reused", "put back on the object"}, {"returned", "returned to the owner"},
	{"disposed", "disposed of as agreed"}, {"kept", "stays with the studio"},
})

// Nature keeps apart what was seen, what is concluded from it, and what the
// owner said.
type Nature string

const (
	Observed Nature = "observed"
	Inferred Nature = "inferred"
)

var Natures = listOf[Nature]([]Choice{
	{"observed", "observed"}, {"inferred", "inferred"}, {"owner", "owner's words"}, {"note", "note"},
})

// PaperClass is a kind of paper that the computation knows.
type PaperClass string

const (
	Groundwood  PaperClass = "groundwood"
	CoatedPaper PaperClass = "coated"
	Sulphite    PaperClass = "sulphite"
	RagPaper    PaperClass = "rag"
	OtherPaper  PaperClass = "other"
)

var StockClasses = listOf[PaperClass]([]Choice{
	{"groundwood", "groundwood newsprint"}, {"coated", "coated cover"}, {"sulphite", "sulphite pulp paper"},
	{"rag", "rag paper"}, {"other", "other, see note"},
})

// Moment is when a reading of what was expected of a run is made.
type Moment string

const (
	InBath  Moment = "in-bath" // in the bath, so many minutes after its start
	OutWet  Moment = "out"     // of sheet or bath as the sheet comes out
	OnceDry Moment = "dry"
)

var Moments = listOf[Moment]([]Choice{
	{"in-bath", "in the bath"}, {"out", "as the sheet comes out"}, {"dry", "once dry"},
})

// Grain is the direction of the fibres.
type Grain string

var Grains = listOf[Grain]([]Choice{
	{
		"",
		"not tested",
	}, {"parallel", "parallel to the spine"}, {"across", "across the spine"}, {"unknown", "not tested"},
})

// NumberBasis says where a number comes from.
type NumberBasis string

const (
	BasisMeasured NumberBasis = "measured"
	BasisClass    NumberBasis = "class"
	BasisStated   NumberBasis = "typed"
)

var Bases = listOf[NumberBasis]([]Choice{
	{"measured", "measured"}, {"class", "from the class of paper"}, {"typed", "stated, taken from elsewhere"},
})

// CoverState is how the cover is made.
type CoverState string

const (
	CoverSeparate CoverState = "separate"
	CoverSelf     CoverState = "self"
	CoverMissing  CoverState = "missing"
)

var Covers = listOf[CoverState]([]Choice{
	{"separate", "separate cover sheet"}, {"self", "self-cover, no separate sheet"}, {"missing", "cover missing"},
})

// Binding is what holds the sheets.
type Binding string

var Bindings = listOf[Binding]([]Choice{
	{"", "not looked at"},
	{"saddle", "stapled through the fold"}, {"side", "stapled through the side"},
	{"glued", "glued at the spine"}, {"sewn", "sewn"}, {"loose", "unbound"},
})

// LeafBuild is how the sheets inside the cover hang together; empty: folded sheets.
type LeafBuild string

const (
	BuildNest  LeafBuild = "nest"
	BuildStack LeafBuild = "stack"
)

var Builds = listOf[LeafBuild]([]Choice{
	{"", "folded sheets in one another"},
	{"nest", "folded sheets in one another"}, {"stack", "single leaves on one another"},
})

// Trim is how the fore-edges of a nest lie.
type Trim string

const (
	TrimFlush Trim = "flush"
	TrimNone  Trim = "untrimmed"
)

var Trims = listOf[Trim]([]Choice{
	{"", "not looked at"},
	{"flush", "cut level after folding"}, {"untrimmed", "standing out one by one, uncut"}, {"uneven", "uneven"},
})

// WorkSort is what was done at a place of a face.
type WorkSort string

var WorkSorts = listOf[WorkSort]([]Choice{
	{"mend", "mend"}, {"fill", "fill"}, {"lining", "lining"}, {"toning", "toning"}, {"local", "local application"},
	{"consolidation", "consolidation"}, {"other", "other, see note"},
})

// Undoing says whether a work can be taken off again; empty: not said.
type Undoing string

const UndoNever Undoing = "no"

var Undoings = listOf[Undoing]([]Choice{
	{"", "whether it can be undone is not said"},
	{"water", "can be undone with water"}, {"solvent", "can be undone with a solvent"}, {"dry", "can be taken off dry"},
	{"no", "cannot be undone"},
})

// SheetHold is how a sheet is held in the object; empty: not said.
type SheetHold string

const (
	HoldFirm  SheetHold = "firm"
	HoldByOne SheetHold = "part"
	HoldLoose SheetHold = "loose"
)

var SheetHolds = listOf[SheetHold]([]Choice{
	{"", "not said"},
	{"firm", "present and attached"}, {"part", "off one fastening"}, {"loose", "loose"},
})

func (h SheetHold) science() makeup.Hold {
	switch h {
	case HoldByOne:
		return makeup.ByOne
	case HoldLoose:
		return makeup.Loose
	}
	return makeup.Held
}

// Leaf of a sheet.
type Leaf string

const (
	LeafFirst  Leaf = "first"
	LeafSecond Leaf = "second"
	LeafBoth   Leaf = "both"
)

func (l Leaf) science() makeup.Leaves {
	switch l {
	case LeafFirst:
		return makeup.FirstLeaf
	case LeafSecond:
		return makeup.SecondLeaf
	case LeafBoth:
		return makeup.BothLeaves
	}
	return makeup.NoLeaf
}

var Leaves = listOf[Leaf]([]Choice{
	{
		"first",
		"first leaf (lower page numbers)",
	}, {"second", "second leaf (higher page numbers)"}, {"both", "both leaves"},
})

// Rust of a staple.
type Rust string

var Rusts = listOf[Rust]([]Choice{
	{"none", "none"}, {"light", "light"}, {"heavy", "heavy"}, {"stain", "heavy, with a stain in the paper"},
})

// Clinch is how the legs of a staple are bent.
type Clinch string

var Clinches = listOf[Clinch]([]Choice{
	{"inward", "legs toward each other"}, {"outward", "legs apart"}, {"straight", "not bent"}, {"uneven", "uneven"},
})

// StapleAct is what was done with a staple.
type StapleAct string

const (
	StapleRemoved  StapleAct = "removed"
	StapleReused   StapleAct = "reused"
	StapleReplaced StapleAct = "replaced"
	StapleLeftOut  StapleAct = "left-out"
)

var StapleActs = listOf[StapleAct]([]Choice{
	{"removed", "taken out"}, {"reused", "put back through the old holes"}, {"replaced", "replaced"},
	{"left-out", "left out"},
})

// CollationTime is when the sheets were counted.
type CollationTime string

const (
	CollatedArrival     CollationTime = "arrival"
	CollatedReassembled CollationTime = "reassembled"
)

var CollationTimes = listOf[CollationTime]([]Choice{
	{"arrival", "on arrival"}, {"disbound", "when taken apart"}, {"reassembled", "after reassembly"},
})

// Severity of a damage; empty: not judged.
type Severity string

const Severe Severity = "severe"

var Severities = listOf[Severity]([]Choice{
	{"", "not judged"}, {"slight", "slight"}, {"moderate", "moderate"}, {"severe", "severe"},
})

// CauseBasis is how the cause of a damage is known; empty: not judged.
type CauseBasis string

const (
	CauseObserved CauseBasis = "observed"
	CauseInferred CauseBasis = "inferred"
	CauseUnknown  CauseBasis = "unknown"
)

var CauseBases = listOf[CauseBasis]([]Choice{
	{"", "not judged"},
	{"observed", "cause observed"}, {"inferred", "cause inferred"}, {"unknown", "cause not known"},
})

// Activity says whether a damage goes on; empty and "unknown": not judged.
type Activity string

const (
	NotActive       Activity = "no"
	Active          Activity = "yes"
	ActivityUnknown Activity = "unknown"
)

var Activities = listOf[Activity]([]Choice{
	{"", "not judged"}, {"no", "not active"}, {"yes", "active"}, {"unknown", "not judged"},
})

// DamageOutcome is how a damage stands after treatment.
type DamageOutcome string

const DamageLeft DamageOutcome = "left"

// FoundStage is when a damage was found; empty: not said.
type FoundStage string

// Stages at which damages are found.
const (
	FoundOnArrival FoundStage = "arrival"
	FoundExamining FoundStage = "examination"
	FoundAtWork    FoundStage = "work"
	FoundAccident  FoundStage = "accident"
)

var FoundStages = listOf[FoundStage]([]Choice{
	{"", "not said"},
	{"arrival", "on arrival"}, {"examination", "at the examination"}, {"work", "during the work"},
	{"accident", "an accident here"},
})

// LaidBy is who found the corners of a face in its photograph.
type LaidBy string

// How the corners of a face are found in its photograph.
const (
	LaidByHand    LaidBy = "hand"
	LaidByProgram LaidBy = "program"
)

var LaidBys = listOf[LaidBy]([]Choice{{"hand", "marked by hand"}, {"program", "found by the program, looked at"}})

var DamageOutcomes = listOf[DamageOutcome]([]Choice{
	{"mended", "mended"}, {"reduced", "reduced"}, {"removed", "removed"}, {"unchanged", "no change found"},
	{"left", "left as it was, on purpose"}, {"worse", "worse"},
})

// TestSort is what a spot test asks.
type TestSort string

const (
	TestSolubility  TestSort = "solubility"
	TestBleach      TestSort = "bleach"
	TestLignin      TestSort = "lignin"
	TestIron        TestSort = "iron"
	TestAlum        TestSort = "alum"
	TestWetStrength TestSort = "wet-strength"
)

var TestSorts = listOf[TestSort]([]Choice{
	{"solubility", "does the ink hold"}, {"bleach", "the bleach at working strength"}, {"absorbency", "absorbency"},
	{"tack", "tack of the coating"}, {"wet-strength", "wet strength"}, {"lignin", "lignin"}, {"iron", "iron"},
	{"starch", "starch"}, {"alum", "alum, rosin or protein"}, {"uv", "look under ultraviolet"}, {"other", "other"},
})

// TestLiquid is what the drop was.
type TestLiquid string

const (
	LiquidWater         TestLiquid = "water"
	LiquidAlkalineWater TestLiquid = "alkaline-water"
	LiquidEthanol       TestLiquid = "ethanol"
	LiquidEthanolWater  TestLiquid = "ethanol-water"
	LiquidBorohydride   TestLiquid = "borohydride"
	LiquidPeroxide      TestLiquid = "peroxide"
)

var TestLiquids = listOf[TestLiquid]([]Choice{
	{"water", "water"}, {"alkaline-water", "alkaline water"}, {"ethanol", "ethanol"},
	{"ethanol-water", "ethanol and water"}, {"borohydride", "sodium borohydride"}, {"peroxide", "hydrogen peroxide"},
	{"reagent", "reagent, see note"}, {"none", "none"},
})

// TestResult is 0 to 3 for how far a colour moved, else found or not; empty:
// not read.
type TestResult string

const (
	ResultNone       TestResult = "0"
	ResultTrace      TestResult = "1"
	ResultTransfer   TestResult = "2"
	ResultOnTheSheet TestResult = "3"
	ResultNegative   TestResult = "negative"
	ResultPositive   TestResult = "positive"
	ResultUnclear    TestResult = "unclear"
)

var TestResults = listOf[TestResult]([]Choice{
	{"", "not read"},
	{"0", "0: none"}, {"1", "1: trace on the blotter"}, {"2", "2: visible transfer"}, {"3", "3: visible on the object"},
	{"negative", "negative"}, {"positive", "positive"}, {"unclear", "unclear"},
})

// Gravity orders results by what they mean for a bath.
func (r TestResult) Gravity() int {
	switch r {
	case ResultOnTheSheet:
		return 5
	case ResultTransfer:
		return 4
	case ResultTrace, ResultPositive:
		return 3
	case ResultUnclear:
		return 2
	case "":
		return 1
	}
	return 0
}

// RunOutcome is how a run ended.
type RunOutcome string

const (
	RunDone      RunOutcome = "done"
	RunStopped   RunOutcome = "stopped"
	RunAbandoned RunOutcome = "abandoned"
)

var RunOutcomes = listOf[RunOutcome]([]Choice{
	{"done", "done"}, {"stopped", "stopped early"}, {"abandoned", "abandoned"},
})

// MendState is how wet the sheet was when it was mended.
type MendState string

const (
	MendDamp MendState = "damp"
	MendDry  MendState = "dry"
)

var MendStates = listOf[MendState]([]Choice{{"damp", "while the sheet was damp"}, {"dry", "on the dry sheet"}})

// ConsentAnswer is what was answered to a proposal.
type ConsentAnswer string

const (
	ConsentGiven   ConsentAnswer = "given"
	ConsentRefused ConsentAnswer = "refused"
)

var ConsentAnswers = listOf[ConsentAnswer]([]Choice{{"given", "consent given"}, {"refused", "consent refused"}})

// ConsentWay is how an answer came.
type ConsentWay string

const (
	ByLetter ConsentWay = "letter"
	ByMail   ConsentWay = "e-mail"
	BySigned ConsentWay = "signed"
)

var ConsentWays = listOf[ConsentWay]([]Choice{
	{"letter", "by letter"}, {"e-mail", "by e-mail"}, {"signed", "signed on paper"}, {"in-person", "in person"},
	{"telephone", "by telephone"},
})

// PaperSort is what leaves the studio.
type PaperSort string

const (
	PaperReport   PaperSort = "report"
	PaperProposal PaperSort = "proposal"
	PaperInvoice  PaperSort = "invoice"
	PaperArchive  PaperSort = "archive"
)

var PaperSorts = listOf[PaperSort]([]Choice{
	{"report", "treatment report"}, {"proposal", "proposal"}, {"invoice", "invoice"}, {"archive", "archive copy"},
})

// CloseOutcome is how a case ended.
type CloseOutcome string

const ClosedTreated CloseOutcome = "treated"

var CloseOutcomes = listOf[CloseOutcome]([]Choice{
	{"treated", "treated as proposed"}, {"part", "treated in part"}, {"untreated", "not treated, on purpose"},
	{"withdrawn", "withdrawn by the owner"},
})

// AreaLook is what an outlined area of a face looks like. It names a look, not
// a cause: whether grey spots are mould only an examination tells. The stains
// are terms of package condition's vocabulary.
type AreaLook string

var AreaLooks = listOf[AreaLook]([]Choice{
	{"foxing", "foxing"}, {"tideline", "tide line"}, {"stain", "discolouration"}, {"mould", "mould-like spots"},
	{"loss", "loss"}, {"rust migration", "rust"}, {"paper", "bare paper"}, {"print", "print"}, {"other", "other"},
})

// AreaSource says who found an outline: the program, or a hand. A proposal
// whose outline was corrected is drawn.
type AreaSource string

const (
	AreaMeasured AreaSource = "measured"
	AreaDrawn    AreaSource = "drawn"
)

var AreaSources = listOf[AreaSource]([]Choice{{"measured", "proposed by measurement"}, {"drawn", "drawn by hand"}})

// ColourMethod is the way in which a photograph's colour is set.
type ColourMethod string

const (
	ByChart      ColourMethod = "chart"
	ByGreyCard   ColourMethod = "grey-card"
	ByWhitePaper ColourMethod = "white-paper"
)

var ColourMethods = listOf[ColourMethod]([]Choice{
	{"chart", "colour chart"}, {"grey-card", "grey card"}, {"white-paper", "white paper"},
})

// PaperSize of printed papers.
type PaperSize string

const (
	A4     PaperSize = "A4"
	Letter PaperSize = "Letter"
)

var PaperSizes = listOf[PaperSize]([]Choice{{"A4", "A4"}, {"Letter", "US Letter"}})

// WaterKind is what a water is.
type WaterKind string

const (
	TapWater         WaterKind = "tap"
	DeionisedWater   WaterKind = "deionised"
	DistilledWater   WaterKind = "distilled"
	ConditionedWater WaterKind = "conditioned"
)

var WaterSources = listOf[WaterKind]([]Choice{
	{"tap", "tap water"}, {"deionised", "de-ionised water"}, {"distilled", "distilled water"},
	{"conditioned", "de-ionised, conditioned with calcium"}, {"other", "other"},
})

// BottleForm is the sort of thing that a bottle holds.
type BottleForm string

const (
	FormSolution    BottleForm = "solution"
	FormSaturated   BottleForm = "saturated"
	FormConcentrate BottleForm = "concentrate"
	FormSolid       BottleForm = "solid"
	FormAdhesive    BottleForm = "adhesive"
	FormSolvent     BottleForm = "solvent"
)

var BottleForms = listOf[BottleForm]([]Choice{
	{"solution", "working solution"}, {"saturated", "saturated stock over its solid"}, {"concentrate", "concentrate"},
	{"solid", "solid reagent"}, {"adhesive", "adhesive"}, {"solvent", "solvent"},
})

// StrengthUnits in which a bottle's strength is kept.
var StrengthUnits = []Choice{
	{"g/L", "g/L"}, {"% w/v", "% w/v"}, {"% w/w", "% w/w"}, {"% v/v", "% v/v"}, {"mol/L", "mol/L"}, {"parts", "parts"},
	{"pure", "as supplied"},
}

// InstrumentSort is a sort of instrument.
type InstrumentSort string

const (
	PHMeter           InstrumentSort = "ph-meter"
	Balance           InstrumentSort = "balance"
	ConductivityMeter InstrumentSort = "conductivity"
	Thermometer       InstrumentSort = "thermometer"
	Hygrometer        InstrumentSort = "hygrometer"
)

var InstrumentSorts = listOf[InstrumentSort]([]Choice{
	{"ph-meter", "pH meter"}, {"balance", "balance"}, {"conductivity", "conductivity meter"},
	{"thermometer", "thermometer"}, {"hygrometer", "hygrometer"}, {"spectro", "spectrophotometer"}, {"other", "other"},
})
