package stats

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"
)

var inf = math.Inf(1)

// TestRefusals: what cannot be computed says so, names the place, and can be distinguished.
func TestRefusals(t *testing.T) {
	six := []float64{1, 2, 3, 4, 5, 6}
	tests := []struct {
		name string
		call func() error
		is   error
		says string
	}{
		{"mean of nothing", func() error { _, err := Mean(nil); return err }, ErrTooFew, "0 given, at least 1 needed"},
		{"NaN", func() error { _, err := Median([]float64{1, math.NaN()}); return err }, nil, "value 2 is NaN"},
		{"infinity", func() error { _, err := MannKendall(six, []float64{1, 2, 3, 4, 5, inf}); return err }, nil, "y: value 6 is +Inf"},
		{"lengths", func() error { _, err := TheilSen(six, six[1:], 0.95); return err }, nil, "6 values of x but 5 of y"},
		{"percent as share", func() error { _, err := TheilSen(six, six, 95); return err }, nil, "such as 0.95"},
		{"one time", func() error { _, err := TheilSen(make([]float64, 6), six, 0.95); return err }, ErrNoSpread, "at one time"},
		{"too many", func() error {
			_, err := TheilSen(make([]float64, LargestSlopeSeries+1), make([]float64, LargestSlopeSeries+1), 0.95)
			return err
		}, nil, "monthly medians"},
		{"flat baseline", func() error { _, err := FreezeIndividuals([]float64{5, 5, 5}); return err }, ErrNoSpread, "no limits"},
		{"flat Grubbs", func() error { _, err := Grubbs([]float64{5, 5, 5}, EitherEnd, 0.05); return err }, ErrNoSpread, "Grubbs"},
		{"unfrozen chart", func() error { _, err := Individuals{}.Points(six); return err }, nil, "sigma is 0"},
		{"lambda", func() error { _, err := EWMA{Sigma: 1, Lambda: 1.2, Width: 3}.Points(six); return err }, nil, "lambda is 1.2"},
		{"slack", func() error { _, err := CUSUM{Slack: -1, Decision: 1}.Points(six); return err }, nil, "slack is -1"},
		{"rule", func() error { _, err := FindRuns(six, 3, 1, "run-of-seven"); return err }, nil, `"run-of-seven"`},
		{"kind of quantile", func() error { _, err := Quantile(six, 0.5, 5); return err }, nil, "use 6 (Weibull) or 7"},
		{"all below", func() error { _, err := EstimateKaplanMeier([]Value{{5, Below}}, 0); return err }, ErrTooFew, "are limits"},
		{"both sides", func() error {
			_, err := EstimateKaplanMeier([]Value{{5, Below}, {7, Measured}, {9, Above}}, 0)
			return err
		}, nil, "both < and >"},
		{"crossed limits", func() error { _, err := Recensor([]Value{{10, Below}, {5, Above}}); return err }, nil, "<10 and >5 overlap"},
		{"log of zero", func() error {
			_, err := RobustOrderRegression(measuredValues([]float64{0, 1, 2, 3}))
			return err
		}, nil, "value 1 is 0"},
		{"nearly all below", func() error {
			v := []Value{{1, Measured}, {2, Measured}, {3, Measured}}
			for range 20 {
				v = append(v, Value{1, Below})
			}
			_, err := RobustOrderRegression(v)
			return err
		}, ErrTooFew, "20 of 23"},
		{"negative duplicate", func() error { _, err := RelativePercentDifference(-1, 1); return err }, nil, "0 or more"},
		{"no uncertainty", func() error { _, err := NormalizedError(1, 0, 2, 0); return err }, nil, "neither result"},
		{"same differences", func() error { _, err := ComparePairs([]Pair{{2, 1}, {3, 2}}, 0.95); return err }, ErrNoSpread, "every difference is 1"},
		{"line without spread", func() error { _, err := FitLine([]float64{1, 1, 1}, six[:3], 0.95); return err }, ErrNoSpread, "in x"},
		{"lonely seasons", func() error {
			_, err := SeasonalMannKendall([]int{1, 2, 3}, six[:3], six[:3], 0.95)
			return err
		}, ErrTooFew, "no season"},
	}
	for _, test := range tests {
		err := test.call()
		if err == nil || !strings.Contains(err.Error(), test.says) || test.is != nil && !errors.Is(err, test.is) {
			t.Errorf("%s: got %v, want it to say %q", test.name, err, test.says)
		}
	}
}

