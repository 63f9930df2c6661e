package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/judge"
	"wj/lint"
	"wj/query"
	"wj/water"
)

// Status is how the water is now and what there is to do, worst first.
type Status struct {
	Schema    string        `json:"schema"`
	Name      string        `json:"name"`
	At        Moment        `json:"at"`
	Answer    []string      `json:"answer"`    // in whole sentences
	Attention bool          `json:"attention"` // a result, a finding or a task asks for somebody today
	Sites     []StatusSite  `json:"sites"`
	Findings  []SiteFinding `json:"findings"` // warnings and errors of lint rules in the newest sessions; limits and tests due are told by sites and tasks
	Tasks     []Task        `json:"tasks"`
	Read      *StatusRead   `json:"read"` // of a very large journal, whose older sessions were not read; null where all were

	now      time.Time
	unjudged bool              // there are results, and none of them has a limit
	folders  map[string]string // of the journals, where there are several
}

// StatusSite is the water of one site by its newest results.
type StatusSite struct {
	Journal string       `json:"journal,omitempty"` // of several
	ID      string       `json:"id"`
	Name    string       `json:"name"`
	Stage   string       `json:"stage"`
	Owner   string       `json:"owner"`
	Tested  Moment       `json:"tested"` // the newest sample; null if it was never tested
	Verdict string       `json:"verdict"`
	Results []SiteResult `json:"results"` // one a value, worst first
	Passage *SaltPassage `json:"salt_passage"`
	Next    *Next        `json:"next"`

	overall judge.Conformity
}

// StatusRead is what the state of a very large journal is read from: of each site the year up to its newest sample and its
// newest sessions, and what tests due, lots and changes depend on.
type StatusRead struct {
	Sessions  int      `json:"sessions"`
	Of        int      `json:"of"`
	NotJudged []string `json:"not_judged"` // lint rules that ask for the first sessions
}

// SaltPassage is how much of its feed's salt a membrane lets through, in percent, by the conductivities of both.
type SaltPassage struct {
	Newest  Value   `json:"newest"`
	Session string  `json:"session"`
	Feed    string  `json:"feed_session"`
	Sampled Moment  `json:"sampled"`
	Lowest  *Number `json:"lowest"` // of the year up to the newest
	Highest *Number `json:"highest"`
}

// SiteFinding is a finding of a lint rule in a session, with the site whose water it is.
type SiteFinding struct {
	Journal string `json:"journal,omitempty"` // of several
	Site    string `json:"site"`
	Session string `json:"session"`
	Finding
}

// Task is something to do, with the command that does it or shows more.
type Task struct {
	Journal string `json:"journal,omitempty"` // of several
	Topic   string `json:"topic"`
	Subject string `json:"subject"`
	Text    string `json:"text"`
	Urgent  bool   `json:"urgent"`
	Next    string `json:"next"`
}

// StatusRequest says by when, and what there is to do.
type StatusRequest struct {
	Now     time.Time
	Tasks   []judge.ToDo
	Present *lint.Present // what of the journal was read; nil: all of it
}

