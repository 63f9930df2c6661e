package lint

import (
	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var limitProbable = &Rule{
	Name: "limit/probable", Severity: Info, Scope: History, Check: checkLimitProbable,
	Title: "the newest value of a site lies so near a limit that the test cannot tell on which side",
}

// checkLimitProbable looks at a site's newest session only: for older ones no
// repeat can be made. A value that is above a health limit as a number, though
// not surely, is a warning.
func checkLimitProbable(p *Pass) {
	var newest *journal.Session
	for i := len(p.Site.All) - 1; i >= 0 && newest == nil; i-- {
		if s := p.Site.All[i]; judge.InSeries(s) && len(s.Readings) > 0 {
			newest = s
		}
	}
	if newest == nil {
		return
	}
	p.Session = newest
	defer func() { p.Session = nil }()
	for _, a := range p.run.limits().Session(newest, p.Analysis()) {
		if a.Conformity != judge.Inconclusive {
			continue
		}
		v, l := a.Value, a.Limit
		over := l.Max != nil && (l.Min == nil || *l.Max-v.Value < v.Value-*l.Min)
		if v.Bound != water.Exact {
			p.reportValue(newest, v, "%s of %s: the result is only a bound and does not tell on which side of %s it is", valueText(newest, v), v.ID, limitText(l, over)).
				Help("use a test whose range reaches the limit, or send a sample to a laboratory, before it is decided on")
			continue
		}
		f := p.reportValue(newest, v, "%s of %s: the test cannot tell on which side of %s it is", valueText(newest, v), v.ID, limitText(l, over)).
			Help("test it three times, or send a sample to a laboratory, before it is decided on")
		if l.Health() && over && v.Value > *l.Max {
			p.as(f, Warning)
		}
	}
}
