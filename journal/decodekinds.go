package journal

import (
	"slices"

	"wj/journal/frontmatter"
	"wj/water"
)

// decode makes a record of the kind from the document.
func (x *decoder) decode(base Record) Any {
	switch base.Kind {
	case KindPerson:
		return x.person(base)
	case KindOwner:
		return x.owner(base)
	case KindSite:
		return x.site(base)
	case KindLot:
		return x.lot(base)
	case KindInstrument:
		return x.instrument(base)
	case KindMethod:
		return x.method(base)
	case KindSession:
		s := &Session{Record: base}
		x.session(s)
		return s
	case KindTarget:
		return x.target(base)
	case KindChange:
		return x.change(base)
	case KindSignoff:
		return x.signoff(base)
	case KindBatch:
		return x.batch(base)
	case KindEvent:
		return x.event(base)
	case KindAction:
		return x.action(base)
	case KindReport:
		return x.report(base)
	case KindAnchor:
		return x.anchor(base)
	}
	return &base
}

func (x *decoder) person(base Record) *Person {
	p := &Person{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "name":
			p.Name = x.fresh(c)
		case "email":
			p.Email = x.texts(c)
		case "roles":
			x.items(c, func(item int32) {
				var r Role
				x.each(item, func(key []byte, c int32) {
					switch string(key) {
					case "role":
						r.Role = x.text(c)
					case "methods":
						r.Methods = x.texts(c)
					case "owners":
						r.Owners = x.texts(c)
					case "kinds":
						r.Kinds = x.texts(c)
					default:
						x.span(&r.Span, key, c)
					}
				})
				p.Roles = append(p.Roles, r)
			})
		case "keys":
			x.items(c, func(item int32) {
				var k Key
				x.each(item, func(key []byte, c int32) {
					switch string(key) {
					case "key":
						k.Key = x.fresh(c)
					case "revoked":
						k.Revoked = x.mark(c)
					default:
						x.span(&k.Span, key, c)
					}
				})
				p.Keys = append(p.Keys, k)
			})
		default:
			if !x.span(&p.Span, key, c) {
				x.common(&p.Record, key, c)
			}
		}
	})
	return p
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

func (x *decoder) owner(base Record) *Owner {
	o := &Owner{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "name":
			o.Name = x.fresh(c)
		case "email":
			o.Email = x.texts(c)
		case "units":
			o.Units = x.units(c)
		case "self":
			o.Self = x.flag(c)
		default:
			if !x.span(&o.Span, key, c) {
				x.common(&o.Record, key, c)
			}
		}
	})
	return o
}

func (x *decoder) siteOwners(s *Site, c int32) {
	x.items(c, func(item int32) {
		o := SiteOwner{}
		if x.d.Nodes[item].Kind == frontmatter.Scalar {
			o.Owner = x.text(item)
		}
		x.each(item, func(key []byte, c int32) {
			if string(key) == "owner" {
				o.Owner = x.text(c)
				return
			}
			x.span(&o.Span, key, c)
		})
		s.Owners = append(s.Owners, o)
	})
	slices.SortStableFunc(s.Owners, func(a, b SiteOwner) int { return a.Since.Compare(b.Since) })
	if n := len(s.Owners); n > 0 {
		s.Owner = s.Owners[n-1].Owner
	}
}

func (x *decoder) anchor(base Record) *Anchor {
	a := &Anchor{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "by":
			a.By = x.text(c)
		case "on":
			a.On = x.time(c)
		case "commit":
			a.Commit = x.text(c)
		case "journal":
			a.Journal = x.text(c)
		case "files":
			a.Count = x.integer(c)
		case "before":
			a.Before = x.dictionary(c)
		default:
			x.common(&a.Record, key, c)
		}
	})
	return a
}

func (x *decoder) site(base Record) *Site {
	s := &Site{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "name":
			s.Name = x.fresh(c)
		case "owner":
			x.siteOwners(s, c)
		case "stage":
			s.Stage = x.text(c)
		case "fed_by":
			s.FedBy = x.texts(c)
		case "place":
			s.Place = x.place(c)
		case "capacity":
			s.Capacity = x.quantity(c)
		case "radius":
			s.Radius, _ = x.quantity(c).In(water.Metre)
		case "schedule":
			x.items(c, func(item int32) {
				var sc Schedule
				x.each(item, func(key []byte, c int32) {
					switch string(key) {
					case "every":
						sc.Every = x.duration(c)
					case "analytes":
						sc.Analytes = x.analytes(c)
					default:
						x.span(&sc.Span, key, c)
					}
				})
				s.Schedule = append(s.Schedule, sc)
			})
		case "limits":
			s.Limits = x.limits(c)
		case "supply":
			x.items(c, func(item int32) {
				var p Supply
				x.each(item, func(key []byte, c int32) {
					switch string(key) {
					case "regime":
						p.Regime = x.text(c)
					case "evidence":
						p.Evidence = x.fresh(c)
					default:
						x.span(&p.Span, key, c)
					}
				})
				s.Supply = append(s.Supply, p)
			})
		default:
			if !x.span(&s.Span, key, c) {
				x.common(&s.Record, key, c)
			}
		}
	})
	return s
}

