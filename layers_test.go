package benchleaf_test

import (
	"fmt"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
)

// module is the module's name, as in go.mod.
const module = "benchleaf"

// rank orders the areas of the tree: a package may import only areas of a
// lower rank than its own. An area is a folder with all that is below it.
var rank = map[string]int{
	"interval": arithmetic, "unit": arithmetic,

	"chem": science, "solution": science, "paper": science, "colour": science,
	"photo": science, "makeup": science, "condition": science, "schedule": science,

	"internal/words":  1, // stands beside all of internal: knows only ranges
	"internal/record": 2,
	"internal/trust":  2, // certificates and the network: knows nothing of the record

	"internal/annotation": 1, // shapes and a standard: knows nothing of the record

	"internal/treatment": 3, "internal/store": 3,
	"internal/account": 4,
	"internal/papers":  5, "internal/archive": 5, "internal/pictures": 5,

	"internal/demo": 6,
	"internal/web":  7,
	"cmd":           8,
}

const (
	arithmetic = -1 // ranges with their sampling, and quantities: below every science package
	science    = 0
)

// pairs are the imports allowed between science packages.
var pairs = map[string]string{
	"paper":     "chem",
	"solution":  "chem",
	"condition": "makeup",
	"photo":     "colour",
}

// shown are the science packages whose words a page may use itself: ranges, and
// the names of sheets, faces and damages. What the others compute it is given by
// account, as facts.
var shown = map[string]string{
	"makeup":    "the order of sheets, leaves and pages is drawn",
	"condition": "the vocabulary of damages is chosen from",
}

// Why an import runs the wrong way, for the person whose test failed.
const (
	whyScience = "a science package is a library that others can use alone: it knows nothing of cases, storage, " +
		"HTTP or files of ours"
	whyPair = "science packages import each other only as paper -> chem, solution -> chem, condition -> makeup, " +
		"photo -> colour (and all of them interval and unit), so that each can be read and checked by itself"
	whyDown = "imports run downwards only (cmd -> web -> demo -> papers, archive, pictures -> account -> " +
		"treatment, store -> record -> words -> science), so that what is below can change without knowing what is above"
	whyPages  = "pages show what account computes: a handler reads, asks, appends and shows"
	whyBeside = "packages beside each other do not know each other: what two of them need belongs in internal/record"
	whyPlace  = "every folder has a place in the order of layers: give it one in layers_test.go"
)

// homes are the outside packages that only some areas may import. A path
// stands for itself and all below it.
var homes = []struct {
	path  string
	areas []string
	tests bool // allowed everywhere in test files
	why   string
}{
	{"C", nil, false, "the program is one static binary without cgo"},
	{
		"database/sql",
		[]string{"internal/store"},
		false,
		"no SQL outside the store, so that a second store can stand beside it",
	},
	{
		"modernc.org/sqlite",
		[]string{"internal/store"},
		false,
		"no SQL outside the store, so that a second store can stand beside it",
	},
	{
		"net/http",
		[]string{"internal/web", "cmd"},
		true,
		"only the web package and the program that starts it speak HTTP",
	},
	{"html/template", []string{"internal/web"}, false, "HTML is the web package's business"},
	{
		"github.com/carlos7ags/folio",
		[]string{"internal/papers"},
		false,
		"the PDF writer is young: one package translates to it, so that it can be exchanged",
	},
	{"github.com/alecthomas/kong", []string{"cmd"}, false, "flags are the program's business"},
	{"github.com/evanw/esbuild", []string{"internal/web"}, false, "the bundler serves the web package's assets alone"},
	{"github.com/chromedp/chromedp", nil, true, "a browser is driven by tests only"},
	{"github.com/pdfcpu/pdfcpu", nil, true, "PDF files are checked by tests only"},
	{"pgregory.net/rapid", nil, true, "property tests belong in test files"},
	{"github.com/peterstace/simplefeatures", nil, true, "a second geometry to check ours against belongs in test files"},
	{"github.com/google/go-cmp", nil, true, "comparing for people to read belongs in test files"},
}

func TestImportsRunDownwards(t *testing.T) {
	wrong, files, err := wrongImports(os.DirFS("."))
	if err != nil {
		t.Fatal(err)
	}
	if files < 2 {
		t.Fatalf("only %d Go files were found: the test does not see the tree", files)
	}
	for _, w := range wrong {
		t.Error(w)
	}
}

