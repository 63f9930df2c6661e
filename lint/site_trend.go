package lint

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/query/control"
	"wj/query/stats"
	"wj/water"
)

var siteTrend = &Rule{
	Name: "site/trend", Severity: Warning, Scope: History, Reach: OfSite, Check: checkSiteTrend,
	Title: "a site's water drifts in one direction",
	Settings: []Threshold{
		{"probability", "0.01", "", "of so strong a tendency by chance"},
		{"readings", "12", "", "how many readings there must be"},
		{"newest", "60", "", "how many of the newest readings are looked at"},
		{"uncertainty", "2", "", "standard uncertainties of a reading that the drift over that time must exceed"},
	},
}

// drift is a trend of one analyte.
type drift struct {
	control.Trend
	id     water.ID
	s      *Series
	from   int // index of the first reading looked at
	newest *journal.Session
}

// trend looks for one in an analyte's newest readings.
func (p *Pass) trend(h *SiteHistory, id water.ID, setting func(string) float64) (drift, bool) {
	s := h.Series(id)
	if s == nil || !slices.Contains(control.Drifting, id) {
		return drift{}, false
	}
	anew, n := h.anew(s), len(s.At)
	d := drift{id: id, s: s, newest: h.Own[s.At[n-1]]}
	r, ok := d.newest.Reading(id)
	if !ok {
		return drift{}, false
	}
	years, regimes := make([]float64, 0, n-anew), make([]string, 0, n-anew)
	for k := anew; k < n; k++ {
		years = append(years, h.Own[s.At[k]].Sampled.Sub(h.Own[s.At[anew]].Sampled).Hours()/24/365.2425)
		regimes = append(regimes, h.Regime[s.At[k]])
	}
	o := control.TrendOptions{Probability: setting("probability"), Readings: int(setting("readings")), Newest: int(setting("newest")), Uncertainties: setting("uncertainty")}
	d.Trend, ok = control.FindTrend(years, s.Value[anew:], regimes, o, func(level float64) float64 { return judge.Allowance(p.Journal, d.newest, r, level) })
	d.from = anew + d.From
	return d, ok
}

// summary is 1 for what only sums up the ions, so that an ion is named first.
func summary(id water.ID) int {
	if id == water.ElectricalConductivity || id == water.DissolvedSolids {
		return 1
	}
	return 0
}

// checkSiteTrend shows the largest drift of a site, and names the others: ions
// that come from one rock rise together.
func checkSiteTrend(p *Pass) {
	h := p.Site
	var found []drift
	for _, id := range control.Drifting {
		if d, ok := p.trend(h, id, p.Setting); ok {
			found = append(found, d)
		}
	}
	if len(found) == 0 {
		return
	}
	slices.SortStableFunc(found, func(a, b drift) int {
		return cmp.Or(cmp.Compare(summary(a.id), summary(b.id)), cmp.Compare(b.Size, a.Size))
	})
	d := found[0]
	verb := "rises"
	if d.Slope < 0 {
		verb = "falls"
	}
	also := ""
	for _, o := range found[1:] {
		also += ", " + o.id.String()
	}
	if also != "" {
		also = "; it drifts together with " + strings.TrimPrefix(also, ", ")
	}
	r, _ := d.newest.Reading(d.id)
	p.ReportReading(d.newest, r, "value", "%s at %s, now %s, %s by %s a month (%d readings since %s, p %s)%s%s", d.id, h.ID, journal.TypedReading(r), verb, show(d.id, math.Abs(d.Slope)/12), d.N,
		p.date(h.Own[d.s.At[d.from]].Sampled), probability(d.P), p.reaches(h, d.id, latest(d.s.Value[d.from:]), d.Slope), also).
		Help("plot it; look for the cause, and hold the changes that depend on this water against its newest values")
}

func probability(v float64) string {
	if v < 0.0001 {
		return "below 0.0001"
	}
	return fmt.Sprintf("%.2g", v)
}

// reaches says when the trend meets the site's own limit, if within five years.
func (p *Pass) reaches(h *SiteHistory, id water.ID, now, perYear float64) string {
	newest := h.Own[len(h.Own)-1]
	for _, l := range p.run.limits().Of(id, h.ID, newest.Sampled) {
		end := l.Max
		if perYear < 0 {
			end = l.Min
		}
		if l.Own == nil || end == nil {
			continue
		}
		if t := (*end - now) / perYear; t > 0 && t < 5 {
			return fmt.Sprintf("; it reaches %s about %s", l.End(perYear > 0), newest.Sampled.AddDate(0, int(12*t), 0).Format("2006-01"))
		}
	}
	return ""
}

// latest is the median of the last five values.
func latest(y []float64) float64 {
	m, _ := stats.Median(y[max(0, len(y)-5):])
	return m
}
