package stats

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

const published = "../../testdata/published"

// inputs are the key=value pairs of one row of statistics.tsv.
type inputs map[string]string

func (in inputs) number(key string) float64 {
	v, err := strconv.ParseFloat(in[key], 64)
	if err != nil {
		panic(fmt.Sprintf("input %s=%q is not a number", key, in[key]))
	}
	return v
}

func (in inputs) numbers(key string) []float64 {
	var out []float64
	for _, v := range in.censored(key) {
		if v.Side != Measured {
			panic("a limit where a number belongs")
		}
		out = append(out, v.Number)
	}
	return out
}

func (in inputs) censored(key string) []Value {
	var out []Value
	for _, text := range strings.Fields(in[key]) {
		var v Value
		switch text[0] {
		case '<':
			v.Side, text = Below, text[1:]
		case '>':
			v.Side, text = Above, text[1:]
		}
		var err error
		if v.Number, err = strconv.ParseFloat(text, 64); err != nil {
			panic(err)
		}
		out = append(out, v)
	}
	return out
}

// column reads one column of a data set that a row names.
func (in inputs) column(name string) []float64 {
	data, err := os.ReadFile(filepath.Join(published, in["data"]))
	if err != nil {
		panic(err)
	}
	at, out := -1, []float64(nil)
	for line := range strings.Lines(string(data)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		fields := strings.Fields(line)
		if at < 0 {
			for i, f := range fields {
				if f == name {
					at = i
				}
			}
			continue
		}
		v, err := strconv.ParseFloat(fields[at], 64)
		if err != nil {
			panic(err)
		}
		out = append(out, v)
	}
	return out
}

func (in inputs) want(values map[string]float64) (float64, error) {
	v, ok := values[in["want"]]
	if !ok {
		return 0, fmt.Errorf("the row wants %q", in["want"])
	}
	return v, nil
}

var tails = map[string]Tail{"either": EitherEnd, "high": HighEnd, "low": LowEnd}

