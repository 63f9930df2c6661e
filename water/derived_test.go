package water

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func analysisOf(t testing.TB, readings string) *Analysis {
	t.Helper()
	r := publishedRow{in: map[string]string{}}
	for _, part := range strings.Split(readings, "; ") {
		k, v, _ := strings.Cut(part, "=")
		r.in[k] = v
		if _, ok := LookupAnalyte(k); !ok && !strings.HasPrefix(k, "u.") {
			t.Fatalf("no analyte %q", k)
		}
	}
	a, err := r.analysis()
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range r.in {
		if id, ok := LookupAnalyte(k); ok {
			q, _ := ParseQuantity(v)
			m := a.m[id]
			m.Bound = q.Bound
			a.Set(id, m)
		}
	}
	return a
}

const six = "pH=7.42; alkalinity=118 mg/L CaCO3; calcium_hardness=92 mg/L CaCO3; total_hardness=138 mg/L CaCO3; chloride=21.5 mg/L; sulfate=61 mg/L"

// Common practice, no source: these six readings are what a bench kit measures,
// and magnesium, residual alkalinity and sodium are what a brewer wants of them.
func TestSixReadingsYieldTheRest(t *testing.T) {
	a := analysisOf(t, six)
	for _, id := range []ID{Magnesium, ResidualAlkalinity, Sodium, Calcium, Bicarbonate, CarbonDioxide, SaturationIndex, ElectricalConductivity, DissolvedSolids, IonicStrength, CarbonateHardness, SulfateChlorideRatio} {
		if v, err := a.Derive(id); err != nil || !v.Derived || len(v.From) == 0 {
			t.Errorf("%s: %+v, %v", id, v, err)
		}
	}
	v, _ := a.Derive(Sodium)
	if v.Note != "by difference: includes potassium, less nitrate and all errors" {
		t.Errorf("note %q", v.Note)
	}
	if v, _ = a.Derive(Bicarbonate); !strings.Contains(v.Note, "20 degC assumed") {
		t.Errorf("note %q", v.Note)
	}
	if v, _ = a.Derive(DissolvedSolids); strings.Contains(v.Note, "degC") || strings.Contains(v.Note, "pH") {
		t.Errorf("note %q", v.Note)
	}
	if _, err := a.Derive(ChargeBalance); err == nil || err.Error() != "no charge_balance: needs sodium" {
		t.Errorf("a balance with derived sodium: %v", err)
	}
}

func TestWhatIsAbsentSaysWhy(t *testing.T) {
	for _, c := range []struct {
		readings string
		id       ID
		why      string
	}{
		{"alkalinity=118 mg/L CaCO3", ResidualAlkalinity, "needs calcium_hardness, needs total_hardness"},
		{"alkalinity=118 mg/L CaCO3; calcium=40 mg/L", ResidualAlkalinity, "needs total_hardness"},
		{"calcium_hardness=92 mg/L CaCO3", Magnesium, "needs total_hardness"},
		{"pH=7", Bicarbonate, "needs alkalinity"}, {"alkalinity=118 mg/L CaCO3", Bicarbonate, "needs pH"},
		{"bicarbonate=144 mg/L; pH=7", Bicarbonate, "needs alkalinity"},
		{"sulfate=61 mg/L; chloride=0 mg/L", SulfateChlorideRatio, "chloride is 0"},
		{"sulfate=<5 mg/L; chloride=<20 mg/L", SulfateChlorideRatio, "sulfate is only known to be below 5.00"},
		{"pH=4.2; alkalinity=0.1 meq/L", CarbonDioxide, ""},
		{"pH=11; alkalinity=10 mg/L CaCO3", Bicarbonate, "measure pH or alkalinity again"},
		{"pH=15; alkalinity=10 mg/L CaCO3", Bicarbonate, "outside"}, {six + "; temperature=140 degC", Bicarbonate, "temperature"},
		{"calcium_hardness=-5 mg/L CaCO3; alkalinity=10 mg/L CaCO3; pH=7", SaturationIndex, "calcium"},
		{"", PHValue, "it is measured, not derived"}, {"calcium=0 mg/L; alkalinity=50 mg/L CaCO3; pH=7", SaturationIndex, "no calcium"},
	} {
		a := &Analysis{}
		if c.readings != "" {
			a = analysisOf(t, c.readings)
		}
		v, err := a.Derive(c.id)
		var absent *Absent
		if c.why == "" {
			if err != nil {
				t.Errorf("%s of %s: %v", c.id, c.readings, err)
			}
			continue
		}
		if !errors.As(err, &absent) || !strings.Contains(absent.Reason, c.why) {
			t.Errorf("%s of %s = %v, %v; want %q", c.id, c.readings, v.Value, err, c.why)
		}
		if !a.Has(c.id) && !math.IsNaN(a.Number(c.id)) {
			t.Errorf("%s of %s: Number is %g", c.id, c.readings, a.Number(c.id))
		}
	}
}

