package main

import (
	"bufio"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"
	"text/tabwriter"

	"benchleaf/photo"
)

// compareCmd lays one photograph of a face on another and says what changed.
type compareCmd struct {
	Before    string  `arg:"" help:"Photograph before: JPEG, PNG, TIFF or HEIC, or - for standard input."`
	After     string  `arg:"" help:"Photograph after."`
	MapPoints string  `placeholder:"FILE.csv" help:"Places of the before picture, x,y in pixels per line; the answer says where the after picture shows them."`
	Out       string  `placeholder:"DIR" type:"path" help:"Write the aligned picture, maps, masks and a figure for the report into this folder."`
	MMPerPx   float64 `name:"mm-per-px" placeholder:"X" help:"Scale of the before picture in mm per pixel, for lengths and areas in mm."`
}

// compareStats are the three numbers of a distribution.
type compareStats struct {
	Median float64 `json:"median"`
	Mean   float64 `json:"mean"`
	P95    float64 `json:"p95"`
}

// compareAnswer is the JSON. The first seven fields are fixed; those that have
// no meaning when the pictures show different faces are null then.
type compareAnswer struct {
	Verdict          photo.Verdict `json:"verdict"`
	Homography       *[9]float64   `json:"homography"`
	ResidualMedianPx *float64      `json:"residual_px_median"`
	Overlap          float64       `json:"overlap"`
	DE00             *compareStats `json:"de00"`
	TrendRemovedDE00 *compareStats `json:"trend_removed_de00"`
	MappedPoints     [][2]float64  `json:"mapped_points"`

	Say              string           `json:"say"`
	Notes            []string         `json:"notes"`
	ResidualP95Px    *float64         `json:"residual_px_p95"`
	ResidualMedianMM *float64         `json:"residual_mm_median,omitempty"`
	DL               *compareStats    `json:"dl"`
	DB               *compareStats    `json:"db"`
	TrendRemovedDL   *compareStats    `json:"trend_removed_dl"`
	TrendRemovedDB   *compareStats    `json:"trend_removed_db"`
	Light            *compareLight    `json:"light"`
	Paper            *comparePaper    `json:"paper"`
	PrintRatio       *float64         `json:"print_ratio"`
	ComparedFraction float64          `json:"compared_fraction"`
	ClippedFraction  float64          `json:"clipped_fraction"`
	BlurPx           [2]float64       `json:"blur_px"`
	Warnings         []compareWarning `json:"warnings"`
	Files            []string         `json:"files,omitempty"`
}

type compareLight struct {
	Stops      float64 `json:"stops"`
	Warmer     float64 `json:"warmer_stops"`
	Unevenness float64 `json:"unevenness_stops"`
}

type comparePaper struct {
	Before           [3]float64 `json:"before_lab"`
	After            [3]float64 `json:"after_lab"`
	YellownessBefore float64    `json:"before_e313"`
	YellownessAfter  float64    `json:"after_e313"`
	DE00             float64    `json:"de00"`
	SD               float64    `json:"de00_sd"`
	RestsOn          string     `json:"rests_on"`
}

type compareWarning struct {
	Kind    photo.WarningKind `json:"kind"`
	Say     string            `json:"say"`
	BBox    *[4]int           `json:"bbox,omitempty"` // x, y, w, h in before pixels
	Outline [][2]float64      `json:"outline,omitempty"`
	AreaPx  float64           `json:"area_px,omitempty"`
	AreaMM2 float64           `json:"area_mm2,omitempty"`
}

// Run compares and prints.
func (c *compareCmd) Run(g *globals) error {
	if !(c.MMPerPx >= 0 && c.MMPerPx < 100) {
		return badUse("--mm-per-px is %g; it should be above 0 and below 100", c.MMPerPx)
	}
	if c.Before == "-" && c.After == "-" {
		return badUse("only one of the two photographs can come from standard input")
	}
	var points []photo.Point
	if c.MapPoints != "" {
		var err error
		if points, err = readPoints(g, c.MapPoints); err != nil {
			return err
		}
	}
	// The pictures themselves are most of the memory, and garbage beside them
	// need not grow to their size again before it is collected.
	defer debug.SetGCPercent(debug.SetGCPercent(40))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(photo.DefaultLimits.MaxMemory))
	cmp, err := c.compare(g)
	if err != nil {
		return err
	}
	a := compareAnswerOf(cmp)
	if cmp.Alignment.Verdict != photo.Different {
		for _, p := range points {
			x, y := cmp.Alignment.Map(p.X, p.Y)
			a.MappedPoints = append(a.MappedPoints, [2]float64{x, y})
		}
	}
	if c.Out != "" {
		if a.Files, err = writeComparison(c.Out, cmp); err != nil {
			return err
		}
	}
	if g.JSON {
		return g.writeJSON(a)
	}
	_, err = io.WriteString(g.Stdout, compareProse(&a, cmp))
	return err
}

