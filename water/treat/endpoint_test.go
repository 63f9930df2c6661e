package treat

import (
	"math"
	"testing"

	"wj/water"
)

// A titration that ends lower gives lactate more protons, so it reads more alkalinity in the same water: by lactate times the
// difference of 1/(1 + 10^(pH - pKa)), pKa 3.86 (acids.go), but for the activity of the ions.
func TestTheMethodsOwnEndPoint(t *testing.T) {
	read := func(end float64) (alkalinity, lactate float64) {
		p := bitterPlan(t, 210, 120, 300)
		p.EndPoint = end
		q, err := Predict(p)
		if err != nil {
			t.Fatal(err)
		}
		v, err := q.Value(water.Alkalinity)
		if err != nil {
			t.Fatal(err)
		}
		mg, _ := q.Acid("lactate")
		return v.Value, mg / massLactate
	}
	usual, lactate := read(0)
	same, _ := read(4.5)
	low, _ := read(4.3)
	part := func(pH float64) float64 { return 1 / (1 + math.Pow(10, pH-3.86)) }
	want := lactate * (part(4.3) - part(4.5)) * equivalentCalcite
	if same != usual || math.Abs(low-usual-want) > 0.15*want || want < 1 {
		t.Errorf("to pH 4.5 %.2f and %.2f, to 4.3 %.2f: %.2f more, want %.2f", usual, same, low, low-usual, want)
	}
	p := bitterPlan(t, 210, 120, 300)
	p.EndPoint = 8.3
	if _, err := Predict(p); err == nil {
		t.Error("an end point of 8.3 is taken")
	}
}

// The ions of a mixture, their charge and their total come from the analyte table: every ion that the table counts has a slot.
func TestEveryIonOfTheTableIsFollowed(t *testing.T) {
	for id := range water.NumAnalytes {
		a := id.Info()
		if a.Ion == water.NoIon {
			continue
		}
		at, ok := slotOf[id]
		if !ok {
			t.Errorf("%s is not followed", id)
			continue
		}
		var m mixture
		m[at] = a.MolarMass
		if got := m.cations() - m.anions(); math.Abs(got-float64(a.IonCharge)) > 1e-12 {
			t.Errorf("a mmol/L of %s has %g meq/L, want %d", id, got, a.IonCharge)
		}
	}
}
