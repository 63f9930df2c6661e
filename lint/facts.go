package lint

import (
	"cmp"
	"slices"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/query/stats"
)

// facts are what several rules ask of the whole journal, made when first asked.
type facts struct {
	run *run

	siteOnce sync.Once
	siteList []*SiteHistory
	siteByID map[string]*SiteHistory

	useOnce sync.Once
	lotUses map[string]*judge.Use

	checkOnce sync.Once
	checkList judge.Checks

	changeOnce sync.Once
	changeList map[string]*judge.Change
	judged     *judge.Changes

	verifyOnce sync.Once
	verifyList map[string][]*journal.Session

	causeOnce sync.Once
	causeList *verdicts

	bookOnce sync.Once
	opened   *plan.Book

	doseOnce sync.Once
	doseList []dosed

	ranges sync.Map // rangeKey → critical range
}

type rangeKey struct {
	p float64
	n int
}

// criticalRange is the quantile of the range of n standard normal values. Each
// is found by a search, and the same few are asked for in every session.
func (f *facts) criticalRange(p float64, n int) float64 {
	key := rangeKey{p, n}
	if q, ok := f.ranges.Load(key); ok {
		return q.(float64)
	}
	q := stats.RangeQuantile(p, n)
	f.ranges.Store(key, q)
	return q
}

// book is what changes are worked out with.
func (f *facts) book() *plan.Book {
	f.bookOnce.Do(func() { f.opened = plan.Open(f.run.j) })
	return f.opened
}

// uses are what was taken from each lot.
func (f *facts) uses() map[string]*judge.Use {
	f.useOnce.Do(func() { f.lotUses = judge.Uses(f.run.j, time.Time{}) })
	return f.lotUses
}

// checks are the readings of check standards.
func (f *facts) checks() judge.Checks {
	f.checkOnce.Do(func() { f.checkList = judge.NewChecks(f.run.j) })
	return f.checkList
}

// histories are the sites that have sessions, in the order of their ids.
func (f *facts) histories() []*SiteHistory {
	f.siteOnce.Do(func() {
		f.siteByID = map[string]*SiteHistory{}
		for _, s := range f.run.j.Sessions.List {
			if s.Void != nil || s.Site == "" || s.Sampled.IsZero() {
				continue
			}
			h := f.siteByID[s.Site]
			if h == nil {
				h = &SiteHistory{ID: s.Site, journal: f.run.j}
				h.Site, _ = f.run.j.Sites.Get(s.Site)
				f.siteByID[s.Site] = h
				f.siteList = append(f.siteList, h)
			}
			h.All = append(h.All, s)
		}
		slices.SortFunc(f.siteList, func(a, b *SiteHistory) int { return cmp.Compare(a.ID, b.ID) })
		for _, h := range f.siteList {
			h.settle()
		}
	})
	return f.siteList
}

// history is one site's history.
func (f *facts) history(site string) (*SiteHistory, bool) {
	f.histories()
	h, ok := f.siteByID[site]
	return h, ok
}

// verifications are the sessions that verify each change.
func (f *facts) verifications() map[string][]*journal.Session {
	f.verifyOnce.Do(func() {
		f.verifyList = map[string][]*journal.Session{}
		for _, s := range f.run.j.Sessions.List {
			if s.Void == nil && s.Sample == journal.SampleVerification && s.Change != "" {
				f.verifyList[s.Change] = append(f.verifyList[s.Change], s)
			}
		}
	})
	return f.verifyList
}
