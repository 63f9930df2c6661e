package lint

import "slices"

var recordReportStale = &Rule{
	Name: "record/report-stale", Severity: Warning, Scope: Whole, Check: checkReportStale,
	Title: "a report was sent with a value that has been corrected since",
}

func checkReportStale(p *Pass) {
	replaced := map[string]bool{}
	for _, r := range p.Journal.Reports.List {
		if r.Void == nil && r.Replaces != "" {
			replaced[r.Replaces] = true
		}
	}
	for _, r := range p.Journal.Reports.List {
		if r.Void != nil || replaced[r.ID] {
			continue
		}
		paths := make([]string, 0, len(r.RestsOn))
		for path := range r.RestsOn {
			paths = append(paths, path)
		}
		slices.Sort(paths)
		for _, path := range paths {
			if p.run.facts.digest(path) != r.RestsOn[path] {
				p.Report(r.Path, []string{"rests_on", path}, "%s has changed since the report was sent on %s", path, p.date(r.Sent)).
					Help("send an amended report that names this one (replaces: %s) and says what changed", r.ID)
			}
		}
	}
}
