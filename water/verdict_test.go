package water

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestJudge(t *testing.T) {
	p := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		v        Value
		min, max *float64
		want     Verdict
	}{
		{Value{Value: 330, U: 10}, nil, p(300), Over}, {Value{Value: 320, U: 10}, nil, p(300), Over}, {Value{Value: 315, U: 10}, nil, p(300), ProbablyOver},
		{Value{Value: 305, U: 10}, nil, p(300), CannotTell}, {Value{Value: 295, U: 10}, nil, p(300), CannotTell}, {Value{Value: 285, U: 10}, nil, p(300), ProbablyWithin}, {Value{Value: 279, U: 10}, nil, p(300), Within},
		{Value{Value: 40, U: 4}, p(50), nil, Under}, {Value{Value: 45, U: 4}, p(50), nil, ProbablyUnder}, {Value{Value: 51, U: 4}, p(50), p(150), CannotTell}, {Value{Value: 100, U: 4}, p(50), p(150), Within}, {Value{Value: 160, U: 4}, p(50), p(150), Over},
		{Value{Value: 50, U: 40}, p(40), p(60), CannotTell}, {Value{Value: 300}, nil, p(300), Within}, {Value{Value: 300.001}, nil, p(300), Over}, {Value{Value: 49.9}, p(50), nil, Under}, {Value{Value: 50}, p(50), nil, Within},
		{Value{Value: 5}, nil, nil, NoVerdict}, {Value{Value: math.NaN()}, nil, p(1), CannotTell}, {Value{Value: 1, U: math.NaN()}, nil, p(1), CannotTell}, {Value{Value: 1}, nil, p(math.NaN()), CannotTell},
		{Value{Bound: Below, Value: 5}, nil, p(10), Within}, {Value{Bound: Below, Value: 5}, nil, p(5), Within}, {Value{Bound: Below, Value: 20}, nil, p(10), CannotTell}, {Value{Bound: Below, Value: 5}, p(10), nil, Under}, {Value{Bound: Below, Value: 20}, p(10), nil, CannotTell},
		{Value{Bound: Below, Value: 5}, p(0), p(10), Within}, {Value{Bound: Below, Value: 5}, p(0), nil, Within}, {Value{Bound: Below, Value: 5}, p(2), p(10), CannotTell},
		{Value{Bound: Above, Value: 200}, nil, p(100), Over}, {Value{Bound: Above, Value: 200}, nil, p(300), CannotTell}, {Value{Bound: Above, Value: 200}, p(100), nil, Within}, {Value{Bound: Above, Value: 200}, p(100), p(300), CannotTell}, {Value{Bound: Above, Value: 200}, p(250), nil, CannotTell},
	} {
		if got := Judge(c.v, c.min, c.max); got != c.want {
			t.Errorf("Judge(%s%g ± %g) = %s, want %s", c.v.Bound, c.v.Value, 2*c.v.U, got, c.want)
		}
	}
	if !ProbablyUnder.Outside() || CannotTell.Outside() || Verdict(99).String() != "unknown verdict" || ProbablyOver.String() != "probably over" {
		t.Error("verdict words")
	}
}

// A larger value is never judged lower against a maximum, and an order of
// verdicts runs from under to over.
func TestVerdictsAreMonotonic(t *testing.T) {
	order := map[Verdict]int{Under: 0, ProbablyUnder: 1, CannotTell: 2, ProbablyWithin: 1, Within: 0, ProbablyOver: 3, Over: 4}
	rapid.Check(t, func(t *rapid.T) {
		limit := rapid.Float64Range(0, 500).Draw(t, "limit")
		u := rapid.Float64Range(0, 50).Draw(t, "u")
		x, y := rapid.Float64Range(0, 1000).Draw(t, "x"), rapid.Float64Range(0, 1000).Draw(t, "y")
		if x > y {
			x, y = y, x
		}
		a, b := Judge(Value{Value: x, U: u}, nil, &limit), Judge(Value{Value: y, U: u}, nil, &limit)
		if order[a] > order[b] {
			t.Fatalf("%g is %s, %g is %s over %g ± %g", x, a, y, b, limit, 2*u)
		}
	})
}

// The bound of several values together, times 1.96, is Šidák's critical value of |z| at 5 %: 2.236 for two, 2.569 for five, 2.800 for ten
// (1 - 0.95^(1/n), and the normal quantile of R 4: qnorm(1 - (1 - 0.95^(1/n))/2)).
func TestJointBound(t *testing.T) {
	for n, want := range map[int]float64{0: 1.96, 1: 1.96, 2: 2.2365, 5: 2.5688, 10: 2.7997} {
		if got := 1.959964 * JointBound(n); math.Abs(got-want) > 1e-3 {
			t.Errorf("%d values: %.4f, want %.4f", n, got, want)
		}
	}
}
