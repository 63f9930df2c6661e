package plan

import (
	"math"
	"sort"
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

// settling is how far calcite went in one tank: a part of the way from nothing to
// equilibrium, by the alkalinity that was read.
type settling struct {
	at   time.Time
	part float64
}

// settled is how far calcite goes in this brewery's tanks, as it was known at a
// moment: mean and scatter of the part of the way that verifications read.
func (b *Book) settled(by time.Time) treat.Settled {
	b.settledOnce.Do(b.readSettled)
	var parts []float64
	for _, s := range b.settlings {
		if s.at.Before(by) {
			parts = append(parts, s.part)
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

func (b *Book) readSettled() {
	var list []*journal.Session
	for _, s := range b.j.Sessions.List {
		if s.Void == nil && s.Sample == "verification" && s.Change != "" {
			list = append(list, s)
		}
	}
	sort.SliceStable(list, func(x, y int) bool { return list[x].Sampled.Before(list[y].Sampled) })
	for _, s := range list[max(0, len(list)-newestSettled):] {
		c, ok := b.j.Changes.Get(s.Change)
		if !ok || c.Void != nil {
			continue
		}
		var a water.Analysis
		b.j.Analysis(s, &a)
		read, ok := a.Measured(water.Alkalinity)
		if !ok || read.Bound != water.Exact {
			continue
		}
		w, err := b.workSettled(c, s.Sampled, func(basis *journal.Session) Source { return b.today(basis, s.Sampled) }, treat.Settled{})
		if err != nil {
			continue
		}
		r, err := w.AsSampled().Prediction.Range(water.Alkalinity)
		if err != nil || r.None-r.Full < settlingLeast {
			continue
		}
		b.settlings = append(b.settlings, settling{s.Sampled, math.Max(0, math.Min(1, (r.None-read.Value)/(r.None-r.Full)))})
	}
}
