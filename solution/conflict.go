package solution

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// Level says how grave it is when two things meet.
type Level string

const (
	Stop Level = "stop" // must not meet
	Warn Level = "warn" // needs care
	// None is a pair that was looked at, and of which nothing dangerous is known.
	None Level = "none"
)

// Thing is what may meet another: a substance, or one of Things.
type Thing struct {
	Name string
	// Strength of a substance that is not as its name says; zero: as named, and the
	// strongest that it comes in where the name says no strength.
	Strength Strength
}

// Conflict is a pair that must not meet, or needs care.
type Conflict struct {
	// Code names the finding, whatever its wording.
	Code   string `json:"code"`
	A      string `json:"a"`
	B      string `json:"b"`
	Effect string `json:"effect"`
	Level  Level  `json:"level"`
	Source string `json:"source"`
	Basis  Basis  `json:"basis"`
}

// Sentence says the conflict for a person.
func (c Conflict) Sentence() string {
	verb := "must not meet"
	if c.Level == Warn {
		verb = "need care together"
	}
	return upper(c.A) + " and " + c.B + " " + verb + ": " + c.Effect + "."
}

// upper makes the first letter a capital.
func upper(s string) string {
	if s == "" {
		return s
	}
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToTitle(r)) + s[n:]
}

// Names of things that the program itself asks about.
const (
	ClosedVessel = "a closed vessel"
	AcidSheet    = "an acid sheet"
	LigninPaper  = "lignin-rich paper"
	Staples      = "staples"
)

// Things that are no substances but meet them: vessels, sheets, metal.
var things = map[string][]string{
	ClosedVessel:                {"vessel-closed"},
	"an aluminium vessel":       {"vessel-aluminium"},
	"a galvanised vessel":       {"vessel-zinc"},
	"an iron vessel":            {"metal"},
	"a copper or brass vessel":  {"metal", "metal-copper"},
	"an iron or copper vessel":  {"metal", "metal-copper"},
	AcidSheet:                   {"object-acid"},
	LigninPaper:                 {"object-lignin"},
	"a lignin-rich acid sheet":  {"object-lignin", "object-acid"},
	"ink that alkali moves":     {"object-sensitive-ink"},
	"iron or copper":            {"metal", "metal-copper"},
	"copper":                    {"metal", "metal-copper"},
	Staples:                     {"metal"},
	"rust":                      {"metal"},
	"a sheet with metal specks": {"metal"},
	"a salt of iron, copper, cobalt or nickel": {"metal-salt"},
}

// otherNames of things.
var otherNames = map[string]string{
	"closed vessel": ClosedVessel, "a closed bottle": ClosedVessel, "a lid": ClosedVessel, "a closed press": ClosedVessel,
	"aluminium": "an aluminium vessel", "aluminum": "an aluminium vessel", "aluminium foil": "an aluminium vessel",
	"aluminium powder": "an aluminium vessel", "an aluminum vessel": "an aluminium vessel",
	"aluminium vessel": "an aluminium vessel",
	"zinc":             "a galvanised vessel", "zinc powder": "a galvanised vessel",
	"galvanised steel": "a galvanised vessel",
	"magnesium":        "an aluminium vessel", "magnesium powder": "an aluminium vessel",
	"brass": "a copper or brass vessel", "bronze": "a copper or brass vessel",
	"iron": "an iron vessel", "steel": "an iron vessel", "steel wool": "an iron vessel",
	"acid sheet": AcidSheet, "acid paper": AcidSheet, "an acidic sheet": AcidSheet,
	"newsprint": LigninPaper, "groundwood": LigninPaper, "groundwood paper": LigninPaper, "lignin": LigninPaper,
}

