package profile

import (
	"wj/query"
	"wj/query/stats"
)

// Level is where the values of a regime, or of all, lie and how far they scatter. A quantile of which only bounds are known is
// an interval in which it must lie.
type Level struct {
	Regime               string
	N, Bounds            int
	Median               stats.Interval
	Lower, Upper         stats.Interval // quartiles; from three values on
	Bottom, Top          stats.Interval // 5 and 95 %; from nineteen values on
	Spread               stats.Interval // 1.4826 median absolute deviations; from three values on
	Estimate             *Estimate      // nil without bounds
	HasQuarts, HasTwenty bool
}

// What quantiles need: at n values the plotting position i/(n+1) of the first must not lie above the share asked for.
const (
	QuartilesNeed = 3  // 1/(n+1) ≤ 0.25
	TailsNeed     = 19 // 1/(n+1) ≤ 0.05
)

// Estimate is what two methods make of values of which some are bounds on one side.
type Estimate struct {
	// Median, Top (95 %) and Mean are of Kaplan and Meier.
	Median, Top, Mean stats.Interval
	// Ordered is robust regression on order statistics; nil where it does not apply, and OrderedLack says why.
	Ordered     *stats.OrderRegression
	OrderedLack string
}

func levelOf(regime string, values []stats.Value, floor float64) (Level, error) {
	count, err := stats.CountCensored(values)
	if err != nil {
		return Level{}, err
	}
	l := Level{Regime: regime, N: count.N, Bounds: count.Below + count.Above, HasQuarts: count.N >= QuartilesNeed, HasTwenty: count.N >= TailsNeed}
	if l.Median, err = stats.CensoredMedian(values, floor); err != nil {
		return l, err
	}
	for _, q := range []struct {
		to    *stats.Interval
		share float64
		can   bool
	}{{&l.Lower, .25, l.HasQuarts}, {&l.Upper, .75, l.HasQuarts}, {&l.Bottom, .05, l.HasTwenty}, {&l.Top, .95, l.HasTwenty}} {
		if !q.can {
			continue
		}
		if *q.to, err = stats.CensoredQuantile(values, q.share, stats.Weibull, floor); err != nil {
			return l, err
		}
	}
	if l.HasQuarts {
		mad, err := stats.CensoredMAD(values, floor)
		if err != nil {
			return l, err
		}
		l.Spread = stats.Interval{Low: robust * mad.Low, High: robust * mad.High}
	}
	l.Estimate = estimateOf(values, count, floor)
	return l, nil
}

// robust brings a median absolute deviation to the scale of a standard deviation (Hampel, JASA 69 (1974) 383–393).
const robust = 1.4826

func estimateOf(values []stats.Value, count stats.Censoring, floor float64) *Estimate {
	if count.Below+count.Above == 0 {
		return nil
	}
	k, err := stats.EstimateKaplanMeier(values, floor)
	if err != nil {
		return nil
	}
	e := &Estimate{Mean: k.Mean}
	e.Median, _ = k.Median()
	e.Top, _ = k.Quantile(.95)
	ordered, err := stats.RobustOrderRegression(values)
	if err != nil {
		e.OrderedLack = err.Error()
		return e
	}
	e.Ordered = &ordered
	return e
}

// Difference is how far one regime lies above another.
type Difference struct {
	First, Second string
	Shift         stats.Shift // Limits at 95 %
	Lack          string      // why there is none
}

// regimes fills the levels of each regime and their differences from the first.
func (p *Profile) regimes() error {
	points := map[string][]query.Point{}
	var order []string
	for _, one := range p.Series.Points {
		if _, seen := points[one.Regime]; !seen {
			order = append(order, one.Regime)
		}
		points[one.Regime] = append(points[one.Regime], one)
	}
	if len(order) < 2 {
		return nil
	}
	for _, name := range order {
		l, err := levelOf(name, Reported(points[name]), p.Series.Floor())
		if err != nil {
			return err
		}
		p.Regimes = append(p.Regimes, l)
	}
	first := p.Regimes[0]
	for _, l := range p.Regimes[1:] {
		d := Difference{First: l.Regime, Second: first.Regime}
		switch {
		case l.Bounds > 0 || first.Bounds > 0:
			d.Lack = "some are bounds: hold the medians against each other"
		default:
			shift, err := stats.ShiftBetween(numbers(points[l.Regime]), numbers(points[first.Regime]), .95)
			if err != nil {
				d.Lack = err.Error()
			}
			d.Shift = shift
		}
		p.Differences = append(p.Differences, d)
	}
	return nil
}

func numbers(points []query.Point) []float64 {
	out := make([]float64, len(points))
	for i, p := range points {
		out[i] = p.Value
	}
	return out
}
