package lint

var actionOpenTooLong = &Rule{
	Name: "action/open-too-long", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkActionOpen,
	Title:    "a deviation is still open after the day by which it was to be closed",
	Settings: []Threshold{{"within", "30 d", "d", "how long one may stay open that names no day"}},
}

func checkActionOpen(p *Pass) {
	if p.Now.IsZero() {
		return
	}
	today := p.day(p.Now)
	for _, a := range p.Journal.Actions.List {
		if a.Void != nil || a.Closed != nil || a.Opened.IsZero() {
			continue
		}
		due, key := a.Due, "due"
		if due.IsZero() {
			due, key = a.Opened.Add(days(p.Setting("within"))), "opened"
		}
		if !today.After(due) {
			continue
		}
		p.Report(a.Path, []string{key}, "open since %s and due by %s: %s", p.date(a.Opened), p.date(due), a.Deviation).
			Help("write cause, correction and effect and close it, or set a new day with the reason in the body")
	}
}
