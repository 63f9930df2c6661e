package profile

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/query/control"
	"wj/query/stats"
	"wj/water"
)

// Thresholds are those of the linter's site/control and site/trend.
type Thresholds struct {
	Baseline      int     // readings of a regime that freeze its limits; 0: 20
	Uncertainties float64 // standard uncertainties that a signal must be off by; 0: 1.5
	Trend         control.TrendOptions
}

func (t Thresholds) orUsual() Thresholds {
	if t.Baseline == 0 {
		t.Baseline = 20
	}
	if t.Uncertainties == 0 {
		t.Uncertainties = 1.5
	}
	if t.Trend == (control.TrendOptions{}) {
		t.Trend = control.TrendOptions{Probability: TrendP, Readings: 12, Newest: 60, Uncertainties: 2}
	}
	return t
}

// Usual is what a site's own tests lead to expect of a value, by the rules of the
// linter: tests on the bench that can be relied upon, from the newest replacement of
// the plant on, whatever time and source the page shows.
type Usual struct {
	Series *query.Series
	Anew   *journal.Event // since when the plant is another one; nil: always
	Groups []Group        // of the measured points, by regime
	Lack   string         // why nothing is expected: no limits and no trend then
	j      *journal.Journal
	t      Thresholds
}

// UsualOf reads the history of the value of a series.
func UsualOf(j *journal.Journal, site *journal.Site, s *query.Series, t Thresholds) (*Usual, error) {
	whole, err := query.History(j, s.Site, s.Name, query.SeriesRequest{Units: map[water.ID]water.Unit{s.Analyte: s.Unit}, Sources: []string{journal.SourceBench}})
	if err != nil {
		return nil, err
	}
	return UsualIn(j, site, whole, t), nil
}

// UsualIn takes it from a series of all times, of which it leaves out what is not of
// the bench.
func UsualIn(j *journal.Journal, site *journal.Site, whole *query.Series, t Thresholds) *Usual {
	own := *whole
	own.Points = nil
	for _, p := range whole.Points {
		if p.Source == journal.SourceBench && sound(j, whole.Analyte, p) {
			own.Points = append(own.Points, p)
		}
	}
	u := &Usual{Series: &own, j: j, t: t.orUsual()}
	switch {
	case judge.Made(site):
		u.Lack = "the last recipe decides what this water is"
	case control.Swings(own.Analyte):
		u.Lack = "this value swings from day to day for good reason"
	}
	var measured []query.Point
	for _, p := range own.Points {
		if p.Bound == water.Exact {
			measured = append(measured, p)
		}
	}
	if len(measured) == 0 {
		return u
	}
	since := measured[0].Sampled
	if u.Anew = judge.LastReplacement(j, site, since, measured[len(measured)-1].Sampled); u.Anew != nil {
		since = u.Anew.On
	}
	u.Groups = Groups(&own, since)
	return u
}

// sound reports whether the readings behind a point can be relied upon: its own, or
// for what is computed all of the session.
func sound(j *journal.Journal, id water.ID, p query.Point) bool {
	s, ok := j.Sessions.Get(p.Session)
	if !ok {
		return false
	}
	if r, measured := s.Reading(id); measured && !p.Derived {
		return judge.Sound(j, r)
	}
	return !slices.ContainsFunc(s.Readings, func(r journal.Reading) bool { return !judge.Sound(j, &r) })
}

// Freeze sets the limits of a regime.
func (u *Usual) Freeze(g Group) (stats.Individuals, error) {
	if u.Lack != "" {
		return stats.Individuals{}, fmt.Errorf("%s", u.Lack)
	}
	return control.Freeze(g.Values(u.Series), u.t.Baseline)
}

// Signals are what has left the limits of a regime, beyond the error of the tests.
func (u *Usual) Signals(g Group, chart stats.Individuals) []control.Signal {
	return control.Signals(chart, g.Values(u.Series), u.t.Baseline, u.t.Uncertainties, func(n int, level float64) float64 {
		return u.allowance(u.Series.Points[g.At[n]], level)
	})
}

// beyond reports whether a point is off the centre by more than its test errs.
func (u *Usual) beyond(p query.Point, chart stats.Individuals) bool {
	return math.Abs(p.Value-chart.Center) > u.t.Uncertainties*u.allowance(p, chart.Center)
}

// Shown are the measured points of a series that a page shows, by regime, from the
// newest replacement of the plant on.
func (u *Usual) Shown(s *query.Series) []Group {
	since := time.Time{}
	if u.Anew != nil {
		since = u.Anew.On
	}
	return Groups(s, since)
}

// measured are the places of the measured points, in order of time.
func (u *Usual) measured() []int {
	var at []int
	for _, g := range u.Groups {
		at = append(at, g.At...)
	}
	slices.Sort(at)
	return at
}

// Trend looks for a drift; known is false where nothing is expected, or there are
// too few readings.
func (u *Usual) Trend() (t control.Trend, drifts, known bool) {
	at := u.measured()
	if u.Lack != "" || len(at) < max(u.t.Trend.Readings, 3) || u.Series.Analyte < water.NumAnalytes && !slices.Contains(control.Drifting, u.Series.Analyte) {
		return t, false, false
	}
	all, regimes := Group{At: at}, make([]string, len(at))
	for n, i := range at {
		regimes[n] = u.Series.Points[i].Regime
	}
	last := u.Series.Points[at[len(at)-1]]
	t, drifts = control.FindTrend(all.Times(u.Series, stats.TimeAxis{Origin: u.Series.Points[at[0]].Sampled}), all.Values(u.Series), regimes, u.t.Trend, func(level float64) float64 { return u.allowance(last, level) })
	return t, drifts, true
}

// allowance is the standard uncertainty, in the unit of the series, that a point is
// granted at a level.
func (u *Usual) allowance(p query.Point, level float64) float64 {
	s, ok := u.j.Sessions.Get(p.Session)
	if !ok || p.Derived {
		return p.U
	}
	r, ok := s.Reading(u.Series.Analyte)
	if !ok {
		return p.U
	}
	info := u.Series.Analyte.Info()
	standard, err := info.Convert(level, u.Series.Unit, info.Unit)
	if err != nil {
		return p.U
	}
	away, err1 := info.Convert(standard+judge.Allowance(u.j, s, r, standard), info.Unit, u.Series.Unit)
	if err1 != nil {
		return p.U
	}
	return math.Abs(away - level)
}

// Words say of what the limits of a chart are made.
func (u *Usual) Words() string {
	of := "readings"
	if len(u.Groups) > 1 {
		of += " of each regime"
	}
	return fmt.Sprintf("mean and 3 standard deviations of the first %d %s on the bench, from their moving range (NIST/SEMATECH e-Handbook 6.3.2.2)", u.t.Baseline, strings.TrimSpace(of))
}
