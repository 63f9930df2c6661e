package profile

import (
	"math"
	"slices"

	"wj/journal"
	"wj/query"
	"wj/query/stats"
)

// Outliers are the measured points that lie far from their like.
type Outliers struct {
	N    int    // points looked at
	Lack string // why none were, of a regime
	// Unexplained have no note, replicate or amendment; Explained have.
	Unexplained, Explained []Outlier
	// Grubbs is the test of the one point furthest out in the newest regime; nil where it does not apply, and GrubbsLack says why.
	Grubbs      *stats.GrubbsTest
	Furthest    query.Point
	GrubbsLack  string
	FromLine    bool // residuals from the trend were looked at, in one regime at least
	CoarseScale bool // more than half of a regime's values are alike: a reason to look, no finding
}

// Outlier is one of them.
type Outlier struct {
	Point query.Point
	Z     float64 // modified z-score of its distance from the median, or from the trend of its regime
	Why   string  // what explains it: note, replicates, amended
}

// outliersOf scores each regime by itself: values against their median, or, where the regime drifts, against its trend line.
func outliersOf(j *journal.Journal, s *query.Series, groups []Group) Outliers {
	var out Outliers
	newest := s.Points[len(s.Points)-1].Regime
	out.GrubbsLack = "the newest regime has no measured value"
	for _, g := range groups {
		values := residuals(s, g, &out)
		if g.Regime == newest {
			out.grubbs(s, g, values)
		}
		if len(values) < BaselineLeast {
			out.Lack = tooFew(len(values), BaselineLeast, "measured value").Error()
			continue
		}
		z, err := stats.ModifiedZScores(values)
		if err != nil {
			out.Lack = err.Error()
			continue
		}
		out.N += len(values)
		for n, score := range z.Scores {
			if math.Abs(score) <= stats.ModifiedZLimit {
				continue
			}
			out.CoarseScale = out.CoarseScale || z.Scale == stats.ByMeanDeviation
			one := Outlier{Point: s.Points[g.At[n]], Z: score}
			if one.Why = explanation(j, s, one.Point); one.Why == "" {
				out.Unexplained = append(out.Unexplained, one)
			} else {
				out.Explained = append(out.Explained, one)
			}
		}
	}
	for _, list := range [][]Outlier{out.Unexplained, out.Explained} {
		slices.SortFunc(list, func(a, b Outlier) int { return a.Point.Sampled.Compare(b.Point.Sampled) })
	}
	return out
}

func residuals(s *query.Series, g Group, out *Outliers) []float64 {
	values := g.Values(s)
	axis := stats.TimeAxis{Origin: s.Points[g.At[0]].Sampled}
	test, slope, err := Drift(s, g, axis)
	if err != nil || test.P >= TrendP {
		return values
	}
	out.FromLine = true
	x := g.Times(s, axis)
	for n := range values {
		values[n] -= slope.At(x[n])
	}
	return values
}

// grubbs tests the point furthest out where the others look normal: with it in, no series with an outlier would.
func (out *Outliers) grubbs(s *query.Series, g Group, values []float64) {
	test, err := stats.Grubbs(values, stats.EitherEnd, .05)
	if err != nil {
		out.GrubbsLack = err.Error()
		return
	}
	others := slices.Delete(slices.Clone(values), test.Index, test.Index+1)
	plot, err := stats.PlotOnNormal(others)
	switch {
	case err != nil:
		out.GrubbsLack = err.Error()
	case !plot.Straight:
		out.GrubbsLack = "the other values do not look normal"
	default:
		out.Grubbs, out.Furthest, out.GrubbsLack = &test, s.Points[g.At[test.Index]], ""
	}
}

// explanation is what the record itself says of an odd value.
func explanation(j *journal.Journal, s *query.Series, p query.Point) string {
	session, ok := j.Sessions.Get(p.Session)
	if !ok {
		return ""
	}
	if len(session.Amended) > 0 {
		return "amended"
	}
	if p.Replicates > 1 {
		return "replicates"
	}
	if query.Remarks(j, session, s.Analyte) {
		return "note"
	}
	return ""
}