func TestNothingNegativeIsClipped(t *testing.T) {
	a := analysisOf(t, "pH=7.2; alkalinity=20 mg/L CaCO3; calcium_hardness=150 mg/L CaCO3; total_hardness=120 mg/L CaCO3; chloride=5 mg/L; sulfate=10 mg/L")
	for id, want := range map[ID]float64{MagnesiumHardness: -30, Magnesium: -7.285, Sodium: -37.9, ResidualAlkalinity: -18.57, NoncarbonateHardness: 100} {
		if v, err := a.Derive(id); err != nil || math.Abs(v.Value-want) > 0.005*math.Abs(want) {
			t.Errorf("%s = %v, %v; want %g", id, v.Value, err, want)
		}
	}
	v, err := a.Derive(SaturationIndex)
	if err != nil || !strings.Contains(v.Note, "negative by difference, taken as none: magnesium, sodium") && !strings.Contains(v.Note, "magnesium") {
		t.Errorf("%+v, %v", v, err)
	}
}

func TestBoundsStayBounds(t *testing.T) {
	a := analysisOf(t, "calcium_hardness=<10 mg/L CaCO3; magnesium=>30 mg/L")
	if v, err := a.Derive(Calcium); err != nil || v.Bound != Below || math.Abs(v.Value-4.0044) > 0.001 {
		t.Errorf("%+v, %v", v, err)
	}
	if v, err := a.Derive(MagnesiumHardness); err != nil || v.Bound != Above || math.Abs(v.Value-123.54) > 0.01 {
		t.Errorf("%+v, %v", v, err)
	}
	// It goes through every derivation, on the side on which the value lies, the errors of the other readings on top; what it does not
	// touch stays as it is.
	for _, c := range []struct {
		readings string
		id       ID
		bound    Bound
		want     float64
	}{
		{"sulfate=<5 mg/L; chloride=20 mg/L", SulfateChlorideRatio, Below, 0.25},
		{"sulfate=>200 mg/L; chloride=20 mg/L", SulfateChlorideRatio, Above, 10},
		{"sulfate=50 mg/L; chloride=<5 mg/L", SulfateChlorideRatio, Above, 10},
		{"alkalinity=<10 mg/L CaCO3; calcium_hardness=70 mg/L CaCO3; total_hardness=70 mg/L CaCO3", ResidualAlkalinity, Below, -10},
		{"calcium_hardness=<10 mg/L CaCO3; total_hardness=70 mg/L CaCO3", MagnesiumHardness, Above, 60},
		{"alkalinity=>500 mg/L CaCO3; total_hardness=200 mg/L CaCO3", CarbonateHardness, Exact, 200},
		// Both below the range: the difference is below the first alone.
		{"calcium_hardness=<5 mg/L CaCO3; total_hardness=<5 mg/L CaCO3", MagnesiumHardness, Below, 5},
		{"alkalinity=<5 mg/L CaCO3; calcium_hardness=<7 mg/L CaCO3; total_hardness=<7 mg/L CaCO3", ResidualAlkalinity, Below, 5},
		{"nitrate=30 mg/L NO3; nitrite=<0.03 mg/L NO2", NitrateRatios, Below, 0.61},
		{"nitrate=44.27 mg/L NO3; nitrite=3.284 mg/L NO2", OxidizedNitrogen, Exact, 11},
	} {
		v, err := analysisOf(t, c.readings).Derive(c.id)
		if err != nil || v.Bound != c.bound || math.Abs(v.Value-c.want) > 1e-3*math.Abs(c.want) {
			t.Errorf("%s of %s = %s%g, %v; want %s%g", c.id, c.readings, v.Bound, v.Value, err, c.bound, c.want)
		}
	}
	open := analysisOf(t, "chloride=<5 mg/L")
	open.Set(Sulfate, Measured{Value: 50, U: 1})
	if v, err := open.Derive(SulfateChlorideRatio); err != nil || v.Bound != Above || math.Abs(v.Value-9.6) > 1e-9 {
		t.Errorf("%+v, %v", v, err)
	}
	for _, readings := range []string{"sulfate=<5 mg/L; chloride=<5 mg/L", "total_hardness=>500 mg/L CaCO3; calcium_hardness=>400 mg/L CaCO3"} {
		for _, id := range []ID{SulfateChlorideRatio, MagnesiumHardness} {
			if v, err := analysisOf(t, readings).Derive(id); err == nil {
				t.Errorf("%s of %s = %+v", id, readings, v)
			}
		}
	}
	if !math.IsNaN(a.Number(CalciumHardness)) || !math.IsNaN(a.Number(Calcium)) {
		t.Error("a bound became a number")
	}
	// A minor ion below its range may be anything from 0 to there (GUM 4.3.7).
	exact := analysisOf(t, six+"; sodium=34 mg/L")
	below := analysisOf(t, six+"; sodium=34 mg/L; nitrate=<6 mg/L NO3")
	e, _ := exact.Derive(AnionSum)
	b, _ := below.Derive(AnionSum)
	if d := (b.Value - e.Value) * Nitrate.Info().MolarMass; math.Abs(d-3) > 1e-9 || math.Abs(b.U*Nitrate.Info().MolarMass-6/math.Sqrt(12)) > 1e-9 || !strings.Contains(b.Note, "nitrate") {
		t.Errorf("by %g mg/L, u %g, %q", d, b.U*Nitrate.Info().MolarMass, b.Note)
	}
}