// TestRunRulePatterns draws each pattern at its published length and one point short of it.
func TestRunRulePatterns(t *testing.T) {
	tests := []struct {
		rule     string
		pattern  []float64
		from, at int
		high     bool
	}{
		{"beyond-limits", []float64{0.1, -3.01}, 1, 1, false},
		{"two-of-three", []float64{0, 2.1, 0.5, 2.2}, 1, 3, true},
		{"two-of-three", []float64{-2.1, -2.2}, 0, 1, false},
		{"four-of-five", []float64{0, -1.1, -1.2, 0.5, -1.3, -1.4}, 1, 5, false},
		{"run-of-eight", []float64{-0.1, 1, 2, 1, 2, 1, 2, 1, 0.1}, 1, 8, true},
		{"run-of-nine", []float64{1, -1, -2, -1, -2, -1, -2, -1, -2, -0.1}, 1, 9, false},
		{"six-trending", []float64{3, -2, -1, 0, 0.5, 1, 1.5}, 1, 6, true},
		{"fourteen-alternating", []float64{0, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}, 1, 14, true},
		{"fifteen-within", []float64{2, .9, -.9, .8, -.1, .2, .3, -.5, .6, -.7, .1, .2, .3, .4, .5, .6}, 1, 15, true},
		{"eight-outside", []float64{0, 1.1, -1.2, 1.3, 1.4, -2.5, 1.6, -1.7, 1.8}, 1, 8, true},
	}
	for _, test := range tests {
		signals, err := FindRuns(test.pattern, 0, 1, test.rule)
		if err != nil || len(signals) != 1 {
			t.Errorf("%s: got %d signals, %v", test.rule, len(signals), err)
			continue
		}
		if s := signals[0]; s.From != test.from || s.At != test.at || s.To != test.at || s.High != test.high || s.Rule.Name != test.rule {
			t.Errorf("%s: from %d at %d to %d high %v", test.rule, s.From, s.At, s.To, s.High)
		}
		short, err := FindRuns(test.pattern[:len(test.pattern)-1], 0, 1, test.rule)
		if err != nil || len(short) != 0 {
			t.Errorf("%s: signals one point early: %v %v", test.rule, short, err)
		}
	}
	// A point on the centre line belongs to neither side and ends a run.
	if s, _ := FindRuns([]float64{1, 1, 1, 1, 0, 1, 1, 1, 1, 1}, 0, 1, "run-of-eight"); len(s) != 0 {
		t.Error("a point on the centre line did not end the run")
	}
	// A good point after two bad ones is not flagged, and a run that goes on is one signal.
	if s, _ := FindRuns([]float64{2.5, 2.5, 0.1}, 0, 1, "two-of-three"); len(s) != 1 || s[0].To != 1 {
		t.Errorf("two of three: %+v", s)
	}
	if s, _ := FindRuns([]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}, 0, 1); len(s) != 1 || s[0].At != 8 || s[0].To != 11 {
		t.Errorf("long run: %+v", s)
	}
	// Two excursions to different sides are two signals.
	if s, _ := FindRuns([]float64{4, -4}, 0, 1); len(s) != 2 {
		t.Errorf("both sides: %+v", s)
	}
}

// TestFrozenLimits: later values do not move the limits, and a jump shows on the range chart.
func TestFrozenLimits(t *testing.T) {
	c, err := FreezeIndividuals([]float64{118, 120, 117, 119, 121, 118, 120, 119, 117, 121})
	if err != nil {
		t.Fatal(err)
	}
	points, err := c.Points([]float64{119, 140, 120})
	if err != nil {
		t.Fatal(err)
	}
	if points[0].HasRange || points[0].Beyond || !points[1].Beyond || !points[1].RangeBeyond || !points[2].RangeBeyond || points[2].Beyond {
		t.Errorf("points %+v", points)
	}
}

