package main

import (
	"fmt"
	"runtime/debug"
)

type versionCmd struct{}

func (versionCmd) Run(g *globals) error {
	v := version()
	if g.JSON {
		return g.writeJSON(map[string]string{"version": v})
	}
	_, err := fmt.Fprintln(g.Stdout, v)
	return err
}

// version is the module's version, or the commit that the program was built
// from, as the Go tool stamped it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	v := "development"
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			v += " " + s.Value[:12]
		}
	}
	return v
}
