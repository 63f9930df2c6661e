package lint

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wj/water"
)

// fault is one kind of mistake, planted into the last session of a plant that
// is otherwise good.
type fault struct {
	name, rule string
	plant      func(p *plant, s *simSession) (path string)
}

func scale(id water.ID, factor float64) func(*plant, *simSession) string {
	return func(p *plant, s *simSession) string {
		r := s.readings[id]
		r.typed = typedValue(id, number(r.typed)*factor)
		return s.path()
	}
}

func number(typed string) float64 {
	q, err := water.ParseQuantity(typed)
	if err != nil {
		return math.NaN()
	}
	return q.Value
}

var sulfateForm = regexp.MustCompile(`(sulfate: {value: )([0-9]+ mg/L)(, dilution: 2, lot: )SU-[0-9]+`)

// faults are at least twenty-five kinds, each larger than the meter's noise.
var faults = []fault{
	{"hardness given as Ca", "cause/unit", func(_ *plant, s *simSession) string {
		s.readings[water.CalciumHardness].typed = strings.Replace(s.readings[water.CalciumHardness].typed, "CaCO3", "Ca", 1)
		return s.path()
	}},
	{"alkalinity as HCO3", "cause/unit", scale(water.Alkalinity, 1.2193)},
	{"degrees written as mg/L", "cause/unit", scale(water.Alkalinity, 1/17.848)},
	{"calcium as Ca written as CaCO3", "cause/unit", scale(water.CalciumHardness, 0.4004)},
	{"sulfate as S", "cause/unit", scale(water.Sulfate, 1/2.996)},
	{"chloride as salt", "cause/unit", scale(water.Chloride, 1.6485)},
	{"decimal point slipped", "cause/digits", scale(water.Alkalinity, 0.1)},
	{"dilution forgotten", "cause/dilution", func(_ *plant, s *simSession) string { s.readings[water.Sulfate].dilution = 1; return s.path() }},
	{"dilution counted twice", "cause/dilution", func(_ *plant, s *simSession) string { s.readings[water.Sulfate].dilution = 4; return s.path() }},
	{"strips swapped", "cause/swapped", func(_ *plant, s *simSession) string {
		a, b := s.readings[water.CalciumHardness], s.readings[water.TotalHardness]
		a.typed, b.typed, a.dilution, b.dilution = b.typed, a.typed, b.dilution, a.dilution
		return s.path()
	}},
	{"one reading far out", "cause/test", scale(water.Alkalinity, 1.35)},
	{"sulfate a third low", "cause/test", scale(water.Sulfate, 0.75)},
	{"conductivity pen unrinsed", "cause/test", scale(water.ElectricalConductivity, 1.5)},
	{"wrong site", "cause/bottle", func(p *plant, s *simSession) string {
		s.site, s.id = "tarrow-bore", s.sampled.Format("2006-01-02")+"-tarrow-bore-2"
		return s.path()
	}},
	{"bottle from another place", "sample/place", func(_ *plant, s *simSession) string { s.head["place"] = "[55.7600, 19.1000]"; return s.path() }},
	{"stale sample", "sample/stale", func(_ *plant, s *simSession) string { s.tested = s.sampled.Add(3 * time.Hour); return s.path() }},
	{"tested before it was taken", "sample/order", func(_ *plant, s *simSession) string { s.tested = s.sampled.Add(-time.Hour); return s.path() }},
	{"next year", "sample/order", func(_ *plant, s *simSession) string {
		s.sampled, s.tested = s.sampled.AddDate(1, 0, 0), s.tested.AddDate(1, 0, 0)
		s.id = s.sampled.Format("2006-01-02") + "-" + s.site
		return s.path()
	}},
	{"typo in the day", "format/id", func(_ *plant, s *simSession) string {
		s.sampled, s.tested = s.sampled.AddDate(0, 0, -9), s.tested.AddDate(0, 0, -9)
		return s.path()
	}},
	{"summer's offset in winter", "format/dst-time", func(p *plant, s *simSession) string {
		_, offset := s.sampled.Zone()
		s.sampled = s.sampled.In(time.FixedZone("", offset+3600))
		return s.path()
	}},
	{"copied session", "sample/copied", func(p *plant, s *simSession) string {
		again := *s
		again.sampled, again.tested = s.sampled.Add(24*time.Hour), s.tested.Add(24*time.Hour)
		again.id = again.sampled.Format("2006-01-02") + "-" + s.site
		p.write(&again)
		return again.path()
	}},
	{"analyte left out", "sample/incomplete", func(_ *plant, s *simSession) string { s.readings[water.TotalHardness] = nil; return s.path() }},
	{"replicates apart", "sample/replicates", func(_ *plant, s *simSession) string {
		r := s.readings[water.Chloride]
		r.typed = fmt.Sprintf("[%s, %s]", r.typed, typedValue(water.Chloride, number(r.typed)*1.3))
		return s.path()
	}},
	{"top of the range", "range/over", func(_ *plant, s *simSession) string {
		s.readings[water.Sulfate].typed, s.readings[water.Sulfate].dilution = "200 mg/L", 1
		return s.path()
	}},
	{"under the range", "cause/test", func(_ *plant, s *simSession) string {
		s.readings[water.Alkalinity].typed = "4 mg/L CaCO3"
		return s.path()
	}},
	{"pH diluted", "range/dilution", func(_ *plant, s *simSession) string { s.readings[water.PHValue].dilution = 2; return s.path() }},
	{"a mean typed", "range/resolution", func(_ *plant, s *simSession) string { s.readings[water.Chloride].typed = "43.33 mg/L"; return s.path() }},
	{"pH without its point", "range/impossible", func(_ *plant, s *simSession) string {
		s.readings[water.PHValue].typed = strings.Replace(s.readings[water.PHValue].typed, ".", "", 1)
		return s.path()
	}},
	{"another meter's unit", "unit/instrument", func(_ *plant, s *simSession) string {
		s.readings[water.Alkalinity].typed = "14.4 gpg"
		return s.path()
	}},
	{"expired lot", "reagent/expired", func(p *plant, s *simSession) string {
		p.files["lots/CL-OLD.md"] = "---\nanalyte: chloride\nexpires: 2024-12\n---\n"
		s.readings[water.Chloride].lot = "CL-OLD"
		return s.path()
	}},
	{"recalled lot", "reagent/recalled", func(p *plant, s *simSession) string {
		p.files["lots/SU-BAD.md"] = "---\nanalyte: sulfate\nrecalled: {on: 2025-12-01, reason: reads low}\n---\n"
		s.readings[water.Sulfate].lot = "SU-BAD"
		return s.path()
	}},
	{"lots swapped", "reagent/wrong-analyte", func(_ *plant, s *simSession) string {
		a, b := s.readings[water.Sulfate], s.readings[water.Chloride]
		a.lot, b.lot = b.lot, a.lot
		return s.path()
	}},
	{"lot left out", "reagent/unknown", func(_ *plant, s *simSession) string { s.readings[water.Sulfate].lot = ""; return s.path() }},
	{"bad lot, 18 % low", "cause/lot", func(p *plant, s *simSession) string {
		p.files["lots/SU-LOW.md"] = "---\nanalyte: sulfate\n---\n"
		low := func(typed string) string { return typedValue(water.Sulfate, number(typed)*0.82) }
		r := s.readings[water.Sulfate]
		r.typed, r.lot = low(r.typed), "SU-LOW"
		first := ""
		for i := range 3 {
			day := s.sampled.AddDate(0, 0, -7*(i+1))
			first = "sessions/" + day.Format("2006") + "/" + day.Format("2006-01-02") + "-north-well.md"
			p.files[first] = sulfateForm.ReplaceAllStringFunc(p.files[first], func(line string) string {
				m := sulfateForm.FindStringSubmatch(line)
				return m[1] + low(m[2]) + m[3] + "SU-LOW"
			})
		}
		return first
	}},
	{"meter out of service", "instrument/retired", func(p *plant, s *simSession) string {
		p.files["instruments/meter-1.md"] = strings.Replace(p.files["instruments/meter-2.md"], "since: 2020-01-01", "until: 2025-03-01", 1)
		s.head["instrument"] = "meter-1"
		return s.path()
	}},
	{"standard 20 % low", "instrument/check-failed", func(p *plant, s *simSession) string {
		c := p.standards(s.sampled.AddDate(0, 0, 1))
		r := c.readings[water.Sulfate]
		r.typed = typedValue(water.Sulfate, number(r.typed)*0.8)
		p.write(c)
		return c.path()
	}},
	{"free above total chlorine", "chemistry/part-of-whole", func(p *plant, s *simSession) string {
		s.set(p, water.FreeChlorine, 0.6)
		s.order = append(s.order, water.TotalChlorine)
		s.readings[water.TotalChlorine] = &simReading{typed: "0.40 mg/L", dilution: 1, extra: ", note: same pack"}
		return s.path()
	}},
	{"silence of last year", "record/silenced", func(_ *plant, s *simSession) string {
		s.head["ignore"] = `{reagent/expired: "last year's"}`
		return s.path()
	}},
	{"basis left out", "unit/basis", func(_ *plant, s *simSession) string { s.readings[water.Alkalinity].typed = "246 mg/L"; return s.path() }},
	{"unit left out", "unit/missing", func(_ *plant, s *simSession) string { s.readings[water.Alkalinity].typed = "246"; return s.path() }},
	{"decimal comma", "format/decimal-comma", func(_ *plant, s *simSession) string {
		s.readings[water.PHValue].typed = strings.Replace(s.readings[water.PHValue].typed, ".", ",", 1)
		return s.path()
	}},
	{"lot number mistyped", "ref/missing", func(_ *plant, s *simSession) string { s.readings[water.Sulfate].lot = "SU-999"; return s.path() }},
	{"switched supply not declared", "cause/supply", func(p *plant, s *simSession) string {
		day := s.sampled.AddDate(0, 0, 1)
		other := p.session("town-main", day)
		for _, id := range panel {
			other.set(p, id, waters["wellfield"][id])
		}
		p.write(other)
		return other.path()
	}},
	{"nitrate over the limit", "limit/health", func(p *plant, s *simSession) string {
		s.order = append(s.order, water.Nitrate)
		s.readings[water.Nitrate] = &simReading{typed: "68 mg/L NO3", dilution: 1}
		return s.path()
	}},
}