// TestExactEWMALimits: the first point's standard deviation is λσ, and the limits reach the steady state
// (Montgomery, Introduction to Statistical Quality Control, EWMA chapter).
func TestExactEWMALimits(t *testing.T) {
	e := EWMA{Target: 10, Sigma: 2, Lambda: 0.1, Width: 2.7}
	points, err := e.Points(make([]float64, 200))
	if err != nil {
		t.Fatal(err)
	}
	steady, _ := e.SteadyLimits()
	if got, want := points[0].Upper, 10+2.7*0.1*2; math.Abs(got-want) > 1e-12 {
		t.Errorf("first limit %v, want %v", got, want)
	}
	if got := points[199].Upper; math.Abs(got-steady.High) > 1e-9 {
		t.Errorf("last limit %v, want %v", got, steady.High)
	}
	// The textbook's limit for σ = 1 at point 1 is 10.27, and 10.62 in the end.
	e.Sigma = 1
	points, _ = e.Points(make([]float64, 200))
	if math.Abs(points[0].Upper-10.27) > 0.005 || math.Abs(points[199].Upper-10.62) > 0.005 {
		t.Errorf("limits %v and %v, want 10.27 and 10.62", points[0].Upper, points[199].Upper)
	}
}

func TestCUSUMSaysWhenItBegan(t *testing.T) {
	points, err := StandardCUSUM(0, 1).Points([]float64{0, 0.2, 2, 2, 2, 2, 2})
	if err != nil {
		t.Fatal(err)
	}
	last := points[len(points)-1]
	if !last.HighSignal || last.HighSince != 2 || last.LowSince != -1 {
		t.Errorf("%+v", last)
	}
}

func TestModifiedZWithoutMAD(t *testing.T) {
	m, err := ModifiedZScores([]float64{20, 20, 20, 20, 20, 20, 26})
	if err != nil {
		t.Fatal(err)
	}
	// The mean deviation is 6/7, so the score is 7/√(π/2) by the fall-back's definition.
	if m.Scale != ByMeanDeviation || math.Abs(m.Scores[6]-7/math.Sqrt(math.Pi/2)) > 1e-12 || m.Scores[0] != 0 {
		t.Errorf("%+v", m)
	}
	if m, _ = ModifiedZScores([]float64{20, 20, 20}); m.Scale != ByNothing || m.Scores[0] != 0 {
		t.Errorf("%+v", m)
	}
}

// TestGrubbsAtItsLevel: at the critical value the probability is the level, since both come from one formula.
func TestGrubbsAtItsLevel(t *testing.T) {
	g, err := Grubbs([]float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}, HighEnd, 0.05)
	if err != nil || !g.Outlier || g.Index != 7 || g.P > 0.001 {
		t.Errorf("%+v %v", g, err)
	}
	low, err := Grubbs([]float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}, LowEnd, 0.05)
	if err != nil || low.Outlier || low.Index != 0 {
		t.Errorf("%+v %v", low, err)
	}
}

func TestCensoredMiddle(t *testing.T) {
	v := func(n float64, s Side) Value { return Value{n, s} }
	tests := []struct {
		name   string
		values []Value
		floor  float64
		want   Interval
	}{
		{"limits under the middle", []Value{v(5, Below), v(5, Below), v(8, Measured), v(9, Measured), v(12, Measured)}, 0, Interval{8, 8}},
		{"limit over the middle", []Value{v(10, Below), v(8, Measured), v(9, Measured)}, 0, Interval{8, 9}},
		{"most below", []Value{v(5, Below), v(5, Below), v(8, Measured)}, 0, Interval{0, 5}},
		{"most below, no floor", []Value{v(5, Below), v(5, Below), v(8, Measured)}, -inf, Interval{-inf, 5}},
		{"most above", []Value{v(200, Above), v(200, Above), v(8, Measured)}, 0, Interval{200, inf}},
		{"nothing can be said", []Value{v(5, Below), v(200, Above)}, -inf, Interval{-inf, inf}},
		{"both sides, middle known", []Value{v(5, Below), v(8, Measured), v(200, Above)}, 0, Interval{8, 8}},
	}
	for _, test := range tests {
		got, err := CensoredMedian(test.values, test.floor)
		if err != nil || got != test.want {
			t.Errorf("%s: got %v, %v, want %v", test.name, got, err, test.want)
		}
		if got.Known() == (test.name == "nothing can be said") {
			t.Errorf("%s: known %v", test.name, got.Known())
		}
	}
	if got := v(5, Below).String() + v(12.1, Measured).String() + v(200, Above).String(); got != "<512.1>200" {
		t.Errorf("written %q", got)
	}
}

