package main

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"
)

// test is what the bench can measure. Accuracy is the half-width of a 95 %
// interval, an absolute part and a part of the reading: invented, like the
// meters. The repeatability is a sixth of it, and so is the bias of a lot at
// most, so that the whole of it never shows in one session.
type test struct {
	key, unit          string
	decimals           int
	absolute, relative float64
	low, high          float64
	lots               string // prefix of its reagent lots
	instrument         string // where it is not the photometer
}

// tests are in the order in which a session lists them.
var tests = []test{
	{"pH", "", 1, 0.15, 0, 5, 9, "PH", ""},
	{"alkalinity", " mg/L CaCO3", 0, 5, 0.05, 10, 400, "AL", ""},
	{"calcium_hardness", " mg/L CaCO3", 0, 5, 0.05, 10, 450, "CH", ""},
	{"total_hardness", " mg/L CaCO3", 0, 5, 0.05, 10, 500, "TH", ""},
	{"chloride", " mg/L", 0, 2, 0.05, 1, 250, "CL", ""},
	{"sulfate", " mg/L", 0, 5, 0.08, 2, 200, "SU", ""},
	{"free_chlorine", " mg/L", 2, 0.03, 0.1, 0.02, 4, "FC", ""},
	{"total_chlorine", " mg/L", 2, 0.03, 0.1, 0.02, 4, "TC", ""},
	{"conductivity", " uS/cm", 0, 2, 0.02, 1, 2000, "", "ec-pen-1"},
	{"temperature", " degC", 1, 0.3, 0, -2, 100, "", ""},
}

func testOf(key string) test {
	for _, t := range tests {
		if t.key == key {
			return t
		}
	}
	panic("no test for " + key) // a mistake in this program's own tables
}

const (
	full    = "pH alkalinity calcium_hardness total_hardness chloride sulfate "
	mineral = "alkalinity calcium_hardness total_hardness chloride sulfate "
)

// controlWater is what the control set declares.
var controlWater = composition{"pH": 7.4, "alkalinity": 120, "calcium_hardness": 150, "total_hardness": 200, "chloride": 50, "sulfate": 100, "free_chlorine": 0.5, "total_chlorine": 0.6, "conductivity": 560}

var controlSets = []struct{ from, lot string }{
	{"2023-10-09", "MW-2309"}, {"2024-09-10", "MW-2408"}, {"2025-07-22", "MW-2506"}, {"2025-10-14", "MW-2510"},
}

// plan lists every session with what was tested, before any value is known.
func plan() []*session {
	var all []*session
	add := func(id, site, clock string, keys string) *session {
		s := &session{id: id, site: site, instrument: meter(id[:10])}
		s.sampled = clockTime(id[:10], clock).Add(time.Duration(whole(15, id, "minute")) * time.Minute)
		s.tested = s.sampled.Add(time.Duration(5+whole(8, id, "tested")) * time.Minute)
		s.by = tester(s)
		for _, key := range strings.Fields(keys) {
			s.readings = append(s.readings, reading{key: key, shown: make([]string, 1)})
		}
		all = append(all, s)
		return s
	}
	for _, d := range checkDays() {
		planChecks(d, add)
	}
	for _, d := range townMainDays() {
		add(d+"-town-main", "town-main", "07:45", full+"free_chlorine conductivity temperature")
	}
	for _, d := range northWellDays() {
		add(d+"-north-well", "north-well", "10:05", full+"conductivity temperature")
	}
	for _, d := range boreDays() {
		add(d+"-tarrow-bore", "tarrow-bore", "13:20", full+"conductivity temperature")
	}
	for _, d := range carbonDays() {
		add(d+"-carbon-outlet", "carbon-outlet", "08:10", "free_chlorine total_chlorine temperature")
	}
	for _, d := range pairDays() {
		add(d+"-carbon-outlet", "carbon-outlet", "08:10", "free_chlorine total_chlorine conductivity temperature")
		keys := "conductivity temperature"
		if m := d[5:7]; m == "02" || m == "05" || m == "11" || d == "2026-03-12" {
			keys = full + keys
		}
		add(d+"-ro-permeate", "ro-permeate", "08:35", keys)
	}
	add("2026-06-09-ro-permeate", "ro-permeate", "08:35", full+"conductivity temperature")
	for _, d := range liquorDays() {
		add(d+"-hot-liquor-tank", "hot-liquor-tank", "09:10", full+"temperature").liquor = "2023-11-08-wicket-bitter"
	}
	for _, b := range batches {
		if b.verified == "" {
			continue
		}
		s := add(b.verified+"-hot-liquor-tank", "hot-liquor-tank", "08:55", full+"temperature")
		s.sample, s.change, s.liquor, s.batch = "verification", b.change, b.change, b.id()
	}
	for _, d := range []string{"2024-09-10-north-well", "2025-02-24-town-main", "2025-12-15-town-main", "2026-05-12-north-well"} {
		s := add(d+"-2", d[11:], "10:30", full+"conductivity temperature")
		s.sample, s.duplicateOf = "duplicate", d
		s.by = "jonas"
	}
	for i := range labDays {
		for _, site := range labDays[i].sites {
			s := add(labDays[i].day+"-"+site, site, "11:20", "")
			s.tested, s.instrument, s.by, s.source, s.laboratory = time.Time{}, "", "ines", "lab", "Lindhaven Analytical"
			s.entered = clockTime(labDays[i].entered, "14:05").Add(time.Duration(len(all)%7) * time.Minute)
		}
	}
	adjust(all)
	for _, s := range all {
		if s.entered.IsZero() {
			s.entered = s.tested.Add(time.Duration(3+whole(12, s.id, "entered")) * time.Minute)
		}
	}
	sort.Slice(all, func(i, j int) bool {
		if !all[i].sampled.Equal(all[j].sampled) {
			return all[i].sampled.Before(all[j].sampled)
		}
		return all[i].id < all[j].id
	})
	return all
}

