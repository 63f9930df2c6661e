package stats

import (
	"fmt"
	"math"
)

// EWMA is a chart of exponentially weighted moving averages.
type EWMA struct {
	Target float64 // where the process should be; also the average before the first value
	Sigma  float64 // standard deviation of single values, above zero
	Lambda float64 // weight of the newest value, 0 < Lambda ≤ 1; 0.2 to 0.3 is usual (NIST 6.3.2.4)
	Width  float64 // half-width of the limits in standard deviations of the average, above zero
}

// StandardEWMA has Lambda 0.2 and Width 2.962, which signals without cause once in 500 points on the mean
// (Lucas & Saccucci, Technometrics 32 (1990) 1–12; the tests reach it by simulation).
func StandardEWMA(target, sigma float64) EWMA {
	return EWMA{Target: target, Sigma: sigma, Lambda: 0.2, Width: 2.962}
}

// EWMAPoint is one average on the chart.
type EWMAPoint struct {
	Average      float64
	Lower, Upper float64 // exact limits, narrower for the first points
	Beyond       bool    // outside the exact limits
	SteadyBeyond bool    // outside the steady-state limits
}

func (e EWMA) check() error {
	const what = "EWMA chart"
	if err := checkNumber(what, "target", e.Target); err != nil {
		return err
	}
	if err := checkPositive(what, "sigma", e.Sigma); err != nil {
		return err
	}
	if err := checkPositive(what, "width", e.Width); err != nil {
		return err
	}
	if !(e.Lambda > 0 && e.Lambda <= 1) {
		return fmt.Errorf("%s: lambda is %v, it must be above 0 and at most 1", what, e.Lambda)
	}
	return nil
}

// step is z = λx + (1−λ)z₋₁.
func (e EWMA) step(before, x float64) float64 { return e.Lambda*x + (1-e.Lambda)*before }

// halfWidth is L σ √(λ/(2−λ) [1 − (1−λ)^2i]) at point i, counted from 1; i = 0 asks for the steady state.
func (e EWMA) halfWidth(i int) float64 {
	settled := 1.0
	if i > 0 {
		settled = 1 - math.Pow(1-e.Lambda, 2*float64(i))
	}
	return e.Width * e.Sigma * math.Sqrt(e.Lambda/(2-e.Lambda)*settled)
}

// SteadyLimits are the limits after many points, target ± L σ √(λ/(2−λ)): NIST/SEMATECH e-Handbook of Statistical
// Methods 6.3.2.4 uses them from the first point.
func (e EWMA) SteadyLimits() (Interval, error) {
	if err := e.check(); err != nil {
		return Interval{}, err
	}
	return Interval{e.Target - e.halfWidth(0), e.Target + e.halfWidth(0)}, nil
}

// Points averages values in order of time: z = λx + (1−λ)z₋₁, z₀ = target (Roberts, Technometrics 1 (1959)
// 239–250; NIST/SEMATECH e-Handbook 6.3.2.4). The exact limits carry the factor 1 − (1−λ)^2i (Montgomery,
// Introduction to Statistical Quality Control, EWMA chapter, eq. for the control limits).
func (e EWMA) Points(values []float64) ([]EWMAPoint, error) {
	steady, err := e.SteadyLimits()
	if err != nil {
		return nil, err
	}
	if err := checkValues("EWMA chart", values, 0); err != nil {
		return nil, err
	}
	out := make([]EWMAPoint, len(values))
	z := e.Target
	for i, v := range values {
		z = e.step(z, v)
		w := e.halfWidth(i + 1)
		p := EWMAPoint{Average: z, Lower: e.Target - w, Upper: e.Target + w, SteadyBeyond: !steady.Contains(z)}
		p.Beyond = z < p.Lower || z > p.Upper
		out[i] = p
	}
	return out, nil
}
