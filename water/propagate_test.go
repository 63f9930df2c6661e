package water

import (
	"math"
	"strings"
	"testing"
)

func TestPropagateRefuses(t *testing.T) {
	sum := func(x []float64) []float64 { return []float64{x[0] + x[1]} }
	one := []float64{1, 1}
	for why, c := range map[string]struct {
		x, u []float64
		r    [][]float64
	}{
		"uncertainties":       {one, []float64{1}, nil},
		"input 2 is NaN":      {[]float64{1, math.NaN()}, one, nil},
		"0 or more":           {one, []float64{1, -1}, nil},
		"rows":                {one, one, [][]float64{{1}}},
		"columns":             {one, one, [][]float64{{1, 0}, {0}}},
		"with itself":         {one, one, [][]float64{{1, 0}, {0, 2}}},
		"is given as":         {one, one, [][]float64{{1, 0.5}, {0.4, 1}}},
		"between -1 and 1":    {one, one, [][]float64{{1, 1.5}, {1.5, 1}}},
		"at the inputs":       {[]float64{math.MaxFloat64, math.MaxFloat64}, one, nil},
		"within the uncertai": {one, []float64{math.MaxFloat64, math.MaxFloat64}, nil},
	} {
		f := sum
		if why == "within the uncertai" {
			f = func(x []float64) []float64 { return []float64{math.Log(2-math.Abs(x[0])) + x[1]} }
		}
		if _, err := Propagate(f, c.x, c.u, c.r); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%s: %v", why, err)
		}
	}
	// Three errors cannot all run against each other.
	r := [][]float64{{1, -1, -1}, {-1, 1, -1}, {-1, -1, 1}}
	if _, err := Propagate(func(x []float64) []float64 { return []float64{x[0] + x[1] + x[2]} }, []float64{1, 1, 1}, []float64{1, 1, 1}, r); err == nil {
		t.Error("impossible correlations")
	}
}
