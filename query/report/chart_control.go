package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/query/profile"
	"wj/query/stats"
	"wj/render"
	"wj/water"
)

// NewControlChart draws one value at one site.
func NewControlChart(j *journal.Journal, site *journal.Site, s *query.Series, from, to time.Time) render.Control {
	c := render.Control{Title: SiteLine(j, site, s) + " · " + title(s.Analyte), Unit: unitText(s.Unit.String())}
	limits := judge.NewLimits(j)
	for _, p := range s.Points {
		point := render.Point{At: p.Sampled, Value: p.Value, Low: p.Value - 2*p.U, High: p.Value + 2*p.U, Bound: boundSign(p.Bound)}
		name := fmt.Sprintf("%s %s%s", p.Sampled.Format("2006-01-02"), p.Bound, water.Round(p.Value, 4))
		if p.Bound != water.Exact {
			point.Low, point.High = 0, 0
		} else {
			value, half := water.Spread(p.Value, 2*p.U)
			name = fmt.Sprintf("%s %s ± %s", p.Sampled.Format("2006-01-02"), value, half)
			worst := judge.Unlimited
			for _, l := range limits.Of(s.Analyte, s.Site, p.Sampled) {
				worst = max(worst, l.ConformIn(valueAt(s, p), s.Unit))
			}
			point.State = state(worst)
		}
		for _, extra := range []string{p.Source, p.Lot} {
			if extra != "" && extra != "bench" {
				name += ", " + extra
			}
		}
		c.Points, c.Names, c.Rings = append(c.Points, point), append(c.Names, name), append(c.Rings, false)
	}
	for _, l := range limits.Of(s.Analyte, s.Site, s.Points[len(s.Points)-1].Sampled) {
		lowest, highest := l.Ends(s.Unit)
		for _, end := range []*float64{lowest, highest} {
			if end != nil {
				c.Limits = append(c.Limits, render.LimitLine{Name: l.Label(), Value: *end})
			}
		}
	}
	expectations(&c, profile.Feed(j, site), profile.InRegimes(j, site, s), profile.LastReplacement(j, site, s))
	c.Changes = lotChanges(s)
	for _, e := range j.Events.List {
		if e.Void == nil && site != nil && slices.Contains(e.Sites, site.ID) && (from.IsZero() || !e.On.Before(from)) && (to.IsZero() || !e.On.After(to)) {
			c.Events = append(c.Events, render.Event{At: e.On, Name: e.What})
		}
	}
	left := LeftSessions(s)
	counted := Count(len(s.Points), "reading")
	if len(left) > 0 {
		counted += "; sessions left out: " + strings.Join(left, ", ")
	}
	c.Notes = append(c.Notes, counted)
	return c
}

// LeftSessions counts the sessions that a series leaves out, and why.
func LeftSessions(s *query.Series) []string {
	var left []string
	for _, l := range []struct {
		n   int
		why string
	}{{s.NoReading, "without " + s.Name}, {s.Censored, "with a bound that does not carry through"}, {s.Void, "void"}, {s.Faulty, "that could not be read"}} {
		if l.n > 0 {
			left = append(left, fmt.Sprintf("%d %s", l.n, l.why))
		}
	}
	return left
}

func SiteLine(j *journal.Journal, site *journal.Site, s *query.Series) string {
	if site == nil {
		return s.Site
	}
	text := site.Name
	if o, ok := j.Owners.Get(site.Owner); ok && !o.Self {
		text += ", water of " + o.Name
	}
	return text
}

// expectations draws what is expected of the site: in each regime the mean and
// limits of its first readings, or, where the value drifts, the trend; and
// rings what lies outside.
func expectations(c *render.Control, site *journal.Site, s *query.Series, anew *journal.Event) {
	since := time.Time{}
	if anew != nil {
		since = anew.On
		c.Notes = append(c.Notes, fmt.Sprintf("expectation and trend are counted from %s on: %s", journal.FormatDate(anew.On), anew.What))
	}
	groups := profile.Groups(s, since)
	expected := map[string]stats.Individuals{}
	if !drift(c, s, groups) {
		for _, g := range groups {
			frozen, err := g.Baseline(s)
			if err != nil {
				continue
			}
			expected[g.Regime] = frozen
			for _, i := range g.At {
				c.Rings[i] = s.Points[i].Value > frozen.Upper || s.Points[i].Value < frozen.Lower
			}
		}
		if len(expected) > 0 {
			ofEach := ""
			if len(groups) > 1 {
				ofEach = " of each regime"
			}
			c.Notes = append(c.Notes, fmt.Sprintf("band: expected, mean and 3 standard deviations of the first %d readings%s, from their moving range (NIST/SEMATECH e-Handbook 6.3.2.2)", profile.BaselineMost, ofEach))
		}
	}
	if site == nil || len(site.Supply) == 0 {
		if e, ok := expected[""]; ok {
			c.Periods = append(c.Periods, render.Period{Expected: true, Center: e.Center, Lower: e.Lower, Upper: e.Upper})
		}
		return
	}
	for _, supply := range site.Supply {
		p := render.Period{Name: supply.Regime, From: supply.Since, Shaded: supply.Regime != site.Supply[0].Regime}
		if !supply.Until.IsZero() {
			p.To = supply.Until.AddDate(0, 0, 1)
		}
		if e, ok := expected[supply.Regime]; ok {
			p.Expected, p.Center, p.Lower, p.Upper = true, e.Center, e.Lower, e.Upper
		}
		c.Periods = append(c.Periods, p)
	}
}

