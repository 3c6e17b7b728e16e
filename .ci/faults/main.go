// Command faults makes of the entries of golang.org/x/vulndb, one file for each known
// fault, a database that govulncheck reads (https://go.dev/doc/security/vuln/database):
//
//	go run ./.ci/faults ENTRIES FOLDER
package main

import (
	"encoding/json"
	"log"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// entry is what is asked of a fault (https://ossf.github.io/osv-schema).
type entry struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Aliases  []string  `json:"aliases,omitempty"`
	Affected []struct {
		Package struct {
			Name string `json:"name"`
		} `json:"package"`
		Ranges []struct {
			Events []struct {
				Fixed string `json:"fixed"`
			} `json:"events"`
		} `json:"ranges"`
	} `json:"affected"`
}

// fault is an entry in the list of a module.
type fault struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Fixed    string    `json:"fixed,omitempty"`
}

type module struct {
	Path   string  `json:"path"`
	Faults []fault `json:"vulns"`
}

func main() {
	log.SetFlags(0)
	if len(os.Args) != 3 {
		log.Fatal("faults ENTRIES FOLDER")
	}
	if err := run(os.Args[1], os.Args[2]); err != nil {
		log.Fatal(err)
	}
}

func run(from, to string) error {
	files, err := filepath.Glob(filepath.Join(from, "*.json"))
	if err != nil {
		return err
	}
	for _, dir := range []string{"ID", "index"} {
		if err := os.MkdirAll(filepath.Join(to, dir), 0o755); err != nil {
			return err
		}
	}
	modules := map[string]*module{}
	var all []entry
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		var e entry
		if err := json.Unmarshal(raw, &e); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(to, "ID", e.ID+".json"), raw, 0o644); err != nil {
			return err
		}
		e.list(modules)
		e.Affected = nil
		all = append(all, e)
	}
	list := make([]module, 0, len(modules))
	for _, m := range modules {
		list = append(list, *m)
	}
	for name, v := range map[string]any{
		"db": map[string]time.Time{"modified": time.Now().UTC()}, "modules": list, "vulns": all,
	} {
		raw, err := json.Marshal(v)
		if err == nil {
			err = os.WriteFile(filepath.Join(to, "index", name+".json"), raw, 0o644)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// list names an entry at its modules, once at each.
func (e *entry) list(modules map[string]*module) {
	for _, a := range e.Affected {
		m := modules[a.Package.Name]
		if m == nil {
			m = &module{Path: a.Package.Name}
			modules[m.Path] = m
		}
		if slices.ContainsFunc(m.Faults, func(f fault) bool { return f.ID == e.ID }) {
			continue
		}
		f := fault{ID: e.ID, Modified: e.Modified}
		for _, r := range a.Ranges {
			for _, event := range r.Events {
				if event.Fixed != "" {
					f.Fixed = event.Fixed
				}
			}
		}
		m.Faults = append(m.Faults, f)
	}
}
