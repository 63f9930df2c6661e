package cause

import "testing"

// BenchmarkExplain explains two years of a region of seven sites.
func BenchmarkExplain(b *testing.B) {
	w := newWorld(1, 0.03, 0.7, true)
	w.run(104)
	for b.Loop() {
		Explain(w.sites, w.sessions, DefaultOdds, nil)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/float64(len(w.sessions)), "us/session")
}