func TestReportedBicarbonateGivesAlkalinity(t *testing.T) {
	a := analysisOf(t, "pH=7.9; bicarbonate=121.93 mg/L; calcium=36.8 mg/L; total_hardness=138 mg/L CaCO3")
	if v, err := a.Value(Alkalinity); err != nil || math.Abs(v.Value-100) > 0.01 || !v.Derived {
		t.Errorf("%+v, %v", v, err) // Hem 1985 p. 57: × 0.8202
	}
	if v, err := a.Value(ResidualAlkalinity); err != nil || len(v.From) != 3 {
		t.Errorf("%+v, %v", v, err)
	}
	if _, err := a.Value(CarbonDioxide); err != nil {
		t.Error(err)
	}
	if v, err := a.Derive(CalciumHardness); err != nil || math.Abs(v.Value-91.9) > 0.05 {
		t.Errorf("%+v, %v", v, err)
	}
}

// What a value depends on may come in any form; the form must not matter.
func TestTheFormOfAReadingDoesNotMatter(t *testing.T) {
	a := analysisOf(t, "pH=7.6; alkalinity=150 mg/L CaCO3; calcium=60 mg/L; magnesium=10 mg/L; chloride=30 mg/L; sulfate=40 mg/L; temperature=15 degC")
	b := analysisOf(t, "pH=7.6; alkalinity=2.99742 meq/L; calcium_hardness=1.497080 mmol/L; total_hardness=1.908518 mmol/L; chloride=30 mg/L; sulfate=13.3503 mg/L S; temperature=59 degF")
	for _, id := range DerivedNames() {
		x, y := a.Number(id), b.Number(id)
		if a.Has(id) || b.Has(id) {
			v, err := b.Value(id)
			if err != nil {
				continue
			}
			y = v.Value
		}
		if math.Abs(x-y) > 2e-4*(1+math.Abs(x)) || math.IsNaN(x) != math.IsNaN(y) && id != Alkalinity {
			t.Errorf("%s: %g and %g", id, x, y)
		}
	}
}

