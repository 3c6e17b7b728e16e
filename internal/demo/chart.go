package demo

import (
	"fmt"
	"strings"

	"benchleaf/colour"
	"benchleaf/internal/record"
)

// The demonstration's colour chart: 4 rows of 6 patches whose colours are
// invented and drawn as they are written, CIELAB under D50. Rows one and two are
// dull browns, yellows and the colours of inks, row three is light papers, row
// four greys.
var chartLab = [chartRows * chartColumns]colour.Lab{
	{
		L: 38, A: 14, B: 15,
	}, {L: 66, A: 17, B: 18}, {L: 50, A: -4, B: -22}, {L: 44, A: -14, B: 22}, {L: 56, A: 9, B: -24},
	{L: 71, A: -32, B: 1},
	{
		L: 62, A: 33, B: 57,
	}, {L: 41, A: 8, B: -40}, {L: 52, A: 46, B: 17}, {L: 32, A: 21, B: -19}, {L: 72, A: -22, B: 56},
	{L: 72, A: 18, B: 66},
	{
		L: 84, A: 2, B: 18,
	}, {L: 78, A: 4, B: 24}, {L: 72, A: 6, B: 28}, {L: 66, A: 7, B: 26}, {L: 88, A: 0, B: 10}, {L: 60, A: 9, B: 30},
	{
		L: 94, A: 0, B: 2,
	}, {L: 81, A: 0, B: 0}, {L: 66, A: 0, B: 0}, {L: 51, A: 0, B: 0}, {L: 36, A: 0, B: 0}, {L: 21, A: 0, B: 0},
}

const (
	chartRows, chartColumns = 4, 6
	// Sides in mm on the board that is drawn as wide as an opened sheet.
	chartPatch, chartGap = 40, 4
	chartX, chartY       = 40, 45
)

// chartFile is the chart as the studio keeps it.
func (f *filler) chartFile() record.ChartFile {
	var text strings.Builder
	text.WriteString("id,L,a,b\n")
	for i, c := range chartLab {
		fmt.Fprintf(&text, "%c%d,%g,%g,%g\n", 'A'+i/chartColumns, i%chartColumns+1, c.L, c.A, c.B)
	}
	return record.ChartFile{
		ID: f.newID(), Name: "bench chart", Source: "invented for the demonstration and drawn so",
		FileName: "bench-chart.csv", Rows: chartRows, Columns: chartColumns, Text: text.String(),
	}
}

// chartCorners go round the patches in the picture, from the first clockwise.
func (p picture) chartCorners() (q [4][2]float64) {
	const w, h = chartColumns*chartPatch + (chartColumns-1)*chartGap, chartRows*chartPatch + (chartRows-1)*chartGap
	for i, c := range [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}} {
		q[i] = p.onPicture(chartX+c[0], chartY+c[1])
	}
	return q
}

// board draws the chart on a dark board.
func (p picture) board() *layer {
	l := &layer{w: sheetW, h: sheetH, pix: make([]float32, 3*sheetW*sheetH)}
	for i := range l.pix {
		l.pix[i] = 0.06
	}
	for i, c := range chartLab {
		xyz := c.XYZ()
		rgb := [3]float64{}
		rgb[0], rgb[1], rgb[2] = colour.LinearSRGB().Device(xyz)
		x0, y0 := chartX+i%chartColumns*(chartPatch+chartGap), chartY+i/chartColumns*(chartPatch+chartGap)
		for y := y0 * pxPerMm; y < (y0+chartPatch)*pxPerMm; y++ {
			for x := x0 * pxPerMm; x < (x0+chartPatch)*pxPerMm; x++ {
				for k := range 3 {
					l.pix[3*(y*l.w+x)+k] = float32(rgb[k])
				}
			}
		}
	}
	return l
}
