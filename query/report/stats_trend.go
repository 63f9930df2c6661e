package report

import (
	"fmt"
	"strings"
	"time"

	"wj/query/profile"
	"wj/query/stats"
)

// trend shows the drift, and where it leads.
func (s *statsPage) trend() {
	t := s.p.Trend
	label := "trend"
	unit := s.unit() + " a year"
	if t.Regime != "" {
		label += ", " + t.Regime
	}
	mark := "no trend shown"
	if t.Kendall.P < profile.TrendP {
		mark = "a trend"
	}
	switch {
	case t.Lack != "" && t.N > stats.LargestSlopeSeries:
		s.out.Fact(label, "%d readings, and a slope is worked out from %d at most: ask for less time with --since", t.N, stats.LargestSlopeSeries)
	case t.Lack != "":
		s.out.Fact(label, "%s", shortLack(t.Lack))
	case t.Slope != nil:
		s.out.Fact(label, "%s: %s%s (95 %%: %s; Theil-Sen), Mann-Kendall p %s, n %d", mark, signed(t.Slope.PerUnit), unit, interval95(t.Slope.Limits), probability(t.Kendall.P), t.N)
	case t.Between.Known():
		slope := signed(t.Between.Low)
		if !t.Between.Exact() {
			slope = "between " + strings.Replace(interval95(t.Between), " to ", " and ", 1)
		}
		s.out.Fact(label, "%s: %s%s, for any values behind the bounds (Theil-Sen), Mann-Kendall p %s, n %d of which %d bounds", mark, slope, unit, probability(t.Kendall.P), t.N, t.Bounds)
	default:
		s.out.Fact(label, "%s: too many bounds for a slope, Mann-Kendall p %s, n %d of which %d bounds", mark, probability(t.Kendall.P), t.N, t.Bounds)
	}
	switch {
	case t.Seasonal != nil && len(t.Seasonal.Seasons) > 1 && t.Seasonal.HomogeneityP < profile.TrendP:
		s.out.Fact("seasonal", "each %s goes its own way (homogeneity p %s), so one trend for all has no meaning; n %d", t.Seasons, probability(t.Seasonal.HomogeneityP), t.Seasonal.N)
	case t.Seasonal != nil:
		s.out.Fact("seasonal", "within each %s %s%s (95 %%: %s), seasonal Kendall p %s, n %d", t.Seasons, signed(t.Seasonal.Slope), unit, interval95(t.Seasonal.SlopeLimits), probability(t.Seasonal.P), t.Seasonal.N)
	case t.SeasonalLack != "":
		s.out.Fact("seasonal", "%s", shortLack(t.SeasonalLack))
	}
	if t.Bounds > 0 && t.Lack == "" {
		s.out.Fact("limit", "bounds among the readings: the trend is not extrapolated")
	}
	extrapolates := false
	for _, one := range t.Projections {
		text, far := s.projection(one)
		s.out.Fact("limit", "%s%s, %s: %s", fewDigits(one.Limit.Value), s.unit(), one.Limit.Name, text)
		extrapolates = extrapolates || far
	}
	if extrapolates {
		s.out.Fact("", "Extrapolation; reflects slope uncertainty only.")
	}
}

// furthest is how far ahead a trend is drawn. Common practice, no source.
const furthest = 50

// projection says when a trend comes to a limit, and whether that extrapolates.
func (s *statsPage) projection(p profile.Projection) (string, bool) {
	side := "above"
	if p.Now <= p.Limit.Value {
		side = "below"
	}
	stands := fmt.Sprintf("the trend line is at %s, %s it", s.figure(p.Now), side)
	if p.Passed {
		return fmt.Sprintf("passed about %s; %s", p.At.Format("January 2006"), stands), false
	}
	horizon := s.p.Last().Sampled.AddDate(furthest, 0, 0)
	within := func(t time.Time) bool { return !t.IsZero() && t.Before(horizon) }
	date := func(t time.Time) string {
		if !within(t) {
			return fmt.Sprintf("never or in more than %d years", furthest)
		}
		return t.Format("2006-01")
	}
	switch {
	case !within(p.Earliest) && !within(p.At):
		return fmt.Sprintf("%s and does not come to it within %d years", stands, furthest), false
	case s.p.Trend.Kendall.P >= profile.TrendP:
		return fmt.Sprintf("%s; no trend to extrapolate, and not before %s with the steepest slope (95 %%)", stands, date(p.Earliest)), true
	case !within(p.At):
		return fmt.Sprintf("%s; not before %s (95 %%)", stands, date(p.Earliest)), true
	}
	return fmt.Sprintf("if the trend continues, about %s; 95 %%: %s to %s; %s", p.At.Format("January 2006"), date(p.Earliest), date(p.Latest), stands), true
}
