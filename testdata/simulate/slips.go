package main

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Which findings name which mistake. A name that ends in / stands for a family.
var (
	namesUnit     = []string{"cause/unit", "cause/digits", "unit/", "range/under"}
	namesDilution = []string{"cause/dilution", "cause/unit", "chemistry/"}
	namesBottle   = []string{"cause/bottle", "cause/supply", "cause/swapped"}
	namesDigits   = []string{"cause/digits", "cause/unit", "range/", "chemistry/"}
	namesSwapped  = []string{"cause/swapped", "chemistry/calcium-over-total", "cause/test"}
	namesLot      = []string{"cause/lot", "cause/test", "cause/meter", "instrument/check-failed", "instrument/drift"}
	namesMeter    = []string{"cause/meter", "cause/test", "cause/lot", "instrument/check-failed", "instrument/drift"}
	namesSupply   = []string{"cause/supply", "cause/change", "cause/bottle"}
	namesCarbon   = []string{"limit/site", "limit/stage", "limit/probable", "cause/treatment"}
	namesMembrane = []string{"cause/treatment", "limit/stage", "cause/change", "site/trend"}
	namesTrend    = []string{"site/trend", "site/control", "cause/change"}
)

// slipChance is how often a round has a mistake of numbers, for somebody who takes no care at all. It is higher than in life, so
// that years suffice to count.
const slipChance = 0.35

// slip makes a mistake in a sitting, now and then: what is typed is then not what is right.
func (s *sim) slip(r *rand.Rand, who *person, samples []sample) {
	happens, kind, pick := chance(r, slipChance*(1.2-who.care)), r.IntN(7), r.IntN(1000)
	if !happens {
		return
	}
	x := &samples[pick%len(samples)]
	m := &mistake{site: x.site.id, record: "SESSION", within: 1, by: who.id}
	find := func(keys ...string) *reading {
		for _, key := range keys {
			for i := range x.readings {
				if y := &x.readings[i]; y.key == key && !strings.HasPrefix(y.shown, "<") && !strings.HasPrefix(y.shown, ">") {
					return y
				}
			}
		}
		return nil
	}
	switch kind {
	case 0:
		y := find("alkalinity", "total_hardness", "calcium_hardness")
		if y == nil {
			return
		}
		y.shown = show(&test{unit: y.unit, decimals: 1, low: -1, high: 1e9}, number(y.right)/17.848) // 1 dH is 17.848 mg/L CaCO3
		m.kind, m.rules = "wrong unit", namesUnit
		m.touch(y)
	case 1:
		for i := range samples {
			for k := range samples[i].readings {
				if samples[i].readings[k].dilution > 1 {
					x = &samples[i]
				}
			}
		}
		var y *reading
		for k := range x.readings {
			if x.readings[k].dilution > 1 {
				y = &x.readings[k]
			}
		}
		if y == nil {
			return
		}
		y.dilution = 1
		m.site, m.kind, m.rules = x.site.id, "forgotten dilution", namesDilution
		m.touch(y)
	case 2:
	pairs:
		for i := range samples {
			for k := range i {
				a, b := &samples[i], &samples[k]
				if len(a.readings) < 6 || len(b.readings) < 6 {
					continue
				}
				for n := range a.readings {
					for o := range b.readings {
						if y, z := &a.readings[n], &b.readings[o]; y.key == z.key {
							y.shown, z.shown, y.dilution, z.dilution = z.shown, y.shown, z.dilution, y.dilution
							m.touch(y)
						}
					}
				}
				x, m.site, m.kind, m.rules = a, a.site.id, "swapped bottles", namesBottle
				m.also = b.site.id
				break pairs
			}
		}
		if m.kind == "" {
			return
		}
	case 3, 4:
		y := find([]string{"chloride", "conductivity", "sulfate", "total_hardness"}[pick/10%4])
		if y == nil {
			return
		}
		v := number(y.right)
		if digits := strings.Fields(y.right)[0]; kind == 4 && len(digits) > 1 && digits[0] != digits[1] && !strings.Contains(digits[:2], ".") {
			v = number(digits[1:2] + digits[:1] + digits[2:])
		} else if pick%2 == 0 {
			v *= 10
		} else {
			v /= 10
		}
		y.shown = show(&test{unit: y.unit, decimals: map[bool]int{true: 0, false: 1}[v == math.Trunc(v)], low: -1, high: 1e9}, v)
		m.kind, m.rules = "typing error", namesDigits
		m.touch(y)
	case 6: // the sample was taken at another tap than she says: its readings are right, of another water
		for i := range samples {
			if len(samples[i].readings) >= 6 && samples[i].site.owner == "quillmarsh" {
				x = &samples[i]
			}
		}
		other := siteOf("north-well")
		if x.site == other || pick%3 == 0 {
			other = siteOf("town-main")
		}
		if x.site == other || len(x.readings) < 6 {
			return
		}
		wrong := s.at(other.id, s.day)
		m.site, m.kind, m.rules = x.site.id, "taken at another tap", append([]string{"cause/test"}, namesBottle...)
		for k := range x.readings {
			y := &x.readings[k]
			truth := wrong.truth(y.id)
			if math.IsNaN(truth) {
				continue
			}
			var l *lot
			if y.reagent != "" {
				l = s.current(y.key)
			}
			z := s.read(y.test, truth, l, s.day, "another tap", x.site.id)
			y.shown, y.dilution = z.shown, z.diluted
			m.touch(y)
		}
	case 5:
		y, z := find("calcium_hardness"), find("total_hardness")
		if y == nil || z == nil {
			return
		}
		y.shown, z.shown = z.shown, y.shown
		m.kind, m.rules = "readings exchanged", namesSwapped
		m.touch(y)
	}
	if m.kind != "" {
		x.slip = m
	}
}

