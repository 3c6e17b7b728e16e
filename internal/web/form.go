package web

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/words"
)

// Form is one form of a page: what it shows, or what came back in it, and what
// was refused. Handlers make one to show by Server.form, and get the one that
// was sent by Server.sent.
type Form struct {
	// Name tells the forms of a page apart; it begins the IDs of the fields.
	Name string
	// Key is made anew with each form that is shown. A form that arrives twice
	// has the same key and is acted on once; see once.go.
	Key string
	// Seq is the last entry of the journal that the page knew.
	Seq int64
	// By holds the initials that stood on the page.
	By string
	// Pressed is when the button was pressed, which is earlier than the
	// arrival when the network was away. Zero when the browser does not say.
	Pressed time.Time
	// Refused are the sentences, in the order of the form.
	Refused []*record.Invalid
	// Clash is set when others wrote since the page was made.
	Clash *Clash

	values url.Values
	table  []record.Field // of the body that it asks for
	now    time.Time      // in the bench's zone
}

// Clash is what others wrote meanwhile, for the person to look at.
type Clash struct{ Lines []account.Line }

// form makes the form of a page to show. fill holds the values it starts with.
// When the request is a form of the same name that was refused, it is that one,
// with what was typed in it.
func (s *Server) form(r *http.Request, name string, seq int64, fill map[string]string) *Form {
	if back := refusedOf(r.Context()); back != nil && back.form.Name == name {
		return back.form
	}
	f := &Form{
		Name:   name,
		Key:    record.NewID(s.now()),
		Seq:    seq,
		By:     writerOf(r),
		now:    s.now().In(s.zone),
		values: url.Values{},
	}
	for k, v := range fill {
		f.values.Set(k, v)
	}
	return f
}

// maxForm is the most bytes of a form without files.
const maxForm = 1 << 20

// sent reads the form that came with a request.
func (s *Server) sent(w http.ResponseWriter, r *http.Request, name string) (*Form, error) {
	limitBody(w, r, maxForm)
	if err := r.ParseForm(); err != nil {
		if errors.As(err, new(*http.MaxBytesError)) {
			return nil, err
		}
		return nil, record.Invalidf("", "The form did not arrive as one of this bench (%v): nothing was saved. Load its "+
			"page again.", err)
	}
	return s.formOf(r, name, r.PostForm), nil
}

// formOf makes a form of values that were read otherwise (from a form with
// files).
func (s *Server) formOf(r *http.Request, name string, values url.Values) *Form {
	f := &Form{
		Name:   name,
		Key:    values.Get("key"),
		By:     strings.TrimSpace(values.Get("by")),
		now:    s.now().In(s.zone),
		values: values,
	}
	if !record.IsID(f.Key) {
		f.Key = record.NewID(s.now())
	}
	if f.By == "" {
		f.By = writerOf(r)
	}
	f.Seq, _ = strconv.ParseInt(values.Get("seq"), 10, 64) // a form without one knew nothing: 0
	if t, err := time.Parse(time.RFC3339, values.Get("pressed")); err == nil {
		// A device whose clock is far off says nothing.
		if now := s.now(); t.After(now.Add(-7*24*time.Hour)) && t.Before(now.Add(10*time.Minute)) {
			f.Pressed = t
		}
	}
	return f
}

// Set gives a field its value, where the handler knows better than the browser.
func (f *Form) Set(field, value string) {
	if f.values == nil {
		f.values = url.Values{}
	}
	f.values.Set(field, value)
}

// Value is what stands in a field, as typed.
func (f *Form) Value(field string) string { return f.values.Get(field) }

// Has says whether value is among those of a field.
func (f *Form) Has(field, value string) bool { return slices.Contains(f.values[field], value) }

// Line is a one-line text, without blanks at its ends.
func (f *Form) Line(field string) string { return strings.TrimSpace(f.values.Get(field)) }

// Text is a text of several lines.
func (f *Form) Text(field string) string {
	return strings.TrimSpace(strings.ReplaceAll(f.values.Get(field), "\r\n", "\n"))
}

// Tick says whether a tick is set.
func (f *Form) Tick(field string) bool { return f.values.Get(field) != "" }

// List is every value of a field, as of ticks with the same name.
func (f *Form) List(field string) []string { return f.values[field] }

// At is when it happened, where the form says nothing else: the moment of the
// press, or of the arrival where the browser does not tell.
func (f *Form) At() time.Time {
	if f.Pressed.IsZero() {
		return f.now
	}
	return f.Pressed.In(f.now.Location())
}

// Refuse adds a sentence at a field.
func (f *Form) Refuse(field, format string, args ...any) {
	f.Refused = append(f.Refused, &record.Invalid{Field: field, Say: fmt.Sprintf(format, args...)})
}

// Number is a required number; what names it for the person, as in "the pH".
func (f *Form) Number(field, what string) float64 {
	if f.Line(field) == "" {
		f.Refuse(field, "Please enter %s.", what)
		return 0
	}
	if v := f.MaybeNumber(field, what); v != nil {
		return *v
	}
	return 0
}

// MaybeNumber is a number that may be left out. A decimal comma counts as a
// point.
func (f *Form) MaybeNumber(field, what string) *float64 {
	typed := f.Line(field)
	if typed == "" {
		return nil
	}
	v, err := parseNumber(typed)
	if err != nil {
		f.Refuse(field, "%s cannot be %q: a number such as 7.9 is expected.", upperFirst(what), clip(typed))
		return nil
	}
	return &v
}

