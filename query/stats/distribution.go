package stats

import "math"

// The functions of this file take numbers outside their domain as package math does: they return NaN. The
// statistics of the other files check their arguments before they come here.

// NormalCDF is the probability that a standard normal variable is at most z.
// Φ(z) = erfc(−z/√2)/2: NIST Digital Library of Mathematical Functions (2010), 7.2 with the definition of Φ.
func NormalCDF(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// NormalQuantile is the z with NormalCDF(z) = p; ∓Inf at p = 0 and 1.
func NormalQuantile(p float64) float64 {
	switch {
	case !(p >= 0 && p <= 1):
		return math.NaN()
	case p > 0.5:
		// The distance 1−p is exact here (Sterbenz), and the lower tail is where erfc keeps its digits.
		return -NormalQuantile(1 - p)
	case p == 0:
		return math.Inf(-1)
	case p == 0.5:
		return 0
	}
	return rootOf(func(z float64) float64 { return NormalCDF(z) - p }, -40, 0)
}

// StudentTail is the probability that Student's t with df degrees of freedom (df > 0) exceeds t.
// P(T > t) = I_x(df/2, 1/2)/2 with x = df/(df+t²), t ≥ 0: Abramowitz & Stegun (1964), 26.7.1 with 26.5.27.
func StudentTail(t, df float64) float64 {
	if math.IsNaN(t) || !(df > 0) {
		return math.NaN()
	}
	if t < 0 {
		return 1 - StudentTail(-t, df)
	}
	if math.IsInf(df, 1) {
		return math.Erfc(t/math.Sqrt2) / 2
	}
	r := t / math.Sqrt(df)
	x := 1 / (1 + r*r)
	y := 1.0
	if !math.IsInf(r*r, 1) {
		y = r * r / (1 + r*r)
	}
	return incompleteBeta(df/2, 0.5, x, y) / 2
}

// StudentQuantile is the t with StudentTail(t, df) = 1 − p; ∓Inf at p = 0 and 1.
func StudentQuantile(p, df float64) float64 {
	switch {
	case !(p >= 0 && p <= 1) || !(df > 0):
		return math.NaN()
	case p < 0.5:
		return -studentUpper(p, df)
	default:
		return studentUpper(1-p, df)
	}
}

// studentUpper is the t that is exceeded with probability p ≤ 1/2. It works with the tail itself: the levels of
// Grubbs' test are α/2n, where 1 − p would lose digits.
func studentUpper(p, df float64) float64 {
	switch p {
	case 0:
		return math.Inf(1)
	case 0.5:
		return 0
	}
	high := 1.0
	for StudentTail(high, df) > p {
		high *= 2
		if math.IsInf(high, 1) {
			return high
		}
	}
	return rootOf(func(t float64) float64 { return p - StudentTail(t, df) }, 0, high)
}

// ChiSquareTail is the probability that chi-square with df degrees of freedom (df > 0) exceeds x:
// Q(df/2, x/2), Abramowitz & Stegun (1964), 26.4.2.
func ChiSquareTail(x, df float64) float64 {
	if math.IsNaN(x) || !(df > 0) {
		return math.NaN()
	}
	if x <= 0 {
		return 1
	}
	return incompleteGammaUpper(df/2, x/2)
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

// tiny keeps Lentz's method from dividing by zero.
const tiny = 1e-300

// incompleteBeta is the regularised incomplete beta function I_x(a,b) with y = 1−x given by the caller so that no
// digits are lost: the continued fraction of DLMF (2010) 8.17.22 by Lentz's method (DLMF 3.10(iii)), with the
// reflection I_x(a,b) = 1 − I_{1−x}(b,a) (8.17.4) where it converges faster.
func incompleteBeta(a, b, x, y float64) float64 {
	switch {
	case x <= 0:
		return 0
	case y <= 0:
		return 1
	case x > (a+1)/(a+b+2):
		return 1 - incompleteBeta(b, a, y, x)
	}
	front := math.Exp(a*math.Log(x)+b*math.Log(y)+logGamma(a+b)-logGamma(a)-logGamma(b)) / a
	fraction := lentz(func(k int) (float64, float64) {
		if k == 1 {
			return 1, 1
		}
		m := float64((k - 1) / 2)
		if k%2 == 1 {
			return m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m)), 1
		}
		return -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1)), 1
	})
	return math.Min(1, front*fraction)
}

// incompleteGammaUpper is Q(a,x) = Γ(a,x)/Γ(a): the series of DLMF (2010) 8.7.1 below a+1, and above it the even
// part of the continued fraction 8.9.2.
func incompleteGammaUpper(a, x float64) float64 {
	if math.IsInf(x, 1) {
		return 0
	}
	front := math.Exp(a*math.Log(x) - x - logGamma(a))
	if x < a+1 {
		term := 1 / a
		sum := term
		for n := 1; n < 100000 && term > sum*1e-17; n++ {
			term *= x / (a + float64(n))
			sum += term
		}
		return math.Max(0, 1-front*sum)
	}
	fraction := lentz(func(k int) (float64, float64) {
		n := float64(k - 1)
		if k == 1 {
			return 1, x + 1 - a
		}
		return -n * (n - a), x + 2*n + 1 - a
	})
	return math.Min(1, front*fraction)
}

// lentz evaluates a1/(b1 + a2/(b2 + …)), DLMF (2010) 3.10(iii).
func lentz(term func(k int) (a, b float64)) float64 {
	f, c, d := tiny, tiny, 0.0
	for k := 1; k < 100000; k++ {
		a, b := term(k)
		if d = b + a*d; math.Abs(d) < tiny {
			d = tiny
		}
		if c = b + a/c; math.Abs(c) < tiny {
			c = tiny
		}
		d = 1 / d
		f *= c * d
		if math.Abs(c*d-1) < 1e-16 {
			break
		}
	}
	return f
}

func logGamma(x float64) float64 {
	v, _ := math.Lgamma(x)
	return v
}
