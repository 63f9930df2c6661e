package journal

import (
	"time"

	"wj/journal/frontmatter"
	"wj/water"
)

// decoder takes typed values out of a document. It skips what it cannot read:
// Check has said what is wrong there. Strings are interned, so that a hundred
// thousand sessions share one copy of each site and person.
type decoder struct {
	d      *frontmatter.Document
	intern map[string]string
}

func newDecoder() *decoder { return &decoder{intern: make(map[string]string, 64)} }

// text is the interned text of a scalar.
func (x *decoder) text(i int32) string {
	b := x.d.Bytes(i)
	if s, ok := x.intern[string(b)]; ok {
		return s
	}
	s := string(b)
	if len(x.intern) < 1<<16 {
		x.intern[s] = s
	}
	return s
}

// fresh is the text of a scalar that is seldom repeated.
func (x *decoder) fresh(i int32) string { return x.d.Text(i) }

func (x *decoder) each(i int32, f func(key []byte, child int32)) {
	if x.d.Nodes[i].Kind != frontmatter.Mapping {
		return
	}
	for c := x.d.Nodes[i].First; c != 0; c = x.d.Nodes[c].Next {
		f(x.d.KeyBytes(c), c)
	}
}

// count is how many entries a mapping or list has.
func (x *decoder) count(i int32) (n int) {
	for c := x.d.Nodes[i].First; c != 0; c = x.d.Nodes[c].Next {
		n++
	}
	return n
}

// items calls f for each item of a list, or once for a single value.
func (x *decoder) items(i int32, f func(item int32)) {
	if x.d.Nodes[i].Kind != frontmatter.Sequence {
		f(i)
		return
	}
	for c := x.d.Nodes[i].First; c != 0; c = x.d.Nodes[c].Next {
		f(c)
	}
}

func (x *decoder) texts(i int32) []string {
	var out []string
	x.items(i, func(item int32) { out = append(out, x.text(item)) })
	return out
}

func (x *decoder) date(i int32) time.Time  { t, _ := ParseDate(x.fresh(i)); return t }
func (x *decoder) month(i int32) time.Time { t, _ := ParseMonth(x.fresh(i)); return t }
func (x *decoder) time(i int32) time.Time  { t, _ := ParseTime(x.fresh(i)); return t }

func (x *decoder) dateOrTime(i int32) time.Time {
	if t, err := ParseTime(x.fresh(i)); err == nil {
		return t
	}
	return x.date(i)
}

func (x *decoder) number(i int32) float64 { v, _ := parsePlain(x.fresh(i)); return v }
func (x *decoder) integer(i int32) int    { n, _ := digits(x.fresh(i)); return n }
func (x *decoder) flag(i int32) bool      { return string(x.d.Bytes(i)) == "true" }

func (x *decoder) quantity(i int32) water.Quantity {
	q, err := water.ParseQuantity(x.fresh(i))
	if err != nil {
		return water.Quantity{}
	}
	return q
}

func (x *decoder) duration(i int32) time.Duration {
	q := x.quantity(i)
	s, err := q.In(water.Second)
	if err != nil {
		return 0
	}
	return time.Duration(s * float64(time.Second))
}

// bounded is a quantity that fits the analyte.
func (x *decoder) bounded(i int32, id water.ID) Bounded {
	q, err := water.ParseQuantity(x.fresh(i))
	if err != nil || id.Info().Fit(q) != nil {
		return Bounded{}
	}
	return Bounded{q, true}
}

func (x *decoder) place(i int32) Place {
	var v [2]float64
	n := 0
	x.items(i, func(item int32) {
		if n < 2 {
			v[n] = x.number(item)
		}
		n++
	})
	return Place{v[0], v[1], n == 2}
}

func (x *decoder) dictionary(i int32) map[string]string {
	m := map[string]string{}
	x.each(i, func(_ []byte, c int32) { m[x.d.Key(c)] = x.fresh(c) })
	return m
}

func (x *decoder) analytes(i int32) []water.ID {
	var ids []water.ID
	x.items(i, func(item int32) {
		if id, ok := water.Lookup(x.fresh(item)); ok {
			ids = append(ids, id)
		}
	})
	return ids
}

func (x *decoder) mark(i int32) *Mark {
	m := &Mark{}
	x.each(i, func(key []byte, c int32) {
		switch string(key) {
		case "by":
			m.By = x.text(c)
		case "on":
			m.On = x.dateOrTime(c)
		case "reason":
			m.Reason = x.fresh(c)
		}
	})
	return m
}

// common takes the fields that every record may have.
func (x *decoder) common(r *Record, key []byte, c int32) {
	switch string(key) {
	case "amended":
		x.items(c, func(item int32) {
			var a Amendment
			x.each(item, func(key []byte, c int32) {
				switch string(key) {
				case "key":
					a.Key = x.fresh(c)
				case "was":
					a.Was = x.fresh(c)
				case "by":
					a.By = x.text(c)
				case "on":
					a.On = x.time(c)
				case "reason":
					a.Reason = x.fresh(c)
				}
			})
			r.Amended = append(r.Amended, a)
		})
	case "void":
		r.Void = x.mark(c)
	case "ignore":
		r.Ignore = x.dictionary(c)
	case "attachments":
		r.Attachments = x.dictionary(c)
	case "note":
		r.Note = x.fresh(c)
	}
}

