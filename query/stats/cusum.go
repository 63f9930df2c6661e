package stats

import (
	"fmt"
	"math"
)

// CUSUM is a tabular cumulative-sum chart.
type CUSUM struct {
	Target   float64
	Slack    float64 // k, in the unit of the values: half the shift that should be found; 0 or more
	Decision float64 // h, in the unit of the values, above zero
}

// StandardCUSUM has k = 0.5 σ and h = 5 σ: a shift of one σ is found in about 10 points, and a false alarm comes
// once in 465 (NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.3; with h = 4 σ once in 168).
func StandardCUSUM(target, sigma float64) CUSUM {
	return CUSUM{Target: target, Slack: 0.5 * sigma, Decision: 5 * sigma}
}

// CUSUMPoint holds the two sums after one value.
type CUSUMPoint struct {
	High, Low             float64 // S_hi and S_lo, both 0 or more
	HighSignal, LowSignal bool    // above the decision interval
	// HighSince and LowSince are the indices of the value with which the sum last left zero, the usual estimate of
	// when a shift began; −1 while the sum is zero.
	HighSince, LowSince int
}

// step is S_hi = max(0, S_hi + x − μ − k), S_lo = max(0, S_lo + μ − k − x).
func (c CUSUM) step(high, low, x float64) (float64, float64) {
	return math.Max(0, high+x-c.Target-c.Slack), math.Max(0, low+c.Target-c.Slack-x)
}

// Points sums values in order of time (Page, Biometrika 41 (1954) 100–115; NIST/SEMATECH e-Handbook of Statistical
// Methods 6.3.2.3). The sums run on after a signal, as in the handbook's example; restart them with a new call
// after the cause is fixed.
func (c CUSUM) Points(values []float64) ([]CUSUMPoint, error) {
	const what = "CUSUM chart"
	if err := checkNumber(what, "target", c.Target); err != nil {
		return nil, err
	}
	if err := checkNumber(what, "slack", c.Slack); err != nil {
		return nil, err
	}
	if c.Slack < 0 {
		return nil, fmt.Errorf("%s: slack is %v, it must be 0 or more", what, c.Slack)
	}
	if err := checkPositive(what, "decision interval", c.Decision); err != nil {
		return nil, err
	}
	if err := checkValues(what, values, 0); err != nil {
		return nil, err
	}
	out := make([]CUSUMPoint, len(values))
	before := CUSUMPoint{HighSince: -1, LowSince: -1}
	for i, v := range values {
		p := CUSUMPoint{HighSince: -1, LowSince: -1}
		p.High, p.Low = c.step(before.High, before.Low, v)
		p.HighSignal, p.LowSignal = p.High > c.Decision, p.Low > c.Decision
		if p.High > 0 {
			p.HighSince = since(before.HighSince, i)
		}
		if p.Low > 0 {
			p.LowSince = since(before.LowSince, i)
		}
		out[i], before = p, p
	}
	return out, nil
}

func since(before, now int) int {
	if before < 0 {
		return now
	}
	return before
}
