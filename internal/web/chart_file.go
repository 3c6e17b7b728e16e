package web

import (
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
)

// chartFileView takes a chart's reference values from the file that came with
// it.
var chartFileView = declare[chartFileFormPage]("chart_file")

type chartFileFormPage struct {
	studioFormPage
	// Held says what the file holds, when one is kept.
	Held string
}

func (p chartFileFormPage) base() Page { return p.Page }

func (s *Server) chartFilePage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	fill := fills{"back": q.Get("back")}
	id := q.Get("chart")
	if back := refusedOf(r.Context()); back != nil {
		id = back.form.Line("chart")
	}
	x := st.Chart(id)
	p := chartFileFormPage{}
	if x != nil {
		fill.text("chart", x.ID).
			text("chart_name", x.Name).
			text("chart_source", x.Source).
			plain("chart_rows", float64(x.Rows)).
			plain("chart_columns", float64(x.Columns))
		if x.Retired {
			fill["retired"] = "yes"
		}
		p.Held = account.ChartText(x) + ", from " + orElse(x.FileName, "a file")
	}
	p.studioFormPage = studioFormPage{
		Page: s.studioSub(r, "Colour chart"),
		Form: s.form(r, "chartfile", st.LastSeq, fill),
		St:   st,
		Is:   x != nil,
	}
	return chartFileView.show(s, w, r, p)
}

func (s *Server) chartFileSave(w http.ResponseWriter, r *http.Request) error {
	limitBody(w, r, maxForm)
	values, name, data, err := receiveText(r, "chart_file")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	values.Set("chart_file", string(data)) // another file makes another form
	f := s.formOf(r, "chartfile", values)
	b := record.ChartFile{
		ID:       f.Line("chart"),
		Name:     f.Line("chart_name"),
		Source:   f.Line("chart_source"),
		FileName: name,
		Text:     textOfFile(data),
		Retired:  f.Tick("retired"),
	}
	if was := st.Chart(b.ID); was != nil && len(data) == 0 {
		b.FileName, b.Text = was.FileName, was.Text
	}
	if b.ID == "" {
		b.ID = f.ID(0)
	}
	b.Rows, b.Columns = layoutOf(f, b.Text)
	to := "/studio#charts"
	return s.save(
		w,
		r,
		f,
		Saving{Case: record.StudioID, Items: items(b), To: backOr(f, to), Said: "Saved: " + b.Name + "."},
		s.chartFilePage,
	)
}

// layoutOf is how the patches lie: as typed, else as the file tells.
func layoutOf(f *Form, text string) (rows, columns int) {
	typedRows := f.MaybeWhole("chart_rows", "the number of rows")
	typedColumns := f.MaybeWhole("chart_columns", "the number of columns")
	// What cannot be read is refused when it is saved, with a sentence.
	n, rows, columns, _ := pictures.ChartPatches(text)
	switch {
	case typedRows != nil && typedColumns != nil:
		rows, columns = *typedRows, *typedColumns
	case typedRows != nil && *typedRows > 0 && n%*typedRows == 0:
		rows, columns = *typedRows, n / *typedRows
	case typedColumns != nil && *typedColumns > 0 && n%*typedColumns == 0:
		rows, columns = n / *typedColumns, *typedColumns
	case typedRows != nil || typedColumns != nil:
		f.Refuse("chart_rows", "The chart’s %d patches do not lie in so many equal rows: enter rows and columns.", n)
	case rows == 0 && n > 0:
		f.Refuse("chart_rows", "The file does not tell how its %d patches lie: enter rows and columns.", n)
	}
	return rows, columns
}

// textOfFile is the text of a file. One that is not UTF-8 is taken for Latin-1,
// as older programs write it.
func textOfFile(data []byte) string {
	data = []byte(strings.TrimPrefix(string(data), "\ufeff"))
	if utf8.Valid(data) {
		return string(data)
	}
	var b strings.Builder
	for _, c := range data {
		b.WriteRune(rune(c))
	}
	return b.String()
}

// receiveText reads a form with one small file.
func receiveText(r *http.Request, field string) (values url.Values, name string, data []byte, err error) {
	in, err := r.MultipartReader()
	if err != nil {
		return nil, "", nil, record.Invalidf(field, "The form did not arrive whole: send it again.")
	}
	values = url.Values{}
	for {
		part, err := in.NextPart()
		if errors.Is(err, io.EOF) {
			return values, name, data, nil
		}
		if err != nil {
			return nil, "", nil, brokenOff(err)
		}
		b, err := io.ReadAll(part)
		if err != nil {
			return nil, "", nil, brokenOff(err)
		}
		if part.FormName() == field {
			if part.FileName() != "" && name != "" {
				return nil, "", nil, record.Invalidf(field, "Choose one file: a chart has one set of values.")
			}
			if part.FileName() != "" {
				name, data = plainName(part.FileName()), b
			}
			continue
		}
		values.Add(part.FormName(), string(b))
	}
}