// compare reads both photographs at once and compares them.
func (c *compareCmd) compare(g *globals) (*photo.Comparison, error) {
	var wg sync.WaitGroup
	var costly sync.Mutex
	var images [2]*photo.Image
	var infos [2]photo.Info
	var errs [2]error
	for i, path := range []string{c.Before, c.After} {
		wg.Go(func() { images[i], infos[i], errs[i] = readPhoto(g, path, &costly) })
	}
	wg.Wait()
	if err := errors.Join(errs[:]...); err != nil {
		return nil, err
	}
	held := int64(0)
	for _, m := range images {
		held += int64(len(m.Pix))
	}
	// Beside the pictures the comparison needs less than this, and what is written
	// (--out) one picture more. What decoding leaves is given back meanwhile; with
	// small pictures it may stay.
	const beside, little = 200 << 20, 400 << 20
	if c.Out != "" {
		held += int64(len(images[0].Pix))
	}
	debug.SetMemoryLimit(max(little, held+beside))
	return photo.Compare(g.Context, images[0], images[1], photo.CompareOptions{
		Align: photo.AlignOptions{MMPerPx: c.MMPerPx}, BeforeInfo: &infos[0], AfterInfo: &infos[1],
	})
}

// readPhoto decodes the picture named path, or standard input for "-", to eight
// bits a sample. Pictures that take more than half of the memory given to one are
// decoded under the lock costly, one after another.
func readPhoto(g *globals, path string, costly *sync.Mutex) (*photo.Image, photo.Info, error) {
	f, err := g.input(path)
	if err != nil {
		return nil, photo.Info{}, err
	}
	defer f.Close()
	name := path
	r, ok := f.(io.ReadSeeker)
	if s, statable := f.(interface{ Stat() (os.FileInfo, error) }); statable {
		if st, err := s.Stat(); err == nil {
			if st.IsDir() {
				return nil, photo.Info{}, fmt.Errorf("%s is a folder; a photograph is wanted", name)
			}
			ok = ok && st.Mode().IsRegular()
		}
	}
	if !ok {
		if path == "-" {
			name = "standard input"
		}
		b, err := io.ReadAll(io.LimitReader(f, photo.DefaultLimits.MaxBytes+1))
		if err != nil {
			return nil, photo.Info{}, fmt.Errorf("%s cannot be read: %w", name, reason(err))
		}
		r = strings.NewReader(string(b))
	}
	if info, err := photo.Inspect(r, photo.DefaultLimits); err == nil &&
		info.DecodeBytes() > photo.DefaultLimits.MaxMemory/2 {
		costly.Lock()
		defer costly.Unlock()
	}
	m, info, err := photo.Decode(r, photo.DefaultLimits)
	var p *photo.Problem
	if errors.As(err, &p) {
		return nil, photo.Info{}, fmt.Errorf("%s: %s", name, p.Say)
	}
	if err != nil {
		return nil, photo.Info{}, fmt.Errorf("%s cannot be read: %w", name, reason(err))
	}
	m.DropDeep()
	return m, info, nil
}

// maxMapPoints is the longest list of places that is read.
const maxMapPoints = 1_000_000

