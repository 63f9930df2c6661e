package main

import (
	"math"
	"time"

	"wj/water"
	"wj/water/equilibrium"
)

// The truth about the waters. Chemistry is that of water/equilibrium; how the waters move is the simulation's own law and
// known to nobody else.

// mol is mol/L for each mg/L: molar masses of IUPAC's abridged weights, 2021.
var mol = struct{ calcium, magnesium, sodium, potassium, chloride, sulfate, nitrate float64 }{
	1e-3 / 40.078, 1e-3 / 24.305, 1e-3 / 22.990, 1e-3 / 39.098, 1e-3 / 35.45, 1e-3 / 96.06, 1e-3 / 62.004}

// asChalk is mg/L CaCO3 for each equivalent in a litre.
const asChalk = 50043.5

// made is a water of these ions, mg/L and mg/L CaCO3; sodium makes it neutral. pressure is that of its carbon dioxide, atm.
func made(calcium, magnesium, potassium, alkalinity, chloride, sulfate, nitrate, pressure, celsius float64) equilibrium.Water {
	w := equilibrium.Water{Temperature: celsius, Calcium: calcium * mol.calcium, Magnesium: magnesium * mol.magnesium, Potassium: potassium * mol.potassium,
		Chloride: chloride * mol.chloride, Sulfate: sulfate * mol.sulfate, Nitrate: nitrate * mol.nitrate, Alkalinity: alkalinity / asChalk}
	return breathe(neutral(w), pressure)
}

// neutral sets sodium so that the charges are even, or chloride where that would be below nothing.
func neutral(w equilibrium.Water) equilibrium.Water {
	plus, minus := w.Charges()
	if w.Sodium += minus - plus; w.Sodium < 1e-6 {
		w.Chloride += 1e-6 - w.Sodium
		w.Sodium = 1e-6
	}
	return w
}

func breathe(w equilibrium.Water, pressure float64) equilibrium.Water {
	s, err := equilibrium.EquilibrateCO2(w, pressure)
	if err != nil {
		return w
	}
	return s.Water
}

// tap is what comes out of a tap on a day.
type tap struct {
	water     equilibrium.Water
	pressure  float64 // of carbon dioxide, atm
	free      float64 // chlorine, mg/L
	chloramin float64 // mg/L
}

// plant is the truth, day by day.
type plant struct {
	luck     uint64
	days     int
	switches []int // days on which the town's supply changes: reservoir first
	told     []bool
	drift    float64 // of the well's sulfate, mg/L a year
	carbon   int     // day on which the bed in use was laid
	holds    float64 // for how many days it holds chlorine back
	membrane int     // day of the last new membrane
	ages     float64 // how much more it lets through each year
	softened int     // day of the last regeneration
	resin    float64 // days between regenerations that it bears
	kettle   tap     // what is in the hot liquor tank
	filled   bool
}

func newPlant(seed uint64, days int) *plant {
	r := dice(seed, "plant")
	p := &plant{luck: seed, days: days, drift: between(r, 5, 30), holds: between(r, 250, 420), ages: between(r, 0.2, 0.7), resin: between(r, 9, 14)}
	for year := 0; year*365 < days+365; year++ {
		for _, day := range []int{120, 275} {
			p.switches = append(p.switches, year*365+day+r.IntN(21)-10)
			p.told = append(p.told, chance(r, 0.7))
		}
	}
	return p
}

// wells reports whether the town's water is that of the wells.
func (p *plant) wells(day int) bool {
	wells := false
	for _, s := range p.switches {
		if day >= s {
			wells = !wells
		}
	}
	return wells
}

// sway is slow noise: a mean of neighbouring weeks' draws, of standard deviation about 0.6.
func (p *plant) sway(what string, day int) float64 {
	at := func(week int) float64 { return gauss(dice(p.luck, "sway", what, week)) }
	week, part := day/7, float64(day%7)/7
	return (at(week-1)*(1-part) + 2*at(week) + at(week+1)*(1+part)) / 4
}

