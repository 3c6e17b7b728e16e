package web

import (
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/condition"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// bodyOf reads a body back from its form, field by field; see record.Field. What
// cannot be read is refused at its field.
func bodyOf[B record.Body](f *Form) B {
	var b B
	v := reflect.ValueOf(&b).Elem()
	for _, x := range record.Fields(b) {
		f.read(v.FieldByIndex(x.Index), &x)
	}
	return b
}

func (f *Form) read(v reflect.Value, x *record.Field) {
	switch x.Sort {
	case record.AsLine, record.AsCurrency, record.AsChosen, record.AsRef, record.AsRaw:
		switch {
		case v.Kind() == reflect.String && x.Sort == record.AsCurrency:
			v.SetString(strings.ToUpper(f.Line(x.Name)))
		case v.Kind() == reflect.String:
			v.SetString(f.Line(x.Name))
		case v.Type() == reflect.TypeFor[[]string]():
			v.Set(reflect.ValueOf(f.List(x.Name)))
		case v.Type() == reflect.TypeFor[[]condition.Shape]():
			shapes, err := condition.ParseShapes(f.Text(x.Name))
			if err != nil {
				f.Refuse(x.Name, "%s.", words.English.Upper(err.Error()))
			}
			v.Set(reflect.ValueOf(shapes))
		}
	case record.AsText:
		if v.Kind() == reflect.String {
			v.SetString(f.Text(x.Name))
		}
	case record.AsNumber:
		f.readNumber(v, x)
	case record.AsWhole, record.AsSheet:
		switch n := f.MaybeWhole(x.Name, x.Say); {
		case n != nil && v.Kind() == reflect.Pointer:
			v.Set(reflect.ValueOf(n))
		case n != nil:
			v.SetInt(int64(*n))
		case x.Needed && f.Line(x.Name) == "":
			f.Refuse(x.Name, "%s is missing: please enter it.", words.English.Upper(x.Say))
		}
	case record.AsSpread:
		if v.Kind() == reflect.Pointer {
			v.Set(reflect.ValueOf(rangeOf(f, x.Name, x.Name, x.Say)))
		}
	case record.AsTick:
		v.SetBool(f.Line(x.Name) == "yes")
	case record.AsYesNo:
		if v.SetBool(f.Line(x.Name) == "yes"); f.Line(x.Name) == "" {
			f.Refuse(x.Name, "Say %s: yes or no.", x.Say)
		}
	case record.AsTime:
		v.Set(reflect.ValueOf(f.Time(x.Name, x.Say)))
	case record.AsDate:
		v.Set(reflect.ValueOf(f.Date(x.Name, x.Say)))
	case record.AsMoment:
		v.Set(reflect.ValueOf(happened(f, x.Name, x.Say)))
	case record.AsAmount:
		v.SetInt(f.Money(x.Name, x.Say))
	case record.AsSheets:
		v.Set(reflect.ValueOf(f.Sheets(x.Name)))
	case record.AsOwn:
		v.SetString(orElse(f.Line(x.Name), f.ID(0)))
	}
}

func (f *Form) readNumber(v reflect.Value, x *record.Field) {
	switch {
	case v.Kind() == reflect.Slice:
		v.Set(reflect.ValueOf(minutesOf(f, x.Name)))
	case v.Kind() == reflect.Pointer:
		v.Set(reflect.ValueOf(f.MaybeNumber(x.Name, x.Say)))
	case v.Kind() == reflect.Float64 && x.Needed:
		v.SetFloat(f.Number(x.Name, x.Say))
	case v.Kind() == reflect.Float64:
		if n := f.MaybeNumber(x.Name, x.Say); n != nil {
			v.SetFloat(*n)
		}
	}
}

// bodyForm makes the form of a body to show, with what it starts from: an entry
// that is changed, or what is carried over. Numbers that are not said and 0 look
// alike in a body: whole leaves the zeros of needed fields in.
func (s *Server) bodyForm(r *http.Request, name string, seq int64, b record.Body, whole bool, extra fills) *Form {
	f := s.form(r, name, seq, nil)
	f.table = record.Fields(b)
	if len(f.Refused) > 0 || f.Clash != nil {
		return f // what was typed stays
	}
	v := reflect.ValueOf(b)
	for i := range f.table {
		x := &f.table[i]
		fill(f.values, v.FieldByIndex(x.Index), x, whole, s.zone, currencyIn(v))
	}
	for k, v := range extra {
		f.values.Set(k, v)
	}
	return f
}

// valueAt is a field of a body.
func valueAt(b record.Body, index []int) reflect.Value { return reflect.ValueOf(b).FieldByIndex(index) }

func currencyIn(v reflect.Value) string {
	if c := v.FieldByName("Currency"); c.IsValid() {
		return c.String()
	}
	return ""
}

func fill(to url.Values, v reflect.Value, x *record.Field, whole bool, zone *time.Location, currency string) {
	if v.IsZero() && (!whole || !x.Needed) {
		return
	}
	if v.Kind() == reflect.Pointer {
		v = v.Elem()
	}
	switch a := v.Interface().(type) {
	case float64:
		to.Set(x.Name, plainNumber(a))
	case int:
		to.Set(x.Name, strconv.Itoa(a))
	case int64:
		if x.Sort == record.AsAmount {
			to.Set(x.Name, amount(a, currency))
		}
	case bool:
		if a || x.Sort == record.AsYesNo {
			to.Set(x.Name, map[bool]string{true: "yes", false: "no"}[a])
		}
	case time.Time:
		layout := timeValue
		if x.Sort == record.AsDate {
			layout = dateValue
		}
		if !a.IsZero() {
			to.Set(x.Name, a.In(zone).Format(layout))
		}
	case record.Range:
		to.Set(x.Name+"_low", plainNumber(a.Low))
		to.Set(x.Name+"_best", plainNumber(a.Best))
		to.Set(x.Name+"_high", plainNumber(a.High))
	case []int:
		for _, n := range a {
			to.Add(x.Name, strconv.Itoa(n))
		}
	case []string:
		to[x.Name] = slices.Clone(a)
	case []float64:
		to.Set(x.Name, account.Minutes(a))
	case []condition.Shape:
		to.Set(x.Name, condition.WriteShapes(a))
	default:
		if v.Kind() == reflect.String {
			to.Set(x.Name, v.String())
		}
	}
}

// field finds a field of the form's body by its name in the form.
func (f *Form) field(name string) *record.Field {
	for i := range f.table {
		if f.table[i].Name == name {
			return &f.table[i]
		}
	}
	return nil
}

// shapeOf is the partial that asks for a field. Long lists are chosen from, short
// ones stand open as chips.
func shapeOf(x *record.Field) string {
	switch x.Sort {
	case record.AsText:
		return "area"
	case record.AsNumber:
		return "number"
	case record.AsWhole, record.AsSheet:
		return "whole"
	case record.AsAmount:
		return "number"
	case record.AsChosen, record.AsYesNo:
		return "pick"
	case record.AsTick:
		return "tick"
	case record.AsSheets:
		return "sheetsof"
	case record.AsDate:
		return "date"
	case record.AsTime, record.AsMoment:
		return "when"
	case record.AsSpread:
		return "spread"
	}
	return "line"
}

// askFor gives the maker of a field's partial, its label and its options, as its
// table has them; a page may add to them: {{ask .Form "crown_mm"}}. "as=keyed"
// asks in another shape, "label=" under another label.
func askFor(f *Form, name string, options []any) (shape, label string, all []any, err error) {
	x := f.field(name)
	if x == nil {
		return "", "", nil, record.Invalidf(name, "the form %q has no field %q", f.Name, name)
	}
	shape, label = shapeOf(x), x.Label
	if x.Needed && x.Sort != record.AsMoment {
		all = append(all, "needed")
	}
	if x.Unit != "" {
		all = append(all, "unit="+x.Unit)
	}
	switch {
	case x.Sort == record.AsMoment:
		all = append(all, "hint=Empty: now")
	case x.Help != "":
		all = append(all, "hint="+x.Help)
	}
	switch x.Sort {
	case record.AsCurrency:
		all = append(all, "side=short")
	case record.AsYesNo:
		all = append(all, yesNo())
	case record.AsText:
		all = append(all, "rows=2")
	}
	if x.Choices != nil {
		all = append(all, x.Choices)
	}
	for _, o := range options {
		s, _ := o.(string)
		if v, ok := strings.CutPrefix(s, "as="); ok {
			shape = v
		} else if v, ok := strings.CutPrefix(s, "label="); ok {
			label = v
		} else {
			all = append(all, o)
		}
	}
	return shape, label, all, nil
}