// readPoints reads x,y lines; a first line of words, empty lines and lines that
// begin with # are passed over.
func readPoints(g *globals, path string) ([]photo.Point, error) {
	f, err := g.input(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var out []photo.Point
	seen := false
	s := bufio.NewScanner(f)
	for n := 1; s.Scan(); n++ {
		line := strings.TrimSpace(strings.TrimPrefix(s.Text(), "\ufeff"))
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		first := !seen
		seen = true
		p, ok := parsePoint(line)
		if !ok && first && strings.EqualFold(strings.ReplaceAll(line, " ", ""), "x,y") {
			continue
		}
		if !ok {
			return nil, fmt.Errorf(
				"%s, line %d: %.40q is not a place; each line should be x,y in pixels of the before picture, such "+
					"as 120.5,300",
				path,
				n,
				line,
			)
		}
		if out = append(out, p); len(out) > maxMapPoints {
			return nil, fmt.Errorf("%s has more than %d places; split it", path, maxMapPoints)
		}
	}
	if err := s.Err(); err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", path, reason(err))
	}
	return out, nil
}

func parsePoint(line string) (photo.Point, bool) {
	xs, ys, ok := strings.Cut(line, ",")
	if !ok {
		return photo.Point{}, false
	}
	x, errX := strconv.ParseFloat(strings.TrimSpace(xs), 64)
	y, errY := strconv.ParseFloat(strings.TrimSpace(ys), 64)
	good := errX == nil && errY == nil && math.Abs(x) < 1e7 && math.Abs(y) < 1e7
	return photo.Point{X: x, Y: y}, good
}

func compareAnswerOf(c *photo.Comparison) compareAnswer {
	al := c.Alignment
	a := compareAnswer{
		Verdict: al.Verdict, MappedPoints: [][2]float64{}, Say: al.Say, Notes: append([]string{}, al.Notes...),
		ComparedFraction: c.ComparedShare, ClippedFraction: c.ClippedShare,
		BlurPx: [2]float64{c.Before.BlurPx, c.After.BlurPx}, Warnings: []compareWarning{},
	}
	for _, w := range c.Warnings {
		a.Warnings = append(a.Warnings, compareWarningOf(w))
	}
	if al.Verdict == photo.Different {
		return a
	}
	h := [9]float64(al.Homography)
	a.Homography, a.Overlap = &h, al.Overlap
	a.ResidualMedianPx, a.ResidualP95Px = &al.ResidualMedianPx, &al.ResidualP95Px
	if al.ResidualMedianMM > 0 {
		a.ResidualMedianMM = &al.ResidualMedianMM
	}
	if !c.Compared {
		return a
	}
	of := func(s photo.Stats) *compareStats { return &compareStats{s.Median, s.Mean, s.P95} }
	a.DE00, a.TrendRemovedDE00 = of(c.DE00), of(c.TrendRemoved)
	a.DL, a.DB = of(c.DL), of(c.DB)
	a.TrendRemovedDL, a.TrendRemovedDB = of(c.TrendRemovedDL), of(c.TrendRemovedDB)
	a.Light = &compareLight{c.Light.Stops, c.Light.Warmer, c.Light.Unevenness}
	if b, p := c.PaperBefore, c.PaperAfter; b.Share > 0 {
		a.Paper = &comparePaper{
			Before: [3]float64{b.Lab.L, b.Lab.A, b.Lab.B}, After: [3]float64{p.Lab.L, p.Lab.A, p.Lab.B},
			YellownessBefore: float64(b.Yellowness), YellownessAfter: float64(p.Yellowness),
			DE00: c.PaperDE00, SD: c.PaperDE00SD, RestsOn: c.PaperRestsOn,
		}
	}
	if c.PrintRatio > 0 {
		a.PrintRatio = &c.PrintRatio
	}
	return a
}

func compareWarningOf(w photo.Warning) compareWarning {
	out := compareWarning{Kind: w.Kind, Say: w.Say, AreaPx: w.AreaPx, AreaMM2: w.AreaMM2}
	if w.Outline != nil {
		out.BBox = &[4]int{w.Box.Min.X, w.Box.Min.Y, w.Box.Dx(), w.Box.Dy()}
		for _, p := range w.Outline {
			out.Outline = append(out.Outline, [2]float64{p.X, p.Y})
		}
	}
	return out
}