// Things lists the names, besides substances, that ConflictsOf knows.
func Things() []string {
	var names []string
	for name := range things {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// met is a thing with the groups that the table speaks of.
type met struct {
	name   string
	groups []string
}

func (m met) any(groups []string) bool {
	return slices.ContainsFunc(m.groups, func(g string) bool { return slices.Contains(groups, g) })
}

// Known says whether the table of what must not mix has it.
func (t Thing) Known() bool {
	_, err := t.met()
	return err == nil
}

func (t Thing) met() (met, error) {
	name := fold(t.Name)
	if other, ok := otherNames[name]; ok {
		name = other
	}
	if g, ok := things[name]; ok {
		return met{name, g}, nil
	}
	s := Known(name)
	if s == nil {
		if plain, strength := withoutStrength(name); plain != "" && Known(plain) != nil {
			if t.Strength.IsZero() {
				t.Strength = strength
			}
			t.Name = plain
			return t.met()
		}
		_, err := Find(t.Name)
		return met{}, err
	}
	groups := slices.Clone(s.Groups)
	percent := s.percentWW(t.Strength)
	for _, r := range strongFrom() {
		switch g := r["group"]; {
		case !s.Is(Group(g)):
		case percent >= r.number("percent_ww"):
			groups = append(groups, g+"-strong")
		default:
			groups = append(groups, g+"-weak")
		}
	}
	return met{s.Name, groups}, nil
}

// inName is a strength that a name carries: "acetic acid 5 %", "6 % peroxide".
var inName = regexp.MustCompile(`^(?:(.*?),? ?\(?)?(\d+(?:[.,]\d+)?) ?%(?: ?[wmv]/[wmv])?\)?,? ?(.*)$`)

// Words before and after a name that change nothing of what it must not meet.
var (
	emptyBefore = []string{
		"concentrated ", "conc. ", "strong ", "dilute ", "weak ", "aqueous ", "anhydrous ", "a solution of ",
	}
	emptyAfter = strings.Fields("solution monohydrate dihydrate trihydrate tetrahydrate pentahydrate hexahydrate " +
		"heptahydrate decahydrate hydrate anhydrous pellets crystals powder flakes granules")
)

// withoutStrength takes the strength out of a name; by mass, whatever it says: at a
// bench the kinds of per cent are within a third of one another. What says nothing of the
// substance, as "dilute", goes too. "" where there is nothing to take out.
func withoutStrength(name string) (plain string, percent Strength) {
	plain = name
	for _, word := range emptyBefore {
		plain = strings.TrimPrefix(plain, word)
	}
	for _, word := range emptyAfter {
		plain = strings.TrimSuffix(plain, " "+word)
	}
	plain = strings.TrimSuffix(plain, " in water")
	if m := inName.FindStringSubmatch(plain); m != nil {
		v, err := strconv.ParseFloat(strings.Replace(m[2], ",", ".", 1), 64)
		if err == nil && v > 0 && v <= 100 {
			plain, percent = strings.TrimSpace(m[1]+" "+m[3]), Strength{v, PercentWW}
		}
	}
	if plain == name {
		return "", Strength{}
	}
	return plain, percent
}

var strongFrom = sync.OnceValue(func() []row { return readTable("strong-from.csv") })

// percentWW is the strength of s in % by mass: as given, else as the substance
// stands on the shelf, else 100. A density that is not known is taken as that of
// water, which is within a third for what is mixed at a bench.
func (s *Substance) percentWW(strength Strength) float64 {
	if strength.IsZero() {
		if s.Supplied.IsZero() {
			return 100
		}
		strength = s.Supplied
	}
	if strength.Unit == PercentWW {
		return strength.Value
	}
	c, err := strength.PerLitre(s.Parent(), 0)
	if err != nil {
		return 100
	}
	if s.Parent().Name == "ethanol" {
		return 100 * ethanolMassFraction(c)
	}
	density := 1.0
	if s.State == Liquid && s.Density > 0 && float64(c) > 900*float64(s.Density) {
		density = float64(s.Density)
	}
	return min(100, float64(c)/10/density)
}

// meeting is a row of the table of incompatibilities, read once.
type meeting struct {
	code, family string
	groups, with []string
	level        Level
	effect       string
	source       string
	basis        Basis
}

var meetingRows = sync.OnceValue(func() []meeting {
	var list []meeting
	for _, r := range readTable("incompatibilities.csv") {
		family, _, _ := strings.Cut(r["code"], "-")
		list = append(list, meeting{
			r["code"], family, r.list("groups", " "), r.list("with", " "), Level(r["level"]), r["effect"], r["source"],
			Basis(r["basis"]),
		})
	}
	return list
})

// ConflictsOf finds every pair among things that must not meet or needs care, the
// gravest first. A substance without a strength is of the strength that its name
// says, or the strongest that it comes in. Errors: a name that is neither a
// substance nor one of Things.
func ConflictsOf(things ...Thing) ([]Conflict, error) {
	var all []met
	for _, t := range things {
		m, err := t.met()
		if err != nil {
			return nil, err
		}
		all = append(all, m)
	}
	var out []Conflict
	for i, a := range all {
		for _, b := range all[i+1:] {
			out = append(out, meetings(a, b)...)
		}
	}
	slices.SortStableFunc(out, func(a, b Conflict) int {
		return strings.Compare(string(a.Level), string(b.Level)) // "stop" before "warn"
	})
	return out, nil
}

// meetings finds what the table says of a and b, in either order: of each family
// of rows the first, which is the most special, and no care where they must not
// meet at all.
func meetings(a, b met) []Conflict {
	var out []Conflict
	said := map[string]bool{}
	for _, m := range meetingRows() {
		first, second := a, b
		switch {
		case m.level == None || said[m.family]:
			continue
		case a.any(m.groups) && b.any(m.with):
		case b.any(m.groups) && a.any(m.with):
			first, second = b, a
		default:
			continue
		}
		said[m.family] = true
		out = append(out, Conflict{m.code, first.name, second.name, m.effect, m.level, m.source, m.basis})
	}
	if slices.ContainsFunc(out, func(c Conflict) bool { return c.Level == Stop }) {
		out = slices.DeleteFunc(out, func(c Conflict) bool { return c.Level != Stop })
	}
	return out
}

// Reviewed is why nothing dangerous is known of a and b; "" where the table says
// something of them, or nobody looked. Errors: a name that is not known.
func Reviewed(a, b string) (string, error) {
	x, err := Thing{Name: a}.met()
	if err != nil {
		return "", err
	}
	y, err := Thing{Name: b}.met()
	if err != nil || len(meetings(x, y)) > 0 {
		return "", err
	}
	return reviewed(x, y), nil
}

func reviewed(x, y met) string {
	for _, m := range meetingRows() {
		if x.any(m.groups) && y.any(m.with) || y.any(m.groups) && x.any(m.with) {
			return m.effect
		}
	}
	return ""
}
