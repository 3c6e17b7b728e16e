// Command benchleaf opens the bench in a browser, and does the same sums on
// the command line.
//
// Each command has a file of its own: a struct of its flags and arguments with
// a method Run(*globals) error. Exit status: 0 done, 1 the work failed (one
// sentence on standard error), 2 bad use.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"
)

// grammar is the command line. A new command is one line here and one file
// beside this one.
type grammar struct {
	globals

	Serve      serveCmd      `cmd:"" default:"withargs" help:"Open the bench in a browser; what the program does without a command."`
	Demo       demoCmd       `cmd:"" help:"Open the bench on a fresh copy of the demonstration."`
	Difference differenceCmd `cmd:"" help:"Colour differences (CIEDE2000) of pairs in a CSV file."`
	Compare    compareCmd    `cmd:"" help:"Lay one photograph of a face on another and say what changed."`
	Water      waterCmd      `cmd:"" help:"What is in a water: pH, species, what falls out."`
	Mix        mixCmd        `cmd:"" help:"A recipe: what to weigh and pour, and what comes of it."`
	Bath       bathCmd       `cmd:"" help:"What a sequence of baths leaves in a sheet."`
	Schedule   scheduleCmd   `cmd:"" help:"When to do what, with shared resources and lags between tasks."`
	Stains     stainsCmd     `cmd:"" help:"Stains in a photograph of a sheet: outlines, areas, how far they differ."`
	Report     reportCmd     `cmd:"" help:"The treatment report of a case as PDF."`
	Export     exportCmd     `cmd:"" help:"Write one case, with its photographs, into a zip file."`
	Import     importCmd     `cmd:"" help:"Take in a case that export wrote."`
	Backup     backupCmd     `cmd:"" help:"Write the whole data folder into one file."`
	Restore    restoreCmd    `cmd:"" help:"Make a new data folder of a backup."`
	Verify     verifyCmd     `cmd:"" help:"Walk every journal and photograph and say what is wrong."`
	Version    versionCmd    `cmd:"" help:"Print the version of this program."`
}

// globals is what every command is given.
type globals struct {
	JSON bool   `name:"json" help:"Read and write JSON."`
	Data string `placeholder:"DIR" type:"path" help:"The data folder (default: ${data})."`

	Stdin   io.Reader       `kong:"-"`
	Stdout  io.Writer       `kong:"-"`
	Stderr  io.Writer       `kong:"-"`
	Context context.Context `kong:"-"` // done when the person interrupts

	closers []func() error
}

// onClose registers what has to be put away when the program ends, whichever
// way it ends; the last registered goes first.
func (g *globals) onClose(f func() error) { g.closers = append(g.closers, f) }

// dataDir is the folder given by --data, or the default one.
func (g *globals) dataDir() (string, error) {
	if g.Data != "" {
		return g.Data, nil
	}
	return defaultDataDir()
}

// writeJSON writes v to standard output, indented, with a newline.
func (g *globals) writeJSON(v any) error {
	enc := json.NewEncoder(g.Stdout)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// input opens the file named path, or standard input for "-".
func (g *globals) input(path string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(g.Stdin), nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", path, reason(err))
	}
	return f, nil
}

// reason strips the operation and path that os puts before the cause, for
// sentences that have named the file already.
func reason(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// usageError is bad use of the command line: exit status 2.
type usageError struct{ error }

// badUse makes an error that ends the program with status 2; err.Error() is
// one sentence that says what was wrong and what would be right.
func badUse(format string, args ...any) error {
	return usageError{fmt.Errorf(format, args...)}
}

// errHelped ends a parse that printed what was asked for (--help).
var errHelped = errors.New("help was printed")

// Main is the program. main fills it from the process; a test fills it with
// buffers and runs the same.
type Main struct {
	Stdin  io.Reader
	Stdout io.Writer
	Stderr io.Writer

	grammar grammar
	parsed  *kong.Context
}

// ParseFlags reads the command line, without the program's name.
func (m *Main) ParseFlags(args []string) error {
	data, err := defaultDataDir()
	if err != nil {
		data = "none: this account has no home folder"
	}
	helped := false
	parser, err := kong.New(
		&m.grammar,
		kong.Name("benchleaf"),
		kong.Description(
			"The working instrument of a paper conservator: with no command, it opens the bench in a browser.",
		),
		kong.Vars{"data": data},
		kong.Writers(m.Stdout, m.Stderr),
		kong.Exit(func(int) { helped = true }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
	)
	if err != nil {
		return err
	}
	m.parsed, err = parser.Parse(args)
	switch {
	case helped:
		return errHelped
	case err != nil:
		return badUse("%w (benchleaf --help lists the commands)", err)
	}
	return nil
}

// Run does what ParseFlags read, until it is done or ctx is.
func (m *Main) Run(ctx context.Context) error {
	g := &m.grammar.globals
	g.Stdin, g.Stdout, g.Stderr, g.Context = m.Stdin, m.Stdout, m.Stderr, ctx
	return m.parsed.Run(g)
}

// Close puts away what the command opened. It may be called at any time, and
// again.
func (m *Main) Close() error {
	g := &m.grammar.globals
	var errs []error
	for i := len(g.closers) - 1; i >= 0; i-- {
		errs = append(errs, g.closers[i]())
	}
	g.closers = nil
	return errors.Join(errs...)
}

// Do parses, runs and closes, says on standard error what failed, and returns
// the exit status.
func (m *Main) Do(ctx context.Context, args []string) int {
	err := m.ParseFlags(args)
	if err == nil {
		err = m.Run(ctx)
	}
	err = errors.Join(err, m.Close())
	switch {
	case err == nil, errors.Is(err, errHelped):
		return 0
	case errors.As(err, new(usageError)):
		m.complain(err)
		return 2
	default:
		m.complain(err)
		return 1
	}
}

// complain writes err as one line.
func (m *Main) complain(err error) {
	fmt.Fprintln(m.Stderr, "benchleaf: "+strings.ReplaceAll(err.Error(), "\n", "; "))
}

// defaultDataDir is where this system keeps an account's own data.
func defaultDataDir() (string, error) {
	home, err := os.UserHomeDir()
	if err != nil {
		return "", errors.New("this account has no home folder, so say with --data where the data shall live")
	}
	switch runtime.GOOS {
	case "windows":
		if dir := os.Getenv("LocalAppData"); dir != "" {
			return filepath.Join(dir, "benchleaf"), nil
		}
		return filepath.Join(home, "AppData", "Local", "benchleaf"), nil
	case "darwin":
		return filepath.Join(home, "Library", "Application Support", "benchleaf"), nil
	}
	// XDG Base Directory Specification: a relative path is to be ignored.
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "benchleaf"), nil
	}
	return filepath.Join(home, ".local", "share", "benchleaf"), nil
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // so that a second interruption ends the program at once
	m := &Main{Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr}
	status := m.Do(ctx, os.Args[1:])
	stop()
	os.Exit(status)
}
