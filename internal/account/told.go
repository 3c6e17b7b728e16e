package account

import (
	"reflect"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// Told are the fields of a body that say something, as a person reads them: all
// that is saved when it is written. Identifiers, pictures and tables are left out.
func Told(b record.Body, k words.Clock) []Fact {
	var list []Fact
	v := reflect.Indirect(reflect.ValueOf(b))
	currency := ""
	if c := v.FieldByName("Currency"); c.IsValid() {
		currency = c.String()
	}
	for _, x := range record.Fields(b) {
		if value := told(v.FieldByIndex(x.Index), &x, currency, k); value != "" {
			list = append(list, Fact{Code: Code(x.Name), Name: x.Label, Text: value})
		}
	}
	return list
}

func told(v reflect.Value, x *record.Field, currency string, k words.Clock) string {
	if v.IsZero() && x.Sort != record.AsYesNo {
		return ""
	}
	v = reflect.Indirect(v)
	switch x.Sort {
	case record.AsLine, record.AsText, record.AsChosen:
		if list, is := v.Interface().([]string); is {
			return strings.Join(list, "; ")
		}
		return record.WordsOf(x.Choices, v.String())
	case record.AsNumber:
		if list, is := v.Interface().([]float64); is {
			return Minutes(list)
		}
		if v.CanFloat() {
			return en.Quantity(v.Float(), x.Unit)
		}
	case record.AsWhole:
		return en.Quantity(float64(v.Int()), x.Unit)
	case record.AsSpread:
		return en.Range(v.Interface().(record.Range), x.Unit)
	case record.AsTick, record.AsYesNo:
		return map[bool]string{true: "yes", false: "no"}[v.Bool()]
	case record.AsDate:
		return k.Day(v.Interface().(time.Time))
	case record.AsTime, record.AsMoment:
		return k.At(v.Interface().(time.Time))
	case record.AsAmount:
		return en.Money(words.Money{Minor: v.Int(), Currency: currency})
	case record.AsSheets:
		return record.SheetNames(v.Interface().([]int))
	case record.AsSheet:
		return record.SheetName(int(v.Int()))
	}
	return ""
}

// InWords are the fields of a body in one line, numbers and days by their names:
// what the log says of a kind that has no sentence of its own.
func InWords(b record.Body) string {
	table := record.Fields(b)
	var parts []string
	for _, f := range Told(b, words.Clock{Language: en, Zone: zoneOf(b)}) {
		i := slices.IndexFunc(table, func(x record.Field) bool { return x.Name == string(f.Code) })
		switch table[i].Sort {
		case record.AsLine, record.AsText, record.AsChosen, record.AsSheets:
			parts = append(parts, f.Text)
		default:
			parts = append(parts, strings.ToLower(f.Name)+" "+f.Text)
		}
	}
	return strings.Join(parts, ", ")
}

// zoneOf is the zone in which a body's days were entered.
func zoneOf(b record.Body) *time.Location {
	v := reflect.Indirect(reflect.ValueOf(b))
	for _, x := range record.Fields(b) {
		if t, is := v.FieldByIndex(x.Index).Interface().(time.Time); is && !t.IsZero() {
			return t.Location()
		}
	}
	return time.UTC
}