// touch notes a reading that a mistake is in; it is gross where the number is off by three times what the meter may err.
func (m *mistake) touch(r *reading) {
	m.keys = append(m.keys, r.key)
	shown := number(r.shown) * float64(r.dilution)
	right := number(r.right) * float64(r.diluted)
	if math.Abs(shown-right) > 3*half(r.test, right) {
		m.gross = true
	}
}

// number is that of a quantity; a bound is its limit.
func number(text string) float64 {
	v, err := strconv.ParseFloat(strings.TrimLeft(strings.Fields(text)[0], "<>"), 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// mend corrects what was found: numbers are amended, a session of the wrong bottle is void and recorded anew by hand.
func (s *sim) mend() error {
	for _, m := range s.ledger.mistakes {
		if m.mended || m.caught || m.found == 0 || m.found >= s.day || m.record == "" || len(m.keys) == 0 {
			continue
		}
		m.mended = true
		who, now := s.person("ines"), at(s.day, 16, 30)
		switch {
		case m.kind == "swapped bottles" || m.kind == "taken at another tap":
			for _, record := range slices.Compact([]string{m.record, strings.Replace(m.record, m.site, cmp.Or(m.also, m.site), 1)}) {
				if _, err := s.must(who, now, "void", record, "--reason", m.kind); err != nil {
					return err
				}
			}
			continue
		}
		args := []string{"amend", m.record}
		var changed []*fact
		for _, f := range s.ledger.facts {
			if f.record != m.record || f.reading == nil || f.reading.right == f.reading.shown && f.reading.dilution == f.reading.diluted {
				continue
			}
			r := f.reading
			if r.shown != r.right {
				args = append(args, r.key, r.right)
			}
			if r.dilution != r.diluted {
				args = append(args, r.key+".dilution", fmt.Sprint(r.diluted))
			}
			changed = append(changed, f)
		}
		if len(changed) == 0 {
			continue
		}
		if _, err := s.must(who, now, append(args, "--reason", "typed wrong; the slip of the meter shows it")...); err != nil {
			return err
		}
		for _, f := range changed {
			r := f.reading
			if r.shown != r.right {
				f.was = append(f.was, r.shown)
			}
			r.shown, r.dilution = r.right, r.diluted
			f.value, f.amended = r.written(), true
		}
	}
	return nil
}

// standards tests a solution of known values, every four weeks. What fails is tested again at once, as the finding says.
func (s *sim) standards() error {
	failed, err := s.standard(at(s.day, 7, 30), nil)
	if err == nil && len(failed) > 0 {
		_, err = s.standard(at(s.day, 8, 0), failed)
	}
	return err
}

// standard tests a solution for some analytes, nil for all, and gives those that failed.
func (s *sim) standard(now time.Time, only []string) (failed []string, err error) {
	who := s.person("ines")
	args := []string{"new", "session", "bench", "sample=check-standard", "sampled=" + iso(now), "tested=" + iso(now), "by=ines", "instrument=meter-1"}
	values := map[string]float64{"pH": 7, "alkalinity": 120, "calcium_hardness": 150, "total_hardness": 200, "chloride": 50, "sulfate": 100, "free_chlorine": 0.5, "total_chlorine": 0.6, "conductivity": 560}
	x := sample{site: &site{id: "bench"}, at: now}
	for i := range tests {
		t := &tests[i]
		v, ok := values[t.key]
		if !ok || only != nil && !slices.Contains(only, t.key) {
			continue
		}
		var l *lot
		if t.reagent != "" {
			l = s.current(t.key)
			l.left--
		}
		r := s.read(t, v, l, s.day, "standard", len(only))
		x.readings = append(x.readings, r)
		args = append(args, "standard."+t.key+"="+show(&test{unit: t.unit, decimals: t.decimals, high: 1e9, low: -1}, v), t.key+"="+r.shown)
		if l != nil {
			args = append(args, t.key+".lot="+l.id)
		} else {
			args = append(args, t.key+".instrument="+t.probe)
		}
	}
	r, err := s.must(who, now.Add(20*time.Minute), args...)
	if err != nil {
		return nil, err
	}
	for i := range x.readings {
		y := &x.readings[i]
		if math.Abs(number(y.shown)-y.exact) > half(y.test, y.exact) {
			failed = append(failed, y.key)
		}
	}
	return failed, s.acknowledged(who, r, []sample{x})
}
