// Package round prepares a sitting at the bench from the journal, keeps it while it lasts, and
// makes its records: what package bench, which knows no files, is given and gives back.
//
//	r, err := round.New(j, []string{"town-main", "north-well"}, round.Options{Now: now, By: "ines"})
//	m := &bench.Machine{Plan: r.Plan, State: bench.Begin(r.Plan, now), Judge: r.Judge}
//	…
//	record, err := r.Record(&m.State)
package round

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/judge"
	"wj/journal/writer"
	"wj/water"
)

// Options say what a sitting is to be.
type Options struct {
	Name       string     // of the round; "" for a session at one site
	Tests      []water.ID // these in this order; none: what the schedules ask for
	Instrument string     // where the person names it
	Place      string     // "54.69, 25.28"; none: the site's
	By         string
	Now        time.Time // in the journal's zone
	ByTest     bool      // all samples first, then test by test
	Guided     bool      // with the steps of the methods
}

// Round is a sitting over a journal that holds its sessions.
type Round struct {
	Journal *journal.Journal
	Plan    bench.Plan
	now     time.Time
}

// ErrNoTests says that no schedule asks for a test.
var ErrNoTests = errors.New("the schedule asks for no tests")

// New plans a sitting at sites.
func New(j *journal.Journal, sites []string, opt Options) (*Round, error) {
	taps := make([]bench.Tap, len(sites))
	tests := make([][]water.ID, len(sites))
	for i, id := range sites {
		id, err := j.ID(id, journal.KindSite)
		if err != nil {
			return nil, err
		}
		site, _ := j.Sites.Get(id)
		if tests[i] = opt.Tests; len(opt.Tests) == 0 {
			tests[i] = planned(j, site, opt.Now)
		}
		if len(tests[i]) == 0 {
			return nil, journal.Hint("name them with --tests pH,alkalinity,sulfate, or add a schedule to "+site.Path, "%w at %s", ErrNoTests, site.ID)
		}
		taps[i] = bench.Tap{Site: id, Instrument: opt.Instrument, Place: opt.Place}
		if opt.Place == "" && site.Place.Set {
			taps[i].Place = fmt.Sprintf("%.4f, %.4f", site.Place.Latitude, site.Place.Longitude)
		}
	}
	return plan(j, taps, tests, opt), nil
}

// Resume plans the sitting that a state is of, with further tests where some are asked for.
func Resume(j *journal.Journal, s *bench.State, opt Options) *Round {
	tests := make([][]water.ID, len(s.Taps))
	byTest := false
	var order []bench.Entry
	last := 0
	for _, e := range s.Tests {
		tap := slices.IndexFunc(s.Taps, func(t bench.Tap) bool { return t.Site == e.Site })
		if id, ok := water.Lookup(e.Analyte); ok && tap >= 0 && !slices.Contains(tests[tap], id) {
			tests[tap] = append(tests[tap], id)
			order, byTest, last = append(order, e), byTest || tap < last, tap
		}
	}
	for tap := range s.Taps {
		for _, id := range opt.Tests {
			if !slices.Contains(tests[tap], id) {
				tests[tap] = append(tests[tap], id)
				order = append(order, bench.Entry{Site: s.Taps[tap].Site, Analyte: id.String()})
			}
		}
	}
	opt.ByTest, opt.By = byTest, s.By
	r := plan(j, s.Taps, tests, opt)
	// The plan's tests in the order of the state's.
	at := func(t bench.Test) int {
		return slices.IndexFunc(order, func(e bench.Entry) bool { return e.Site == s.Taps[t.Tap].Site && e.Analyte == t.Analyte.String() })
	}
	slices.SortStableFunc(r.Plan.Tests, func(a, b bench.Test) int { return at(a) - at(b) })
	s.Tests = order
	return r
}

// plan gathers what the journal says about the tests to come.
func plan(j *journal.Journal, taps []bench.Tap, tests [][]water.ID, opt Options) *Round {
	p := bench.Plan{Name: opt.Name, By: opt.By, Taps: taps, ByTest: opt.ByTest, Guided: opt.Guided}
	used, limits := judge.TestsUsed(j), judge.NewLimits(j)
	for i := range taps {
		site, ok := j.Sites.Get(taps[i].Site)
		if !ok {
			site = &journal.Site{Record: journal.Record{ID: taps[i].Site}}
		}
		taps[i].Name = cmp.Or(site.Name, site.ID)
		main, other := writer.Meters(j, site.ID, tests[i], taps[i].Instrument, opt.Now)
		taps[i].Instrument = main
		usual := usualValues(j, site, tests[i], opt.Now)
		for _, id := range tests[i] {
			t := test(j, site, id, main, other[id], opt.Now)
			t.Tap, t.Usual = i, usual[id]
			if t.NeedsLot {
				t.Lots = lots(j, id, opt.Now, used)
			}
			unit := id.Info().Unit
			if len(t.Units) > 0 {
				unit = t.Units[0]
			}
			for _, l := range limits.Of(id, site.ID, opt.Now) {
				t.Limits = append(t.Limits, l.In(unit))
			}
			p.Tests = append(p.Tests, t)
		}
	}
	if opt.Name == "" && len(taps) > 0 {
		p.Name = taps[0].Name
	}
	if opt.ByTest {
		var order []water.ID
		for _, t := range p.Tests {
			if !slices.Contains(order, t.Analyte) {
				order = append(order, t.Analyte)
			}
		}
		slices.SortStableFunc(p.Tests, func(a, b bench.Test) int { return slices.Index(order, a.Analyte) - slices.Index(order, b.Analyte) })
	}
	return &Round{Journal: j, Plan: p, now: opt.Now}
}

