package lint

import (
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// checkBelongs holds together who and what must not be the same, and what must be: two people
// have two addresses, a witness is another person, a duplicate is of the same water, a test was
// made with a meter that measures it.
func (p *Pass) checkBelongs() {
	j := p.Journal
	addresses, keys, serials := map[string]*journal.Record{}, map[string]*journal.Record{}, map[string]*journal.Record{}
	for _, x := range j.People.List {
		if x.Void != nil {
			continue
		}
		for _, e := range x.Email {
			p.shared(addresses, strings.ToLower(strings.TrimSpace(e)), x.Base(), "email", "share the address "+e, "the other person",
				"give each person an address of their own: a commit shows only the address, and nobody could distinguish the two")
		}
		for _, k := range x.Keys {
			p.shared(keys, strings.TrimSpace(k.Key), x.Base(), "keys", "share a key", "the other person",
				"a key signs for one person: take it out of the file of the other")
		}
	}
	var self *journal.Owner
	for _, x := range j.Owners.List {
		switch {
		case x.Void != nil || !x.Self:
		case self == nil:
			self = x
		default:
			p.Report(x.Path, []string{"self"}, "%s and %s are both the brewery itself", self.ID, x.ID).
				See(self.Path, []string{"self"}, "the other owner").Help("self: true stays with one owner; the others are those whose water is tested for them")
		}
	}
	for _, x := range j.Instruments.List {
		if x.Void != nil || x.Serial == "" {
			continue
		}
		p.shared(serials, x.Sort+" "+x.Serial, x.Base(), "serial", "have one serial number, "+x.Serial, "the other meter",
			"read the plate: correct the number, or keep one record for the meter")
	}
	for _, b := range j.Batches.List {
		if b.Void == nil && b.DosedBy != "" && b.DosedBy == b.WitnessedBy {
			p.warn(b.Path, "witnessed_by", "%s dosed, and is named as the witness as well", b.DosedBy).
				Help("name the person who watched; where nobody did, leave witnessed_by out")
		}
	}
	measured, meters := water.Set{}, map[string]*journal.Instrument{}
	for _, in := range j.Instruments.List {
		if len(in.Measures) > 0 {
			meters[in.ID] = in
		}
		for id := range in.Measures {
			measured.Add(id)
		}
	}
	for _, s := range j.Sessions.List {
		if s.Void == nil {
			p.duplicate(s)
			p.meterOf(s, &measured, meters)
		}
	}
}

func (p *Pass) warn(path, key, format string, args ...any) *Finding {
	f := p.Report(path, []string{key}, format, args...)
	f.d.Bars = false
	return p.as(f, Warning)
}

// shared reports what two records have both.
func (p *Pass) shared(seen map[string]*journal.Record, what string, x *journal.Record, key, both, other, help string) {
	if what == "" {
		return
	}
	if o := seen[what]; o != nil && o != x {
		p.warn(x.Path, key, "%s and %s %s", o.ID, x.ID, both).See(o.Path, []string{key}, "%s", other).Help("%s", help)
		return
	}
	seen[what] = x
}

// duplicate holds a second sample against the first.
func (p *Pass) duplicate(s *journal.Session) {
	if s.DuplicateOf == "" {
		return
	}
	of, ok := p.Journal.Sessions.Get(s.DuplicateOf)
	switch {
	case !ok: // ref/missing reports it
	case of == s:
		p.Report(s.Path, []string{"duplicate_of"}, "a session cannot repeat itself").Help("name the session of the first sample")
	case of.Site != s.Site:
		p.Report(s.Path, []string{"duplicate_of"}, "this is of %s, and %s is of %s", s.Site, of.ID, of.Site).
			See(of.Path, []string{"site"}, "the first sample").Help("a duplicate is the same water: correct the site, or the session that it repeats")
	case !s.Sampled.IsZero() && !of.Sampled.IsZero() && s.Sampled.Sub(of.Sampled).Abs() > 24*time.Hour:
		p.warn(s.Path, "duplicate_of", "this was sampled %s from %s", span(s.Sampled.Sub(of.Sampled).Abs()), of.ID).
			See(of.Path, []string{"sampled"}, "the first sample").Help("a duplicate is taken at the same time; a later sample is routine")
	}
}

// meterOf reports tests that the meter named for them cannot make, and another one can. A
// thermometer is in many meters, and seldom declared.
func (p *Pass) meterOf(s *journal.Session, measured *water.Set, meters map[string]*journal.Instrument) {
	if !judge.Bench(s) {
		return
	}
	var wrong []string
	meter, key := "", ""
	last, in := "", (*journal.Instrument)(nil)
	for i := range s.Readings {
		r := &s.Readings[i]
		if !measured.Has(r.Analyte) || r.Analyte == water.SampleTemperature || r.Method != "" {
			continue
		}
		id := judge.MeterOf(s, r)
		if id != last {
			last, in = id, meters[id]
		}
		if in != nil && in.Measures[r.Analyte] == nil && (meter == "" || meter == id) {
			meter = id
			wrong = append(wrong, r.Analyte.String())
			if key = "instrument"; r.Instrument != "" {
				key = r.Analyte.String()
			}
		}
	}
	if len(wrong) == 0 {
		return
	}
	at := []string{key}
	if key != "instrument" {
		at = []string{"readings", key, "instrument"}
	} else if s.Instrument != "" && len(wrong) == 1 && len(s.Readings) > 1 {
		at = []string{"readings", wrong[0]}
	}
	f := p.Report(s.Path, at, "%s does not measure %s", meter, listed(wrong))
	if in, ok := p.Journal.Instruments.Get(meter); ok {
		f.See(in.Path, []string{"measures"}, "what it measures").
			Blame(in.Path, []string{"measures"}, "%s is used for what it does not declare, %s", meter, listed(wrong))
	}
	f.d.Bars = false
	p.as(f, Warning).Help("which meter was it? name it, for the session or with the reading; or add the analyte to instruments/%s.md with its accuracy", meter)
}

// listed is a list in words.
func listed(words []string) string {
	words = slices.Clone(words)
	if n := len(words); n > 1 {
		words = append(words[:n-2], words[n-2]+" and "+words[n-1])
	}
	return strings.Join(words, ", ")
}
