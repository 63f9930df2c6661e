package lint

import (
	"cmp"
	"io/fs"
	"slices"
	"sync"
	"time"

	"wj/journal"
	"wj/query/stats"
	"wj/water"
)

// facts are what several rules ask of the whole journal, made when first asked.
type facts struct {
	run *run

	siteOnce sync.Once
	siteList []*SiteHistory
	siteByID map[string]*SiteHistory

	useOnce sync.Once
	lotUses map[string]*lotUse

	checkOnce sync.Once
	checkList map[meterAnalyte][]check

	signOnce sync.Once
	signList map[string][]*journal.Signoff

	verifyOnce sync.Once
	verifyList map[string][]*journal.Session

	doseOnce sync.Once
	doseList []dosed

	digestLock sync.Mutex
	digests    map[string]string

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

// lotUse is what sessions say of a lot.
type lotUse struct {
	count       int // tests, replicates counted
	first, last *journal.Session
	firstAt     time.Time
	lastAt      time.Time
}

// uses counts the tests of each lot. Void sessions used their strips as well.
func (f *facts) uses() map[string]*lotUse {
	f.useOnce.Do(func() {
		f.lotUses = map[string]*lotUse{}
		for _, s := range f.run.j.Sessions.List {
			for i := range s.Readings {
				r := &s.Readings[i]
				if r.Lot == "" {
					continue
				}
				u := f.lotUses[r.Lot]
				if u == nil {
					u = &lotUse{}
					f.lotUses[r.Lot] = u
				}
				u.count += r.Replicates()
				at := testedAt(s, r)
				if u.first == nil || at.Before(u.firstAt) {
					u.first, u.firstAt = s, at
				}
				if u.last == nil || at.After(u.lastAt) {
					u.last, u.lastAt = s, at
				}
			}
		}
	})
	return f.lotUses
}

// meterAnalyte names a test: a meter and what it measures.
type meterAnalyte struct {
	meter   string
	analyte water.ID
}

// check is one reading of a check standard.
type check struct {
	session  *journal.Session
	reading  *journal.Reading
	at       time.Time
	truth    float64 // in the standard unit
	found    float64
	allowed  float64 // half-width in which it passes
	declared bool    // allowed comes from the method's accuracy
	passed   bool
}

// checks are the readings of check standards by meter and analyte, in the
// order of testing.
func (f *facts) checks() map[meterAnalyte][]check {
	f.checkOnce.Do(func() {
		f.checkList = map[meterAnalyte][]check{}
		for _, s := range f.run.j.Sessions.List {
			if s.Sample != "check-standard" || s.Void != nil {
				continue
			}
			for i := range s.Readings {
				r := &s.Readings[i]
				if c, ok := f.check(s, r); ok {
					key := meterAnalyte{meterOf(s, r), r.Analyte}
					f.checkList[key] = append(f.checkList[key], c)
				}
			}
		}
		for _, list := range f.checkList {
			slices.SortStableFunc(list, func(a, b check) int { return a.at.Compare(b.at) })
		}
	})
	return f.checkList
}

// check holds a reading against the standard's true value: within the accuracy
// that the meter or method declares at that level; else within 90–110 % of it,
// 85–115 % for sulfate by turbidity (after Standard Methods 1020 B, from
// memory), and ± 0.2 for pH (common practice, no source).
func (f *facts) check(s *journal.Session, r *journal.Reading) (check, bool) {
	truth, ok := s.Standard[r.Analyte]
	if !ok {
		lot, found := f.run.j.Lots.Get(s.StandardLot)
		if !found {
			return check{}, false
		}
		if truth, ok = lot.Standard[r.Analyte]; !ok {
			return check{}, false
		}
	}
	m, ok := f.run.j.Measured(s, r)
	if !ok || m.Bound != water.Exact {
		return check{}, false
	}
	c := check{session: s, reading: r, at: testedAt(s, r), truth: r.Analyte.Info().Standard(truth), found: m.Value}
	measures := f.run.j.Measures(s, r)
	switch {
	case measures != nil && measures.HasAccuracy:
		c.allowed, c.declared = 2*measures.Accuracy.Uncertainty(c.truth/r.Factor(), r.Factor()), true
	case r.Analyte == water.PHValue:
		c.allowed = 0.2
	case r.Analyte == water.Sulfate:
		c.allowed = 0.15 * c.truth
	default:
		c.allowed = 0.10 * c.truth
	}
	d := c.found - c.truth
	c.passed = d <= c.allowed+1e-9 && d >= -c.allowed-1e-9
	return c, true
}

// checksUntil counts the checks at or before a time.
func checksUntil(list []check, at time.Time) int {
	n, _ := slices.BinarySearchFunc(list, at, func(c check, t time.Time) int {
		if c.at.After(t) {
			return 1
		}
		return -1
	})
	return n
}

// lastCheck is the newest check of a test at or before a time.
func lastCheck(list []check, at time.Time) (check, bool) {
	n := checksUntil(list, at)
	if n == 0 {
		return check{}, false
	}
	return list[n-1], true
}

// digest is the SHA-256 of a file with LF line ends, as sign-offs and reports
// hold it; "" where it cannot be read.
func (f *facts) digest(path string) string {
	f.digestLock.Lock()
	defer f.digestLock.Unlock()
	if d, ok := f.digests[path]; ok {
		return d
	}
	if f.digests == nil {
		f.digests = map[string]string{}
	}
	out := ""
	if fs.ValidPath(path) {
		out, _ = journal.DigestFile(f.run.j.FS, path)
	}
	f.digests[path] = out
	return out
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
			if s.Void == nil && s.Sample == "verification" && s.Change != "" {
				f.verifyList[s.Change] = append(f.verifyList[s.Change], s)
			}
		}
	})
	return f.verifyList
}
