package account

import (
	"reflect"
	"strconv"

	"benchleaf/internal/words"
)

// A question is a struct whose tags say how a person is asked for its fields:
//
//	DepthMm float64 `field:"depth_mm" what:"the depth" from:"1" to:"500" unit:"mm" start:"20"`
//
// A pointer may be left out. What has no field tag nobody is asked for.

// Asked is one field of a question.
type Asked struct {
	Name, What, Start string
	Value             any // a pointer to the field
	from, to, unit    string
}

// Fields are those of a question that a person is asked for. It takes a pointer
// to a struct.
func Fields(question any) []Asked {
	v := reflect.ValueOf(question).Elem()
	var list []Asked
	for i := range v.NumField() {
		tag := v.Type().Field(i).Tag
		if name := tag.Get("field"); name != "" {
			list = append(list, Asked{
				Name: name, What: tag.Get("what"), Start: tag.Get("start"), Value: v.Field(i).Addr().Interface(),
				from: tag.Get("from"), to: tag.Get("to"), unit: tag.Get("unit"),
			})
		}
	}
	return list
}

// Outside says that a number lies outside the bounds of its field, "" where it
// does not.
func (a Asked) Outside() string {
	var x float64
	switch v := a.Value.(type) {
	case *float64:
		x = *v
	case *int:
		x = float64(*v)
	case **float64:
		if *v == nil {
			return ""
		}
		x = **v
	default:
		return ""
	}
	if a.from == "" || x >= number(a.from) && x <= number(a.to) {
		return ""
	}
	return words.English.Upper(a.What) + " cannot be " + words.Joined(" ", words.English.Number(x), a.unit) + ": " +
		words.Joined(" ", a.from, "to", a.to, a.unit) + " is possible."
}

// number is a number of a tag, which a test reads.
func number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic("account: the bound " + s + " of a field is no number")
	}
	return v
}
