package lint

import "wj/journal/judge"

var rangeDilution = &Rule{
	Name: "range/dilution", Severity: Error, Scope: Session, Reach: OfRecord, Check: checkRangeDilution,
	Title:    "a dilution is no dilution, too large for the bench, or of something that cannot be diluted",
	Settings: []Threshold{{"most", "10", "", "the largest dilution that bench glassware makes well"}},
}

func checkRangeDilution(p *Pass) {
	s := p.Session
	if !judge.Bench(s) {
		return
	}
	for i := range s.Readings {
		r := &s.Readings[i]
		d := r.Dilution
		switch {
		case d == 0 || d == 1:
		case !r.Analyte.Dilutable():
			p.ReportReading(s, r, "dilution", "%s was read in a sample diluted %s-fold", r.Analyte, plain(d)).
				Help("measure it undiluted: what it shows changes with the dilution, and no factor brings it back")
		case d < 1:
			p.ReportReading(s, r, "dilution", "a dilution of %s would be a concentration", plain(d)).
				Help("write total volume over sample volume: 2 for one part sample and one part distilled water")
		case d > p.Setting("most"):
			f := p.ReportReading(s, r, "dilution", "a dilution of %s is more than %s", plain(d), plain(p.Setting("most")))
			f.Help("dilute in two steps with pipettes, or use a method with a higher range; each step's error is multiplied by %s", plain(d))
			p.as(f, Warning)
		}
	}
}
