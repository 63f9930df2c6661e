package water

import (
	"errors"
	"fmt"
	"math"
)

// Propagated is the result of Propagate: the values of the functions, their
// standard uncertainties, and the correlation coefficients between them (0
// where an uncertainty is 0).
type Propagated struct {
	Values      []float64
	U           []float64
	Correlation [][]float64
}

// Propagate carries standard uncertainties u of the inputs x, with correlation
// matrix r (nil: uncorrelated), through one or more functions of them: the law
// of propagation with its correlation terms (GUM 5.2.2, equation 13; for several
// outputs GUM H.2.3 and JCGM 102:2011, 6.2). Sensitivities are half the
// differences between the inputs moved up and down by u (GUM 5.1.3, note 2). f
// must not keep or change its argument. The error names the input that does not
// fit.
func Propagate(f func(x []float64) []float64, x, u []float64, r [][]float64) (Propagated, error) {
	var out Propagated
	if err := checkInputs(x, u, r); err != nil {
		return out, fmt.Errorf("propagate uncertainty: %w", err)
	}
	out.Values = append([]float64(nil), f(x)...)
	m := len(out.Values)
	for i, v := range out.Values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return out, fmt.Errorf("propagate uncertainty: output %d is %g at the inputs themselves", i+1, v)
		}
	}
	change := make([][]float64, len(x)) // change[j][i]: of output i per u of input j
	work := append([]float64(nil), x...)
	for j := range x {
		change[j] = make([]float64, m)
		if u[j] == 0 {
			continue
		}
		work[j] = x[j] + u[j]
		high := append([]float64(nil), f(work)...)
		work[j] = x[j] - u[j]
		low := append([]float64(nil), f(work)...)
		work[j] = x[j]
		if len(high) != m || len(low) != m {
			return out, errors.New("propagate uncertainty: the function does not always return as many values")
		}
		for i := range m {
			d := halfDifference(low[i], out.Values[i], high[i])
			if math.IsNaN(d) || math.IsInf(d, 0) {
				return out, fmt.Errorf("propagate uncertainty: output %d has no value within the uncertainty of input %d", i+1, j+1)
			}
			change[j][i] = d
		}
	}
	return out, out.combine(change, r)
}

// combine fills uncertainties and correlations from the changes.
func (p *Propagated) combine(change [][]float64, r [][]float64) error {
	m := len(p.Values)
	covariance := make([][]float64, m)
	for i := range covariance {
		covariance[i] = make([]float64, m)
		for k := range covariance[i] {
			for j := range change {
				for l := range change {
					switch {
					case r != nil:
						covariance[i][k] += change[j][i] * change[l][k] * r[j][l]
					case j == l:
						covariance[i][k] += change[j][i] * change[l][k]
					}
				}
			}
		}
	}
	p.U, p.Correlation = make([]float64, m), make([][]float64, m)
	for i := range p.U {
		if covariance[i][i] < -1e-9*sumOfSquares(change, i) {
			return errors.New("propagate uncertainty: these correlations cannot hold together (a variance comes out negative)")
		}
		p.U[i] = math.Sqrt(math.Max(0, covariance[i][i]))
	}
	for i := range p.Correlation {
		p.Correlation[i] = make([]float64, m)
		for k := range p.Correlation[i] {
			if i == k {
				p.Correlation[i][k] = 1
			} else if p.U[i] > 0 && p.U[k] > 0 {
				p.Correlation[i][k] = covariance[i][k] / (p.U[i] * p.U[k])
			}
		}
	}
	return nil
}

func sumOfSquares(change [][]float64, i int) float64 {
	sum := 0.0
	for j := range change {
		sum += change[j][i] * change[j][i]
	}
	return sum
}

func checkInputs(x, u []float64, r [][]float64) error {
	if len(u) != len(x) {
		return fmt.Errorf("%d inputs have %d uncertainties", len(x), len(u))
	}
	for j := range x {
		if math.IsNaN(x[j]) || math.IsInf(x[j], 0) {
			return fmt.Errorf("input %d is %g", j+1, x[j])
		}
		if !(u[j] >= 0) || math.IsInf(u[j], 0) {
			return fmt.Errorf("the uncertainty of input %d is %g; it must be 0 or more", j+1, u[j])
		}
	}
	if r == nil {
		return nil
	}
	if len(r) != len(x) {
		return fmt.Errorf("the correlation matrix has %d rows for %d inputs", len(r), len(x))
	}
	for j := range r {
		if len(r[j]) != len(x) {
			return fmt.Errorf("row %d of the correlation matrix has %d columns for %d inputs", j+1, len(r[j]), len(x))
		}
		if r[j][j] != 1 {
			return fmt.Errorf("input %d has correlation %g with itself; it must be 1", j+1, r[j][j])
		}
		for l := range j {
			if r[j][l] != r[l][j] {
				return fmt.Errorf("the correlation of inputs %d and %d is given as %g and as %g", l+1, j+1, r[l][j], r[j][l])
			}
			if !(math.Abs(r[j][l]) <= 1) {
				return fmt.Errorf("the correlation of inputs %d and %d is %g; it must lie between -1 and 1", l+1, j+1, r[j][l])
			}
		}
	}
	return nil
}
