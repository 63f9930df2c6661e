package lint

import (
	"math"

	"wj/water"
)

var limitSite = &Rule{
	Name: "limit/site", Severity: Warning, Scope: Session, Check: checkLimitSite,
	Title: "a value is surely outside a limit that the site or the journal sets itself",
}

func checkLimitSite(p *Pass) {
	s := p.Session
	if !routine(s) && s.Sample != "verification" {
		return
	}
	site, _ := p.Journal.Sites.Get(s.Site)
	if (site == nil || len(site.Limits) == 0) && len(p.Journal.Settings.Limits) == 0 {
		return
	}
	for _, l := range p.ownLimits(site, s) {
		if v := p.Values().Number(l.id); math.IsNaN(v) || !(l.high > 0 && v > l.high || v < l.low) {
			if m, ok := p.Values().Measured(l.id); !ok || m.Bound == water.Exact {
				continue
			}
		}
		v, err := p.Analysis().Value(l.id)
		if err != nil {
			continue
		}
		is, over := judge(v.Value, v.U, v.Bound, l.low, l.high)
		if is != outside {
			continue
		}
		keys, derived := []string{"readings", l.id.String(), "value"}, ""
		if v.Derived {
			keys, derived = []string{"readings"}, "derived "
		}
		source := ""
		if l.limit.Source != "" {
			source = " (" + l.limit.Source + ")"
		}
		f := p.Report(s.Path, keys, "%s%s of %s is %s %s, %s%s", derived, valueText(s, v), l.id, aboveOrBelow(over), l.whose, l.written(over), source)
		if l.limit.Action != "" {
			f.Help("%s; open an action record", l.limit.Action)
		} else {
			f.Help("repeat it, then open an action record with cause and correction")
		}
		if severity, ok := ParseSeverity(l.limit.Severity); ok && severity != Off {
			p.as(f, severity)
		}
	}
}
