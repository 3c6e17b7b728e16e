package main

import (
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"text/tabwriter"

	"benchleaf/photo"
)

// stainsCmd finds the stains in a photograph of a sheet.
type stainsCmd struct {
	Photo   string  `arg:"" help:"Photograph of the sheet (JPEG, PNG, TIFF, HEIC), or - for standard input."`
	MMPerPx float64 `name:"mm-per-px" placeholder:"X" help:"Millimetres per pixel of the photograph, for areas in mm2."`
	Out     string  `placeholder:"DIR" type:"path" help:"Folder to write mask.png into; it is made when there is none."`
}

// maskName is the file that --out receives: of the picture's size, 255 in the
// regions, 0 elsewhere.
const maskName = "mask.png"

// stainsAnswer is what --json prints.
type stainsAnswer struct {
	Regions []stainsRegion `json:"regions"`
	// StainedFraction is the share of the face, 0 to 1.
	StainedFraction float64 `json:"stained_fraction"`
	// Mask is the name of the mask within --out; null without --out.
	Mask *string `json:"mask"`
	// FacePx is the area of the face that was seen, in pixels.
	FacePx float64  `json:"face_px"`
	Notes  []string `json:"notes"`
}

type stainsRegion struct {
	Kind     photo.StainKind `json:"kind"`
	AreaPx   float64         `json:"area_px"`
	AreaMM2  *float64        `json:"area_mm2"` // null without a scale
	BBox     [4]int          `json:"bbox"`     // x, y, width, height in pixels
	MeanDE00 float64         `json:"mean_de00"`
}

// Run finds the stains, writes the mask and prints the regions, largest first.
func (c *stainsCmd) Run(g *globals) error {
	if c.MMPerPx != 0 && !(c.MMPerPx >= 1e-4 && c.MMPerPx <= 100) {
		return badUse("--mm-per-px is %g; it should be a length between 0.0001 and 100 mm", c.MMPerPx)
	}
	if math.IsNaN(c.MMPerPx) {
		return badUse("--mm-per-px is not a number; it should be a length between 0.0001 and 100 mm")
	}
	m, _, err := readPhoto(g, c.Photo, new(sync.Mutex))
	if err != nil {
		return err
	}
	found, err := photo.FindStains(g.Context, m, photo.StainOptions{MMPerPx: c.MMPerPx})
	if err != nil {
		return fmt.Errorf("%s: %w", c.Photo, err)
	}
	answer := stainsAnswer{
		Regions:         []stainsRegion{},
		StainedFraction: found.StainedFraction,
		FacePx:          found.FacePx,
		Notes:           []string{},
	}
	answer.Notes = append(answer.Notes, found.Notes...)
	for _, r := range found.Regions {
		out := stainsRegion{
			Kind:     r.Kind,
			AreaPx:   r.AreaPx,
			BBox:     [4]int{r.BBox.Min.X, r.BBox.Min.Y, r.BBox.Dx(), r.BBox.Dy()},
			MeanDE00: r.MeanDE00,
		}
		if c.MMPerPx > 0 {
			out.AreaMM2 = &r.AreaMM2
		}
		answer.Regions = append(answer.Regions, out)
	}
	if c.Out != "" {
		if err := writeMask(c.Out, found); err != nil {
			return err
		}
		name := maskName
		answer.Mask = &name
	}
	if g.JSON {
		return g.writeJSON(answer)
	}
	return c.tell(g.Stdout, found)
}

// tell writes prose and a table.
func (c *stainsCmd) tell(w io.Writer, found *photo.Stains) error {
	if len(found.Regions) == 0 {
		fmt.Fprintln(w, "No stain stands out from the paper round it.")
	} else {
		n := countOf(len(found.Regions), "region")
		fmt.Fprintf(w, "%s on %.2f %% of the face.\n\n", n, 100*found.StainedFraction)
		tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
		unit := "area, px"
		if c.MMPerPx > 0 {
			unit = "area, mm2"
		}
		fmt.Fprintf(tw, "look\t%s\tmean ΔE00\tx\ty\twidth\theight\t\n", unit)
		for _, r := range found.Regions {
			area := fmt.Sprintf("%.0f", r.AreaPx)
			if c.MMPerPx > 0 {
				area = fmt.Sprintf("%.2f", r.AreaMM2)
			}
			b := r.BBox
			fmt.Fprintf(tw, "%s\t%s\t%.1f\t%d\t%d\t%d\t%d\t\n",
				r.Kind, area, r.MeanDE00, b.Min.X, b.Min.Y, b.Dx(), b.Dy())
		}
		if err := tw.Flush(); err != nil {
			return err
		}
		fmt.Fprintln(w, "\nThe names say what a region looks like, not what caused it.")
	}
	if c.Out != "" {
		fmt.Fprintf(w, "The mask is %s.\n", filepath.Join(c.Out, maskName))
	}
	if len(found.Notes) > 0 {
		fmt.Fprintln(w, strings.Join(found.Notes, "\n"))
	}
	return nil
}

// countOf is a number with its noun.
func countOf(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// writeMask writes the mask into dir, first under another name, so that no half
// of it is ever taken for the whole.
func writeMask(dir string, found *photo.Stains) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("the folder %s cannot be made: %w", dir, reason(err))
	}
	f, err := os.CreateTemp(dir, maskName+".*")
	if err != nil {
		return fmt.Errorf("nothing can be written into %s: %w", dir, reason(err))
	}
	enc := png.Encoder{CompressionLevel: png.BestSpeed}
	err = errors.Join(enc.Encode(f, found.Mask), f.Chmod(0o644), f.Close())
	path := filepath.Join(dir, maskName)
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
		return fmt.Errorf("%s cannot be written: %w", path, reason(err))
	}
	return nil
}
