package account

import (
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func TestReadClimate(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip(err)
	}
	for name, c := range map[string]struct {
		csv  string
		want []string // RFC 3339 in UTC
	}{
		"commas": {"Serial 17\nTime,Temperature (°C),Humidity (%)\n2026-11-28 10:00,20.1,47\n2026-11-28 10:05,20.1,47\n" +
			"2026-11-28 10:10,20.2,46.5\n", []string{"2026-11-28T09:00:00Z", "2026-11-28T09:10:00Z"}},
		"decimal commas": {"Nr;Date/Time;RH %;Temp\r\n1;28.11.2026 10:00:00;47,0;20,1\r\n2;28.11.2026 10:30:00;46,5;20,2\r\n",
			[]string{"2026-11-28T09:00:00Z", "2026-11-28T09:30:00Z"}},
		// Summer time ended on 25 October 2026 at 01:00 UTC (Directive 2000/84/EC): the hour from 2 to 3 came twice.
		"summer time ends": {"time,temp,rh\n2026-10-25 01:30,20,47\n2026-10-25 02:00,20,47\n2026-10-25 02:30,20,47\n" +
			"2026-10-25 02:00,20,47\n2026-10-25 02:30,20,47\n2026-10-25 03:00,20,47\n", []string{
			"2026-10-24T23:30:00Z", "2026-10-25T00:00:00Z", "2026-10-25T00:30:00Z", "2026-10-25T01:00:00Z",
			"2026-10-25T01:30:00Z", "2026-10-25T02:00:00Z",
		}},
	} {
		list, err := ReadClimate([]byte(c.csv), berlin)
		if err != nil || len(list) != len(c.want) {
			t.Errorf("%s: %d samples (%v), want %d", name, len(list), err, len(c.want))
			continue
		}
		for i, w := range c.want {
			if got := list[i].At.UTC().Format(time.RFC3339); got != w {
				t.Errorf("%s: sample %d at %s, want %s", name, i, got, w)
			}
		}
		if x := list[0]; x.HumidityPct != 47 || x.TempC < 20 || x.TempC > 20.1 {
			t.Errorf("%s: the first sample is %+v", name, x)
		}
	}
}

func TestBrokenClimateIsRefusedByItsLine(t *testing.T) {
	for csv, want := range map[string]string{
		"":                                   "No head",
		"a,b,c\n1,2,3\n":                     "No head",
		"time,temp,rh\n":                     "no samples",
		"time,temp,rh\nyesterday,20,47\n":    "Line 2: the time “yesterday”",
		"time,temp,rh\n11/12/2026 10:00,2,4": "Line 2: the time “11/12/2026 10:00” cannot be told",
		"time,temp,rh\n2026-11-28 10:00,20,47\n2026-11-28 10:10,warm,47\n":         "Line 3: the temperature “warm”",
		"time,temp,rh\n2026-11-28 10:00,20,47\n2026-11-28 10:10,20\n":              "Line 3 ends early",
		"time,temp,rh\n2026-11-28 10:00,20,47\n2026-11-27 10:10,20,47\n":           "Line 3: the time goes back",
		"time,temp,rh\n2026-11-28 10:00,20,NaN\n":                                  "Line 2: the humidity “NaN”",
		"time,temp,rh\n\"2026-11-28 10:00,20,47\n" + strings.Repeat("x", 5) + "\n": "Line 2",
	} {
		_, err := ReadClimate([]byte(csv), time.UTC)
		list, ok := record.Refusals(err)
		if !ok || len(list) != 1 || list[0].Field != "climate_file" || !strings.Contains(list[0].Say, want) {
			t.Errorf("%.50q: %v, want one sentence with %q", csv, err, want)
		}
	}
}

func FuzzReadClimate(f *testing.F) {
	f.Add([]byte("time,temp,rh\n2026-11-28 10:00,20,47\n"))
	f.Add([]byte("Nr;Date/Time;RH %;Temp\r\n1;28.11.2026 10:00:00;47,0;20,1\r\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := ReadClimate(data, time.UTC)
		if (err == nil) == (len(list) == 0) {
			t.Errorf("%d samples with %v", len(list), err)
		}
		for i := 1; i < len(list); i++ {
			if !list[i].At.After(list[i-1].At) {
				t.Error("the samples do not rise")
			}
		}
	})
}

func TestStockIsWarnedOfBeforeTheDay(t *testing.T) {
	now := time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC)
	n := func(v float64) *float64 { return &v }
	st := &record.Studio{Supplies: []record.Supply{
		{Name: "kozo tissue", Sort: "tissue", Left: n(0), Unit: "sheets"},
		{Name: "blotter", Sort: "absorbent", Lot: "B2", Left: n(4), Least: n(10), Unit: "sheets", Activity: "failed",
			ActivityBy: "an institute, 2025"},
		{Name: "paste", Sort: "paste", ExpiresAt: now.AddDate(0, 0, -2)},
		{Name: "board", Sort: "folder", Activity: "passed", ActivityBy: "the maker, 2024"},
		{Name: "old", Sort: "paste", Retired: true},
	}}
	all := strings.Join(StockWarnings(st, now, words.Clock{Zone: time.UTC, Today: now}), "\n")
	for _, want := range []string{
		"kozo tissue: none is left", "blotter, lot B2: 4", "failed the photographic activity test", "paste: past its date",
		"paste: its safety data sheet is not to hand",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("nothing is said of %q in:\n%s", want, all)
		}
	}
	if strings.Contains(all, "board") || strings.Contains(all, "old") {
		t.Errorf("what is in order is warned of:\n%s", all)
	}
}
