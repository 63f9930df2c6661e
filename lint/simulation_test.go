package lint

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/water"
)

// The simulation brews an invented plant's waters, reads them with a meter
// that has the accuracy of the base journal's, and asks two things of the rules:
// that good sessions are left alone, and that planted faults are found.

// trueWater is what a water really is, in the standard units.
type trueWater map[water.ID]float64

// waters are self-consistent analyses of an invented island (sums of charges
// within 1 %); mg/L, alkalinity and hardness as CaCO3.
var waters = map[string]trueWater{
	"well":      {water.PHValue: 7.2, water.Alkalinity: 246, water.CalciumHardness: 382, water.TotalHardness: 470, water.Chloride: 44, water.Sulfate: 235, water.ElectricalConductivity: 1030},
	"reservoir": {water.PHValue: 7.6, water.Alkalinity: 52, water.CalciumHardness: 55, water.TotalHardness: 74, water.Chloride: 18, water.Sulfate: 21, water.ElectricalConductivity: 212},
	"wellfield": {water.PHValue: 7.4, water.Alkalinity: 212, water.CalciumHardness: 210, water.TotalHardness: 267, water.Chloride: 38, water.Sulfate: 52, water.ElectricalConductivity: 608},
	"bore":      {water.PHValue: 7.3, water.Alkalinity: 262, water.CalciumHardness: 280, water.TotalHardness: 298, water.Chloride: 26, water.Sulfate: 46, water.ElectricalConductivity: 610},
}

// expandedOf is the meter's 95 % accuracy, as base.txtar declares it.
func expandedOf(id water.ID, v float64) float64 {
	switch id {
	case water.PHValue:
		return 0.15
	case water.Alkalinity, water.CalciumHardness, water.TotalHardness:
		return 5 + 0.05*v
	case water.Chloride:
		return 2 + 0.05*v
	case water.Sulfate:
		return 5 + 0.08*v
	case water.FreeChlorine, water.TotalChlorine:
		return 0.02 + 0.05*v
	}
	return 2 + 0.02*v
}

var panel = []water.ID{water.PHValue, water.Alkalinity, water.CalciumHardness, water.TotalHardness, water.Chloride, water.Sulfate, water.ElectricalConductivity}

var lotLetters = map[water.ID]string{water.PHValue: "PH", water.Alkalinity: "AL", water.CalciumHardness: "CH", water.TotalHardness: "TH", water.Chloride: "CL", water.Sulfate: "SU", water.FreeChlorine: "FC"}

// plant is one simulated brewery.
type plant struct {
	random *rand.Rand
	zone   *time.Location
	files  map[string]string
	bias   map[string]float64 // of each lot, in units of the expanded uncertainty
	used   map[water.ID]int
	serial map[water.ID]int
	noise  func() float64                                      // of a test; nil: normal
	drift  func(id water.ID, v float64, day time.Time) float64 // of the water; nil: none
}

// packSize is how many tests a simulated pack holds.
const packSize = 40

func newPlant(t *testing.T, seed uint64) *plant {
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		t.Fatal(err)
	}
	p := &plant{random: rand.New(rand.NewPCG(seed, 0x77)), zone: zone, files: baseFiles(t), bias: map[string]float64{}, used: map[water.ID]int{}, serial: map[water.ID]int{}}
	for name := range p.files {
		if strings.HasPrefix(name, "lots/") && name != "lots/CS-2601.md" {
			delete(p.files, name)
		}
	}
	schedule := "schedule:\n  - {every: 7 d, analytes: [pH, alkalinity, calcium_hardness, total_hardness, chloride, sulfate]}\n"
	p.files["sites/north-well.md"] = "---\nname: North well\nowner: quillmarsh\nstage: intake\nplace: [55.7000, 19.0000]\n" + schedule + "limits:\n  sulfate: {max: 320 mg/L, reason: the bore is only blended}\n---\n"
	p.files["sites/town-main.md"] = "---\nname: Town main\nowner: quillmarsh\nstage: intake\nplace: [55.7300, 19.0500]\n" + schedule + supplyYears() + "---\n"
	p.files["sites/tarrow-bore.md"] = "---\nname: Bore\nowner: quillmarsh\nstage: intake\nplace: [55.7600, 19.1000]\n" + schedule + "---\n"
	p.files["lots/CS-2601.md"] = "---\nstandard: {alkalinity: 100 mg/L CaCO3, calcium_hardness: 100 mg/L CaCO3, total_hardness: 150 mg/L CaCO3, chloride: 50 mg/L, sulfate: 100 mg/L}\n---\n"
	p.files["instruments/meter-2.md"] = strings.Replace(p.files["instruments/meter-2.md"], "since: 2025-01-01", "since: 2020-01-01", 1)
	return p
}

