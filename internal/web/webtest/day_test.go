package webtest

import (
	"net/url"
	"testing"
	"time"
)

// A day is worked out, laid down, and then stands on its page; on the phone as a list. Its
// way to dry sheets, with one late run, is a test of the server on a clock of its own.
func TestADayIsLaidDown(t *testing.T) {
	b := newBench(t)
	id, _ := b.evening()
	now := time.Now().UTC()
	q := url.Values{
		"from": {now.Format("2006-01-02T15:04")}, "until": {now.Add(7 * time.Hour).Format("2006-01-02T15:04")},
		"people": {"KM"}, "trays": {"3"}, "presses": {"2"}, "sheets_" + string(id): {"8", "9"},
	}
	for _, s := range []size{phone, tablet} {
		p := b.open(s, "/")
		p.as("KM")
		p.goTo("/day?" + q.Encode())
		p.see("sampled days")
		p.see("Last safe start")
		p.clean()
		p.shot("day-proposed")
		if s == tablet {
			p.press("Lay it down")
			p.see("Laid down")
			p.clean()
		}
	}
}
