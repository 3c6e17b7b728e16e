package store

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// A case of a later program may hold a kind of entry that this one does not know, or
// one of a later version: it comes in whole, stays in the log, is named as a problem
// or left out of what is told, and goes out again as it came.
func TestImportOfAnUnknownKind(t *testing.T) {
	entries := 0
	for kind, version := range map[record.Kind]int{"hologram": 1, "note": 99, "=cmd|' /C calc'!A0": 1} {
		_, id, file := exported(t)
		changed := rezip(t, file, func(name string, data []byte) (string, []byte) {
			if name != journalName {
				return name, data
			}
			lines := bytes.Split(bytes.TrimSpace(data), []byte("\n"))
			entries = len(lines)
			var before, last record.Entry
			for i, x := range []*record.Entry{&before, &last} {
				if err := json.Unmarshal(lines[len(lines)-2+i], x); err != nil {
					t.Fatal(err)
				}
			}
			last.Kind, last.Version, last.Body = kind, version, json.RawMessage(`{"x":"=1+1"}`)
			if err := last.Seal(before.Hash); err != nil {
				t.Fatal(err)
			}
			line, err := json.Marshal(last)
			if err != nil {
				t.Fatal(err)
			}
			lines[len(lines)-1] = line
			return name, append(bytes.Join(lines, []byte("\n")), '\n')
		}, nil)
		s := opened(t)
		if _, err := importInto(s, changed); err != nil {
			if strings.HasPrefix(string(kind), "=") { // no kind is called so
				continue
			}
			t.Errorf("%s, version %d: %v", kind, version, err)
			continue
		}
		c, err := s.Case(ctx, id)
		if err != nil || len(c.Log) != entries || c.Log[entries-1].Kind != kind || len(c.Photos) != 1 {
			t.Errorf("%s, version %d: %d entries, %d photographs, %v", kind, version, len(c.Log), len(c.Photos), err)
		}
		if r, err := s.Verify(ctx); err != nil || r.Entries != entries {
			t.Errorf("%s: verify reads %d entries, %v", kind, r.Entries, err)
		}
	}
}
