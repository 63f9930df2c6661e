package cause

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"wj/water"
)

// world is an invented region: two wells, a main with two supplies, carbon,
// softener and membrane, and the well of another owner. What it really holds
// follows a season; a photometer reads it with the accuracy that the fixtures'
// meter declares, each lot with its own bias.
type world struct {
	r        *rand.Rand
	sites    []Site
	truth    []sample // by site; the main's second supply is the last
	season   float64
	phase    [core]float64
	own      [core]float64
	noise    float64 // part of the declared uncertainty that is real
	bias     map[string]float64
	lots     int
	sessions []Session
}

type sample [core]float64 // pH, conductivity as offset from the sum of ions

const (
	wellA = iota
	wellB
	mains
	carbon
	softener
	permeate
	neighbour
	secondSupply
)

func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

func newWorld(seed uint64, season, noise float64, declared bool) *world {
	r := rand.New(rand.NewPCG(seed, 0x15))
	w := &world{r: r, season: season, noise: noise, bias: map[string]float64{}}
	regime := func(t time.Time) string {
		if t.Month() >= 5 && t.Month() <= 9 {
			return "summer"
		}
		return "winter"
	}
	if !declared {
		regime = nil
	}
	w.sites = []Site{
		{Name: "well-a", Owner: "us", Stage: "intake"}, {Name: "well-b", Owner: "us", Stage: "intake"},
		{Name: "mains", Owner: "us", Stage: "intake", Regime: regime}, {Name: "carbon", Owner: "us", Stage: "carbon-outlet", Feeds: []int{mains}, Regime: regime},
		{Name: "softener", Owner: "us", Stage: "softener-outlet", Feeds: []int{wellA}}, {Name: "permeate", Owner: "us", Stage: "ro-permeate", Feeds: []int{carbon}, Regime: regime},
		{Name: "neighbour", Owner: "them", Stage: "intake"},
	}
	for range 8 {
		w.truth = append(w.truth, w.natural())
	}
	for i := range w.phase {
		w.phase[i] = between(r, 0, 2*math.Pi)
		w.own[i] = 0.3 * r.NormFloat64() * season
	}
	return w
}

// natural is a water that balances.
func (w *world) natural() (s sample) {
	for {
		s[tot] = math.Exp(between(w.r, math.Log(60), math.Log(420)))
		s[cah] = s[tot] * between(w.r, 0.6, 0.92)
		s[alk] = s[tot] * between(w.r, 0.45, 1.05)
		s[chl] = math.Exp(between(w.r, math.Log(9), math.Log(90)))
		s[sul] = math.Exp(between(w.r, math.Log(10), math.Log(220)))
		s[acid] = between(w.r, 6.9, 7.9)
		s[cond] = 0.04 + 0.03*w.r.NormFloat64()
		c := [ions]float64{s[alk], s[cah], s[tot], s[chl], s[sul]}
		if na := sodium(&c); na > 0.2 && na < 4 {
			return s
		}
	}
}

// at is the water of a site on a day, without the day's weather.
func (w *world) at(site int, day time.Time) (s sample) {
	switch site {
	case mains, carbon:
		s = w.truth[mains]
		if day.Month() >= 5 && day.Month() <= 9 {
			s = w.truth[secondSupply]
		}
	case permeate:
		s = w.at(carbon, day)
		for i := range ions {
			s[i] *= 0.03
		}
		s[acid] -= 1
		return s
	case softener:
		s = w.at(wellA, day)
		s[tot], s[cah] = 4, 3
		return s
	default:
		s = w.truth[site]
	}
	year := 2 * math.Pi * float64(day.YearDay()) / 365.25
	for i := range ions {
		s[i] *= math.Exp(w.season*math.Sin(year+w.phase[0]) + w.own[i]*math.Sin(year+w.phase[i]))
	}
	return s
}

var panel = []water.ID{water.PHValue, water.Alkalinity, water.CalciumHardness, water.TotalHardness, water.Chloride, water.Sulfate, water.ElectricalConductivity}

