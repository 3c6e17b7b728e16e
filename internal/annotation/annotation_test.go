package annotation

import (
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchleaf/condition"
)

var opened = condition.Size{WidthMm: 340, HeightMm: 262}

func shapes(t testing.TB, text string) []condition.Shape {
	t.Helper()
	list, err := condition.ParseShapes(text)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func collection(t testing.TB) Collection {
	note := func(id, text, tag, drawn string) Note {
		return Note{
			ID: "urn:benchleaf:" + id, Text: text, Tags: []string{tag}, Creator: "KM",
			Created: time.Date(2026, 3, 2, 18, 0, 0, 0, time.FixedZone("", 3600)), Shapes: shapes(t, drawn),
		}
	}
	page := func(n string, notes ...Note) Page {
		return Page{
			ID: "urn:benchleaf:page:" + n, File: n + ".json", Label: "Sheet " + n, Source: "urn:benchleaf:face:" + n, Size: opened,
			Notes: notes,
		}
	}
	return Collection{ID: "urn:benchleaf:case:1", Label: "The Windlass Monthly, no. 31", Pages: []Page{
		page("1", note("a", "tear 84 mm", "tear", "line 340,232 256,228")),
		page("2"),
		page("3", note("b", "", "stain", "outline 10,10 60,12 40,50; box 0,220 340,262"), note("c", "tape", "tape", "strip 18 161,20 161,130; spot 12,30")),
	}}
}

// TestWrittenFilesKeepTheRules holds what is written against the MUST and SHOULD
// sentences of the Web Annotation Data Model, W3C Recommendation 23 February 2017
// (read in the editors' source of that document), by section.
func TestWrittenFilesKeepTheRules(t *testing.T) {
	files, err := collection(t).Files()
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != 3 || files[0].Name != "collection.json" || files[2].Name != "3.json" {
		t.Fatalf("%d files, want the collection and the two faces that have notes", len(files))
	}
	docs := make([]node, len(files))
	for i, f := range files {
		if err := json.Unmarshal(f.Data, &docs[i]); err != nil {
			t.Fatal(err)
		}
	}
	must := func(is bool, section, rule string) {
		t.Helper()
		if !is {
			t.Errorf("%s: %s", section, rule)
		}
	}
	iri := func(v any) bool { s, _ := v.(string); u, err := url.Parse(s); return err == nil && u.IsAbs() }

	c := docs[0]
	must(c["@context"] == any(Context), "5.1", "one @context, as a string, the model's own")
	must(iri(c["id"]), "5.1", "the collection has exactly one IRI")
	must(c.is("AnnotationCollection"), "5.1", "AnnotationCollection is among its types")
	must(c.text("label") != "", "5.1", "it should have a label")
	must(c["total"] == 3.0, "5.1", "total is the number of annotations, not negative")
	must(c["first"] == docs[1]["id"] && c["last"] == docs[2]["id"], "5.1", "it has a first page, and should have a last")

	start := 0.0
	for i, p := range docs[1:] {
		must(p["@context"] == any(Context), "5.2", "a page that is not embedded has the @context")
		must(iri(p["id"]), "5.2", "a page has exactly one IRI")
		must(p.is("AnnotationPage"), "5.2", "AnnotationPage is among its types")
		must(asNode(p["partOf"])["id"] == c["id"], "5.2", "it should name its collection, once")
		must(p["startIndex"] == start, "5.2", "startIndex counts from 0 through the collection")
		must(i+2 >= len(docs) || p["next"] == docs[i+2]["id"], "5.2", "a page that is not the last names the next")
		must(i == 0 || p["prev"] == docs[i]["id"], "5.2", "a page that is not the first should name the one before")
		items, _ := p["items"].([]any)
		must(len(items) >= 1, "5.2", "items is an array of one annotation or more")
		start += float64(len(items))
		for _, it := range items {
			keepsRules(t, asNode(it), must, iri)
		}
	}
}

func keepsRules(t *testing.T, a node, must func(bool, string, string), iri func(any) bool) {
	must(iri(a["id"]), "3.1", "an annotation has exactly one IRI")
	must(a.is("Annotation"), "3.1", "Annotation is among its types")
	must(len(list(a["body"])) >= 1, "3.1", "it should have a body")
	must(len(list(a["target"])) == 1, "3.1", "it has one target or more")
	must(a["@context"] == nil, "5.2", "inside a page the context stands once")
	for _, b := range list(a["body"]) {
		body := asNode(b)
		must(body.is("TextualBody"), "3.2.4", "an embedded text should have the class TextualBody")
		must(body.text("value") != "", "3.2.4", "it has exactly one value")
		must(body.text("language") == "en", "3.2.1", "it should have a language")
		must(slices.Contains([]string{"tagging", "describing"}, body.text("purpose")), "3.3.5", "its purpose is a motivation")
	}
	must(a.text("motivation") == "describing", "3.3.5", "motivation is one of the model's")
	must(strings.HasSuffix(a.text("created"), "Z"), "3.3.1", "created should be in UTC, expressed as Z")
	target := asNode(a["target"])
	must(target.is("SpecificResource"), "4", "it should have the class SpecificResource")
	must(iri(target["source"]), "4", "it has exactly one source")
	classes := map[string]int{}
	for _, s := range list(target["selector"]) {
		sel := asNode(s)
		class := sel.text("type")
		classes[class]++
		switch class {
		case "SvgSelector":
			value := sel.text("value")
			must(wellFormed(value), "4.2.7", "value is well-formed SVG XML")
			must(strings.Contains(value, `viewBox="0 0 340 262"`), "4.2.7", "the canvas is relative to the source")
			must(!strings.Contains(value, "style") && !strings.Contains(value, "transform") && !strings.Contains(value, "script"),
				"4.2.7", "no style, transformation or script stands in it")
		case "FragmentSelector":
			must(strings.HasPrefix(sel.text("value"), "xywh=percent:"), "4.2.1", "it has exactly one value, a media fragment")
			must(sel.text("conformsTo") == "http://www.w3.org/TR/media-frags/", "4.2.1", "it should name its specification, once")
		}
	}
	must(classes["SvgSelector"] == 1 && classes["FragmentSelector"] == 1, "4.2", "the same place is told twice, for those who read one")
}

func wellFormed(s string) bool {
	d := xml.NewDecoder(strings.NewReader(s))
	for {
		if _, err := d.Token(); err != nil {
			return err == io.EOF
		}
	}
}

// TestRoundTrip writes shapes and reads them back: the same forms within 0.01 mm.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := condition.Size{
			WidthMm: rapid.Float64Range(100, 900).Draw(t, "width"), HeightMm: rapid.Float64Range(100, 900).Draw(t, "height"),
		}
		want := drawn(t, size)
		c := Collection{ID: "urn:c", Pages: []Page{{ID: "urn:p", File: "p.json", Source: "urn:f", Size: size, Notes: []Note{{
			ID: "urn:n", Text: "said", Tags: []string{"tear"}, Creator: "KM", Created: time.Unix(1e9, 0), Shapes: want,
		}}}}}
		files, err := c.Files()
		if err != nil {
			t.Fatal(err)
		}
		notes, err := Read(files[1].Data, size, PixelSize{})
		if err != nil {
			t.Fatalf("%v\n%s", err, files[1].Data)
		}
		n := notes[0]
		if len(notes) != 1 || n.Text != "said" || n.Tags[0] != "tear" || n.Creator != "KM" || !n.Created.Equal(time.Unix(1e9, 0)) ||
			n.Source != "urn:f" || len(n.Shapes) != len(want) {
			t.Fatalf("read back %+v", n)
		}
		for i, s := range n.Shapes {
			if s.Form != want[i].Form || len(s.Points) != len(want[i].Points) || math.Abs(s.WidthMm-want[i].WidthMm) > 0.01 {
				t.Fatalf("%v reads back as %v", want[i], s)
			}
			for j, p := range s.Points {
				if math.Hypot(p.XMm-want[i].Points[j].XMm, p.YMm-want[i].Points[j].YMm) > 0.01 {
					t.Fatalf("point %d of %v reads back as %v", j, want[i], s)
				}
			}
		}
	})
}

