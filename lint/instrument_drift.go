package lint

import (
	"math"

	"wj/journal"
	"wj/journal/judge"
	"wj/query/stats"
)

var instrumentDrift = &Rule{
	Name: "instrument/drift", Severity: Warning, Scope: Whole, Reach: OfBench, Check: checkInstrumentDrift,
	Title: "check standards of a meter leave their own chart though each still passes",
	Settings: []Threshold{
		{"baseline", "10", "", "how many checks freeze the chart's limits"},
		{"size", "0.5", "", "part of the allowed error that a run must be off by to be reported; half as much again for a single check"},
	},
}

// checkInstrumentDrift holds the errors of a meter's passed check standards,
// each as a part of what is allowed, against an individuals chart whose limits
// are frozen from the first ones: one beyond 3 sigma, or nine in a row on one
// side (NIST/SEMATECH e-Handbook 6.3.2.2; Nelson 1984).
func checkInstrumentDrift(p *Pass) {
	baseline, size := int(p.Setting("baseline")), p.Setting("size")
	for key, list := range p.run.facts.checks() {
		var part []float64
		var kept []judge.Check
		for _, c := range list {
			if c.Passed && !c.Beyond && c.Allowed > 0 {
				part = append(part, (c.Found-c.Truth)/c.Allowed)
				kept = append(kept, c)
			}
		}
		if baseline < 5 || len(part) <= baseline {
			continue
		}
		chart, err := stats.FreezeIndividuals(part[:baseline])
		if err != nil {
			continue
		}
		signals, err := stats.FindRuns(part, chart.Center, chart.Sigma)
		if err != nil {
			continue
		}
		for _, signal := range signals {
			if signal.At < baseline {
				continue
			}
			mean, _ := stats.Mean(part[max(signal.From, 0) : signal.At+1])
			least := size
			if signal.Rule.Name == "beyond-limits" {
				least *= 1.5 // ten checks know sigma to a quarter, and lots differ
			}
			if math.Abs(mean-chart.Center) < least {
				continue
			}
			c := kept[signal.At]
			p.ReportReading(c.Session, c.Reading, "value", "%s where the standard holds %s: check standards of %s for %s have moved by %.0f %% of the allowed error: %s", journal.TypedReading(c.Reading), show(key.Analyte, c.Truth), key.Meter, key.Analyte, 100*(mean-chart.Center), signal.Rule.Says).
				Help("clean the cell and the optics, check the standard's age, have the meter serviced before a check fails")
		}
	}
}