func TestAbsurdReadingsNeitherPanicNorHang(t *testing.T) {
	values := []float64{0, -1, 1, 7, 14, -14, 1e-300, 1e-9, 1e9, -1e9, 1e300, 100, 5000}
	rapid.Check(t, func(t *rapid.T) {
		var a Analysis
		for id := range NumAnalytes {
			if rapid.Bool().Draw(t, "has "+id.String()) {
				a.Set(id, Measured{Bound: Bound(rapid.IntRange(-1, 1).Draw(t, "bound")), Value: rapid.SampledFrom(values).Draw(t, id.String()),
					U: math.Abs(rapid.SampledFrom(values).Draw(t, "u")), Shared: rapid.SampledFrom([]string{"", "a", "b"}).Draw(t, "shared")})
			}
		}
		for _, d := range a.DeriveAll(DerivedNames()...) {
			if d.Err == nil && (math.IsNaN(d.Value.Value) || math.IsInf(d.Value.Value, 0) || d.U < 0) {
				t.Fatalf("%+v", d)
			}
			var absent *Absent
			if d.Err != nil && (!errors.As(d.Err, &absent) || absent.Reason == "") {
				t.Fatalf("%v", d.Err)
			}
		}
		CheckBalance(&a)
		CheckRatios(&a)
	})
}

func TestSetRefusesWhatIsNoNumber(t *testing.T) {
	var a Analysis
	for _, v := range []float64{math.NaN(), math.Inf(1)} {
		a.Set(Sulfate, Measured{Value: v})
	}
	a.Set(NumNames, Measured{Value: 1})
	a.Set(ResidualAlkalinity, Measured{Value: 1})
	if !a.have.Empty() {
		t.Error("recorded")
	}
	a.Set(Sulfate, Measured{Value: 3, U: math.NaN()})
	if m, ok := a.Measured(Sulfate); !ok || m.U != 0 {
		t.Errorf("%+v", m)
	}
}

// Together or alone, and by Number: the same values.
func TestDeriveAllAgreesWithDerive(t *testing.T) {
	a := fullAnalysis()
	for i, d := range a.DeriveAll(DerivedNames()...) {
		v, err := a.Derive(DerivedNames()[i])
		if (err == nil) != (d.Err == nil) || err == nil && (v.Value != d.Value.Value || math.Abs(v.U-d.U) > 1e-12*v.U || len(v.From) != len(d.From)) {
			t.Errorf("%+v and %+v, %v", v, d, err)
		}
		if n := a.Number(v.ID); err == nil && !a.Has(v.ID) && n != v.Value {
			t.Errorf("%s: Number %g, Derive %g", v.ID, n, v.Value)
		}
	}
}

func TestNumberDoesNotAllocate(t *testing.T) {
	full, empty := fullAnalysis(), &Analysis{}
	for _, id := range append(withoutEquilibria, Sulfate, PHValue) {
		if id == DissolvedSolids {
			continue // builds the water of the solver
		}
		for _, a := range []*Analysis{full, empty} {
			if n := testing.AllocsPerRun(100, func() { a.Number(id) }); n != 0 {
				t.Errorf("%s: %g allocations", id, n)
			}
		}
	}
}

func TestBudgetAddsUp(t *testing.T) {
	a := fullAnalysis()
	for _, id := range []ID{Sodium, ResidualAlkalinity, CarbonDioxide, SulfateChlorideRatio} {
		list, err := a.Budget(id)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, c := range list {
			sum += c.Change * c.Change
		}
		v, _ := a.Derive(id)
		if math.Abs(math.Sqrt(sum)-v.U) > 1e-9*v.U {
			t.Errorf("%s: %g of %g", id, math.Sqrt(sum), v.U)
		}
	}
	// The error of pH rules that of carbon dioxide: 2.303 × 0.05 = 11.5 % (from the
	// definition of pH).
	list, _ := a.Budget(CarbonDioxide)
	for _, c := range list {
		if c.ID == PHValue && math.Abs(math.Abs(c.Change)/a.Number(CarbonDioxide)-0.1155) > 0.002 {
			t.Errorf("%+v", c)
		}
	}
	if _, err := (&Analysis{}).Budget(Sodium); err == nil {
		t.Error("a budget of nothing")
	}
}

