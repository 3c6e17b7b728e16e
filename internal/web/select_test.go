package web

import (
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// looked is a page that was answered, to look at by simple selectors: tags,
// .class, #id and [name=value], parted by blanks for what lies inside.
type looked struct {
	t    *testing.T
	root *html.Node
}

func see(t *testing.T, w *httptest.ResponseRecorder) looked {
	t.Helper()
	root, err := html.Parse(strings.NewReader(w.Body.String()))
	if err != nil {
		t.Fatal(err)
	}
	return looked{t, root}
}

// all finds every element that a selector names.
func (p looked) all(selector string) []*html.Node {
	found := []*html.Node{p.root}
	for _, step := range strings.Fields(selector) {
		var next []*html.Node
		for _, n := range found {
			for d := range n.Descendants() {
				if d.Type == html.ElementNode && suits(d, step) && !slices.Contains(next, d) {
					next = append(next, d)
				}
			}
		}
		found = next
	}
	return found
}

// suits says whether an element fits one step, as in input.big[name=volume].
func suits(n *html.Node, step string) bool {
	end := strings.IndexAny(step, ".#[")
	if end < 0 {
		end = len(step)
	}
	if tag := step[:end]; tag != "" && tag != n.Data {
		return false
	}
	for rest := step[end:]; rest != ""; {
		if rest[0] == '[' {
			name, value, _ := strings.Cut(rest[1:strings.IndexByte(rest, ']')], "=")
			if attr(n, name) != value {
				return false
			}
			rest = rest[strings.IndexByte(rest, ']')+1:]
			continue
		}
		stop := strings.IndexAny(rest[1:], ".#[") + 1
		if stop == 0 {
			stop = len(rest)
		}
		word := rest[1:stop]
		if rest[0] == '#' && attr(n, "id") != word ||
			rest[0] == '.' && !slices.Contains(strings.Fields(attr(n, "class")), word) {
			return false
		}
		rest = rest[stop:]
	}
	return true
}

// one is the only element that a selector names.
func (p looked) one(selector string) *html.Node {
	p.t.Helper()
	list := p.all(selector)
	if len(list) != 1 {
		p.t.Fatalf("%d elements are %q, want one", len(list), selector)
	}
	return list[0]
}

// text is what the elements say, parted by bars.
func (p looked) text(selector string) string {
	var list []string
	for _, n := range p.all(selector) {
		list = append(list, textOf(n))
	}
	return strings.Join(list, " | ")
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// form is what a browser would send of a form: hidden and typed fields, and the
// choices that are on.
func (p looked) form(selector string) url.Values {
	p.t.Helper()
	v := url.Values{}
	for d := range p.one(selector).Descendants() {
		switch {
		case d.Type != html.ElementNode || attr(d, "name") == "":
		case d.Data == "input" && (attr(d, "type") == "radio" || attr(d, "type") == "checkbox"):
			if slices.ContainsFunc(d.Attr, func(a html.Attribute) bool { return a.Key == "checked" }) {
				v.Add(attr(d, "name"), attr(d, "value"))
			}
		case d.Data == "input":
			v.Add(attr(d, "name"), attr(d, "value"))
		case d.Data == "textarea":
			v.Add(attr(d, "name"), strings.TrimPrefix(textOf(d), "\n"))
		case d.Data == "select":
			for o := range d.Descendants() {
				if o.Type == html.ElementNode && o.Data == "option" &&
					slices.ContainsFunc(o.Attr, func(a html.Attribute) bool { return a.Key == "selected" }) {
					v.Add(attr(d, "name"), attr(o, "value"))
				}
			}
		}
	}
	return v
}
