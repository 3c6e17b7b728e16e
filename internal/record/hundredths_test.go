package record

import (
	"encoding/json"
	"testing"
)

// Minor units by ISO 4217: the yen has none, the Kuwaiti dinar thousandths.
func TestMoneyOfVersionOneIsWhatWasTyped(t *testing.T) {
	for raw, want := range map[string]int64{
		`{"currency":"JPY","rate_minor_per_hour":1200000}`: 12000,
		`{"currency":"KWD","rate_minor_per_hour":1200050}`: 12000500,
		`{"currency":"EUR","rate_minor_per_hour":1200050}`: 1200050,
	} {
		b, err := Decode(Proposal{}.Kind(), 1, json.RawMessage(raw))
		if err != nil {
			t.Fatal(err)
		}
		if got := b.(Proposal).RateMinor; got != want {
			t.Errorf("%s: %d minor units, want %d", raw, got, want)
		}
	}
	raw := `{"currency":"JPY","options":[{"operations":[{"materials_minor":30000}]}]}`
	b, err := Decode(Proposal{}.Kind(), 1, json.RawMessage(raw))
	if err != nil || b.(Proposal).Options[0].Operations[0].MaterialsMinor != 300 {
		t.Errorf("%s: %+v, %v; want materials of 300 yen", raw, b, err)
	}
}
