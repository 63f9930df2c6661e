package equilibrium

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawWater draws a water that a brewery might meet: closed, with a carbon that puts its pH between about 5 and 10.
func drawWater(t *rapid.T) Water {
	f := func(name string, most float64) float64 { return rapid.Float64Range(0, most).Draw(t, name) }
	w := Water{
		Temperature: f("temperature", 80), Calcium: f("calcium", 5e-3), Magnesium: f("magnesium", 2e-3), Sodium: f("sodium", 6e-3),
		Potassium: f("potassium", 5e-4), Ammonium: f("ammonium", 1e-4), Chloride: f("chloride", 5e-3), Sulfate: f("sulfate", 4e-3),
		Nitrate: f("nitrate", 8e-4), Fluoride: f("fluoride", 8e-5), Phosphate: f("phosphate", 1e-4), Silica: f("silica", 5e-4),
		Lactate: f("lactate", 2e-3), Citrate: f("citrate", 5e-4),
	}
	w.Alkalinity = rapid.Float64Range(2e-4, 7e-3).Draw(t, "alkalinity")
	w.InorganicCarbon = w.Alkalinity * rapid.Float64Range(0.9, 1.8).Draw(t, "carbon")
	return w
}

func near(a, b, relative, absolute float64) bool {
	return math.Abs(a-b) <= relative*math.Max(math.Abs(a), math.Abs(b))+absolute
}

// The answer is checked against its definition and not against itself: every mass balance, the proton balance, electrical
// charge and, for a sample of reactions, the law of mass action with the constant of the published function.
func TestSolutionObeysItsLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWater(t)
		s, err := Speciate(w)
		if err != nil {
			t.Fatalf("%+v: %v", w, err)
		}
		totals := [componentCount]float64{
			-w.Alkalinity, w.Calcium, w.Magnesium, w.Sodium, w.Potassium, w.Ammonium, w.Sulfate, w.Fluoride, w.InorganicCarbon,
			w.Phosphate, w.Lactate, w.Citrate, w.Silica,
		}
		var sum [componentCount]float64
		charge, strength := 0.0, 0.0
		for _, j := range AllSpecies() {
			for _, x := range speciesTable[j].terms {
				sum[x.component] += x.number * s.Amount(j)
			}
			charge += j.Charge() * s.Amount(j)
			strength += j.Charge() * j.Charge() * s.Amount(j) / 2
		}
		for i := range totals {
			if !near(sum[i], totals[i], 1e-8, 1e-13) {
				t.Errorf("balance of %v: %g, want %g", Species(i), sum[i], totals[i])
			}
		}
		if cations, anions := w.Charges(); !near(charge, cations-anions, 1e-6, 1e-11) {
			t.Errorf("charge of the species %g, of the analysis %g", charge, cations-anions)
		}
		if !near(strength, s.IonicStrength, 1e-8, 0) {
			t.Errorf("ionic strength %g, from the species %g", s.IonicStrength, strength)
		}
		c := w.Temperature
		h, co2 := s.Activity(Hydrogen), s.Activity(CarbonDioxide)
		for _, law := range []struct {
			name      string
			got, want float64
		}{
			{"K1", math.Log10(h * s.Activity(Bicarbonate) / co2), LogCarbonicFirst(c)},
			{"K2", math.Log10(h * s.Activity(Carbonate) / s.Activity(Bicarbonate)), LogCarbonicSecond(c)},
			{"Kw", math.Log10(h * s.Activity(Hydroxide)), LogWater(c)},
			{"pH", -math.Log10(h), s.PH},
			{"KH", math.Log10(co2 / s.CarbonDioxidePressure), LogHenry(c)},
		} {
			if math.Abs(law.got-law.want) > 1e-9 {
				t.Errorf("%s: %g, want %g", law.name, law.got, law.want)
			}
		}
	})
}

func TestMeasuredPHAndClosedWaterAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWater(t)
		closed, err := Speciate(w)
		if err != nil {
			t.Fatal(err)
		}
		at, err := SpeciateAt(w, closed.PH)
		if err != nil {
			t.Fatal(err)
		}
		if !near(at.Water.InorganicCarbon, w.InorganicCarbon, 1e-6, 1e-12) {
			t.Errorf("inorganic carbon %g, want %g", at.Water.InorganicCarbon, w.InorganicCarbon)
		}
	})
}

func TestBlendWithItselfIsItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWater(t)
		mixed, err := Blend(Part{w, rapid.Float64Range(0.1, 9).Draw(t, "a")}, Part{w, rapid.Float64Range(0.1, 9).Draw(t, "b")})
		if err != nil {
			t.Fatal(err)
		}
		a, err := Speciate(w)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Speciate(mixed)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(a.PH-b.PH) > 1e-8 || !near(a.IonicStrength, b.IonicStrength, 1e-9, 0) {
			t.Errorf("pH %v became %v, ionic strength %v became %v", a.PH, b.PH, a.IonicStrength, b.IonicStrength)
		}
	})
}

