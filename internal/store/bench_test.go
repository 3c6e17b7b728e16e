package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"benchleaf/internal/record"
)

func BenchmarkAppendSynced(b *testing.B) {
	s := opened(b)
	id := newCase(b, s)
	for i := 0; b.Loop(); i++ {
		mustAppend(b, s, draft(id, 2, note(fmt.Sprint(i))))
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "entries/s")
}

func BenchmarkAppendSyncedEightWriters(b *testing.B) {
	s := opened(b)
	var ids []record.CaseID
	for range 8 {
		ids = append(ids, newCase(b, s))
	}
	var next atomic.Int64
	b.SetParallelism(4) // times GOMAXPROCS
	b.RunParallel(func(pb *testing.PB) {
		id := ids[next.Add(1)%8]
		for pb.Next() {
			if _, err := s.Append(ctx, draft(id, 2, note("x"))); err != nil {
				b.Error(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "entries/s")
}

// filled makes a folder of n cases of about 40 entries each.
func filled(b *testing.B, n int) string {
	dir := b.TempDir()
	s := mustOpen(b, dir)
	for i := range n {
		id := record.NewCaseID(time.Now())
		bodies := []record.Body{
			record.Opened{Number: fmt.Sprintf("2026-%04d", i), Title: fmt.Sprintf("Monthly no. %d", i)},
			record.MakeUp{InnerSheets: 9, Cover: "separate", Binding: "saddle", FirstPage: 1},
		}
		for k := range 38 {
			bodies = append(
				bodies,
				record.Reading{
					Quantity: "surface-ph",
					Value:    5,
					Method:   "flat electrode",
					Stage:    "before",
					Place:    record.Place{Sheets: []int{k % 10}},
				},
			)
		}
		mustAppend(b, s, draft(id, 0, bodies...))
	}
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	return dir
}

func BenchmarkColdStart1000Cases(b *testing.B) {
	dir := filled(b, 1000)
	b.ResetTimer()
	for b.Loop() {
		s := mustOpen(b, dir)
		if list, err := s.List(ctx, Filter{Limit: 50}); err != nil || len(list) != 50 {
			b.Fatal(len(list), err)
		}
		s.Close()
	}
}

func BenchmarkList(b *testing.B) {
	for _, n := range []int{1000, 10000} {
		dir := filled(b, n)
		s := mustOpen(b, dir)
		b.Run(fmt.Sprintf("%d/busy", n), func(b *testing.B) {
			for b.Loop() {
				if _, err := s.List(ctx, Filter{Busy: true}); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("%d/search", n), func(b *testing.B) {
			for b.Loop() {
				if _, err := s.List(ctx, Filter{Text: "no. 77", Limit: 50}); err != nil {
					b.Fatal(err)
				}
			}
		})
		s.Close()
	}
}

func BenchmarkVerify1000Cases(b *testing.B) {
	s := mustOpen(b, filled(b, 1000))
	defer s.Close()
	for b.Loop() {
		mustBeClean(b, s)
	}
}

func BenchmarkBackup1000Cases(b *testing.B) {
	s := mustOpen(b, filled(b, 1000))
	defer s.Close()
	dir := b.TempDir()
	for i := 0; b.Loop(); i++ {
		if err := s.Backup(ctx, filepath.Join(dir, fmt.Sprint(i))); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkImport(b *testing.B) {
	const entries = 20_000
	s := opened(b)
	id := newCase(b, s)
	bodies := make([]record.Body, entries)
	for i := range bodies {
		bodies[i] = note(fmt.Sprint(i))
	}
	mustAppend(b, s, draft(id, 2, bodies...))
	file := exportOf(b, s, id)
	for b.Loop() {
		if _, err := importInto(opened(b), file); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(entries*float64(b.N)/b.Elapsed().Seconds(), "entries/s")
}

func BenchmarkPutPhoto5MB(b *testing.B) {
	s := opened(b)
	data := make([]byte, 5<<20)
	b.SetBytes(int64(len(data)))
	for i := 0; b.Loop(); i++ {
		binary.LittleEndian.PutUint64(data, uint64(i)+1)
		if _, err := s.PutPhoto(ctx, bytes.NewReader(data), 10<<20); err != nil {
			b.Fatal(err)
		}
	}
}
