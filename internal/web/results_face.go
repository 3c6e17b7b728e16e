package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/photo"
)

// facePair is a face of a sheet with its pictures in normal light: the first
// from before, the last from after, or at least from during treatment.
type facePair struct {
	Name, Href    string
	Sheet         int
	Face          string
	Before, After *record.Stamped[record.Photo]
	// AllBefore and AllAfter are what may be chosen in their places.
	AllBefore, AllAfter []record.Stamped[record.Photo]
	On                  bool
}

func (p *facePair) of() pictures {
	of := pictures{Before: p.Before.Body.Hash}
	if p.After != nil {
		of.After = p.After.Body.Hash
	}
	return of
}

// faces lists the faces that were photographed before treatment, those with
// both pictures first.
func faces(c *record.Case) []facePair {
	var list []facePair
	for _, n := range c.Sheets() {
		for _, face := range record.Faces {
			p := facePair{Name: record.SheetName(n) + ", " + face.Words, Sheet: n, Face: face.Value}
			for _, x := range c.PhotosOf(n, face.Value, "") {
				switch {
				case x.Body.Light != "normal" || len(x.Body.Place.Sheets) != 1:
				case x.Body.Stage == "arrival" || x.Body.Stage == "before":
					p.AllBefore = append(p.AllBefore, x)
				default:
					p.AllAfter = append(p.AllAfter, x)
				}
			}
			if len(p.AllBefore) == 0 {
				continue
			}
			// Pictures taken after the work go before those taken during it.
			slices.SortStableFunc(p.AllAfter, func(a, b record.Stamped[record.Photo]) int {
				rank := map[string]int{"during": 0, "after": 1}
				return rank[a.Body.Stage] - rank[b.Body.Stage]
			})
			p.Before = &p.AllBefore[0]
			if k := len(p.AllAfter); k > 0 {
				p.After = &p.AllAfter[k-1]
			}
			p.Href = "?face=" + url.QueryEscape(p.Name)
			list = append(list, p)
		}
	}
	slices.SortStableFunc(list, func(a, b facePair) int {
		switch {
		case (a.After != nil) == (b.After != nil):
			return 0
		case a.After != nil:
			return -1
		}
		return 1
	})
	return list
}

// faceAsked is the face that an address asks for, with the pictures that it
// names; the first when it names none, -1 when there is none.
func faceAsked(list []facePair, q url.Values) int {
	before, after := q.Get("before"), q.Get("after")
	for i := range list {
		p := &list[i]
		if before == "" {
			if p.Name == q.Get("face") {
				return i
			}
			continue
		}
		b := slices.IndexFunc(p.AllBefore, func(x record.Stamped[record.Photo]) bool { return x.Body.Hash.String() == before })
		if b < 0 {
			continue
		}
		p.Before = &p.AllBefore[b]
		if a := slices.IndexFunc(p.AllAfter, func(x record.Stamped[record.Photo]) bool { return x.Body.Hash.String() == after }); a >= 0 {
			p.After = &p.AllAfter[a]
		}
		return i
	}
	if len(list) == 0 {
		return -1
	}
	return 0
}

// facePath is the address of the results of a pair.
func facePath(c *record.Case, of pictures) string {
	return casePath(c.ID, "results") + "?" + of.query().Encode()
}

// faceView is one face on the page: its pictures, what was compared, its areas.
type faceView struct {
	*facePair
	Of          pictures
	AfterWords  string
	Config      string // what the viewer needs, as JSON; empty until there are tiles
	Read        string // the address that reads an area
	Work        *workView
	Stains      *workView
	Halted      string
	Stopped     bool
	StainHalted string
	Found       *foundView
	Compared    *comparedView
	Areas       []areaRow
	WorkForm    *Form
}

// workView is a piece of work under way.
type workView struct {
	Name, Doing, Progress string
	Share                 float64
}

// layer and viewConfig are what the viewer reads; see ui/src/compare.ts.
type layer struct {
	Name   string `json:"name"`
	Words  string `json:"words"`
	Tiles  string `json:"tiles"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
}

type viewShape struct {
	Key   string        `json:"key"`
	Label string        `json:"label"`
	Words string        `json:"words"`
	Sort  string        `json:"sort"`
	Rings []record.Ring `json:"rings"`
}

type viewConfig struct {
	Before layer       `json:"before"`
	After  *layer      `json:"after"`
	Maps   []layer     `json:"maps"`
	Shapes []viewShape `json:"shapes"`
	Read   string      `json:"read"`
}

// faceView gathers what is known of a face, and begins what is not: nothing is
// worked out here.
func (s *Server) faceView(r *http.Request, c *record.Case, p *facePair, q url.Values) *faceView {
	v := &faceView{facePair: p, Of: p.of()}
	v.Read = casePath(c.ID, "area") + "?" + v.Of.query().Encode()
	v.WorkForm = &Form{Name: "comparison", Key: record.NewID(s.now()), Seq: c.LastSeq}
	if p.After != nil {
		v.AfterWords = record.WordsOf(record.Stages, p.After.Body.Stage)
	}
	var done *compared
	if p.After != nil {
		if done = s.comparer.numbers(v.Of); done != nil {
			v.Compared = comparedWords(c, v.Of, done)
		} else {
			s.stand(v)
		}
	} else if _, ok := s.deriver.packOf(v.Of.Before, tilesPack); !ok {
		if _, halted := s.deriver.stands("tiles/" + v.Of.Before.String()); halted == nil {
			s.deriver.startTiles(v.Of.Before)
			v.Work = s.work("tiles/"+v.Of.Before.String(), "Making it ready", casePath(c.ID, "comparison")+"?"+v.Of.query().Encode()+"&work=tiles")
		}
	}
	v.areas(s, r, c)
	if v.Work == nil && v.Halted == "" {
		v.configure(s, done)
	}
	return v
}

// stand says how a comparison stands, and begins it when nobody did.
func (s *Server) stand(v *faceView) {
	key := v.Of.key()
	x, halted := s.deriver.stands(key)
	switch {
	case x == nil && halted == nil:
		s.comparer.begin(v.Of)
	case x == nil:
		v.Stopped = halted == errStopped
		v.Halted = "The two pictures could not be compared: " + sentenceOf(halted)
		if v.Stopped {
			v.Halted = "The comparison was stopped."
		}
		return
	}
	v.Work = s.work(key, "Comparing the two pictures", "")
}

func (s *Server) work(key, name, progress string) *workView {
	w := &workView{Name: name, Progress: progress}
	if x, _ := s.deriver.stands(key); x != nil {
		w.Share, w.Doing = x.told()
	}
	return w
}