// drawn are shapes as a hand draws them on a face of that size.
func drawn(t *rapid.T, size condition.Size) []condition.Shape {
	x, y := rapid.Float64Range(0, size.WidthMm), rapid.Float64Range(0, size.HeightMm)
	point := func() condition.Point { return condition.Point{XMm: x.Draw(t, "x"), YMm: y.Draw(t, "y")} }
	var list []condition.Shape
	for range rapid.IntRange(1, 4).Draw(t, "shapes") {
		s := condition.Shape{Form: rapid.SampledFrom([]condition.Form{
			condition.Spot, condition.Line, condition.Strip, condition.Outline, condition.Box}).Draw(t, "form")}
		n := map[condition.Form]int{condition.Spot: 1, condition.Line: 3, condition.Strip: 2, condition.Outline: 3, condition.Box: 2}[s.Form]
		for range n {
			s.Points = append(s.Points, point())
		}
		if s.Form == condition.Strip {
			s.WidthMm = rapid.Float64Range(0.5, 40).Draw(t, "strip")
		}
		if s.Form == condition.Box {
			low, high := s.Bounds()
			s.Points = []condition.Point{low, high}
		}
		if s.Validate(size) != nil || (s.Form == condition.Outline || s.Form == condition.Box) && s.AreaMm2() < 1 || s.Form != condition.Spot && s.LengthMm() < 1 {
			s = condition.Shape{Form: condition.Spot, Points: []condition.Point{point()}}
		}
		list = append(list, s)
	}
	return list
}

