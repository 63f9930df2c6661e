package cause

import (
	"maps"
	"math"
	"strconv"
	"testing"
	"time"

	"wj/water"
)

// planting puts one mistake into a good session; ok is false where this session
// offers no room for it.
type planting struct {
	kind  Kind
	plant func(w *world, s *Session) (reading int, ok bool)
}

func typed(id water.ID, unit string) func(*world, *Session) (int, bool) {
	return func(_ *world, s *Session) (int, bool) {
		i := find(s, id)
		r := &s.Readings[i]
		u, known := water.ParseUnit(unit)
		if !known {
			panic(unit)
		}
		if r.Bound != water.Exact {
			return 0, false
		}
		is, err := id.Info().Convert(r.Value/r.Dilution, id.Info().Unit, u)
		if err != nil {
			panic(err)
		}
		digits := 0
		if is < 30 {
			digits = 1
		}
		r.set(trim(is, digits))
		return i, true
	}
}

func trim(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }

func find(s *Session, id water.ID) int {
	for i := range s.Readings {
		if s.Readings[i].ID == id {
			return i
		}
	}
	return -1
}

func times(id water.ID, f float64) func(*world, *Session) (int, bool) {
	return func(_ *world, s *Session) (int, bool) {
		i := find(s, id)
		r := &s.Readings[i]
		if r.Bound != water.Exact {
			return 0, false
		}
		r.set(show(id, r.Value/r.Dilution*f))
		return i, true
	}
}

// keys types another number instead.
func keys(id water.ID, f func(string) string) func(*world, *Session) (int, bool) {
	return func(_ *world, s *Session) (int, bool) {
		i := find(s, id)
		r := &s.Readings[i]
		if r.Bound != water.Exact || len(r.Number) < 2 {
			return 0, false
		}
		r.set(f(r.Number))
		return i, true
	}
}

var plantings = []planting{
	{Unit, typed(water.Alkalinity, "dKH")}, {Unit, typed(water.TotalHardness, "dH")}, {Unit, typed(water.CalciumHardness, "mg/L Ca")}, {Unit, typed(water.Alkalinity, "meq/L")},
	{Unit, typed(water.Alkalinity, "mg/L HCO3")}, {Unit, typed(water.TotalHardness, "mmol/L")}, {Unit, typed(water.Sulfate, "mg/L S")}, {Unit, typed(water.ElectricalConductivity, "mS/cm")},
	{Unit, times(water.Chloride, 1.6485)}, {Unit, times(water.ElectricalConductivity, 0.5)}, {Unit, typed(water.TotalHardness, "gpg")}, {Unit, typed(water.CalciumHardness, "meq/L")},
	{Ten, times(water.Alkalinity, 10)}, {Ten, times(water.TotalHardness, 0.1)}, {Ten, times(water.Sulfate, 10)}, {Ten, times(water.Chloride, 0.1)}, {Ten, times(water.ElectricalConductivity, 0.1)},
	{Typo, keys(water.Alkalinity, func(s string) string { return s[1:2] + s[:1] + s[2:] })}, {Typo, keys(water.TotalHardness, func(s string) string { return s[:1] + s[2:] })},
	{Typo, keys(water.CalciumHardness, func(s string) string { return s[:1] + s })}, {Typo, keys(water.Sulfate, func(s string) string { return "9" + s[1:] })},
	{Typo, keys(water.ElectricalConductivity, func(s string) string { return s[1:2] + s[:1] + s[2:] })}, {Typo, keys(water.PHValue, func(s string) string { return "5" + s[1:] })},
	{Swap, exchange(water.Chloride, water.Sulfate)}, {Swap, exchange(water.Alkalinity, water.TotalHardness)}, {Swap, exchange(water.CalciumHardness, water.TotalHardness)}, {Swap, exchange(water.Chloride, water.Alkalinity)},
	{Dilution, forgotten(water.Sulfate)}, {Dilution, forgotten(water.TotalHardness)}, {Dilution, forgotten(water.Alkalinity)}, {Dilution, twice(water.Sulfate)}, {Dilution, twice(water.TotalHardness)},
	{Bottle, bottle(wellB)}, {Bottle, bottle(neighbour)}, {Bottle, bottle(mains)}, {Bottle, bottle(wellA)},
	{Test, times(water.Sulfate, 1.45)}, {Test, times(water.Alkalinity, 0.7)}, {Test, times(water.Chloride, 1.5)}, {Test, times(water.CalciumHardness, 0.72)},
	{Meter, func(w *world, s *Session) (int, bool) {
		for i := range s.Readings {
			if r := &s.Readings[i]; !r.Probe && r.ID != water.PHValue && r.Bound == water.Exact {
				r.set(show(r.ID, r.Value/r.Dilution*1.22))
			}
		}
		return -1, true
	}},
	{Change, func(w *world, s *Session) (int, bool) {
		kept := w.truth[s.Site]
		for {
			w.truth[s.Site] = w.natural()
			if d := w.truth[s.Site][tot] / kept[tot]; d > 1.4 || d < 0.7 {
				break
			}
		}
		*s = w.session(s.Site, s.Time)
		w.truth[s.Site] = kept
		return -1, true
	}},
	{Cut, func(w *world, s *Session) (int, bool) {
		for i := range s.Readings {
			if r := &s.Readings[i]; r.ID != water.PHValue && r.Bound == water.Exact {
				r.set(show(r.ID, r.Value/r.Dilution/2))
			}
		}
		return -1, true
	}},
}