// session fills s, which keeps its memory from the session before.
func (x *decoder) session(s *Session) {
	readings := s.Readings[:0]
	*s = Session{Record: Record{Kind: s.Kind, ID: s.ID, Path: s.Path}, Source: SourceBench, Sample: SampleRoutine}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "site":
			s.Site = x.text(c)
		case "sampled":
			s.Sampled, _ = parseTimeBytes(x.d.Bytes(c))
		case "tested":
			s.Tested, _ = parseTimeBytes(x.d.Bytes(c))
		case "by":
			s.By = x.text(c)
		case "recorded_by":
			s.RecordedBy = x.text(c)
		case "instrument":
			s.Instrument = x.text(c)
		case "place":
			s.Place = x.place(c)
		case "source":
			s.Source = x.text(c)
		case "laboratory":
			s.Laboratory = x.text(c)
		case "sample":
			s.Sample = x.text(c)
		case "standard":
			s.Standard = x.quantities(c)
		case "standard_lot":
			s.StandardLot = x.text(c)
		case "duplicate_of":
			s.DuplicateOf = x.fresh(c)
		case "change":
			s.Change = x.text(c)
		case "batch":
			s.Batch = x.text(c)
		case "readings":
			if x.d.Nodes[c].Kind == frontmatter.Mapping {
				if n := x.count(c); n > cap(readings) {
					readings = make([]Reading, 0, n)
				}
				for r := x.d.Nodes[c].First; r != 0; r = x.d.Nodes[r].Next {
					if id, ok := lookupBytes(x.d.KeyBytes(r)); ok && id < water.NumAnalytes {
						readings = append(readings, Reading{})
						x.reading(&readings[len(readings)-1], id, r)
					}
				}
			}
		default:
			x.common(&s.Record, key, c)
		}
	})
	s.Readings = readings
}

// head fills h as session would fill a Session.
func (x *decoder) head(h *SessionHead) {
	*h = SessionHead{Source: SourceBench, Sample: SampleRoutine}
	d := x.d
	for c := d.Nodes[0].First; c != 0; c = d.Nodes[c].Next {
		switch string(d.KeyBytes(c)) {
		case "site":
			h.Site = x.text(c)
		case "sampled":
			h.Sampled, _ = parseTimeBytes(d.Bytes(c))
		case "by":
			h.By = x.text(c)
		case "source":
			h.Source = x.text(c)
		case "sample":
			h.Sample = x.text(c)
		case "void":
			h.Void = x.mark(c)
		case "readings":
			if d.Nodes[c].Kind != frontmatter.Mapping {
				continue
			}
			for r := d.Nodes[c].First; r != 0; r = d.Nodes[r].Next {
				if id, ok := lookupBytes(d.KeyBytes(r)); ok && id < water.NumAnalytes {
					h.Readings++
				}
			}
		}
	}
}

func parseTimeBytes(b []byte) (time.Time, error) { return ParseTime(string(b)) }

func lookupBytes(b []byte) (water.ID, bool) { return water.Lookup(string(b)) }

func (x *decoder) quantities(i int32) map[water.ID]water.Quantity {
	m := map[water.ID]water.Quantity{}
	x.each(i, func(key []byte, c int32) {
		if id, ok := lookupBytes(key); ok {
			if b := x.bounded(c, id); b.Set {
				m[id] = b.Quantity
			}
		}
	})
	return m
}

func (x *decoder) reading(r *Reading, id water.ID, node int32) {
	r.Analyte, r.Dilution = id, 1
	if x.d.Nodes[node].Kind != frontmatter.Mapping {
		x.readingValue(r, node)
		return
	}
	valued := false
	for c := x.d.Nodes[node].First; c != 0; c = x.d.Nodes[c].Next {
		switch string(x.d.KeyBytes(c)) {
		case "value":
			x.readingValue(r, c)
			valued = true
		case "lot":
			r.Lot = x.text(c)
		case "dilution":
			if v, ok := parsePlain(x.text(c)); ok && v > 0 {
				r.Dilution = v
			} else {
				r.Faulty = true
			}
		case "tests":
			r.Tests = x.integer(c)
		case "instrument":
			r.Instrument = x.text(c)
		case "method":
			r.Method = x.text(c)
		case "tested":
			r.Tested = x.time(c)
		case "temperature":
			r.Temperature = x.quantity(c)
		case "note":
			r.Note = x.fresh(c)
		default:
			// An unknown key beside the value may be the rest of a decimal comma.
			r.Faulty = true
		}
	}
	r.Faulty = r.Faulty || !valued
}

// readingValue takes a quantity or a list of replicates. A unit that does not
// fit makes the reading faulty: it is never a number.
func (x *decoder) readingValue(r *Reading, node int32) {
	info := r.Analyte.Info()
	first := true
	one := func(i int32) {
		q, err := parseQuantityBytes(x.d.Bytes(i))
		if err != nil || info.Fit(q) != nil {
			r.Faulty = true
			return
		}
		if first {
			r.First, first = q, false
			return
		}
		r.More = append(r.More, q)
	}
	if x.d.Nodes[node].Kind != frontmatter.Sequence {
		one(node)
		return
	}
	for c := x.d.Nodes[node].First; c != 0; c = x.d.Nodes[c].Next {
		one(c)
	}
	r.Faulty = r.Faulty || first
}

func parseQuantityBytes(b []byte) (water.Quantity, error) { return water.ParseQuantity(string(b)) }
