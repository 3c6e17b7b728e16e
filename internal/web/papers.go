package web

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/papers"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesPapers(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/papers", s.doCase(s.papersPage))
	mux.Handle("GET /cases/{case}/report.pdf", s.doCase(s.reportPDF))
	mux.Handle("GET /cases/{case}/invoice.pdf", s.doCase(s.invoicePDF))
	mux.Handle("GET /cases/{case}/case.zip", s.doCase(s.caseZip))
}

// papersPage is what leaves the studio, and the end of the case.
type papersPage struct {
	Page
	C         *record.Case
	Missing   []string
	Form      *Form
	CloseForm *Form
	OpenForm  *Form
	Versions  []int
	Bill      bool
	Drawing   string // what the report waits for
	Leave     []account.LeaveGate
}

var papersView = declare[papersPage]("papers")

func (s *Server) papersPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := papersPage{
		Page: s.casePage(r, c, "papers"), C: c, Missing: missing(c), Drawing: printsSay(s.pictures.BeginPrints(c)),
	}
	p.Leave = account.LeaveGates(c)
	for i := range c.Proposals {
		p.Versions = append(p.Versions, len(c.Proposals)-i)
	}
	consent, _ := c.Consented()
	p.Bill = consent != nil
	p.Form = s.bodyForm(r, "issued", c.LastSeq, record.PaperIssued{}, false, nil)
	p.CloseForm = s.bodyForm(r, "close", c.LastSeq, record.Closed{}, false, nil)
	p.OpenForm = s.bodyForm(r, "reopen", c.LastSeq, record.Reopened{}, false, nil)
	return papersView.show(s, w, r, p)
}

// missing lists what a full report would have and the record has not.
func missing(c *record.Case) []string {
	var list []string
	add := func(is bool, what string) {
		if is {
			list = append(list, what)
		}
	}
	stage := func(want record.Stage) bool {
		for _, p := range c.Photos {
			if p.Body.Stage == want {
				return true
			}
		}
		return false
	}
	collated := map[string]bool{}
	for _, k := range c.Collations {
		collated[string(k.Body.When)] = true
	}
	add(c.Ownership == nil, "the owner and what was asked for")
	add(c.Identity == nil, "a description that identifies the object")
	add(c.MakeUp == nil, "the make-up")
	add(!stage(record.StageArrival) && !stage(record.StageBefore), "photographs from before treatment")
	if len(c.Runs) > 0 {
		consent, _ := c.Consented()
		add(consent == nil, "the owner’s consent")
		add(len(c.OpenRuns()) > 0, "the end of what is still under way")
		add(!stage(record.StageAfter), "photographs after treatment")
		add(!collated["reassembled"], "a collation after reassembly")
	}
	for i := range c.Parts {
		if c.Parts[i].Settled == nil {
			list = append(list, "what became of the parts that were kept")
			break
		}
	}
	return list
}

// printsSay tells how many comparisons are being drawn for the report.
func printsSay(waiting int) string {
	switch waiting {
	case 0:
		return ""
	case 1:
		return "The pictures of one comparison are being drawn for it: it opens when they are there."
	}
	return fmt.Sprintf("The pictures of %d comparisons are being drawn for it: it opens when they are there.", waiting)
}

// pdf makes a paper and sends it.
func (s *Server) pdf(
	w http.ResponseWriter,
	r *http.Request,
	c *record.Case,
	name string,
	make func(*record.Studio, papers.Options) ([]byte, error),
) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	b, err := make(st, s.paperOptions(r, c))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/pdf")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", `inline; filename="`+fileName(name)+`.pdf"`)
	_, err = w.Write(b)
	return err
}

func (s *Server) paperOptions(r *http.Request, c *record.Case) papers.Options {
	prints := s.pictures.Prints(r.Context(), c)
	return papers.Options{Zone: s.zone, Pictures: prints, Compared: prints}
}

// fileName keeps letters, digits and dashes.
func fileName(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, s)
}

func (s *Server) reportPDF(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	return s.pdf(
		w, r, c, "report-"+c.Number,
		func(st *record.Studio, o papers.Options) ([]byte, error) { return papers.Report(c, st, o) },
	)
}

func (s *Server) invoicePDF(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	return s.pdf(w, r, c, "invoice-"+c.Number, func(st *record.Studio, o papers.Options) ([]byte, error) {
		bill, err := account.BillFor(c)
		if err != nil {
			return nil, record.Invalidf("", "%s", upperFirst(err.Error())+".")
		}
		return papers.Invoice(c, st, bill, o)
	})
}

func (s *Server) caseZip(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	report, err := papers.Report(c, st, s.paperOptions(r, c))
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", `attachment; filename="case-`+fileName(c.Number)+`.zip"`)
	err = s.store.Export(r.Context(), c.ID, report, w)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		// The head is sent: cutting the connection tells the browser that it
		// did not get the whole.
		s.log.Error("an export failed", "case", c.ID, "error", err)
		panic(http.ErrAbortHandler)
	}
	return err
}
