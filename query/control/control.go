// Package control holds what a site's own first readings lead to expect of its
// later ones: limits that are frozen from them, the signals of what has left those
// limits, and slow drifts. The linter's site/control and site/trend, the chart's
// band and the statistics all ask it:
//
//	chart, err := control.Freeze(values, 20)                                // of one regime, in the order of sampling
//	signals := control.Signals(chart, values, 20, 1.5, allowance)           // what counts, beyond the error of the tests
//	trend, ok := control.FindTrend(years, values, regimes, o, allowance) // of all regimes
//
// Which readings go in is decided by package judge: those of tests on the bench
// (InSeries, Bench) that can be relied upon (Sound), from the newest replacement of
// the plant on (LastReplacement), parted by supply regime (Regime).
package control

import (
	"fmt"
	"math"
	"slices"

	"wj/journal"
	"wj/query/stats"
	"wj/water"
)

// Freeze sets the limits of an individuals chart, centre ± 2.66 mean moving ranges,
// from the first values of a regime (NIST/SEMATECH e-Handbook 6.3.2.2);
// stats.ErrTooFew with fewer than need, stats.ErrNoSpread where they are all alike.
func Freeze(values []float64, need int) (stats.Individuals, error) {
	if need < 5 || len(values) < need {
		return stats.Individuals{}, fmt.Errorf("%w: %s of the bench, %d needed", stats.ErrTooFew, journal.Count(len(values), "measured value"), max(need, 5))
	}
	return stats.FreezeIndividuals(values[:need])
}

// Signal is a pattern that chance seldom makes, beyond the error of the tests.
type Signal struct {
	stats.RunSignal
	Mean float64 // of the values in it
}

// Single reports one value alone beyond the limits.
func (s *Signal) Single() bool { return s.Rule.Name == "beyond-limits" && s.At == s.To }

// Signals are the patterns (stats.DefaultRunRules) after the baseline, each from
// where the mean of its values is off the centre by more than so many standard
// uncertainties of the newest of their tests. allowance is that of value n at a
// level.
func Signals(chart stats.Individuals, values []float64, baseline int, uncertainties float64, allowance func(n int, level float64) float64) []Signal {
	found, err := stats.FindRuns(values, chart.Center, chart.Sigma)
	if err != nil {
		return nil
	}
	var out []Signal
	for _, r := range found {
		for width := r.At - r.From; r.At <= r.To; r.At++ {
			r.From = r.At - width
			mean, err := stats.Mean(values[r.From : r.At+1])
			if err == nil && r.At >= baseline && math.Abs(mean-chart.Center) > uncertainties*allowance(r.At, chart.Center) {
				out = append(out, Signal{r, mean})
				break
			}
		}
	}
	return out
}

// TrendOptions are the thresholds of a trend.
type TrendOptions struct {
	Probability   float64 // of so strong a tendency by chance
	Readings      int     // how many there must be
	Newest        int     // how many of the newest are looked at
	Uncertainties float64 // standard uncertainties of a reading that the drift must exceed
}

// Trend is a drift that is both sure and large.
type Trend struct {
	From    int            // index of the first value looked at
	N       int            // values looked at
	Regimes int            // supply regimes among them
	P       float64        // of so strong a tendency by chance
	Slope   float64        // a year
	Limits  stats.Interval // of the slope, 95 %
	Size    float64        // change over the time looked at, in standard uncertainties of a reading
}

// leastYears is how long readings must go on to show a drift. Common practice, no
// source.
const leastYears = 0.25

// FindTrend looks for a drift in the newest values. It uses the seasonal Kendall
// test with the supply regimes as seasons, so that a switch of supply is no trend
// (Hirsch, Slack & Smith 1982); with one regime it is the Mann-Kendall test with the
// Theil-Sen slope. years are those of sampling, in order; allowance is the standard
// uncertainty of the newest test at a level.
func FindTrend(years, values []float64, regimes []string, o TrendOptions, allowance func(level float64) float64) (Trend, bool) {
	n := len(values)
	if n < max(o.Readings, 3) {
		return Trend{}, false
	}
	t := Trend{From: max(0, n-max(o.Newest, 3))}
	t.N = n - t.From
	span := years[n-1] - years[t.From]
	if span < leastYears {
		return Trend{}, false
	}
	var names []string
	seasons := make([]int, 0, t.N)
	for _, r := range regimes[t.From:] {
		at := slices.Index(names, r)
		if at < 0 {
			at = len(names)
			names = append(names, r)
		}
		seasons = append(seasons, at)
	}
	test, err := stats.SeasonalMannKendall(seasons, years[t.From:], values[t.From:], 0.95)
	if err != nil || test.P >= o.Probability || test.Slope == 0 || len(test.Seasons) > 1 && test.HomogeneityP < 0.01 {
		return Trend{}, false
	}
	t.Regimes, t.P, t.Slope, t.Limits = len(names), test.P, test.Slope, test.SlopeLimits
	level, err := stats.Median(values[t.From:])
	if err != nil {
		return Trend{}, false
	}
	t.Size = math.Abs(t.Slope) * span / allowance(level)
	return t, t.Size > o.Uncertainties
}

// Swings reports analytes that go up and down from day to day for good reason: they
// have no limits of their own making.
func Swings(id water.ID) bool {
	switch id {
	case water.SampleTemperature, water.FreeChlorine, water.TotalChlorine, water.TurbidityValue:
		return true
	}
	return false
}

// Drifting are the analytes whose slow change means something; pH, chlorine,
// temperature and turbidity swing for other reasons.
var Drifting = []water.ID{
	water.Alkalinity, water.CalciumHardness, water.TotalHardness, water.MagnesiumHardness, water.Calcium, water.Magnesium, water.Chloride, water.Sulfate,
	water.Nitrate, water.Iron, water.Manganese, water.Silica, water.ElectricalConductivity, water.DissolvedSolids,
}
