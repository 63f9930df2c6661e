package lint

import (
	"math"
	"slices"
	"sort"
	"strings"
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

// Series is one analyte's numbers at a site, in its standard unit; bounds are
// left out, and so are sites whose water a recipe makes. Middle and Scale are what the site's other readings of the same
// regime, the nearest twenty before it, lead to expect: their median and 1.4826
// times their median absolute deviation (Hampel 1974). Readings at the start of
// a regime are held against those that follow.
type Series struct {
	At            []int32 // index into Own
	Value         []float64
	Middle, Scale []float64
	N             []int16 // readings that Middle rests on
}

// window is how many readings before one make up what is expected of it.
const window = 20

// enough is how many readings of a regime an expectation rests on at least.
const enough = 8

func (h *SiteHistory) settle() {
	slices.SortStableFunc(h.All, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
	for _, s := range h.All {
		if judge.InSeries(s) && judge.Bench(s) {
			h.Own = append(h.Own, s)
			h.Regime = append(h.Regime, regimeOf(h.journal, h.Site, s.Sampled.In(zoneOr(h.journal.Settings.Zone)), 4))
		}
	}
}

// regimeOf is the supply regime of a site at a time: its own, else that of the
// sites that feed it, so that a carbon filter follows the main before it.
func regimeOf(j *journal.Journal, site *journal.Site, at time.Time, depth int) string {
	if site == nil || depth == 0 {
		return ""
	}
	if len(site.Supply) > 0 {
		return site.Regime(at)
	}
	regime := ""
	for _, id := range site.FedBy {
		if feed, ok := j.Sites.Get(id); ok {
			if r := regimeOf(j, feed, at, depth-1); r != "" {
				regime = strings.TrimPrefix(regime+"+"+r, "+")
			}
		}
	}
	return regime
}

// made reports a site whose water is what the last recipe made of it: it has
// no usual value.
func (h *SiteHistory) made() bool {
	return h.Site != nil && (h.Site.Stage == "blend-tank" || h.Site.Stage == "hot-liquor" || h.Site.Stage == "cold-liquor")
}

// treated reports a site whose water a filter or membrane made: limit/stage
// judges it against its own feed.
func (h *SiteHistory) treated() bool {
	return h.Site != nil && (h.Site.Stage == "ro-permeate" || h.Site.Stage == "softener-outlet" || h.Site.Stage == "carbon-outlet")
}

func zoneOr(z *time.Location) *time.Location {
	if z == nil {
		return time.UTC
	}
	return z
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
	if h.made() {
		return
	}
	recalled := map[string]bool{}
	for _, lot := range h.journal.Lots.List {
		if lot.Recalled != nil {
			recalled[lot.ID] = true
		}
	}
	var all [water.NumAnalytes]Series
	var a water.Analysis
	for i, s := range h.Own {
		journal.Values(s, &a)
		for k := range s.Readings {
			id := s.Readings[k].Analyte
			if recalled[s.Readings[k].Lot] || s.Readings[k].Dilution > 1 && !id.Dilutable() {
				a.Set(id, water.Measured{Bound: water.Below})
			}
			if a.Has(id) && !s.Readings[k].Faulty {
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
			s := &all[id]
			s.expect(h.Regime)
			h.series[water.ID(id)] = s
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

// expect fills Middle, Scale and N regime by regime.
func (s *Series) expect(regimes []string) {
	n := len(s.At)
	s.Middle, s.Scale, s.N = make([]float64, n), make([]float64, n), make([]int16, n)
	groups := map[string][]int32{}
	for k, at := range s.At {
		r := regimes[at]
		groups[r] = append(groups[r], int32(k))
	}
	for _, g := range groups {
		sorted := make([]float64, 0, window+1)
		for pos, k := range g {
			if pos > 0 {
				insert(&sorted, s.Value[g[pos-1]])
			}
			if pos > window {
				remove(&sorted, s.Value[g[pos-1-window]])
			}
			use := sorted
			if pos < enough {
				use = slices.Clone(sorted)
				for next := pos + 1; next < len(g) && len(use) < enough; next++ {
					insert(&use, s.Value[g[next]])
				}
			}
			s.Middle[k], s.Scale[k] = middle(use)
			s.N[k] = int16(len(use))
		}
	}
}

func insert(sorted *[]float64, v float64) {
	i := sort.SearchFloat64s(*sorted, v)
	*sorted = slices.Insert(*sorted, i, v)
}

func remove(sorted *[]float64, v float64) {
	i := sort.SearchFloat64s(*sorted, v)
	if i < len(*sorted) && (*sorted)[i] == v {
		*sorted = slices.Delete(*sorted, i, i+1)
	}
}

// middle is the median of sorted values and 1.4826 times their median absolute
// deviation, found by walking outward from the middle.
func middle(w []float64) (median, scale float64) {
	n := len(w)
	if n == 0 {
		return math.NaN(), 0
	}
	median = w[n/2]
	if n%2 == 0 {
		median = (w[n/2-1] + w[n/2]) / 2
	}
	low, high := (n-1)/2, (n-1)/2+1
	before, last := 0.0, 0.0
	for range n/2 + 1 {
		before = last
		if high >= n || low >= 0 && median-w[low] <= w[high]-median {
			last = median - w[low]
			low--
		} else {
			last = w[high] - median
			high++
		}
	}
	if n%2 == 0 {
		return median, 1.4826 * (before + last) / 2
	}
	return median, 1.4826 * last
}

// allowance is the larger standard uncertainty of the reading and of one like
// it at the usual value: a reading that is too small must not be held against
// its own small uncertainty.
func (p *Pass) allowance(s *journal.Session, r *journal.Reading, usual float64) float64 {
	u, _ := p.Journal.Uncertainty(s, r)
	d := r.Factor()
	if m := p.Journal.Measures(s, r); m != nil && m.HasAccuracy {
		return math.Max(u, m.Accuracy.Uncertainty(usual/d, d))
	}
	return math.Max(u, r.Analyte.Info().Typical.Uncertainty(usual/d, d))
}

// swings reports analytes that go up and down from day to day for good reason.
func swings(id water.ID) bool {
	switch id {
	case water.SampleTemperature, water.FreeChlorine, water.TotalChlorine, water.TurbidityValue:
		return true
	}
	return false
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
