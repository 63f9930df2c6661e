package judge

import (
	"runtime"
	"sort"
	"time"

	"wj/journal"
	"wj/water"
)

// CurrentLot is the reagent lot to take for an analyte on a day: in date, not
// recalled, not used up; the one that the newest session took first, then an
// opened one, then the one that expires first. used are the tests already taken
// (TestsUsed).
func CurrentLot(j *journal.Journal, id water.ID, on time.Time, used map[string]int) (*journal.Lot, bool) {
	var fit []*journal.Lot
	for _, l := range j.Lots.List {
		if !l.IsFor(id) || l.Void != nil || l.Recalled != nil {
			continue
		}
		day := journal.Day(on)
		if !l.Received.IsZero() && l.Received.After(day) || !l.Finished.IsZero() && l.Finished.Before(day) || l.ExpiredOn(on) {
			continue
		}
		if l.Tests > 0 && used[l.ID]+l.Losses >= l.Tests {
			continue
		}
		fit = append(fit, l)
	}
	if len(fit) == 0 {
		return nil, false
	}
	last := lastLot(j, id, on)
	sort.SliceStable(fit, func(a, b int) bool {
		if la, lb := fit[a].ID == last, fit[b].ID == last; la != lb {
			return la
		}
		oa, ob := isOpen(fit[a], on), isOpen(fit[b], on)
		if oa != ob {
			return oa
		}
		return !fit[a].Expires.IsZero() && (fit[b].Expires.IsZero() || fit[a].Expires.Before(fit[b].Expires))
	})
	return fit[0], true
}

// lastLot is the lot that the newest session before the moment took for the
// analyte.
func lastLot(j *journal.Journal, id water.ID, on time.Time) string {
	lot, newest := "", time.Time{}
	for _, s := range j.Sessions.List {
		if s.Sampled.After(on) || s.Sampled.Before(newest) {
			continue
		}
		if r, ok := s.Reading(id); ok && r.Lot != "" {
			lot, newest = r.Lot, s.Sampled
		}
	}
	return lot
}

func isOpen(l *journal.Lot, on time.Time) bool {
	return !l.Opened.IsZero() && !l.Opened.After(journal.Day(on))
}

// CurrentInstrument is the meter to fill in for a session: the one that this
// site's newest session used, if it is still in use; else the only one in use
// that measures all the analytes.
func CurrentInstrument(j *journal.Journal, site string, analytes []water.ID, on time.Time) string {
	var newest *journal.Session
	for _, s := range j.Sessions.List {
		if s.Site == site && Bench(s) && s.Void == nil && s.Instrument != "" && (newest == nil || s.Sampled.After(newest.Sampled)) {
			newest = s
		}
	}
	measuresAny := func(in *journal.Instrument) bool {
		for _, id := range analytes {
			if in.Measures[id] != nil {
				return true
			}
		}
		return len(analytes) == 0
	}
	if newest != nil {
		if in, ok := j.Instruments.Get(newest.Instrument); ok && in.Covers(on) && measuresAny(in) {
			return in.ID
		}
	}
	best, bestCount, tie := "", 0, false
	for _, in := range j.Instruments.List {
		if !in.Covers(on) || in.Void != nil {
			continue
		}
		n := 0
		for _, id := range analytes {
			if in.Measures[id] != nil {
				n++
			}
		}
		switch {
		case n > bestCount:
			best, bestCount, tie = in.ID, n, false
		case n == bestCount && n > 0:
			tie = true
		}
	}
	if tie {
		return ""
	}
	return best
}

// TestsUsed counts the tests taken from each lot by all sessions that are loaded
// ([Uses]).
func TestsUsed(j *journal.Journal) map[string]int {
	used := map[string]int{}
	for id, u := range Uses(j, time.Time{}) {
		used[id] = u.Tests
	}
	return used
}

// CountTests is TestsUsed for a journal whose sessions are not loaded: it reads
// them one by one.
func CountTests(j *journal.Journal) map[string]int {
	counts := make([]map[string]int, runtime.GOMAXPROCS(0))
	for i := range counts {
		counts[i] = map[string]int{}
	}
	j.EachSession(func(worker, _ int, _ journal.File, s *journal.Session) {
		if s == nil {
			return
		}
		for i := range s.Readings {
			if r := &s.Readings[i]; r.Lot != "" {
				counts[worker][r.Lot] += r.Taken()
			}
		}
		if s.StandardLot != "" {
			counts[worker][s.StandardLot]++
		}
	})
	for _, more := range counts[1:] {
		for lot, n := range more {
			counts[0][lot] += n
		}
	}
	return counts[0]
}
