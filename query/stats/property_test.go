package stats

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The properties follow from the definitions: a statistic of a sample does not know its order, a line moves with its
// points, an interval for what is unknown holds whatever was unknown.

// series draws whole numbers, so that shifts and scales by powers of two are exact; the narrow range makes ties.
func series(least, most int) *rapid.Generator[[]float64] {
	return rapid.SliceOfN(rapid.Map(rapid.IntRange(-40, 40), func(i int) float64 { return float64(i) }), least, most)
}

// wild draws any finite numbers that the package accepts, the awkward ones often.
func wild(least, most int) *rapid.Generator[[]float64] {
	return rapid.SliceOfN(rapid.OneOf(
		rapid.Float64Range(-largest, largest),
		rapid.Float64Range(-10, 10),
		rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1, -1, 7.42, largest, -largest, 5e-324, 1e-160, 1e-150, math.Nextafter(1, 2)}),
	), least, most)
}

func shuffled(t *rapid.T, n int) []int {
	return rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 0)).Perm(n)
}

func pick[T any](values []T, order []int) []T {
	out := make([]T, len(values))
	for i, at := range order {
		out[i] = values[at]
	}
	return out
}

// close compares numbers that may differ by rounding alone; equal infinities are close.
func close(a, b float64) bool {
	return a == b || math.Abs(a-b) <= 1e-9*math.Max(1, math.Max(math.Abs(a), math.Abs(b)))
}

func closeInterval(a, b Interval) bool { return close(a.Low, b.Low) && close(a.High, b.High) }

func must[T any](t *rapid.T) func(T, error) T {
	return func(v T, err error) T {
		if err != nil {
			t.Fatalf("unexpected error: %v", err)
		}
		return v
	}
}

func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := series(3, 40).Draw(t, "y")
		x := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 30), func(i int) float64 { return float64(i) }), len(y), len(y)).Draw(t, "x")
		order := shuffled(t, len(y))
		x2, y2 := pick(x, order), pick(y, order)
		number := must[float64](t)
		if a, b := number(Median(y)), number(Median(y2)); a != b {
			t.Fatalf("median %v and %v", a, b)
		}
		if a, b := number(MAD(y)), number(MAD(y2)); a != b {
			t.Fatalf("MAD %v and %v", a, b)
		}
		if a, b := number(StandardDeviation(y)), number(StandardDeviation(y2)); !close(a, b) {
			t.Fatalf("standard deviation %v and %v", a, b)
		}
		if a, b := must[Kendall](t)(MannKendall(x, y)), must[Kendall](t)(MannKendall(x2, y2)); a != b {
			t.Fatalf("Mann-Kendall %+v and %+v", a, b)
		}
		a, errA := TheilSen(x, y, 0.9)
		b, errB := TheilSen(x2, y2, 0.9)
		if (errA == nil) != (errB == nil) || a != b {
			t.Fatalf("slope %+v %v and %+v %v", a, errA, b, errB)
		}
	})
}

func TestShiftAndScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := series(3, 40).Draw(t, "y")
		scale := rapid.SampledFrom([]float64{0.25, 0.5, 2, 8}).Draw(t, "scale")
		shift := float64(rapid.IntRange(-1000, 1000).Draw(t, "shift"))
		x, y2, turned := make([]float64, len(y)), make([]float64, len(y)), make([]float64, len(y))
		for i := range y {
			x[i], y2[i], turned[i] = float64(i), scale*y[i]+shift, -y[i]
		}
		number := must[float64](t)
		for _, kind := range []QuantileKind{Weibull, Linear} {
			for _, p := range []float64{0, 0.1, 0.5, 0.93, 1} {
				a, b := number(Quantile(y, p, kind)), number(Quantile(y2, p, kind))
				if !close(scale*a+shift, b) {
					t.Fatalf("quantile %v kind %d: %v and %v", p, kind, a, b)
				}
				if c := number(Quantile(turned, 1-p, kind)); !close(a, -c) {
					t.Fatalf("quantile %v kind %d turned: %v and %v", p, kind, a, c)
				}
			}
		}
		if a, b := number(MAD(y)), number(MAD(y2)); !close(scale*a, b) {
			t.Fatalf("MAD %v and %v", a, b)
		}
		k, k2 := must[Kendall](t)(MannKendall(x, y)), must[Kendall](t)(MannKendall(x, y2))
		if k != k2 {
			t.Fatalf("Mann-Kendall %+v and %+v", k, k2)
		}
		if down := must[Kendall](t)(MannKendall(x, turned)); down.S != -k.S || down.Z != -k.Z || down.P != k.P {
			t.Fatalf("turned about: %+v and %+v", k, down)
		}
		s, s2 := must[Slope](t)(TheilSen(x, y, 0.9)), must[Slope](t)(TheilSen(x, y2, 0.9))
		if !close(scale*s.PerUnit, s2.PerUnit) || !close(scale*s.Intercept+shift, s2.Intercept) ||
			!closeInterval(Interval{scale * s.Limits.Low, scale * s.Limits.High}, s2.Limits) {
			t.Fatalf("slope %+v and %+v", s, s2)
		}
		if !s.Limits.Contains(s.PerUnit) {
			t.Fatalf("the slope %v is outside its limits %v", s.PerUnit, s.Limits)
		}
		l, l2 := must[Line](t)(FitLine(x, y, 0.9)), must[Line](t)(FitLine(x, y2, 0.9))
		if !close(scale*l.Slope, l2.Slope) || !close(l.RSquared, l2.RSquared) || !close(scale*l.SlopeError, l2.SlopeError) {
			t.Fatalf("line %+v and %+v", l, l2)
		}
		// P is steep where all values but one are alike, hence the wider tolerance.
		g, err := Grubbs(y, EitherEnd, 0.05)
		g2, err2 := Grubbs(y2, EitherEnd, 0.05)
		if (err == nil) != (err2 == nil) || !close(g.G, g2.G) || math.Abs(g.P-g2.P) > 1e-6 {
			t.Fatalf("Grubbs %+v and %+v", g, g2)
		}
		c, err := FreezeIndividuals(y)
		c2, err2 := FreezeIndividuals(y2)
		if (err == nil) != (err2 == nil) || err == nil && (!close(scale*c.Sigma, c2.Sigma) || !close(scale*c.Upper+shift, c2.Upper)) {
			t.Fatalf("chart %+v and %+v", c, c2)
		}
	})
}

