package lint

import "wj/journal/judge"

var recordReportStale = &Rule{
	Name: "record/report-stale", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkReportStale,
	Title: "a report was sent with a value that has been corrected since",
}

func checkReportStale(p *Pass) {
	for _, r := range judge.Reports(p.Journal) {
		if !r.Stale() {
			continue
		}
		for _, path := range r.Changed {
			p.Report(r.Path, []string{"rests_on", path}, "%s has changed since the report was sent on %s", path, p.date(r.Sent)).
				See(path, nil, "the record").
				Help("send an amended report that names this one (replaces: %s) and says what changed", r.ID)
		}
	}
}