// test gathers what the journal says about one test: the method, the meter and its range, and
// how it went here before.
func test(j *journal.Journal, site *journal.Site, id water.ID, main, other string, now time.Time) bench.Test {
	t := bench.Test{Analyte: id, NeedsLot: writer.NeedsLot(id), Instrument: other}
	if in, ok := j.Instruments.Get(cmp.Or(other, main)); ok {
		if m := in.Measures[id]; m != nil {
			t.Units, t.Low, t.High, t.Method = m.Units, m.Low, m.High, m.Method
		}
	}
	if t.Method == "" {
		for _, m := range j.Methods.List {
			if m.Void == nil && m.Covers(now) && slices.Contains(m.Analytes, id) {
				t.Method = m.ID
				break
			}
		}
	}
	if m, ok := j.Methods.Get(t.Method); ok {
		t.MethodName, t.Steps, t.Caution = m.Name, m.Steps, caution(j, m)
		if own := m.Measures[id]; own != nil && len(t.Units) == 0 && slices.Contains(m.Analytes, id) {
			t.Units, t.Low, t.High = own.Units, own.Low, own.High
		}
	}
	for _, s := range newest(j, site.ID, id, 3) {
		r, _ := s.Reading(id)
		if len(t.Before) == 0 && r.Dilution > 1 {
			t.Dilution = r.Dilution
		}
		value, bound := r.Result()
		text := journal.TypedReading(r)
		if bound == water.Exact && (r.Dilution > 1 || len(r.More) > 0) {
			text = strings.TrimRight(water.Round(value, 3)+" "+r.First.Unit.String(), " ")
		}
		t.Before = append(t.Before, bench.Past{On: s.Sampled.In(now.Location()), Text: text})
	}
	if len(t.Units) == 0 {
		if u, ok := lastUnit(j, site.ID, id); ok {
			t.Units = []water.Unit{u}
		}
	}
	for i := range t.Before { // the unit that the prompt names is not said again
		if len(t.Units) > 0 && !strings.HasPrefix(t.Before[i].Text, "[") {
			t.Before[i].Text = strings.TrimSuffix(t.Before[i].Text, " "+t.Units[0].String())
		}
	}
	return t
}

// newest are the newest bench sessions of the site's water that hold the analyte.
func newest(j *journal.Journal, site string, id water.ID, n int) []*journal.Session {
	var out []*journal.Session
	for _, s := range j.Sessions.List {
		if s.Site != site || !judge.Bench(s) || !judge.InSeries(s) {
			continue
		}
		if r, ok := s.Reading(id); ok && !r.Faulty {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b *journal.Session) int { return b.Sampled.Compare(a.Sampled) })
	return out[:min(n, len(out))]
}

// planned are the analytes of a site's session: of the schedules that are due, or of all where
// none is; in the order in which they were tested here last.
func planned(j *journal.Journal, site *journal.Site, now time.Time) []water.ID {
	today := journal.Day(now)
	var due, all []water.ID
	for _, d := range judge.Due(j, now) {
		if d.Site.ID == site.ID {
			if all = append(all, d.Names()...); !d.On.After(today) {
				due = append(due, d.Names()...) // together, also what was tested apart lately: one value alone tells less
			}
		}
	}
	if len(due) == 0 {
		due = all
	}
	var out []water.ID
	var last *journal.Session
	for _, plan := range site.Schedule {
		for _, id := range plan.Analytes {
			if slices.Contains(due, id) && !slices.Contains(out, id) {
				out = append(out, id)
				if s := newest(j, site.ID, id, 1); len(s) > 0 && (last == nil || len(s[0].Readings) > len(last.Readings) || s[0].Sampled.After(last.Sampled)) {
					last = s[0]
				}
			}
		}
	}
	if last == nil {
		return out
	}
	rank := func(id water.ID) int {
		if i := slices.IndexFunc(last.Readings, func(r journal.Reading) bool { return r.Analyte == id }); i >= 0 {
			return i
		}
		return len(last.Readings)
	}
	slices.SortStableFunc(out, func(a, b water.ID) int { return rank(a) - rank(b) })
	return out
}
