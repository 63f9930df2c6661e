package lint

import (
	"wj/journal/evidence"
)

var recordUnreviewed = &Rule{
	Name: "record/unreviewed", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkUnreviewed,
	Title: "a record lacks a signature that the policy asks for",
}

// checkUnreviewed reports records that an entry of policy.required is about;
// changes and what decides have rules of their own.
func checkUnreviewed(p *Pass) {
	facts := evidence.Facts{Now: p.Now, Line: p.run.opt.Facts.Line, Unreadable: p.run.opt.Facts.Unreadable}
	if facts.Now.IsZero() {
		facts.Now = latestAct(p.Journal)
	}
	for _, m := range evidence.Unreviewed(p.Journal, facts) {
		p.Report(m.Path, nil, "%s has not been reviewed: policy asks for %s", m.ID, m.Lacks).
			Help("wj review %s, then one of them: wj sign %s", m.ID, m.ID)
	}
}
