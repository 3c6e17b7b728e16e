package condition

import "strings"

// Term names a kind of damage, in the words that a person reads: so a record
// can be read without this vocabulary. A term does not change once it is used.
type Term string

// Measure is the figure by which a kind of damage is usually given.
type Measure string

const (
	ByLength Measure = "length" // mm
	ByArea   Measure = "area"   // mm2
	ByCount  Measure = "count"
	ByWord   Measure = "word" // the whole object or sheet: nothing to measure
)

// Depth says whether a kind of damage goes through the paper.
type Depth string

const (
	Always  Depth = "always"  // shows on both faces by its nature
	Perhaps Depth = "perhaps" // to be looked at each time
	Never   Depth = "never"   // lies on one face
)

// Mend says what tissue a kind of damage usually takes when it is mended.
type Mend string

const (
	NoMend    Mend = ""
	MendStrip Mend = "strip" // a torn strip along it
	MendPatch Mend = "patch" // a piece over it with a margin
)

// Group is a family of kinds that share a colour and a hatch on a map.
type Group struct {
	Name string
	// Colour is one of the eight of the colour-blind-safe palette of Okabe and
	// Ito (Color Universal Design, 2008), sRGB in hexadecimal; from memory.
	Colour string
	// Hatch repeats the colour for those who do not see it: "lines /",
	// "lines \", "lines |", "lines -", "cross", "grid", "dots", "rings".
	Hatch string
}

var (
	broken  = Group{"broken paper", "#d55e00", "lines /"}
	bent    = Group{"out of shape", "#56b4e9", "lines \\"}
	wetted  = Group{"by water", "#0072b2", "lines -"}
	changed = Group{"changed colour", "#e69f00", "dots"}
	living  = Group{"by living things", "#009e73", "rings"}
	surface = Group{"surface", "#f0e442", "cross"}
	hands   = Group{"by earlier hands", "#cc79a7", "lines |"}
	whole   = Group{"nature of the whole", "#000000", "grid"}
)

// Groups lists the groups in the order of a map's key.
func Groups() []Group { return []Group{broken, bent, wetted, changed, living, surface, hands, whole} }

// Kind is one kind of damage.
type Kind struct {
	Term    Term
	Meaning string
	// Also are other words for it in the trade and at home.
	Also    []string
	Measure Measure
	Depth   Depth
	Mend    Mend
	// Letter marks it on a map: one or two capitals, different for each kind.
	Letter string
	Group  Group
	// Caution is what to heed when it is found.
	Caution string
}

