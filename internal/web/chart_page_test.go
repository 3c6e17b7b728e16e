package web

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strconv"
	"strings"
	"testing"

	"benchleaf/colour"
	"benchleaf/internal/record"
)

// chartValues are the values of a chart of 24 patches, as package colour's
// tests have them.
func chartValues(t *testing.T) []byte {
	t.Helper()
	b, err := os.ReadFile("../../colour/testdata/chart24.csv")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// chartPicture draws a chart on a brown desk as a camera would see it that is a
// little dark and warm: outer corners of the patches from (180, 120) on, 60 px
// wide with gaps of 10. brown gives the desk alone.
func chartPicture(t *testing.T, chart bool) []byte {
	t.Helper()
	c, err := colour.ParseChart(bytes.NewReader(chartValues(t)))
	if err != nil {
		t.Fatal(err)
	}
	m := image.NewRGBA(image.Rect(0, 0, 800, 600))
	fill := func(x0, y0, x1, y1 int, x colour.XYZ) {
		r, g, b := colour.SRGB().Device(colour.XYZ{X: 0.84 * x.X, Y: 0.8 * x.Y, Z: 0.7 * x.Z})
		v := color.RGBA{uint8(math.Round(255 * r)), uint8(math.Round(255 * g)), uint8(math.Round(255 * b)), 255}
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				m.SetRGBA(x, y, v)
			}
		}
	}
	fill(0, 0, 800, 600, colour.Lab{L: 45, A: 8, B: 18}.XYZ())
	if chart {
		fill(160, 100, 610, 410, colour.Lab{L: 12}.XYZ())
		for i, p := range c.Patches {
			x, y := 180+70*(i%6), 120+70*(i/6)
			fill(x, y, x+60, y+60, p.XYZ)
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// sendChart posts a chart's file to the studio.
func sendChart(t *testing.T, s *Server, fields map[string]string, name string, data []byte) *httptest.ResponseRecorder {
	t.Helper()
	p, _ := get(t, s, "/studio/charts")
	form := p.form("form.form")
	for k, v := range fields {
		form.Set(k, v)
	}
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	for k := range form {
		if k != "chart_file" {
			m.WriteField(k, form.Get(k))
		}
	}
	if name != "" {
		w, err := m.CreateFormFile("chart_file", name)
		if err != nil {
			t.Fatal(err)
		}
		w.Write(data)
	}
	m.Close()
	r := request(
		"POST",
		"/studio/charts",
		nil,
		header("Content-Type", m.FormDataContentType()),
		header("Sec-Fetch-Site", "same-origin"),
		writtenBy(),
	)
	r.Body = io.NopCloser(&body)
	return answerTo(s, r)
}

// chartCase has a photograph of a chart, one of a desk, and the chart's values
// in the studio.
func chartCase(t *testing.T) (s *Server, id record.CaseID, withChart, without string) {
	t.Helper()
	s, _ = newServer(t)
	id = openCase(t, s)
	for seq, chart := range []bool{true, false} {
		if w := sendPhotos(t, s, id, map[string]string{"seq": strconv.Itoa(seq + 1)}, map[string][]byte{"a.png": chartPicture(t, chart)}); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
		}
	}
	c := caseOf(t, s, id)
	at := func(i int) string { return photoPath(c, c.Photos[i].Body.Hash) }
	return s, id, at(0), at(1)
}

func addChart(t *testing.T, s *Server) {
	t.Helper()
	if w := sendChart(t, s, map[string]string{"chart_name": "the studio's chart", "chart_source": "measured by the test"}, "chart.csv", chartValues(t)); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
}

func TestAChartIsFoundAndSetsTheColour(t *testing.T) {
	s, id, path, _ := chartCase(t)
	addChart(t, s)
	if x := studioOf(t, s).Charts[0]; x.Rows != 4 || x.Columns != 6 || x.FileName != "chart.csv" ||
		x.Text != string(chartValues(t)) {
		t.Errorf("kept: %d by %d, %q, %d bytes", x.Rows, x.Columns, x.FileName, len(x.Text))
	}
	p, w := get(t, s, path+"/chart")
	if w.Code != http.StatusOK || !strings.Contains(p.text(".notice.good"), "found") ||
		p.text(".tabs a[aria-current=true]") != "the studio's chart" {
		t.Fatalf("status %d, says %q, by %q", w.Code, p.text(".notice"), p.text(".tabs a[aria-current=true]"))
	}
	form := p.form("form.form")
	// Half a gap outside the patches: 175 to 595, 115 to 395, less half a pixel.
	for field, want := range map[string]float64{"x1": 174.5, "y1": 114.5, "x2": 594.5, "y2": 114.5, "x3": 594.5, "y3": 394.5, "x4": 174.5, "y4": 394.5} {
		if v, err := strconv.ParseFloat(form.Get(field), 64); err != nil || math.Abs(v-want) > 3 {
			t.Errorf("%s is %q, want %g", field, form.Get(field), want)
		}
	}
	if n := len(p.all(".handle")); n != 4 || form.Get("found") != "yes" {
		t.Errorf("%d handles, found %q", n, form.Get("found"))
	}
	if w := post(s, path+"/chart", form); w.Code != http.StatusSeeOther || w.Header().Get("Location") != path {
		t.Fatalf("status %d to %q: %s", w.Code, w.Header().Get("Location"), see(t, w).text(".refusals"))
	}
	// Sent again, it is one entry.
	post(s, path+"/chart", form)
	c := caseOf(t, s, id)
	if len(c.Colours) != 1 {
		t.Fatalf("%d entries", len(c.Colours))
	}
	b := c.Colours[0].Body
	if !b.Found || b.Method != "chart" || b.Used < 20 || b.ErrorDE00 > 1 || b.ChartSource != "measured by the test" {
		t.Errorf("kept: %+v", b)
	}
	page, _ := get(t, s, path)
	if got := page.text("#colour .answers .value"); got != errorText(b.ErrorDE00)+" ΔE00" {
		t.Errorf("the page says %q", got)
	}
	if got := page.text("#colour"); !strings.Contains(got, "24 patches") && !strings.Contains(got, "left out") ||
		!strings.Contains(got, "measured by the test") {
		t.Errorf("the page says %q", got)
	}
	// The corrected picture shows the white patch as its values say.
	src := attr(page.all(".compare img")[1], "src")
	pic := answerTo(s, request("GET", src, nil))
	m, _, err := image.Decode(pic.Body)
	if err != nil {
		t.Fatalf("%d: %v", pic.Code, err)
	}
	r, g, bl, _ := m.At(210, 360).RGBA()
	white := colour.SRGB().Lab(float64(r)/65535, float64(g)/65535, float64(bl)/65535)
	if d := colour.DE2000(white, colour.Lab{L: 96.5, A: -0.4, B: 1.2}); d > 2 {
		t.Errorf("the white patch is shown as %v, %.1f dE00 off", white, d)
	}
	if w := answerTo(s, request("GET", path+"/corrected/0123456789abcdef", nil)); w.Code != http.StatusNotFound {
		t.Errorf("another correction's picture: status %d", w.Code)
	}
	photos, _ := get(t, s, casePath(id, "photos"))
	if got := photos.text(".photos figcaption"); !strings.Contains(
		got,
		"colour set by the chart “the studio's chart”",
	) {
		t.Errorf("the list of photographs says %q", got)
	}
}

func TestCornersByHandCorrectedAndWithdrawn(t *testing.T) {
	s, id, path, _ := chartCase(t)
	addChart(t, s)
	p, _ := get(t, s, path+"/chart")
	form := p.form("form.form")
	form.Del("found")
	// Begun at the last patch: the order is put right.
	for i, v := range []string{"600", "400", "180", "400", "180", "120", "600", "120"} {
		form.Set(string("xy"[i%2])+strconv.Itoa(i/2+1), v)
	}
	if w := post(s, path+"/chart", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	b := caseOf(t, s, id).Colours[0].Body
	if b.Found || b.Corners[0] != [2]float64{180, 120} || b.ErrorDE00 > 1 {
		t.Errorf("kept: %+v", b)
	}
	// Corrected: by grey card, in place of the entry.
	p, _ = get(t, s, path+"/chart")
	if v := p.form("form.form"); v.Get("x1") != "180" || v.Get("corrects") != "4" {
		t.Errorf("the form does not begin with what is there: %v", v)
	}
	p, _ = get(t, s, path+"/chart?with=grey-card")
	form = p.form("form.form")
	form.Set("lightness", "50.87")
	for i, v := range []string{"395", "335", "445", "335", "445", "385", "395", "385"} { // neutral 5
		form.Set(string("xy"[i%2])+strconv.Itoa(i/2+1), v)
	}
	if w := post(s, path+"/chart", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c := caseOf(t, s, id)
	if len(c.Colours) != 1 || c.Colours[0].Body.Method != "grey-card" || c.Colours[0].Corrected == 0 {
		t.Fatalf("after the correction: %+v", c.Colours)
	}
	page, _ := get(t, s, path)
	if got := page.text("#colour"); !strings.Contains(got, "L* 50.87") || !strings.Contains(got, "rule of thumb") ||
		!strings.Contains(got, greyKnows) {
		t.Errorf("the page says %q", got)
	}
	h, err := record.ParseHash(path[strings.LastIndex(path, "/")+1:])
	if err != nil {
		t.Fatal(err)
	}
	correction, err := c.ColourOf(h).Body.Correction()
	if err != nil {
		t.Fatal(err)
	}
	// The grey that was read comes out as said.
	r, g, bl := colour.SRGB().Device(func() colour.XYZ {
		x := colour.Lab{L: 50.867, A: -0.153, B: -0.27}.XYZ()
		return colour.XYZ{X: 0.84 * x.X, Y: 0.8 * x.Y, Z: 0.7 * x.Z}
	}())
	if d := colour.DE2000(correction.XYZ(colour.SRGB().Linear(r, g, bl)).Lab(), colour.Lab{L: 50.87}); d > 0.5 {
		t.Errorf("the grey comes out %.2f dE00 off", d)
	}
	// Withdrawn: nothing sets the colour.
	href := attr(page.one("#colour a.plain"), "href")
	w, _ := get(t, s, href)
	form = w.form("form.form")
	form.Set("reason", "not that card")
	if a := post(s, casePath(id, "withdraw"), form); a.Code != http.StatusSeeOther {
		t.Fatalf("status %d", a.Code)
	}
	if c := caseOf(t, s, id); len(c.Colours) != 0 {
		t.Errorf("still %+v", c.Colours)
	}
}

func TestChartRefusalsStandWhereTheyBelong(t *testing.T) {
	s, id, path, desk := chartCase(t)
	// Without a chart of the studio the fallbacks come first.
	p, _ := get(t, s, path+"/chart")
	var to string
	for _, a := range p.all("a") {
		if u, err := url.Parse(attr(a, "href")); err == nil && u.Path == "/studio/charts" {
			to = u.Query().Get("back")
		}
	}
	if p.text(".tabs a") != "Grey card | White paper" || to != path+"/chart" {
		t.Errorf("offered: %q, and a chart that comes back to %q", p.text(".tabs a"), to)
	}
	addChart(t, s)
	// No chart in the picture: said, and the patches are not believed.
	p, _ = get(t, s, desk+"/chart")
	if !strings.Contains(p.text(".notice"), "not found for certain") || p.form("form.form").Get("found") != "" {
		t.Errorf("says %q", p.text(".notice"))
	}
	w := post(s, desk+"/chart", p.form("form.form"))
	if got := see(t, w).text("#chart-corners-refusal"); w.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(got, "hardly differ in colour") {
		t.Errorf("status %d, at the corners: %q", w.Code, got)
	}
	for _, row := range []struct{ with, field, typed, at, says string }{
		{"", "x1", "left", "#chart-x1-refusal", "left"},
		{"", "y3", "", "#chart-y3-refusal", "Please enter"},
		{"", "x2", "9000", "#chart-corners-refusal", "outside the picture"},
		{"", "x2", "100", "#chart-corners-refusal", "do not go round"},
		{"grey-card", "lightness", "180", "#chart-corners-refusal", "between 10 and 99"},
		{"grey-card", "lightness", "", "#chart-lightness-refusal", "Please enter"},
		{"", "with", "magic", ".refusals", "what the colour is set by"},
	} {
		p, _ := get(t, s, path+"/chart?with="+row.with)
		form := p.form("form.form")
		form.Set(row.field, row.typed)
		w := post(s, path+"/chart", form)
		if got := see(t, w).text(row.at); w.Code != http.StatusUnprocessableEntity || !strings.Contains(got, row.says) {
			t.Errorf("%s %q: status %d, says %q", row.field, row.typed, w.Code, got)
		}
	}
	if c := caseOf(t, s, id); c.LastSeq != 3 {
		t.Errorf("%d entries, want the three", c.LastSeq)
	}
	// Two tabs: the second hears of the first.
	p, _ = get(t, s, path+"/chart")
	form := p.form("form.form")
	other := url.Values{}
	for k, v := range form {
		other[k] = v
	}
	other.Set("key", record.NewID(s.now().Add(1e9)))
	if w := post(s, path+"/chart", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	other.Set("x1", "178")
	w = post(s, path+"/chart", other)
	if got := see(t, w).text(".clash"); w.Code != http.StatusConflict ||
		!strings.Contains(got, "Colour of photograph") {
		t.Errorf("the second tab: status %d, %q", w.Code, got)
	}
	// A photograph of another case has no page here.
	if _, w := get(t, s, casePath(id, "photos/"+strings.Repeat("0", 64)+"/chart")); w.Code != http.StatusNotFound {
		t.Errorf("a photograph that is not here: status %d", w.Code)
	}
}

func TestChartFilesThatAreNoGood(t *testing.T) {
	s, _ := newServer(t)
	good := map[string]string{"chart_name": "chart", "chart_source": "measured"}
	for _, row := range []struct {
		what   string
		change map[string]string
		file   string
		data   string
		at     string
		says   string
	}{
		{"no file", nil, "", "", "#chartfile-chart_file-refusal", "missing"},
		{"an empty file", nil, "a.csv", "", "#chartfile-chart_file-refusal", "missing"},
		{"a picture", nil, "a.csv", "\x89PNG\r\n\x1a\n\x00\x00\x00", "#chartfile-chart_file-refusal", "cannot be read"},
		{"no colours", nil, "a.csv", "id,name\n1,white\n", "#chartfile-chart_file-refusal", "hold no colour"},
		{"a bad line", nil, "a.csv", "id,L,a,b\nA1,50,0,zero\n", "#chartfile-chart_file-refusal", "Line 2"},
		{"no name", map[string]string{"chart_name": ""}, "a.csv", string(chartValues(t)), "#chartfile-chart_name-refusal", "Please enter"},
		{"no source", map[string]string{"chart_source": ""}, "a.csv", string(chartValues(t)), "#chartfile-chart_source-refusal", "Please enter"},
		{"rows that do not fit", map[string]string{"chart_rows": "5"}, "a.csv", string(chartValues(t)), "#chartfile-chart_rows-refusal", "24 patches"},
		{"rows and columns that do not fit", map[string]string{"chart_rows": "5", "chart_columns": "5"}, "a.csv", string(chartValues(t)), "#chartfile-chart_rows-refusal", "25 patches"},
		{"a layout that the file does not tell", nil, "a.csv", "id,L,a,b\n1,50,0,0\n2,60,0,0\n3,70,0,0\n4,80,0,0\n", "#chartfile-chart_rows-refusal", "does not tell"},
		{"too large", nil, "a.csv", "id,L,a,b\n" + strings.Repeat("# long\n", 90_000), "#chartfile-chart_file-refusal", "512 kB"},
	} {
		fields := map[string]string{}
		for k, v := range good {
			fields[k] = v
		}
		for k, v := range row.change {
			fields[k] = v
		}
		w := sendChart(t, s, fields, row.file, []byte(row.data))
		if got := see(t, w).text(row.at); w.Code != http.StatusUnprocessableEntity || !strings.Contains(got, row.says) {
			t.Errorf("%s: status %d, says %q at %s", row.what, w.Code, got, row.at)
		}
	}
	if w := sendChart(t, s, good, "a.csv", bytes.Repeat([]byte("x"), 2<<20)); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("two megabytes: status %d", w.Code)
	}
	if n := len(studioOf(t, s).Charts); n != 0 {
		t.Errorf("%d charts were kept", n)
	}
	// A file in Latin-1 is read, and a chart is changed without sending it again.
	if w := sendChart(t, s, good, "b.csv", []byte("id;name;L;a;b\n1;wei\xdf;90;0;0\n2;grau;60;0;0\n3;rot;40;50;30\n4;blau;30;10;-50\n")); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("without a layout: status %d", w.Code)
	}
	good["chart_columns"] = "2"
	if w := sendChart(t, s, good, "b.csv", []byte("id;name;L;a;b\n1;wei\xdf;90;0;0\n2;grau;60;0;0\n3;rot;40;50;30\n4;blau;30;10;-50\n")); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	x := studioOf(t, s).Charts[0]
	if !strings.Contains(x.Text, "weiß") || x.Rows != 2 {
		t.Errorf("kept %q in %d rows", x.Text, x.Rows)
	}
	p, _ := get(t, s, "/studio/charts?chart="+x.ID)
	if !strings.Contains(p.text("form"), "2 rows of 2 patches, from b.csv") {
		t.Errorf("the form does not say what is held: %q", p.text("form"))
	}
	if w := sendChart(t, s, map[string]string{"chart": x.ID, "chart_name": "small chart", "chart_source": "measured again", "chart_rows": "2", "chart_columns": "2", "retired": "yes"}, "", nil); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	st := studioOf(t, s)
	if len(st.Charts) != 1 || st.Charts[0].Name != "small chart" || st.Charts[0].Text != x.Text ||
		!st.Charts[0].Retired {
		t.Errorf("after the change: %+v", st.Charts)
	}
	if p, _ := get(t, s, "/studio"); !strings.Contains(p.text("#charts"), "measured again") {
		t.Errorf("the studio's page says %q", p.text("#charts"))
	}
}

func TestColourTakenOverFromTheSameLight(t *testing.T) {
	s, id, path, desk := chartCase(t)
	addChart(t, s)
	if p, _ := get(t, s, desk+"/chart"); strings.Contains(p.text(".tabs"), "Same light") {
		t.Error("the same light is offered before any colour is set")
	}
	p, _ := get(t, s, path+"/chart")
	if w := post(s, path+"/chart", p.form("form.form")); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d", w.Code)
	}
	if p, _ := get(t, s, path+"/chart"); strings.Contains(p.text(".tabs"), "Same light") {
		t.Error("a photograph is offered its own light")
	}
	p, _ = get(t, s, desk+"/chart?with=same-light")
	form := p.form("form.form")
	if !strings.HasSuffix(path, form.Get("like")) || len(p.all(".handle")) != 0 {
		t.Fatalf("the form offers %q, with %d handles", form.Get("like"), len(p.all(".handle")))
	}
	for like, says := range map[string]string{"": "Choose the photograph", strings.Repeat("0", 64): "is not set by what it shows", desk[strings.LastIndex(desk, "/")+1:]: "is not set by what it shows"} {
		bad := url.Values{}
		for k, v := range form {
			bad[k] = v
		}
		bad.Set("like", like)
		bad.Set("key", record.NewID(s.now()))
		w := post(s, desk+"/chart", bad)
		if got := see(t, w).text("#chart-like-refusal"); w.Code != http.StatusUnprocessableEntity ||
			!strings.Contains(got, says) {
			t.Errorf("like %q: status %d, says %q", like, w.Code, got)
		}
	}
	if w := post(s, desk+"/chart", form); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, see(t, w).text(".refusals"))
	}
	c := caseOf(t, s, id)
	from, to := c.ColourOf(c.Photos[0].Body.Hash), c.ColourOf(c.Photos[1].Body.Hash)
	if to == nil || to.Body.From != from.Body.Photo || to.Body.ErrorDE00 != from.Body.ErrorDE00 ||
		to.Body.Coefficients[0][0] != from.Body.Coefficients[0][0] {
		t.Errorf("taken over: %+v", to)
	}
	page, _ := get(t, s, desk)
	if got := page.text("#colour"); !strings.Contains(got, "in another photograph of the same light") ||
		len(page.all("#colour a[href="+path+"]")) != 1 {
		t.Errorf("the page says %q", got)
	}
	// What was taken over is not taken over again.
	if p, _ := get(t, s, path+"/chart"); strings.Contains(p.text(".tabs"), "Same light") {
		t.Error("a colour that was taken over is offered again")
	}
}