// at is the water at a site on a day. The tank holds what was filled into it.
func (p *plant) at(site string, day int) tap {
	season := math.Cos(2 * math.Pi * float64(day-20) / 365) // 1 in late January
	switch site {
	case "town-main":
		if p.wells(day) {
			a := p.sway("wellfield", day)
			return tap{made(84*(1+0.02*a), 14, 3, 212*(1+0.015*a), 38*(1+0.03*p.sway("wellfield chloride", day)), 52*(1+0.03*a), 11, 0.013, 11-season), 0.013, 0.45 + 0.05*p.sway("chlorine", day), 0.06}
		}
		a := p.sway("reservoir", day)
		return tap{made(22*(1+0.04*a), 4.6, 1.5, 52*(1+0.04*a), 18*(1+0.03*a), 21*(1+0.04*a), 4, 0.0022, 9-5*season), 0.0022, 0.5 + 0.06*p.sway("chlorine", day), 0.08}
	case "north-well":
		years := float64(day) / 365
		a := p.sway("well", day)
		sulfate := 215 + p.drift*years + 3*a
		return tap{made(138+0.35*(sulfate-215), 27, 4, 246*(1+0.008*a), 44*(1+0.02*a), sulfate, 2, 0.021, 9.8), 0.021, 0, 0}
	case "tarrow-bore":
		a := p.sway("bore", day)
		return tap{made(112*(1+0.01*a), 9, 1.5, 262*(1+0.01*a), 36*(1+0.03*a), 28*(1+0.03*a), 24, 0.018, 10.2), 0.018, 0, 0}
	case "hollow-spring":
		a := p.sway("spring", day)
		return tap{made(48*(1+0.02*a), 5, 1, 118*(1+0.02*a), 14*(1+0.04*a), 17*(1+0.04*a), 9, 0.009, 9.5), 0.009, 0, 0}
	case "carbon-outlet":
		t := p.at("town-main", day)
		through := 1 / (1 + math.Exp(-(float64(day-p.carbon)-p.holds-60)/12))
		t.free, t.chloramin = t.free*through, t.chloramin*math.Min(1, 2*through)
		return t
	case "softener-outlet":
		t := p.at("carbon-outlet", day)
		leak := 0.01 + 0.6/(1+math.Exp(-(float64(day-p.softened)-p.resin-4)/1.5))
		t.water.Calcium, t.water.Magnesium = t.water.Calcium*leak, t.water.Magnesium*leak
		t.water.Sodium = 0
		t.water = neutral(t.water)
		return t
	case "ro-permeate":
		t := p.at("carbon-outlet", day)
		pass := 0.018 * (1 + p.ages*float64(day-p.membrane)/365) * (1 + 0.04*p.sway("membrane", day))
		w := t.water
		w = equilibrium.Water{Temperature: w.Temperature + 1.5, Calcium: w.Calcium * pass * 0.4, Magnesium: w.Magnesium * pass * 0.4, Potassium: w.Potassium * pass * 1.6,
			Chloride: w.Chloride * pass * 1.1, Sulfate: w.Sulfate * pass * 0.4, Nitrate: w.Nitrate * pass * 2, Alkalinity: w.Alkalinity * pass * 1.3}
		return tap{breathe(neutral(w), t.pressure), t.pressure, 0, 0}
	case "hot-liquor-tank":
		return p.kettle
	}
	return tap{}
}

// fill leads a liquor into the tank, on what was left in it.
func (p *plant) fill(liquor equilibrium.Water, left float64) {
	if !p.filled {
		left = 0
	}
	w, err := equilibrium.Blend(equilibrium.Part{Water: liquor, Volume: 1 - left}, equilibrium.Part{Water: p.kettle.water, Volume: left})
	if err == nil {
		p.kettle, p.filled = tap{water: w, pressure: 0.004}, true
	}
}

// truth is what a perfect meter would show, in the standard unit of the analyte.
func (t *tap) truth(id water.ID) float64 {
	w := &t.water
	switch id {
	case water.PHValue:
		s, err := equilibrium.Speciate(*w)
		if err != nil {
			return math.NaN()
		}
		return s.PH
	case water.ElectricalConductivity: // as every pen shows it: at 25 degC
		v, err := equilibrium.ConductivityAt(*w, 25)
		if err != nil {
			return math.NaN()
		}
		return v
	case water.Alkalinity:
		a := w.Alkalinity
		if w.Lactate > 0 { // what a titration to pH 4.5 finds
			if titrated, err := equilibrium.Titrate(*w, 4.5); err == nil {
				a = titrated
			}
		}
		return a * asChalk
	case water.CalciumHardness:
		return w.Calcium * 2 * asChalk
	case water.TotalHardness:
		return (w.Calcium + w.Magnesium) * 2 * asChalk
	case water.Calcium:
		return w.Calcium / mol.calcium
	case water.Magnesium:
		return w.Magnesium / mol.magnesium
	case water.Sodium:
		return w.Sodium / mol.sodium
	case water.Chloride:
		return w.Chloride / mol.chloride
	case water.Sulfate:
		return w.Sulfate / mol.sulfate
	case water.FreeChlorine:
		return t.free
	case water.TotalChlorine:
		return t.free + t.chloramin
	case water.SampleTemperature:
		return w.Temperature
	case water.ResidualAlkalinity: // Kolbach 1953
		return t.truth(water.Alkalinity) - w.Calcium*2*asChalk/3.5 - w.Magnesium*2*asChalk/7
	}
	return math.NaN()
}

// began is the first day of a simulation.
var began = time.Date(2024, 1, 1, 0, 0, 0, 0, zone)

var zone = func() *time.Location {
	z, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		panic(err)
	}
	return z
}()

// at is a moment of a day.
func at(day, hour, minute int) time.Time {
	d := began.AddDate(0, 0, day)
	return time.Date(d.Year(), d.Month(), d.Day(), hour, minute, 0, 0, zone)
}

// iso writes a moment as the journal does.
func iso(t time.Time) string { return t.In(zone).Format("2006-01-02T15:04-07:00") }

func date(t time.Time) string { return t.In(zone).Format("2006-01-02") }