// computed says how each kind of row is reached with the package.
var computed = map[string]func(inputs) (float64, error){
	"mean":             func(in inputs) (float64, error) { return Mean(in.numbers("values")) },
	"deviation":        func(in inputs) (float64, error) { return StandardDeviation(in.numbers("values")) },
	"autocorrelation":  func(in inputs) (float64, error) { return LagOneAutocorrelation(in.numbers("values")) },
	"moving-range-d2":  func(inputs) (float64, error) { return movingRangeD2, nil },
	"normal-quantile":  func(in inputs) (float64, error) { return NormalQuantile(in.number("p")), nil },
	"student-cdf":      func(in inputs) (float64, error) { return StudentTail(-in.number("t"), in.number("df")), nil },
	"student-quantile": func(in inputs) (float64, error) { return StudentQuantile(in.number("p"), in.number("df")), nil },
	"chi-square-quantile": func(in inputs) (float64, error) {
		return chiSquareQuantile(in.number("p"), in.number("df")), nil
	},
	"chi-square-tail": func(in inputs) (float64, error) { return ChiSquareTail(in.number("x"), in.number("df")), nil },
	"range-cdf":       func(in inputs) (float64, error) { return RangeCDF(in.number("q"), int(in.number("n"))), nil },
	"range-quantile":  func(in inputs) (float64, error) { return RangeQuantile(in.number("p"), int(in.number("n"))), nil },
	"quantile": func(in inputs) (float64, error) {
		return Quantile(in.numbers("values"), in.number("p"), QuantileKind(in.number("kind")))
	},
	"individuals": func(in inputs) (float64, error) {
		c, err := FreezeIndividuals(in.numbers("values"))
		if err != nil {
			return 0, err
		}
		return in.want(map[string]float64{"center": c.Center, "mean-moving-range": c.MeanMovingRange, "upper": c.Upper, "lower": c.Lower})
	},
	"ewma": func(in inputs) (float64, error) {
		e := EWMA{Target: in.number("target"), Sigma: in.number("sigma"), Lambda: in.number("lambda"), Width: in.number("width")}
		points, err := e.Points(in.numbers("values"))
		if err != nil {
			return 0, err
		}
		steady, err := e.SteadyLimits()
		if err != nil {
			return 0, err
		}
		values := map[string]float64{"steady-upper": steady.High, "steady-lower": steady.Low}
		if in["point"] != "" {
			values["average"] = points[int(in.number("point"))-1].Average
		}
		return in.want(values)
	},
	"cusum": func(in inputs) (float64, error) {
		points, err := CUSUM{in.number("target"), in.number("slack"), in.number("decision")}.Points(in.numbers("values"))
		if err != nil {
			return 0, err
		}
		values := map[string]float64{}
		for i, p := range points {
			if _, seen := values["first-signal"]; !seen && (p.HighSignal || p.LowSignal) {
				values["first-signal"] = float64(i + 1)
			}
		}
		if in["point"] != "" {
			p := points[int(in.number("point"))-1]
			values["high"], values["low"] = p.High, p.Low
		}
		return in.want(values)
	},
	"cusum-run-length": func(in inputs) (float64, error) {
		return cusumRunLength(in.number("slack"), in.number("decision")), nil
	},
	"ewma-run-length": func(in inputs) (float64, error) { return ewmaRunLength(in.number("lambda"), in.number("width")), nil },
	"rule-run-length": func(in inputs) (float64, error) { return ruleRunLength(strings.Fields(in["rules"])) },
	"shift": func(in inputs) (float64, error) {
		s, err := ShiftBetween(in.numbers("first"), in.numbers("second"), in.number("confidence"))
		if err != nil {
			return 0, err
		}
		return in.want(map[string]float64{"by": s.By, "lower": s.Limits.Low, "upper": s.Limits.High})
	},
	"normal-plot": func(in inputs) (float64, error) {
		p, err := PlotOnNormal(in.numbers("values"))
		return p.Correlation, err
	},
	"grubbs": func(in inputs) (float64, error) {
		g, err := Grubbs(in.numbers("values"), EitherEnd, 0.05)
		return g.G, err
	},
	"grubbs-critical": func(in inputs) (float64, error) {
		return GrubbsCritical(int(in.number("n")), tails[in["tail"]], in.number("level"))
	},
	"modified-z": func(in inputs) (float64, error) {
		m, err := ModifiedZScores(in.numbers("values"))
		if err != nil {
			return 0, err
		}
		for i, v := range in.numbers("values") {
			if v == in.number("want") {
				return m.Scores[i], nil
			}
		}
		return 0, fmt.Errorf("the series has no %s", in["want"])
	},
	"detection-t": func(in inputs) (float64, error) {
		d, err := BlankDetectionLimit(make([]float64, int(in.number("n"))))
		return d.T, err
	},
	"detection-limit": func(in inputs) (float64, error) {
		d, err := BlankDetectionLimit(in.numbers("values"))
		return d.Limit, err
	},
	"kendall-tail": func(in inputs) (float64, error) {
		return exactKendallP(int(in.number("n")), int(in.number("s"))) / 2, nil
	},
	"mann-kendall": func(in inputs) (float64, error) {
		k, err := MannKendall(in.numbers("x"), in.numbers("y"))
		if err != nil {
			return 0, err
		}
		return in.want(map[string]float64{"s": float64(k.S), "tau-a": k.TauA, "tau-b": k.TauB, "z": k.Z, "p": k.P, "p-normal": k.PNormal})
	},
	"seasonal": func(in inputs) (float64, error) {
		var season []int
		for _, s := range in.numbers("season") {
			season = append(season, int(s))
		}
		k, err := SeasonalMannKendall(season, in.numbers("x"), in.numbers("y"), in.number("confidence"))
		if err != nil {
			return 0, err
		}
		return in.want(map[string]float64{"tau": k.Tau, "slope": k.Slope, "z": k.Z, "p": k.P, "lower": k.SlopeLimits.Low,
			"upper": k.SlopeLimits.High, "homogeneity": k.Homogeneity, "homogeneity-p": k.HomogeneityP})
	},
	"theil-sen": func(in inputs) (float64, error) {
		s, err := TheilSen(in.numbers("x"), in.numbers("y"), in.number("confidence"))
		if err != nil {
			return 0, err
		}
		return in.want(map[string]float64{"slope": s.PerUnit, "intercept": s.Intercept, "lower": s.Limits.Low, "upper": s.Limits.High})
	},
	"censored-percent": func(in inputs) (float64, error) {
		c, err := CountCensored(in.censored("values"))
		return 100 * c.Share(), err
	},
	"recensored-percent": func(in inputs) (float64, error) {
		one, err := Recensor(in.censored("values"))
		if err != nil {
			return 0, err
		}
		c, err := CountCensored(one)
		return 100 * c.Share(), err
	},
	"kaplan-meier": func(in inputs) (float64, error) {
		values := in.censored("values")
		if in["log"] == "yes" {
			for i := range values {
				values[i].Number = math.Log(values[i].Number)
			}
		}
		k, err := EstimateKaplanMeier(values, math.Inf(-1))
		if err != nil {
			return 0, err
		}
		middle, err := k.Median()
		if err != nil {
			return 0, err
		}
		out := map[string]float64{"mean-low": k.Mean.Low, "mean-high": k.Mean.High, "deviation": k.StandardDeviation}
		if middle.Exact() {
			out["median"] = middle.Low
		}
		for _, s := range k.Steps {
			if in["at"] != "" && s.Value == in.number("at") {
				out["above"] = 1 - s.Probability
			}
		}
		return in.want(out)
	},
	"ros": func(in inputs) (float64, error) {
		r, err := RobustOrderRegression(in.censored("values"))
		if err != nil {
			return 0, err
		}
		out := map[string]float64{"log-mean": r.LogMean, "log-deviation": r.LogStandardDeviation}
		for _, p := range r.Positions {
			if in["at"] != "" && math.Abs(p.Value-in.number("at")) < 1e-9 {
				out["position"] = p.Position
			}
		}
		return in.want(out)
	},
	"pairs": func(in inputs) (float64, error) {
		var pairs []Pair
		second := in.numbers("second")
		for i, v := range in.numbers("first") {
			pairs = append(pairs, Pair{v, second[i]})
		}
		c, err := ComparePairs(pairs, in.number("confidence"))
		if err != nil {
			return 0, err
		}
		return in.want(map[string]float64{"t": c.T, "p": c.P, "mean": c.MeanDifference, "lower": c.Limits.Low, "upper": c.Limits.High})
	},
	"line": func(in inputs) (float64, error) {
		l, err := FitLine(in.column("x"), in.column("y"), in.number("confidence"))
		if err != nil {
			return 0, err
		}
		out := map[string]float64{"intercept": l.Intercept, "slope": l.Slope, "intercept-error": l.InterceptError,
			"slope-error": l.SlopeError, "deviation": l.ResidualDeviation, "r-squared": l.RSquared,
			"slope-lower": l.SlopeLimits.Low, "intercept-upper": l.InterceptLimits.High}
		if in["at"] != "" {
			_, line, single, err := l.At(in.number("at"))
			if err != nil {
				return 0, err
			}
			out["at-upper"], out["single-lower"] = line.High, single.Low
		}
		return in.want(out)
	},
}

