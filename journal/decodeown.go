package journal

import (
	"slices"

	"wj/journal/frontmatter"
	"wj/water"
)

// What single types do when they are decoded that the tables cannot say.

// An owner may be written as its id alone; the newest is whose water it is now.
func (o *SiteOwner) setScalar(x *decoder, node int32) bool {
	if x.d.Nodes[node].Kind == frontmatter.Scalar {
		o.Owner = x.text(node)
	}
	return true
}

func (s *Site) finish(water.ID) {
	slices.SortStableFunc(s.Owners, func(a, b SiteOwner) int { return a.Since.Compare(b.Since) })
	if n := len(s.Owners); n > 0 {
		s.Owner = s.Owners[n-1].Owner
	}
}

func (a *Addition) setKey(key []byte) (water.ID, bool) { a.Substance = string(key); return 0, true }

func (a *Addition) setScalar(x *decoder, node int32) bool { a.Amount = x.quantity(node); return true }

// A target may hold the mash pH, which is shown as pH.
func (r *Range) setKey(key []byte) (id water.ID, ok bool) {
	r.Weight = 1
	if r.Mash = string(key) == "mash_pH"; r.Mash {
		r.Analyte = water.PHValue
		return r.Analyte, true
	}
	r.Analyte, ok = lookupBytes(key)
	return r.Analyte, ok
}

func (e *Expected) setKey(key []byte) (id water.ID, ok bool) {
	e.Name, ok = lookupBytes(key)
	return e.Name, ok
}

func (e *Expected) setScalar(x *decoder, node int32) bool {
	b := x.bounded(node, e.Name)
	e.Value = b.Quantity
	return b.Set
}

// take reads the range: its lowest and its highest value.
func (m *Measures) take(x *decoder, _ string, node int32, id water.ID) {
	n := 0
	x.items(node, func(item int32) {
		if b := x.bounded(item, id); n == 0 {
			m.Low = b
		} else {
			m.High = b
		}
		n++
	})
}

func (m *Measures) finish(id water.ID) {
	if m.Resolution.Set {
		m.Accuracy.Resolution = step(m.Resolution.Quantity, id)
	}
}

// step is a display's resolution in the analyte's standard unit.
func step(q water.Quantity, id water.ID) float64 {
	if q.Unit.Family() == water.Temperature {
		return q.Value * q.Unit.Scale()
	}
	return id.Info().Standard(q)
}

func (x *decoder) units(i int32) map[water.ID]water.Unit {
	m := map[water.ID]water.Unit{}
	x.each(i, func(key []byte, c int32) {
		id, ok := lookupBytes(key)
		u, known := water.ParseUnit(x.fresh(c))
		if ok && known && id.Info().FitUnit(u) == nil {
			m[id] = u
		}
	})
	return m
}

func (x *decoder) unitList(i int32) (list []water.Unit) {
	x.items(i, func(item int32) {
		if u, ok := water.ParseUnit(x.fresh(item)); ok {
			list = append(list, u)
		}
	})
	return list
}
