package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesScan(mux *http.ServeMux) {
	mux.Handle("GET /scan", s.do(s.scan))
	mux.Handle("GET /cases/{case}/labels", s.doCase(s.caseLabels))
	mux.Handle("GET /solutions/codes", s.do(s.shelfLabels))
}

// scanPage gathers what was scanned, in its address, until something can be done with it.
type scanPage struct {
	Page
	Form  *Form
	Got   []scanned
	Said  []string
	Acts  []scanAct
	Go    *Form // to start another operation on what was scanned
	C     *record.Case
	Ops   []record.Choice
	Carry url.Values
	// Add is the address to which the next code is added.
	Add string
}

type scanned struct{ Name, Without string }

type scanAct struct{ Say, Href string }

var scanView = declare[scanPage]("scan")

func (s *Server) scan(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	p := scanPage{Page: s.page(r, "Scan"), Carry: url.Values{}}
	p.Section = "cases"
	f := s.form(r, "scan", 0, nil)
	p.Form = f
	codes := q["got"]
	if code := q.Get("code"); code != "" && !slices.Contains(codes, code) {
		codes = append(codes, code)
	}
	var tray, bottle string
	var sheets []int
	var kept []string
	for _, code := range codes {
		l, err := account.ReadLabel(code)
		name := ""
		if err == nil {
			name, err = s.nameLabel(r, &p, l)
		}
		if list, refused := record.Refusals(err); refused && len(list) > 0 {
			f.take(list)
			continue
		} else if err != nil {
			return err
		}
		switch {
		case l.Bottle != "":
			bottle = l.Bottle
		case l.Tray != "":
			tray = l.Tray
		default:
			sheets = append(sheets, l.Sheet)
		}
		kept = append(kept, code)
		p.Got = append(p.Got, scanned{Name: name})
	}
	for i := range p.Got {
		p.Got[i].Without = "/scan?" + url.Values{"got": slices.Delete(slices.Clone(kept), i, i+1)}.Encode()
	}
	p.Add = "/scan?" + url.Values{"got": kept}.Encode()
	p.Carry["got"] = kept
	s.scanActs(&p, sheets, tray, bottle)
	if len(f.Refused) > 0 {
		p.status = http.StatusUnprocessableEntity
	}
	return scanView.show(s, w, r, p)
}

// nameLabel finds what a label names.
func (s *Server) nameLabel(r *http.Request, p *scanPage, l account.Label) (string, error) {
	switch {
	case l.Tray != "":
		return upperFirst(l.Tray), nil
	case l.Bottle != "":
		st, err := s.store.Studio(r.Context())
		if err != nil {
			return "", err
		}
		b := st.Bottle(l.Bottle)
		if b == nil {
			return "", record.Invalidf("code", "This label names a bottle that is not on this studio’s shelf.")
		}
		if b.Emptied != nil {
			return "", record.Invalidf("code", "The bottle %s is empty by the record.", b.Body.Name)
		}
		return b.Body.Name, nil
	}
	c, err := s.store.Case(r.Context(), l.Case)
	if err == store.ErrNotFound || err == nil && !slices.Contains(c.Sheets(), l.Sheet) {
		return "", record.Invalidf("code", "This label names a sheet of a case that is not in this studio.")
	}
	if err != nil {
		return "", err
	}
	if p.C != nil && p.C.ID != c.ID {
		return "", record.Invalidf("code", "This sheet is of case %s, those before of %s: a run is started from one case, "+
			"and sheets of another are added in its form.", c.Number, p.C.Number)
	}
	p.C = c
	return c.Number + ", " + record.SheetName(l.Sheet), nil
}

// scanActs says what may be done with what was scanned.
func (s *Server) scanActs(p *scanPage, sheets []int, tray, bottle string) {
	add := func(say, href string) { p.Acts = append(p.Acts, scanAct{say, href}) }
	if p.C == nil {
		if bottle != "" {
			add("Draw from it", "/solutions/bottles/"+bottle)
		}
		return
	}
	var acts []account.ScanAct
	p.Said, acts = account.ScanActs(p.C, sheets, tray, s.words())
	q := url.Values{}
	for _, n := range sheets {
		q.Add("sheets", strconv.Itoa(n))
	}
	if tray != "" {
		q.Set("tray", tray)
	}
	if bottle != "" {
		q.Set("bottle", bottle)
	}
	for _, x := range acts {
		switch {
		case x.End:
			add(x.Say, casePath(p.C.ID, "runs/"+x.Run+"/end"))
		case x.Run != "":
			add(x.Say, casePath(p.C.ID, "runs/"+x.Run+"/reading"))
		default:
			start := url.Values{"operation": {x.Operation}}
			for k, v := range q {
				start[k] = v
			}
			add(x.Say, casePath(p.C.ID, "runs/new?"+start.Encode()))
		}
	}
	if len(sheets) > 0 {
		p.Go, p.Ops = p.Form, operationChoices()
		for k, v := range q {
			p.Carry[k] = v
		}
	}
}

// labelsPage are labels with their codes, to be printed.
type labelsPage struct {
	Page
	Labels []printedLabel
}

type printedLabel struct {
	Name, Under string
	QR          qrCode
}

var labelsView = declare[labelsPage]("labels")

// caseLabels are the labels of a case's sheets and of the trays that it used.
func (s *Server) caseLabels(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := labelsPage{Page: s.casePage(r, c, "papers")}
	p.Title = "Labels with codes"
	for _, n := range c.Sheets() {
		p.add(upperFirst(record.SheetName(n)), c.Number, account.Label{Case: c.ID, Sheet: n})
	}
	var trays []string
	for i := range c.Runs {
		if b := c.Runs[i].Body.Bath; b != nil && b.Tray != "" && !slices.Contains(trays, account.TrayAlone(b.Tray)) {
			trays = append(trays, account.TrayAlone(b.Tray))
		}
	}
	slices.Sort(trays)
	p.trays(trays)
	return labelsView.show(s, w, r, p)
}

// shelfLabels are the labels of the bottles on the shelf, and of trays by the names in
// the address.
func (s *Server) shelfLabels(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p := labelsPage{Page: s.page(r, "Labels with codes")}
	p.Section = "solutions"
	p.trays(r.URL.Query()["tray"])
	for i := range st.Bottles {
		if b := &st.Bottles[i]; b.Emptied == nil {
			p.add(b.Body.Name, b.Body.Lot, account.Label{Bottle: b.Body.ID})
		}
	}
	return labelsView.show(s, w, r, p)
}

func (p *labelsPage) trays(names []string) {
	for _, t := range names {
		p.add(upperFirst(t), "tray", account.Label{Tray: t})
	}
}

func (p *labelsPage) add(name, under string, l account.Label) {
	p.Labels = append(p.Labels, printedLabel{Name: name, Under: under, QR: drawQR(l.Code())})
}