// planChecks runs the control set on a day, and whatever else was run with it.
func planChecks(d string, add func(id, site, clock, keys string) *session) {
	check := func(id, clock, lot, keys string) *session {
		s := add(id, "bench", clock, keys)
		s.sample, s.standardLot = "check-standard", lot
		for _, r := range s.readings {
			t := testOf(r.key)
			s.standard = append(s.standard, pair{r.key, strconv.FormatFloat(controlWater[r.key], 'f', t.decimals, 64) + t.unit})
		}
		return s
	}
	all := full + "free_chlorine total_chlorine conductivity"
	lot := ""
	for _, c := range controlSets {
		if d >= c.from {
			lot = c.lot
		}
	}
	switch {
	case d == "2025-10-14":
		check(d+"-bench", "07:10", "SC-2510", "sulfate")
		check(d+"-bench-2", "07:40", "SC-2510", "sulfate")
		check(d+"-bench-3", "08:10", lot, all)
	case lot == "MW-2506":
		check(d+"-bench", "07:10", lot, strings.Replace(all, "sulfate ", "", 1))
	default:
		check(d+"-bench", "07:10", lot, all)
	}
	if d == "2025-03-04" {
		check(d+"-bench-2", "07:50", lot, all).instrument = "meter-2"
	}
	switch d {
	case "2024-02-27", "2024-08-13", "2025-01-28", "2025-06-24", "2026-02-03", "2026-07-21":
		add(d+"-bench-2", "bench", "07:35", mineral+"free_chlorine").sample = "blank"
	}
}

// meter is the photometer in use on a day; the last check of meter-1 on
// 2025-03-04 retired it.
func meter(d string) string {
	if d <= "2025-03-04" {
		return "meter-1"
	}
	return "meter-2"
}

func tester(s *session) string {
	d := s.id[:10]
	routine := s.site == "carbon-outlet" || s.site == "ro-permeate" || s.site == "hot-liquor-tank"
	switch {
	case s.site == "bench":
		return "ines"
	case routine && d < "2024-08-30", s.site == "town-main" && d < "2024-08-30" && whole(3, s.id, "by") == 0:
		return "emil"
	case d >= "2025-02-18" && (routine || whole(4, s.id, "by") == 0) && s.site != "tarrow-bore":
		return "pia"
	case s.site != "tarrow-bore" && whole(9, s.id, "by") == 0:
		return "jonas"
	}
	return "ines"
}

