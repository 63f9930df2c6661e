package profile

import (
	"fmt"
	"math"
	"slices"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/query/stats"
	"wj/water"
)

// PairedWithin is how far apart a bench's and a laboratory's sample may be. Common practice, no source.
const PairedWithin = 48 * time.Hour

// Laboratory is how the bench agrees with laboratories on the site's water.
type Laboratory struct {
	Pairs  []LabPair
	Bounds int // pairs of which one is a bound
	Alone  int // laboratory's results without a bench's near them
	Lack   string
	Test   stats.PairedComparison // bench − laboratory, limits at 95 %
	// Worst is the pair with the largest normalized error; nil where no pair has an uncertainty.
	Worst *LabPair
}

// LabPair is one water at both.
type LabPair struct {
	Bench, Lab query.Point
	En         float64 // (bench − laboratory)/√(U² + U²), k = 2; NaN where neither has an uncertainty
}

// Replicates is how far results of one water lie apart: in percent of their mean, or, for what has no zero (pH,
// temperature), in the unit of the series.
type Replicates struct {
	Sets     []ReplicateSet
	Percent  bool
	Exceeded int // sets that lie further apart than the declared repeatability lets 95 in 100 (ISO 5725-6)
	Judged   int // sets for which a repeatability is declared
	People   []ReplicatesBy
}

// ReplicateSet is the results of one session, or of a session and its duplicate.
type ReplicateSet struct {
	Session, By string
	Apart       float64
}

// ReplicatesBy is the same for one person.
type ReplicatesBy struct {
	By            string // "" for all
	N             int
	Median, Worst float64
	Top           float64 // 95 %; NaN with fewer than TailsNeed
}

// Standard is how one instrument found check standards. Numbers are percent of what the standard holds, or, for what has no
// zero, differences in the analyte's standard unit.
type Standard struct {
	Instrument        string
	N                 int
	Percent           bool
	Mean, Low, High   float64
	Deviation         float64 // NaN with one
	First, LastTested time.Time
}

// Blanks are the readings of water that should hold nothing.
type Blanks struct {
	Measured, Bounds int
	Highest          stats.Value           // of all, in the unit of the series
	Limit            *stats.DetectionLimit // from two measured blanks on, in the unit of the series
}

// quality fills what speaks of the test rather than of the water. An expression has none of it but the pairs.
func (p *Profile) quality(j *journal.Journal, o Options) error {
	s := p.Series
	both, err := query.History(j, s.Site, s.Name, query.SeriesRequest{Units: map[water.ID]water.Unit{s.Analyte: s.Unit}, Sources: []string{journal.SourceBench, "lab"}, Since: o.Since, Until: o.Until})
	if err != nil {
		return err
	}
	p.Laboratory = pair(both.Points)
	if s.Analyte >= water.NumAnalytes {
		return nil
	}
	t := tests{j: j, p: p, o: o, scales: s.Analyte.Scales(), standards: map[string][]found{}}
	for _, r := range s.Points {
		if r.Source == journal.SourceBench && r.Instrument != "" {
			t.instruments = append(t.instruments, r.Instrument)
		}
	}
	for _, session := range j.Sessions.List {
		if session.Void == nil && !session.Sampled.IsZero() && (o.Since.IsZero() || !session.Sampled.Before(o.Since)) && (o.Until.IsZero() || session.Sampled.Before(o.Until)) {
			if reading, ok := session.Reading(s.Analyte); ok && !reading.Faulty {
				t.take(session, reading)
			}
		}
	}
	p.Replicates, p.Duplicates = summed(t.replicates, t.scales), summed(t.duplicates, t.scales)
	p.Replicates.Exceeded, p.Replicates.Judged = t.exceeded, t.judged
	return t.finish()
}

