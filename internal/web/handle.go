package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"runtime/debug"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// handler answers a request, or says why not: the error decides the status and
// the page, see statusOf.
type handler func(w http.ResponseWriter, r *http.Request) error

// caseHandler is a handler of a page inside a case.
type caseHandler func(w http.ResponseWriter, r *http.Request, c *record.Case) error

// do makes a handler one of net/http. Its error, or panic, becomes a plain page.
func (s *Server) do(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			p := recover()
			if p == nil {
				return
			}
			if p == http.ErrAbortHandler {
				panic(p)
			}
			s.fail(w, r, fmt.Errorf("panic: %v\n%s", p, debug.Stack()))
		}()
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
}

// inCase finds the case that {case} names.
func (s *Server) inCase(h caseHandler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		id, err := record.ParseCaseID(r.PathValue("case"))
		if err != nil || id == record.StudioID {
			return store.ErrNotFound
		}
		c, err := s.store.Case(r.Context(), id)
		if err != nil {
			return err
		}
		return h(w, r, c)
	}
}

// doCase is do of inCase.
func (s *Server) doCase(h caseHandler) http.Handler { return s.do(s.inCase(h)) }

// statusOf is the one table from kinds of error to statuses.
func statusOf(err error) int {
	var invalid *record.Invalid
	var clash *store.Clash
	var large *http.MaxBytesError
	switch {
	case errors.Is(err, store.ErrNotFound):
		return http.StatusNotFound
	case errors.As(err, &clash), errors.As(err, new(*store.Reused)):
		return http.StatusConflict
	case errors.As(err, &large):
		return http.StatusRequestEntityTooLarge
	case errors.Is(err, store.ErrNoSpace):
		return http.StatusInsufficientStorage
	case errors.As(err, &invalid):
		return http.StatusUnprocessableEntity
	}
	return http.StatusInternalServerError
}

// failedPage says in one plain line what went wrong and what to do now.
type failedPage struct {
	Page
	Say string
}

var failedView = declare[failedPage]("failed")

// fail shows an error that no form can show.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return // the browser has gone: nobody is there to be told
	}
	status := statusOf(err)
	p := failedPage{Page: s.page(r, "This did not work"), Say: sentence(status, err)}
	p.status = status
	if status == http.StatusNotFound {
		p.Title = "There is nothing here"
	}
	if status >= 500 {
		s.log.Error("a request failed", "method", r.Method, "path", r.URL.Path, "error", err)
	}
	if sentByOutbox(r) {
		if err := tell(w, status, map[string]any{"refused": []string{p.Say}}); err != nil {
			s.log.Debug("an answer was not taken", "path", r.URL.Path, "error", err)
		}
		return
	}
	if showErr := failedView.show(s, w, r, p); showErr != nil {
		s.log.Error("the page of a failure failed", "path", r.URL.Path, "error", showErr)
		http.Error(w, p.Say, status)
	}
}

func sentence(status int, err error) string {
	if errors.Is(err, store.ErrGone) {
		return upperFirst(store.ErrGone.Error()) + "."
	}
	if errors.Is(err, store.ErrDamaged) {
		return upperFirst(err.Error()) + "."
	}
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return tooLarge(large)
	}
	switch status {
	case http.StatusNotFound:
		return "This address belongs to no page, case or photograph of this bench."
	case http.StatusInsufficientStorage:
		return "The disk is full: nothing was saved. Make room on it, go back and send it again."
	case http.StatusConflict, http.StatusUnprocessableEntity:
		return err.Error()
	}
	return "Something inside benchleaf failed, and nothing was saved. Go back and send it again; what happened is " +
		"written in the program's log."
}
