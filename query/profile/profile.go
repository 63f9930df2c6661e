// Package profile is what the statistics have to say of one value at one site: how much is known, level and spread, trend,
// whether the level has shifted, what lies far off without a reason, and how far bench, laboratory, replicates and check
// standards agree. The numbers are those of query/stats; here stands only which readings go into which of them.
//
// A reading that is a bound ("<5") is never given a value. What needs more readings than there are says so, with the number
// needed, in a Lack, and has no number.
//
//	series, err := query.History(j, "town-main", "sulfate", query.SeriesRequest{})
//	p, err := profile.Of(j, site, series, profile.Options{})
//	fmt.Println(p.All.N, p.All.Median, p.Trend.Slope)
package profile

import (
	"fmt"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/query/stats"
	"wj/water"
)

// Options are what a profile needs besides the series.
type Options struct {
	Since, Until time.Time // of the series; pairs, replicates and standards are taken from the same time
	Limits       []Target  // to which a trend is drawn on
	Thresholds   Thresholds
}

// Target is a number, in the unit of the series, that the value should stay on one side of.
type Target struct {
	Name  string
	Value float64
}

// Profile is what is known of the history of one value at one site. All numbers are in the unit of the series but for those
// whose comment says otherwise.
type Profile struct {
	Series *query.Series // with the regimes of what feeds the site
	Censoring
	Anew *journal.Event // since when trend, control and outliers count: the plant is another one; nil: always

	All         Level
	Regimes     []Level // where there are several
	Differences []Difference
	Trend       Trend
	Usual       *Usual    // of which the control charts are made
	Control     []Control // one for each regime
	Outliers    Outliers

	Laboratory Laboratory
	Replicates Replicates
	Duplicates Replicates // two sessions of one water
	Standards  []Standard // one for each instrument
	Blanks     Blanks
}

// Censoring counts measured values and bounds.
type Censoring = stats.Censoring

// Of works out the profile of a series that has at least one point.
func Of(j *journal.Journal, site *journal.Site, series *query.Series, o Options) (*Profile, error) {
	s := series
	p := &Profile{Series: s}
	values := Reported(s.Points)
	var err error
	if p.Censoring, err = stats.CountCensored(values); err != nil {
		return nil, fmt.Errorf("profile of %s at %s: %w", s.Name, s.Site, err)
	}
	if p.All, err = levelOf("", values, s.Floor()); err != nil {
		return nil, fmt.Errorf("profile of %s at %s: %w", s.Name, s.Site, err)
	}
	if err := p.regimes(); err != nil {
		return nil, fmt.Errorf("profile of %s at %s: %w", s.Name, s.Site, err)
	}
	since := time.Time{}
	if p.Anew = judge.LastReplacement(j, site, s.Points[0].Sampled, s.Points[len(s.Points)-1].Sampled); p.Anew != nil {
		since = p.Anew.On
	}
	groups := Groups(s, since)
	p.Trend = trendOf(s, since, groups, o.Limits, j.Settings.Zone)
	if p.Usual, err = UsualOf(j, site, s, o.Thresholds); err != nil {
		return nil, fmt.Errorf("profile of %s at %s: %w", s.Name, s.Site, err)
	}
	for _, g := range p.Usual.Groups {
		p.Control = append(p.Control, controlOf(p.Usual, g))
	}
	p.Outliers = outliersOf(j, s, groups)
	if err := p.quality(j, o); err != nil {
		return nil, fmt.Errorf("profile of %s at %s: %w", s.Name, s.Site, err)
	}
	return p, nil
}

var sides = map[water.Bound]stats.Side{water.Exact: stats.Measured, water.Below: stats.Below, water.Above: stats.Above}

// Reported are the points as they were reported: numbers and bounds.
func Reported(points []query.Point) []stats.Value {
	out := make([]stats.Value, len(points))
	for i, p := range points {
		out[i] = stats.Value{Number: p.Value, Side: sides[p.Bound]}
	}
	return out
}

// Last is the newest point.
func (p *Profile) Last() query.Point { return p.Series.Points[len(p.Series.Points)-1] }

// tooFew says how many there are and how many are needed.
func tooFew(n, need int, what string) error {
	plural := "s"
	if n == 1 {
		plural = ""
	}
	return fmt.Errorf("%w: %d %s%s, %d needed", stats.ErrTooFew, n, what, plural, need)
}
