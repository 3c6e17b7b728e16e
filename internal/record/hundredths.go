package record

import (
	"encoding/json"
	"math"
	"slices"

	"benchleaf/internal/words"
)

// Version 1 of the kinds that hold money was written by a form that took every
// currency for one of hundredths: 12000 yen typed stood in the journal as
// 1200000. inMinorUnits gives the fields the minor units of their currency, and
// so what was typed. Parts of a minor unit, which cannot be paid, are rounded.
func inMinorUnits(fields ...string) map[int]func(json.RawMessage) (json.RawMessage, error) {
	return map[int]func(json.RawMessage) (json.RawMessage, error){
		1: func(raw json.RawMessage) (json.RawMessage, error) {
			var currency struct {
				Currency string `json:"currency"`
			}
			if err := json.Unmarshal(raw, &currency); err != nil {
				return nil, err
			}
			digits := words.MinorDigits(currency.Currency)
			if digits == 2 {
				return raw, nil
			}
			var body any
			if err := json.Unmarshal(raw, &body); err != nil {
				return nil, err
			}
			factor := 0.01
			for range digits {
				factor *= 10
			}
			scaleMoney(body, fields, factor)
			return Marshal(body)
		},
	}
}

// scaleMoney scales the members of that name at any depth.
func scaleMoney(v any, fields []string, factor float64) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			n, is := x.(float64)
			if is && slices.Contains(fields, k) {
				v[k] = int64(math.Round(n * factor))
				continue
			}
			scaleMoney(x, fields, factor)
		}
	case []any:
		for _, x := range v {
			scaleMoney(x, fields, factor)
		}
	}
}
