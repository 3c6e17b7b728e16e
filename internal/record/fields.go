package record

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"
)

// Sort is what kind of value a field holds, and so how it is asked for, read
// back, checked and written.
type Sort string

const (
	AsLine     Sort = "line"
	AsText     Sort = "text"
	AsNumber   Sort = "number"
	AsWhole    Sort = "whole"
	AsSpread   Sort = "range"
	AsChosen   Sort = "choice"
	AsTick     Sort = "tick"
	AsYesNo    Sort = "yesno" // must be answered
	AsTime     Sort = "time"
	AsDate     Sort = "date"
	AsMoment   Sort = "moment" // empty in a form: when it was sent
	AsAmount   Sort = "money"
	AsCurrency Sort = "currency"
	AsSheets   Sort = "sheets"
	AsSheet    Sort = "sheet"
	AsOwn      Sort = "own" // the identifier of what the entry brings in
	AsRef      Sort = "id"  // the identifier of something in the journal
	AsRaw      Sort = "raw" // checked by the kind's own rules alone
	AsPart     Sort = "part"
)

// Field is one field of a kind of entry. It comes from the tags of the struct:
//
//	CrownMm *float64 `json:"crown_mm,omitempty" say:"the crown" in:"2..50 mm"`
//
// say is how sentences call it, label and help what stands at it in a form
// (label follows from say where it is left out), form its name there (the name
// of the JSON member where it is left out), in its bounds and unit, as its sort
// (which follows from the type where it is left out). A field without omitempty
// is needed, unless need says "no".
type Field struct {
	Name, JSON       string
	Say, Label, Help string
	Sort             Sort
	Unit             string
	Low, High        float64
	Bounded          bool
	Needed           bool
	Choices          []Choice
	// Index leads to the field in the struct, through a Place.
	Index []int

	inner []Field // of a struct, or of the elements of a list of structs
}

// tables are the fields by the type of body, filled as kinds are registered.
var tables = map[reflect.Type][]Field{}

// Fields are the fields of a body's kind, those of a Place in it among them.
func Fields(b Body) []Field {
	var flat []Field
	for _, f := range tables[reflect.TypeOf(b)] {
		if f.Sort != AsPart || !isPlace(reflect.TypeOf(b).FieldByIndex(f.Index).Type) {
			flat = append(flat, f)
			continue
		}
		for _, x := range f.inner {
			x.Index = append(f.Index[:len(f.Index):len(f.Index)], x.Index...)
			x.Needed = x.Needed || f.Needed && x.Sort == AsSheets
			flat = append(flat, x)
		}
	}
	return flat
}

func isPlace(t reflect.Type) bool { return t == reflect.TypeFor[Place]() }

// tableOf reads the tags of a struct. A tag that cannot be read is a mistake in
// the program, found when it starts.
func tableOf(t reflect.Type) []Field {
	var list []Field
	for i := range t.NumField() {
		sf := t.Field(i)
		f, err := fieldOf(sf)
		if err != nil {
			panic(fmt.Sprintf("record: %s.%s: %v", t.Name(), sf.Name, err))
		}
		f.Index = []int{i}
		list = append(list, f)
	}
	return list
}

func fieldOf(sf reflect.StructField) (Field, error) {
	json, options, _ := strings.Cut(sf.Tag.Get("json"), ",")
	f := Field{
		JSON: json, Name: sf.Tag.Get("form"), Say: sf.Tag.Get("say"), Label: sf.Tag.Get("label"), Help: sf.Tag.Get("help"),
		Sort: Sort(sf.Tag.Get("as")),
	}
	if json == "" || f.Say == "" {
		return f, fmt.Errorf("has no name or no say")
	}
	if f.Name == "" {
		f.Name = json
	}
	if f.Label == "" {
		f.Label = upper(strings.TrimPrefix(f.Say, "the "))
	}
	t := sf.Type
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Array {
		t = t.Elem()
	}
	f.Choices = vocabularies[t]
	if f.Sort == "" {
		f.Sort = sortOf(sf.Type, t, f.Choices)
	}
	if f.Sort == AsPart {
		f.inner = tableOf(t)
	}
	need := sf.Tag.Get("need")
	f.Needed = need == "sheets" || need == "" && !strings.Contains(options, "omit") && f.Sort != AsPart
	if in := sf.Tag.Get("in"); in != "" {
		bounds, unit, _ := strings.Cut(in, " ")
		low, high, ok := strings.Cut(bounds, "..")
		var err, err2 error
		f.Low, err = strconv.ParseFloat(low, 64)
		f.High, err2 = strconv.ParseFloat(high, 64)
		if f.Unit, f.Bounded = unit, true; !ok || err != nil || err2 != nil {
			return f, fmt.Errorf("its bounds %q are none", in)
		}
	}
	return f, nil
}

