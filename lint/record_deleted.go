package lint

import "wj/journal"

var recordDeleted = &Rule{
	Name: "record/deleted", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkRecordDeleted, Bars: true, NeedsHistory: true,
	Title: "a record that was committed is gone",
}

func checkRecordDeleted(p *Pass) {
	for _, g := range p.Git.Gone() {
		f, ok := journal.FileOf(g.Path)
		if !ok || p.Journal.Exists(f.Kind, f.ID) { // moved to another folder
			continue
		}
		if g.By.ID == "" {
			p.Report(g.Path, nil, "%s is in the last commit and is about to go", f.ID).
				Help("bring it back (git checkout HEAD -- %s), and write void: {by, on, reason} into it if it is wrong", g.Path)
			continue
		}
		p.Report(g.Path, nil, "%s was taken out by %s on %s (commit %s)", f.ID, g.By.Name, p.moment(g.By.Written), g.By.ID).
			Help("bring it back (git checkout %s^ -- %s), and write void: {by, on, reason} into it if it is wrong", g.By.ID, g.Path)
	}
}