func TestAcidThenBaseReturns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWater(t)
		before, err := Speciate(w)
		if err != nil {
			t.Fatal(err)
		}
		dose := rapid.Float64Range(0, 0.9*w.Alkalinity).Draw(t, "dose")
		acid, err := Add(w, ReagentHydrochloricAcid, dose)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Add(acid, ReagentSodiumHydroxide, dose)
		if err != nil {
			t.Fatal(err)
		}
		after, err := Speciate(back)
		if err != nil {
			t.Fatal(err)
		}
		// NaCl is left behind; it moves pH by ionic strength and sodium pairs alone.
		salt, err := Add(w, ReagentSodiumChloride, dose)
		if err != nil {
			t.Fatal(err)
		}
		want, err := Speciate(salt)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(after.PH-want.PH) > 1e-8 || math.Abs(after.PH-before.PH) > 0.15 {
			t.Errorf("pH %v, after acid and base %v, with the salt alone %v", before.PH, after.PH, want.PH)
		}
	})
}

func TestOrderOfAdditionsDoesNotMatterAndChargeIsConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWater(t)
		n := rapid.IntRange(2, 5).Draw(t, "n")
		type step struct {
			r Reagent
			m float64
		}
		steps := make([]step, n)
		for i := range steps {
			steps[i] = step{Reagent(rapid.IntRange(0, int(reagentCount)-1).Draw(t, "reagent")), rapid.Float64Range(0, 3e-4).Draw(t, "mol")}
		}
		one, two := w, w
		for i := range steps {
			var err error
			if one, err = Add(one, steps[i].r, steps[i].m); err != nil {
				t.Fatal(err)
			}
			last := steps[n-1-i]
			if two, err = Add(two, last.r, last.m); err != nil {
				t.Fatal(err)
			}
		}
		a, err := Speciate(one)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Speciate(two)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(a.PH-b.PH) > 1e-8 {
			t.Errorf("pH %v in one order, %v in the other", a.PH, b.PH)
		}
		c0, a0 := w.Charges()
		c1, a1 := one.Charges()
		if !near(c0-a0, c1-a1, 1e-9, 1e-15) {
			t.Errorf("unexplained charge %g became %g", c0-a0, c1-a1)
		}
	})
}

func TestEveryReagentIsNeutral(t *testing.T) {
	for r := Reagent(0); r < reagentCount; r++ {
		cations, anions := r.PerMole().Charges()
		if math.Abs(cations-anions) > 1e-12 {
			t.Errorf("%v: %g cations, %g anions", r, cations, anions)
		}
	}
}

func TestAcidLowersPHMonotonically(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWater(t)
		acid := []Reagent{ReagentHydrochloricAcid, ReagentSulfuricAcid, ReagentLacticAcid, ReagentPhosphoricAcid, ReagentCitricAcid, ReagentCarbonDioxide}[rapid.IntRange(0, 5).Draw(t, "acid")]
		last := math.Inf(1)
		for i := range 8 {
			after, err := Add(w, acid, float64(i)*4e-4)
			if err != nil {
				t.Fatal(err)
			}
			s, err := Speciate(after)
			if err != nil {
				t.Fatal(err)
			}
			if s.PH >= last {
				t.Fatalf("%v: pH rises from %v to %v at %d", acid, last, s.PH, i)
			}
			last = s.PH
		}
	})
}

func TestPrecipitationEndsAtSaturation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWater(t)
		before, err := Speciate(w)
		if err != nil {
			t.Fatal(err)
		}
		p, err := PrecipitateCalcite(w)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.Solution.CalciteSaturation) > 1e-6 {
			t.Errorf("index %g after precipitation of %g", p.Solution.CalciteSaturation, p.Precipitated)
		}
		if math.Abs(before.CalciteSaturation) > 1e-6 && (before.CalciteSaturation > 0) != (p.Precipitated > 0) {
			t.Errorf("index %g but potential %g", before.CalciteSaturation, p.Precipitated)
		}
	})
}

func TestNegativeAlkalinity(t *testing.T) {
	w := Water{Temperature: 20, Calcium: 1e-3, Chloride: 2e-3, Sodium: 1e-3, Alkalinity: 1e-3, InorganicCarbon: 1.1e-3}
	after, err := Add(w, ReagentHydrochloricAcid, 2e-3)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Speciate(after)
	if err != nil {
		t.Fatal(err)
	}
	// One millimole per litre of strong acid is left: [H+] = 1e-3 and pH = 3 - log g, with g about 0.92 (Davies, I = 0.005).
	if math.Abs(s.PH-3.03) > 0.02 {
		t.Errorf("pH %v", s.PH)
	}
}