func supplyYears() string {
	out := "supply:\n"
	for year := 2022; year <= 2027; year++ {
		out += fmt.Sprintf("  - {regime: reservoir, since: %d-10-01, until: %d-04-30}\n  - {regime: wellfield, since: %d-05-01, until: %d-09-30}\n", year, year+1, year+1, year+1)
	}
	return out
}

// at is the water of a site on a day.
func (p *plant) water(site string, day time.Time) trueWater {
	switch {
	case site == "north-well":
		return waters["well"]
	case site == "tarrow-bore":
		return waters["bore"]
	case day.Month() >= time.May && day.Month() <= time.September:
		return waters["wellfield"]
	}
	return waters["reservoir"]
}

// lot is the open pack for an analyte, a new one when it is used up; fresh
// tells that it was just opened.
func (p *plant) lot(id water.ID, tests int) (name string, fresh bool) {
	if p.serial[id] == 0 || p.used[id]+tests > packSize {
		p.serial[id]++
		p.used[id] = 0
		fresh = true
	}
	p.used[id] += tests
	name = fmt.Sprintf("%s-%03d", lotLetters[id], p.serial[id])
	if fresh {
		// A lot's bias lies anywhere within a sixth of the expanded uncertainty.
		p.bias[name] = (2*p.random.Float64() - 1) / 6
		p.files["lots/"+name+".md"] = fmt.Sprintf("---\nanalyte: %s\nexpires: 2028-12\ntests: %d\n---\n", id, packSize)
	}
	return name, fresh
}

// simSession is a session before it is written.
type simSession struct {
	site     string
	sampled  time.Time
	tested   time.Time
	head     map[string]string
	readings map[water.ID]*simReading
	order    []water.ID
	tail     []string // further readings as they are typed
	id       string
}

type simReading struct {
	typed    string
	dilution float64
	lot      string
	extra    string
}

// read is what the meter shows of a true value: bias of the lot, repeatability
// of a sixth of the expanded uncertainty, rounded as the display does.
func (p *plant) read(id water.ID, truth float64, lot string) float64 {
	u := expandedOf(id, truth)
	if p.noise != nil {
		return truth + u*p.bias[lot] + u/6*p.noise()
	}
	return truth + u*p.bias[lot] + u/6*p.random.NormFloat64()
}

func typedValue(id water.ID, v float64) string {
	digits := 0
	if id == water.PHValue || id == water.FreeChlorine || id == water.TotalChlorine {
		digits = 2
	}
	text := fmt.Sprintf("%.*f", digits, v)
	if u := id.Info().Unit; !u.IsNone() {
		text += " " + u.String()
	}
	return text
}

// session tests a site's water as a careful person would.
func (p *plant) session(site string, when time.Time) *simSession {
	s := &simSession{site: site, sampled: when, tested: when.Add(time.Duration(4+p.random.IntN(10)) * time.Minute), head: map[string]string{"by": "ines", "instrument": "meter-2"}, readings: map[water.ID]*simReading{}}
	truth := p.water(site, when)
	for _, id := range panel {
		v := truth[id]
		if p.drift != nil {
			v = p.drift(id, v, when)
		}
		s.set(p, id, v)
	}
	s.id = when.Format("2006-01-02") + "-" + site
	return s
}

// set reads a true value into the session, diluted where it must be.
func (s *simSession) set(p *plant, id water.ID, truth float64) {
	r := &simReading{dilution: 1}
	if id == water.Sulfate && truth > 150 || id == water.TotalHardness && truth > 430 {
		r.dilution = 2
	}
	if id == water.ElectricalConductivity {
		r.extra = ", instrument: ec-pen-1"
	} else {
		r.lot, _ = p.lot(id, 1)
	}
	r.typed = typedValue(id, p.read(id, truth/r.dilution, r.lot))
	if s.readings[id] == nil {
		s.order = append(s.order, id)
	}
	s.readings[id] = r
}

