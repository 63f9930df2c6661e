package lint

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/query/stats"
	"wj/water"
)

var siteTrend = &Rule{
	Name: "site/trend", Severity: Warning, Scope: History, Check: checkSiteTrend,
	Title: "a site's water drifts in one direction",
	Settings: []Threshold{
		{"probability", "0.01", "", "of so strong a tendency by chance"},
		{"readings", "12", "", "how many readings there must be"},
		{"newest", "60", "", "how many of the newest readings are looked at"},
		{"uncertainty", "2", "", "standard uncertainties of a reading that the drift over that time must exceed"},
	},
}

// drifting are the analytes whose slow change means something; pH, chlorine,
// temperature and turbidity swing for other reasons.
var drifting = []water.ID{
	water.Alkalinity, water.CalciumHardness, water.TotalHardness, water.MagnesiumHardness, water.Calcium, water.Magnesium, water.Chloride, water.Sulfate,
	water.Nitrate, water.Iron, water.Manganese, water.Silica, water.ElectricalConductivity, water.DissolvedSolids,
}

// drift is a trend that is both sure and large.
type drift struct {
	id     water.ID
	s      *Series
	from   int
	y      []float64
	p      float64
	slope  float64 // a year
	size   float64 // change over the time looked at, in standard uncertainties of a reading
	newest *journal.Session
}

// trend looks for one in an analyte's newest readings. It uses the seasonal
// Kendall test with the supply regimes as seasons, so that a switch of supply is
// no trend (Hirsch, Slack & Smith 1982); with one regime it is the Mann-Kendall
// test with the Theil-Sen slope.
func (p *Pass) trend(h *SiteHistory, id water.ID, setting func(string) float64) (drift, bool) {
	s := h.Series(id)
	if s == nil || float64(len(s.At)) < setting("readings") || h.treated() {
		return drift{}, false
	}
	d := drift{id: id, s: s, from: max(0, len(s.At)-max(int(setting("newest")), 3)), newest: h.Own[s.At[len(s.At)-1]]}
	regimes := map[string]int{}
	var season []int
	var x []float64
	for k := d.from; k < len(s.At); k++ {
		regime := h.Regime[s.At[k]]
		if _, ok := regimes[regime]; !ok {
			regimes[regime] = len(regimes)
		}
		season = append(season, regimes[regime])
		x = append(x, h.Own[s.At[k]].Sampled.Sub(h.Own[s.At[d.from]].Sampled).Hours()/24/365.25)
		d.y = append(d.y, s.Value[k])
	}
	years := x[len(x)-1]
	r, ok := d.newest.Reading(id)
	if !ok || years < 0.25 {
		return drift{}, false
	}
	t, err := stats.SeasonalMannKendall(season, x, d.y, 0.95)
	if err != nil || t.P >= setting("probability") || t.Slope == 0 || len(t.Seasons) > 1 && t.HomogeneityP < 0.01 {
		return drift{}, false
	}
	d.p, d.slope = t.P, t.Slope
	d.size = math.Abs(t.Slope) * years / p.allowance(d.newest, r, s.Middle[len(s.At)-1])
	return d, d.size > setting("uncertainty")
}

// summary is 1 for what only sums up the ions, so that an ion is named first.
func summary(id water.ID) int {
	if id == water.ElectricalConductivity || id == water.DissolvedSolids {
		return 1
	}
	return 0
}

// checkSiteTrend tells the largest drift of a site, and names the others: ions
// that come from one rock rise together.
func checkSiteTrend(p *Pass) {
	h := p.Site
	var found []drift
	for _, id := range drifting {
		if d, ok := p.trend(h, id, p.Setting); ok {
			found = append(found, d)
		}
	}
	if len(found) == 0 {
		return
	}
	slices.SortStableFunc(found, func(a, b drift) int {
		return cmp.Or(cmp.Compare(summary(a.id), summary(b.id)), cmp.Compare(b.size, a.size))
	})
	d := found[0]
	verb := "rises"
	if d.slope < 0 {
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
	p.ReportReading(d.newest, r, "value", "%s at %s, now %s, %s by %s a month (%d readings since %s, p %s)%s%s", d.id, h.ID, journal.TypedReading(r), verb, show(d.id, math.Abs(d.slope)/12), len(d.y),
		p.date(h.Own[d.s.At[d.from]].Sampled), probability(d.p), p.reaches(h, d.id, latest(d.y), d.slope), also).
		Help("plot it; look for the cause, and hold the changes that rest on this water against its newest values")
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
