package query

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"

	"wj/journal/judge"
	"wj/water"
)

// Reduce groups the sessions of a result and reduces each group to one row, in the order of the keys.
//
// by names what makes a group: month, quarter and year of the sampling time (2026-03, 2026-Q1, 2026), or any
// expression of the language: site, regime, owner, stage, by, lot(sulfate). None makes one group of all.
//
// Each aggregate is a reduction of a value: count(sulfate), below(chloride), min, max, mean, median,
// quantile(nitrate, 0.95), slope(sulfate), first, last; count alone counts sessions. first and last are by sampling
// time, and may be asked of a text or a time. A reading that is only a bound is never taken for a number: where it
// leaves an aggregate open, the cell is an interval, and its text says so: "<5", "4.1..4.6". The median and the
// quantiles are stats.CensoredQuantile (Weibull); a mean with bounds on one side is the Kaplan-Meier mean; the slope
// is Theil and Sen's, a year, with its 95 % limits as the cell's note. Sessions without the value are left out of it;
// count says how many are in.
//
// Only sessions of the site's water go in, each moment once (judge.SampleOf): check standards, blanks and duplicates
// are counted in Aside. They go in where the expression or a key names sample, or Request.AllSamples is set.
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
		out.Columns = append(out.Columns, a.shownAs())
	}

	samples := r.samples || slices.ContainsFunc(keys, func(k groupKey) bool { return k.column != nil && k.column.o.field == "sample" })
	out.Aside = map[string]int{}
	row := newRow(r.j, r.now)
	groups := map[string]*group{}
	if len(keys) == 0 {
		groups[""] = &group{series: make([][]sample, len(reductions))} // of nothing there is a count too
	}
	for _, from := range r.Rows {
		if from.Session == nil {
			return nil, errors.New("group a result: its rows are groups already")
		}
		if !samples && !judge.SampleOf(from.Session).Series {
			out.Aside[from.Session.Sample]++
			continue
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
