package main

import (
	"math"
	"time"

	"wj/journal"
	"wj/query"
	"wj/query/profile"
	"wj/query/stats"
	"wj/render"
	"wj/water"
)

// statsJSON is the machine's form of wj stats, in standard units. Every
// section is there, null or empty where it has nothing to say; a lack says
// why. The ends of an interval are null where they are open.
func statsJSON(p *profile.Profile) render.Object {
	s := p.Series
	o := render.Object{{Name: "value", Value: s.Name}, {Name: "site", Value: s.Site}, {Name: "unit", Value: s.Unit.String()},
		{Name: "known", Value: render.Object{{Name: "n", Value: p.N}, {Name: "measured", Value: p.Measured}, {Name: "below", Value: p.Below}, {Name: "above", Value: p.Above},
			{Name: "from", Value: journal.FormatTime(s.Points[0].Sampled)}, {Name: "to", Value: journal.FormatTime(p.Last().Sampled)},
			{Name: "left_out", Value: render.Object{{Name: "no_reading", Value: s.NoReading}, {Name: "bound_not_carried", Value: s.Censored}, {Name: "void", Value: s.Void},
				{Name: "unreadable", Value: s.Faulty}, {Name: "other_samples", Value: s.Others}}}}},
		{Name: "last", Value: pointJSON(p.Last())}}
	if p.Anew != nil {
		o = append(o, render.Member{Name: "since", Value: render.Object{{Name: "on", Value: day(p.Anew.On)}, {Name: "what", Value: p.Anew.What}}})
	} else {
		o = append(o, render.Member{Name: "since", Value: nil})
	}
	regimes, differences, control := []any{}, []any{}, []any{}
	for _, l := range p.Regimes {
		regimes = append(regimes, levelJSON(l))
	}
	for _, d := range p.Differences {
		one := render.Object{{Name: "of", Value: d.First}, {Name: "less", Value: d.Second}, {Name: "lack", Value: lackJSON(d.Lack)}}
		if d.Lack == "" {
			one = append(one, render.Member{Name: "by", Value: rounded(d.Shift.By)}, render.Member{Name: "limits_95", Value: intervalJSON(d.Shift.Limits)},
				render.Member{Name: "n", Value: []any{d.Shift.First, d.Shift.Second}})
		}
		differences = append(differences, one)
	}
	for _, c := range p.Control {
		control = append(control, controlJSON(c))
	}
	return append(o, render.Member{Name: "level", Value: levelJSON(p.All)}, render.Member{Name: "regimes", Value: regimes}, render.Member{Name: "differences", Value: differences},
		render.Member{Name: "trend", Value: trendJSON(p.Trend)}, render.Member{Name: "control", Value: control}, render.Member{Name: "outliers", Value: outliersJSON(p.Outliers)},
		render.Member{Name: "laboratory", Value: laboratoryJSON(p.Laboratory)}, render.Member{Name: "replicates", Value: replicatesJSON(p.Replicates)},
		render.Member{Name: "duplicates", Value: replicatesJSON(p.Duplicates)}, render.Member{Name: "standards", Value: standardsJSON(p.Standards)}, render.Member{Name: "blanks", Value: blanksJSON(p.Blanks)})
}

func lackJSON(text string) any {
	if text == "" {
		return nil
	}
	return shortLack(text)
}

// finite is a number, or nothing where there is none.
func finite(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return rounded(v)
}

func intervalJSON(i stats.Interval) render.Object {
	return render.Object{{Name: "low", Value: finite(i.Low)}, {Name: "high", Value: finite(i.High)}}
}

func momentJSON(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.Format("2006-01-02")
}

func pointJSON(p query.Point) render.Object {
	o := render.Object{{Name: "session", Value: p.Session}, {Name: "sampled", Value: journal.FormatTime(p.Sampled)}, {Name: "value", Value: finite(p.Value)},
		{Name: "bound", Value: nil}, {Name: "u", Value: finite(p.U)}}
	if p.Bound != water.Exact {
		o[3].Value, o[4].Value = p.Bound.String(), nil
	}
	return o
}

func sessionsJSON(points []query.Point) []any {
	out := []any{}
	for _, p := range points {
		out = append(out, p.Session)
	}
	return out
}

