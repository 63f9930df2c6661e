package profile

import (
	"time"

	"wj/query"
	"wj/query/stats"
	"wj/water"
)

// Group is the measured points of one supply regime, as their places in the series, in order of time.
type Group struct {
	Regime string
	At     []int
}

// Groups parts the measured points since a moment (zero: all) by regime, in the order in which the regimes first appear.
// Bounds are left out.
func Groups(s *query.Series, since time.Time) []Group {
	place := map[string]int{}
	var out []Group
	for i, p := range s.Points {
		if p.Bound != water.Exact || p.Sampled.Before(since) {
			continue
		}
		n, seen := place[p.Regime]
		if !seen {
			n = len(out)
			place[p.Regime] = n
			out = append(out, Group{Regime: p.Regime})
		}
		out[n].At = append(out[n].At, i)
	}
	return out
}

// Values are the values of a group.
func (g Group) Values(s *query.Series) []float64 {
	out := make([]float64, len(g.At))
	for n, i := range g.At {
		out[n] = s.Points[i].Value
	}
	return out
}

// Times are the years from the axis' origin to each point of a group.
func (g Group) Times(s *query.Series, axis stats.TimeAxis) []float64 {
	moments := make([]time.Time, len(g.At))
	for n, i := range g.At {
		moments[n] = s.Points[i].Sampled
	}
	return axis.Years(moments)
}

// BaselineLeast is how many readings of a regime a statistic wants at least. Common
// practice, no source.
const BaselineLeast = 8