// TestLowerLimitIsNoTrend: a method whose limit fell from 10 to 1 over water that stayed below 1 has no trend.
func TestLowerLimitIsNoTrend(t *testing.T) {
	var x []float64
	var y []Value
	for i := range 20 {
		x = append(x, float64(i))
		y = append(y, Value{[]float64{10, 5, 2, 1}[i/5], Below})
	}
	k, err := MannKendallCensored(x, y)
	if err != nil || k.S != 0 || k.P != 1 || k.TauB != 0 {
		t.Errorf("%+v %v", k, err)
	}
	y[18], y[19] = Value{14, Measured}, Value{15, Measured}
	if k, err = MannKendallCensored(x, y); err != nil || k.S != 37 {
		t.Errorf("two readings above all limits: S = %d, want 37 pairs that rise, %v", k.S, err)
	}
}

func TestKaplanMeierUnresolved(t *testing.T) {
	k, err := EstimateKaplanMeier([]Value{{2, Below}, {3, Measured}, {5, Measured}, {6, Measured}}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(k.Unresolved-0.25) > 1e-12 || k.Outer != Below || k.Mean != (Interval{3.5, 4}) {
		t.Errorf("%+v", k)
	}
	if q, _ := k.Quantile(0.1); q != (Interval{0, 2}) {
		t.Errorf("quantile in the unresolved share: %v", q)
	}
	if q, _ := k.Median(); q != (Interval{3, 3}) {
		t.Errorf("median %v", q)
	}
	k, err = EstimateKaplanMeier([]Value{{3, Measured}, {5, Measured}, {200, Above}, {200, Above}}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if q, _ := k.Quantile(0.9); q != (Interval{200, inf}) || !math.IsInf(k.Mean.High, 1) {
		t.Errorf("quantile above: %v, mean %v", q, k.Mean)
	}
}

// TestRegressionTurnedAbout: ">" limits of 1/x are "<" limits of x.
func TestRegressionTurnedAbout(t *testing.T) {
	values := []Value{{2, Below}, {3.3, Measured}, {5, Below}, {7.7, Measured}, {12, Measured}, {4, Measured}}
	turned := make([]Value, len(values))
	for i, v := range values {
		turned[i] = Value{1 / v.Number, v.Side}
		if v.Side == Below {
			turned[i].Side = Above
		}
	}
	a, errA := RobustOrderRegression(values)
	b, errB := RobustOrderRegression(turned)
	if errA != nil || errB != nil || math.Abs(a.LogMean+b.LogMean) > 1e-12 || math.Abs(a.LogStandardDeviation-b.LogStandardDeviation) > 1e-12 ||
		math.Abs(a.Slope-b.Slope) > 1e-12 || math.Abs(a.Intercept+b.Intercept) > 1e-12 {
		t.Errorf("%+v %v\n%+v %v", a, errA, b, errB)
	}
	for i, p := range b.Positions {
		if q := a.Positions[len(a.Positions)-1-i]; math.Abs(p.Position-(1-q.Position)) > 1e-12 || math.Abs(p.Value*q.Value-1) > 1e-12 {
			t.Errorf("position %+v beside %+v", p, q)
		}
	}
}

// TestSeasonsThatDisagree: half of the seasons rise, half fall; the sum shows nothing and the homogeneity does.
func TestSeasonsThatDisagree(t *testing.T) {
	var season []int
	var x, y []float64
	for year := range 12 {
		for s := range 4 {
			season, x = append(season, s), append(x, float64(2010+year))
			y = append(y, 100*float64(s)+float64(year)*float64(1-2*(s%2)))
		}
	}
	season, x, y = append(season, 9), append(x, 2011), append(y, 5)
	k, err := SeasonalMannKendall(season, x, y, 0.95)
	if err != nil || k.S != 0 || k.P != 1 || k.HomogeneityP > 1e-6 || k.HomogeneityDF != 3 || len(k.Skipped) != 1 || k.Skipped[0] != 9 {
		t.Errorf("%+v %v", k, err)
	}
}

func TestProjection(t *testing.T) {
	axis := TimeAxis{Origin: time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)}
	var moments []time.Time
	var y []float64
	for month := range 24 {
		moments = append(moments, axis.Origin.AddDate(0, month, 0))
		y = append(y, 200+2*float64(month)+[]float64{0, 1, -1}[month%3])
	}
	s, err := TheilSen(axis.Years(moments), y, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.Passes(300)
	if err != nil || !(c.Earliest < c.Estimate && c.Estimate < c.Latest) {
		t.Fatalf("%+v %v", c, err)
	}
	// 2 a month from 200 passes 300 after 50 months.
	when, ok := axis.Moment(c.Estimate)
	if want := axis.Origin.AddDate(0, 50, 0); !ok || math.Abs(when.Sub(want).Hours()) > 24*20 {
		t.Errorf("passes on %v, want about %v", when, want)
	}
	if back := s.At(c.Estimate); math.Abs(back-300) > 1e-9 {
		t.Errorf("the line is at %v there", back)
	}
	// Away from the limit: never.
	if c, _ = s.Passes(100); !math.IsInf(c.Earliest, 1) || c.Now < 240 {
		t.Errorf("a rising line comes to 100: %+v", c)
	}
	// Passed since the middle of the series: not before the last reading.
	if c, _ = s.Passes(235); c.Estimate != s.LastX || c.Now <= 235 {
		t.Errorf("passed already: %+v", c)
	}
	for i := range y {
		y[i] = []float64{5, 6}[i%2]
	}
	if s, err = TheilSen(axis.Years(moments), y, 0.95); err != nil {
		t.Fatal(err)
	}
	c, _ = s.Passes(50)
	if !math.IsInf(c.Latest, 1) {
		t.Errorf("a level line surely passes: %+v", c)
	}
	if _, ok := axis.Moment(c.Latest); ok {
		t.Error("never has a date")
	}
	// 400 Gregorian years are 146,097 days.
	if got := axis.Years([]time.Time{time.Date(2424, 1, 1, 0, 0, 0, 0, time.UTC)})[0]; math.Abs(got-400) > 1e-12 {
		t.Errorf("400 years are %v", got)
	}
}

// TestFewReadingsLeaveLimitsOpen: with four readings z √Var S exceeds the number of pairs, so nothing bounds the slope.
func TestFewReadingsLeaveLimitsOpen(t *testing.T) {
	s, err := TheilSen([]float64{1, 2, 3, 4}, []float64{1, 3, 2, 4}, 0.99)
	if err != nil || s.Limits != (Interval{-inf, inf}) || s.Limits.Bounded() {
		t.Errorf("%+v %v", s, err)
	}
}

// TestPairFormulas: the 3-4-5 triangle, and 10 % of the mean, by the definitions in the comments.
func TestPairFormulas(t *testing.T) {
	if v, err := NormalizedError(10, 3, 5, 4); err != nil || v != 1 {
		t.Errorf("E_n %v %v", v, err)
	}
	if v, err := RelativePercentDifference(21, 19); err != nil || v != 10 {
		t.Errorf("RPD %v %v", v, err)
	}
	if v, err := Recovery(91, 100); err != nil || v != 91 {
		t.Errorf("recovery %v %v", v, err)
	}
	r, err := RepeatabilityRange([]float64{21, 29}, 2.5, 0.95)
	// r = 2.77 s_r for two replicates, 1.96 √2.
	if err != nil || !r.Exceeds || math.Abs(r.Critical-1.959963984540*math.Sqrt2*2.5) > 1e-9 {
		t.Errorf("%+v %v", r, err)
	}
	b, err := BlankDetectionLimit([]float64{-1, -2, -3})
	if err != nil || !b.Shaky || math.Abs(b.Limit-StudentQuantile(0.99, 2)) > 1e-12 {
		t.Errorf("%+v %v", b, err)
	}
}
