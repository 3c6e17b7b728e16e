package web

import (
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

//go:embed all:templates
var templateFiles embed.FS

// templates are the pages by name, and the partials that functions execute.
type templates struct {
	shared   *template.Template // layout and partials; never executed, so that it can be cloned
	partials *template.Template
	pages    map[string]*template.Template
}

// parseTemplates parses every declared view. Files whose names begin with an
// underscore hold what pages share.
func (s *Server) parseTemplates() (*templates, error) {
	folder := mustSub(templateFiles, "templates")
	t := &templates{pages: map[string]*template.Template{}}
	var err error
	t.shared, err = template.New("shared").Funcs(s.functions(t)).ParseFS(folder, "_*.html")
	if err != nil {
		return nil, err
	}
	if t.partials, err = t.shared.Clone(); err != nil {
		return nil, err
	}
	for _, name := range views {
		if t.pages[name], err = t.page(folder, name); err != nil {
			return nil, err
		}
	}
	return t, undeclared(folder)
}

// page parses one page on a copy of what is shared.
func (t *templates) page(folder fs.FS, name string) (*template.Template, error) {
	p, err := t.shared.Clone()
	if err != nil {
		return nil, err
	}
	return p.ParseFS(folder, name+".html")
}

// undeclared reports the files that no view shows.
func undeclared(folder fs.FS) error {
	files, err := fs.Glob(folder, "*.html")
	if err != nil {
		return err
	}
	var errs []error
	for _, f := range files {
		name := strings.TrimSuffix(f, ".html")
		if !strings.HasPrefix(f, "_") && !slices.Contains(views, name) {
			errs = append(errs, fmt.Errorf("templates/%s belongs to no view: declare it", f))
		}
	}
	return errors.Join(errs...)
}

// Template is a page from the caller's folder, with the layout and partials of
// the server's own, for looking at them outside this package. Execute
// "layout" with a struct that embeds Page.
func (s *Server) Template(folder fs.FS, name string) (*template.Template, error) {
	return s.templates.page(folder, name)
}

// functions are what templates may call. docs/look.md lists them for authors.
func (s *Server) functions(t *templates) template.FuncMap {
	f := template.FuncMap{
		"asset": s.assets.url,
		"icon":  icon,
		"sign":  sign,
		"clock": func(at time.Time) string { return s.words().At(at) },
		"hour":  func(at time.Time) string { return s.words().Time(at) },
		"day":   func(at time.Time) string { return s.words().Day(at) },

		"daytime":      func(at time.Time) string { return s.words().Moment(at) },
		"iso":          func(at time.Time) string { return at.UTC().Format("2006-01-02T15:04:05.000Z") },
		"fig":          fig,
		"say":          func(f account.Fact) string { return f.Value(words.English) },
		"read":         func(b record.Reading) string { return account.Value(&b) },
		"unit":         account.UnitOf,
		"quantityName": account.QuantityName,
		"positions":    positionChoices,
		"shortday":     func(at time.Time) string { return s.words().ShortDay(at) },
		"fact":         factOf,
		"facts":        factsOf,
		"span":         span,
		"sheets":       record.SheetNames,
		"words":        wordsOf,
		"plural":       plural,
		"money":        words.English.Money,
		"amount":       amount,
		"path":         casePath,
		"upper":        upperFirst,
		"join":         strings.Join,
		"choices":      choicesOf,
		"mouldCaution": mouldCaution,
		"bladeCaution": bladeCaution,
		"yesNo":        yesNo,
		"uvCaution":    uvCaution,
		"hatches":      hatches,
		"stripBars":    stripBars,
		"slug":         faceSlug,
		"json":         jsonText,
		"severities":   severityChoices,
		"operation":    treatment.Name,
		"next":         func(n int) int { return n + 1 },
		"emptyMakeUp":  emptyMakeUp,
		"emptyFaces":   emptyFaces,
		"faceOn":       faceOn,
		"workForm":     workForm,
		"leaving":      func(f *Form, gates []account.LeaveGate) leavingView { return leavingView{f, gates} },
		"card":         func(p benchPage, x runCard) cardView { return cardView{p.Case, x} },
		"blotting":     func(id record.CaseID, f *Form) blotView { return blotView{id, f} },
		"fieldsOf":     func(names ...string) []string { return names },
	}
	write := func(name string, form *Form, field, label string, options []any) (template.HTML, error) {
		x, err := fieldMakers[name](form, field, label, options)
		if err != nil {
			return "", fmt.Errorf("%s %q: %w", name, field, err)
		}
		var b strings.Builder
		err = t.partials.ExecuteTemplate(&b, "field-"+x.Shape, x)
		return template.HTML(b.String()), err
	}
	f["ask"] = func(form *Form, field string, options ...any) (template.HTML, error) {
		shape, label, all, err := askFor(form, field, options)
		if err != nil {
			return "", err
		}
		if shape != "spread" {
			return write(shape, form, field, label, all)
		}
		var html template.HTML
		for i, end := range []string{"low", "best", "high"} {
			x, err := write("number", form, field+"_"+end, []string{label + ", low", "best", "high"}[i], all)
			if err != nil {
				return "", err
			}
			html += x
		}
		return html, nil
	}
	f["told"] = func(c *record.Case, b record.Body) string { return account.Said(c, b) }
	for name := range fieldMakers {
		f[name] = func(form *Form, field, label string, options ...any) (template.HTML, error) {
			return write(name, form, field, label, options)
		}
	}
	return f
}

// wordsOf is record.WordsOf for templates, which know no type of value.
func wordsOf(list []record.Choice, value any) string { return record.WordsOf(list, fmt.Sprint(value)) }
