package query

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// Point is one value of a series.
type Point struct {
	Session string // id of the session
	Path    string
	Sampled time.Time
	Value   float64 // in the series' unit; of a bound, the bound
	Bound   water.Bound
	U       float64 // standard uncertainty in the series' unit
	Assumed bool    // U is what such a test usually reaches
	Derived bool
	Lot     string // of the reading; "" for a derived value
	Regime  string
	Source  string
	Sample  string
	By      string

	// Instrument is the reading's, else the session's; Diluted and Replicates are the reading's.
	Instrument string
	Diluted    bool
	Replicates int
	Shared     string // as water.Measured: readings with the same name are wrong together
}

// Series is the history of one value at one site, in the order of sampling.
type Series struct {
	Site    string
	Analyte water.ID
	Unit    water.Unit
	Points  []Point

	// The site's sessions that have no point: without a reading that the value needs, with a bound that does not carry
	// through its derivation, void, with a reading that could not be read.
	NoReading, Censored, Void, Faulty int
}

// SeriesRequest says which values at which sites are wanted.
type SeriesRequest struct {
	Sites    []string // none: every site of the journal
	Analytes []water.ID
	Units    map[water.ID]water.Unit // the standard unit where absent
	// Samples are the kinds of sample that count; none: routine and verification, which are the site's water as it
	// was. A duplicate would count one moment twice; a check standard or a blank is not the site's water.
	Samples      []string
	Sources      []string // bench, lab, utility; none: all
	Since, Until time.Time
}

// History is the series of one value at one site, in the value's standard unit.
func History(j *journal.Journal, site string, id water.ID) (*Series, error) {
	all, err := Histories(j, SeriesRequest{Sites: []string{site}, Analytes: []water.ID{id}})
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// Histories reads the sessions once and returns a series for each site and value, sites in the order asked for,
// values in the order asked for within each.
func Histories(j *journal.Journal, q SeriesRequest) ([]*Series, error) {
	sites := q.Sites
	if len(sites) == 0 {
		sites = j.IDs(journal.KindSite)
	}
	ways := make([]affine, len(q.Analytes))
	units := make([]water.Unit, len(q.Analytes))
	for i, id := range q.Analytes {
		if id >= water.NumNames {
			return nil, fmt.Errorf("read the history of %s: there is no such value", id)
		}
		unit, ok := q.Units[id]
		if !ok {
			unit = id.Info().Unit
		}
		way, err := conversion(1<<id, id.Info().Unit, unit)
		if err != nil {
			return nil, fmt.Errorf("read the history of %s: %w", id, err)
		}
		ways[i], units[i] = way, unit
	}
	place := map[string]int{}
	for i, site := range sites {
		if !j.Exists(journal.KindSite, site) {
			help := ""
			if near := water.Nearest(site, j.IDs(journal.KindSite)); near != "" {
				help = "; did you mean " + near + "?"
			}
			return nil, fmt.Errorf("read the history of %q: the journal has no such site%s", shorten(site), help)
		}
		place[site] = i * len(q.Analytes)
	}
	if len(q.Samples) == 0 {
		q.Samples = []string{"routine", "verification"}
	}

	workers := make([]*seriesWorker, workerCount())
	now := time.Now()
	eachSession(j, func(worker int, s *journal.Session) {
		w := workers[worker]
		if w == nil {
			w = &seriesWorker{row: newRow(j, now), series: make([]Series, len(sites)*len(q.Analytes))}
			workers[worker] = w
		}
		if s == nil || !q.wants(s) {
			return
		}
		if first, ok := place[s.Site]; ok {
			w.row.set(s)
			for i, id := range q.Analytes {
				w.row.add(&w.series[first+i], id, ways[i])
			}
		}
	})
	all := make([]*Series, 0, len(sites)*len(q.Analytes))
	for i, site := range sites {
		for k, id := range q.Analytes {
			one := &Series{Site: site, Analyte: id, Unit: units[k]}
			for _, w := range workers {
				if w != nil {
					one.merge(&w.series[i*len(q.Analytes)+k])
				}
			}
			slices.SortFunc(one.Points, func(a, b Point) int {
				if c := a.Sampled.Compare(b.Sampled); c != 0 {
					return c
				}
				return strings.Compare(a.Path, b.Path)
			})
			all = append(all, one)
		}
	}
	return all, nil
}

type seriesWorker struct {
	row    *row
	series []Series
}

func (s *Series) merge(t *Series) {
	s.Points = append(s.Points, t.Points...)
	s.NoReading += t.NoReading
	s.Censored += t.Censored
	s.Void += t.Void
	s.Faulty += t.Faulty
}

func (q *SeriesRequest) wants(s *journal.Session) bool {
	return slices.Contains(q.Samples, s.Sample) && (len(q.Sources) == 0 || slices.Contains(q.Sources, s.Source)) &&
		!s.Sampled.IsZero() && (q.Since.IsZero() || !s.Sampled.Before(q.Since)) && (q.Until.IsZero() || s.Sampled.Before(q.Until))
}

// add appends the session's value to the series, or counts why there is none.
func (r *row) add(series *Series, id water.ID, way affine) {
	g := r.reading(id)
	switch {
	case r.s.Void != nil:
		series.Void++
		return
	case g != nil && g.Faulty:
		series.Faulty++
		return
	}
	n := r.number(id)
	if n.k == isCensored {
		series.Censored++
		return
	}
	if n.k > isCensored {
		series.NoReading++
		return
	}
	r.fill(withUncertainty)
	v, err := r.a.Value(id)
	if err != nil {
		series.NoReading++
		return
	}
	n = way.apply(n)
	p := Point{Session: r.s.ID, Path: r.s.Path, Sampled: r.s.Sampled, Value: n.v, Bound: v.Bound, U: v.U * way.factor, Derived: v.Derived,
		Regime: textFields["regime"](r), Source: r.s.Source, Sample: r.s.Sample, By: r.s.By, Instrument: r.s.Instrument}
	if m, ok := r.a.Measured(id); ok {
		p.Assumed, p.Shared = m.Assumed, m.Shared
	}
	if g != nil {
		p.Lot, p.Replicates, p.Diluted = g.Lot, g.Replicates(), g.Dilution != 1 && g.Dilution != 0
		if g.Instrument != "" {
			p.Instrument = g.Instrument
		}
	}
	series.Points = append(series.Points, p)
}