// pair gives each laboratory's result the bench's nearest in time.
func pair(points []query.Point) Laboratory {
	var out Laboratory
	var pairs []stats.Pair
	for _, lab := range points {
		if lab.Source != journal.SourceLab {
			continue
		}
		var best *query.Point
		for i := range points {
			if b := &points[i]; b.Source == journal.SourceBench && apart(*b, lab) <= PairedWithin && (best == nil || apart(*b, lab) < apart(*best, lab)) {
				best = b
			}
		}
		switch {
		case best == nil:
			out.Alone++
			continue
		case best.Bound != water.Exact || lab.Bound != water.Exact:
			out.Bounds++
			continue
		}
		one := LabPair{Bench: *best, Lab: lab, En: math.NaN()}
		if en, err := stats.NormalizedError(best.Value, 2*best.U, lab.Value, 2*lab.U); err == nil {
			one.En = en
		}
		out.Pairs = append(out.Pairs, one)
		pairs = append(pairs, stats.Pair{First: best.Value, Second: lab.Value})
	}
	for i := range out.Pairs {
		if one := &out.Pairs[i]; !math.IsNaN(one.En) && (out.Worst == nil || math.Abs(one.En) > math.Abs(out.Worst.En)) {
			out.Worst = one
		}
	}
	if len(pairs) < 2 {
		out.Lack = tooFew(len(pairs), 2, "pair").Error()
		return out
	}
	var err error
	if out.Test, err = stats.ComparePairs(pairs, .95); err != nil {
		out.Lack = err.Error()
	}
	return out
}

func apart(a, b query.Point) time.Duration { return a.Sampled.Sub(b.Sampled).Abs() }

// found is one check standard: what was read and what it holds, in the standard unit.
type found struct {
	at              time.Time
	value, standard float64
}

// tests gathers what the journal holds of tests of the tests.
type tests struct {
	j           *journal.Journal
	p           *Profile
	o           Options
	scales      bool // a multiple of the value has a meaning
	instruments []string

	replicates, duplicates []ReplicateSet
	exceeded, judged       int
	standards              map[string][]found
	blanks                 []stats.Value
}

func (t *tests) take(session *journal.Session, r *journal.Reading) {
	id, site := t.p.Series.Analyte, t.p.Series.Site
	instrument := judge.MeterOf(session, r)
	if session.Site == site && judge.SiteWater(session) && len(r.More) > 0 {
		t.replicate(session, r)
	}
	if original, ok := t.j.Sessions.Get(session.DuplicateOf); ok && session.Site == site && session.Sample == journal.SampleDuplicate && original.Void == nil {
		if first, ok := original.Reading(id); ok {
			t.duplicate(session, r, first)
		}
	}
	if !slices.Contains(t.instruments, instrument) {
		return
	}
	value, bound := r.Result()
	switch session.Sample {
	case journal.SampleStandard:
		if made, ok := judge.StandardOf(t.j, session, id); ok && bound == water.Exact {
			info := id.Info()
			t.standards[instrument] = append(t.standards[instrument], found{session.Sampled, info.Standard(water.Quantity{Value: value, Unit: r.First.Unit}), info.Standard(made)})
		}
	case journal.SampleBlank:
		if v, err := id.Info().Convert(value, r.First.Unit, t.p.Series.Unit); err == nil {
			t.blanks = append(t.blanks, stats.Value{Number: v, Side: sides[bound]})
		}
	}
}

// results are the replicates of a reading in the unit of the series, false where one is a bound.
func (t *tests) results(r *journal.Reading) ([]float64, bool) {
	var out []float64
	for _, q := range append([]water.Quantity{r.First}, r.More...) {
		v, err := r.Analyte.Info().Convert(q.Value*r.Factor(), q.Unit, t.p.Series.Unit)
		if err != nil || q.Bound != water.Exact {
			return nil, false
		}
		out = append(out, v)
	}
	return out, true
}

func (t *tests) replicate(session *journal.Session, r *journal.Reading) {
	values, ok := t.results(r)
	if !ok {
		return
	}
	if apart, ok := t.apart(slices.Min(values), slices.Max(values)); ok {
		t.replicates = append(t.replicates, ReplicateSet{Session: session.ID, By: session.By, Apart: apart})
	}
	if m := t.j.Measures(session, r); m != nil && m.Repeatability != (water.Accuracy{}) {
		// The declared repeatability is of the meter's own readings in the standard unit.
		info := r.Analyte.Info()
		var read []float64
		for _, q := range append([]water.Quantity{r.First}, r.More...) {
			read = append(read, info.Standard(q))
		}
		middle, err := stats.Mean(read)
		if err != nil {
			return
		}
		test, err := stats.RepeatabilityRange(read, m.Repeatability.Absolute+m.Repeatability.Relative*math.Abs(middle), .95)
		if err != nil {
			return
		}
		t.judged++
		if test.Exceeds {
			t.exceeded++
		}
	}
}