func levelJSON(l profile.Level) render.Object {
	o := render.Object{{Name: "regime", Value: l.Regime}, {Name: "n", Value: l.N}, {Name: "bounds", Value: l.Bounds}}
	for _, q := range []struct {
		name string
		i    stats.Interval
		can  bool
	}{{"p05", l.Bottom, l.HasTwenty}, {"p25", l.Lower, l.HasQuarts}, {"median", l.Median, true}, {"p75", l.Upper, l.HasQuarts}, {"p95", l.Top, l.HasTwenty}, {"spread", l.Spread, l.HasQuarts}} {
		m := render.Member{Name: q.name}
		if q.can {
			m.Value = intervalJSON(q.i)
		}
		o = append(o, m)
	}
	estimate := render.Member{Name: "estimate"}
	if e := l.Estimate; e != nil {
		ordered := render.Member{Name: "order_regression"}
		if r := e.Ordered; r != nil {
			ordered.Value = render.Object{{Name: "median", Value: finite(r.Median)}, {Name: "mean", Value: finite(r.Mean)}, {Name: "standard_deviation", Value: finite(r.StandardDeviation)}}
		}
		estimate.Value = render.Object{{Name: "kaplan_meier", Value: render.Object{{Name: "median", Value: intervalJSON(e.Median)}, {Name: "p95", Value: intervalJSON(e.Top)}, {Name: "mean", Value: intervalJSON(e.Mean)}}},
			ordered, {Name: "lack", Value: lackJSON(e.OrderedLack)}}
	}
	return append(o, estimate)
}

func trendJSON(t profile.Trend) render.Object {
	o := render.Object{{Name: "regime", Value: t.Regime}, {Name: "n", Value: t.N}, {Name: "bounds", Value: t.Bounds}, {Name: "from", Value: momentJSON(t.From)}, {Name: "to", Value: momentJSON(t.To)},
		{Name: "lack", Value: lackJSON(t.Lack)}, {Name: "slope_a_year", Value: nil}, {Name: "limits_95", Value: nil}, {Name: "slope_between", Value: nil}, {Name: "mann_kendall", Value: nil}}
	if t.Slope != nil {
		o[6].Value, o[7].Value = finite(t.Slope.PerUnit), intervalJSON(t.Slope.Limits)
	} else if t.Lack == "" {
		o[8].Value = intervalJSON(t.Between)
	}
	if t.Lack == "" {
		o[9].Value = render.Object{{Name: "s", Value: t.Kendall.S}, {Name: "tau_b", Value: finite(t.Kendall.TauB)}, {Name: "p", Value: finite(t.Kendall.P)}, {Name: "exact", Value: t.Kendall.Exact}}
	}
	seasonal := render.Member{Name: "seasonal"}
	if k := t.Seasonal; k != nil {
		seasonal.Value = render.Object{{Name: "by", Value: t.Seasons}, {Name: "n", Value: k.N}, {Name: "slope_a_year", Value: finite(k.Slope)}, {Name: "limits_95", Value: intervalJSON(k.SlopeLimits)},
			{Name: "p", Value: finite(k.P)}, {Name: "homogeneity_p", Value: finite(k.HomogeneityP)}}
	}
	limits := []any{}
	for _, p := range t.Projections {
		limits = append(limits, render.Object{{Name: "name", Value: p.Limit.Name}, {Name: "limit", Value: finite(p.Limit.Value)}, {Name: "line_now", Value: finite(p.Now)}, {Name: "passed", Value: p.Passed},
			{Name: "at", Value: momentJSON(p.At)}, {Name: "earliest", Value: momentJSON(p.Earliest)}, {Name: "latest", Value: momentJSON(p.Latest)}, {Name: "extrapolated", Value: !p.Passed}})
	}
	return append(o, seasonal, render.Member{Name: "seasonal_lack", Value: lackJSON(t.SeasonalLack)}, render.Member{Name: "limits", Value: limits})
}

func controlJSON(c profile.Control) render.Object {
	o := render.Object{{Name: "regime", Value: c.Regime}, {Name: "n", Value: c.N}, {Name: "lack", Value: lackJSON(c.Lack)}}
	if c.Lack != "" {
		return o
	}
	runs := []any{}
	for _, r := range c.Runs {
		runs = append(runs, render.Object{{Name: "rule", Value: r.Rule.Name}, {Name: "from", Value: r.From.Session}, {Name: "to", Value: r.To.Session}, {Name: "high", Value: r.High}})
	}
	shift := func(m *profile.Shifted) any {
		if m == nil {
			return nil
		}
		return render.Object{{Name: "since", Value: m.Since.Session}, {Name: "on", Value: momentJSON(m.Since.Sampled)}, {Name: "until", Value: m.Until.Session}, {Name: "still", Value: m.Still},
			{Name: "n", Value: m.N}, {Name: "mean", Value: finite(m.Mean)}, {Name: "by", Value: finite(m.By)}}
	}
	return append(o, render.Member{Name: "baseline", Value: render.Object{{Name: "n", Value: c.Chart.N}, {Name: "from", Value: c.First.Session}, {Name: "to", Value: c.Last.Session},
		{Name: "center", Value: finite(c.Chart.Center)}, {Name: "sigma", Value: finite(c.Chart.Sigma)}, {Name: "lower", Value: finite(c.Chart.Lower)}, {Name: "upper", Value: finite(c.Chart.Upper)},
		{Name: "range_upper", Value: finite(c.Chart.RangeUpper)}, {Name: "autocorrelation", Value: finite(c.Chart.Autocorrelation)}, {Name: "correlated", Value: c.Correlated}}},
		render.Member{Name: "beyond", Value: sessionsJSON(c.Beyond)}, render.Member{Name: "range_beyond", Value: sessionsJSON(c.RangeBeyond)},
		render.Member{Name: "runs", Value: runs}, render.Member{Name: "cusum", Value: shift(c.Sums)}, render.Member{Name: "ewma", Value: shift(c.Averages)})
}