func exchange(a, b water.ID) func(*world, *Session) (int, bool) {
	return func(_ *world, s *Session) (int, bool) {
		i, k := find(s, a), find(s, b)
		x, y := &s.Readings[i], &s.Readings[k]
		if x.Bound != water.Exact || y.Bound != water.Exact {
			return 0, false
		}
		nx, ny := x.Number, y.Number
		x.Dilution, y.Dilution = y.Dilution, x.Dilution
		x.set(ny)
		y.set(nx)
		return i, true
	}
}

func forgotten(id water.ID) func(*world, *Session) (int, bool) {
	return func(_ *world, s *Session) (int, bool) {
		i := find(s, id)
		r := &s.Readings[i]
		if r.Dilution == 1 {
			return 0, false
		}
		r.Dilution = 1
		r.set(r.Number)
		return i, true
	}
}

func twice(id water.ID) func(*world, *Session) (int, bool) {
	return func(_ *world, s *Session) (int, bool) {
		i := find(s, id)
		r := &s.Readings[i]
		if r.Dilution == 1 {
			return 0, false
		}
		r.Dilution *= r.Dilution
		r.set(r.Number)
		return i, true
	}
}

func bottle(site int) func(*world, *Session) (int, bool) {
	return func(w *world, s *Session) (int, bool) {
		if s.Site == site {
			return 0, false
		}
		own := s.Site
		*s = w.session(site, s.Time)
		s.Site = own
		return -1, true
	}
}

// gross reports whether a mistake is one that anybody would want found: off by 1.5
// declared accuracies and by 15 %.
func gross(before, after *Session) bool {
	for i := range after.Readings {
		a, b := &before.Readings[i], &after.Readings[i]
		off := math.Abs(a.Value - b.Value)
		half := (a.Accuracy.Absolute*a.Dilution + a.Accuracy.Relative*a.Value)
		if a.ID == water.PHValue && off > 1.5*half || off > 1.5*half && off > 0.15*a.Value {
			return true
		}
	}
	return false
}

// copy is the engine with waters of its own, for other sessions that begin alike.
func (e *engine) copy(sessions []Session) *engine {
	c := *e
	c.sessions, c.verdicts, c.lots = sessions, append([]Explanation(nil), e.verdicts...), map[string]*lot{}
	for key, l := range e.lots {
		again := *l
		again.uses, again.before = append([]int(nil), l.uses...), maps.Clone(l.before)
		c.lots[key] = &again
	}
	c.sites = nil
	for _, p := range e.sites {
		again := *p
		again.lastLot, again.regimes = maps.Clone(p.lastLot), nil
		for _, r := range p.regimes {
			twin := &regime{name: r.name}
			if r.active != nil {
				twin.active = r.active.clone()
			}
			if r.pending != nil {
				twin.pending = r.pending.clone()
			}
			for _, t := range r.asleep {
				twin.asleep = append(twin.asleep, t.clone())
			}
			again.regimes = append(again.regimes, twin)
		}
		c.sites = append(c.sites, &again)
	}
	return &c
}