// Speciate and AlkalinityAt undo each other, and a titration finds less alkalinity left than there was by what its chloride
// adds to the ionic strength alone.
func TestAlkalinityAtPHUndoesSpeciation(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		w := drawWater(r)
		s, err := Speciate(w)
		if err != nil || s.PH < lowestPH || s.PH > highestPH {
			return
		}
		blind := w
		blind.Alkalinity = 0
		again, err := AlkalinityAt(blind, s.PH)
		if err != nil || math.Abs(again-w.Alkalinity) > 1e-9+1e-7*math.Abs(w.Alkalinity) {
			r.Fatalf("alkalinity %g at pH %g is found as %g (%v)", w.Alkalinity, s.PH, again, err)
		}
		end := rapid.Float64Range(4.3, 8.3).Draw(r, "end")
		acid, err := Titrate(w, end)
		left, err2 := AlkalinityAt(w, end)
		if err != nil || err2 != nil || math.Abs(w.Alkalinity-acid-left) > 1e-6+0.02*(math.Abs(left)+math.Abs(acid)) {
			r.Fatalf("to pH %g: %g less %g titrated, %g by the solution (%v, %v)", end, w.Alkalinity, acid, left, err, err2)
		}
	})
	for _, pH := range []float64{math.NaN(), 1, 14} {
		if v, err := AlkalinityAt(Water{Temperature: 20, Alkalinity: 1e-3, InorganicCarbon: 1e-3}, pH); err == nil {
			t.Errorf("pH %g: %g", pH, v)
		}
	}
}

func TestTitrationFindsTheAlkalinityOfABicarbonateWater(t *testing.T) {
	w := Water{Temperature: 20, Sodium: 2e-3, Alkalinity: 2e-3, InorganicCarbon: 2.1e-3}
	got, err := Titrate(w, 4.5)
	if err != nil {
		t.Fatal(err)
	}
	// The end point of 2 mmol/L of CO2 is near 4.5 (Standard Methods 2320 B): within 2 %.
	if !near(got, 2e-3, 0.02, 0) {
		t.Errorf("titrated %g eq/L", got)
	}
}

