package demo

import (
	"math"
	"time"

	"benchleaf/internal/record"
)

// stock puts batches on the shelf, an entry into the log of safety, and the air of the
// room by a logger up to now. All of it is invented.
func (f *filler) stock(now time.Time) {
	came := now.AddDate(0, 0, -40).Truncate(24 * time.Hour)
	f.at(now.AddDate(0, 0, -39), "KM")
	f.add(
		record.Supply{
			ID: f.newID(), Name: "kozo tissue 3.5 g/m²", Sort: "tissue", Lot: "K-35-02", Left: num(14), Least: num(4),
			Unit: "sheets", Came: came,
		},
		record.Supply{
			ID: f.newID(), Name: "cotton blotter 350 g/m²", Sort: "absorbent", Lot: "C-350-7", Left: num(18), Least: num(20),
			Unit: "sheets", Came: came, Activity: record.ActivityPassed, ActivityBy: "the maker’s sheet, 2026",
		},
		record.Supply{
			ID: f.newID(), Name: "methyl cellulose powder", Sort: "paste", Lot: "MC-33", Left: num(180), Unit: "g", Came: came,
			SafetySheet: "drawer 1",
		},
		record.Supply{
			ID: f.newID(), Name: "sodium borohydride powder", Sort: "chemical", Lot: "B-1107", Left: num(60), Unit: "g",
			Came: came, SafetySheet: "drawer 1",
		},
	)
	f.at(now.AddDate(0, 0, -9), "TV")
	f.add(record.Exposure{
		Sort: "spilt", What: "lime water", Amount: "about 50 mL on the bench", Who: "TV", At: f.clock,
		Wore: "gloves, goggles", Done: "wiped up with much water",
	})
	f.at(now.Add(-5*time.Minute), "KM")
	climate := record.RoomClimate{Room: "bench", Logger: "logger (demo)", File: "bench.csv"}
	const hours, every = 8, 10 * time.Minute
	for at := now.Add(-hours * time.Hour); at.Before(f.clock); at = at.Add(every) {
		swing := math.Sin(float64(at.Unix()) / 9000)
		climate.Samples = append(climate.Samples, record.ClimateSample{
			At: at.Truncate(time.Minute), TempC: math.Round(200+6*swing) / 10, HumidityPct: math.Round(470-15*swing) / 10,
		})
	}
	f.add(climate)
}
