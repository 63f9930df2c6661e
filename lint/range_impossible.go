package lint

import (
	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var rangeImpossible = &Rule{
	Name: "range/impossible", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkRangeImpossible, Bars: true,
	Title: "a reading that no brewing water has",
	Settings: []Threshold{
		{"alkalinity", "1000", "", "the most that is believed, mg/L CaCO3"},
		{"hardness", "2000", "", "the most that is believed, mg/L CaCO3"},
		{"chloride", "1000", "", "the most that is believed, mg/L"},
		{"sulfate", "2000", "", "the most that is believed, mg/L"},
	},
}

func checkRangeImpossible(p *Pass) {
	s := p.Session
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Faulty {
			continue
		}
		value, bound := r.Result()
		v := standard(r, water.Quantity{Value: value, Unit: r.First.Unit})
		low, high := p.believed(r.Analyte)
		if r.Analyte == water.SampleTemperature && v > warm && v <= high && p.cold(s) {
			p.ReportReading(s, r, "value", "%s: no cold water is above %d degC (common practice, no source)", reads(journal.TypedReading(r), r.Analyte), warm).atMost(Warning).
				Help("is that in degF? %s degC would be the sample. If it is right, say in a note why", water.Round((v-32)/1.8, 3))
			continue
		}
		switch {
		case v < low:
			p.ReportReading(s, r, "value", "%s is below %s: no water has that", reads(journal.TypedReading(r), r.Analyte), withUnit(plain(low), r.Analyte)).
				Help("is there a minus sign too much? for a result below the range write < and the range's lower end")
		case v > high && bound != water.Below:
			help := "is the decimal point right? read the display again, then amend or repeat"
			if r.Analyte == water.PHValue && v < 140 && v >= 10 {
				help = "is the decimal point missing? " + water.Round(v/10, int(r.First.Digits)) + " would be a pH; read the display again, then amend or repeat"
			}
			f := p.ReportReading(s, r, "value", "%s is above %s: no brewing water has that (common practice, no source)", reads(journal.TypedReading(r), r.Analyte), withUnit(plain(high), r.Analyte)).Help("%s", help)
			f.d.Bars = !guarded(r.Analyte) || v > slip*high
		}
	}
}

// warm is what no water from a well, a main or a filter reaches, degC.
const warm = 40

// cold reports a sample from a place whose water nobody heats.
func (p *Pass) cold(s *journal.Session) bool {
	site, ok := p.Journal.Sites.Get(s.Site)
	return ok && journal.StageNamed(site.Stage).Cold
}

// slip is how many times a guard rail a reading must exceed to be no reading at all: a decimal
// point or a unit that slipped. Up to there it is recorded, with the error (common practice, no
// source).
const slip = 10

// guarded reports whether the upper end of an analyte is a guard rail and not a definition.
func guarded(id water.ID) bool { return id != water.PHValue && id != water.SampleTemperature }

// believed is the range in which a reading can be at all: judge.Plausible, with
// what the settings say of it.
func (p *Pass) believed(id water.ID) (low, high float64) {
	low, high = judge.Plausible(id)
	switch id {
	case water.Alkalinity:
		high = p.Setting("alkalinity")
	case water.TotalHardness, water.CalciumHardness, water.MagnesiumHardness:
		high = p.Setting("hardness")
	case water.Chloride:
		high = p.Setting("chloride")
	case water.Sulfate:
		high = p.Setting("sulfate")
	}
	return low, high
}