func parseNumber(s string) (float64, error) {
	s = strings.NewReplacer("−", "-", "\u00a0", "", "\u202f", "", " ", "").Replace(s)
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	// ParseFloat also reads words and hexadecimal figures, which nobody means.
	if strings.ContainsFunc(s, func(r rune) bool { return !strings.ContainsRune("0123456789.+-eE", r) }) {
		return 0, strconv.ErrSyntax
	}
	v, err := strconv.ParseFloat(s, 64)
	if err == nil && math.IsInf(v, 0) {
		err = strconv.ErrRange
	}
	return v, err
}

// Whole is a required whole number.
func (f *Form) Whole(field, what string) int {
	v := f.MaybeWhole(field, what)
	if v == nil && f.Line(field) == "" {
		f.Refuse(field, "Please enter %s.", what)
	}
	if v == nil {
		return 0
	}
	return *v
}

// MaybeWhole is a whole number that may be left out.
func (f *Form) MaybeWhole(field, what string) *int {
	typed := f.Line(field)
	if typed == "" {
		return nil
	}
	v, err := strconv.Atoi(typed)
	if err != nil {
		f.Refuse(field, "%s cannot be %q: a whole number such as 9 is expected.", upperFirst(what), clip(typed))
		return nil
	}
	return &v
}

// Currency is the code of the form's currency, in capitals.
func (f *Form) Currency() string { return strings.ToUpper(f.Line("currency")) }

// Money is an amount in minor units of the form's currency; 0 when left out.
func (f *Form) Money(field, what string) int64 {
	typed := f.Line(field)
	if typed == "" {
		return 0
	}
	m, err := words.English.ParseMoney(typed, f.Currency())
	if err != nil {
		f.Refuse(field, "%s %s.", words.English.Upper(what), err)
	}
	return m.Minor
}

// Sheets are the sheets whose ticks are set, in order.
func (f *Form) Sheets(field string) []int { return f.numbered(field, "sheet") }

// numbered are the things whose ticks are set, by their numbers, in order.
func (f *Form) numbered(field, what string) []int {
	var list []int
	for _, v := range f.values[field] {
		n, err := strconv.Atoi(v)
		if err != nil {
			f.Refuse(field, "%q is no %s.", clip(v), what)
			return nil
		}
		list = append(list, n)
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// Times as fields hold them.
const (
	timeValue = "2006-01-02T15:04"
	dateValue = "2006-01-02"
)

// Time is a date and time in the bench's zone; zero when left out.
func (f *Form) Time(field, what string) time.Time {
	return f.time(
		field,
		what,
		"a date and a time are expected, as in 2030-05-14T18:30",
		timeValue,
		"2006-01-02T15:04:05",
		"2006-01-02 15:04",
	)
}

// Date is a day; zero when left out.
func (f *Form) Date(field, what string) time.Time {
	return f.time(field, what, "a date is expected, as in 2030-05-14", dateValue)
}

func (f *Form) time(field, what, want string, layouts ...string) time.Time {
	typed := f.Line(field)
	if typed == "" {
		return time.Time{}
	}
	for _, l := range layouts {
		if t, err := time.ParseInLocation(l, typed, f.now.Location()); err == nil && !t.IsZero() {
			return t
		}
	}
	f.Refuse(field, "%s cannot be %q: %s.", upperFirst(what), clip(typed), want)
	return time.Time{}
}

// ID makes the nth identifier of a thing that this form brings into the
// record. It follows from the form's key, so that a form that is sent again
// makes the same things.
func (f *Form) ID(n int) string { return idFrom(f.Key, n) }

// RefusalsAt are the sentences at a field.
func (f *Form) RefusalsAt(field string) []string {
	var list []string
	for _, x := range f.Refused {
		if x.Field == field && x.Say != "" {
			list = append(list, x.Say)
		}
	}
	return list
}

// FieldID is the ID of a field's control on the page.
func (f *Form) FieldID(field string) string { return f.Name + "-" + field }

// take adds what the record refused, leaving out fields that could not even be
// read: their first sentence says enough.
func (f *Form) take(list []*record.Invalid) {
	for _, x := range list {
		if x.Field != "" && len(f.RefusalsAt(x.Field)) > 0 {
			continue
		}
		f.Refused = append(f.Refused, x)
	}
}

// refused carries a form back to its page.
type refused struct {
	form *Form
	err  error
}

func (b *refused) status() int {
	if b == nil {
		return http.StatusOK
	}
	return statusOf(b.err)
}

type refusedKey struct{}

func refusedOf(ctx context.Context) *refused {
	b, _ := ctx.Value(refusedKey{}).(*refused)
	return b
}

// again shows the page of a form that was refused, with what was typed.
func again(w http.ResponseWriter, r *http.Request, f *Form, err error, page handler) error {
	if sentByOutbox(r) {
		return tellRefused(w, statusOf(err), f)
	}
	back := &refused{form: f, err: err}
	return page(w, r.WithContext(context.WithValue(r.Context(), refusedKey{}, back)))
}

// errRefused stands for sentences that are already in the form.
var errRefused = &record.Invalid{}

// clashOf prepares what others wrote for the page.
func (s *Server) clashOf(ctx context.Context, x *store.Clash) (*Clash, error) {
	c, journal := (*record.Case)(nil), (*record.Journal)(nil)
	if x.Case == record.StudioID {
		st, err := s.store.Studio(ctx)
		if err != nil {
			return nil, err
		}
		journal = &st.Journal
	} else {
		var err error
		if c, err = s.store.Case(ctx, x.Case); err != nil {
			return nil, err
		}
		journal = &c.Journal
	}
	list := &Clash{}
	for _, e := range x.Since {
		list.Lines = append(list.Lines, account.Tell(c, &journal.Log[e.Seq-1], s.words()))
	}
	return list, nil
}
