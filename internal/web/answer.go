package web

import (
	"net/http"
	"net/url"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/words"
)

// factOf is a fact of account in the parts that a page sets apart.
func factOf(x account.Fact) Fact {
	f := Fact{Code: x.Code, Name: x.Name, Value: x.Text, Basis: words.Joined(" ", x.RestsOn, x.Limit), Good: x.Good}
	if x.Figure != nil {
		f.Value, f.Range = words.English.Parts(*x.Figure)
		f.Range = strings.Replace(f.Range, "± ", "±"+words.NBSP, 1)
		f.Unit = x.Figure.Unit
	}
	return f
}

func factsOf(list []account.Fact) []Fact {
	var out []Fact
	for _, x := range list {
		out = append(out, factOf(x))
	}
	return out
}

// ask reads a question of account from its form: what cannot be read or lies
// outside its bounds is refused at its field.
func ask(f *Form, question any) {
	for _, x := range account.Fields(question) {
		n := len(f.Refused)
		switch v := x.Value.(type) {
		case *float64:
			*v = f.Number(x.Name, x.What)
		case **float64:
			*v = f.MaybeNumber(x.Name, x.What)
		case *int:
			*v = f.Whole(x.Name, x.What)
		case **int:
			*v = f.MaybeWhole(x.Name, x.What)
		case *bool:
			*v = f.Tick(x.Name)
		case *string:
			*v = f.Line(x.Name)
		case *[]string:
			*v = f.List(x.Name)
		}
		if say := x.Outside(); say != "" && len(f.Refused) == n {
			f.Refuse(x.Name, "%s", say)
		}
	}
}

// fails puts the sentence of an answer that could not be computed at a field.
func (f *Form) fails(field string, err error) {
	f.Refuse(field, "%s.", words.English.Upper(strings.TrimSuffix(err.Error(), ".")))
}

// starts are the values that a question begins with.
func starts(question any) fills {
	fill := fills{}
	for _, x := range account.Fields(question) {
		fill.text(x.Name, x.Start)
	}
	return fill
}

// askedFor is the form that came with the address of a page; fill holds the
// values of the fields that the address does not name.
func (s *Server) askedFor(r *http.Request, name string, fill fills) *Form {
	q := r.URL.Query()
	for k, v := range fill {
		if !q.Has(k) {
			q.Set(k, v)
		}
	}
	return s.formOf(r, name, q)
}

// asked is askedFor with a question read from it.
func (s *Server) asked(r *http.Request, name string, question any) *Form {
	f := s.askedFor(r, name, starts(question))
	ask(f, question)
	return f
}

// changed is a query with one of its values changed.
func changed(q url.Values, key, value string) url.Values {
	out := url.Values{}
	for k, v := range q {
		out[k] = v
	}
	out[key] = []string{value}
	return out
}

// filled are the values that a question has, as its form would show them.
func filled(question any) fills {
	fill := fills{}
	for _, x := range account.Fields(question) {
		switch v := x.Value.(type) {
		case *float64:
			fill.plain(x.Name, *v)
		case **float64:
			fill.number(x.Name, *v)
		case *int:
			fill.whole(x.Name, v)
		case *string:
			fill.text(x.Name, *v)
		case *bool:
			if *v {
				fill[x.Name] = "yes"
			}
		}
	}
	return fill
}
