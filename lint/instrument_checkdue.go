package lint

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

var instrumentCheckDue = &Rule{
	Name: "instrument/check-due", Severity: Warning, Scope: Whole, Reach: OfBench, Check: checkInstrumentDue,
	Title:    "a meter was used for an analyte longer after its last passed check than allowed",
	Settings: []Threshold{{"every", "30 d", "d", "how long a passed check standard holds"}},
}

// checkInstrumentDue shows each gap once, at the first session that fell into
// it. Analytes that the journal never checks are not asked for.
func checkInstrumentDue(p *Pass) {
	checks := p.run.facts.checks()
	every := days(p.Setting("every"))
	p.neverChecked(checks, every)
	if len(checks) == 0 {
		return
	}
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
	// One finding for a session shows all its analytes of one meter.
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

// neverChecked reports a meter of which no standard was ever tested, once it is in use for longer
// than a check holds. A thermometer is not asked for one, nor an electrode: that is adjusted in buffers before it
// is used (Standard Methods 4500-H+ B, from memory).
func (p *Pass) neverChecked(checks judge.Checks, every time.Duration) {
	if p.run.opt.Part.partial() {
		return // a check may be among what was not read
	}
	checked := map[string]bool{}
	for test := range checks {
		checked[test.Meter] = true
	}
	type use struct {
		first, last time.Time
		n           int
	}
	uses := map[string]*use{}
	for _, s := range p.Journal.Sessions.List {
		if s.Void != nil || !judge.Bench(s) {
			continue
		}
		counted := ""
		for i := range s.Readings {
			r := &s.Readings[i]
			meter, at := judge.MeterOf(s, r), judge.TestedAt(s, r)
			if r.Analyte == water.SampleTemperature || meter == "" || meter == counted || checked[meter] || at.IsZero() {
				continue
			}
			counted = meter
			u := uses[meter]
			if u == nil {
				u = &use{first: at, last: at}
				uses[meter] = u
			}
			u.n++
			if at.Before(u.first) {
				u.first = at
			}
			if at.After(u.last) {
				u.last = at
			}
		}
	}
	for meter, u := range uses {
		in, ok := p.Journal.Instruments.Get(meter)
		if !ok || in.Void != nil || in.Sort == "electrode" || u.last.Sub(u.first) <= every || u.n < 3 {
			continue
		}
		p.Report(in.Path, nil, "%s was used in %d sessions from %s to %s, and no check standard was ever tested with it", meter, u.n, p.date(u.first), p.date(u.last)).
			Help("test a standard: wj new session with sample=check-standard and standard_lot; until then nobody knows whether it reads right")
	}
}
