package journal

import (
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
					if string(key) == "key" {
						k.Key = x.fresh(c)
						return
					}
					x.span(&k.Span, key, c)
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

func (x *decoder) site(base Record) *Site {
	s := &Site{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "name":
			s.Name = x.fresh(c)
		case "owner":
			s.Owner = x.text(c)
		case "stage":
			s.Stage = x.text(c)
		case "fed_by":
			s.FedBy = x.texts(c)
		case "place":
			s.Place = x.place(c)
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

func (x *decoder) target(base Record) *Target {
	t := &Target{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "name":
			t.Name = x.fresh(c)
		case "owner":
			t.Owner = x.text(c)
		case "ranges":
			x.each(c, func(key []byte, c int32) {
				r := Range{Weight: 1}
				id, ok := lookupBytes(key)
				if string(key) == "mash_pH" {
					id, ok, r.Mash = water.PHValue, true, true
				}
				if !ok {
					return
				}
				r.Analyte = id
				x.each(c, func(key []byte, c int32) {
					switch string(key) {
					case "min":
						r.Min = x.bounded(c, id)
					case "max":
						r.Max = x.bounded(c, id)
					case "aim":
						r.Aim = x.bounded(c, id)
					case "weight":
						r.Weight = x.number(c)
					}
				})
				t.Ranges = append(t.Ranges, r)
			})
		case "grist":
			t.Grist = x.grist(c)
		case "liquor":
			t.Liquor = x.quantity(c)
		default:
			if !x.span(&t.Span, key, c) {
				x.common(&t.Record, key, c)
			}
		}
	})
	return t
}

func (x *decoder) grist(i int32) []Malt {
	var out []Malt
	x.items(i, func(item int32) {
		var m Malt
		x.each(item, func(key []byte, c int32) {
			switch string(key) {
			case "malt":
				m.Malt = x.fresh(c)
			case "mass":
				m.Mass = x.quantity(c)
			case "distilled_pH":
				m.DistilledPH = x.number(c)
			case "buffer":
				m.Buffer = x.number(c)
			}
		})
		out = append(out, m)
	})
	return out
}

func (x *decoder) change(base Record) *Change {
	ch := &Change{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "for":
			ch.For = x.text(c)
		case "author":
			ch.Author = x.text(c)
		case "proposed":
			ch.Proposed = x.date(c)
		case "supersedes":
			ch.Supersedes = x.text(c)
		case "basis":
			x.items(c, func(item int32) {
				var b Basis
				x.each(item, func(key []byte, c int32) {
					switch string(key) {
					case "session":
						b.Session = x.text(c)
					case "share":
						b.Share = x.quantity(c)
					}
				})
				ch.Basis = append(ch.Basis, b)
			})
		case "volume":
			ch.Volume = x.quantity(c)
		case "add":
			ch.Add = x.additions(c)
		case "expect":
			x.each(c, func(key []byte, c int32) {
				if id, ok := lookupBytes(key); ok {
					if b := x.bounded(c, id); b.Set {
						ch.Expect = append(ch.Expect, Expected{id, b.Quantity})
					}
				}
			})
		case "emergency":
			ch.Emergency = x.mark(c)
		default:
			x.common(&ch.Record, key, c)
		}
	})
	return ch
}

func (x *decoder) additions(i int32) []Addition {
	var out []Addition
	x.each(i, func(key []byte, c int32) {
		a := Addition{Substance: string(key)}
		if x.d.Nodes[c].Kind != frontmatter.Mapping {
			a.Amount = x.quantity(c)
		}
		x.each(c, func(key []byte, c int32) {
			switch string(key) {
			case "amount":
				a.Amount = x.quantity(c)
			case "assay":
				a.Assay = x.quantity(c)
			case "strength":
				a.Strength = x.fresh(c)
			case "lot":
				a.Lot = x.text(c)
			case "stage":
				a.Stage = x.text(c)
			case "note":
				a.Note = x.fresh(c)
			}
		})
		out = append(out, a)
	})
	return out
}

func (x *decoder) signoff(base Record) *Signoff {
	s := &Signoff{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "of":
			s.Of = x.text(c)
		case "by":
			s.By = x.text(c)
		case "on":
			s.On = x.time(c)
		case "decision":
			s.Decision = x.text(c)
		case "meaning":
			s.Meaning = x.fresh(c)
		case "covers":
			s.Covers = x.dictionary(c)
		default:
			x.common(&s.Record, key, c)
		}
	})
	return s
}

func (x *decoder) batch(base Record) *Batch {
	b := &Batch{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "beer":
			b.Beer = x.text(c)
		case "brewed":
			b.Brewed = x.dateOrTime(c)
		case "change":
			b.Change = x.text(c)
		case "owner":
			b.Owner = x.text(c)
		case "volume":
			b.Volume = x.quantity(c)
		case "weighed":
			b.Weighed = x.additions(c)
		case "dosed_by":
			b.DosedBy = x.text(c)
		case "witnessed_by":
			b.WitnessedBy = x.text(c)
		case "grist":
			b.Grist = x.grist(c)
		case "mash_pH":
			x.each(c, func(key []byte, c int32) {
				switch string(key) {
				case "value":
					b.MashPH, b.HasMashPH = parsePlain(x.fresh(c))
				case "temperature":
					b.MashTemperature = x.quantity(c)
				case "after":
					b.MashAfter = x.quantity(c)
				case "instrument":
					b.MashInstrument = x.text(c)
				}
			})
		default:
			x.common(&b.Record, key, c)
		}
	})
	return b
}

func (x *decoder) event(base Record) *Event {
	e := &Event{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "site":
			e.Sites = x.texts(c)
		case "on":
			e.On = x.dateOrTime(c)
		case "what":
			e.What = x.fresh(c)
		case "sort":
			e.Sort = x.text(c)
		case "by":
			e.By = x.text(c)
		default:
			x.common(&e.Record, key, c)
		}
	})
	return e
}

func (x *decoder) action(base Record) *Action {
	a := &Action{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "about":
			a.About = x.texts(c)
		case "opened":
			a.Opened = x.date(c)
		case "due":
			a.Due = x.date(c)
		case "by":
			a.By = x.text(c)
		case "deviation":
			a.Deviation = x.fresh(c)
		case "cause":
			a.Cause = x.fresh(c)
		case "correction":
			a.Correction = x.fresh(c)
		case "effect":
			a.Effect = x.fresh(c)
		case "closed":
			a.Closed = x.mark(c)
		default:
			x.common(&a.Record, key, c)
		}
	})
	return a
}

func (x *decoder) report(base Record) *Report {
	r := &Report{Record: base}
	x.each(0, func(key []byte, c int32) {
		switch string(key) {
		case "owner":
			r.Owner = x.text(c)
		case "to":
			r.To = x.texts(c)
		case "sent":
			r.Sent = x.time(c)
		case "by":
			r.By = x.text(c)
		case "subject":
			r.Subject = x.fresh(c)
		case "replaces":
			r.Replaces = x.text(c)
		case "files":
			r.Files = x.dictionary(c)
		case "rests_on":
			r.RestsOn = x.dictionary(c)
		default:
			x.common(&r.Record, key, c)
		}
	})
	return r
}