func clockTime(d, clock string) time.Time {
	t, err := time.ParseInLocation("2006-01-02 15:04", d+" "+clock, vilnius)
	if err != nil {
		panic(err) // a mistake in this program's own tables
	}
	return t
}

var places = map[string][2]float64{"north-well": {55.7231, 19.0387}, "tarrow-bore": {55.6512, 19.1604}, "town-main": {55.7012, 19.0421}}

// place is where the telephone thought it was: within some 20 m.
func place(site, id string) string {
	p, ok := places[site]
	if !ok || site == "town-main" && whole(3, id, "gps") > 0 {
		return ""
	}
	return fmt.Sprintf("[%.4f, %.4f]", p[0]+(number(id, "north")-0.5)*0.0003, p[1]+(number(id, "east")-0.5)*0.0004)
}

// measure fills in what the displays showed.
func measure(s *session) {
	s.place = place(s.site, s.id)
	truth := truthOf(s)
	for i := range s.readings {
		r := &s.readings[i]
		t := testOf(r.key)
		r.instrument = t.instrument
		r.bare = r.key == "temperature"
		x := truth[r.key]
		if r.bare {
			r.shown = []string{shownValue(t, temperature(s))}
			continue
		}
		if s.site == "ro-permeate" && r.key == "pH" && s.id != "2026-06-09-ro-permeate" {
			// The dye of the photometric test shifts the pH of water this weak.
			r.instrument, r.lot = "electrode-1", ""
			r.shown = []string{strconv.FormatFloat(5.9+0.3*number(s.id, "pH"), 'f', 2, 64)}
			continue
		}
		r.dilution = 1
		if r.key == "sulfate" && x > 180 || r.key == "total_hardness" && x > 490 {
			r.dilution = 2
		}
		replicates := len(r.shown)
		r.shown = r.shown[:0]
		for n := range replicates {
			half := t.absolute + t.relative*x/float64(r.dilution)
			v := x/float64(r.dilution) + half/6*(0.6*bias(r.lot, r.key)+0.8*normal(s.id, r.key, strconv.Itoa(n)))
			if r.key == "conductivity" {
				v = x * (1 + 0.004*normal(s.id, r.key))
			}
			if r.lot == "SU-2507" {
				v *= 0.82 // the bad lot
			}
			r.shown = append(r.shown, shownValue(t, v))
		}
	}
	pin(s)
}

func shownValue(t test, v float64) string {
	if v < t.low {
		return "<" + strconv.FormatFloat(t.low, 'f', t.decimals, 64) + t.unit
	}
	return strconv.FormatFloat(v+0, 'f', t.decimals, 64) + t.unit
}

func bias(lot, key string) float64 {
	if lot == "" {
		return 0
	}
	return 2*number(lot, key, "bias") - 1
}

func truthOf(s *session) composition {
	switch {
	case s.sample == "blank":
		return composition{}
	case s.site == "bench":
		return controlWater
	case s.site == "hot-liquor-tank":
		return liquorOn(s.liquor, s.sampled)
	}
	w := source(s.site, s.sampled)
	out := composition{}
	breath := 1.0 // the town's water is never quite the same
	if s.site == "town-main" {
		breath += 0.02 * normal("town", s.id[:10])
	}
	for k, v := range w {
		if out[k] = v * breath; k == "pH" {
			out[k] = v
		}
	}
	switch s.site {
	case "town-main":
		out["free_chlorine"] = 0.3 + 0.2*number(s.id, "dosing")
	case "carbon-outlet":
		out["free_chlorine"], out["total_chlorine"] = 0.005, 0.008
	}
	return out
}

func temperature(s *session) float64 {
	season := math.Sin(2 * math.Pi * (float64(s.sampled.YearDay()) - 115) / 365)
	scatter := number(s.id, "temperature") - 0.5
	switch s.site {
	case "north-well":
		return 9.6 + 0.4*season + 0.8*scatter
	case "tarrow-bore":
		return 10.2 + 0.5*season + 0.8*scatter
	case "hot-liquor-tank":
		return 21 + 4*scatter // cooled before the test
	}
	warm := 0.0
	if s.site == "ro-permeate" {
		warm = 1.5
	}
	return 9.5 + 5*season + 2*scatter + warm
}
