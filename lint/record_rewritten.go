package lint

var recordRewritten = &Rule{
	Name: "record/rewritten", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkRecordRewritten, Bars: true, NeedsHistory: true,
	Title: "a commit that was signed or noted as an anchor is no longer part of the history",
}

func checkRecordRewritten(p *Pass) {
	if p.Git.Shallow() {
		return // a shallow clone cannot tell
	}
	for _, l := range p.Git.Lost() {
		path := l.Noted
		if path == "" {
			path = "wj.yaml"
		}
		p.Report(path, nil, "commit %s, noted as an anchor, is not an ancestor of this branch: the history was rewritten", l.Anchor).
			Help("find out who force-pushed and restore the branch from a clone that still holds the commit; do not go on recording on this one")
	}
}
