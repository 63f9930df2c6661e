package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"wj/water"
)

// test is what the bench can find: how the meter shows it and what its maker declares.
type test struct {
	id                 water.ID
	key, unit          string
	absolute, relative float64 // declared half-width, 95 %
	decimals           int
	low, high          float64 // range
	reagent            string  // beginning of its lots' names; "" for a probe
	probe              string  // the instrument, where it is not the photometer
}

var tests = []test{
	{water.PHValue, "pH", "", 0.15, 0, 1, 5, 9, "PH", ""},
	{water.Alkalinity, "alkalinity", "mg/L CaCO3", 5, 0.05, 0, 10, 500, "AL", ""},
	{water.CalciumHardness, "calcium_hardness", "mg/L CaCO3", 5, 0.05, 0, 10, 500, "CH", ""},
	{water.TotalHardness, "total_hardness", "mg/L CaCO3", 5, 0.05, 0, 10, 600, "TH", ""},
	{water.Chloride, "chloride", "mg/L", 2, 0.05, 0, 1, 200, "CL", ""},
	{water.Sulfate, "sulfate", "mg/L", 5, 0.08, 0, 2, 200, "SU", ""},
	{water.FreeChlorine, "free_chlorine", "mg/L", 0.03, 0.1, 2, 0.02, 5, "FC", ""},
	{water.TotalChlorine, "total_chlorine", "mg/L", 0.03, 0.1, 2, 0.02, 5, "TC", ""},
	{water.ElectricalConductivity, "conductivity", "uS/cm", 2, 0.02, 0, 1, 2000, "", "ec-pen-1"},
	{water.SampleTemperature, "temperature", "degC", 0.5, 0, 1, 0, 60, "", "ec-pen-1"},
}

func testOf(key string) *test {
	for i := range tests {
		if tests[i].key == key {
			return &tests[i]
		}
	}
	return nil
}

// reading is one reading of an act: what the meter shows, and what would have been right.
type reading struct {
	*test
	exact    float64 // what a perfect meter would show
	shown    string  // with its unit, as typed
	right    string  // what a careful person would have typed
	dilution int     // as written
	diluted  int     // as done
	lot      string
	day      int
}

func (r *reading) written() string {
	if r.dilution > 1 {
		return fmt.Sprintf("%s × %d", r.shown, r.dilution)
	}
	return r.shown
}

// lot is a reagent's pack.
type lot struct {
	id, key    string
	bias       float64 // in declared standard uncertainties
	left       int
	expires    time.Time
	bad, known bool // bad reads wrong by far; known: it was taken out of use
}

// bench is the meters and reagents, and how they err. Of a declared standard uncertainty a quarter of the variance is the lot's, an
// eighth the meter's, the rest that of each reading: together what the maker declares.
type bench struct {
	luck  uint64
	lots  map[string][]*lot // by analyte, the newest last
	next  map[string]int
	fails int // day from which the lamp of the photometer fails
}

func newBench(seed uint64, days int) *bench {
	r := dice(seed, "bench")
	b := &bench{luck: seed, lots: map[string][]*lot{}, next: map[string]int{}, fails: math.MaxInt}
	if chance(r, 0.4) {
		b.fails = 200 + r.IntN(max(days, 200))
	}
	return b
}

// open is a new lot of an analyte.
func (b *bench) open(t *test, day int) *lot {
	b.next[t.key]++
	r := dice(b.luck, "lot", t.key, b.next[t.key])
	l := &lot{id: fmt.Sprintf("%s-%d", t.reagent, 100+b.next[t.key]), key: t.key, bias: gauss(r) * 0.5, left: 50, expires: at(day+330+r.IntN(90), 23, 0)}
	if chance(r, 0.02) && day > 60 {
		l.bad, l.bias = true, math.Copysign(between(r, 5, 8), r.Float64()-0.5)
	}
	b.lots[t.key] = append(b.lots[t.key], l)
	return l
}

// current is the lot in use, nil without one.
func (b *bench) current(key string) *lot {
	list := b.lots[key]
	if len(list) == 0 {
		return nil
	}
	return list[len(list)-1]
}

func half(t *test, v float64) float64 { return t.absolute + t.relative*math.Abs(v) }

// read is a reading of the truth. A sample beyond the range is diluted by a careful hand.
func (b *bench) read(t *test, truth float64, l *lot, day int, about ...any) reading {
	r := dice(b.luck, append([]any{"read", t.key, day}, about...)...)
	out := reading{test: t, exact: truth, dilution: 1, diluted: 1, day: day}
	bias := 0.0
	if l != nil {
		bias, out.lot = l.bias, l.id
	}
	meter := gauss(dice(b.luck, "meter", t.key))*math.Sqrt(0.125) + 0.1*float64(day)/365
	if t.probe == "" && day > b.fails {
		meter += 6 * (1 - math.Exp(-float64(day-b.fails)/40))
	}
	if t.id.Dilutable() && t.probe == "" {
		for truth/float64(out.diluted) > 0.95*t.high {
			out.diluted++
		}
	}
	out.dilution = out.diluted
	v := truth / float64(out.diluted)
	v += half(t, v) / 2 * (bias + meter + math.Sqrt(0.625)*gauss(r))
	out.shown = show(t, v)
	out.right = out.shown
	return out
}

// show is how the meter shows a value.
func show(t *test, v float64) string {
	text := ""
	switch {
	case v < t.low:
		text = "<" + strconv.FormatFloat(t.low, 'f', t.decimals, 64)
	case v > t.high:
		text = ">" + strconv.FormatFloat(t.high, 'f', t.decimals, 64)
	default:
		text = strconv.FormatFloat(v, 'f', t.decimals, 64)
	}
	return strings.TrimSpace(text + " " + t.unit)
}