// compareProse is the answer for a person to read.
func compareProse(a *compareAnswer, c *photo.Comparison) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n", a.Verdict, a.Say)
	for _, n := range a.Notes {
		fmt.Fprintf(&b, "%s\n", n)
	}
	if a.DE00 != nil {
		fmt.Fprintf(&b, "\n%.0f %% of the sheet was compared.\n\n", 100*a.ComparedFraction)
		w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
		fmt.Fprintln(w, "\tmedian\tmean\t95 % below\t")
		row := func(name string, s *compareStats, format string) {
			fmt.Fprintf(w, "%s\t"+format+"\t"+format+"\t"+format+"\t\n", name, s.Median, s.Mean, s.P95)
		}
		row("ΔE00", a.DE00, "%.2f")
		row("ΔE00, light evened", a.TrendRemovedDE00, "%.2f")
		row("dL*", a.DL, "%+.2f")
		row("dL*, light evened", a.TrendRemovedDL, "%+.2f")
		row("db*", a.DB, "%+.2f")
		row("db*, light evened", a.TrendRemovedDB, "%+.2f")
		w.Flush()
		fmt.Fprintf(&b, "\n%s\n", c.PaperSay())
		if p := a.Paper; p != nil {
			fmt.Fprintf(
				&b,
				"Paper before L* %.1f, a* %.1f, b* %.1f, yellowness E313 %.0f; after L* %.1f, a* %.1f, b* %.1f, "+
					"E313 %.0f.\n",
				p.Before[0],
				p.Before[1],
				p.Before[2],
				p.YellownessBefore,
				p.After[0],
				p.After[1],
				p.After[2],
				p.YellownessAfter,
			)
		}
	}
	for _, w := range a.Warnings {
		fmt.Fprintf(&b, "\nLook: %s", w.Say)
		if w.BBox != nil {
			fmt.Fprintf(&b, " (%d by %d pixels at %d, %d", w.BBox[2], w.BBox[3], w.BBox[0], w.BBox[1])
			if w.AreaMM2 > 0 {
				fmt.Fprintf(&b, ", %.0f mm²", w.AreaMM2)
			}
			b.WriteString(")")
		}
		b.WriteString("\n")
	}
	if len(a.MappedPoints) > 0 {
		fmt.Fprintf(&b, "\nplaces in the after picture, x,y\n")
		for _, p := range a.MappedPoints {
			fmt.Fprintf(&b, "%.3f,%.3f\n", p[0], p[1])
		}
	}
	for i, f := range a.Files {
		if i == 0 {
			b.WriteString("\nwritten:\n")
		}
		fmt.Fprintf(&b, "  %s\n", f)
	}
	return b.String()
}

// writeComparison writes what a person would look at into dir, and returns the
// names of the files. Of different faces there is nothing to write.
func writeComparison(dir string, c *photo.Comparison) ([]string, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, fmt.Errorf("the folder %s cannot be made: %w", dir, reason(err))
	}
	var files []string
	put := func(name string, encode func(io.Writer) error) error {
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		if err != nil {
			return fmt.Errorf("%s cannot be written: %w", path, reason(err))
		}
		if err := errors.Join(encode(f), f.Close()); err != nil {
			return fmt.Errorf("%s cannot be written: %w", path, reason(err))
		}
		files = append(files, path)
		return nil
	}
	asJPEG := func(m image.Image) func(io.Writer) error {
		return func(w io.Writer) error { return jpeg.Encode(w, m, &jpeg.Options{Quality: 92}) }
	}
	asPNG := func(m image.Image) func(io.Writer) error {
		return func(w io.Writer) error { return png.Encode(w, m) }
	}
	if m := c.Warped(); m != nil {
		if err := put("after-aligned.jpg", asJPEG(m.SRGB())); err != nil {
			return nil, err
		}
	}
	if !c.Compared {
		return files, nil
	}
	for _, kind := range photo.MapKinds() {
		if err := put("map-"+string(kind)+".png", asPNG(c.Map(kind).Picture)); err != nil {
			return nil, err
		}
	}
	masks := c.Masks()
	for _, m := range []struct {
		name string
		mask *image.Gray
	}{{"mask-compared.png", masks.Compared}, {"mask-print.png", masks.Print}, {"mask-glare.png", masks.Glare}} {
		if err := put(m.name, asPNG(m.mask)); err != nil {
			return nil, err
		}
	}
	err := put("figure.png", asPNG(c.Figure(700)))
	return files, err
}