// TestMonteCarloCoverage: JCGM 101:2008 (GUM Supplement 1), 5 to 7. Normal
// readings are drawn, shared errors together; the ± 2 u interval must hold 95 % of
// what comes out. 95.45 % is what two standard deviations of a normal hold.
func TestMonteCarloCoverage(t *testing.T) {
	a := fullAnalysis()
	for _, id := range []ID{CalciumHardness, TotalHardness, Alkalinity} { // one meter, half its variance shared
		m := a.m[id]
		m.Shared, m.SharedU = "meter-2", m.U*math.Sqrt(0.5)
		a.Set(id, m)
	}
	names := []ID{Magnesium, ResidualAlkalinity, NoncarbonateHardness, SulfateChlorideRatio, ChargeBalance, Sodium, CombinedChlorine, DissolvedSolids,
		Bicarbonate, Carbonate, CarbonDioxide, IonicStrength, SaturationIndex}
	const draws = 6000
	random := rand.New(rand.NewPCG(20260304, 7))
	within := make([]int, len(names))
	sum, squares := make([]float64, len(names)), make([]float64, len(names))
	values := a.DeriveAll(names...)
	for range draws {
		b := *a
		shared := random.NormFloat64()
		for id := range NumAnalytes {
			if a.Has(id) {
				own, common := a.m[id].split()
				b.m[id].Value += own*random.NormFloat64() + common*shared
			}
		}
		r := resolver{a: &b}
		for i, id := range names {
			r.begin()
			d := r.derived(id) - values[i].Value.Value
			u := math.Sqrt(values[i].U*values[i].U - math.Pow(a.modelUncertainty(id, values[i].Value.Value), 2)) // the draws know nothing of the model's error
			if math.Abs(d) <= 2*u {
				within[i]++
			}
			sum[i] += d
			squares[i] += d * d
		}
	}
	for i, id := range names {
		cover := float64(within[i]) / draws
		if values[i].Err != nil || cover < 0.94 || cover > 0.965 {
			t.Errorf("%s: ± 2 u holds %.1f %% (%v)", id, 100*cover, values[i].Err)
		}
		mean := sum[i] / draws
		deviation := math.Sqrt(squares[i]/draws - mean*mean)
		if r := values[i].U / deviation; r < 0.95 || r > 1.06 {
			t.Errorf("%s: u %.4g, standard deviation of the draws %.4g", id, values[i].U, deviation)
		}
	}
}

// A sodium by difference holds the truth in waters whose potassium and nitrate nobody measured: drawn from what is published, and at the end of it.
func TestSodiumByDifferenceHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(20261201, 1))
	between := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	for _, edge := range []bool{false, true} {
		inside, all := 0, 0
		for all < 1500 {
			truth := map[ID]float64{CalciumHardness: between(100, 350), MagnesiumHardness: between(15, 110), Alkalinity: between(90, 300), Chloride: between(10, 60), Sulfate: between(10, 150)}
			potassium, nitrate := between(1.3, 10.5), between(0.6, 24)
			if edge {
				potassium, nitrate = 1.5, 24
			}
			sodium := 22.98977 * ((truth[Alkalinity]-truth[CalciumHardness]-truth[MagnesiumHardness])/50.0435 + truth[Chloride]/35.453 + truth[Sulfate]/48.03 + nitrate/62.005 - potassium/39.098)
			if sodium < 5 {
				continue
			}
			truth[TotalHardness] = truth[CalciumHardness] + truth[MagnesiumHardness]
			delete(truth, MagnesiumHardness)
			var a Analysis
			for _, id := range []ID{CalciumHardness, TotalHardness, Alkalinity, Chloride, Sulfate} {
				u := (id.Info().Typical.Absolute + id.Info().Typical.Relative*truth[id]) / 2
				a.Set(id, Measured{Value: max(0, truth[id]+u*r.NormFloat64()), U: u})
			}
			v, err := a.Value(Sodium)
			if err != nil {
				t.Fatal(err)
			}
			if all++; math.Abs(v.Value-sodium) <= v.Expanded() {
				inside++
			}
		}
		if part := float64(inside) / float64(all); part < 0.91 || part > 0.995 {
			t.Errorf("the interval holds sodium in %.1f %% (edge: %v)", 100*part, edge)
		}
	}
}
