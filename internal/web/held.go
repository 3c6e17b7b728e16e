package web

import (
	"context"
	"net/http"
	"slices"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// heldPageData shows how often what was expected before a run held, over all cases.
type heldPageData struct {
	Page
	Rows []heldGroup
	// N readings count.
	N     int
	Rule  string
	Cases []heldCase
	// Gains are runs of open cases of which a reading would tell most.
	Gains []heldCase
	Empty *Empty
}

// heldGroup is a quantity on a class of paper.
type heldGroup struct {
	account.HeldGroup
	Plot     *plot
	Runs     []heldRun
	Form     *Form
	Withdraw string
}

// heldRun is a run with its readings of the group.
type heldRun struct {
	Name, Href string
	Readings   []account.HeldRow
}

// heldCase is a case with what it brings, or a run with what it lacks.
type heldCase struct{ Name, Say, Href string }

var heldView = declare[heldPageData]("held")

// scored are the scores of a case, kept until its journal grows.
type scored struct {
	seq  int64
	list []account.Score
	gain *heldCase
}

// allScores are the scores of every case that keeps an expectation, the case that was
// opened first before the others, and of how many runs one is kept.
func (s *Server) allScores(ctx context.Context) (all []scored, kept int, err error) {
	list, err := s.store.List(ctx, store.Filter{})
	if err != nil {
		return nil, 0, err
	}
	slices.SortFunc(list, func(a, b record.Summary) int { return a.Opened.Compare(b.Opened) })
	for _, x := range list {
		if x.Expected == 0 {
			continue
		}
		kept += x.Expected
		if had, ok := s.scores.Load(x.ID); ok && had.(scored).seq == x.LastSeq {
			all = append(all, had.(scored))
			continue
		}
		c, err := s.store.Case(ctx, x.ID)
		if err != nil {
			return nil, 0, err
		}
		one := scored{seq: c.LastSeq, list: account.ScoresOf(c)}
		if run, say := account.LastGain(c); say != "" {
			name := c.Number + ", " + c.Run(run).Body.OperationName
			one.gain = &heldCase{Name: name, Say: say, Href: casePath(c.ID, "runs/"+run)}
		}
		s.scores.Store(x.ID, one)
		all = append(all, one)
	}
	return all, kept, nil
}

// scoresIn are the scores of all cases in one list.
func scoresIn(all []scored) []account.Score {
	var list []account.Score
	for _, x := range all {
		list = append(list, x.list...)
	}
	return list
}

func (s *Server) heldPage(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p := heldPageData{Page: s.studioSub(r, "Expected and read"), Rule: account.HeldRule}
	all, kept, err := s.allScores(r.Context())
	if err != nil {
		return err
	}
	for _, x := range all {
		if n := len(x.list); n > 0 {
			of := x.list[0]
			p.Cases = append(p.Cases, heldCase{
				Name: of.Number + ", " + of.Title, Say: plural(n, "reading", "readings"), Href: casePath(of.Case, "results"),
			})
		}
		if x.gain != nil {
			p.Gains = append(p.Gains, *x.gain)
		}
	}
	for _, k := range account.HeldAll(scoresIn(all), st) {
		g := heldGroup{HeldGroup: k, Runs: heldRuns(k.Scores)}
		if k.Spread != nil {
			drawn := plotOf(*k.Spread)
			g.Plot = &drawn
		}
		if k.Offer != nil {
			g.Form = s.ownForm(r, &k, st.LastSeq)
		}
		if k.Own != nil {
			g.Withdraw = "/studio/withdraw?entry=" + plainNumber(float64(k.Own.Seq)) + "&back=/studio/held"
		}
		p.N += k.N
		p.Rows = append(p.Rows, g)
	}
	if len(p.Rows) == 0 {
		p.Empty = &Empty{
			Title: "Nothing can be held against a reading yet",
			Text: "When a bath is started, what readings of it are expected to show is kept with the start. Read one of " +
				"them, and it stands here beside what was expected. Kept so far: " + plural(kept, "run", "runs") + ".",
			Act: "To the cases", Href: "/",
		}
	}
	return heldView.show(s, w, r, p)
}

// ownForm is the form that saves an offered range: as it came back, or a new one.
func (s *Server) ownForm(r *http.Request, k *account.HeldGroup, seq int64) *Form {
	if back := refusedOf(r.Context()); back != nil && back.form.Line("group") == k.Group() {
		return back.form
	}
	return s.form(r, "own-"+k.Group(), seq, nil)
}

// heldRuns are the runs of scores, latest reading last in each.
func heldRuns(list []account.Score) []heldRun {
	var runs []heldRun
	at := map[string]int{}
	for i := range list {
		x := &list[i]
		n, known := at[x.Run.Body.ID]
		if !known {
			n = len(runs)
			at[x.Run.Body.ID] = n
			runs = append(runs, heldRun{
				Name: x.Number + ", " + x.Run.Body.OperationName + " of " + record.SheetNames(x.Run.Body.Sheets),
				Href: casePath(x.Case, "runs/"+x.Run.Body.ID),
			})
		}
		runs[n].Readings = append(runs[n].Readings, x.Row())
	}
	return runs
}

// heldAdopt saves a range of the studio's own. It is worked out anew: a page that was
// shown before a reading came in is refused.
func (s *Server) heldAdopt(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "own")
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	all, _, err := s.allScores(r.Context())
	if err != nil {
		return err
	}
	groups := account.HeldAll(scoresIn(all), st)
	i := slices.IndexFunc(groups, func(k account.HeldGroup) bool { return k.Group() == f.Line("group") })
	if i < 0 || groups[i].Offer == nil {
		return record.Invalidf("", "The readings offer no range of the studio’s own for this: look at the page again.")
	}
	o := groups[i].Offer
	if o.Words() != f.Line("shown") || plainNumber(float64(o.Readings)) != f.Line("readings") {
		f.Refuse("reason", "More was read since this page was shown: look at what is offered now.")
	}
	o.Reason = f.Text("reason")
	return s.save(w, r, f, Saving{
		Case: record.StudioID, Items: []record.Item{{Body: o.OwnRange}}, To: "/studio/held",
		Said: "Saved. What is expected of coming runs goes by it, and says so.",
	}, s.heldPage)
}
