package treat

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"wj/water"
	"wj/water/substance"
)

// Each row of testdata/published/treat.tsv is a check against something outside the project, run through this package's
// own functions; its source is in the row.
func TestPublishedValues(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "published", "treat.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(data)), "\n")[1:]
	if len(lines) < 35 {
		t.Fatalf("only %d rows", len(lines))
	}
	for _, line := range lines {
		c := strings.Split(line, "\t")
		if len(c) != 8 {
			t.Fatalf("%q: %d columns, want 8", c[0], len(c))
		}
		t.Run(c[0], func(t *testing.T) {
			want, err := strconv.ParseFloat(c[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			word, _, _ := strings.Cut(strings.TrimPrefix(c[4], "±"), " ")
			number, percent := strings.CutSuffix(word, "%")
			within, err := strconv.ParseFloat(number, 64)
			if err != nil {
				t.Fatal(err)
			}
			if percent {
				within *= math.Abs(want) / 100
			}
			in := map[string]string{}
			for _, part := range strings.Split(c[1], ";") {
				k, v, _ := strings.Cut(strings.TrimSpace(part), "=")
				in[k] = v
			}
			if got := publishedValue(t, in); !(math.Abs(got-want) <= within) {
				t.Errorf("%s: %.5g, want %g %s (%s)", c[1], got, want, c[4], c[5])
			}
		})
	}
}

func number64(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// bicarbonateWater holds sodium bicarbonate and nothing else.
func bicarbonateWater(alkalinity, pH, celsius float64) *water.Analysis {
	var a water.Analysis
	for id, v := range map[water.ID]float64{
		water.Calcium: 0, water.Magnesium: 0, water.Chloride: 0, water.Sulfate: 0, water.Sodium: alkalinity / equivalentCalcite * water.Sodium.Info().MolarMass,
		water.Alkalinity: alkalinity, water.PHValue: pH, water.SampleTemperature: celsius,
	} {
		a.Set(id, water.Measured{Value: v})
	}
	return &a
}

func pure(t testing.TB, key string) Product {
	t.Helper()
	g := goods(t, key, "100 %", "")
	g.HalfWidth = 0
	return g
}

func publishedValue(t *testing.T, in map[string]string) float64 {
	t.Helper()
	plan := Plan{Volume: 1, Temperature: math.NaN()}
	switch in["do"] {
	case "add":
		celsius := number64(t, in["t"])
		plan.Waters = []Portion{{Name: "a", Analysis: bicarbonateWater(number64(t, in["alk"]), number64(t, in["pH"]), celsius), Share: 1}}
		if in["share2"] != "" {
			share := number64(t, in["share2"])
			plan.Waters[0].Share = 1 - share
			plan.Waters = append(plan.Waters, Portion{Name: "b", Analysis: bicarbonateWater(number64(t, in["alk2"]), number64(t, in["pH2"]), celsius), Share: share})
		}
		if key, amount, ok := strings.Cut(in["add"], ":"); ok {
			g := goods(t, key, "", "10 % w/v")
			s, err := substance.Find(key)
			if err != nil {
				t.Fatal(err)
			}
			plan.Additions = []Addition{{Product: g, Amount: number64(t, amount) / 1000 * s.MolarMass() / 0.1}}
		}
		p, err := Predict(plan)
		if err != nil {
			t.Fatal(err)
		}
		if in["want"] == "alkalinity" {
			v, err := p.Value(water.Alkalinity)
			if err != nil {
				t.Fatal(err)
			}
			return v.Value
		}
		e, err := p.Equilibrate()
		if err != nil {
			t.Fatal(err)
		}
		if in["want"] == "degassed" {
			return e.PHDegassed.Value
		}
		return e.PH.Value
	case "salt", "dissolve":
		celsius := 25.0
		if in["t"] != "" {
			celsius = number64(t, in["t"])
		}
		plan.Waters = []Portion{{Name: "pure", Analysis: bicarbonateWater(0, 7, celsius), Share: 1}}
		if in["litres"] != "" {
			plan.Volume = number64(t, in["litres"])
		}
		grams := number64(t, in["grams"])
		plan.Additions = []Addition{{Product: pure(t, in["key"]), Amount: grams}}
		p, err := Predict(plan)
		if err != nil {
			t.Fatal(err)
		}
		if in["do"] == "dissolve" {
			e, err := p.Equilibrate()
			if err != nil || len(e.Undissolved) != 1 {
				t.Fatalf("%v, %v", e, err)
			}
			return grams - e.Undissolved[0].Grams
		}
		id, _ := water.Lookup(in["want"])
		if total, ok := p.ownAlkalinity(); ok && id == water.Alkalinity { // what the salt brings in all, not what a titration reads of it
			return total
		}
		v, err := p.Value(id)
		if err != nil {
			t.Fatal(err)
		}
		return v.Value
	case "chlorine":
		r, err := Dechlorinate(Chlorine{Total: 1, Free: math.NaN()}, pure(t, in["key"]), 1000)
		if err != nil {
			t.Fatal(err)
		}
		if in["want"] == "theory" {
			return r.Theory
		}
		return r.Dose.Amount
	case "residual":
		var a water.Analysis
		a.Set(water.Alkalinity, water.Measured{Value: 120, U: 6})
		a.Set(water.CalciumHardness, water.Measured{Value: 100, U: 5})
		a.Set(water.TotalHardness, water.Measured{Value: 150, U: 7.5})
		plan.Waters = []Portion{{Name: "a", Analysis: &a, Share: 1}}
		p, err := Predict(plan)
		if err != nil {
			t.Fatal(err)
		}
		v, err := p.Value(water.ResidualAlkalinity)
		if err != nil {
			t.Fatal(err)
		}
		if in["want"] == "u" {
			return v.U
		}
		return v.Value
	case "line":
		x := []float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5}
		y := []float64{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68}
		var batches []MashBatch
		for i := range x {
			batches = append(batches, MashBatch{x[i], y[i]/2 + 2})
		}
		l, err := FitMash(batches)
		if err != nil {
			t.Fatal(err)
		}
		return map[string]float64{"slope": l.Slope, "intercept": l.Intercept, "r": l.Correlation, "residual": l.Residual}[in["want"]]
	}
	t.Fatalf("no way to do %q", in["do"])
	return 0
}
