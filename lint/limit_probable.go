package lint

import (
	"wj/journal"
	"wj/lint/limits"
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
	h := p.Site
	var newest *journal.Session
	for i := len(h.All) - 1; i >= 0 && newest == nil; i-- {
		if routine(h.All[i]) && len(h.All[i].Readings) > 0 {
			newest = h.All[i]
		}
	}
	if newest == nil {
		return
	}
	p.Session = newest
	defer func() { p.Session = nil }()
	told := map[water.ID]bool{}
	for _, l := range p.ownLimits(h.Site, newest) {
		v, err := p.Analysis().Value(l.id)
		if err != nil {
			continue
		}
		told[l.id] = true
		if is, over := judge(v.Value, v.U, v.Bound, l.low, l.high); is == unsure {
			p.probable(newest, v, l.whose+", "+l.written(over), l.limit.Source)
		}
	}
	for _, kind := range []limits.Kind{limits.Health, limits.Aesthetic} {
		if kind == limits.Aesthetic && h.Site != nil && !supplied(h.Site) {
			continue
		}
		for _, l := range p.run.limits(kind) {
			if told[l.Analyte] && kind != limits.Health {
				continue
			}
			m, ok := p.Analysis().Measured(l.Analyte)
			if !ok {
				continue
			}
			is, over := judge(m.Value, m.U, m.Bound, l.Min, l.Max)
			if is != unsure {
				continue
			}
			f := p.probable(newest, water.Value{ID: l.Analyte, Value: m.Value, U: m.U}, "the limit of "+l.Written, l.Source)
			if kind == limits.Health && over && m.Value > l.Max {
				p.as(f, Warning)
			}
		}
	}
}

func (p *Pass) probable(s *journal.Session, v water.Value, limit, source string) *Finding {
	keys := []string{"readings", v.ID.String(), "value"}
	if v.Derived {
		keys = keys[:1]
	}
	if source != "" {
		limit += " (" + source + ")"
	}
	return p.Report(s.Path, keys, "%s of %s: the test cannot tell on which side of %s it is", valueText(s, v), v.ID, limit).
		Help("test it three times, or send a sample to a laboratory, before it is decided on")
}
