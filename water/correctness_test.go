package water

import (
	"errors"
	"math"
	"testing"
)

func withU(a *Analysis, relative float64) *Analysis {
	for id := range NumAnalytes {
		if a.Has(id) && id != PHValue && id != SampleTemperature {
			a.m[id].U = relative * math.Abs(a.m[id].Value)
		}
	}
	return a
}

const wellKnown = "calcium=60 mg/L; magnesium=10 mg/L; sodium=20 mg/L; potassium=2 mg/L; alkalinity=150 mg/L CaCO3; sulfate=40 mg/L; chloride=30 mg/L; pH=7.6; temperature=15 degC"

func TestCheckBalance(t *testing.T) {
	// The water balances to 0.68 % (PHREEQC 3, row WA-1d of the published values).
	b, err := CheckBalance(withU(analysisOf(t, wellKnown), 0.01))
	if err != nil {
		t.Fatal(err)
	}
	if !b.InBand || !b.HasBand || b.Band.High != 2 || b.Doubtful() || math.Abs(b.Percent.Value-0.68) > 0.25 {
		t.Errorf("%+v", b)
	}
	if d := b.Cations.Value - b.Anions.Value; math.Abs(d-b.Difference.Value) > 1e-12 || b.Difference.U <= 0 {
		t.Errorf("difference %+v", b.Difference)
	}
	// 6 % more sulfate than there is: out of the 2 % band, but explained by readings
	// that are good to 10 %, not by ones that are good to 0.5 %.
	off := wellKnown[:len(wellKnown)-len("; pH=7.6; temperature=15 degC")] + "; nitrate=20 mg/L NO3"
	loose, _ := CheckBalance(withU(analysisOf(t, off), 0.05))
	tight, _ := CheckBalance(withU(analysisOf(t, off), 0.0025))
	if loose.InBand || !loose.Explained || loose.Doubtful() {
		t.Errorf("kit: %+v", loose)
	}
	if tight.InBand || tight.Explained || !tight.Doubtful() {
		t.Errorf("laboratory: %+v", tight)
	}
	if len(tight.Unmeasured) != 1 || tight.Unmeasured[0] != Ammonium {
		t.Errorf("anions in excess: look for a cation, not %v", tight.Unmeasured)
	}
	var absent *Absent
	if _, err := CheckBalance(analysisOf(t, six)); !errors.As(err, &absent) {
		t.Errorf("without sodium: %v", err)
	}
	if _, ok := BalanceBand(900); ok {
		t.Error("a band beyond 800 meq/L")
	}
	if _, ok := BalanceBand(math.NaN()); ok {
		t.Error("a band for nothing")
	}
	// Soft water: 0.2 meq/L, not a per cent (row WA-4d: 8.38 %).
	soft, _ := CheckBalance(analysisOf(t, "calcium=8 mg/L; magnesium=2 mg/L; sodium=4 mg/L; potassium=0.5 mg/L; alkalinity=15 mg/L CaCO3; sulfate=8 mg/L; chloride=6 mg/L"))
	if soft.Band.Unit != "meq/L" || !soft.InBand || soft.Percent.Value < 8 {
		t.Errorf("%+v", soft)
	}
}

// The measured waters of Stuyfzand 1987 (rows ST of the published values) pass
// the ratios that they can be held to.
func TestCheckRatios(t *testing.T) {
	a := analysisOf(t, "calcium=58 mg/L; magnesium=13 mg/L; sodium=23 mg/L; potassium=2.8 mg/L; chloride=39 mg/L; bicarbonate=101 mg/L; sulfate=116 mg/L; nitrate=0.6 mg/L NO3; pH=7; temperature=20 degC; conductivity=511 uS/cm; dissolved_solids=310 mg/L")
	got := CheckRatios(withU(a, 0.01))
	if len(got) != 6 {
		t.Fatalf("%d checks: %+v", len(got), got)
	}
	for _, r := range got {
		if !r.InBand || r.Doubtful() || r.Value.U <= 0 || r.Band.Source == "" || r.Hint != "" {
			t.Errorf("%s: %.3f ± %.3f, %+v", r.Name, r.Value.Value, 2*r.Value.U, r)
		}
	}
	// Conductivity read as mS/cm × 100: everything that depends on it is out.
	a.Set(ElectricalConductivity, Measured{Value: 51.1, U: 1})
	doubtful := 0
	for _, r := range CheckRatios(a) {
		if r.Doubtful() {
			doubtful++
			if r.Hint == "" {
				t.Errorf("%s: no hint", r.Name)
			}
		}
	}
	if doubtful != 5 {
		t.Errorf("%d of 5 checks doubt the conductivity", doubtful)
	}
	if CheckRatios(analysisOf(t, six)) != nil || CheckRatios(&Analysis{}) != nil {
		t.Error("checks without a measured sum")
	}
	a.Set(ElectricalConductivity, Measured{Value: 0})
	for _, r := range CheckRatios(a) {
		if math.IsInf(r.Value.Value, 0) || math.IsNaN(r.Value.Value) {
			t.Errorf("%+v", r)
		}
	}
}

func TestCalculatedConductivityIgnoresTheMeasuredOne(t *testing.T) {
	a := analysisOf(t, wellKnown+"; conductivity=5 uS/cm")
	v, err := a.CalculatedConductivity()
	if err != nil || math.Abs(v.Value-487) > 0.09*487 || v.U < 0.02*v.Value { // row EC-G1
		t.Errorf("%+v, %v", v, err)
	}
	if m, _ := a.Value(ElectricalConductivity); m.Value != 5 || m.Derived {
		t.Errorf("%+v", m)
	}
}

// TestConductivityScalesNearly holds what ID.Scales says of conductivity: half of
// every ion gives a little more than half of it, by Kohlrausch's square-root law
// (Robinson & Stokes, Electrolyte Solutions, 1959, ch. 7, from memory: the molar
// conductivity of 0.01 mol/L of calcium sulfate and chloride is some 10 to 20 %
// below that at infinite dilution).
func TestConductivityScalesNearly(t *testing.T) {
	a := analysisOf(t, wellKnown)
	half := Analysis{}
	for id := ID(0); id < NumAnalytes; id++ {
		if m, ok := a.Measured(id); ok {
			if id.Scales() {
				m.Value /= 2
			}
			half.Set(id, m)
		}
	}
	whole, err := a.CalculatedConductivity()
	part, err2 := half.CalculatedConductivity()
	if over := 2*part.Value/whole.Value - 1; err != nil || err2 != nil || over < 0.01 || over > 0.05 {
		t.Errorf("%.1f and twice %.1f uS/cm: %+.1f %%; %v %v", whole.Value, part.Value, 100*over, err, err2)
	}
}
