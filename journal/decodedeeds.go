package journal

import (
	"wj/journal/frontmatter"
	"wj/water"
)

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
		case "mash_liquor":
			t.MashLiquor = x.quantity(c)
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
		case "temperature":
			ch.Temperature = x.quantity(c)
		case "tank":
			ch.Tank = x.text(c)
		case "open":
			ch.Open = x.flag(c)
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
		case "seen":
			s.Seen = x.text(c)
		case "policy":
			s.Policy = x.text(c)
		case "settings":
			s.Settings = x.text(c)
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