// kinds is the vocabulary. The definitions are our own; the choice of terms is
// common practice, no source.
var kinds = []Kind{
	{
		"tear",
		"parting of the sheet along a ragged line, with no paper gone; note its direction, bevel, and whether it " +
			"runs through print",
		words("rip, split, closed tear"),
		ByLength,
		Always,
		MendStrip,
		"T",
		broken,
		"",
	},
	{
		"loss",
		"paper that is gone",
		words("hole, chip, piece out, missing corner"),
		ByArea,
		Always,
		MendPatch,
		"L",
		broken,
		"",
	},
	{"puncture", "small hole through the paper", words("pinhole, prick"), ByCount, Always, MendPatch, "P", broken, ""},
	{
		"staple hole",
		"hole of a staple, when enlarged, torn out or extra",
		words("pulled staple, popped staple"),
		ByCount,
		Always,
		MendPatch,
		"SH",
		broken,
		"",
	},
	{
		"spine split",
		"fold that has parted; length, and share of the fold",
		words("spine tear, seam split, fold split"),
		ByLength,
		Always,
		MendStrip,
		"SS",
		broken,
		"",
	},
	{
		"detached sheet or cover",
		"sheet, leaf or cover that is off one fastening or all",
		words("loose, off at one staple, floating centrefold"),
		ByCount,
		Perhaps,
		NoMend,
		"D",
		broken,
		"",
	},
	{
		"delamination",
		"plies or coating that come apart",
		words("splitting layers, lifting coating"),
		ByArea,
		Perhaps,
		NoMend,
		"DL",
		broken,
		"",
	},

	{
		"crease",
		"sharp line with broken fibres; note whether the ink is broken",
		words("colour-breaking crease, corner crease"),
		ByLength,
		Always,
		NoMend,
		"C",
		bent,
		"",
	},
	{
		"bend",
		"line of bending with fibres and ink whole",
		words("soft crease, non-breaking crease"),
		ByLength,
		Always,
		NoMend,
		"BE",
		bent,
		"",
	},
	{
		"fold",
		"doubling made on purpose, as for the post",
		words("mail fold, subscription fold, quarter fold"),
		ByLength,
		Always,
		NoMend,
		"F",
		bent,
		"",
	},
	{
		"bent or blunted corner",
		"corner folded over or crushed",
		words("dog-ear, turned corner, bump"),
		ByCount,
		Always,
		NoMend,
		"CR",
		bent,
		"",
	},
	{
		"fold line wear",
		"rubbing or short creases along the spine fold",
		words("spine stress, ticks"),
		ByLength,
		Perhaps,
		NoMend,
		"FW",
		bent,
		"",
	},
	{
		"spine roll",
		"spine no longer in the middle, the front and back leaves shifted",
		words("roll, twisted spine, slant"),
		ByWord,
		Always,
		NoMend,
		"SR",
		bent,
		"",
	},
	{
		"cockling",
		"local waves from uneven wetting or drying",
		words("buckling, ripple, waviness"),
		ByArea,
		Always,
		NoMend,
		"CO",
		bent,
		"",
	},
	{
		"planar distortion",
		"any other departure from flat",
		words("warp, curl, bow, wave"),
		ByArea,
		Always,
		NoMend,
		"PD",
		bent,
		"",
	},

	{
		"tideline",
		"line where a wetted part once met a dry one; the paper there is weaker, and may show only in ultraviolet",
		words("tide line, water stain edge, ring"),
		ByLength,
		Perhaps,
		NoMend,
		"TL",
		wetted,
		"",
	},
	{
		"water stain",
		"area discoloured by water, within its tide line",
		words("damp stain"),
		ByArea,
		Perhaps,
		NoMend,
		"WS",
		wetted,
		"",
	},
	{
		"blocking",
		"coated faces stuck together after wetting",
		words("stuck pages"),
		ByArea,
		Never,
		NoMend,
		"B",
		wetted,
		"Do not pull apart: coating and image come off with the neighbour.",
	},

	{
		"stain",
		"local discolouration; name its cause when it is known",
		words("spot, oil stain, ring mark"),
		ByArea,
		Perhaps,
		NoMend,
		"S",
		changed,
		"",
	},
	{
		"discolouration",
		"general yellowing or browning",
		words("toning, tanning, browning, page colour"),
		ByArea,
		Perhaps,
		NoMend,
		"DC",
		changed,
		"",
	},
	{
		"edge browning",
		"margin darkened by air and light",
		words("halo, burnt edges"),
		ByArea,
		Perhaps,
		NoMend,
		"EB",
		changed,
		"",
	},
	{
		"foxing",
		"scattered small rust-brown spots, from fungus or metal",
		words("spotting, fox marks"),
		ByArea,
		Perhaps,
		NoMend,
		"FX",
		changed,
		"",
	},
	{
		"rust migration",
		"iron stain that spreads from a staple or other metal",
		words("rust migration, staple rust, bleed"),
		ByArea,
		Perhaps,
		NoMend,
		"R",
		changed,
		"Iron speeds the decay of borohydride and peroxide and raises gas: take the metal out and test before " +
			"bleaching.",
	},
	{"fading", "colour lost to light", words("sun shadow, sunned"), ByArea, Never, NoMend, "FA", changed, ""},
	{
		"offset or transfer",
		"image, oil or acid moved to the facing page, or struck through the sheet",
		words("ghosting, set-off, strike-through"),
		ByArea,
		Perhaps,
		NoMend,
		"O",
		changed,
		"",
	},

	{
		"mould",
		"growth and its stain: active is soft, damp and smears; inactive is dry and powdery",
		words("mildew, fungus, mold"),
		ByArea,
		Perhaps,
		NoMend,
		"M",
		living,
		"Keep it apart and dry; do not brush active growth. Work with a respirator, gloves and goggles, not at all " +
			"with asthma or an allergy; local codes and an outside specialist decide beyond small areas.",
	},
	{
		"insect or rodent damage",
		"grazing, holes, droppings, gnawing",
		words("bug chew, silverfish, worming, frass"),
		ByArea,
		Perhaps,
		MendPatch,
		"I",
		living,
		"Keep it apart from other objects until no living insect is left.",
	},

	{
		"accretion",
		"foreign matter stuck on",
		words("deposit, gunk, fly specks"),
		ByArea,
		Never,
		NoMend,
		"AC",
		surface,
		"",
	},
	{
		"surface dirt",
		"soil, loose or rubbed in",
		words("soiling, dust shadow, handling marks"),
		ByArea,
		Never,
		NoMend,
		"SD",
		surface,
		"",
	},
	{"abrasion", "surface worn by rubbing", words("scuff, rub"), ByArea, Never, NoMend, "A", surface, ""},
	{
		"skinning",
		"top fibres pulled off",
		words("surface tear, thinning, peel, tape pull"),
		ByArea,
		Never,
		NoMend,
		"SK",
		surface,
		"",
	},
	{
		"flaking or gloss loss",
		"ink or coating lost, or its surface dulled",
		words("ink loss, cracking ink"),
		ByArea,
		Never,
		NoMend,
		"FL",
		surface,
		"",
	},

	{
		"prior repair",
		"earlier mend, lining, fill, retouching or added gloss",
		words("restoration, tear seal, reinforcement"),
		ByArea,
		Perhaps,
		NoMend,
		"PR",
		hands,
		"",
	},
	{
		"pressure-sensitive tape",
		"carrier with its adhesive, which softens, oozes and yellows, then hardens",
		words("sticky tape, cellophane tape"),
		ByArea,
		Never,
		NoMend,
		"TA",
		hands,
		"Solvents for tape burn and harm: small amounts, no spark, exhaust, gloves by the supplier's safety data " +
			"sheet.",
	},
	{
		"tape residue",
		"adhesive or its stain, the carrier gone",
		words("ghost, adhesive stain"),
		ByArea,
		Perhaps,
		NoMend,
		"TR",
		hands,
		"Solvents for tape burn and harm: small amounts, no spark, exhaust, gloves by the supplier's safety data " +
			"sheet.",
	},
	{
		"inscription",
		"writing, date or initials; note the ink, which may bleed",
		words("arrival date, pen mark, pencilled price"),
		ByCount,
		Perhaps,
		NoMend,
		"IN",
		hands,
		"",
	},
	{
		"stamp, label or sticker",
		"put on by others; may be evidence, never taken for dirt",
		words("distributor's mark, price sticker"),
		ByCount,
		Perhaps,
		NoMend,
		"ST",
		hands,
		"",
	},
	{
		"trimmed",
		"edges cut after issue; compare the widths with the creep",
		words("cut down"),
		ByLength,
		Always,
		NoMend,
		"TM",
		hands,
		"",
	},

	{
		"brittleness",
		"paper that breaks when bent; say how it was judged",
		words("chippy, flaking pages"),
		ByWord,
		Always,
		NoMend,
		"BR",
		whole,
		"",
	},
	{
		"production fault",
		"made so: misfold, miscut, colours off register, extra staple",
		words("printer's flaw, bindery tear"),
		ByCount,
		Perhaps,
		NoMend,
		"PF",
		whole,
		"",
	},
	{"odour", "smell of smoke, mould or solvent", words("smell"), ByWord, Always, NoMend, "OD", whole, ""},
}

