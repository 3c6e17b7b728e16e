package web

import (
	"fmt"
	"strconv"
	"strings"

	"benchleaf/internal/record"
)

// field is what a field's partial shows.
type field struct {
	Shape           string // the partial: "field-" + Shape
	ID, Name, Label string
	Hint, Unit      string
	Value           string
	Needed          bool
	Keyed           bool // large keys on the page
	Side            string
	Rows            int
	Type            string // of an input
	Mode            string // inputmode
	Auto            string // autocomplete
	List            string // ID of a datalist
	Accept, Capture string // of files
	Multiple        bool
	Choices         []choice
	Refusals        []string
}

type choice struct {
	ID, Value, Words string
	On, Off          bool // chosen; cannot be chosen
}

// Described lists the IDs of what describes the control.
func (f *field) Described() string {
	var ids []string
	if f.Hint != "" {
		ids = append(ids, f.ID+"-hint")
	}
	if len(f.Refusals) > 0 {
		ids = append(ids, f.ID+"-refusal")
	}
	return strings.Join(ids, " ")
}

// Wrong says whether the field was refused.
func (f *field) Wrong() bool { return len(f.Refusals) > 0 }

// fieldMakers are the functions by which templates write fields:
//
//	{{line .Form "title" "Title" "needed"}}
//	{{number .Form "volume_ml" "Volume" "unit=mL" "hint=As read on the jug"}}
//	{{pick .Form "state" "State" .States}}
//
// Options are strings, "needed" or "name=value", and for choices a
// []record.Choice.
var fieldMakers = map[string]func(f *Form, name, label string, options []any) (*field, error){
	"line":     shape("line", func(x *field) { x.Type = "text" }),
	"secret":   shape("secret", nil), // never filled in again
	"area":     shape("area", func(x *field) { x.Rows = 3 }),
	"number":   shape("number", func(x *field) { x.Type, x.Mode = "text", "decimal" }),
	"whole":    shape("number", func(x *field) { x.Type, x.Mode = "text", "numeric" }),
	"keyed":    shape("number", func(x *field) { x.Type, x.Mode, x.Keyed = "text", "decimal", true }),
	"when":     shape("when", func(x *field) { x.Type = "datetime-local" }),
	"date":     shape("when", func(x *field) { x.Type = "date" }),
	"choose":   shape("choose", nil),
	"few":      fewField,
	"pick":     shape("pick", nil),
	"ticks":    shape("ticks", nil),
	"tick":     shape("tick", nil),
	"files":    shape("files", func(x *field) { x.Type, x.Multiple = "file", true }),
	"sheetsof": sheetsField,
	"cell":     cellField,
}

func shape(name string, prepare func(*field)) func(*Form, string, string, []any) (*field, error) {
	return func(f *Form, fieldName, label string, options []any) (*field, error) {
		x := &field{
			Shape: name, ID: f.FieldID(fieldName), Name: fieldName, Label: label,
			Value: f.Value(fieldName), Refusals: f.RefusalsAt(fieldName),
		}
		if prepare != nil {
			prepare(x)
		}
		return x, x.apply(f, options)
	}
}

// apply reads the options.
func (x *field) apply(f *Form, options []any) error {
	for _, o := range options {
		switch o := o.(type) {
		case []record.Choice:
			for i, c := range o {
				x.Choices = append(x.Choices, choice{
					ID: x.ID + "-" + strconv.Itoa(i), Value: c.Value, Words: c.Words, On: f.Has(x.Name, c.Value),
				})
			}
		case string:
			if err := x.option(f, o); err != nil {
				return err
			}
		default:
			return fmt.Errorf("an option cannot be a %T", o)
		}
	}
	return nil
}

func (x *field) option(f *Form, o string) error {
	name, value, _ := strings.Cut(o, "=")
	switch name {
	case "needed":
		x.Needed = true
	case "hint":
		x.Hint = value
	case "unit":
		x.Unit = value
	case "side":
		x.Side = value // "short": a narrow box
	case "list":
		x.List = value
	case "auto":
		x.Auto = value
	case "accept":
		x.Accept = value
	case "capture":
		x.Capture = value
	case "rows":
		n, err := strconv.Atoi(value)
		x.Rows = n
		return err
	case "now":
		// The time of showing stands in the field until another is typed.
		if x.Value == "" {
			x.Value = f.now.Format(timeValue)
		}
	case "off":
		// A choice that cannot be taken: its value.
		for i := range x.Choices {
			if x.Choices[i].Value == value {
				x.Choices[i].Off = true
			}
		}
	default:
		return fmt.Errorf("there is no option %q", o)
	}
	return nil
}

// sheetsField is a row of sheet numbers to tap: {{sheetsof .Form "sheets"
// "Sheets" .Case.Sheets}}.
func sheetsField(f *Form, name, label string, options []any) (*field, error) {
	x := &field{Shape: "sheets", ID: f.FieldID(name), Name: name, Label: label, Refusals: f.RefusalsAt(name)}
	var rest []any
	for _, o := range options {
		list, ok := o.([]int)
		if !ok {
			rest = append(rest, o)
			continue
		}
		for _, n := range list {
			v := strconv.Itoa(n)
			words := v
			if n == 0 {
				words = "Cover"
			}
			x.Choices = append(x.Choices, choice{ID: x.ID + "-" + v, Value: v, Words: words, On: f.Has(name, v)})
		}
	}
	return x, x.apply(f, rest)
}

// fewField is a choice of what the record holds: few of them stand open as chips,
// one tap each, more as a list. What may be left out can be put back.
func fewField(f *Form, name, label string, options []any) (*field, error) {
	x, err := shape("choose", nil)(f, name, label, options)
	if err != nil || len(x.Choices) == 0 || len(x.Choices) > 5 {
		return x, err
	}
	x.Shape = "pick"
	if !x.Needed {
		x.Choices = append(x.Choices, choice{ID: x.ID + "-none", Words: "not said", On: x.Value == ""})
	}
	return x, nil
}

// cellField is a field inside a table: its label is heard, not seen, since the
// column's head says it.
func cellField(f *Form, name, label string, options []any) (*field, error) {
	x := &field{
		Shape: "cell", ID: f.FieldID(name), Name: name, Label: label, Value: f.Value(name),
		Refusals: f.RefusalsAt(name),
	}
	return x, x.apply(f, options)
}