func (x *decoder) limits(i int32) map[water.ID]Limit {
	m := map[water.ID]Limit{}
	x.each(i, func(key []byte, c int32) {
		id, ok := lookupBytes(key)
		if !ok {
			return
		}
		var l Limit
		x.each(c, func(key []byte, c int32) {
			switch string(key) {
			case "min":
				l.Min = x.bounded(c, id)
			case "max":
				l.Max = x.bounded(c, id)
			case "source":
				l.Source = x.fresh(c)
			case "reason":
				l.Reason = x.fresh(c)
			case "action":
				l.Action = x.fresh(c)
			case "severity":
				l.Severity = x.text(c)
			case "since":
				l.Since = x.date(c)
			}
		})
		m[id] = l
	})
	return m
}

func (x *decoder) lot(base Record) *Lot {
	l := &Lot{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "analyte":
			l.Analytes = x.analytes(c)
		case "substance":
			l.Substance = x.text(c)
		case "standard":
			l.Standard = x.quantities(c)
		case "expires":
			l.Expires = x.month(c)
		case "received":
			l.Received = x.date(c)
		case "opened":
			l.Opened = x.date(c)
		case "finished":
			l.Finished = x.date(c)
		case "tests":
			l.Tests = x.integer(c)
		case "losses":
			l.Losses = x.integer(c)
		case "amount":
			l.Amount = x.quantity(c)
		case "assay":
			l.Assay = x.quantity(c)
		case "strength":
			l.Strength = x.fresh(c)
		case "grade":
			l.Grade = x.fresh(c)
		case "price":
			l.Price = x.fresh(c)
		case "supplier":
			l.Supplier = x.fresh(c)
		case "recalled":
			l.Recalled = x.mark(c)
		default:
			x.common(&l.Record, key, c)
		}
	})
	return l
}

func (x *decoder) instrument(base Record) *Instrument {
	in := &Instrument{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "name":
			in.Name = x.fresh(c)
		case "serial":
			in.Serial = x.fresh(c)
		case "sort":
			in.Sort = x.text(c)
		case "measures":
			in.Measures = x.measures(c)
		case "resolution":
			in.Resolution = x.quantity(c)
		default:
			if !x.span(&in.Span, key, c) {
				x.common(&in.Record, key, c)
			}
		}
	})
	return in
}

func (x *decoder) measures(i int32) map[water.ID]*Measures {
	m := map[water.ID]*Measures{}
	x.each(i, func(key []byte, c int32) {
		id, ok := lookupBytes(key)
		if !ok {
			return
		}
		out := &Measures{}
		x.each(c, func(key []byte, c int32) {
			switch string(key) {
			case "units":
				x.items(c, func(item int32) {
					if u, ok := water.ParseUnit(x.fresh(item)); ok {
						out.Units = append(out.Units, u)
					}
				})
			case "range":
				n := 0
				x.items(c, func(item int32) {
					if b := x.bounded(item, id); n == 0 {
						out.Low = b
					} else {
						out.High = b
					}
					n++
				})
			case "resolution":
				out.Resolution = x.bounded(c, id)
			case "accuracy":
				if a, err := ParseAccuracy(x.fresh(c), id); err == nil {
					out.Accuracy, out.HasAccuracy = a, true
				}
			case "repeatability":
				out.Repeatability, _ = ParseAccuracy(x.fresh(c), id)
			case "method":
				out.Method = x.text(c)
			}
		})
		if out.Resolution.Set {
			out.Accuracy.Resolution = step(out.Resolution.Quantity, id)
		}
		m[id] = out
	})
	return m
}

// step is a display's resolution in the analyte's standard unit.
func step(q water.Quantity, id water.ID) float64 {
	if q.Unit.Family() == water.Temperature {
		return q.Value * q.Unit.Scale()
	}
	return id.Info().Standard(q)
}

func (x *decoder) method(base Record) *Method {
	m := &Method{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "name":
			m.Name = x.fresh(c)
		case "principle":
			m.Principle = x.fresh(c)
		case "analyte":
			m.Analytes = x.analytes(c)
		case "measures":
			m.Measures = x.measures(c)
		case "stale_after":
			m.StaleAfter = x.duration(c)
		case "steps":
			x.items(c, func(item int32) {
				var s Step
				x.each(item, func(key []byte, c int32) {
					switch string(key) {
					case "do":
						s.Do = x.fresh(c)
					case "wait":
						s.Wait = x.duration(c)
					case "mix":
						s.Mix = x.duration(c)
					}
				})
				m.Steps = append(m.Steps, s)
			})
		case "interferences":
			x.items(c, func(item int32) {
				var f Interference
				x.each(item, func(key []byte, c int32) {
					switch string(key) {
					case "analyte":
						f.Analyte, f.HasAnalyte = water.Lookup(x.fresh(c))
					case "above":
						f.Above = x.quantity(c)
					case "effect":
						f.Effect = x.fresh(c)
					case "remedy":
						f.Remedy = x.fresh(c)
					}
				})
				m.Interferences = append(m.Interferences, f)
			})
		default:
			if !x.span(&m.Span, key, c) {
				x.common(&m.Record, key, c)
			}
		}
	})
	return m
}
