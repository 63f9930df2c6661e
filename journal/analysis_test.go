package journal

import (
	"math"
	"testing"
	"testing/fstest"

	"wj/water"
)

// TestDilution: the result is the mean of the replicates times the dilution
// (the format's own rule, and arithmetic) of what a volume holds an amount of.
// pH is a logarithm and a temperature a state (definitions), so that neither
// their results nor their uncertainties are multiplied.
func TestDilution(t *testing.T) {
	j, err := Load(fstest.MapFS{
		SettingsFile: {Data: []byte("format: 1\nname: x\ntimezone: UTC\n")},
		"sessions/2026/2026-03-04-well.md": {Data: []byte(`---
site: well
sampled: 2026-03-04T08:15Z
readings:
  pH: {value: [7.4, 7.6], dilution: 2}
  temperature: {value: 11.5 degC, dilution: 2}
  sulfate: {value: [152 mg/L, 154 mg/L], dilution: 2}
  conductivity: {value: 206 uS/cm, dilution: 2}
---
`)},
	}, Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	s := j.Sessions.List[0]
	for _, want := range []struct {
		id    water.ID
		value float64
		u     float64 // half of the analyte's typical 95 % accuracy, (absolute + relative × shown) × factor
		typed string
	}{
		{water.PHValue, 7.5, 0.1, "7.4, 7.6 in a sample diluted 2-fold"},
		{water.SampleTemperature, 11.5, 0.25, "11.5 degC in a sample diluted 2-fold"},
		{water.Sulfate, 306, (water.Sulfate.Info().Typical.Absolute + water.Sulfate.Info().Typical.Relative*153), "152 mg/L, 154 mg/L × 2"},
		{water.ElectricalConductivity, 412, math.NaN(), "206 uS/cm × 2"},
	} {
		r, ok := s.Reading(want.id)
		if !ok {
			t.Fatalf("no reading of %s", want.id)
		}
		v, _ := r.Result()
		m, ok := j.Measured(s, r)
		if v != want.value || !ok || m.Value != want.value {
			t.Errorf("%s is %g and %g, want %g", want.id, v, m.Value, want.value)
		}
		if !math.IsNaN(want.u) && math.Abs(m.U-want.u) > 1e-9 {
			t.Errorf("%s ± %g, want %g", want.id, m.U, want.u)
		}
		if got := TypedReading(r); got != want.typed {
			t.Errorf("%s is written as %q, want %q", want.id, got, want.typed)
		}
		var a water.Analysis
		if Values(s, &a); a.Number(want.id) != want.value {
			t.Errorf("%s among the values is %g, want %g", want.id, a.Number(want.id), want.value)
		}
	}
}
