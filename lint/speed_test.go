package lint

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"

	"wj/journal"
)

// BenchmarkRun lints a journal on disk of 100,000 sessions (or WJ_SESSIONS) with
// all rules, and reports the time that reading it takes for comparison.
func BenchmarkRun(b *testing.B) {
	n := 100_000
	if v, err := strconv.Atoi(os.Getenv("WJ_SESSIONS")); err == nil {
		n = v
	}
	dir := b.TempDir()
	t := &testing.T{}
	p := newPlant(t, 1)
	sites := []string{"north-well", "town-main", "tarrow-bore"}
	from := time.Date(2024, 1, 1, 0, 0, 0, 0, p.zone)
	write := func(name, text string) {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			b.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	for i := range n {
		// A session an hour keeps the number of lots and days believable.
		s := p.session(sites[i%3], from.Add(time.Duration(i)*10*time.Minute))
		s.id = fmt.Sprintf("%s-%d", s.id, i)
		write(s.path(), s.text())
	}
	for name, text := range p.files {
		write(name, text)
	}
	read := func() *journal.Journal {
		j, err := journal.Load(journal.Dir(dir), journal.Options{Check: true, Sessions: true})
		if err != nil {
			b.Fatal(err)
		}
		return j
	}
	read()
	start := time.Now()
	j := read()
	b.ReportMetric(time.Since(start).Seconds(), "read-s")
	for b.Loop() {
		r := Run(j, Options{Now: from.AddDate(3, 0, 0)})
		b.ReportMetric(float64(len(r.Diagnostics)), "findings")
	}
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.HeapAlloc)/(1<<20), "heap-MB")
	b.ReportMetric(float64(m.Sys)/(1<<20), "sys-MB")
	runtime.KeepAlive(j)
}
