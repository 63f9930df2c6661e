package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// The functions of this file take numbers outside their domain as package math does: they return NaN, where the
// library panics. The statistics of the other files check their arguments before they come here.

// NormalCDF is the probability that a standard normal variable is at most z.
func NormalCDF(z float64) float64 { return distuv.UnitNormal.CDF(z) }

// NormalQuantile is the z with NormalCDF(z) = p; ∓Inf at p = 0 and 1.
func NormalQuantile(p float64) float64 {
	if !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(p)
}

// StudentTail is the probability that Student's t with df degrees of freedom (df > 0) exceeds t.
func StudentTail(t, df float64) float64 {
	switch {
	case math.IsNaN(t) || !(df > 0):
		return math.NaN()
	case math.IsInf(df, 1):
		return NormalCDF(-t)
	case math.IsInf(t, 0):
		return (1 - math.Copysign(1, t)) / 2
	}
	return distuv.StudentsT{Sigma: 1, Nu: df}.Survival(t)
}

// StudentQuantile is the t with StudentTail(t, df) = 1 − p; ∓Inf at p = 0 and 1.
func StudentQuantile(p, df float64) float64 {
	switch {
	case !(p >= 0 && p <= 1) || !(df > 0):
		return math.NaN()
	case math.IsInf(df, 1):
		return NormalQuantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(p)
}

// studentUpper is the t that is exceeded with probability p ≤ 1/2: at the levels of Grubbs' test, α/2n, 1 − p would
// lose digits.
func studentUpper(p, df float64) float64 { return -StudentQuantile(p, df) }

// ChiSquareTail is the probability that chi-square with df degrees of freedom (df > 0) exceeds x.
func ChiSquareTail(x, df float64) float64 {
	switch {
	case math.IsNaN(x) || !(df > 0):
		return math.NaN()
	case x <= 0:
		return 1
	case math.IsInf(x, 1):
		return 0
	}
	return distuv.ChiSquared{K: df}.Survival(x)
}

// RangeCDF is the probability that the range (largest less smallest) of n independent standard normal values is
// at most q: n ∫ φ(z) [Φ(z) − Φ(z−q)]ⁿ⁻¹ dz, z being the largest (Tippett 1925; David & Nagaraja, Order
// Statistics, 3rd ed. 2003, eq. 2.3.3). The trapezoidal sum converges faster than any power of its step for such
// an integrand; a step of 1/8 leaves an error below 1e-12.
func RangeCDF(q float64, n int) float64 {
	switch {
	case math.IsNaN(q) || n < 2:
		return math.NaN()
	case q <= 0:
		return 0
	}
	const step = 1.0 / 8
	sum := 0.0
	for i := -9 * 8; i <= 9*8; i++ {
		z := float64(i) * step
		sum += math.Exp(-z*z/2) * math.Pow(NormalCDF(z)-NormalCDF(z-q), float64(n-1))
	}
	return math.Min(1, float64(n)*sum*step/math.Sqrt(2*math.Pi))
}

// RangeQuantile is the q with RangeCDF(q, n) = p, 0 ≤ p < 1.
func RangeQuantile(p float64, n int) float64 {
	if !(p >= 0 && p < 1) || n < 2 {
		return math.NaN()
	}
	return rootOf(func(q float64) float64 { return RangeCDF(q, n) - p }, 0, 40)
}

// rootOf finds where a rising function passes zero between low and high, to the last digits that it has:
// Chandrupatla, Advances in Engineering Software 28 (1997) 145–149, which takes inverse quadratic steps where they
// are sure to be good and halves the bracket otherwise, so that it cannot fail far out in a tail.
func rootOf(f func(float64) float64, low, high float64) float64 {
	a, b := high, low
	fa, fb := f(a), f(b)
	t := 0.5
	best := a
	for range 2000 {
		x := a + t*(b-a)
		fx := f(x)
		c, fc := a, fa
		if (fx > 0) != (fa > 0) {
			c, fc = b, fb
			b, fb = a, fa
		}
		a, fa = x, fx
		best = a
		if math.Abs(fb) < math.Abs(fa) {
			best = b
		}
		least := 1e-15 * math.Abs(best) / math.Abs(b-a)
		if fa == 0 || !(least <= 0.5) || a+0.5*(b-a) == a || a+0.5*(b-a) == b {
			break
		}
		xi, phi := (a-b)/(c-b), (fa-fb)/(fc-fb)
		t = 0.5
		if phi*phi < xi && (1-phi)*(1-phi) < 1-xi {
			t = fa/(fb-fa)*(fc/(fb-fc)) + (c-a)/(b-a)*(fa/(fc-fa))*(fb/(fc-fb))
		}
		if !(t >= least && t <= 1-least) {
			t = math.Min(math.Max(0.5, least), 1-least)
		}
	}
	return best
}