func (s *simSession) path() string {
	return "sessions/" + s.sampled.Format("2006") + "/" + s.id + ".md"
}

func (s *simSession) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "---\nsite: %s\nsampled: %s\ntested: %s\n", s.site, journal.FormatTime(s.sampled), journal.FormatTime(s.tested))
	for _, key := range []string{"by", "instrument", "place", "source", "sample", "standard_lot", "note", "sourse", "ignore"} {
		if v, ok := s.head[key]; ok {
			fmt.Fprintf(&b, "%s: %s\n", key, v)
		}
	}
	b.WriteString("readings:\n")
	for _, id := range s.order {
		r := s.readings[id]
		if r == nil {
			continue
		}
		fmt.Fprintf(&b, "  %s: {value: %s", id, r.typed)
		if r.dilution != 1 {
			fmt.Fprintf(&b, ", dilution: %g", r.dilution)
		}
		if r.lot != "" {
			fmt.Fprintf(&b, ", lot: %s", r.lot)
		}
		b.WriteString(r.extra + "}\n")
	}
	for _, line := range s.tail {
		b.WriteString("  " + line + "\n")
	}
	b.WriteString("---\n")
	return b.String()
}

// write keeps the session, and checks with a standard every lot that it opened.
func (p *plant) write(s *simSession) { p.files[s.path()] = s.text() }

// standards tests a check standard with every open lot.
func (p *plant) standards(when time.Time) *simSession {
	s := &simSession{site: "north-well", sampled: when, tested: when.Add(10 * time.Minute), head: map[string]string{"by": "ines", "instrument": "meter-2", "sample": "check-standard", "standard_lot": "CS-2601"}, readings: map[water.ID]*simReading{}}
	// In a fixed order, so that a seed brews the same waters in every run.
	for _, c := range []struct {
		id    water.ID
		truth float64
	}{{water.Alkalinity, 100}, {water.CalciumHardness, 100}, {water.TotalHardness, 150}, {water.Chloride, 50}, {water.Sulfate, 100}} {
		s.set(p, c.id, c.truth)
	}
	s.id = when.Format("2006-01-02") + "-standards"
	return s
}

// season runs the plant: every site each week and the standards each week as
// well, so that each new lot meets one within a fortnight.
func (p *plant) season(from time.Time, weeks int, sites ...string) (last map[string]*simSession) {
	last = map[string]*simSession{}
	for w := range weeks {
		day := from.AddDate(0, 0, 7*w)
		for i, site := range sites {
			when := time.Date(day.Year(), day.Month(), day.Day(), 8+2*i, 5+p.random.IntN(20), 0, 0, p.zone)
			s := p.session(site, when)
			p.write(s)
			last[site] = s
		}
		p.write(p.standards(time.Date(day.Year(), day.Month(), day.Day(), 16, 0, 0, 0, p.zone)))
	}
	return last
}

// TestGoodSessionsAreLeftAlone: of a thousand simulated good sessions fewer
// than one in a hundred gets any warning from any one rule.
func TestGoodSessionsAreLeftAlone(t *testing.T) {
	weeks, seeds := 112, uint64(3)
	if testing.Short() {
		weeks, seeds = 60, 1
	}
	sites := []string{"north-well", "town-main", "tarrow-bore"}
	total, warned := 0, map[string]map[string]bool{}
	for seed := range seeds {
		p := newPlant(t, 1000+seed)
		from := time.Date(2024, 1, 8, 0, 0, 0, 0, p.zone)
		p.season(from, weeks, sites...)
		total += weeks * len(sites)
		for _, d := range lintFS(t, mapFS(p.files), Options{Now: from.AddDate(0, 0, 7*weeks)}) {
			if d.Severity < Warning {
				continue
			}
			if warned[d.Rule] == nil {
				warned[d.Rule] = map[string]bool{}
			}
			warned[d.Rule][fmt.Sprint(seed, d.Path)] = true
			t.Logf("%s:%d: %s: %s", d.Path, d.Line, d.Rule, d.Message)
		}
	}
	for rule, paths := range warned {
		if share := float64(len(paths)) / float64(total); share >= 0.01 {
			t.Errorf("%s warns at %d of %d good sessions (%.1f %%)", rule, len(paths), total, 100*share)
		}
	}
}