// sortOf is the sort that follows from the type of a field and from that of its
// elements.
func sortOf(whole, t reflect.Type, choices []Choice) Sort {
	switch {
	case choices != nil:
		return AsChosen
	case t == reflect.TypeFor[time.Time]():
		return AsTime
	case t == reflect.TypeFor[Range]():
		return AsSpread
	case whole == reflect.TypeFor[[]int]():
		return AsSheets
	}
	switch t.Kind() {
	case reflect.String:
		return AsLine
	case reflect.Float64:
		return AsNumber
	case reflect.Int:
		return AsWhole
	case reflect.Bool:
		return AsTick
	case reflect.Struct:
		return AsPart
	}
	return AsRaw
}

// Validate checks what a body alone can know: its fields, and the rules of its
// kind across them. It returns Invalid errors, joined when there are several.
func Validate(b Body) error {
	var k check
	v := reflect.Indirect(reflect.ValueOf(b))
	currency := ""
	if c := v.FieldByName("Currency"); c.IsValid() {
		currency = c.String()
	}
	k.fields(tables[v.Type()], v, currency)
	if r, ok := b.(interface{ rules(*check) }); ok {
		r.rules(&k)
	}
	return k.err()
}

func (k *check) fields(table []Field, v reflect.Value, currency string) {
	for i := range table {
		k.field(&table[i], v.FieldByIndex(table[i].Index), currency)
	}
}

// field checks one field; of a list, each of its elements.
func (k *check) field(f *Field, v reflect.Value, currency string) {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return
		}
		v = v.Elem()
	}
	if (v.Kind() == reflect.Slice || v.Kind() == reflect.Array) && f.Sort != AsSheets && f.Sort != AsRaw {
		for i := range v.Len() {
			one := *f
			one.Needed = f.Sort == AsRef
			k.field(&one, v.Index(i), currency)
		}
		return
	}
	switch f.Sort {
	case AsLine:
		if f.Needed {
			k.line(f.Name, f.Say, v.String())
		} else {
			k.maybeLine(f.Name, f.Say, v.String())
		}
	case AsText:
		if f.Needed {
			k.needText(f.Name, f.Say, v.String())
		} else {
			k.text(f.Name, f.Say, v.String())
		}
	case AsNumber:
		if f.Bounded {
			k.number(f.Name, f.Say, v.Float(), f.Low, f.High, f.Unit)
		}
	case AsWhole:
		if f.Bounded {
			k.number(f.Name, f.Say, float64(v.Int()), f.Low, f.High, f.Unit)
		}
	case AsSpread:
		if f.Bounded {
			r := v.Interface().(Range)
			k.maybeRange(f.Name, f.Say, &r, f.Low, f.High, f.Unit)
		}
	case AsChosen:
		if f.Needed || v.String() != "" {
			k.choice(f.Name, f.Say, v.String(), f.Choices)
		}
	case AsTime, AsDate, AsMoment:
		k.when(f.Name, f.Say, v.Interface().(time.Time), f.Needed)
	case AsAmount:
		k.money(f.Name, f.Say, v.Int(), currency)
	case AsCurrency:
		k.currency(f.Name, v.String(), f.Needed)
	case AsSheets:
		if f.Needed && v.Len() == 0 {
			k.refuse(f.Name, "No sheet is chosen: at least one is needed.")
		} else {
			k.sheets(f.Name, v.Interface().([]int))
		}
	case AsSheet:
		k.sheets(f.Name, []int{int(v.Int())})
	case AsOwn, AsRef:
		if f.Needed || v.String() != "" {
			k.id(f.Name, f.Say, v.String())
		}
	case AsPart:
		inner := f.inner
		if f.Needed { // a place that must name its sheets
			inner = append([]Field(nil), inner...)
			inner[0].Needed = true
		}
		k.fields(inner, v, currency)
	}
}