// TestWrongImportsAreReported is the test of the test: each row is one file
// with one import, and whether it must be reported.
func TestWrongImportsAreReported(t *testing.T) {
	for _, tc := range []struct {
		file, imports string
		why           string // "" for an import that is in order
	}{
		{"chem/x.go", "math", ""},
		{"chem/x.go", "gonum.org/v1/gonum/mat", ""},
		{"chem/x.go", "benchleaf/internal/record", whyScience},
		{"chem/x_test.go", "benchleaf/internal/store", whyScience},
		{"chem/x.go", "net/http", "speak HTTP"},
		{"chem/x.go", "benchleaf/paper", whyPair},
		{"chem/deep/x.go", "benchleaf/chem", ""},
		{"chem/x.go", "benchleaf/chem/deep", ""},
		{"paper/x.go", "benchleaf/chem", ""},
		{"paper/x.go", "benchleaf/colour", whyPair},
		{"condition/x.go", "benchleaf/makeup", ""},
		{"makeup/x.go", "benchleaf/condition", whyPair},
		{"paper/x.go", "benchleaf/interval", ""},
		{"internal/web/x.go", "benchleaf/interval", ""},
		{"interval/x.go", "benchleaf/paper", whyDown},
		{"internal/record/x.go", "benchleaf/makeup", ""},
		{"internal/record/x.go", "benchleaf/internal/store", whyDown},
		{"internal/record/x.go", "database/sql", "no SQL outside the store"},
		{"internal/store/x.go", "modernc.org/sqlite", ""},
		{"internal/store/x.go", "benchleaf/internal/papers", whyDown},
		{"internal/store/x.go", "benchleaf/internal/treatment", whyBeside},
		{"internal/papers/x.go", "github.com/carlos7ags/folio/layout", ""},
		{"internal/archive/x.go", "github.com/carlos7ags/folio", "PDF writer"},
		{"internal/demo/x.go", "benchleaf/internal/store", ""},
		{"internal/demo/x.go", "benchleaf/internal/web", whyDown},
		{"internal/web/x.go", "benchleaf/internal/treatment", ""},
		{"internal/web/x.go", "benchleaf/cmd/benchleaf", whyDown},
		{"internal/web/x.go", "benchleaf/makeup", ""},
		{"internal/web/x.go", "benchleaf/solution", whyPages},
		{"internal/web/x_test.go", "benchleaf/solution", ""},
		{"internal/web/x.go", "github.com/chromedp/chromedp", "tests only"},
		{"internal/web/x_test.go", "github.com/chromedp/chromedp", ""},
		{"internal/web/ui/build/x.go", "github.com/evanw/esbuild/pkg/api", ""},
		{"cmd/benchleaf/x.go", "benchleaf/internal/web", ""},
		{"cmd/benchleaf/x.go", "C", "without cgo"},
		{"helpers/x.go", "fmt", whyPlace},
		{"chem/x.go", "benchleaf/helpers", whyPlace},
		{"chem/x.go", "benchleafish/other", ""},
	} {
		tree := fstest.MapFS{
			tc.file: {Data: fmt.Appendf(nil, "package x\n\nimport _ %q\n", tc.imports)},
		}
		wrong, _, err := wrongImports(tree)
		if err != nil {
			t.Fatal(err)
		}
		report := strings.Join(wrong, "\n")
		switch {
		case tc.why == "" && report != "":
			t.Errorf("%s importing %s: reported, though in order: %s", tc.file, tc.imports, report)
		case tc.why != "" && !(strings.Contains(report, tc.why) && strings.Contains(report, tc.file)):
			t.Errorf("%s importing %s: got report %q, want the file and %q", tc.file, tc.imports, report, tc.why)
		}
	}
}

// wrongImports reads the imports of every Go file in the tree, whatever its
// build constraints, and reports one sentence for each that breaks a rule. It
// returns the number of files read.
func wrongImports(tree fs.FS) (wrong []string, files int, err error) {
	err = fs.WalkDir(tree, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if base := path.Base(name); d.IsDir() {
			// As the Go tool does; and packages of other languages.
			if name != "." && (base == "testdata" || base == "node_modules" || base[0] == '.' || base[0] == '_') {
				return fs.SkipDir
			}
			return nil
		}
		if path.Ext(name) != ".go" || path.Dir(name) == "." {
			return nil
		}
		files++
		src, err := fs.ReadFile(tree, name)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, src, parser.ImportsOnly)
		if err != nil {
			return err
		}
		if areaOf(path.Dir(name)) == "" {
			wrong = append(wrong, fmt.Sprintf("%s: %s", name, whyPlace))
			return nil
		}
		for _, spec := range f.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if why := whyWrong(name, imported); why != "" {
				wrong = append(wrong, fmt.Sprintf("%s imports %s: %s", name, imported, why))
			}
		}
		return nil
	})
	return wrong, files, err
}

// whyWrong says why file may not import the path, or "".
func whyWrong(file, imported string) string {
	from := areaOf(path.Dir(file))
	inside, ours := strings.CutPrefix(imported, module+"/")
	if !ours {
		for _, h := range homes {
			if !within(imported, h.path) || slices.Contains(h.areas, from) {
				continue
			}
			if h.tests && strings.HasSuffix(file, "_test.go") {
				continue
			}
			return h.why
		}
		return ""
	}
	to := areaOf(inside)
	switch {
	case to == "":
		return whyPlace
	case from == to, pairs[from] == to, rank[to] == arithmetic:
		return ""
	case from == "internal/web" && rank[to] == science && shown[inside] == "" && !strings.HasSuffix(file, "_test.go"):
		return whyPages
	case rank[from] == science && rank[to] == science:
		return whyPair
	case rank[from] == science:
		return whyScience
	case rank[from] == rank[to]:
		return whyBeside
	case rank[from] < rank[to]:
		return whyDown
	}
	return ""
}

// areaOf finds the area that a folder lies in, or "".
func areaOf(dir string) string {
	for area := range rank {
		if within(dir, area) {
			return area
		}
	}
	return ""
}

// within says whether p is root or below it.
func within(p, root string) bool { return p == root || strings.HasPrefix(p, root+"/") }
