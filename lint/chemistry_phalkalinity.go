package lint

import "wj/water"

var chemistryPHAlkalinity = &Rule{
	Name: "chemistry/ph-alkalinity", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkPHAlkalinity,
	Title: "pH and alkalinity contradict each other",
	Settings: []Threshold{
		{"low", "4.5", "", "below this pH no alkalinity is left"},
		{"high", "8.5", "", "above this pH bicarbonate alone is not the alkalinity"},
	},
}

// checkPHAlkalinity depends on the end point of the alkalinity titration, pH 4.3
// to 4.9 (SM 2320 B), and on carbonate being more than 1 % of the alkalinity
// above pH 8.5 (from the second constant of carbonic acid, 10.33).
func checkPHAlkalinity(p *Pass) {
	q := p.Values()
	if !q.Has(water.PHValue) {
		return
	}
	pH := q.Number(water.PHValue)
	r, _ := p.Session.Reading(water.PHValue)
	if alkalinity, ok := q.Measured(water.Alkalinity); ok && pH < p.Setting("low") && alkalinity.Bound != water.Below {
		m, _ := p.Analysis().Measured(water.Alkalinity)
		if alkalinity.Value > 2*m.U {
			a, _ := p.Session.Reading(water.Alkalinity)
			p.ReportReading(p.Session, r, "value", "pH %s with an alkalinity of %s: below pH %s none is left", r.First, a.First, plain(p.Setting("low"))).
				Help("one of the two is wrong: check the electrode in buffer 4 and 7, and repeat both")
		}
	}
	_, carbonate := q.Measured(water.Carbonate)
	if bicarbonate, ok := q.Measured(water.Bicarbonate); ok && pH > p.Setting("high") && !carbonate && bicarbonate.Bound == water.Exact {
		b, _ := p.Session.Reading(water.Bicarbonate)
		p.ReportReading(p.Session, b, "value", "bicarbonate %s without carbonate at pH %s: above pH %s carbonate takes a part of the alkalinity", b.First, r.First, plain(p.Setting("high"))).
			Help("enter the alkalinity as titrated, in mg/L CaCO3; the program works out bicarbonate and carbonate from pH")
	}
}