var claimed = map[water.ID]water.Accuracy{
	water.PHValue: {Absolute: 0.15, Resolution: 0.01}, water.Alkalinity: {Absolute: 5, Relative: 0.05, Resolution: 1}, water.CalciumHardness: {Absolute: 5, Relative: 0.05, Resolution: 1},
	water.TotalHardness: {Absolute: 5, Relative: 0.05, Resolution: 1}, water.Chloride: {Absolute: 2, Relative: 0.05, Resolution: 1}, water.Sulfate: {Absolute: 5, Relative: 0.08, Resolution: 1},
	water.ElectricalConductivity: {Absolute: 2, Relative: 0.02, Resolution: 1},
}

var ranges = map[water.ID][2]float64{water.Alkalinity: {10, 500}, water.CalciumHardness: {10, 500}, water.TotalHardness: {10, 500}, water.Chloride: {1, 250}, water.Sulfate: {2, 200}}

// show types a value as the display shows it.
func show(id water.ID, v float64) string {
	if id == water.PHValue {
		return strconv.FormatFloat(v, 'f', 2, 64)
	}
	return strconv.FormatFloat(math.Round(v), 'f', 0, 64)
}

// set types a number into a reading.
func (r *Reading) set(number string) {
	n, err := strconv.ParseFloat(number, 64)
	if err != nil {
		panic(err)
	}
	r.Number = number
	one, _ := r.ID.Info().Convert(1, r.Unit, r.ID.Info().Unit)
	if r.ID == water.PHValue {
		one = 1
	}
	r.Value = n * one * r.Dilution
}

// session tests a site's water as a careful person would.
func (w *world) session(site int, day time.Time) Session {
	s := Session{Site: site, Time: day}
	truth := w.at(site, day)
	common := 0.008 * w.r.NormFloat64()
	for i := range ions {
		truth[i] *= math.Exp(common + 0.005*w.r.NormFloat64())
	}
	var x [core]float64
	for i := range ions {
		x[i], _ = lift(coreID[i], truth[i])
	}
	k, _ := conductivity(&x)
	truth[acid] += 0.03 * w.r.NormFloat64()
	truth[cond] = math.Exp(k+truth[cond]) - 1
	if site == permeate {
		truth[cond] *= math.Exp(0.04 * w.r.NormFloat64())
	}
	for _, id := range panel {
		at, _, _ := coreOf(id)
		v := truth[at]
		r := Reading{ID: id, Unit: id.Info().Unit, Dilution: 1, Accuracy: claimed[id], Meter: "meter", Max: ranges[id][1]}
		if id == water.ElectricalConductivity {
			r.Meter, r.Probe = "pen", true
		} else {
			r.Lot = w.lot(id)
		}
		if r.Max > 0 && v > 0.8*r.Max {
			r.Dilution, r.Diluted = 2, true
		}
		v /= r.Dilution
		half := (claimed[id].Absolute + claimed[id].Relative*v) * w.noise
		v += half * (w.bias[r.Lot] + 0.4*w.r.NormFloat64())
		if low := ranges[id][0]; v < low {
			r.set(show(id, low))
			r.Bound = water.Below
		} else {
			r.set(show(id, math.Max(v, 0)))
		}
		s.Readings = append(s.Readings, r)
	}
	return s
}

func (w *world) lot(id water.ID) string {
	name := fmt.Sprintf("%s-%d", id, w.lots)
	if _, ok := w.bias[name]; !ok {
		w.bias[name] = (2*w.r.Float64() - 1) / 3
	}
	return name
}

// season runs the region for some weeks.
func (w *world) run(weeks int) {
	day := time.Date(2024, 1, 8, 8, 0, 0, 0, time.UTC)
	for n := range weeks {
		if n%9 == 8 {
			w.lots++
		}
		for _, site := range []int{wellA, wellB, mains, carbon, softener, permeate, neighbour} {
			w.sessions = append(w.sessions, w.session(site, day.AddDate(0, 0, 7*n).Add(time.Duration(site)*time.Hour)))
		}
	}
}