// TestPublishedValues holds the package against every row of testdata/published/statistics.tsv; the source of each
// value is in its row.
func TestPublishedValues(t *testing.T) {
	file, err := os.Open(filepath.Join(published, "statistics.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, 1<<20)
	lines.Scan()
	if got, want := lines.Text(), "id\tinputs\texpected\tunit\ttolerance\tsource\tstatus\tremark"; got != want {
		t.Fatalf("columns are %q, want %q", got, want)
	}
	seen := map[string]bool{}
	for lines.Scan() {
		row := strings.Split(lines.Text(), "\t")
		if len(row) != 8 {
			t.Fatalf("row %q has %d columns, want 8", row[0], len(row))
		}
		if seen[row[0]] {
			t.Errorf("%s stands twice", row[0])
		}
		seen[row[0]] = true
		if row[5] == "" || row[6] != "confirmed" && row[6] != "from memory" {
			t.Errorf("%s: source %q, status %q", row[0], row[5], row[6])
		}
		in := inputs{}
		for _, pair := range strings.Split(row[1], "; ") {
			key, value, _ := strings.Cut(pair, "=")
			in[key] = value
		}
		compute, ok := computed[in["do"]]
		if !ok {
			t.Errorf("%s: nothing computes %q", row[0], in["do"])
			continue
		}
		expected, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
			continue
		}
		got, err := compute(in)
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
			continue
		}
		if tolerance := toleranceOf(t, row[4], expected); !(math.Abs(got-expected) <= tolerance) {
			t.Errorf("%s: got %.12g, want %s %s (%s)", row[0], got, row[2], row[4], row[5])
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	if len(seen) < 240 {
		t.Errorf("only %d rows", len(seen))
	}
}

// toleranceOf reads "exact", "±0.01" or "±1%".
func toleranceOf(t *testing.T, text string, expected float64) float64 {
	t.Helper()
	if text == "exact" {
		return 1e-9 * math.Max(1, math.Abs(expected))
	}
	number, relative := strings.CutSuffix(strings.TrimPrefix(text, "±"), "%")
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		t.Fatalf("tolerance %q: %v", text, err)
	}
	if relative {
		return v / 100 * math.Abs(expected)
	}
	return v
}