func outliersJSON(o profile.Outliers) render.Object {
	list := func(all []profile.Outlier) []any {
		out := []any{}
		for _, one := range all {
			out = append(out, render.Object{{Name: "session", Value: one.Point.Session}, {Name: "value", Value: finite(one.Point.Value)}, {Name: "z", Value: finite(one.Z)}, {Name: "explained_by", Value: lackJSON(one.Why)}})
		}
		return out
	}
	grubbs := render.Member{Name: "grubbs"}
	if g := o.Grubbs; g != nil {
		grubbs.Value = render.Object{{Name: "session", Value: o.Furthest.Session}, {Name: "n", Value: g.N}, {Name: "g", Value: finite(g.G)}, {Name: "critical", Value: finite(g.Critical)}, {Name: "p", Value: finite(g.P)}, {Name: "outlier", Value: g.Outlier}}
	}
	return render.Object{{Name: "n", Value: o.N}, {Name: "lack", Value: lackJSON(o.Lack)}, {Name: "from_trend", Value: o.FromLine}, {Name: "unexplained", Value: list(o.Unexplained)}, {Name: "explained", Value: list(o.Explained)},
		grubbs, {Name: "grubbs_lack", Value: lackJSON(o.GrubbsLack)}}
}

func laboratoryJSON(l profile.Laboratory) render.Object {
	pairs := []any{}
	for _, p := range l.Pairs {
		pairs = append(pairs, render.Object{{Name: "bench", Value: pointJSON(p.Bench)}, {Name: "lab", Value: pointJSON(p.Lab)}, {Name: "e_n", Value: finite(p.En)}})
	}
	o := render.Object{{Name: "n", Value: len(l.Pairs)}, {Name: "with_bounds", Value: l.Bounds}, {Name: "alone", Value: l.Alone}, {Name: "lack", Value: lackJSON(l.Lack)}, {Name: "mean_difference", Value: nil}, {Name: "limits_95", Value: nil},
		{Name: "median_difference", Value: nil}, {Name: "p", Value: nil}, {Name: "pairs", Value: pairs}}
	if l.Lack == "" {
		o[4].Value, o[5].Value, o[6].Value, o[7].Value = finite(l.Test.MeanDifference), intervalJSON(l.Test.Limits), finite(l.Test.MedianDifference), finite(l.Test.P)
	}
	return o
}

func replicatesJSON(r profile.Replicates) render.Object {
	people := []any{}
	for _, b := range r.People {
		people = append(people, render.Object{{Name: "by", Value: lackJSON(b.By)}, {Name: "n", Value: b.N}, {Name: "median", Value: finite(b.Median)}, {Name: "p95", Value: finite(b.Top)}, {Name: "worst", Value: finite(b.Worst)}})
	}
	return render.Object{{Name: "n", Value: len(r.Sets)}, {Name: "percent", Value: r.Percent}, {Name: "judged", Value: r.Judged}, {Name: "exceeded", Value: r.Exceeded}, {Name: "people", Value: people}}
}

func standardsJSON(list []profile.Standard) []any {
	out := []any{}
	for _, d := range list {
		out = append(out, render.Object{{Name: "instrument", Value: d.Instrument}, {Name: "n", Value: d.N}, {Name: "percent", Value: d.Percent}, {Name: "mean", Value: finite(d.Mean)},
			{Name: "standard_deviation", Value: finite(d.Deviation)}, {Name: "low", Value: finite(d.Low)}, {Name: "high", Value: finite(d.High)}, {Name: "from", Value: momentJSON(d.First)}, {Name: "to", Value: momentJSON(d.LastTested)}})
	}
	return out
}

func blanksJSON(b profile.Blanks) render.Object {
	o := render.Object{{Name: "measured", Value: b.Measured}, {Name: "bounds", Value: b.Bounds}, {Name: "detection_limit", Value: nil}}
	if b.Limit != nil {
		o[2].Value = render.Object{{Name: "n", Value: b.Limit.N}, {Name: "limit", Value: finite(b.Limit.Limit)}, {Name: "shaky", Value: b.Limit.Shaky}}
	}
	return o
}
