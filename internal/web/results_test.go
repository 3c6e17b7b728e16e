package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/bits"
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// comparesPictures leaves a test out of short runs: comparing takes a minute
// under the race detector.
func comparesPictures(t *testing.T) {
	if testing.Short() {
		t.Skip("compares pictures, which a short run leaves out")
	}
}

// aLeaf is a real leaf (see photo/testdata/README.md), 640 pixels wide; gain
// lightens all of it, and a stain lies on it where stained.
func aLeaf(t testing.TB, gain float64, stained bool) []byte {
	t.Helper()
	raw, err := os.ReadFile("../../photo/testdata/lapide.052.100.jpg")
	if err != nil {
		t.Fatal(err)
	}
	src, err := jpeg.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	b := src.Bounds()
	k := float64(b.Dx()) / 640
	h := int(float64(b.Dy()) / k)
	out := image.NewRGBA(image.Rect(0, 0, 640, h))
	for y := range h {
		for x := range 640 {
			r, g, bl, _ := src.At(b.Min.X+int(float64(x)*k), b.Min.Y+int(float64(y)*k)).RGBA()
			m := [3]float64{gain, gain, gain}
			if dx, dy := float64(x-300)/50, float64(y-350)/40; stained && dx*dx+dy*dy < 1 {
				m[0], m[1], m[2] = 0.85*gain, 0.7*gain, 0.5*gain
			}
			at := func(v uint32, m float64) uint8 { return uint8(math.Min(250, float64(v>>8)*m)) }
			out.SetRGBA(x, y, color.RGBA{at(r, m[0]), at(g, m[1]), at(bl, m[2]), 255})
		}
	}
	var w bytes.Buffer
	if err := jpeg.Encode(&w, out, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return w.Bytes()
}

// addPicture stores a picture of the outer face of sheet 1 and names it.
func addPicture(t testing.TB, s *Server, id record.CaseID, stage string, data []byte) record.Hash {
	t.Helper()
	cfg, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.store.PutPhoto(t.Context(), bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	write(
		t,
		s,
		id,
		record.Photo{
			Hash:     p.Hash,
			Bytes:    p.Bytes,
			Format:   "jpeg",
			WidthPx:  cfg.Width,
			HeightPx: cfg.Height,
			Stage:    record.Stage(stage),
			Light:    "normal",
			Place:    record.Place{Sheets: []int{1}, Face: "outer"},
		},
	)
	return p.Hash
}

func write(t testing.TB, s *Server, id record.CaseID, bodies ...record.Body) {
	t.Helper()
	var expect int64
	if c, err := s.store.Case(t.Context(), id); err == nil {
		expect = c.LastSeq
	} else if !errors.Is(err, store.ErrNotFound) {
		t.Fatal(err)
	}
	d := record.Draft{Case: id, Expect: expect, By: "KM", Zone: "UTC", Items: items(bodies...)}
	if _, err := s.store.Append(t.Context(), d); err != nil {
		t.Fatal(err)
	}
}

// aPair is a case with a face before and after: a stain gone, the paper lighter.
func aPair(t testing.TB, s *Server) (record.CaseID, pictures.Pair) {
	t.Helper()
	id := record.NewCaseID(s.now())
	write(
		t,
		s,
		id,
		record.Opened{Number: "1", Title: "Leaf"},
		record.MakeUp{InnerSheets: 1, Cover: "self", Binding: "loose", FirstPage: 1},
	)
	return id, pictures.Pair{
		Before: addPicture(t, s, id, "before", aLeaf(t, 0.9, true)),
		After:  addPicture(t, s, id, "after", aLeaf(t, 1, false)),
	}
}

func (s *Server) results200(t *testing.T, id record.CaseID, query string) looked {
	t.Helper()
	w := answerTo(s, request("GET", casePath(id, "results")+query, nil))
	if w.Code != http.StatusOK {
		t.Fatalf("the results answer %d: %s", w.Code, w.Body.String())
	}
	return see(t, w)
}

func TestAPairIsComparedOnceInTheBackground(t *testing.T) {
	s, _ := newServer(t)
	id, of := aPair(t, s)
	release := s.pictures.Hold() // another picture has the turn
	p := s.results200(t, id, "")
	if n := len(p.all("div.work progress")); n != 1 {
		t.Fatalf("%d bars of progress while the pair is compared, want one", n)
	}
	if attr(p.one("div.viewer"), "data-viewer") != "" {
		t.Error("the viewer is given pictures that are not there yet")
	}
	if len(p.all("div.viewer-plain img")) != 2 {
		t.Error("the two pictures do not stand side by side meanwhile")
	}
	w := answerTo(s, request("GET", attr(p.one("div.work"), "data-progress"), nil))
	var said struct {
		Under bool
		Doing string
	}
	if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || !said.Under || said.Doing == "" {
		t.Errorf("progress says %s, %v; want that it is under way", w.Body, err)
	}
	x, _ := s.pictures.State(of.Job())
	release()
	if err := x.Wait(t.Context()); err != nil {
		t.Fatal(err)
	}

	p = s.results200(t, id, "")
	if len(p.all("div.work")) != 0 || !strings.Contains(p.text("div.notice.good"), "same face") {
		t.Errorf("after it was compared: work %q, verdict %q", p.text("div.work"), p.text("div.notice"))
	}
	if got := p.text("dl.answers dt"); got != "Paper colour changed by | Left between the pictures | Compared" {
		t.Errorf("the answers are %q", got)
	}
	var cfg viewConfig
	if err := json.Unmarshal([]byte(attr(p.one("div.viewer"), "data-viewer")), &cfg); err != nil {
		t.Fatal(err)
	}
	if len(cfg.Maps) != 6 || cfg.After == nil || cfg.After.Width != 640 ||
		len(p.all("figure.legend svg rect")) == 0 {
		t.Errorf(
			"the viewer has %d maps, after %+v; want every map with its legend, and the aligned picture of the "+
				"before picture's size",
			len(cfg.Maps),
			cfg.After,
		)
	}
	for _, l := range append(cfg.Maps, cfg.Before, *cfg.After) {
		top := bits.Len(uint(max(l.Width, l.Height) - 1)) // each level doubles from one pixel
		path := fmt.Sprintf("%s%d-0-0", l.Tiles, top)
		w := answerTo(s, request("GET", path, nil))
		tile, err := jpeg.DecodeConfig(w.Body)
		if err != nil || tile.Width != min(512, l.Width) {
			t.Fatalf("%s: %d, %v; want a tile", path, w.Code, err)
		}
		if h := w.Header(); !strings.Contains(h.Get("Cache-Control"), "immutable") ||
			h.Get("Content-Type") != "image/jpeg" {
			t.Errorf("%s: headers %v", path, h)
		}
		again := answerTo(s, request("GET", path, nil, header("If-None-Match", w.Header().Get("ETag"))))
		if again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf("%s asked again: %d with %d bytes, want 304 with none", path, again.Code, again.Body.Len())
		}
		for _, bad := range []string{"99-0-0", fmt.Sprintf("%d-9-0", top), "1-0", "a-b-c", "-1-0-0", "0-0-0"} {
			if w := answerTo(s, request("GET", l.Tiles+bad, nil)); w.Code != http.StatusNotFound {
				t.Errorf("%s%s: %d, want 404", l.Tiles, bad, w.Code)
			}
		}
	}
	if x, _ := s.pictures.State(of.Job()); x != nil {
		t.Error("the pair is compared a second time")
	}

	// Its numbers go into the record when a person says so, and once.
	f := p.form("#numbers form")
	f.Set("by", "KM")
	if w := answerTo(s, request("POST", casePath(id, "compared"), f)); w.Code != http.StatusSeeOther {
		t.Fatalf("recording answers %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c, _ := s.store.Case(t.Context(), id)
	if len(c.Compared) != 1 || c.Compared[0].Body.PaperDE00 == nil || c.Compared[0].Body.ResidualMm != nil {
		t.Fatalf("recorded: %+v", c.Compared)
	}
	p = s.results200(t, id, "")
	if got := p.text("#numbers .sign.done"); got != "Recorded" || len(p.all("#numbers form")) != 0 {
		t.Errorf("after it was recorded the page says %q, with %d forms", got, len(p.all("#numbers form")))
	}
}

func TestAComparisonCanBeStoppedAndBegunAgain(t *testing.T) {
	s, _ := newServer(t)
	id, of := aPair(t, s)
	release := s.pictures.Hold()
	p := s.results200(t, id, "")
	x, _ := s.pictures.State(of.Job())
	stop := p.form("div.work form")
	if w := answerTo(s, request("POST", casePath(id, "comparison"), stop)); w.Code != http.StatusSeeOther ||
		!strings.HasPrefix(w.Header().Get("Location"), casePath(id, "results")) {
		t.Fatalf("stopping answers %d, to %q", w.Code, w.Header().Get("Location"))
	}
	x.Wait(t.Context())
	p = s.results200(t, id, "")
	if got := p.text("div.notice.warn p"); got != "The work on these pictures was stopped." {
		t.Fatalf("the page says %q", got)
	}
	if len(p.all("div.work")) != 0 {
		t.Fatal("looking at the page began it again")
	}
	answerTo(s, request("POST", casePath(id, "comparison"), p.form("div.notice form")))
	x, _ = s.pictures.State(of.Job())
	if x == nil {
		t.Fatal("it was not begun again")
	}
	release()
	if err := x.Wait(t.Context()); err != nil || s.pictures.Numbers(of) == nil {
		t.Errorf("the second time it came to %v", err)
	}
}

// bring makes a pair's comparison and waits for it.
func (s *Server) bring(t testing.TB, id record.CaseID, of pictures.Pair) {
	t.Helper()
	c, err := s.store.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	x := s.pictures.BeginCompare(c, of)
	if err := x.Wait(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func TestAnAreaIsReadKeptCorrectedAndWithdrawn(t *testing.T) {
	comparesPictures(t)
	s, _ := newServer(t)
	id, of := aPair(t, s)
	s.bring(t, id, of)
	k, _ := s.store.Case(t.Context(), id)
	ring := record.Ring{{260, 320}, {340, 320}, {340, 380}, {260, 380}}
	region, err := s.pictures.Measure(t.Context(), k, of, []record.Ring{ring}, false)
	if err != nil {
		t.Fatal(err)
	}
	want := region.Change("")

	// By numbers, as without script, and by its outline.
	read := casePath(id, "area") + "?" + pairQuery(of).Encode()
	byNumbers := see(t, answerTo(s, request("GET", read+"&left=260&top=320&width=80&height=60", nil)))
	p := see(
		t,
		answerTo(s, request("GET", read+"&outline="+url.QueryEscape("260,320 340,320 340,380 260,380")+"&fast=1", nil)),
	)
	shown := oneBlank(account.DE00(want.DE00Trend, want.DE00Uncertainty))
	for _, x := range []looked{byNumbers, p} {
		if got := textOf(x.all("#area-read .answers .value")[0]); got != shown {
			t.Errorf("the area changed by %q, the comparison says %q", got, shown)
		}
	}
	if !strings.Contains(p.text("#area-read .range"), "being read") ||
		strings.Contains(byNumbers.text("#area-read .range"), "being read") {
		t.Error("the paper round it should come after where the page's own code asks, and at once where it does not")
	}

	// A refusal stands at its field, with what was drawn kept.
	f := p.form("#area-read form.form")
	f.Set("by", "KM")
	f.Set("look", "mildew")
	w := answerTo(s, request("POST", casePath(id, "areas"), f))
	if w.Code != http.StatusUnprocessableEntity || len(see(t, w).all("fieldset.wrong")) != 1 ||
		see(t, w).form("#area-read form.form").Get("outline") != f.Get("outline") {
		t.Errorf("a look that does not exist: %d, at %q", w.Code, see(t, w).text("fieldset.wrong legend"))
	}
	// Sent twice, it is kept once; others may have written meanwhile.
	write(t, s, id, record.Note{Nature: "note", Text: "seen by another"})
	f.Set("look", "stain")
	for range 2 {
		if w := answerTo(s, request("POST", casePath(id, "areas"), f)); w.Code != http.StatusSeeOther {
			t.Fatalf("keeping answers %d: %s", w.Code, see(t, w).text(".refusals"))
		}
	}
	c, _ := s.store.Case(t.Context(), id)
	if len(c.Areas) != 1 || c.Areas[0].Compared == nil ||
		c.Areas[0].Compared.Body.DE00Trend != want.DE00Trend ||
		c.Areas[0].Body.StandsOutDE00 == nil {
		t.Fatalf("kept: %+v", c.Areas)
	}
	if c.Areas[0].Body.AreaMm2 != nil {
		t.Error("an area in mm² without a scale")
	}
	p = s.results200(t, id, "")
	if got := p.text("#areas table tbody th"); !strings.HasPrefix(got, "A Discolouration") {
		t.Errorf("the page lists %q", got)
	}

	// Taken up again and moved, the outline is corrected: drawn by hand now.
	again := see(
		t,
		answerTo(
			s,
			request(
				"GET",
				read+"&shape="+c.Areas[0].Body.ID+"&outline="+url.QueryEscape("250,320 340,320 340,380"),
				nil,
			),
		),
	)
	f = again.form("#area-read form[action=" + casePath(id, "areas") + "]")
	f.Set("by", "TV")
	if w := answerTo(s, request("POST", casePath(id, "areas"), f)); w.Code != http.StatusSeeOther {
		t.Fatalf("correcting answers %d: %s", w.Code, w.Body)
	}
	c, _ = s.store.Case(t.Context(), id)
	if len(c.Areas) != 1 || len(c.Areas[0].Body.OutlinePx[0]) != 3 || c.Areas[0].Corrected == 0 {
		t.Fatalf("corrected: %+v", c.Areas)
	}

	w = answerTo(
		s,
		request(
			"POST",
			casePath(id, "areas/withdraw"),
			url.Values{
				"by":     {"KM"},
				"seq":    {fmt.Sprint(c.LastSeq)},
				"before": {of.Before.String()},
				"after":  {of.After.String()},
				"area":   {c.Areas[0].Body.ID},
				"reason": {"drawn on the wrong spot"},
			},
		),
	)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("withdrawing answers %d: %s", w.Code, w.Body)
	}
	if c, _ = s.store.Case(t.Context(), id); len(c.Areas) != 0 || len(c.Problems) != 0 {
		t.Errorf("after it was withdrawn: %v, problems %v", c.Areas, c.Problems)
	}
}

// An area that was outlined before treatment is measured when the after picture
// comes, shown at once, and recorded when a person says so.
func TestAnAreaOfBeforeIsMeasuredAfter(t *testing.T) {
	comparesPictures(t)
	s, _ := newServer(t)
	id := record.NewCaseID(s.now())
	write(
		t,
		s,
		id,
		record.Opened{Number: "1", Title: "Leaf"},
		record.MakeUp{InnerSheets: 1, Cover: "self", Binding: "loose", FirstPage: 1},
	)
	before := addPicture(t, s, id, "before", aLeaf(t, 0.9, true))
	p := s.results200(t, id, "") // one picture alone: it is made ready
	if len(p.all("div.work")) != 1 {
		t.Fatalf("the page of one picture: %s", p.text("section.faces-shown"))
	}
	if x, _ := s.pictures.State(pictures.TilesJob(before)); x != nil {
		x.Wait(t.Context())
	}
	p = s.results200(t, id, "")
	var cfg viewConfig
	if err := json.Unmarshal([]byte(attr(p.one("div.viewer"), "data-viewer")), &cfg); err != nil || cfg.After != nil ||
		len(cfg.Maps) != 0 {
		t.Errorf("the viewer of one picture has %+v, %v", cfg, err)
	}
	read := see(
		t,
		answerTo(
			s,
			request(
				"GET",
				casePath(id, "area")+"?before="+before.String()+"&outline=260,320+340,320+340,380+260,380",
				nil,
			),
		),
	)
	f := read.form("#area-read form.form")
	f.Set("by", "KM")
	f.Set("look", "stain")
	if w := answerTo(s, request("POST", casePath(id, "areas"), f)); w.Code != http.StatusSeeOther {
		t.Fatalf("keeping answers %d: %s", w.Code, w.Body)
	}
	c, _ := s.store.Case(t.Context(), id)
	if len(c.Areas) != 1 || c.Areas[0].Compared != nil || c.Areas[0].Body.StandsOutDE00 == nil {
		t.Fatalf("kept: %+v", c.Areas)
	}

	// The upload of the after picture begins the comparison by itself.
	w := sendPhotos(
		t,
		s,
		id,
		map[string]string{"stage": "after", "sheets": "1", "face": "outer", "seq": fmt.Sprint(c.LastSeq)},
		map[string][]byte{"after.jpg": aLeaf(t, 1, false)},
	)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("the upload answers %d", w.Code)
	}
	c, _ = s.store.Case(t.Context(), id)
	of := pictures.Pair{Before: before, After: c.Photos[1].Body.Hash}
	x, _ := s.pictures.State(of.Job())
	if x == nil {
		t.Fatal("no comparison is under way")
	}
	x.Wait(t.Context())
	p = s.results200(t, id, "")
	if got := p.text("#areas table small"); got != "not recorded" {
		t.Errorf("the measured change says %q", got)
	}
	f = p.form("#areas form[action=" + casePath(id, "areas/compared") + "]")
	f.Set("by", "KM")
	if w := answerTo(s, request("POST", casePath(id, "areas/compared"), f)); w.Code != http.StatusSeeOther {
		t.Fatalf("recording answers %d", w.Code)
	}
	c, _ = s.store.Case(t.Context(), id)
	if y := c.Areas[0].Compared; y == nil || y.Body.DE00Trend < 5 || *y.Body.StandsOutDE00 > *y.Body.StoodOutDE00 {
		t.Errorf("recorded: %+v", y)
	}
	if got := s.results200(t, id, "").text("#areas table small"); got != "" {
		t.Errorf("once recorded it still says %q", got)
	}
}

func TestAreasThatCannotBeRead(t *testing.T) {
	s, _ := newServer(t)
	id, of := aPair(t, s)
	s.bring(t, id, of)
	read := casePath(id, "area") + "?" + pairQuery(of).Encode()
	for query, say := range map[string]string{
		"&outline=":                                  "Nothing is outlined",
		"&outline=1,1+2,2":                           "at least three corners",
		"&outline=abc":                               "cannot be read at",
		"&outline=1,1+2,NaN+3,3":                     "cannot be read at",
		"&outline=9000,9000+9100,9000+9100,9100":     "outside",
		"&outline=1,1+2e9,1+2,2":                     "within",
		"&outline=" + strings.Repeat("1,1+", 20_000): "too long",
		"&left=10&top=10&width=-4&height=4":          "holds nothing",
		"&left=x&top=10&width=4&height=4":            "cannot be",
		"&left=&top=10&width=4&height=4":             "Please enter",
	} {
		w := answerTo(s, request("GET", read+query, nil))
		if w.Code != http.StatusOK {
			t.Errorf("%.40s: %d", query, w.Code)
			continue
		}
		p := see(t, w)
		if got := p.text("#area-read div.notice p"); !strings.Contains(got, say) || len(p.all("#area-read form")) != 0 {
			t.Errorf("%.40s: says %q, want %q and nothing to keep", query, got, say)
		}
	}
	for _, q := range []string{
		"", "?before=x", "?before=" + strings.Repeat("0", 64),
		"?before=" + of.Before.String() + "&after=" + strings.Repeat("ab", 32),
	} {
		if w := answerTo(s, request("GET", casePath(id, "area")+q, nil)); w.Code != http.StatusNotFound {
			t.Errorf("pictures %q: %d, want 404", q, w.Code)
		}
	}
}

func TestStainsAreProposedAndKeptAsTicked(t *testing.T) {
	comparesPictures(t)
	s, _ := newServer(t)
	id, of := aPair(t, s)
	s.bring(t, id, of)
	p := s.results200(t, id, "")
	find := url.Values{}
	for _, form := range p.all("#areas form") {
		find = looked{t, form}.form2()
	}
	answerTo(s, request("POST", casePath(id, "comparison"), find))
	if x, _ := s.pictures.State(pictures.StainsJob(of.Before)); x != nil {
		x.Wait(t.Context())
	}
	p = s.results200(t, id, "")
	rows := len(p.all("table.found tbody tr"))
	if rows == 0 {
		t.Fatalf("nothing is proposed where a stain was painted: %s", p.text("#areas"))
	}
	f := p.form("#found form")
	f.Set("by", "KM")
	w := answerTo(s, request("POST", casePath(id, "areas/found"), f))
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(see(t, w).text(".refusals"), "Nothing is ticked") {
		t.Errorf("nothing ticked: %d %s", w.Code, see(t, w).text(".refusals"))
	}
	f.Add("keep", "0")
	f.Set("look-0", "tideline")
	if w := answerTo(s, request("POST", casePath(id, "areas/found"), f)); w.Code != http.StatusSeeOther {
		t.Fatalf("keeping answers %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c, _ := s.store.Case(t.Context(), id)
	if len(c.Areas) != 1 || c.Areas[0].Body.Look != "tideline" || c.Areas[0].Body.FoundBy != "measured" ||
		c.Areas[0].Compared == nil {
		t.Fatalf("kept: %+v", c.Areas)
	}
	if left := len(s.results200(t, id, "").all("table.found tbody tr")); left != rows-1 {
		t.Errorf("%d proposals are left of %d", left, rows)
	}
}

// form2 is form of the element itself.
func (p looked) form2() url.Values {
	v := url.Values{}
	for _, in := range p.all("input") {
		v.Add(attr(in, "name"), attr(in, "value"))
	}
	return v
}

func FuzzOutline(f *testing.F) {
	for _, s := range []string{"", "1,2 3,4 5,6", "1,2 3,4 5,6;7,8 9,1 2,2", "1e3,−4 ,;", "a,b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		rings, err := parseOutline(s)
		if err != nil {
			if sentenceOf(err) == "" {
				t.Errorf("%q is refused without a sentence", s)
			}
			return
		}
		again, err := parseOutline(writeOutline(rings))
		if err != nil || fmt.Sprint(again) != fmt.Sprint(rings) {
			t.Errorf("%q: read %v, written and read again %v, %v", s, rings, again, err)
		}
	})
}