// drift finds whether the value drifts, says so, and where there is one regime
// draws the line; what lies far from it is ringed (modified z-score of the
// residuals above 3.5, Iglewicz & Hoaglin 1993).
func drift(c *render.Control, s *query.Series, groups []profile.Group) bool {
	if len(groups) == 0 {
		return false
	}
	axis := profile.Axis(s, groups)
	unit := strings.TrimSpace(s.Unit.String() + " a year")
	if len(groups) > 1 {
		seasonal, err := profile.SeasonalDrift(s, groups, axis)
		if err == nil && seasonal.P < profile.TrendP && seasonal.HomogeneityP > profile.TrendP {
			c.Notes = append(c.Notes, fmt.Sprintf("within each regime: %s %s (95 %%: %s; seasonal Mann-Kendall, p %s)", signed(seasonal.Slope), unit, interval95(seasonal.SlopeLimits), probability(seasonal.P)))
		}
		return false
	}
	test, slope, err := profile.Drift(s, groups[0], axis)
	if err != nil {
		return false
	}
	if test.P >= profile.TrendP {
		c.Notes = append(c.Notes, fmt.Sprintf("no trend shown: %s %s (95 %%: %s; Theil-Sen), Mann-Kendall p %s", signed(slope.PerUnit), unit, interval95(slope.Limits), probability(test.P)))
		return false
	}
	c.Notes = append(c.Notes, fmt.Sprintf("broken line: trend %s %s (95 %%: %s; Theil-Sen), Mann-Kendall p %s", signed(slope.PerUnit), unit, interval95(slope.Limits), probability(test.P)))
	x, y := groups[0].Times(s, axis), groups[0].Values(s)
	first, last := slices.Min(x), slices.Max(x)
	c.Trend = []render.Point{{At: axis.Origin, Value: slope.At(first)}, {At: s.Points[groups[0].At[len(y)-1]].Sampled, Value: slope.At(last)}}
	residuals := make([]float64, len(y))
	for i := range y {
		residuals[i] = y[i] - slope.At(x[i])
	}
	z, err := stats.ModifiedZScores(residuals)
	if err == nil && z.Scale == stats.ByMAD {
		c.Spread = stats.ModifiedZLimit * z.MAD / 0.6745
		for i, score := range z.Scores {
			c.Rings[groups[0].At[i]] = math.Abs(score) > stats.ModifiedZLimit
		}
	}
	for _, l := range c.Limits {
		if text := reaches(slope, l, axis, last); text != "" {
			c.Notes = append(c.Notes, text)
		}
	}
	return true
}

func signed(v float64) string {
	if v > 0 {
		return "+" + water.Round(v, 3)
	}
	return strings.Replace(water.Round(v, 3), "-", "−", 1)
}

func interval95(i stats.Interval) string {
	end := func(v float64) string {
		if math.IsInf(v, 0) {
			return "open"
		}
		return signed(v)
	}
	return end(i.Low) + " to " + end(i.High)
}

// reaches tells when a trend comes to a limit within five years, or that it has
// passed it.
func reaches(slope stats.Slope, l render.LimitLine, axis stats.TimeAxis, last float64) string {
	crossing, err := slope.Passes(l.Value)
	if err != nil || (crossing.Now > l.Value) != (slope.At(last-1) > l.Value) && crossing.Estimate <= last {
		return ""
	}
	if crossing.Estimate <= last || crossing.Estimate > last+5 {
		return ""
	}
	when, ok := axis.Moment(crossing.Estimate)
	if !ok {
		return ""
	}
	text := fmt.Sprintf("if it goes on so, it comes to %s (%s) about %s", water.Round(l.Value, 4), l.Name, when.Format("January 2006"))
	early, ok1 := axis.Moment(crossing.Earliest)
	late, ok2 := axis.Moment(crossing.Latest)
	if ok1 && ok2 {
		text += fmt.Sprintf(", between %s and %s", early.Format("2006-01"), late.Format("2006-01"))
	}
	return text
}

// lotChanges are the moments at which readings went over to another lot.
func lotChanges(s *query.Series) []render.Event {
	var out []render.Event
	before := ""
	for _, p := range s.Points {
		if p.Lot == "" || p.Lot == before {
			continue
		}
		out = append(out, render.Event{At: p.Sampled, Name: p.Lot})
		before = p.Lot
	}
	return out
}

// boundSign is on which side of a bound the true value is.
func boundSign(b water.Bound) int {
	switch b {
	case water.Below:
		return -1
	case water.Above:
		return 1
	}
	return 0
}

func probability(p float64) string {
	if p < 0.0001 {
		return "below 0.0001"
	}
	return water.Round(p, 2)
}
