package profile

import (
	"slices"
	"time"

	"wj/query"
	"wj/query/stats"
	"wj/water"
)

// TrendP is the probability below which a trend is told as one. Common practice, no source.
const TrendP = 0.01

// Trend is whether the value drifts, and how fast. With several supply regimes Kendall and Slope are of the regime of the
// newest reading, and Seasonal compares each regime with itself.
type Trend struct {
	Regime    string
	N, Bounds int
	From, To  time.Time
	Lack      string // why there is none: nothing else is set then
	Kendall   stats.Kendall
	// Slope is Theil's and Sen's, a year, with 95 % limits; nil where there are bounds. Between then is the interval in
	// which the slope must lie whatever the readings behind the bounds were.
	Slope   *stats.Slope
	Between stats.Interval
	// Seasonal is set for several regimes, or for quarters of the year where the readings cover two years.
	Seasonal     *stats.SeasonalKendall
	Seasons      string // "supply regime" or "quarter"
	SeasonalLack string
	Projections  []Projection
	axis         stats.TimeAxis
}

// Drift is the trend of the measured points of one group; the error is stats.ErrTooFew with fewer than BaselineLeast.
func Drift(s *query.Series, g Group, axis stats.TimeAxis) (stats.Kendall, stats.Slope, error) {
	if len(g.At) < BaselineLeast {
		return stats.Kendall{}, stats.Slope{}, tooFew(len(g.At), BaselineLeast, "measured value")
	}
	x, y := g.Times(s, axis), g.Values(s)
	slope, err := stats.TheilSen(x, y, .95) // first: it knows how many are too many
	if err != nil {
		return stats.Kendall{}, slope, err
	}
	test, err := stats.MannKendall(x, y)
	return test, slope, err
}

// SeasonalDrift compares each group with itself.
func SeasonalDrift(s *query.Series, groups []Group, axis stats.TimeAxis) (stats.SeasonalKendall, error) {
	var season []int
	var x, y []float64
	for n, g := range groups {
		for range g.At {
			season = append(season, n)
		}
		x, y = append(x, g.Times(s, axis)...), append(y, g.Values(s)...)
	}
	if len(y) < BaselineLeast {
		return stats.SeasonalKendall{}, tooFew(len(y), BaselineLeast, "measured value")
	}
	return stats.SeasonalMannKendall(season, x, y, .95)
}

// Axis counts years from the first of the points in the groups.
func Axis(s *query.Series, groups []Group) stats.TimeAxis {
	first := time.Time{}
	for _, g := range groups {
		if at := s.Points[g.At[0]].Sampled; first.IsZero() || at.Before(first) {
			first = at
		}
	}
	return stats.TimeAxis{Origin: first}
}

func trendOf(s *query.Series, since time.Time, groups []Group, limits []Target, zone *time.Location) Trend {
	var points []query.Point
	newest := s.Points[len(s.Points)-1].Regime
	for _, p := range s.Points {
		if p.Regime == newest && !p.Sampled.Before(since) {
			points = append(points, p)
		}
	}
	t := Trend{N: len(points), axis: stats.TimeAxis{Origin: points[0].Sampled}, From: points[0].Sampled, To: points[len(points)-1].Sampled}
	if len(groups) > 1 {
		t.Regime = newest
		if seasonal, err := SeasonalDrift(s, groups, Axis(s, groups)); err != nil {
			t.SeasonalLack = err.Error()
		} else {
			t.Seasonal, t.Seasons = &seasonal, "supply regime"
		}
	}
	for _, p := range points {
		if p.Bound != water.Exact {
			t.Bounds++
		}
	}
	if t.N < BaselineLeast {
		t.Lack = tooFew(t.N, BaselineLeast, "reading").Error()
		return t
	}
	if t.Bounds > 0 {
		t.censored(points, s.Floor())
		return t
	}
	at := slices.IndexFunc(groups, func(g Group) bool { return g.Regime == newest })
	test, slope, err := Drift(s, groups[at], t.axis)
	if err != nil {
		t.Lack = err.Error()
		return t
	}
	t.Kendall, t.Slope = test, &slope
	if len(groups) == 1 {
		t.quarters(s, groups[0], zone)
	}
	for _, l := range limits {
		if p, ok := project(slope, t.axis, l); ok {
			t.Projections = append(t.Projections, p)
		}
	}
	return t
}

func (t *Trend) censored(points []query.Point, floor float64) {
	moments := make([]time.Time, len(points))
	for i, p := range points {
		moments[i] = p.Sampled
	}
	x, values := t.axis.Years(moments), Reported(points)
	var err error
	if t.Between, err = stats.TheilSenCensored(x, values, floor); err != nil { // first: it knows how many are too many
		t.Lack = err.Error()
		return
	}
	if t.Kendall, err = stats.MannKendallCensored(x, values); err != nil {
		t.Lack = err.Error()
	}
}

// quarters takes the seasonal test over the quarters of the year, in the journal's zone, where the readings cover two years.
func (t *Trend) quarters(s *query.Series, g Group, zone *time.Location) {
	if t.To.Before(t.From.AddDate(2, 0, 0)) {
		t.SeasonalLack = "less than 2 years, so seasons cannot be separated from a trend"
		return
	}
	if zone == nil {
		zone = time.UTC
	}
	quarters := make([]Group, 4)
	for _, i := range g.At {
		n := (int(s.Points[i].Sampled.In(zone).Month()) - 1) / 3
		quarters[n].At = append(quarters[n].At, i)
	}
	quarters = slices.DeleteFunc(quarters, func(q Group) bool { return len(q.At) == 0 })
	seasonal, err := SeasonalDrift(s, quarters, t.axis)
	if err != nil {
		t.SeasonalLack = err.Error()
		return
	}
	t.Seasonal, t.Seasons = &seasonal, "quarter"
}

// Projection is when the trend line comes to a limit if it goes on as it did.
type Projection struct {
	Limit Target
	Now   float64 // the line at the newest reading
	// Passed says that the line went through the limit within the readings, about At. Else At is when it comes there, and
	// Earliest and Latest the same with the slope at its 95 % limits; a zero time is never, or more than a thousand years off.
	Passed               bool
	At, Earliest, Latest time.Time
}

func project(slope stats.Slope, axis stats.TimeAxis, l Target) (Projection, bool) {
	crossing, err := slope.Passes(l.Value)
	if err != nil {
		return Projection{}, false
	}
	p := Projection{Limit: l, Now: crossing.Now}
	at := func(x float64) time.Time {
		moment, ok := axis.Moment(x)
		if !ok {
			return time.Time{}
		}
		return moment
	}
	if first := slope.At(0); (first > l.Value) != (crossing.Now > l.Value) {
		p.Passed, p.At = true, at(slope.MedianX+(l.Value-slope.MedianY)/slope.PerUnit)
		return p, true
	}
	p.At, p.Earliest, p.Latest = at(crossing.Estimate), at(crossing.Earliest), at(crossing.Latest)
	return p, true
}
