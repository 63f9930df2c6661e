package query

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"wj/query/stats"
	"wj/water"
	"wj/water/spelling"
)

// reduction is one aggregate of one value.
type reduction struct {
	name   string
	kind   string
	share  float64 // of a quantile
	column *Column // nil: count of sessions
}

var reductionKinds = []string{"count", "below", "above", "min", "max", "mean", "median", "quantile", "slope", "first", "last"}

// SplitList parts a list at its commas, but for those inside brackets and quotes.
func SplitList(text string) []string {
	var parts []string
	depth, from := 0, 0
	var quote byte
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case quote != 0:
			if c == '\\' {
				i++
			} else if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'' || c == '`':
			quote = c
		case c == '(' || c == '[':
			depth++
		case c == ')' || c == ']':
			depth--
		case c == ',' && depth <= 0:
			parts = append(parts, strings.TrimSpace(text[from:i]))
			from = i + 1
		}
	}
	if last := strings.TrimSpace(text[from:]); last != "" || len(parts) > 0 {
		parts = append(parts, last)
	}
	return parts
}

// IsAggregate says whether a text is an aggregate that Reduce takes: median(sulfate), count.
func IsAggregate(text string) bool {
	_, err := compileReduction(strings.TrimSpace(text), nil)
	return err == nil
}

func compileReduction(text string, units map[string]water.Unit) (reduction, error) {
	if text == "count" || text == "count()" {
		return reduction{name: "count", kind: "count"}, nil
	}
	fail := func(format string, args ...any) (reduction, error) {
		return reduction{}, fmt.Errorf("aggregate %q: "+format, append([]any{shorten(text)}, args...)...)
	}
	kind, rest, ok := strings.Cut(text, "(")
	kind = strings.TrimSpace(kind)
	inner, closed := strings.CutSuffix(strings.TrimSpace(rest), ")")
	if !ok || !closed {
		return fail("write a reduction of a value, such as median(sulfate) or count")
	}
	if !slices.Contains(reductionKinds, kind) {
		return fail("there is no %q; %s", shorten(kind), spelling.HintOr(kind, reductionKinds, "known are "+strings.Join(reductionKinds, ", ")))
	}
	a := reduction{name: text, kind: kind}
	if kind == "quantile" {
		parts := SplitList(inner)
		if len(parts) != 2 {
			return fail("write the value and the share that lies below, such as quantile(nitrate, 0.95)")
		}
		share, err := strconv.ParseFloat(parts[1], 64)
		if err != nil || !(share > 0 && share < 1) {
			return fail("%q is no share between 0 and 1, such as 0.95", shorten(parts[1]))
		}
		inner, a.share = parts[0], share
	}
	c, err := compileColumn(strings.TrimSpace(inner), units)
	if err != nil {
		return fail("%w", err)
	}
	a.column = c
	if !c.Number && kind != "count" && kind != "first" && kind != "last" {
		return fail("%s is no number; count(%[2]s), first(%[2]s) and last(%[2]s) can be asked of it", c.Name)
	}
	return a, nil
}

// shownAs is the column of the aggregate.
func (a reduction) shownAs() Column {
	c := Column{Name: a.name, Number: true}
	switch a.kind {
	case "count", "below", "above":
	case "slope":
		c.Unit, c.Per, c.Bounded, c.Reduced = a.column.Unit, "a year", true, true
	default:
		c.Unit, c.Number = a.column.Unit, a.column.Number
		c.Bounded, c.Reduced = c.Number, c.Number && a.kind != "first" && a.kind != "last"
	}
	return c
}

func countCell(n int) Cell {
	return Cell{Text: strconv.Itoa(n), Value: float64(n), Number: true}
}
func (a reduction) reduce(sessions int, series []sample) Cell {
	count := func(want water.Bound) Cell {
		n := 0
		for _, s := range series {
			if s.cell.Bound == want {
				n++
			}
		}
		return countCell(n)
	}
	switch {
	case a.column == nil:
		return countCell(sessions)
	case a.kind == "count":
		return countCell(len(series))
	case a.kind == "below":
		return count(water.Below)
	case a.kind == "above":
		return count(water.Above)
	case len(series) == 0:
		return missing()
	case a.kind == "first", a.kind == "last":
		return edge(series, a.kind == "first").cell
	}
	if a.kind == "slope" {
		return a.slope(series)
	}
	values := make([]stats.Value, len(series))
	derived := false
	for i, s := range series {
		values[i] = stats.Value{Number: s.cell.Value, Side: sides[s.cell.Bound]}
		derived = derived || s.cell.Derived
	}
	between, err := a.interval(values)
	if err != nil || !between.Known() {
		return missing()
	}
	c := intervalCell(between, values, a.floor())
	c.Derived = derived
	return c
}

