package account

import (
	"strings"
	"testing"

	"benchleaf/internal/record"
)

func TestLabelsGoBackAndForth(t *testing.T) {
	for _, l := range []Label{
		{Bottle: "0123456789abcdef"}, {Tray: "tray B, the large one / left"}, {Case: "0123456789abcdef", Sheet: 0},
		{Case: "0123456789abcdef", Sheet: 24},
	} {
		if got, err := ReadLabel(l.Code()); err != nil || got != l {
			t.Errorf("%s reads as %+v (%v), want %+v", l.Code(), got, err, l)
		}
	}
}

func TestForeignCodesAreRefusedInASentence(t *testing.T) {
	for code, want := range map[string]string{
		"https://example.org/a":                    "none of this bench",
		"4006381333931":                            "none of this bench",
		"":                                         "none of this bench",
		"benchleaf:b/short":                        "print it anew",
		"benchleaf:x/0123456789abcdef":             "print it anew",
		"benchleaf:s/0123456789abcdef/-1":          "print it anew",
		"benchleaf:t/%zz":                          "print it anew",
		"benchleaf:s/0123456789abcdef":             "print it anew",
		"benchleaf:t/" + strings.Repeat("a", 4000): "print it anew",
	} {
		_, err := ReadLabel(code)
		list, ok := record.Refusals(err)
		if !ok || len(list) != 1 || list[0].Field != "code" || !strings.Contains(list[0].Say, want) || len(list[0].Say) > 400 {
			t.Errorf("%.40q: %v, want one sentence with %q at the code", code, err, want)
		}
	}
}
