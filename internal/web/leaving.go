package web

import (
	"net/http"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// wholeWhenClosed asks for a reason at each gate that does not hold as a case is
// closed.
func wholeWhenClosed(_ *Server, _ *http.Request, c *record.Case, f *Form, b *record.Closed) error {
	passed, unsaid := account.PassLeaving(c, f.Text)
	b.Overrides = passed
	f.take(unsaid)
	return nil
}

// wholeWhenReturned asks the same as the object goes back.
func wholeWhenReturned(_ *Server, _ *http.Request, c *record.Case, f *Form, b *record.Custody) error {
	if b.Act != record.CustodyReturned || c.Closed != nil {
		return nil
	}
	passed, unsaid := account.PassLeaving(c, f.Text)
	b.Overrides = passed
	f.take(unsaid)
	return nil
}

// leavingView are the gates that do not hold as an object leaves, with the form that
// asks for the reasons.
type leavingView struct {
	Form  *Form
	Gates []account.LeaveGate
}