// NewStatus works out the state of the water of a journal that was loaded with its sessions and checked. What is over a limit, what
// a finding is and what there is to do is decided by journal/judge and lint.
func NewStatus(j *journal.Journal, q StatusRequest) (*Status, error) {
	s := &Status{Schema: schema.ID("status"), Name: j.Settings.Name, At: Moment{q.Now.In(j.Settings.Zone)}, Sites: []StatusSite{}, Findings: []SiteFinding{}, Tasks: []Task{}, now: q.Now.In(j.Settings.Zone)}
	n := newestOf(j, q.Now)
	due := map[string]judge.DueTest{}
	for _, d := range judge.Due(j, q.Now) {
		if _, ok := due[d.Site.ID]; !ok { // the earliest first
			due[d.Site.ID] = d
		}
	}
	results, err := n.results(j)
	if err != nil {
		return nil, err
	}
	for _, site := range j.Sites.List {
		if site.Void != nil || !site.Covers(s.now) {
			continue
		}
		one := StatusSite{ID: site.ID, Name: cmp.Or(site.Name, site.ID), Stage: site.Stage, Owner: site.Owner, Tested: Moment{n.sampled[site.ID]}, Results: results[site.ID], Passage: newSaltPassage(j, site, q.Now)}
		if one.Results == nil {
			one.Results = []SiteResult{}
		}
		for i := range one.Results {
			one.overall = max(one.overall, one.Results[i].overall)
		}
		one.Verdict = one.overall.String()
		if d, ok := due[site.ID]; ok {
			one.Next = nextOf(&d)
		}
		s.Sites = append(s.Sites, one)
	}
	if p := q.Present; p != nil && !p.Whole() {
		s.Read = &StatusRead{NotJudged: lint.FromTheFirst}
	}
	s.findings(j, n, q)
	if s.Read != nil {
		s.Read.Sessions, s.Read.Of = q.Present.Read()
	}
	s.order()
	if err := s.trends(j); err != nil {
		return nil, err
	}
	for _, t := range q.Tasks {
		s.Tasks = append(s.Tasks, Task{Topic: string(t.Topic), Subject: t.Subject, Text: t.Text, Urgent: t.Urgent, Next: t.Next})
		s.Attention = s.Attention || t.Urgent || t.Topic != judge.Tests && t.Topic != judge.Reagents
	}
	s.orderTasks()
	s.answer()
	return s, nil
}

func (s *Status) orderTasks() {
	slices.SortStableFunc(s.Tasks, func(a, b Task) int {
		switch {
		case a.Urgent == b.Urgent:
			return 0
		case a.Urgent:
			return -1
		}
		return 1
	})
}

// newest are the sessions that the state of the water is read from: of each site those of the year up to its newest, and
// of each value its newest. A journal of many years is then asked for little.
type newest struct {
	sessions []*journal.Session
	sampled  map[string]time.Time // of each site, its newest sample
	sites    map[string][]string  // with a sample, by owner
	ids      []water.ID           // measured at any site, in the order of the table of analytes
}

func newestOf(j *journal.Journal, now time.Time) newest {
	n := newest{sampled: map[string]time.Time{}, sites: map[string][]string{}}
	type value struct {
		site string
		id   water.ID
	}
	last := map[value]*journal.Session{}
	for _, s := range j.Sessions.List {
		if !judge.InSeries(s) || s.Sampled.After(now) || s.Sampled.IsZero() {
			continue
		}
		if s.Sampled.After(n.sampled[s.Site]) {
			n.sampled[s.Site] = s.Sampled
		}
		for i := range s.Readings {
			if r := &s.Readings[i]; !r.Faulty {
				if was := last[value{s.Site, r.Analyte}]; was == nil || s.Sampled.After(was.Sampled) {
					last[value{s.Site, r.Analyte}] = s
				}
			}
		}
	}
	keep, measured := map[*journal.Session]bool{}, map[water.ID]bool{}
	for v, s := range last {
		keep[s], measured[v.id] = true, true
	}
	for _, s := range j.Sessions.List {
		if judge.InSeries(s) && !s.Sampled.After(now) && (keep[s] || !s.Sampled.IsZero() && s.Sampled.After(n.sampled[s.Site].Add(-PastYear))) {
			n.sessions = append(n.sessions, s)
		}
	}
	for _, site := range j.Sites.List {
		if !n.sampled[site.ID].IsZero() {
			n.sites[site.Owner] = append(n.sites[site.Owner], site.ID)
		}
	}
	for id := range water.NumAnalytes {
		if measured[id] {
			n.ids = append(n.ids, id)
		}
	}
	return n
}

