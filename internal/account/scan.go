package account

import (
	"net/url"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// Label is what a printed code names: a bottle, a tray, or the folder of a sheet. One of
// Bottle, Tray and Case is set.
type Label struct {
	Bottle string
	Tray   string
	Case   record.CaseID
	Sheet  int
}

// labelScheme begins every code of the bench. It is no address: addresses change, and a
// label stays.
const labelScheme = "benchleaf:"

// Code is the text of a label's code, at most 64 characters for what the program names.
func (l Label) Code() string {
	switch {
	case l.Bottle != "":
		return labelScheme + "b/" + l.Bottle
	case l.Tray != "":
		return labelScheme + "t/" + url.PathEscape(l.Tray)
	}
	return labelScheme + "s/" + string(l.Case) + "/" + strconv.Itoa(l.Sheet)
}

// ReadLabel reads a code. A foreign one is refused with a sentence that says what it
// holds; whether what it names exists is for who has the record.
func ReadLabel(code string) (l Label, err error) {
	rest, ours := strings.CutPrefix(strings.TrimSpace(code), labelScheme)
	if !ours {
		return l, record.Invalidf(
			"code", "This code is none of this bench: it says “%s”. Scan a label that was printed here.",
			words.Clip(strings.TrimSpace(code)),
		)
	}
	sort, name, _ := strings.Cut(rest, "/")
	switch sort {
	case "b":
		if record.IsID(name) {
			return Label{Bottle: name}, nil
		}
	case "t":
		const most = 60 // characters of a tray's name
		if tray, err := url.PathUnescape(name); err == nil && tray != "" && len(tray) <= most {
			return Label{Tray: tray}, nil
		}
	case "s":
		id, number, _ := strings.Cut(name, "/")
		n, err := strconv.Atoi(number)
		if record.IsID(id) && err == nil && n >= 0 {
			return Label{Case: record.CaseID(id), Sheet: n}, nil
		}
	}
	return l, record.Invalidf("code", "This label cannot be read whole (“%s”): print it anew.", words.Clip(rest))
}

// ScanAct is something that may be done with what was scanned.
type ScanAct struct {
	Say, Operation, Run string // one of the two is set
	End                 bool
}

// ScanActs are the acts that fit scanned sheets of a case and a tray: what runs they are
// in, else what comes next for all of them.
func ScanActs(c *record.Case, sheets []int, tray string, k words.Clock) (said []string, acts []ScanAct) {
	busy := false
	for _, r := range c.OpenRuns() {
		in := c.SheetsIn(r)
		here := r.Body.Bath != nil && trayName(r.Body.Bath.Tray) == trayName(tray) && tray != ""
		on := false
		for _, n := range sheets {
			on = on || Covers(in, []int{n})
		}
		if !on && !here {
			continue
		}
		busy = busy || on
		where := ""
		if r.Body.Bath != nil {
			where = words.After(", ", r.Body.Bath.Tray)
		}
		said = append(said, en.Upper(record.SheetNames(in))+": "+r.Body.OperationName+where+" since "+k.At(r.Body.At)+
			", "+r.By)
		acts = append(acts, ScanAct{Say: "Reading: " + r.Body.OperationName, Run: r.Body.ID},
			ScanAct{Say: "End " + r.Body.OperationName, Run: r.Body.ID, End: true})
	}
	if busy || len(sheets) == 0 {
		return said, acts
	}
	for _, st := range treatment.Next(c) {
		if Covers(st.Sheets, sheets) {
			acts = append(acts, ScanAct{Say: "Start " + st.Operation.Name, Operation: st.Operation.Slug})
		}
	}
	return said, acts
}