// TestPlantedMistakes: what is planted is found, at the right reading and by its
// name.
func TestPlantedMistakes(t *testing.T) {
	for _, c := range []struct {
		weeks                      int
		season, found, right, name float64
	}{{2, 0.03, 85, 95, 80}, {4, 0.03, 95, 95, 88}, {12, 0.03, 98, 97, 92}, {31, 0.06, 98, 97, 92}} {
		var found, right, named, total, by, hit [numKinds]int
		for seed := range cases(2) {
			w := newWorld(uint64(1000+seed), c.season, 0.7, true)
			w.run(c.weeks)
			past := newEngine(w.sites, w.sessions, DefaultOdds)
			past.run(0)
			for _, pl := range plantings {
				day := time.Date(2024, 1, 8, 9, 0, 0, 0, time.UTC).AddDate(0, 0, 7*c.weeks)
				for _, site := range []int{wellA, wellB, neighbour, mains} {
					s := w.session(site, day)
					good := s
					good.Readings = append([]Reading(nil), s.Readings...)
					reading, ok := pl.plant(w, &s)
					if !ok || !gross(&good, &s) {
						continue
					}
					total[pl.kind]++
					list := append(append([]Session(nil), w.sessions...), s)
					var v *Explanation
					e := past.copy(list)
					e.run(len(w.sessions))
					for _, o := range e.result() {
						if o.Session == len(list)-1 {
							v = &o
						}
					}
					if v == nil {
						if testing.Verbose() {
							t.Logf("%d weeks: not found: %s at %s: %s", c.weeks, names[pl.kind], w.sites[site].Name, values(&good, &s))
						}
						continue
					}
					found[pl.kind]++
					by[v.Best.Kind]++
					if v.Best.Reading == reading || v.Best.Kind == Swap && v.Best.With == reading {
						right[pl.kind]++
					}
					same := func(k Kind) bool {
						return k == pl.kind || pl.kind == Test && k == Lot || pl.kind == Ten && k == Typo
					}
					if same(v.Best.Kind) {
						named[pl.kind]++
						hit[pl.kind]++
					} else if v.Second != nil && same(v.Second.Kind) {
						hit[pl.kind]++
						if testing.Verbose() {
							t.Logf("%d weeks: second: %s: %s; %s", c.weeks, names[pl.kind], describe(w.sites, list, v), values(&good, &s))
						}
					} else if testing.Verbose() {
						t.Logf("%d weeks: wrong: %s: %s; %s", c.weeks, names[pl.kind], describe(w.sites, list, v), values(&good, &s))
					}
				}
			}
		}
		sum := func(a [numKinds]int) (n int) {
			for _, v := range a {
				n += v
			}
			return n
		}
		n, f := float64(sum(total)), float64(sum(found))
		pf, pr, pn, ph := 100*f/n, 100*float64(sum(right))/f, 100*float64(sum(named))/f, 100*float64(sum(hit))/f
		t.Logf("%d weeks, season %g: %d planted, found %.1f %%, right reading %.1f %%, named %.1f %%, or as runner-up %.1f %%", c.weeks, c.season, sum(total), pf, pr, pn, ph)
		for k := range numKinds {
			if total[k] > 0 {
				t.Logf("   %-9s %d planted, %d found, %d at the reading, %d named, %d or runner-up", names[k], total[k], found[k], right[k], named[k], hit[k])
			}
		}
		if pf < c.found || pr < c.right || ph < c.name {
			t.Errorf("%d weeks: found %.1f (want %g), right %.1f (%g), named %.1f (%g)", c.weeks, pf, c.found, pr, c.right, ph, c.name)
		}
	}
}

func values(before, after *Session) string {
	out := ""
	for i := range after.Readings {
		a, b := &before.Readings[i], &after.Readings[i]
		out += a.ID.String() + " " + trim(a.Value, 1)
		if b.Value != a.Value {
			out += "→" + b.Number
		}
		out += ", "
	}
	return out
}
