package lint

import (
	"math"
	"slices"
	"sort"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// SiteHistory is a site with its sessions in the order of sampling, void ones
// left out.
type SiteHistory struct {
	ID     string
	Site   *journal.Site      // nil where the record is missing
	All    []*journal.Session // of every kind and source
	Own    []*journal.Session // routine tests on the bench
	Regime []string           // the supply regime at each of Own; "" where none is declared

	journal *journal.Journal
	series  map[water.ID]*Series
}

// Series is one analyte's numbers at a site, in its standard unit; bounds are left
// out, and so are sites whose water a recipe makes.
type Series struct {
	At    []int32 // index into Own
	Value []float64
}

func (h *SiteHistory) settle() {
	slices.SortStableFunc(h.All, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
	for _, s := range h.All {
		if judge.InSeries(s) && judge.Bench(s) {
			h.Own = append(h.Own, s)
			h.Regime = append(h.Regime, judge.Regime(h.journal, h.Site, s.Sampled))
		}
	}
}

func zoneOr(z *time.Location) *time.Location {
	if z == nil {
		return time.UTC
	}
	return z
}

// anew is the place in a series from which on its readings show the present
// plant: the first after the newest replacement.
func (h *SiteHistory) anew(s *Series) int {
	if e := judge.LastReplacement(h.journal, h.Site, h.Own[s.At[0]].Sampled, h.Own[s.At[len(s.At)-1]].Sampled); e != nil {
		return sort.Search(len(s.At), func(k int) bool { return !h.Own[s.At[k]].Sampled.Before(e.On) })
	}
	return 0
}

// Series is the series of an analyte, or of sodium by difference where sodium
// was not measured; nil where there are no numbers.
func (h *SiteHistory) Series(id water.ID) *Series {
	if h.series == nil {
		h.build()
	}
	return h.series[id]
}

// forget frees the series.
func (h *SiteHistory) forget() { h.series = nil }

// build makes all series in one walk over the sessions. Readings of recalled
// lots, and diluted ones of what cannot be diluted, are known to be bad and left
// out.
func (h *SiteHistory) build() {
	h.series = map[water.ID]*Series{}
	if judge.Made(h.Site) {
		return
	}
	var all [water.NumAnalytes]Series
	var a water.Analysis
	for i, s := range h.Own {
		journal.Values(s, &a)
		for k := range s.Readings {
			id := s.Readings[k].Analyte
			if !judge.Sound(h.journal, &s.Readings[k]) {
				a.Set(id, water.Measured{Bound: water.Below}) // nothing is derived from it
			} else if a.Has(id) {
				all[id].add(i, a.Number(id))
			}
		}
		if _, measured := a.Measured(water.Sodium); !measured {
			if na := a.Number(water.Sodium); !math.IsNaN(na) {
				all[water.Sodium].add(i, na)
			}
		}
	}
	for id := range all {
		if len(all[id].At) > 0 {
			h.series[water.ID(id)] = &all[id]
		}
	}
}

func (s *Series) add(i int, v float64) {
	if n := len(s.At); n > 0 && s.At[n-1] == int32(i) {
		return // a duplicate key is reported elsewhere
	}
	s.At = append(s.At, int32(i))
	s.Value = append(s.Value, v)
}

// eventBetween reports whether an event at a site, or at what feeds it, explains a
// change between two moments.
func eventBetween(j *journal.Journal, site string, before, after time.Time) bool {
	zone := zoneOr(j.Settings.Zone)
	from, to := journal.Day(before.In(zone)), journal.Day(after.In(zone))
	for _, e := range j.Events.List {
		if e.Void != nil {
			continue
		}
		day := e.On
		if day.Location() != time.UTC || !day.Equal(journal.Day(day)) {
			day = journal.Day(day.In(zone))
		}
		if day.Before(from) || day.After(to) {
			continue
		}
		for _, s := range e.Sites {
			if s == site || feeds(j, s, site, 4) {
				return true
			}
		}
	}
	return false
}

// feeds reports whether water of one site arrives at another.
func feeds(j *journal.Journal, from, to string, depth int) bool {
	site, ok := j.Sites.Get(to)
	if !ok || depth == 0 {
		return false
	}
	for _, f := range site.FedBy {
		if f == from || feeds(j, from, f, depth-1) {
			return true
		}
	}
	return false
}
