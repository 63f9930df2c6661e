package lint

import (
	"math"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var limitProbable = &Rule{
	Name: "limit/probable", Severity: Info, Scope: History, Reach: OfSite, Check: checkLimitProbable,
	Title: "the newest value of a site lies so near a limit that the result is inconclusive",
}

// checkLimitProbable looks at the newest result of each value of a site: for older
// ones no repeat can be made. A value that is above a health limit as a number,
// though not surely, is a warning.
func checkLimitProbable(p *Pass) {
	defer func() { p.Session = nil }()
	seen := map[water.ID]bool{}
	for i := len(p.Site.All) - 1; i >= 0; i-- {
		s := p.Site.All[i]
		if !judge.InSeries(s) {
			continue
		}
		p.Session = s
		p.probable(s, seen)
	}
}

// probable shows the values of a session that are inconclusive, and marks all
// that it has as seen.
func (p *Pass) probable(s *journal.Session, seen map[water.ID]bool) {
	list := p.run.limits().At(s.Site, s.Sampled)
	fresh := false
	for i := range list {
		fresh = fresh || !seen[list[i].ID] && p.has(list[i].ID)
	}
	if !fresh {
		return
	}
	for _, a := range p.run.limits().Session(s, p.Analysis()) {
		if seen[a.Value.ID] || a.Conformity != judge.Inconclusive {
			continue
		}
		v, l := a.Value, a.Limit
		over := l.Max != nil && (l.Min == nil || *l.Max-v.Value < v.Value-*l.Min)
		if v.Bound != water.Exact {
			p.reportValue(s, v, "%s of %s: the result is only a bound and does not show on which side of %s it is", valueText(s, v), v.ID, limitText(l, over)).
				Help("use a test whose range reaches the limit, or send a sample to a laboratory, before it is decided on")
			continue
		}
		f := p.reportValue(s, v, "%s of %s is inconclusive: the interval includes %s", valueText(s, v), v.ID, limitText(l, over)).
			Help("test it three times, or send a sample to a laboratory, before it is decided on")
		if l.Health() && over && v.Value > *l.Max {
			p.as(f, Warning)
		}
	}
	for i := range list {
		seen[list[i].ID] = seen[list[i].ID] || p.has(list[i].ID)
	}
}

// has reports whether the session says something of a value, a number or a bound.
func (p *Pass) has(id water.ID) bool {
	_, ok := p.Values().Measured(id)
	return ok || !math.IsNaN(p.Values().Number(id))
}