// one is an annotation with that target.
func one(target string) string {
	return `{"@context":"http://www.w3.org/ns/anno.jsonld","id":"http://example.org/anno1","type":"Annotation",` +
		`"body":{"type":"TextualBody","value":"love","purpose":"tagging"},"target":` + target + `}`
}

func svg(inner string) string {
	q, _ := json.Marshal(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 680 524">` + inner + `</svg>`)
	return one(`{"source":"http://example.org/map1","selector":{"type":"SvgSelector","value":` + string(q) + `}}`)
}

// TestReadingFilesOfOthers reads annotations of the forms that the Recommendation's
// examples have, two units of their canvas to a millimetre.
func TestReadingFilesOfOthers(t *testing.T) {
	px := PixelSize{3400, 2620}
	for _, tc := range []struct{ name, file, want string }{
		{"an IRI with a fragment, 3.2.3", one(`{"id":"http://example.com/image1#xywh=100,100,300,300","type":"Image"}`), "box 10,10 40,40"},
		{"the same as a string", one(`"http://example.com/image1#xywh=pixel:100,100,300,300"`), "box 10,10 40,40"},
		{"per cent, Media Fragments 4.2.2", one(`{"source":"http://example.org/i","selector":{"type":"FragmentSelector",` +
			`"conformsTo":"http://www.w3.org/TR/media-frags/","value":"xywh=percent:50,50,25,25"}}`), "box 170,131 255,196.5"},
		{"two selectors, the exact one first", one(`{"source":"http://example.org/i","selector":[{"type":"FragmentSelector","value":` +
			`"xywh=percent:0,0,100,100"},{"type":"SvgSelector","value":"<svg viewBox='0 0 340 262'><rect x='1' y='2' width='3' height='4'/></svg>"}]}`),
			"box 1,2 4,6"},
		{"the second where the first cannot be read", one(`{"source":"http://example.org/i","selector":[{"type":"SvgSelector"},` +
			`{"type":"FragmentSelector","value":"xywh=0,0,10,10"}]}`), "box 0,0 1,1"},
		{"source described in detail", one(`{"source":{"id":"http://example.org/i","type":"Image"},"selector":{"type":"FragmentSelector",` +
			`"value":"t=1&xywh=0,0,10,10"}}`), "box 0,0 1,1"},
		{"the whole face", one(`"http://example.com/image1"`), "box 0,0 340,262"},
		{"line and circle", svg(`<line x1="0" y1="0" x2="20" y2="20"/><circle cx="40" cy="40" r="2"/>`), "line 0,0 10,10; spot 20,20"},
		{"style is passed over", svg(`<style>*{fill:red}</style><title>a road</title><polygon points="0,0 20,0 20,20" style="fill:red"/>`),
			"outline 0,0 10,0 10,10"},
		{"a path", svg(`<path d="M0 0h20v20H0z m100,100 l20-20"/>`), "outline 0,0 10,0 10,10 0,10; line 50,50 60,40"},
		{"with a prefix", strings.ReplaceAll(strings.ReplaceAll(svg(`<svg:rect width="20" height="20"/>`), "<svg xmlns", "<svg:svg xmlns:svg"),
			"</svg>", "</svg:svg>"), "box 0,0 10,10"},
		{"a collection with its page in it, 5.2", `{"@context":["http://www.w3.org/ns/anno.jsonld","http://example.org/more"],"id":"http://example.org/c",` +
			`"type":"AnnotationCollection","total":1,"first":{"id":"http://example.org/p","type":["AnnotationPage","Other"],"items":[` +
			one(`"http://e.org/i#xywh=0,0,10,10"`) + `]}}`, "box 0,0 1,1"},
	} {
		notes, err := Read([]byte(tc.file), opened, px)
		if err != nil || len(notes) != 1 {
			t.Errorf("%s: %d notes, %v", tc.name, len(notes), err)
			continue
		}
		if got := condition.WriteShapes(notes[0].Shapes); got != tc.want || notes[0].Tags[0] != "love" {
			t.Errorf("%s: got %s, %v; want %s", tc.name, got, notes[0].Tags, tc.want)
		}
	}
}

// TestForeignAndBrokenFilesAreRefused: one sentence that says which, and why.
func TestForeignAndBrokenFilesAreRefused(t *testing.T) {
	page := func(items string) string {
		return `{"@context":"http://www.w3.org/ns/anno.jsonld","id":"http://e.org/p","type":"AnnotationPage","items":` + items + `}`
	}
	for _, tc := range []struct{ name, file, want string }{
		{"no JSON", `<svg/>`, "no whole JSON"},
		{"cut off", page(`[`), "no whole JSON"},
		{"another JSON", `{"name":"x"}`, "holds no Web Annotation"},
		{"a list", `[]`, "no whole JSON"},
		{"no context", `{"type":"Annotation"}`, "does not name http://www.w3.org/ns/anno.jsonld"},
		{"no items", page(`[]`), "a list of one annotation or more"},
		{"items named", page(`["http://e.org/1"]`), "is only named here"},
		{"pages elsewhere", `{"@context":"http://www.w3.org/ns/anno.jsonld","id":"http://e.org/c","type":"AnnotationCollection","first":"http://e.org/p"}`,
			"only names its pages"},
		{"no id", page(`[{"type":"Annotation","target":"http://e.org/i"}]`), "annotation 1 of 1: it has no id"},
		{"no type", page(`[{"id":"http://e.org/1","target":"http://e.org/i"}]`), "its type is not Annotation"},
		{"no target", page(`[{"id":"http://e.org/1","type":"Annotation"}]`), "no target"},
		{"both bodies", page(`[{"id":"http://e.org/1","type":"Annotation","body":"x","bodyValue":"y","target":"http://e.org/i"}]`), "of which the model allows one"},
		{"no source", one(`{"selector":{"type":"SvgSelector","value":"<svg/>"}}`), "no source"},
		{"text selector", one(`{"source":"http://e.org/i","selector":{"type":"TextQuoteSelector","exact":"x"}}`), "none of its selectors"},
		{"refined", one(`{"source":"http://e.org/i","selector":{"type":"FragmentSelector","value":"xywh=0,0,1,1","refinedBy":{}}}`), "refined by another"},
		{"pixels of nothing", one(`"http://e.org/i#xywh=0,0,9,9"`), "size of the picture is not known"},
		{"three numbers", one(`"http://e.org/i#xywh=percent:0,0,9"`), "four numbers"},
		{"no numbers", one(`"http://e.org/i#xywh=percent:0,NaN,9,9"`), "from 0 upwards"},
		{"off the face", one(`"http://e.org/i#xywh=percent:90,90,20,20"`), "lies off the sheet"},
		{"not well formed", svg(`<path`), "not well formed"},
		{"no shape", svg(``), "has no shape"},
		{"an arc", svg(`<path d="M0 0A5 5 0 0 1 9 9"/>`), "is not read"},
		{"moved", svg(`<g transform="scale(2)"><rect width="9" height="9"/></g>`), "by a transform"},
		{"a picture", svg(`<image width="9" height="9"/>`), "is no shape"},
		{"crossing itself", svg(`<polygon points="0,0 20,20 20,0 0,30"/>`), "crosses itself"},
		{"without a canvas", one(`{"source":"http://e.org/i","selector":{"type":"SvgSelector","value":"<svg><rect width='1' height='1'/></svg>"}}`),
			"does not say how large its canvas is"},
		{"too many shapes", svg(strings.Repeat(`<circle cx="9" cy="9" r="1"/>`, 600)), "more than 500 shapes"},
		{"too deep", svg(strings.Repeat(`<g>`, 60) + strings.Repeat(`</g>`, 60)), "more than 50 deep"},
		{"ten thousand and one", page(`[` + strings.Repeat(`{},`, 10000) + `{}]`), "at most 10000"},
		{"too large", strings.Repeat(" ", MaxBytes+1), "at most 16 MB"},
	} {
		_, err := Read([]byte(tc.file), opened, PixelSize{})
		if err == nil || !strings.Contains(err.Error(), tc.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: got %v, want one sentence with %q", tc.name, err, tc.want)
		}
	}
	if _, err := (Collection{ID: "urn:c", Pages: []Page{{Label: "Sheet 1", Notes: []Note{{}}}}}).Files(); err == nil {
		t.Error("a page without a size is written")
	}
}

func FuzzRead(f *testing.F) {
	files, err := collection(f).Files()
	if err != nil {
		f.Fatal(err)
	}
	for _, x := range files {
		f.Add(x.Data)
	}
	f.Add([]byte(svg(`<path d="M0 0h20v20H0z m100,100 q1,1 2-2 c1 1 2 2 3 3"/><ellipse cx="50" cy="50" rx="9" ry="5"/>`)))
	f.Fuzz(func(t *testing.T, data []byte) {
		notes, err := Read(data, opened, PixelSize{1000, 800})
		if err != nil {
			return
		}
		// What is read can be written, and reads again.
		for i := range notes {
			notes[i].ID = "urn:n"
		}
		files, err := (Collection{ID: "urn:c", Pages: []Page{{ID: "urn:p", File: "p", Source: "urn:f", Size: opened, Notes: notes}}}).Files()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Read(files[1].Data, opened, PixelSize{}); err != nil && !strings.Contains(err.Error(), "shape") {
			t.Fatalf("%v\n%s", err, files[1].Data)
		}
	})
}
