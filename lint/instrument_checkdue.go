package lint

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
)

var instrumentCheckDue = &Rule{
	Name: "instrument/check-due", Severity: Warning, Scope: Whole, Check: checkInstrumentDue,
	Title:    "a meter was used for an analyte longer after its last passed check than allowed",
	Settings: []Threshold{{"every", "30 d", "d", "how long a passed check standard holds"}},
}

// checkInstrumentDue tells each gap once, at the first session that fell into
// it. Analytes that the journal never checks are not asked for.
func checkInstrumentDue(p *Pass) {
	checks := p.run.facts.checks()
	if len(checks) == 0 {
		return
	}
	every := days(p.Setting("every"))
	type gap struct {
		first *journal.Session
		keys  []string
		last  time.Time
		n     int
	}
	gaps := map[meterAnalyte]map[time.Time]*gap{}
	for _, s := range p.Journal.Sessions.List {
		if s.Void != nil || !bench(s) || s.Sample == "check-standard" || s.Sample == "blank" {
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			key := meterAnalyte{meterOf(s, r), r.Analyte}
			list := checks[key]
			if len(list) == 0 {
				continue
			}
			at := testedAt(s, r)
			passed, ok := lastPassed(list, at)
			if !ok || at.Sub(passed.at) <= every {
				continue
			}
			if gaps[key] == nil {
				gaps[key] = map[time.Time]*gap{}
			}
			g := gaps[key][passed.at]
			if g == nil {
				g = &gap{last: passed.at}
				gaps[key][passed.at] = g
			}
			g.n++
			if g.first == nil || at.Before(testedAt(g.first, nil)) {
				g.first, g.keys = s, []string{"readings", r.Analyte.String(), "value"}
			}
		}
	}
	// One finding for a session tells all its analytes of one meter.
	type place struct {
		session *journal.Session
		meter   string
	}
	tell := map[place][]string{}
	where, age, count := map[place][]string{}, map[place]time.Duration{}, map[place]int{}
	for key, list := range gaps {
		for _, g := range list {
			at := place{g.first, key.meter}
			tell[at] = append(tell[at], key.analyte.String())
			if where[at] == nil || strings.Compare(g.keys[1], where[at][1]) < 0 {
				where[at] = g.keys
			}
			age[at], count[at] = max(age[at], testedAt(g.first, nil).Sub(g.last)), max(count[at], g.n)
		}
	}
	for at, names := range tell {
		slices.Sort(names)
		more := ""
		if count[at] > 1 {
			more = fmt.Sprintf(", and %d more sessions until the next check", count[at]-1)
		}
		p.Report(at.session.Path, where[at], "%s was last checked for %s with a standard %s before; a check holds %s%s", at.meter, strings.Join(names, ", "), span(age[at]), span(every), more).
			Help("test a standard before the next session; if it fails, everything since the last passed check is doubtful")
	}
}

// lastPassed is the newest check at or before a time that passed.
func lastPassed(list []check, at time.Time) (check, bool) {
	for i := checksUntil(list, at) - 1; i >= 0; i-- {
		if list[i].passed {
			return list[i], true
		}
	}
	return check{}, false
}