// slope is the Theil-Sen slope over the sampling times, a year. Without bounds its 95 % limits are the note; with
// them it is the interval in which it must lie. Fewer than three readings, or all at one time, have none.
func (a reduction) slope(series []sample) Cell {
	const year = 365.25 * 24 * 3600e9 // ns, Julian
	x, y, values := make([]float64, len(series)), make([]float64, len(series)), make([]stats.Value, len(series))
	measured := true
	for i, s := range series {
		x[i], y[i] = float64(s.at-series[0].at)/year, s.cell.Value
		values[i] = stats.Value{Number: s.cell.Value, Side: sides[s.cell.Bound]}
		measured = measured && s.cell.Bound == water.Exact
	}
	if !measured {
		between, err := stats.TheilSenCensored(x, values, a.floor())
		if err != nil || len(series) < 3 || !between.Known() {
			return missing()
		}
		return intervalCell(between, nil, math.Inf(-1))
	}
	s, err := stats.TheilSen(x, y, 0.95)
	if err != nil {
		return missing()
	}
	c := numberCell(num{v: s.PerUnit})
	c.Derived = true
	if s.Limits.Known() {
		c.Low, c.High = s.Limits.Low, s.Limits.High
		c.Note = fmt.Sprintf("(%s..%s)", water.Round(s.Limits.Low, 3), water.Round(s.Limits.High, 3))
	}
	return c
}

// edge is the first or the last sample by time, and by id within one moment.
func edge(series []sample, first bool) sample {
	order := func(a, b sample) int { return cmp.Or(cmp.Compare(a.at, b.at), strings.Compare(a.id, b.id)) }
	if first {
		return slices.MinFunc(series, order)
	}
	return slices.MaxFunc(series, order)
}

var sides = map[water.Bound]stats.Side{water.Exact: stats.Measured, water.Below: stats.Below, water.Above: stats.Above}

// floor is the least that the value can be: nothing for a concentration that is read, no number for what is a
// logarithm, a temperature or a difference.
func (a reduction) floor() float64 {
	if !a.column.analyte {
		return math.Inf(-1)
	}
	return floorOf(a.column.id)
}

func floorOf(id water.ID) float64 {
	if id >= water.NumAnalytes {
		return math.Inf(-1)
	}
	switch id {
	case water.PHValue, water.SampleTemperature, water.Sodium, water.Magnesium, water.MagnesiumHardness:
		return math.Inf(-1)
	}
	return 0
}

func (a reduction) interval(values []stats.Value) (stats.Interval, error) {
	switch a.kind {
	case "median":
		return stats.CensoredMedian(values, a.floor())
	case "quantile":
		return stats.CensoredQuantile(values, a.share, stats.Weibull, a.floor())
	case "mean":
		return a.mean(values)
	}
	out := values[0].Bounds(a.floor())
	for _, v := range values[1:] {
		b := v.Bounds(a.floor())
		if a.kind == "min" {
			out = stats.Interval{Low: min(out.Low, b.Low), High: min(out.High, b.High)}
		} else {
			out = stats.Interval{Low: max(out.Low, b.Low), High: max(out.High, b.High)}
		}
	}
	return out, nil
}

// mean is the plain mean of numbers, the Kaplan-Meier mean with bounds on one side, and else the interval between
// the means of the least and of the most that each can be.
func (a reduction) mean(values []stats.Value) (stats.Interval, error) {
	count, err := stats.CountCensored(values)
	if err != nil {
		return stats.Interval{}, err
	}
	if count.Measured > 0 && count.Measured < count.N && (count.Below == 0 || count.Above == 0) {
		k, err := stats.EstimateKaplanMeier(values, a.floor())
		return k.Mean, err
	}
	low, high := make([]float64, 0, len(values)), make([]float64, 0, len(values))
	for _, v := range values {
		b := v.Bounds(a.floor())
		low, high = append(low, b.Low), append(high, b.High)
	}
	out := stats.Interval{Low: math.Inf(-1), High: math.Inf(1)}
	if m, err := stats.Mean(low); err == nil {
		out.Low = m
	}
	if m, err := stats.Mean(high); err == nil {
		out.High = m
	}
	return out, nil
}

// intervalCell shows a number, a bound or an interval.
func intervalCell(i stats.Interval, values []stats.Value, floor float64) Cell {
	if i.Exact() {
		return numberCell(num{v: i.Low})
	}
	c := Cell{Interval: true, Low: i.Low, High: i.High, Value: math.NaN()}
	isLimit := func(limit float64, side stats.Side) bool {
		return slices.Contains(values, stats.Value{Number: limit, Side: side}) && !slices.Contains(values, stats.Value{Number: limit})
	}
	switch {
	case i.Low <= floor:
		c.Value, c.Bound = i.High, water.Below
		c.Text = "<=" + formatNumber(i.High)
		if isLimit(i.High, stats.Below) {
			c.Text = "<" + formatNumber(i.High)
		}
	case math.IsInf(i.High, 1):
		c.Value, c.Bound = i.Low, water.Above
		c.Text = ">=" + formatNumber(i.Low)
		if isLimit(i.Low, stats.Above) {
			c.Text = ">" + formatNumber(i.Low)
		}
	default:
		c.Text = formatNumber(i.Low) + ".." + formatNumber(i.High)
	}
	return c
}