// TestKendallByDefinition counts all pairs, as Mann (1945) defines S.
func TestKendallByDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := series(3, 60).Draw(t, "y")
		x := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 20), func(i int) float64 { return float64(i) }), len(y), len(y)).Draw(t, "x")
		s := 0
		for i := range y {
			for j := range i {
				s += compare(x[i], x[j]) * compare(y[i], y[j])
			}
		}
		if got := must[Kendall](t)(MannKendall(x, y)); got.S != s {
			t.Fatalf("S is %d, by definition %d", got.S, s)
		}
	})
}

func TestSelectionOrders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := wild(1, 80).Draw(t, "a")
		h := rapid.Float64Range(1, float64(len(a))).Draw(t, "rank")
		if got, want := selectRank(slices.Clone(a), h), atRank(sorted(a), h); got != want {
			t.Fatalf("rank %v is %v, want %v", h, got, want)
		}
	})
}

// TestCensoredIntervalsHoldTheTruth hides some readings behind limits and asks whether what is then said of the
// series is true of the readings.
func TestCensoredIntervalsHoldTheTruth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		truth := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 60), func(i int) float64 { return float64(i) / 2 }), 3, 30).Draw(t, "truth")
		values, x := make([]Value, len(truth)), make([]float64, len(truth))
		for i, v := range truth {
			x[i] = float64(i)
			values[i] = Value{Number: v}
			limit := float64(rapid.IntRange(1, 60).Draw(t, "limit")) / 2
			switch side := Side(rapid.IntRange(0, 2).Draw(t, "side")); {
			case side == Below && v <= limit:
				values[i] = Value{limit, Below}
			case side == Above && v >= limit:
				values[i] = Value{limit, Above}
			}
		}
		for _, kind := range []QuantileKind{Weibull, Linear} {
			for _, p := range []float64{0, 0.2, 0.5, 0.9, 1} {
				want := must[float64](t)(Quantile(truth, p, kind))
				if got := must[Interval](t)(CensoredQuantile(values, p, kind, 0)); !got.Contains(want) {
					t.Fatalf("quantile %v of %v: %v does not hold %v", p, values, got, want)
				}
			}
		}
		want := must[float64](t)(MAD(truth))
		if got := must[Interval](t)(CensoredMAD(values, 0)); !got.Contains(want) {
			t.Fatalf("MAD of %v: %v does not hold %v", values, got, want)
		}
		slope := must[Slope](t)(TheilSen(x, truth, 0.9))
		if got := must[Interval](t)(TheilSenCensored(x, values, 0)); !got.Contains(slope.PerUnit) {
			t.Fatalf("slope of %v: %v does not hold %v", values, got, slope.PerUnit)
		}
	})
}

