package lint

import (
	"fmt"
	"math"

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

// checkSiteTrend uses the seasonal Kendall test with the supply regimes as
// seasons, so that a switch of supply is no trend (Hirsch, Slack & Smith 1982);
// with one regime it is the Mann-Kendall test with the Theil-Sen slope.
func checkSiteTrend(p *Pass) {
	h := p.Site
	for _, id := range drifting {
		s := h.Series(id)
		if s == nil || float64(len(s.At)) < p.Setting("readings") {
			continue
		}
		from := max(0, len(s.At)-max(int(p.Setting("newest")), 3))
		regimes := map[string]int{}
		var season []int
		var x, y []float64
		for k := from; k < len(s.At); k++ {
			session := h.Own[s.At[k]]
			regime := h.Regime[s.At[k]]
			if _, ok := regimes[regime]; !ok {
				regimes[regime] = len(regimes)
			}
			season = append(season, regimes[regime])
			x = append(x, session.Sampled.Sub(h.Own[s.At[from]].Sampled).Hours()/24/365.25)
			y = append(y, s.Value[k])
		}
		years := x[len(x)-1]
		if years < 0.25 {
			continue
		}
		t, err := stats.SeasonalMannKendall(season, x, y, 0.95)
		if err != nil || t.P >= p.Setting("probability") || t.Slope == 0 || len(t.Seasons) > 1 && t.HomogeneityP < 0.01 {
			continue
		}
		session := h.Own[s.At[len(s.At)-1]]
		r, ok := session.Reading(id)
		if !ok {
			continue
		}
		u := p.allowance(session, r, s.Middle[len(s.At)-1])
		if math.Abs(t.Slope)*years <= p.Setting("uncertainty")*u {
			continue
		}
		verb := "rises"
		if t.Slope < 0 {
			verb = "falls"
		}
		p.ReportReading(session, r, "value", "%s at %s %s by %s a month (%d readings since %s, p %s)%s", id, h.ID, verb, show(id, math.Abs(t.Slope)/12), len(x), p.date(h.Own[s.At[from]].Sampled), probability(t.P), p.reaches(h, id, latest(y), t.Slope)).
			Help("plot it; look for the cause, and hold the changes that rest on this water against its newest values")
	}
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
	for _, l := range p.ownLimits(h.Site, newest) {
		if l.id != id {
			continue
		}
		end := l.high
		if perYear < 0 {
			end = l.low
		}
		if t := (end - now) / perYear; end > 0 && t > 0 && t < 5 {
			return fmt.Sprintf("; it reaches %s about %s", l.written(perYear > 0), newest.Sampled.AddDate(0, int(12*t), 0).Format("2006-01"))
		}
	}
	return ""
}

// latest is the median of the last five values.
func latest(y []float64) float64 {
	m, _ := stats.Median(y[max(0, len(y)-5):])
	return m
}