func (t *tests) duplicate(session *journal.Session, r, first *journal.Reading) {
	a, ok1 := t.results(r)
	b, ok2 := t.results(first)
	if !ok1 || !ok2 {
		return
	}
	x, err1 := stats.Mean(a)
	y, err2 := stats.Mean(b)
	if err1 != nil || err2 != nil {
		return
	}
	if apart, ok := t.apart(x, y); ok {
		t.duplicates = append(t.duplicates, ReplicateSet{Session: session.ID, By: session.By, Apart: apart})
	}
}

// apart is the relative percent difference of the two results that lie furthest apart, or their difference.
func (t *tests) apart(a, b float64) (float64, bool) {
	if !t.scales {
		return math.Abs(a - b), true
	}
	if a == 0 && b == 0 {
		return 0, true // nothing found twice: they agree
	}
	v, err := stats.RelativePercentDifference(a, b)
	return v, err == nil
}

// summed is the quantiles of all sets, and of each person's where there are several.
func summed(sets []ReplicateSet, percent bool) Replicates {
	out := Replicates{Sets: sets, Percent: percent}
	people := map[string][]float64{}
	var order []string
	for _, s := range sets {
		people[""] = append(people[""], s.Apart)
		if _, seen := people[s.By]; !seen && s.By != "" {
			order = append(order, s.By)
		}
		if s.By != "" {
			people[s.By] = append(people[s.By], s.Apart)
		}
	}
	slices.Sort(order)
	if len(order) < 2 {
		order = nil
	}
	for _, by := range append([]string{""}, order...) {
		values := people[by]
		if len(values) == 0 {
			continue
		}
		one := ReplicatesBy{By: by, N: len(values), Worst: slices.Max(values), Top: math.NaN()}
		one.Median, _ = stats.Quantile(values, .5, stats.Weibull)
		if len(values) >= TailsNeed {
			one.Top, _ = stats.Quantile(values, .95, stats.Weibull)
		}
		out.People = append(out.People, one)
	}
	return out
}

// finish sums up check standards and blanks.
func (t *tests) finish() error {
	for _, instrument := range slices.Compact(slices.Sorted(slices.Values(t.instruments))) {
		list := t.standards[instrument]
		if len(list) == 0 {
			continue
		}
		one := Standard{Instrument: instrument, Percent: t.scales, Deviation: math.NaN(), First: list[0].at, LastTested: list[0].at}
		var values []float64
		for _, f := range list {
			v := f.value - f.standard
			if t.scales {
				recovery, err := stats.Recovery(f.value, f.standard)
				if err != nil {
					continue // a standard that holds nothing is a blank
				}
				v = recovery
			}
			values = append(values, v)
			if f.at.Before(one.First) {
				one.First = f.at
			}
			if f.at.After(one.LastTested) {
				one.LastTested = f.at
			}
		}
		if len(values) == 0 {
			continue
		}
		var err error
		if one.Mean, err = stats.Mean(values); err != nil {
			return fmt.Errorf("check standards of %s: %w", instrument, err)
		}
		one.N, one.Low, one.High = len(values), slices.Min(values), slices.Max(values)
		if one.N > 1 {
			one.Deviation, _ = stats.StandardDeviation(values)
		}
		t.p.Standards = append(t.p.Standards, one)
	}
	var measured []float64
	for i, v := range t.blanks {
		if v.Side == stats.Measured {
			measured = append(measured, v.Number)
			t.p.Blanks.Measured++
		} else {
			t.p.Blanks.Bounds++
		}
		if i == 0 || v.Number > t.p.Blanks.Highest.Number {
			t.p.Blanks.Highest = v
		}
	}
	if d, err := stats.BlankDetectionLimit(measured); err == nil && t.scales {
		t.p.Blanks.Limit = &d
	}
	return nil
}
