package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// plainAct is an act that writes one body, as its form has it: read the form,
// save, go on. Its address is that of its place of the case.
type plainAct struct {
	path  string
	write func(*Server) caseHandler
}

// plain makes the act of a kind of entry. form names its form and to the place of
// the case that it goes back to, whose page shows the form again when it is
// refused. said is what is said of it afterwards; empty: what the log says. fix
// settles what follows from the form, where anything does.
func plain[B record.Body](
	path, form, to string, page func(*Server, http.ResponseWriter, *http.Request, *record.Case) error, said string,
	fix ...func(*Server, *http.Request, *record.Case, *Form, *B) error,
) plainAct {
	return plainAct{path, func(s *Server) caseHandler {
		return func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
			f, err := s.sent(w, r, form)
			if err != nil {
				return err
			}
			b := bodyOf[B](f)
			for _, settle := range fix {
				if err := settle(s, r, c, f, &b); err != nil {
					return err
				}
			}
			say := said
			if say == "" {
				say = account.Said(c, b) + "."
			}
			return s.save(w, r, f, Saving{
				Case: c.ID, Items: []record.Item{item(f, b)}, To: backOr(f, casePath(c.ID, to)), Said: say,
			}, s.inCase(func(w http.ResponseWriter, r *http.Request, c *record.Case) error { return page(s, w, r, c) }))
		}
	}}
}

// plainActs are the acts of a case that need no handler of their own.
var plainActs = []plainAct{
	plain[record.Identity]("identity", "identity", "examination", (*Server).examination, "The object is described."),
	plain[record.Ownership]("owner", "owner", "examination", (*Server).examination, "Owner and wishes are recorded."),
	plain[record.Quarantine]("quarantine", "quarantine", "examination", (*Server).examination, ""),
	plain("custody", "custody", "examination", (*Server).examination, "The move is recorded.", wholeWhenReturned),
	plain("reading", "reading", "examination", (*Server).examination, "", atPosition, onASheet),
	plain("reading-after", "reading", "results", (*Server).results, "", atPosition, onASheet),
	plain[record.PositionMarked]("position", "position", "places", (*Server).placesPage, ""),
	plain[record.WorkPlaced]("work-placed", "work", "places", (*Server).placesPage, ""),
	plain[record.Note]("observation", "observation", "examination", (*Server).examination, "Written down."),
	plain[record.PartKept]("part", "part", "examination", (*Server).examination, ""),
	plain[record.EarlierTreatment]("earlier", "earlier", "examination", (*Server).examination, ""),
	plain[record.Insurance]("insurance", "insurance", "examination", (*Server).examination, ""),
	plain[record.PartSettled]("part-settled", "settle", "examination", (*Server).examination, ""),
	plain[record.Incident]("incident", "incident", "examination", (*Server).examination,
		"The incident is recorded. Tell the owner at once and in writing."),
	plain[record.Damage]("damage", "damage", "condition", (*Server).damagePage, ""),
	plain("test", "test", "tests", (*Server).testsPage, "", bleachAsUsed),
	plain[record.Trial]("trial", "trial", "tests", (*Server).testsPage, ""),
	plain[record.DamageAfter]("damage-after", "after", "condition", (*Server).afterPage, ""),
	plain[record.MendPlan]("mend-plan", "mend-plan", "tissue", (*Server).tissuePage, ""),
	plain[record.Staple]("staple", "staple", "make-up", (*Server).makeUpPage, ""),
	plain[record.Reassembled]("whole", "whole", "make-up", (*Server).makeUpPage, ""),
	plain[record.Collation]("collation", "collation", "make-up", (*Server).makeUpPage, ""),
	plain("mend", "mend", "bench", (*Server).mendPage, "", adhesiveFromShelf),
	plain[record.Note]("note", "note", "bench", (*Server).bench, "Written down."),
	plain[record.Blotted]("blotted", "blotted", "bench", (*Server).bench, "", blottedNow),
	plain[record.Waste]("waste", "waste", "bench", (*Server).bench, ""),
	plain[record.NextStep]("next", "next", "bench", (*Server).bench, ""),
	plain("consent", "consent", "proposal", (*Server).proposal, "", optionOnlyWhenGiven),
	plain[record.PaperIssued]("issued", "issued", "papers", (*Server).papersPage, ""),
	plain("close", "close", "papers", (*Server).papersPage, "", wholeWhenClosed),
	plain[record.Reopened]("reopen", "reopen", "papers", (*Server).papersPage, ""),
}

func (s *Server) routesActs(mux *http.ServeMux) {
	for _, a := range plainActs {
		mux.Handle("POST /cases/{case}/"+a.path, s.doCase(a.write(s)))
	}
}