// TestKaplanMeierWithoutLimits is the plain distribution of the readings.
func TestKaplanMeierWithoutLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := series(1, 40).Draw(t, "y")
		k := must[KaplanMeier](t)(EstimateKaplanMeier(measuredValues(y), math.Inf(-1)))
		want := must[float64](t)(Mean(y))
		if !close(k.Mean.Low, want) || !k.Mean.Exact() || k.Unresolved != 0 {
			t.Fatalf("mean %v unresolved %v, want %v", k.Mean, k.Unresolved, want)
		}
		for _, s := range k.Steps {
			count := 0
			for _, v := range y {
				if v <= s.Value {
					count++
				}
			}
			if !close(s.Probability, float64(count)/float64(len(y))) {
				t.Fatalf("share at or below %v is %v of %v", s.Value, s.Probability, y)
			}
		}
	})
}

func measuredValues(numbers []float64) []Value {
	out := make([]Value, len(numbers))
	for i, n := range numbers {
		out[i] = Value{Number: n}
	}
	return out
}

// chiSquareQuantile turns ChiSquareTail about, since the tables give quantiles.
func chiSquareQuantile(p, df float64) float64 {
	high := df + 1
	for 1-ChiSquareTail(high, df) < p {
		high *= 2
	}
	return rootOf(func(x float64) float64 { return 1 - p - ChiSquareTail(x, df) }, 0, high)
}

// TestShiftOfGroups: turned about the shift changes its sign, moved groups move it, and its limits enclose it.
func TestShiftOfGroups(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := series(3, 12).Draw(t, "a"), series(3, 12).Draw(t, "b")
		one, other := must[Shift](t)(ShiftBetween(a, b, 0.95)), must[Shift](t)(ShiftBetween(b, a, 0.95))
		if !close(one.By, -other.By) || !one.Limits.Contains(one.By) {
			t.Fatalf("%+v, turned about %+v", one, other)
		}
		for i := range a {
			a[i] += 8
		}
		if moved := must[Shift](t)(ShiftBetween(a, b, 0.95)); !close(moved.By, one.By+8) {
			t.Fatalf("%v moved by 8 is %v", one.By, moved.By)
		}
	})
}

func TestDistributionsReturn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(1e-9, 1-1e-9).Draw(t, "p")
		df := rapid.Float64Range(0.5, 500).Draw(t, "df")
		if got := NormalCDF(NormalQuantile(p)); math.Abs(got-p) > 1e-12 {
			t.Fatalf("normal: %v comes back as %v", p, got)
		}
		if got := StudentTail(-StudentQuantile(p, df), df); math.Abs(got-p) > 1e-10 {
			t.Fatalf("Student with %v: %v comes back as %v", df, p, got)
		}
		if got := 1 - ChiSquareTail(chiSquareQuantile(p, df), df); math.Abs(got-p) > 1e-10 {
			t.Fatalf("chi-square with %v: %v comes back as %v", df, p, got)
		}
		n := rapid.IntRange(2, 30).Draw(t, "n")
		if got := RangeCDF(RangeQuantile(p, n), n); math.Abs(got-p) > 1e-9 {
			t.Fatalf("range of %d: %v comes back as %v", n, p, got)
		}
		level := rapid.Float64Range(0.001, 0.2).Draw(t, "level")
		critical, err := GrubbsCritical(n+1, EitherEnd, level)
		if err != nil || !(critical > 0) || critical > float64(n)/math.Sqrt(float64(n+1)) {
			t.Fatalf("Grubbs critical value %v for %d at %v: %v", critical, n+1, level, err)
		}
	})
}

