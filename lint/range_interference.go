package lint

import (
	"fmt"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var rangeInterference = &Rule{
	Name: "range/interference", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkRangeInterference,
	Title: "something in the sample disturbs the method",
	Settings: []Threshold{
		{"chlorine", "2", "", "from this on chlorine bleaches pH and alkalinity indicators, mg/L Cl2"},
		{"iron", "5", "", "from this on iron disturbs the hardness test, mg/L"},
		{"turbidity", "10", "", "from this on turbidity adds to a turbidimetric sulfate, NTU"},
	},
}

// disturbances are what disturbs the usual photometric methods where the
// method's own record says nothing. Standard Methods 2320 B, 2340 C, 4500-H+ and
// 4500-SO4 name the interferents; the levels are from memory.
var disturbances = []struct {
	setting string
	cause   water.ID
	victims []water.ID
	remedy  string
}{
	{"chlorine", water.FreeChlorine, []water.ID{water.PHValue, water.Alkalinity}, "take the chlorine away with one drop of thiosulfate, repeat, and note it"},
	{"iron", water.Iron, []water.ID{water.TotalHardness, water.CalciumHardness}, "filter the sample, or send it to a laboratory"},
	{"turbidity", water.TurbidityValue, []water.ID{water.Sulfate}, "filter the sample, zero the meter with it, and repeat"},
}

func checkRangeInterference(p *Pass) {
	s := p.Session
	if !judge.Bench(s) {
		return
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		if r.Faulty || r.Note != "" { // a note says how it was dealt with
			continue
		}
		method := methodOf(p.Journal, s, r)
		if method != nil && len(method.Interferences) > 0 {
			for k := range method.Interferences {
				x := &method.Interferences[k]
				if x.HasAnalyte && x.Above.Unit == x.Analyte.Info().Unit {
					p.disturbed(r, x.Analyte, x.Above.Value, "method "+method.ID, x.Effect, x.Remedy)
				}
			}
			continue
		}
		for k := range disturbances {
			d := &disturbances[k]
			for _, v := range d.victims {
				if v == r.Analyte && photometric(p.Journal, s, r) {
					p.disturbed(r, d.cause, p.Setting(d.setting), "Standard Methods", "", d.remedy)
				}
			}
		}
	}
}

func (p *Pass) disturbed(r *journal.Reading, cause water.ID, above float64, source, effect, remedy string) {
	m, ok := p.Values().Measured(cause)
	if !ok || m.Bound == water.Below || m.Value <= above {
		return
	}
	c, _ := p.Session.Reading(cause)
	text := fmt.Sprintf("%s of %s disturbs the %s test, which showed %s: it bears up to %s (%s)", journal.TypedReading(c), cause, r.Analyte, journal.TypedReading(r), withUnit(plain(above), cause), source)
	if effect != "" {
		text += "; " + effect
	}
	if remedy == "" {
		remedy = "remove the cause, repeat, and note what was done"
	}
	f := p.ReportReading(p.Session, r, "value", "%s", text)
	f.by, f.bySet = cause, true
	f.Help("%s; a note on the reading silences this", remedy)
}

// methodOf is the written procedure of a reading, nil where none is named.
func methodOf(j *journal.Journal, s *journal.Session, r *journal.Reading) *journal.Method {
	id := r.Method
	if id == "" {
		if in, ok := j.Instruments.Get(judge.MeterOf(s, r)); ok {
			if m := in.Measures[r.Analyte]; m != nil {
				id = m.Method
			}
		}
	}
	m, _ := j.Methods.Get(id)
	return m
}

// photometric reports whether a reading was made with a reagent in a
// photometer.
func photometric(j *journal.Journal, s *journal.Session, r *journal.Reading) bool {
	in, ok := j.Instruments.Get(judge.MeterOf(s, r))
	return ok && in.Sort == "photometer"
}
