package lint

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
)

var instrumentCheckDue = &Rule{
	Name: "instrument/check-due", Severity: Warning, Scope: Whole, Reach: OfBench, Check: checkInstrumentDue,
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
	gaps := map[judge.Test]map[time.Time]*gap{}
	for _, s := range p.Journal.Sessions.List {
		if !judge.SiteWater(s) || !judge.Bench(s) {
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			key := judge.Test{Meter: judge.MeterOf(s, r), Analyte: r.Analyte}
			at := judge.TestedAt(s, r)
			passed, ok := checks.LastPassed(key, at)
			if last, _ := checks.Last(key, at); !ok || !last.Passed || at.Sub(passed.At) <= every { // one that failed is reported itself
				continue
			}
			if gaps[key] == nil {
				gaps[key] = map[time.Time]*gap{}
			}
			g := gaps[key][passed.At]
			if g == nil {
				g = &gap{last: passed.At}
				gaps[key][passed.At] = g
			}
			g.n++
			if g.first == nil || at.Before(judge.TestedAt(g.first, nil)) {
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
			at := place{g.first, key.Meter}
			tell[at] = append(tell[at], key.Analyte.String())
			if where[at] == nil || strings.Compare(g.keys[1], where[at][1]) < 0 {
				where[at] = g.keys
			}
			age[at], count[at] = max(age[at], judge.TestedAt(g.first, nil).Sub(g.last)), max(count[at], g.n)
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
