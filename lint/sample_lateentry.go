package lint

import "wj/journal/judge"

var sampleLateEntry = &Rule{
	Name: "sample/late-entry", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkLateEntry, NeedsHistory: true,
	Title:    "a session was committed long after the test",
	Settings: []Threshold{{"within", "24 h", "h", "the longest time from test to commit"}},
}

func checkLateEntry(p *Pass) {
	s := p.Session
	if !judge.Bench(s) {
		return
	}
	c, ok := p.Git.Added(s.Path)
	tested := judge.TestedAt(s, nil)
	if !ok || tested.IsZero() {
		return
	}
	if late := c.Written.Sub(tested); late > hours(p.Setting("within")) {
		p.Report(s.Path, []string{"tested"}, "committed %s after the test, on %s; records are made while the work is done", span(late), p.moment(c.Written)).
			Help("say in the body why it came late and from what it was copied; do not change the date")
	}
}