func words(list string) []string { return strings.Split(list, ", ") }

// Kinds lists the vocabulary, group by group.
func Kinds() []Kind { return append([]Kind(nil), kinds...) }

// Look finds the kind of a term.
func Look(t Term) (Kind, bool) {
	for _, k := range kinds {
		if k.Term == t {
			return k, true
		}
	}
	return Kind{}, false
}

// Find lists the kinds whose term or other words contain the text,
// whatever its case: those that begin with it first.
func Find(text string) []Kind {
	text = strings.ToLower(strings.TrimSpace(text))
	var first, then []Kind
	for _, k := range kinds {
		all := strings.ToLower(strings.Join(append([]string{string(k.Term)}, k.Also...), "\n"))
		switch {
		case strings.HasPrefix(all, text) || strings.Contains(all, "\n"+text):
			first = append(first, k)
		case strings.Contains(all, text):
			then = append(then, k)
		}
	}
	return append(first, then...)
}

// Severity is a plain ordinal.
type Severity string

const (
	Slight   Severity = "slight"
	Moderate Severity = "moderate"
	Severe   Severity = "severe"
)

// Severities lists the severities, rising.
func Severities() []Severity { return []Severity{Slight, Moderate, Severe} }

// Meaning is what a severity stands for; ours, no source.
func (s Severity) Meaning() string {
	switch s {
	case Slight:
		return "seen when looked for; it hinders neither reading nor handling, and is not growing"
	case Moderate:
		return "plain to see, or will grow with handling"
	case Severe:
		return "text or image is lost or hard to read, or the sheet cannot be handled without more harm"
	}
	return ""
}
