package query

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
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
	Name    string   // of the value, or the expression
	Analyte water.ID // NumNames for an expression
	Unit    water.Unit
	Points  []Point

	// The site's sessions that have no point: without a reading that the value needs, with a bound that does not carry
	// through its derivation, void, with a reading that could not be read.
	NoReading, Censored, Void, Faulty int
	// Others are the sessions that have a reading of the value, but of a kind of sample that was not asked for.
	Others int
}

// Floor is the least that the value can be: 0 for a concentration that is read, minus infinity for what is a
// logarithm, a temperature, a difference or computed.
func (s *Series) Floor() float64 { return floorOf(s.Analyte) }

// SeriesRequest says which values at which sites are wanted.
type SeriesRequest struct {
	Sites    []string // none: every site of the journal
	Analytes []water.ID
	Values   []string                // after them: more names, or expressions over them, such as salt_passage
	Units    map[water.ID]water.Unit // the standard unit where absent
	// Samples are the kinds of sample that count; none: judge.SeriesSamples, the site's water once.
	Samples      []string
	Sources      []string // bench, lab, utility; none: all
	Since, Until time.Time
}

// History is the series of one value at one site. The value is a name, or an expression over names such as
// "sulfate / chloride", in the unit of q.Units for a name and in its own for an expression.
func History(j *journal.Journal, site, value string, q SeriesRequest) (*Series, error) {
	q.Sites, q.Analytes, q.Values = []string{site}, nil, []string{value}
	all, err := Histories(j, q)
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// Histories reads the sessions once and returns a series for each site and value, sites in the order asked for,
// values in the order asked for within each.
func Histories(j *journal.Journal, q SeriesRequest) ([]*Series, error) {
	var list []wanted
	for _, id := range q.Analytes {
		w, err := q.name(id)
		if err != nil {
			return nil, err
		}
		list = append(list, w)
	}
	for _, value := range q.Values {
		w, err := q.value(value)
		if err != nil {
			return nil, err
		}
		list = append(list, w)
	}
	return histories(j, q, list)
}

// name is an analyte or a derived value, in the unit asked for.
func (q *SeriesRequest) name(id water.ID) (wanted, error) {
	if id >= water.NumNames {
		return wanted{}, fmt.Errorf("read the history of %s: there is no such value", id)
	}
	unit, ok := q.Units[id]
	if !ok {
		unit = id.Info().Unit
	}
	way, err := conversion(water.SetOf(id), id.Info().Unit, unit)
	if err != nil {
		return wanted{}, fmt.Errorf("read the history of %s: %w", id, err)
	}
	return wanted{name: id.String(), id: id, unit: unit, way: way}, nil
}

// value is a name or an expression.
func (q *SeriesRequest) value(text string) (wanted, error) {
	if id, ok := water.Lookup(text); ok {
		return q.name(id)
	}
	column, err := compileColumn(text, nil)
	if err != nil {
		return wanted{}, err
	}
	if !column.Number {
		return wanted{}, errorAt(text, 0, "this is no number, and has no history", "name a value such as sulfate, or compute one: sulfate / chloride")
	}
	return wanted{name: text, id: water.NumNames, unit: column.Unit, column: column}, nil
}

// wanted is one value of which a history is wanted; column is set for an expression.
type wanted struct {
	name   string
	id     water.ID
	unit   water.Unit
	way    affine
	column *Column
}

func histories(j *journal.Journal, q SeriesRequest, list []wanted) ([]*Series, error) {
	sites := q.Sites
	if len(sites) == 0 {
		sites = j.IDs(journal.KindSite)
	}
	place := map[string]int{}
	for i, site := range sites {
		if !j.Exists(journal.KindSite, site) {
			_, err := j.ID(site, journal.KindSite)
			return nil, fmt.Errorf("read the history of %q: %w", shorten(site), err)
		}
		place[site] = i * len(list)
	}
	if len(q.Samples) == 0 {
		q.Samples = judge.SeriesSamples()
	}

	workers := make([]*seriesWorker, workerCount())
	now, shared := time.Now(), &feeds{}
	eachSession(j, func(worker int, s *journal.Session) {
		w := workers[worker]
		if w == nil {
			w = &seriesWorker{row: newRow(j, now), series: make([]Series, len(sites)*len(list))}
			w.row.feeds = shared
			workers[worker] = w
		}
		if s == nil || !q.wants(s) {
			return
		}
		first, ok := place[s.Site]
		if !ok {
			return
		}
		w.row.set(s)
		for i := range list {
			series := &w.series[first+i]
			if slices.Contains(q.Samples, s.Sample) {
				w.row.add(series, &list[i])
			} else if s.Void == nil && w.row.has(&list[i]) {
				series.Others++
			}
		}
	})
	all := make([]*Series, 0, len(sites)*len(list))
	for i, site := range sites {
		for k := range list {
			one := &Series{Site: site, Name: list[k].name, Analyte: list[k].id, Unit: list[k].unit}
			for _, w := range workers {
				if w != nil {
					one.merge(&w.series[i*len(list)+k])
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
	s.Others += t.Others
}

func (q *SeriesRequest) wants(s *journal.Session) bool {
	return (len(q.Sources) == 0 || slices.Contains(q.Sources, s.Source)) &&
		!s.Sampled.IsZero() && (q.Since.IsZero() || !s.Sampled.Before(q.Since)) && (q.Until.IsZero() || s.Sampled.Before(q.Until))
}

// has says whether the session says something of the value: a reading of it, or of what is derived or computed.
func (r *row) has(w *wanted) bool {
	if w.column != nil {
		return !r.cell(w.column).Missing
	}
	return r.reading(w.id) != nil
}

// add appends the session's value to the series, or counts why there is none.
func (r *row) add(series *Series, w *wanted) {
	g := r.reading(w.id)
	switch {
	case r.s.Void != nil:
		series.Void++
		return
	case g != nil && g.Faulty:
		series.Faulty++
		return
	}
	n := nothing(isAbsent)
	if w.column != nil {
		n = w.column.o.num(r)
	} else {
		n = r.number(w.id)
	}
	switch n.k {
	case isCensored:
		series.Censored++
		return
	case isFaulty:
		series.Faulty++
		return
	case isAbsent:
		series.NoReading++
		return
	}
	p := Point{Session: r.s.ID, Path: r.s.Path, Sampled: r.s.Sampled, Regime: textFields["regime"](r), Source: r.s.Source, Sample: r.s.Sample,
		By: r.s.By, Instrument: r.s.Instrument}
	if w.column != nil {
		cell := r.cell(w.column)
		p.Value, p.Bound, p.U, p.Derived = cell.Value, cell.Bound, cell.U, true
		series.Points = append(series.Points, p)
		return
	}
	r.fill(withUncertainty)
	v, err := r.a.Value(w.id)
	if err != nil {
		series.NoReading++
		return
	}
	p.Value, p.Bound, p.U, p.Derived = w.way.apply(n).v, v.Bound, v.U*w.way.factor, v.Derived
	if m, ok := r.a.Measured(w.id); ok {
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

// Remarks says whether somebody wrote something about a session: a text below its front matter, its note, or the
// note of its reading of the value.
func Remarks(j *journal.Journal, s *journal.Session, id water.ID) bool {
	r := newRow(j, time.Time{})
	r.set(s)
	g := r.reading(id)
	return s.Note != "" || g != nil && g.Note != "" || len(bytes.TrimSpace(r.text())) > 0
}