// results are the newest result of each value at each site, worst first.
func (n newest) results(j *journal.Journal) (map[string][]SiteResult, error) {
	out := map[string][]SiteResult{}
	if len(n.sessions) == 0 {
		return out, nil
	}
	part := *j
	part.Sessions.List = n.sessions
	limits := judge.NewLimits(j)
	for owner, sites := range n.sites {
		units := map[water.ID]water.Unit{}
		for _, id := range n.ids {
			units[id] = j.Preferred(owner, id)
		}
		series, err := query.Histories(&part, query.SeriesRequest{Sites: sites, Analytes: n.ids, Units: units})
		if err != nil {
			return nil, err
		}
		for _, s := range series {
			if len(s.Points) > 0 && !s.Points[len(s.Points)-1].Derived {
				out[s.Site] = append(out[s.Site], SiteResult{Result: newestResult(j, limits, s), Trend: "unknown"})
			}
		}
	}
	for _, list := range out {
		slices.SortStableFunc(list, func(a, b SiteResult) int { return b.urgency() - a.urgency() })
	}
	return out, nil
}

// newSaltPassage is the salt passage of a membrane; nil where the site is none, or is never paired with its feed.
func newSaltPassage(j *journal.Journal, site *journal.Site, now time.Time) *SaltPassage {
	all := judge.PassagesAt(j, site, now)
	if len(all) == 0 {
		return nil
	}
	last := all[len(all)-1]
	p := &SaltPassage{Newest: valueOf(100*last.Part, 100*last.U, water.Exact, "%"), Session: last.Session.ID, Feed: last.Feed.ID, Sampled: Moment{last.Session.Sampled}}
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range all {
		if x.Session.Sampled.After(last.Session.Sampled.Add(-PastYear)) {
			low, high = min(low, 100*x.Part), max(high, 100*x.Part)
		}
	}
	p.Lowest, p.Highest = number(low), number(high)
	return p
}

// told are the rules whose findings the results and the tasks show already.
var told = []string{"limit/health", "limit/aesthetic", "limit/site", "limit/brewing", "limit/probable", "site/overdue", "reagent/expires-soon"}

// findings asks the linter about the sessions that hold the newest results.
func (s *Status) findings(j *journal.Journal, n newest, q StatusRequest) {
	var paths []string
	of := map[string]*journal.Session{}
	add := func(id string) {
		if session, ok := j.Sessions.Get(id); ok && of[session.Path] == nil {
			of[session.Path] = session
			paths = append(paths, session.Path)
		}
	}
	for i := range s.Sites {
		for _, r := range s.Sites[i].Results {
			add(r.Session)
		}
	}
	if len(paths) == 0 {
		return
	}
	skip := told
	if s.Read != nil {
		skip = slices.Concat(told, s.Read.NotJudged)
	}
	found := lint.Run(j, lint.Options{Paths: paths, Now: q.Now, Skip: skip, Part: q.Present.Part(paths)}).Diagnostics
	again := map[string]bool{} // sites of which something was found that all of their sessions may explain
	for _, d := range found {
		if r, ok := lint.Find(d.Rule); of[d.Path] != nil && (!ok || r.Reach != lint.OfRecord) {
			again[of[d.Path].Site] = true
		}
	}
	if q.Present.Widen(again, journal.Options{Check: true}) {
		paths = slices.DeleteFunc(paths, func(p string) bool { return !again[of[p].Site] })
		found = slices.DeleteFunc(found, func(d lint.Diagnostic) bool { return of[d.Path] != nil && again[of[d.Path].Site] })
		found = append(found, lint.Run(j, lint.Options{Paths: paths, Now: q.Now, Skip: skip, Part: q.Present.Part(paths)}).Diagnostics...)
	}
	for _, d := range found {
		session := of[d.Path]
		if session == nil || d.Severity < lint.Warning {
			continue
		}
		s.Findings = append(s.Findings, SiteFinding{Site: session.Site, Session: session.ID, Finding: Finding{d.Line, d.Column, d.Severity.String(), d.Rule, d.Message, d.Help}})
	}
	s.orderFindings()
	s.Attention = s.Attention || len(s.Findings) > 0
}

func (s *Status) orderFindings() {
	slices.SortStableFunc(s.Findings, func(a, b SiteFinding) int { return a.rank() - b.rank() })
}

// rank puts what treatment lets through first, then errors.
func (f *SiteFinding) rank() int {
	switch {
	case f.Rule == "limit/stage":
		return 0
	case f.Severity == "error":
		return 1
	}
	return 2
}

