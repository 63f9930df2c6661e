package lint

import (
	"slices"
	"strconv"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/lint/cause"
	"wj/water"
)

// verdicts are what the engine says of the journal's sessions.
type verdicts struct {
	sites    []cause.Site
	sessions []cause.Session
	records  []*journal.Session         // beside sessions
	readings map[int][]*journal.Reading // of the sessions that a verdict is about, as the engine counts them
	list     []cause.Explanation
}

// causes holds all sessions of all sites against their waters, once.
func (f *facts) causes() *verdicts {
	f.causeOnce.Do(func() {
		v := &verdicts{}
		histories := f.histories()
		at := make(map[string]int, len(histories))
		for i, h := range histories {
			at[h.ID] = i
		}
		for _, h := range histories {
			v.sites = append(v.sites, f.causeSite(h, at))
			for _, s := range h.All {
				if judge.InSeries(s) {
					v.records = append(v.records, s)
				}
			}
		}
		slices.SortStableFunc(v.records, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
		x := &reader{j: f.run.j, diluted: map[siteTest]bool{}, recalled: map[string]bool{}, last: map[string]time.Time{}}
		for _, lot := range f.run.j.Lots.List {
			x.recalled[lot.ID] = lot.Recalled != nil
		}
		v.sessions = make([]cause.Session, 0, len(v.records))
		for _, s := range v.records {
			session := x.session(s, at[s.Site])
			session.Event = x.event(f, s)
			session.Quiet = f.run.opt.Part.quiet(s.Site)
			session.Passed = f.run.opt.Part.passes(s)
			v.sessions = append(v.sessions, session)
		}
		if m := f.run.opt.Memory; m != nil {
			v.list = m.explain(f.run, v, x, histories)
		} else {
			v.list = cause.Explain(v.sites, v.sessions, leastOdds(f.run), func(n int, buffer []cause.Reading) []cause.Reading { return x.readings(v.records[n], buffer) })
		}
		v.readings = map[int][]*journal.Reading{}
		for i := range v.list {
			n := v.list[i].Session
			v.readings[n] = x.kept(v.records[n], nil)
		}
		f.causeList = v
	})
	return f.causeList
}

// Memory lets a run over a journal that hardly differs from the one before be quick: an
// editor keeps one for each journal.
type Memory struct {
	mu     sync.Mutex
	causes cause.Memory

	taken       map[*journal.Session][]cause.Reading
	lots        []*journal.Lot
	instruments []*journal.Instrument
	methods     []*journal.Method
}

// MemoryOf is for two runs, over the two states of a journal that these records part; nil
// where the second would hardly be quicker.
func MemoryOf(j *journal.Journal, touched []Touched) *Memory {
	if len(j.Sessions.List) > mostRemembered {
		return nil
	}
	first := time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, t := range touched {
		for _, record := range []journal.Any{t.Before, t.After} {
			switch r := record.(type) {
			case *journal.Site:
				return nil // its supply may be another one at any time
			case *journal.Session:
				if !r.Sampled.IsZero() && r.Sampled.Before(first) {
					first = r.Sampled
				}
			}
		}
	}
	return &Memory{causes: cause.Memory{Part: first}}
}

// mostRemembered is of how many sessions the readings are kept in memory.
const mostRemembered = 30_000

// explain judges the sessions that findings can be shown of.
func (m *Memory) explain(r *run, v *verdicts, x *reader, histories []*SiteHistory) []cause.Explanation {
	last := len(v.records) - 1
	for last >= 0 && !r.wanted(v.records[last].Path) {
		last--
	}
	if last < 0 {
		return nil
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if j := r.j; m.taken == nil || len(m.taken) > 2*len(j.Sessions.List)+64 || !slices.Equal(m.lots, j.Lots.List) || !slices.Equal(m.instruments, j.Instruments.List) || !slices.Equal(m.methods, j.Methods.List) {
		m.taken = map[*journal.Session][]cause.Reading{}
		m.lots, m.instruments, m.methods = slices.Clone(j.Lots.List), slices.Clone(j.Instruments.List), slices.Clone(j.Methods.List)
	}
	for i, s := range v.records {
		list, known := m.taken[s]
		if !known {
			list = x.readings(s, nil)
			m.taken[s] = list
		} else {
			list = x.again(s, list)
		}
		v.sessions[i].Readings = list
	}
	keys := make([]any, len(histories))
	for i, h := range histories {
		keys[i] = h.Site
	}
	return m.causes.Explain(v.sites, keys, v.sessions, leastOdds(r), last)
}

// again is the readings of a session that was taken before, with what the sessions before it
// say of them now.
func (x *reader) again(s *journal.Session, list []cause.Reading) []cause.Reading {
	out := list
	for i := range list {
		key := siteTest{s.Site, list[i].ID}
		if before := x.diluted[key]; before != list[i].Diluted {
			if &out[0] == &list[0] { // the list that is kept stays as it is
				out = slices.Clone(list)
			}
			out[i].Diluted = before
		}
		if list[i].Dilution > 1 {
			x.diluted[key] = true
		}
	}
	return out
}

// leastOdds is the smallest of the thresholds in force.
func leastOdds(r *run) float64 {
	least := cause.DefaultOdds
	for _, a := range r.active {
		if a.rule.Family == FamilyCause {
			for _, v := range a.all(r) {
				least = min(least, v.setting("odds"))
			}
		}
	}
	return max(least, 1)
}

func (f *facts) causeSite(h *SiteHistory, at map[string]int) cause.Site {
	site := cause.Site{Name: h.ID, Made: judge.Made(h.Site)}
	if h.Site == nil {
		return site
	}
	site.Owner, site.Stage = h.Site.Owner, h.Site.Stage
	for _, id := range h.Site.FedBy {
		if i, ok := at[id]; ok && id != h.ID {
			site.Feeds = append(site.Feeds, i)
		}
	}
	site.Regime = func(t time.Time) string { return judge.Regime(f.run.j, h.Site, t) }
	return site
}

// reader turns records into what the engine takes.
type reader struct {
	j        *journal.Journal
	diluted  map[siteTest]bool
	list     []*journal.Reading // of the session that is read
	recalled map[string]bool
	last     map[string]time.Time // the site's last session
}

type siteTest struct {
	site string
	id   water.ID
}

func (x *reader) session(s *journal.Session, site int) cause.Session {
	out := cause.Session{Site: site, Time: s.Sampled, Observed: !judge.Bench(s)}
	for rule := range s.Ignore {
		out.Accepted = out.Accepted || FamilyOf(rule) == FamilyCause
	}
	return out
}

// doubtful reports whether nothing is learnt from what a lot read: it was recalled, or there
// is no record that could say so.
func (x *reader) doubtful(lot string) bool {
	recalled, known := x.recalled[lot]
	return recalled || !known && lot != ""
}

// kept appends the readings of a session that the engine is given.
func (x *reader) kept(s *journal.Session, list []*journal.Reading) []*journal.Reading {
	for i := range s.Readings {
		if r := &s.Readings[i]; !r.Faulty && !x.doubtful(r.Lot) && (r.Dilution <= 1 || r.Analyte.Dilutable()) {
			list = append(list, r)
		}
	}
	return list
}

// readings appends them as the engine takes them.
func (x *reader) readings(s *journal.Session, out []cause.Reading) []cause.Reading {
	x.list = x.kept(s, x.list[:0])
	for _, r := range x.list {
		value, bound := r.Result()
		reading := cause.Reading{
			ID: r.Analyte, Bound: bound, Unit: r.First.Unit, Dilution: r.Factor(), Lot: r.Lot, Meter: r.Instrument, Accuracy: r.Analyte.Info().Typical,
			Value: r.Analyte.Info().Standard(water.Quantity{Value: value, Unit: r.First.Unit}),
		}
		if len(r.More) == 0 {
			reading.Number = strconv.FormatFloat(r.First.Value, 'f', int(r.First.Decimals), 64)
		}
		reading.Probe = reading.Meter != "" && reading.Meter != s.Instrument
		if reading.Meter == "" {
			reading.Meter = s.Instrument
		}
		if m := x.j.Measures(s, r); m != nil {
			if m.HasAccuracy {
				reading.Accuracy = m.Accuracy
			}
			if m.High.Set {
				reading.Max = r.Analyte.Info().Standard(m.High.Quantity)
				if top := reading.Max * reading.Dilution; bound == water.Exact && reading.Value >= top && reading.Value < 1.005*top {
					reading.Bound = water.Above // range/over: the test is saturated
				}
			}
		}
		if r.First.Expanded > 0 || !judge.Bench(s) {
			reading.U, _ = x.j.Uncertainty(s, r)
			if s.Source == journal.SourceUtility && r.First.Expanded == 0 {
				reading.U = 0.1 * reading.Value // common practice, no source: a zone's mean is not the tap's
			}
		}
		key := siteTest{s.Site, r.Analyte}
		reading.Diluted = x.diluted[key]
		if reading.Dilution > 1 {
			x.diluted[key] = true
		}
		out = append(out, reading)
	}
	return out
}

// event reports whether an event at the site, or at what feeds it, lies between the
// last session and this one.
func (x *reader) event(f *facts, s *journal.Session) bool {
	last, seen := x.last[s.Site]
	x.last[s.Site] = s.Sampled
	return seen && eventBetween(f.run.j, s.Site, last, s.Sampled)
}

// causeRule is a rule that reports the verdicts of some kinds.
func causeRule(name, title string, kinds ...cause.Kind) *Rule {
	return &Rule{
		Name: "cause/" + name, Severity: Warning, Scope: Whole, Reach: OfJournal, Title: title,
		Settings: []Threshold{{"odds", "10", "", "odds that something is wrong from which it is reported"}},
		Check: func(p *Pass) {
			v := p.run.facts.causes()
			for i := range v.list {
				if o := &v.list[i]; slices.Contains(kinds, o.Best.Kind) && o.Odds >= p.Setting("odds") {
					p.verdict(v, o)
				}
			}
		},
	}
}

// and lets a rule check something besides.
func (r *Rule) and(check func(p *Pass)) *Rule {
	first := r.Check
	r.Check = func(p *Pass) {
		first(p)
		check(p)
	}
	return r
}

var (
	causeUnit      = causeRule("unit", "a number is in another unit, or on another basis, than the one written", cause.Unit)
	causeDigits    = causeRule("digits", "a number was mistyped: its decimal point slipped, or its digits did", cause.Ten, cause.Typo).and(slippedPoint)
	causeSwapped   = causeRule("swapped", "the numbers of two readings were exchanged", cause.Swap)
	causeDilution  = causeRule("dilution", "a dilution was forgotten, not made or counted twice", cause.Dilution)
	causeBottle    = causeRule("bottle", "the readings are those of another site", cause.Bottle)
	causeSupply    = causeRule("supply", "a session is the water of another supply period than the one declared", cause.Supply)
	causeLot       = causeRule("lot", "a lot of reagent reads wrong", cause.Lot)
	causeTest      = causeRule("test", "one reading does not fit the water and all other readings", cause.Test).and(warmSample)
	causeMeter     = causeRule("meter", "all tests of one meter are off together, and the water is not", cause.Meter)
	causeChange    = causeRule("change", "the water of a site has changed, and nothing on record says why", cause.Change)
	causeTreatment = causeRule("treatment", "a membrane or a softener lets through what it should hold back", cause.Treatment)
	causeCut       = causeRule("cut", "the whole sample was diluted, and no dilution is written", cause.Cut)
)
