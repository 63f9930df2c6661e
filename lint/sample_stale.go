package lint

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var sampleStale = &Rule{
	Name: "sample/stale", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkSampleStale,
	Title: "a sample stood longer than what it was tested for keeps",
	Settings: []Threshold{
		{"immediate", "15 min", "min", "pH and chlorine"},
		{"alkalinity", "24 h", "h", "alkalinity at room temperature; 14 d if the sample was kept at 6 degC or below"},
	},
}

// holding are the longest times from sampling to test in 40 CFR 136.3, table II
// (from memory), and Standard Methods 1060. Metals and hardness keep that long
// only if acidified.
var holding = map[water.ID]time.Duration{
	water.Chloride: 28 * 24 * time.Hour, water.Sulfate: 28 * 24 * time.Hour, water.Fluoride: 28 * 24 * time.Hour,
	water.ElectricalConductivity: 28 * 24 * time.Hour, water.Silica: 28 * 24 * time.Hour,
	water.Nitrate: 48 * time.Hour, water.Nitrite: 48 * time.Hour, water.Phosphate: 48 * time.Hour, water.TurbidityValue: 48 * time.Hour,
	water.Ammonium: 24 * time.Hour, water.DissolvedSolids: 7 * 24 * time.Hour,
	water.TotalHardness: 180 * 24 * time.Hour, water.CalciumHardness: 180 * 24 * time.Hour, water.MagnesiumHardness: 180 * 24 * time.Hour,
	water.Calcium: 180 * 24 * time.Hour, water.Magnesium: 180 * 24 * time.Hour, water.Sodium: 180 * 24 * time.Hour, water.Potassium: 180 * 24 * time.Hour,
	water.Iron: 180 * 24 * time.Hour, water.Manganese: 180 * 24 * time.Hour, water.Copper: 180 * 24 * time.Hour, water.Zinc: 180 * 24 * time.Hour,
}

func checkSampleStale(p *Pass) {
	s := p.Session
	if !judge.Bench(s) || s.Sample == journal.SampleStandard || s.Sample == journal.SampleBlank || s.Sampled.IsZero() {
		return
	}
	var first *Finding // of those that waited as long as the session: one delay is one finding
	var also []string
	for i := range s.Readings {
		r := &s.Readings[i]
		age := judge.TestedAt(s, r).Sub(s.Sampled)
		if age <= 0 {
			continue
		}
		limit, source := p.keeps(s, r)
		if limit == 0 || age <= limit {
			continue
		}
		help := "test it again in a fresh sample"
		if limit <= time.Hour {
			help = "test " + r.Analyte.String() + " at the tap next time; this number shows the bottle, not the water"
		}
		if first != nil && r.Tested.IsZero() {
			also = append(also, fmt.Sprintf("%s keeps %s (%s)", r.Analyte, span(limit), source))
			first.See(s.Path, []string{"readings", r.Analyte.String(), "value"}, "keeps %s", span(limit))
			continue
		}
		f := p.ReportReading(s, r, "value", "%s was tested %s after sampling, and keeps %s (%s)", reads(journal.TypedReading(r), r.Analyte), span(age), span(limit), source).Help("%s", help)
		if r.Tested.IsZero() {
			first = f
		}
	}
	if len(also) > 0 {
		first.d.Message += "; " + strings.Join(also, ", ")
	}
}

func (p *Pass) keeps(s *journal.Session, r *journal.Reading) (time.Duration, string) {
	const federal = "40 CFR 136.3, table II"
	if m := methodOf(p.Journal, s, r); m != nil && m.StaleAfter > 0 {
		return m.StaleAfter, "method " + m.ID
	}
	switch r.Analyte {
	case water.PHValue, water.FreeChlorine, water.TotalChlorine:
		return time.Duration(p.Setting("immediate") * float64(time.Minute)), federal
	case water.Alkalinity:
		if t, err := r.Temperature.In(water.DegreeCelsius); err == nil && !r.Temperature.Unit.IsNone() && t <= 6 {
			return 14 * 24 * time.Hour, federal
		}
		return hours(p.Setting("alkalinity")), "Standard Methods 1060"
	}
	return holding[r.Analyte], federal
}