func TestWhatHasNoAnswerSaysWhy(t *testing.T) {
	good := Water{Temperature: 20, Calcium: 1e-3, Alkalinity: 2e-3, InorganicCarbon: 2e-3}
	for name, c := range map[string]struct {
		run  func() error
		want string
	}{
		"negative total":  {func() error { w := good; w.Sodium = -1e-3; _, err := Speciate(w); return err }, "sodium"},
		"not a number":    {func() error { w := good; w.Alkalinity = math.NaN(); _, err := Speciate(w); return err }, "alkalinity"},
		"too hot":         {func() error { w := good; w.Temperature = 120; _, err := Speciate(w); return err }, "120 degC"},
		"pH too high":     {func() error { _, err := SpeciateAt(good, 13.5); return err }, "13.5"},
		"contradiction":   {func() error { w := good; w.Alkalinity = 1e-5; _, err := SpeciateAt(w, 10); return err }, "measure pH or alkalinity again"},
		"too much carbon": {func() error { _, err := SpeciateAt(good, 3); return err }, "more than water holds"},
		"too much acid":   {func() error { w := good; w.Alkalinity = -0.1; _, err := Speciate(w); return err }, "pH would be"},
		"wrong unit":      {func() error { w := good; w.Calcium = 80; _, err := Speciate(w); return err }, "unit"},
		"no volume":       {func() error { _, err := Blend(Part{good, 0}); return err }, "volumes"},
		"no pressure":     {func() error { _, err := EquilibrateCO2(good, 0); return err }, "pressure"},
		"unknown reagent": {func() error { _, err := Add(good, Reagent(99), 1); return err }, "99"},
	} {
		err := c.run()
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	w := good
	w.Alkalinity = -0.1
	if _, err := Speciate(w); !errors.Is(err, ErrNoSolution) {
		t.Errorf("error %v does not wrap ErrNoSolution", err)
	}
}

func TestGypsumThatDoesNotDissolve(t *testing.T) {
	// Handbook solubility of gypsum is 2.4 to 2.6 g/L (CRC Handbook): of 10 g/L, more than 7 stay; 1 g/L is not saturated.
	for _, c := range []struct{ grams, least, most float64 }{{10, 7, 7.7}, {1, -2, 0}} {
		w, err := Add(Water{Temperature: 20}, ReagentCalciumSulfate, c.grams/172.164)
		if err != nil {
			t.Fatal(err)
		}
		d, err := HoldSolids(w, GypsumSolid, 0)
		if left := d.Gypsum * 172.164; err != nil || left < c.least || left > c.most {
			t.Errorf("of %g g/L %g g/L are too much, %v", c.grams, left, err)
		}
	}
}

// A held solid leaves an index of zero, and what came out brings the water back; two solids at once too.
func TestHeldSolids(t *testing.T) {
	for _, celsius := range []float64{5, 20, 50, 90} {
		for _, lime := range []float64{0, 1e-3, 3e-3, 6e-3} {
			w := Water{Temperature: celsius, Calcium: 2.745e-3, Magnesium: 1.2e-3, Sodium: 1e-3, Chloride: 1.5e-3, Sulfate: 0.69e-3, Alkalinity: 5e-3, InorganicCarbon: 5.4e-3}
			w = w.Plus(ReagentCalciumHydroxide.PerMole(), lime)
			d, err := HoldSolids(w, Calcite, 0)
			if err != nil {
				t.Fatalf("%g degC, lime %g: %v", celsius, lime, err)
			}
			again, err := Speciate(d.Solution.Water)
			if err != nil || math.Abs(again.CalciteSaturation) > 1e-6 || math.Abs(again.PH-d.Solution.PH) > 1e-6 {
				t.Errorf("%g degC, lime %g: index %g, pH %g and %g, %v", celsius, lime, again.CalciteSaturation, again.PH, d.Solution.PH, err)
			}
			if d.Solution.BruciteSaturation > 0 {
				both, err := HoldSolids(w, Calcite|Brucite, 0)
				if err != nil {
					t.Fatalf("%g degC, lime %g: %v", celsius, lime, err)
				}
				again, err := Speciate(both.Solution.Water)
				if err != nil || math.Abs(again.CalciteSaturation) > 1e-6 || math.Abs(again.BruciteSaturation) > 1e-6 || both.Brucite <= 0 {
					t.Errorf("%g degC, lime %g: calcite %g, brucite %g (%g mol/L), %v", celsius, lime, again.CalciteSaturation, again.BruciteSaturation, both.Brucite, err)
				}
			}
			open, err := HoldSolids(w, Calcite, AirCarbonDioxide)
			if err != nil || math.Abs(open.Solution.CalciteSaturation) > 1e-6 || math.Abs(open.Solution.CarbonDioxidePressure/AirCarbonDioxide-1) > 1e-6 {
				t.Errorf("%g degC, lime %g, open: %+v, %v", celsius, lime, open.Solution.PH, err)
			}
		}
	}
}

func FuzzSpeciate(f *testing.F) {
	f.Add(20.0, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-3, 1e-4, 1e-4, 2e-3, 2e-3, 7.5)
	f.Add(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -1e-3, 0.0, 3.0)
	f.Add(95.0, 0.5, 0.2, 0.5, 0.5, 0.5, 0.3, 0.3, 0.3, 0.2, 0.3, 12.4)
	f.Add(25.0, 1e-2, 1e-2, 0.0, 0.0, 1e-2, 0.0, 1e-2, 1e-2, 3e-2, 1e-6, 9.0)
	f.Fuzz(func(t *testing.T, celsius, ca, mg, na, cl, so4, lactate, citrate, phosphate, alkalinity, carbon, pH float64) {
		w := Water{
			Temperature: celsius, Calcium: ca, Magnesium: mg, Sodium: na, Chloride: cl, Sulfate: so4, Lactate: lactate,
			Citrate: citrate, Phosphate: phosphate, Alkalinity: alkalinity, InorganicCarbon: carbon,
		}
		sane := func(s Solution, err error) {
			if err != nil {
				if w.check() == nil && strings.Contains(err.Error(), "convergence") {
					t.Errorf("%+v pH %v: %v", w, pH, err)
				}
				return
			}
			if math.IsNaN(s.PH) || math.IsNaN(s.IonicStrength) || math.IsNaN(s.CalciteSaturation) && w.Calcium > 0 && s.Water.InorganicCarbon > 0 {
				t.Errorf("%+v: %+v", w, s.PH)
			}
			_ = s.Conductivity()
			_ = s.ConductivityByStandardMethods()
			_ = s.DissolvedSolids(SolidsIons)
		}
		sane(Speciate(w))
		sane(SpeciateAt(w, pH))
		sane(EquilibrateCO2(w, 1e-3))
		if p, err := PrecipitateCalcite(w); err == nil {
			sane(p.Solution, nil)
		}
		if p, err := SaturateGypsum(w); err == nil {
			sane(p.Solution, nil)
		}
		_, _ = Titrate(w, 4.5)
	})
}
