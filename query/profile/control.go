package profile

import (
	"math"

	"wj/query"
	"wj/query/stats"
)

// Control holds the measured points of one regime against limits that its own first readings set.
type Control struct {
	Regime string
	N      int
	Lack   string // why there are no limits: nothing else is set then
	Chart  stats.Individuals
	First  query.Point // of the baseline
	Last   query.Point // of the baseline

	Beyond, RangeBeyond []query.Point // outside the limits beyond the error of the test; further from the point before than the moving range's limit
	Runs                []Run         // of stats.DefaultRunRules beyond the error of the tests, without points beyond the limits
	// Sums and Averages tell a shifted level: the newest one that a CUSUM or an EWMA chart signals, nil where none does.
	Sums, Averages *Shifted
	// Correlated says that neighbouring readings of the baseline resemble each other more than chance does (r₁ above 2/√n),
	// so that the limits are too narrow.
	Correlated bool
}

// Run is a pattern that chance seldom makes.
type Run struct {
	Rule     stats.RunRule
	From, To query.Point
	High     bool
}

// Shifted is a level that moved.
type Shifted struct {
	Since query.Point // the first reading of the new level
	N     int         // readings in it
	Mean  float64
	By    float64 // the mean less the centre of the baseline
	Until query.Point
	Still bool // the chart signals at the newest reading
}

func controlOf(u *Usual, g Group) Control {
	s, c := u.Series, Control{Regime: g.Regime, N: len(g.At)}
	chart, err := u.Freeze(g)
	if err != nil {
		c.Lack = err.Error()
		return c
	}
	values := g.Values(s)
	at := func(n int) query.Point { return s.Points[g.At[n]] }
	c.Chart, c.First, c.Last = chart, at(0), at(chart.N-1)
	c.Correlated = chart.Autocorrelation > 2/math.Sqrt(float64(chart.N))
	points, err := chart.Points(values)
	if err != nil {
		c.Lack = err.Error()
		return c
	}
	for n, p := range points {
		if p.HasRange && p.RangeBeyond {
			c.RangeBeyond = append(c.RangeBeyond, at(n))
		}
	}
	for _, r := range u.Signals(g, chart) {
		if r.Rule.Name != "beyond-limits" {
			c.Runs = append(c.Runs, Run{r.Rule, at(r.From), at(r.To), r.High})
			continue
		}
		for n := r.At; n <= r.To; n++ {
			if u.beyond(at(n), chart) {
				c.Beyond = append(c.Beyond, at(n))
			}
		}
	}
	moved := func(from, to int, still bool) *Shifted {
		mean, err := stats.Mean(values[from : to+1])
		if err != nil {
			return nil
		}
		return &Shifted{Since: at(from), N: to + 1 - from, Mean: mean, By: mean - chart.Center, Until: at(to), Still: still}
	}
	if sums, err := stats.StandardCUSUM(chart.Center, chart.Sigma).Points(values); err == nil {
		c.Sums = lastSum(sums, moved)
	}
	if averages, err := stats.StandardEWMA(chart.Center, chart.Sigma).Points(values); err == nil {
		c.Averages = lastAverage(averages, moved)
	}
	return c
}

// lastSum is the newest stretch over which a sum grew beyond the decision interval, up to where it was greatest: from there on
// the level is back.
func lastSum(sums []stats.CUSUMPoint, moved func(from, to int, still bool) *Shifted) *Shifted {
	for n := len(sums) - 1; n >= 0; n-- {
		p := sums[n]
		from, size := p.HighSince, func(q stats.CUSUMPoint) float64 { return q.High }
		switch {
		case p.HighSignal:
		case p.LowSignal:
			from, size = p.LowSince, func(q stats.CUSUMPoint) float64 { return q.Low }
		default:
			continue
		}
		top := n
		for k := from; k < n; k++ {
			if size(sums[k]) > size(sums[top]) {
				top = k
			}
		}
		if n == len(sums)-1 { // the newest readings belong to it while the chart signals
			return moved(from, n, true)
		}
		return moved(from, top, false)
	}
	return nil
}

// lastAverage is the newest stretch over which the average stood outside its limits on one side.
func lastAverage(averages []stats.EWMAPoint, moved func(from, to int, still bool) *Shifted) *Shifted {
	for n := len(averages) - 1; n >= 0; n-- {
		if !averages[n].Beyond {
			continue
		}
		high, from := averages[n].Average > averages[n].Upper, n
		for from > 0 && averages[from-1].Beyond && (averages[from-1].Average > averages[from-1].Upper) == high {
			from--
		}
		return moved(from, n, n == len(averages)-1)
	}
	return nil
}
