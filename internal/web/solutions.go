package web

import (
	"net/http"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func (s *Server) routesSolutions(mux *http.ServeMux) {
	mux.Handle("GET /solutions", s.do(s.shelf))
	mux.Handle("GET /solutions/labels.pdf", s.do(s.labels))
	mux.Handle("GET /solutions/bottles/new", s.do(s.bottleNew))
	mux.Handle("POST /solutions/bottles", s.do(s.bottleSave))
	mux.Handle("GET /solutions/bottles/{bottle}", s.do(s.bottlePage))
	mux.Handle("GET /solutions/bottles/{bottle}/label.pdf", s.do(s.label))
	mux.Handle("GET /solutions/bottles/{bottle}/correct", s.do(s.bottleCorrect))
	mux.Handle("POST /solutions/bottles/{bottle}/draw", s.do(s.bottleDraw))
	mux.Handle("POST /solutions/bottles/{bottle}/check", s.do(s.bottleCheck))
	mux.Handle("POST /solutions/bottles/{bottle}/empty", s.do(s.bottleEmpty))
	mux.Handle("GET /solutions/mix", s.do(s.mixPage))
	mux.Handle("POST /solutions/mix", s.do(s.mixSave))
	mux.Handle("GET /solutions/lime", s.do(s.limePage))
	mux.Handle("GET /solutions/rinse", s.do(s.rinsePage))
	mux.Handle("GET /solutions/match", s.do(s.matchPage))
	mux.Handle("GET /solutions/carbonate", s.do(s.carbonatePage))
	mux.Handle("GET /solutions/chelate", s.do(s.chelatePage))
	mux.Handle("GET /solutions/strength", s.do(s.strengthPage))
	mux.Handle("GET /solutions/hydrogen", s.do(s.hydrogenPage))
	mux.Handle("GET /solutions/vapour", s.do(s.vapourPage))
	mux.Handle("GET /solutions/tray", s.do(s.trayPage))
	mux.Handle("GET /solutions/together", s.do(s.togetherPage))
}

// shelfPage is the bottles: those to use first, the rest folded.
type shelfPage struct {
	Page
	InDate, Expired, Emptied []shelfCard
	Studio                   *record.Studio
}

// shelfCard is a bottle to pick up.
type shelfCard struct {
	ID, Name, Strength, Range, Left, Made, Expiry, Sign string
	Level                                               level
	Since                                               time.Time // emptied
	Where                                               string
}

// level draws how full a bottle is, in a picture of 84 by 112.
type level struct{ Y, H float64 }

var shelfView = declare[shelfPage]("solutions")

// solutionsPage is the page of a part of Solutions.
func (s *Server) solutionsPage(r *http.Request, title, place string) Page {
	p := s.page(r, title)
	p.Section, p.Place = "solutions", place
	return p
}

func (s *Server) shelf(w http.ResponseWriter, r *http.Request) error {
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	p := shelfPage{Page: s.solutionsPage(r, "Solutions", "shelf"), Studio: st}
	for i := len(st.Bottles) - 1; i >= 0; i-- { // what was made last is wanted first
		b := &st.Bottles[i]
		card := s.cardOf(b, p.Now)
		switch {
		case b.Emptied != nil:
			p.Emptied = append(p.Emptied, card)
		case b.Expired(p.Now):
			p.Expired = append(p.Expired, card)
		default:
			p.InDate = append(p.InDate, card)
		}
	}
	return shelfView.show(s, w, r, p)
}

func (s *Server) cardOf(b *record.ShelfBottle, now time.Time) shelfCard {
	c := shelfCard{
		ID:    b.Body.ID,
		Name:  upperFirst(b.Body.Name),
		Left:  account.LeftIn(b),
		Made:  s.madeText(b, now),
		Level: levelOf(b),
	}
	c.Strength, c.Range = strengthTexts(b)
	switch at := b.Body.ExpiresAt.In(s.zone); {
	case b.Emptied != nil:
		c.Since, c.Where = b.Emptied.Time, b.Emptied.Body.To
	case b.Body.ExpiresAt.IsZero():
	case !at.After(now):
		c.Expiry, c.Sign = account.PastDate(b, s.words()), "stopped"
	case at.Sub(now) < 48*time.Hour:
		c.Expiry, c.Sign = "use by "+nearDay(at, now), "due"
	default:
		c.Expiry = "use by " + nearDay(at, now)
	}
	return c
}

// nearDay is a time where the day is today's, else a day.
func nearDay(at, now time.Time) string {
	if sameDay(at, now) {
		return at.Format("15:04 today")
	}
	if sameDay(at, now.AddDate(0, 0, 1)) {
		return at.Format("15:04 tomorrow")
	}
	return at.Format("2 January 2006")
}

func (s *Server) madeText(b *record.ShelfBottle, now time.Time) string {
	at := b.Body.MadeAt.In(s.zone)
	word, who := "made", b.Body.Maker
	if len(b.Body.From) == 0 && len(b.Body.Recipe) == 0 {
		word = "opened"
	}
	if sameDay(at, now) {
		word += " at " + at.Format("15:04")
	} else {
		word += " " + at.Format("2 January 2006")
	}
	if who != "" {
		word += " by " + who
	}
	return word
}

// strengthTexts writes the strength that counts now, and its range.
func strengthTexts(b *record.ShelfBottle) (value, span string) {
	f := factOf(account.StrengthNow(b))
	return words.Joined(words.NBSP, f.Value, f.Unit), f.Range
}

// rangeTexts writes a value with the digits that its range supports, and the
// range where there is one.
func rangeTexts(r record.Range, unit string) (value, span string) {
	value, span = words.English.Parts(words.Ranged(r, unit))
	return words.Joined(words.NBSP, value, unit), span
}

func levelOf(b *record.ShelfBottle) level {
	share := 0.0
	switch {
	case b.Body.VolumeMl > 0:
		share = b.LeftMl / b.Body.VolumeMl
	case b.Body.MassG > 0:
		share = b.LeftG / b.Body.MassG
	}
	const top, bottom = 38, 96 // of the body of the bottle that is drawn
	h := min(max(share, 0), 1) * (bottom - top)
	return level{Y: bottom - h, H: h}
}
