package report

import (
	"fmt"
	"math"
	"strings"

	"wj/journal"
	"wj/journal/plan"
	"wj/query"
	"wj/query/stats"
	"wj/render"
	"wj/water"
)

// PairsChart is one value against another, from the same sessions or the same brews.
type PairsChart struct {
	X      string    `json:"x"` // name and unit
	Y      string    `json:"y"`
	Points []Pair    `json:"points"`
	Line   *ChartFit `json:"line"` // null: none can be fitted
	line   *stats.Line
}

// Pair is one point; of is the session or the batch.
type Pair struct {
	Of string  `json:"of"`
	X  *Number `json:"x"`
	Y  *Number `json:"y"`

	name string
}

// ChartFit is the line of least squares through pairs, x taken as exact.
type ChartFit struct {
	Slope    *Number  `json:"slope"`
	Limits   Interval `json:"slope_95"`
	RSquared *Number  `json:"r_squared"`
	P        *Number  `json:"p"`
	N        int      `json:"n"`
}

func (c *Chart) add(of, name string, x, y float64) {
	c.Pairs.Points = append(c.Pairs.Points, Pair{of, number(x), number(y), name})
}

// mashes are batches: the mash pH that came out and the liquor that they were brewed with, worked out from the newest waters of
// that day and what was weighed in.
func (c *Chart) mashes(j *journal.Journal, q ChartRequest) error {
	name, mashFirst := q.Values[0], false
	if name == mashPH {
		name, mashFirst = q.Values[1], true
	}
	ids, err := ChartValues([]string{name})
	if err != nil {
		return err
	}
	id, unit := ids[0], j.Preferred("", ids[0])
	c.Pairs = &PairsChart{X: strings.TrimSpace(name + " " + unit.String()), Y: mashPH, Points: []Pair{}}
	if mashFirst {
		c.Pairs.X, c.Pairs.Y = c.Pairs.Y, c.Pairs.X
	}
	book := plan.Open(j)
	for _, b := range j.Batches.List {
		if b.Void != nil || q.Beer != "" && b.Beer != q.Beer || !q.From.IsZero() && b.Brewed.Before(q.From) || !q.To.IsZero() && b.Brewed.After(q.To) {
			continue
		}
		if !b.HasMashPH {
			c.LeftOut["without a mash pH"]++
			continue
		}
		work, err := book.ForBatch(b)
		if err != nil || work.Prediction == nil {
			c.LeftOut["whose liquor cannot be worked out"]++
			continue
		}
		v, err := work.Prediction.Value(id)
		if err != nil || v.Bound != water.Exact {
			c.LeftOut["without "+name]++
			continue
		}
		x, err := id.Info().Convert(v.Value, id.Info().Unit, unit)
		if err != nil {
			x = v.Value
		}
		y := b.MashPH
		if mashFirst {
			x, y = y, x
		}
		c.add(b.ID, b.ID+" "+b.Beer, x, y)
	}
	if q.Beer != "" {
		c.Subtitle = "batches of " + q.Beer
	}
	c.Notes = append(c.Notes, "the liquor of each batch as brewed: the newest waters of that day and what was weighed in")
	return c.fit()
}

// sessions are two values of the same sessions.
func (c *Chart) sessions(j *journal.Journal, q ChartRequest) error {
	series, sites, err := q.histories(j, q.Values)
	if err != nil {
		return err
	}
	label := func(s *query.Series) string { return strings.TrimSpace(s.Name + " " + s.Unit.String()) }
	c.Pairs = &PairsChart{X: label(series[0]), Y: label(series[1]), Points: []Pair{}}
	c.Subtitle = strings.Join(sites, ", ")
	first := map[string]query.Point{}
	for i, one := range series {
		for _, p := range one.Points {
			if p.Bound != water.Exact {
				c.LeftOut["beyond the range of the method"]++
				continue
			}
			if i%2 == 0 {
				first[p.Session] = p
			} else if x, ok := first[p.Session]; ok {
				c.add(p.Session, p.Session, x.Value, p.Value)
			}
		}
	}
	return c.fit()
}

// fit draws the line through the pairs.
func (c *Chart) fit() error {
	p := c.Pairs
	c.Kind, c.Title = "pairs", p.Y+" against "+p.X
	if len(p.Points) == 0 {
		return c.none("no pairs of values")
	}
	x, y := make([]float64, len(p.Points)), make([]float64, len(p.Points))
	for i, one := range p.Points {
		x[i], y[i] = float64(*one.X), float64(*one.Y)
	}
	line, err := stats.FitLine(x, y, 0.95)
	if err != nil {
		c.Notes = append(c.Notes, fmt.Sprintf("%s: no line can be fitted (%v)", journal.Count(len(x), "pair"), err))
	} else {
		p.line = &line
		p.Line = &ChartFit{number(line.Slope), interval(line.SlopeLimits), number(line.RSquared), number(line.P), line.N}
		c.Notes = append(c.Notes, fmt.Sprintf("slope %s (95 %%: %s to %s) %s for one %s; r² %.2f, n %d, p %s; least squares with the first value taken as exact",
			water.Round(line.Slope, 3), water.Round(line.SlopeLimits.Low, 3), water.Round(line.SlopeLimits.High, 3), p.Y, p.X, line.RSquared, line.N, probability(line.P)))
		if line.N < 8 {
			c.Notes = append(c.Notes, "fewer than 8 pairs: take the line as a hint")
		}
	}
	if left := c.leftOut(); left != "" {
		c.Notes = append(c.Notes, left)
	}
	return nil
}

// scatter lays the pairs out.
func (c *Chart) scatter() render.Scatter {
	s := render.Scatter{Title: c.Title, Subtitle: c.Subtitle, XLabel: c.Pairs.X, YLabel: c.Pairs.Y, Notes: c.Notes}
	for _, p := range c.Pairs.Points {
		s.Points = append(s.Points, render.ScatterPoint{X: float64(*p.X), Y: float64(*p.Y), Name: p.name})
	}
	if line := c.Pairs.line; line != nil {
		s.Line = func(x float64) (y, low, high float64) {
			y, limits, _, err := line.At(x)
			if err != nil {
				return math.NaN(), math.NaN(), math.NaN()
			}
			return y, limits.Low, limits.High
		}
	}
	return s
}
