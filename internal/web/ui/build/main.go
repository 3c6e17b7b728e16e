// Command build bundles the front end: TypeScript from ui/src, styles from
// ui/css and fonts from ui/fonts become a few files in ../assets, each named
// after the hash of its content, and a manifest.json that names them.
//
//	go run ./internal/web/ui/build          write internal/web/assets
//	go run ./internal/web/ui/build -check   fail when they are not what the sources give
//
// It needs no network and no Node, but the libraries from npm that sources
// import must be in ui/node_modules: `npm ci` in internal/web/ui puts them there.
// Types are not looked at here; `npx tsc --noEmit` does that.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

// entries are the bundles: the name that templates use, and its source. A
// library that only one page needs gets a bundle of its own.
var entries = []api.EntryPoint{
	{InputPath: "./src/app.ts", OutputPath: "app"},
	{InputPath: "./src/compare.ts", OutputPath: "compare"}, // with OpenSeadragon
	{InputPath: "./src/scan.ts", OutputPath: "scan"},       // with jsQR
	{InputPath: "./src/sw.ts", OutputPath: "sw"},
	{InputPath: "./src/map.ts", OutputPath: "map"},
	{InputPath: "./css/app.css", OutputPath: "app"},
	{InputPath: "./css/compare.css", OutputPath: "compare"},
	{InputPath: "./css/map.css", OutputPath: "map"},
	{InputPath: "./css/pair.css", OutputPath: "pair"},
	{InputPath: "./css/icon.svg", OutputPath: "icon"},
}

func main() {
	check := flag.Bool("check", false, "write nothing; fail when the committed assets are not what the sources give")
	flag.Parse()
	if err := run(*check); err != nil {
		fmt.Fprintln(os.Stderr, "build:", err)
		os.Exit(1)
	}
}

func run(check bool) error {
	web, err := webDir()
	if err != nil {
		return err
	}
	files, err := bundle(filepath.Join(web, "ui"))
	if err != nil {
		return err
	}
	assets := filepath.Join(web, "assets")
	if check {
		return compare(assets, files)
	}
	return write(assets, files)
}

// webDir finds internal/web of the module that the working folder lies in.
func webDir() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return filepath.Join(dir, "internal", "web"), nil
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", errors.New("run it inside the module: no go.mod was found from here upwards")
		}
		dir = up
	}
}

// bundle gives the content of each file of the assets folder by its name.
func bundle(ui string) (map[string][]byte, error) {
	out := filepath.Join(ui, "out") // never written: names are taken relative to it
	result := api.Build(api.BuildOptions{
		AbsWorkingDir:       ui,
		EntryPointsAdvanced: entries,
		Outdir:              out,
		EntryNames:          "[name]-[hash]",
		AssetNames:          "[name]-[hash]",
		Bundle:              true,
		MinifySyntax:        true,
		MinifyWhitespace:    true,
		MinifyIdentifiers:   true,
		Format:              api.FormatIIFE,
		// The oldest browsers that a tablet at a bench is likely to have.
		Engines: []api.Engine{
			{Name: api.EngineChrome, Version: "100"},
			{Name: api.EngineSafari, Version: "15"},
			{Name: api.EngineFirefox, Version: "100"},
		},
		Loader:        map[string]api.Loader{".woff2": api.LoaderFile, ".svg": api.LoaderCopy},
		LegalComments: api.LegalCommentsInline,
		Charset:       api.CharsetUTF8,
		LogLevel:      api.LogLevelSilent,
	})
	if len(result.Errors) > 0 {
		return nil, explain(result.Errors)
	}
	files := map[string][]byte{}
	manifest := map[string]string{}
	for _, f := range result.OutputFiles {
		rel, err := filepath.Rel(out, f.Path)
		if err != nil {
			return nil, err
		}
		rel = filepath.ToSlash(rel)
		files[rel] = f.Contents
		manifest[plainName(rel)] = rel
	}
	list, err := json.MarshalIndent(manifest, "", "  ")
	if err != nil {
		return nil, err
	}
	files["manifest.json"] = append(list, '\n')
	return files, nil
}

// plainName takes the hash out of a name: app-ABCDEFGH.js is app.js.
func plainName(name string) string {
	ext := path.Ext(name)
	base := strings.TrimSuffix(name, ext)
	if i := strings.LastIndexByte(base, '-'); i >= 0 {
		base = base[:i]
	}
	return base + ext
}

// explain makes one error of the bundler's messages, and says what to do about
// a library that is not there.
func explain(messages []api.Message) error {
	var errs []error
	for _, m := range messages {
		at := ""
		if l := m.Location; l != nil {
			at = fmt.Sprintf("%s:%d:%d: ", l.File, l.Line, l.Column)
		}
		errs = append(errs, errors.New(at+m.Text))
		if strings.HasPrefix(m.Text, "Could not resolve") && !strings.Contains(m.Text, `"."`) &&
			!strings.Contains(m.Text, `"./`) {
			errs = append(errs, errors.New("libraries come from npm: run `npm ci` in internal/web/ui first"))
		}
	}
	return errors.Join(errs...)
}

// compare reports each file of the folder that is not what it should be.
func compare(dir string, want map[string][]byte) error {
	have, err := read(dir)
	if err != nil {
		return err
	}
	var wrong []string
	for _, name := range slices.Sorted(maps.Keys(want)) {
		got, ok := have[name]
		switch {
		case !ok:
			wrong = append(wrong, name+" is missing")
		case !bytes.Equal(got, want[name]):
			wrong = append(wrong, name+" differs")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		if _, ok := want[name]; !ok {
			wrong = append(wrong, name+" comes from no source")
		}
	}
	if len(wrong) == 0 {
		return nil
	}
	return fmt.Errorf(
		"internal/web/assets is not what internal/web/ui gives (%s): run `go generate ./internal/web` and commit "+
			"what it writes",
		strings.Join(wrong, "; "),
	)
}

// write puts the files into the folder and removes what came from no source.
func write(dir string, files map[string][]byte) error {
	have, err := read(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for name := range have {
		if _, ok := files[name]; !ok {
			if err := os.Remove(filepath.Join(dir, name)); err != nil {
				return err
			}
		}
	}
	for name, content := range files {
		if bytes.Equal(have[name], content) {
			continue
		}
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// read gives the content of each file in the folder, which holds no folders.
func read(dir string) (map[string][]byte, error) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	for _, e := range list {
		content, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return nil, err
		}
		files[e.Name()] = content
	}
	return files, nil
}