// order puts the worst site first: over, what treatment lets through, inconclusive, other findings, the rest by name.
func (s *Status) order() {
	found := map[[2]string]int{}
	for i := range s.Findings {
		f := &s.Findings[i]
		at := [2]string{f.Journal, f.Site}
		found[at] = max(found[at], []int{25, 2, 1}[f.rank()]) // 25: between what is inconclusive and what is over, ResultLimit.rank
	}
	rank := func(x *StatusSite) int {
		worst := 0
		if len(x.Results) > 0 {
			worst = x.Results[0].urgency()
		}
		return max(worst, found[[2]string{x.Journal, x.ID}])
	}
	slices.SortStableFunc(s.Sites, func(a, b StatusSite) int { return rank(&b) - rank(&a) })
	for i := range s.Sites {
		s.Attention = s.Attention || s.Sites[i].overall > judge.Within
	}
}

// answer is the headline: what is wrong is counted first, then what there is to do, and the worst is named.
func (s *Status) answer() {
	var heads []atSite
	over, unsure, tested, judged := 0, 0, 0, 0
	for i := range s.Sites {
		x := &s.Sites[i]
		if !x.Tested.IsZero() {
			tested++
		}
		for k := range x.Results {
			if x.Results[k].overall != judge.Unlimited {
				judged++
			}
			switch r := &x.Results[k]; {
			case r.overall.Outside():
				over++
				heads = append(heads, atSite{&r.Result, of(x.Journal, x.ID)})
			case r.overall == judge.Inconclusive:
				unsure++
				heads = append(heads, atSite{&r.Result, of(x.Journal, x.ID)})
			}
		}
	}
	switch {
	case len(s.Sites) == 0:
		s.Answer = []string{"No tap is set up, so no water is known."}
		return
	case tested == 0:
		s.Answer = []string{"No water is known yet: no result is recorded."}
	default:
		parts := []string{is("limit", over, "broken")}
		if s.unjudged = judged == 0; s.unjudged {
			parts[0] = "no value has a limit here, so none was judged"
		}
		if unsure > 0 {
			parts = append(parts, is("result", unsure, "inconclusive"))
		}
		var failing []string
		others := 0
		for _, f := range s.Findings {
			if f.Rule != "limit/stage" {
				others++
			} else if site := of(f.Journal, f.Site); !slices.Contains(failing, site) {
				failing = append(failing, site)
			}
		}
		if len(failing) > 0 {
			parts = append(parts, "treatment fails at "+strings.Join(failing, " and "))
		}
		if others > 0 {
			parts = append(parts, journal.Count(others, "other lint finding"))
		}
		s.Answer = []string{strings.Join(parts, ", ")}
	}
	waiting, dueTests, urgent := 0, 0, 0
	for _, t := range s.Tasks {
		switch judge.Topic(t.Topic) {
		case judge.Reviews:
			waiting++
		case judge.Tests:
			dueTests++
			if t.Urgent {
				urgent++
			}
		}
	}
	tests := is("test", urgent, "overdue")
	if tested == 0 {
		tests = is("test", dueTests, "due")
	}
	text := tests
	if waiting == 1 {
		text = "1 change waits, " + text
	} else if waiting > 1 {
		text = fmt.Sprintf("%d changes wait, %s", waiting, text)
	}
	last := &s.Answer[len(s.Answer)-1]
	if tested == 0 {
		s.Answer = append(s.Answer, sentence(journal.Capital(text)))
		return
	}
	*last = sentence(journal.Capital(*last + ", " + text))
	if len(heads) > 0 {
		slices.SortStableFunc(heads, func(a, b atSite) int { return b.urgency() - a.urgency() })
		lead := "Worst"
		if len(heads) == 1 {
			lead = journal.Capital(heads[0].worst().Verdict)
		}
		s.Answer = append(s.Answer, lead+": "+listed(heads[:1])+".")
	}
}

// is counts in a sentence: "no limit is broken", "2 limits are broken".
func is(what string, n int, state string) string {
	switch n {
	case 0:
		return "no " + what + " is " + state
	case 1:
		return "1 " + what + " is " + state
	}
	return journal.Count(n, what) + " are " + state
}