// beside are the rules that may speak of a fault as well as the one that is meant
// for it, or in its place, and why.
var beside = map[string][]string{
	"dilution counted twice": {"limit/site"},                // a limit is told whatever may explain it
	"bad lot, 18 % low":      {"reagent/unverified"},        // that nobody checked it is another fault
	"one reading far out":    {"cause/digits"},              // 329 for 249 is also 229 mistyped
	"sulfate a third low":    {"cause/lot", "cause/digits"}, // of a lot that was just opened
	"under the range":        {"cause/digits"},
}

// TestPlantedFaultsAreFound: at least 19 of 20 faults of each kind are found by
// the rule that is meant for it, and in as many no other rule speaks.
func TestPlantedFaultsAreFound(t *testing.T) {
	times := 4
	if n, err := strconv.Atoi(os.Getenv("WJ_CASES")); err == nil {
		times = n
	}
	if len(faults) < 25 {
		t.Fatalf("%d kinds of fault", len(faults))
	}
	// Plants are shared among the kinds: each fault goes into a copy.
	type grown struct {
		p    *plant
		last map[string]*simSession
	}
	plants := make([]grown, times)
	end := time.Date(2026, 1, 20, 0, 0, 0, 0, time.UTC)
	for i := range plants {
		p := newPlant(t, 5000+uint64(i))
		plants[i] = grown{p, p.season(time.Date(2025, 6, 16, 0, 0, 0, 0, p.zone), 31, "north-well", "town-main", "tarrow-bore")}
	}
	for _, f := range faults {
		t.Run(strings.ReplaceAll(f.name, " ", "-"), func(t *testing.T) {
			found, missed, more := 0, "", map[string]int{}
			for i := range plants {
				p, s := plants[i].p.copy(uint64(i)), plants[i].last["north-well"].copy()
				delete(p.files, s.path())
				path := f.plant(p, s)
				p.write(s)
				hit := false
				for _, d := range lintFS(t, mapFS(p.files), Options{Now: end, Paths: []string{path}}) {
					hit = hit || d.Rule == f.rule || strings.HasPrefix(d.Rule, "cause/") && slices.Contains(beside[f.name], d.Rule)
					if d.Rule != f.rule && !slices.Contains(beside[f.name], d.Rule) {
						more[d.Rule]++
					}
				}
				if hit {
					found++
				} else {
					missed = p.files[path]
				}
			}
			if share := float64(found) / float64(times); share < 0.95 {
				t.Errorf("%s found %d of %d; missed\n%s", f.rule, found, times, missed)
			}
			for rule, n := range more {
				if float64(n)/float64(times) > 0.05 {
					t.Errorf("%s speaks as well, in %d of %d", rule, n, times)
				}
			}
		})
	}
}

func (p *plant) copy(seed uint64) *plant {
	c := *p
	c.random = rand.New(rand.NewPCG(seed, 0x99))
	c.files, c.bias, c.used, c.serial = maps.Clone(p.files), maps.Clone(p.bias), maps.Clone(p.used), maps.Clone(p.serial)
	return &c
}

func (s *simSession) copy() *simSession {
	c := *s
	c.head, c.readings = maps.Clone(s.head), map[water.ID]*simReading{}
	c.order = append([]water.ID(nil), s.order...)
	for id, r := range s.readings {
		again := *r
		c.readings[id] = &again
	}
	return &c
}
