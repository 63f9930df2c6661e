package query

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"wj/query/stats"
	"wj/water"
)

// Reduce groups the sessions of a result and reduces each group to one row, in the order of the keys.
//
// by names what makes a group: month, quarter and year of the sampling time (2026-03, 2026-Q1, 2026), or any
// expression of the language: site, regime, owner, stage, by, lot(sulfate). None makes one group of all.
//
// Each aggregate is a reduction of a value: count(sulfate), below(chloride), min, max, mean, median, first, last;
// count alone counts sessions. first and last are by sampling time. A reading that is only a bound is never taken
// for a number: where it leaves an aggregate open, the cell is an interval, and its text says so: "<5", "4.1..4.6".
// The median is stats.CensoredMedian; a mean with bounds on one side is the Kaplan-Meier mean. Sessions without the
// value are left out of it; count says how many are in.
//
// Units are those of the result's columns of the same name, else standard units. The counts of the result are kept;
// a result that was cut by Limit is grouped as it is.
func Reduce(r *Result, by, aggregates []string) (*Result, error) {
	if r.j == nil {
		return nil, errors.New("group a result: it was not made by a query")
	}
	units := map[string]water.Unit{}
	for _, c := range r.Columns {
		if c.Number {
			units[c.Name] = c.Unit
		}
	}
	var keys []groupKey
	var reductions []reduction
	out := *r
	out.Columns, out.Rows = nil, nil
	for _, name := range by {
		key, err := compileKey(strings.TrimSpace(name))
		if err != nil {
			return nil, err
		}
		keys = append(keys, key)
		out.Columns = append(out.Columns, Column{Name: key.name, Number: key.column != nil && key.column.Number, Unit: key.unit()})
	}
	if len(aggregates) == 0 {
		aggregates = []string{"count"}
	}
	for _, text := range aggregates {
		a, err := compileReduction(strings.TrimSpace(text), units)
		if err != nil {
			return nil, err
		}
		reductions = append(reductions, a)
		out.Columns = append(out.Columns, Column{Name: a.name, Number: true, Unit: a.unit()})
	}

	row := newRow(r.j, r.now)
	groups := map[string]*group{}
	if len(keys) == 0 {
		groups[""] = &group{series: make([][]sample, len(reductions))} // of nothing there is a count too
	}
	for _, from := range r.Rows {
		if from.Session == nil {
			return nil, errors.New("group a result: its rows are groups already")
		}
		row.set(from.Session)
		cells := make([]Cell, len(keys))
		var id strings.Builder
		for i, key := range keys {
			cells[i] = key.cell(row)
			id.WriteString(strconv.Quote(cells[i].Text))
		}
		g, ok := groups[id.String()]
		if !ok {
			g = &group{keys: cells, series: make([][]sample, len(reductions))}
			groups[id.String()] = g
		}
		g.sessions++
		for i, a := range reductions {
			if a.column == nil {
				continue
			}
			if c := row.cell(a.column); !c.Missing {
				g.series[i] = append(g.series[i], sample{c, from.Session.Sampled.UnixNano(), from.Session.ID})
			}
		}
	}
	for _, g := range groups {
		cells := slices.Clone(g.keys)
		for i, a := range reductions {
			cells = append(cells, a.reduce(g.sessions, g.series[i]))
		}
		out.Rows = append(out.Rows, Row{Cells: cells})
	}
	sort.Slice(out.Rows, func(a, b int) bool {
		for i := range keys {
			if c := orderCells(out.Rows[a].Cells[i], out.Rows[b].Cells[i], false); c != 0 {
				return c < 0
			}
		}
		return false
	})
	return &out, nil
}

type group struct {
	keys     []Cell
	sessions int
	series   [][]sample
}

type sample struct {
	cell Cell
	at   int64
	id   string
}

// groupKey is what makes a group: a calendar period, or a column.
type groupKey struct {
	name     string
	calendar func(y, m int) string
	column   *Column
}

var calendars = map[string]func(y, m int) string{
	"month":   func(y, m int) string { return fmt.Sprintf("%04d-%02d", y, m) },
	"quarter": func(y, m int) string { return fmt.Sprintf("%04d-Q%d", y, (m+2)/3) },
	"year":    func(y, _ int) string { return fmt.Sprintf("%04d", y) },
}

func compileKey(name string) (groupKey, error) {
	if f, ok := calendars[name]; ok {
		return groupKey{name: name, calendar: f}, nil
	}
	c, err := compileColumn(name, nil)
	if err != nil {
		return groupKey{}, err
	}
	return groupKey{name: name, column: c}, nil
}

func (k groupKey) unit() water.Unit {
	if k.column != nil {
		return k.column.Unit
	}
	return water.None
}

func (k groupKey) cell(r *row) Cell {
	if k.column != nil {
		return r.cell(k.column)
	}
	if r.s.Sampled.IsZero() {
		return missing()
	}
	y, m, _ := r.date(r.s.Sampled)
	return Cell{Text: k.calendar(y, m)}
}

// reduction is one aggregate of one value.
type reduction struct {
	name   string
	kind   string
	column *Column // nil: count of sessions
}

var reductionKinds = []string{"count", "below", "above", "min", "max", "mean", "median", "first", "last"}

func compileReduction(text string, units map[string]water.Unit) (reduction, error) {
	if text == "count" || text == "count()" {
		return reduction{name: "count", kind: "count"}, nil
	}
	kind, rest, ok := strings.Cut(text, "(")
	kind = strings.TrimSpace(kind)
	inner, closed := strings.CutSuffix(strings.TrimSpace(rest), ")")
	if !ok || !closed {
		return reduction{}, fmt.Errorf("aggregate %q: write a reduction of a value, such as median(sulfate) or count", shorten(text))
	}
	if !slices.Contains(reductionKinds, kind) {
		help := "known are " + strings.Join(reductionKinds, ", ")
		if near := water.Nearest(kind, reductionKinds); near != "" {
			help = "did you mean " + near + "?"
		}
		return reduction{}, fmt.Errorf("aggregate %q: there is no %q; %s", shorten(text), shorten(kind), help)
	}
	c, err := compileColumn(strings.TrimSpace(inner), units)
	if err != nil {
		return reduction{}, fmt.Errorf("aggregate %q: %w", shorten(text), err)
	}
	if !c.Number && kind != "count" {
		return reduction{}, fmt.Errorf("aggregate %q: %s is no number; count(%s) counts it", shorten(text), c.Name, c.Name)
	}
	return reduction{text, kind, c}, nil
}

func (a reduction) unit() water.Unit {
	if a.column == nil || a.kind == "count" || a.kind == "below" || a.kind == "above" {
		return water.None
	}
	return a.column.Unit
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
	if !a.column.analyte || a.column.id >= water.NumAnalytes {
		return math.Inf(-1)
	}
	switch a.column.id {
	case water.PHValue, water.SampleTemperature, water.Sodium, water.Magnesium, water.MagnesiumHardness:
		return math.Inf(-1)
	}
	return 0
}

func (a reduction) interval(values []stats.Value) (stats.Interval, error) {
	switch a.kind {
	case "median":
		return stats.CensoredMedian(values, a.floor())
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
