package query

import (
	"bytes"
	"io/fs"
	"math"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
)

// row is the session that a worker looks at, with what was computed of it so far. Every worker has one and moves
// it from session to session.
type row struct {
	j    *journal.Journal
	zone *time.Location
	now  time.Time

	s      *journal.Session
	filled filling
	a      water.Analysis
	fed    []fed // what the session's values were compared with so far
	feeds  *feeds
	moved  *water.Analysis // while an uncertainty is computed: the analysis with one reading moved

	periods map[string]period
	day     struct {
		at      time.Time
		y, m, d int
	}

	doc      frontmatter.Document
	buf      []byte
	body     []byte
	bodyRead bool
}

// filling says what the analysis holds of the session.
type filling uint8

const (
	empty      filling = iota
	valuesOnly         // without uncertainties, which cost more
	withUncertainty
)

func newRow(j *journal.Journal, now time.Time) *row {
	zone := j.Settings.Zone
	if zone == nil {
		zone = time.UTC
	}
	return &row{j: j, zone: zone, now: now, feeds: &feeds{}, periods: map[string]period{}}
}

func (r *row) set(s *journal.Session) {
	r.s, r.filled, r.moved, r.bodyRead, r.fed = s, empty, nil, false, nil
}

func (r *row) fill(level filling) {
	if r.filled >= level {
		return
	}
	r.filled = level
	if level == withUncertainty {
		r.j.Analysis(r.s, &r.a)
	} else {
		journal.Values(r.s, &r.a)
	}
}

// derivable has a bit for each name that can be computed from others.
var derivable = func() (set water.Set) {
	for _, id := range water.DerivedNames() {
		set.Add(id)
	}
	return set
}()

// reading finds the session's reading without copying it; nil if there is none.
func (r *row) reading(id water.ID) *journal.Reading {
	for i := range r.s.Readings {
		if r.s.Readings[i].Analyte == id {
			return &r.s.Readings[i]
		}
	}
	return nil
}

// number is the value of a name in its standard unit.
func (r *row) number(id water.ID) num {
	if r.moved != nil {
		return r.computed(r.moved, id)
	}
	if reading := r.reading(id); reading != nil {
		if reading.Faulty {
			return nothing(isFaulty)
		}
		v, bound := reading.Result()
		if info := id.Info(); reading.First.Unit != info.Unit {
			v = info.Standard(water.Quantity{Value: v, Unit: reading.First.Unit})
		}
		n := exact(v)
		if n.k == isExact {
			n.k = known(bound)
		}
		return n
	}
	if !derivable.Has(id) {
		return nothing(isAbsent)
	}
	r.fill(valuesOnly)
	return r.computed(&r.a, id)
}

// computed is the value of a name in an analysis, measured or derived.
func (r *row) computed(a *water.Analysis, id water.ID) num {
	if m, ok := a.Measured(id); ok {
		n := exact(m.Value)
		if n.k == isExact {
			n.k = known(m.Bound)
		}
		return n
	}
	if n := exact(a.Number(id)); n.k == isExact {
		return n
	}
	if !anyBound(a) {
		return nothing(isAbsent)
	}
	if v, err := a.Value(id); err == nil {
		return num{v.Value, known(v.Bound)}
	}
	// Would there be a value if the bounds were numbers? Then it is censored, else absent.
	b := *a
	for i := water.ID(0); i < water.NumAnalytes; i++ {
		if m, ok := b.Measured(i); ok {
			m.Bound = water.Exact
			b.Set(i, m)
		}
	}
	if exact(b.Number(id)).k == isExact {
		return nothing(isCensored)
	}
	return nothing(isAbsent)
}

func anyBound(a *water.Analysis) bool {
	for i := water.ID(0); i < water.NumAnalytes; i++ {
		if m, ok := a.Measured(i); ok && m.Bound != water.Exact {
			return true
		}
	}
	return false
}

// spread is the standard uncertainty of f, which depends on the names of the set.
func (r *row) spread(uses water.Set, f func(*row) num) float64 {
	r.fill(withUncertainty)
	var from []water.ID
	var seen water.Set
	for id := range uses.All() {
		v, err := r.a.Value(id)
		if err != nil {
			continue
		}
		for _, source := range v.From {
			if !seen.Has(source) && r.a.Has(source) {
				seen.Add(source)
				from = append(from, source)
			}
		}
	}
	u := r.spreadOfFeed(f)
	if len(from) == 0 {
		return u
	}
	own := r.a.Spread(from, func(b *water.Analysis) float64 {
		r.moved = b
		return f(r).v
	})
	r.moved = nil
	return math.Hypot(own, u)
}

// local is a moment's date in the journal's time zone.
func (r *row) date(at time.Time) (y, m, d int) {
	if !r.day.at.Equal(at) || r.day.at.IsZero() {
		yy, mm, dd := at.In(r.zone).Date()
		r.day.at, r.day.y, r.day.m, r.day.d = at, yy, int(mm), dd
	}
	return r.day.y, r.day.m, r.day.d
}

// site is the session's site, nil where the journal does not have it.
func (r *row) site() *journal.Site {
	s, ok := r.j.Sites.Get(r.s.Site)
	if !ok {
		return nil
	}
	return s
}

func (r *row) tested(reading *journal.Reading) time.Time {
	for _, at := range []time.Time{reading.Tested, r.s.Tested} {
		if !at.IsZero() {
			return at
		}
	}
	return r.s.Sampled
}

// recalled and expired are answers about a reading's lot; absent where it names none, or one that is not there.
func (r *row) recalled(reading *journal.Reading) verdict {
	lot, ok := r.j.Lots.Get(reading.Lot)
	if !ok {
		return absent
	}
	return truth(lot.Recalled != nil)
}

func (r *row) expired(reading *journal.Reading) verdict {
	lot, ok := r.j.Lots.Get(reading.Lot)
	if !ok {
		return absent
	}
	if lot.Expires.IsZero() {
		return no
	}
	// A lot is good until the end of its last day, in the journal's time zone.
	y, m, d := r.tested(reading).In(r.zone).Date()
	return truth(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).After(lot.Expires))
}

// intoBuffer is a file system that can read a file into a kept buffer.
type intoBuffer interface {
	ReadInto(name string, buf []byte) ([]byte, error)
}

// text is the free Markdown of the session's file. It is read anew, and only by an expression that asks for it.
func (r *row) text() []byte {
	if r.bodyRead {
		return r.body
	}
	r.bodyRead, r.body = true, nil
	var src []byte
	var err error
	if direct, ok := r.j.FS.(intoBuffer); ok {
		if src, err = direct.ReadInto(r.s.Path, r.buf[:0]); err == nil {
			r.buf = src
		}
	} else {
		src, err = fs.ReadFile(r.j.FS, r.s.Path)
	}
	if err == nil {
		r.doc.Parse(src)
		r.body = src[min(r.doc.Body, len(src)):]
	}
	return r.body
}

// mentions looks for words in the body, in the record's note and in the notes of its readings, without regard to
// case. want is in small letters.
func (r *row) mentions(want []byte) bool {
	if bytes.Contains(bytes.ToLower(r.text()), want) || bytes.Contains(bytes.ToLower([]byte(r.s.Note)), want) {
		return true
	}
	for i := range r.s.Readings {
		if note := r.s.Readings[i].Note; note != "" && bytes.Contains(bytes.ToLower([]byte(note)), want) {
			return true
		}
	}
	return false
}
