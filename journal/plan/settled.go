package plan

import (
	"math"
	"slices"
	"sync"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/treat"
)

// settlingLeast is how far apart in alkalinity, mg/L CaCO3, nothing and
// equilibrium must lie for a reading between them to tell how far a tank went;
// fewestSettled how many readings narrow the range, newestSettled how many of the
// newest are looked at. Common practice, no source.
const (
	settlingLeast = 15.0
	fewestSettled = 3
	newestSettled = 20
)

// verified is a session that verifies a change, and how far calcite went in its tank: a
// part of the way from nothing to equilibrium, by the alkalinity that was read.
type verified struct {
	session *journal.Session
	once    sync.Once
	part    float64
	known   bool
}

// settled is how far calcite goes in this brewery's tanks, as it was known at a
// moment: mean and scatter of the part of the way that the newest verifications
// before it read.
func (b *Book) settled(by time.Time) treat.Settled {
	b.verifiedOnce.Do(func() {
		for _, s := range b.j.Sessions.List {
			if s.Void == nil && s.Sample == journal.SampleVerification && s.Change != "" {
				b.verified = append(b.verified, &verified{session: s})
			}
		}
		slices.SortStableFunc(b.verified, func(x, y *verified) int { return x.session.Sampled.Compare(y.session.Sampled) })
	})
	before, _ := slices.BinarySearchFunc(b.verified, by, func(v *verified, by time.Time) int { return v.session.Sampled.Compare(by) })
	if before < fewestSettled {
		return treat.Settled{}
	}
	var parts []float64
	for _, v := range b.verified[max(0, before-newestSettled):before] {
		v.once.Do(func() { v.part, v.known = b.settledIn(v.session) })
		if v.known {
			parts = append(parts, v.part)
		}
	}
	n := float64(len(parts))
	if len(parts) < fewestSettled {
		return treat.Settled{}
	}
	mean, squares := 0.0, 0.0
	for _, p := range parts {
		mean += p / n
	}
	for _, p := range parts {
		squares += (p - mean) * (p - mean)
	}
	// Two standard deviations of the next tank, and no surer than a tenth of the way.
	half := math.Max(0.1, 2*math.Sqrt(squares/(n-1)*(1+1/n)))
	return treat.Settled{Low: math.Max(0, math.Min(mean-half, 0.9)), High: math.Min(1, math.Max(mean+half, 0.1)), Batches: len(parts)}
}

// settledIn is how far calcite went in the tank that a session verified; ok is false where
// its alkalinity does not tell.
func (b *Book) settledIn(s *journal.Session) (part float64, ok bool) {
	c, known := b.j.Changes.Get(s.Change)
	if !known || c.Void != nil {
		return 0, false
	}
	var a water.Analysis
	b.j.Analysis(s, &a)
	read, ok := a.Measured(water.Alkalinity)
	if !ok || read.Bound != water.Exact {
		return 0, false
	}
	w, err := b.workSettled(c, s.Sampled, b.ofDay(s.Sampled), treat.Settled{})
	if err != nil {
		return 0, false
	}
	r, err := w.AsSampled().Prediction.Range(water.Alkalinity)
	if err != nil || r.None-r.Full < settlingLeast {
		return 0, false
	}
	return math.Max(0, math.Min(1, (r.None-read.Value)/(r.None-r.Full))), true
}
