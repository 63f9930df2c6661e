package main

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/plan"
	"wj/query"
	"wj/query/stats"
	"wj/render"
	"wj/water"
)

// scatter draws the second value against the first.
func (c *chartCmd) scatter(a *app, j *journal.Journal) (picture, error) {
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return picture{}, err
	}
	s := render.Scatter{XLabel: c.Values[0], YLabel: c.Values[1]}
	var left map[string]int
	if slices.Contains(c.Values, "mash_pH") {
		left, err = c.mashes(j, &s, from, to)
	} else {
		left, err = c.pairs(a, j, &s, from, to)
	}
	if err != nil {
		return picture{}, err
	}
	if len(s.Points) == 0 {
		a.say("no pairs of values%s", leftOut(left))
		return picture{}, errFindings
	}
	x, y := make([]float64, len(s.Points)), make([]float64, len(s.Points))
	for i, p := range s.Points {
		x[i], y[i] = p.X, p.Y
	}
	line, err := stats.FitLine(x, y, 0.95)
	switch {
	case err != nil:
		s.Notes = append(s.Notes, fmt.Sprintf("%s: no line can be fitted (%v)", count(len(x), "pair"), err))
	default:
		s.Line = func(x float64) (float64, float64, float64) {
			y, limits, _, err := line.At(x)
			if err != nil {
				return math.NaN(), math.NaN(), math.NaN()
			}
			return y, limits.Low, limits.High
		}
		p := "p " + probability(line.P)
		s.Notes = append(s.Notes, fmt.Sprintf("slope %s (95 %%: %s to %s) %s for one %s; r² %.2f, n %d, %s; least squares with the first value taken as exact",
			water.Round(line.Slope, 3), water.Round(line.SlopeLimits.Low, 3), water.Round(line.SlopeLimits.High, 3), s.YLabel, s.XLabel, line.RSquared, line.N, p))
		if line.N < 8 {
			s.Notes = append(s.Notes, "fewer than 8 pairs: take the line as a hint")
		}
	}
	if text := leftOut(left); text != "" {
		s.Notes = append(s.Notes, "left out"+strings.TrimPrefix(text, "; left out"))
	}
	columns, lines := c.size(a, 18)
	return picture{Drawing: s.Drawing(columns, lines), height: lines}, nil
}

func probability(p float64) string {
	if p < 0.0001 {
		return "below 0.0001"
	}
	return water.Round(p, 2)
}

func leftOut(left map[string]int) string {
	var parts []string
	for why, n := range left {
		parts = append(parts, fmt.Sprintf("%d %s", n, why))
	}
	sort.Strings(parts)
	if len(parts) == 0 {
		return ""
	}
	return "; left out: " + strings.Join(parts, ", ")
}

// mashes are batches: the mash pH that came out and the liquor that they were
// brewed with, worked out from the newest waters of that day and what was
// weighed in.
func (c *chartCmd) mashes(j *journal.Journal, s *render.Scatter, from, to time.Time) (map[string]int, error) {
	name, mashFirst := c.Values[0], false
	if name == "mash_pH" {
		name, mashFirst = c.Values[1], true
	}
	ids, err := valueIDs([]string{name})
	if err != nil {
		return nil, err
	}
	if err := resolve(j, &c.Beer, journal.KindTarget); err != nil {
		return nil, err
	}
	unit := j.Preferred("", ids[0])
	book, left := plan.Open(j), map[string]int{}
	for _, b := range j.Batches.List {
		if b.Void != nil || c.Beer != "" && b.Beer != c.Beer || !from.IsZero() && b.Brewed.Before(from) || !to.IsZero() && b.Brewed.After(to) {
			continue
		}
		if !b.HasMashPH {
			left["without a mash pH"]++
			continue
		}
		work, err := book.ForBatch(b)
		if err != nil || work.Prediction == nil {
			left["whose liquor cannot be worked out"]++
			continue
		}
		v, err := work.Prediction.Value(ids[0])
		if err != nil || v.Bound != water.Exact {
			left["without "+name]++
			continue
		}
		x, err := ids[0].Info().Convert(v.Value, ids[0].Info().Unit, unit)
		if err != nil {
			x = v.Value
		}
		p := render.ScatterPoint{X: x, Y: b.MashPH, Name: fmt.Sprintf("%s %s", b.ID, b.Beer)}
		if mashFirst {
			p.X, p.Y = p.Y, p.X
		}
		s.Points = append(s.Points, p)
	}
	label := strings.TrimSpace(name + " " + unit.String())
	if mashFirst {
		s.YLabel = label
	} else {
		s.XLabel = label
	}
	s.Title = s.YLabel + " against " + s.XLabel
	if c.Beer != "" {
		s.Subtitle = "batches of " + c.Beer
	}
	s.Notes = append(s.Notes, "the liquor of each batch as brewed: the newest waters of that day and what was weighed in")
	return left, nil
}

// pairs are two values of the same sessions.
func (c *chartCmd) pairs(a *app, j *journal.Journal, s *render.Scatter, from, to time.Time) (map[string]int, error) {
	ids, err := valueIDs(c.Values)
	if err != nil {
		return nil, err
	}
	sites, err := c.sites(a, j)
	if err != nil {
		return nil, err
	}
	units := map[water.ID]water.Unit{ids[0]: j.Preferred("", ids[0]), ids[1]: j.Preferred("", ids[1])}
	series, err := query.Histories(j, query.SeriesRequest{Sites: sites, Analytes: ids, Units: units, Sources: c.Source, Since: from, Until: pastEnd(to)})
	if err != nil {
		return nil, err
	}
	first, left := map[string]query.Point{}, map[string]int{}
	for _, one := range series {
		for _, p := range one.Points {
			if p.Bound != water.Exact {
				left["beyond the range of the method"]++
				continue
			}
			if one.Analyte == ids[0] {
				first[p.Session] = p
			} else if q, ok := first[p.Session]; ok {
				s.Points = append(s.Points, render.ScatterPoint{X: q.Value, Y: p.Value, Name: p.Session})
			}
		}
	}
	s.XLabel = strings.TrimSpace(ids[0].String() + " " + units[ids[0]].String())
	s.YLabel = strings.TrimSpace(ids[1].String() + " " + units[ids[1]].String())
	s.Title, s.Subtitle = s.YLabel+" against "+s.XLabel, strings.Join(sites, ", ")
	return left, nil
}
