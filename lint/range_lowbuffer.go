package lint

import (
	"wj/journal/judge"
	"wj/water"
)

var rangeLowBuffer = &Rule{
	Name: "range/low-buffer", Severity: Info, Scope: Session, Reach: OfRecord, Check: checkRangeLowBuffer,
	Title:    "a photometric pH of a water that holds too little alkalinity to bear the indicator",
	Settings: []Threshold{{"alkalinity", "20", "", "below this the indicator shifts the pH, mg/L CaCO3"}},
}

func checkRangeLowBuffer(p *Pass) {
	s := p.Session
	if !judge.Bench(s) {
		return
	}
	r, ok := s.Reading(water.PHValue)
	if !ok || r.Faulty {
		return
	}
	if in, ok := p.Journal.Instruments.Get(judge.MeterOf(s, r)); !ok || in.Sort != "photometer" {
		return
	}
	m, ok := p.Values().Measured(water.Alkalinity)
	if !ok || m.Bound == water.Above || m.Value > p.Setting("alkalinity") || m.Value == p.Setting("alkalinity") && m.Bound == water.Exact {
		return
	}
	a, _ := s.Reading(water.Alkalinity)
	p.ReportReading(s, r, "value", "pH %s by photometer at an alkalinity of %s: under %s mg/L CaCO3 the indicator itself moves the pH (Standard Methods 4500-H+, from memory)", r.First, a.First, plain(p.Setting("alkalinity"))).
		Help("take it as ± 0.5, or use an electrode for this water")
}