// everything runs all statistics on one series and reports the first NaN that comes out of a call without error.
func everything(y []float64, sides []Side) (where string) {
	say := func(name string, v any, err error) {
		if err == nil && where == "" {
			if at := findNaN(reflect.ValueOf(v)); at != "" {
				where = name + at
			}
		}
	}
	n := len(y)
	x, values, season, pairs := make([]float64, n), make([]Value, n), make([]int, n), make([]Pair, n)
	for i := range y {
		x[i], season[i] = float64(i)+0.25*float64(i%3), i%4
		values[i] = Value{y[i], sides[i%len(sides)]}
		pairs[i] = Pair{y[i], y[n-1-i]}
	}
	one := func(name string, f func([]float64) (float64, error)) {
		v, err := f(y)
		say(name, v, err)
	}
	one("mean", Mean)
	one("deviation", StandardDeviation)
	one("median", Median)
	one("mad", MAD)
	one("autocorrelation", LagOneAutocorrelation)
	for _, p := range []float64{0, 0.3, 1} {
		v, err := Quantile(y, p, Weibull)
		say("quantile", v, err)
		for _, floor := range []float64{0, math.Inf(-1)} {
			i, err := CensoredQuantile(values, p, Linear, floor)
			say("censored quantile", i, err)
		}
	}
	for _, floor := range []float64{0, math.Inf(-1)} {
		i, err := CensoredMAD(values, floor)
		say("censored mad", i, err)
		i, err = TheilSenCensored(x, values, floor)
		say("censored slope", i, err)
		k, err := EstimateKaplanMeier(values, floor)
		say("kaplan-meier", k.Mean, err)
		say("kaplan-meier", k.Steps, err)
		say("kaplan-meier deviation", k.StandardDeviation, err)
	}
	r, err := RobustOrderRegression(values)
	say("ros", r, err)
	c, err := FreezeIndividuals(y)
	say("individuals", c, err)
	if err == nil {
		p, err := c.Points(y)
		say("individuals points", p, err)
		e, err := StandardEWMA(c.Center, c.Sigma).Points(y)
		say("ewma", e, err)
		s, err := StandardCUSUM(c.Center, c.Sigma).Points(y)
		say("cusum", s, err)
		_, err = FindRuns(y, c.Center, c.Sigma, runRuleNames()...)
		say("runs", 0.0, err)
	}
	for _, xs := range [][]float64{x, y} {
		k, err := MannKendall(xs, y)
		say("mann-kendall", k, err)
		s, err := TheilSen(xs, y, 0.95)
		say("theil-sen", s, err)
		if err == nil {
			p, err := s.Passes(y[0])
			say("crossing", p, err)
		}
		l, err := FitLine(xs, x, 0.95)
		say("line", l, err)
		if err == nil {
			v, a, b, err := l.At(y[0])
			say("line at", []any{v, a, b}, err)
		}
	}
	k, err := MannKendallCensored(x, values)
	say("censored mann-kendall", k, err)
	sk, err := SeasonalMannKendall(season, x, y, 0.95)
	say("seasonal", sk, err)
	m, err := ModifiedZScores(y)
	say("modified z", m.Scores, err)
	for _, tail := range []Tail{EitherEnd, HighEnd, LowEnd} {
		g, err := Grubbs(y, tail, 0.05)
		say("grubbs", g, err)
	}
	pc, err := ComparePairs(pairs, 0.95)
	say("pairs", pc, err)
	d, err := BlankDetectionLimit(y)
	say("detection limit", d, err)
	sb, err := ShiftBetween(y[:n/2], y[n/2:], 0.95)
	say("shift", sb, err)
	np, err := PlotOnNormal(y)
	say("normal plot", np, err)
	rt, err := RepeatabilityRange(y[:min(n, 10)], 1, 0.95)
	say("range", rt, err)
	if n > 1 {
		v, err := RelativePercentDifference(y[0], y[1])
		say("rpd", v, err)
		v, err = NormalizedError(y[0], math.Abs(y[1]), y[1], 1)
		say("en", v, err)
		v, err = Recovery(y[0], y[1])
		say("recovery", v, err)
	}
	return where
}

// findNaN walks a result and says where it holds a NaN.
func findNaN(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) {
			return " is NaN"
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if at := findNaN(v.Field(i)); at != "" {
				return "." + v.Type().Field(i).Name + at
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			if at := findNaN(v.Index(i)); at != "" {
				return "[]" + at
			}
		}
	case reflect.Interface:
		return findNaN(v.Elem())
	}
	return ""
}

func TestNoNaNAndInputUnchanged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.OneOf(wild(1, 25), series(1, 25)).Draw(t, "y")
		sides := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 2), func(i int) Side { return Side(i) }), 1, 7).Draw(t, "sides")
		before := slices.Clone(y)
		if where := everything(y, sides); where != "" {
			t.Fatal(where)
		}
		if !slices.Equal(before, y) {
			t.Fatal("the input was changed")
		}
	})
}

// FuzzSeries feeds any bytes as numbers, NaN and infinities among them, which must come back as errors.
func FuzzSeries(f *testing.F) {
	add := func(values ...float64) {
		var b []byte
		for _, v := range values {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
		f.Add(b, uint16(0b011001))
	}
	add(7.42, 7.40, 7.45, 7.42)
	add(1, 1, 1, 1, 1, 1, 9)
	add(math.NaN(), 1, 2)
	add(math.Inf(1), math.Inf(-1), 0)
	add(largest, -largest, largest, 5e-324, 0)
	add()
	f.Fuzz(func(t *testing.T, b []byte, sides uint16) {
		var y []float64
		for len(b) >= 8 && len(y) < 60 {
			y = append(y, math.Float64frombits(binary.LittleEndian.Uint64(b)))
			b = b[8:]
		}
		if len(y) == 0 {
			return
		}
		var side []Side
		for i := range 7 {
			side = append(side, Side(sides>>(2*i)&3%3))
		}
		if where := everything(y, side); where != "" {
			t.Fatal(where)
		}
		bad := slices.ContainsFunc(y, func(v float64) bool { return math.IsNaN(v) || math.Abs(v) > largest })
		if _, err := Median(y); bad != (err != nil) {
			t.Fatalf("median of %v: %v", y, err)
		}
	})
}
