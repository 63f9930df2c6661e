package profile

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/query"
	"wj/query/stats"
	"wj/water"
)

func example(t *testing.T) *journal.Journal {
	t.Helper()
	j, err := journal.Load(journal.Dir("../../example-journal"), journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func profileOf(t *testing.T, j *journal.Journal, site, value string, o Options) *Profile {
	t.Helper()
	series, err := query.History(j, site, value, query.SeriesRequest{Since: o.Since, Until: o.Until})
	if err != nil {
		t.Fatal(err)
	}
	record, _ := j.Sites.Get(site)
	p, err := Of(j, record, series, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// read are the routine values of an analyte at a site, taken from the records by hand: the way that the profile does not go.
func read(t *testing.T, j *journal.Journal, site string, id water.ID) (at []time.Time, values []stats.Value) {
	t.Helper()
	var list []*journal.Session
	for _, s := range j.Sessions.List {
		if _, ok := s.Reading(id); ok && s.Site == site && s.Void == nil && (s.Sample == "routine" || s.Sample == "verification") {
			list = append(list, s)
		}
	}
	slices.SortFunc(list, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
	for _, s := range list {
		r, _ := s.Reading(id)
		v, bound := r.Result()
		values = append(values, stats.Value{Number: id.Info().Standard(water.Quantity{Value: v, Unit: r.First.Unit}), Side: sides[bound]})
		at = append(at, s.Sampled)
	}
	return at, values
}

// own are the values of the bench, without those of recalled lots.
func own(t *testing.T, j *journal.Journal, site string, id water.ID) (at []time.Time, y []float64) {
	t.Helper()
	all, values := read(t, j, site, id)
	for i, when := range all {
		for _, s := range j.Sessions.List {
			if s.Site != site || !s.Sampled.Equal(when) || s.Source != "bench" {
				continue
			}
			r, _ := s.Reading(id)
			if lot, ok := j.Lots.Get(r.Lot); !ok || lot.Recalled == nil {
				at, y = append(at, when), append(y, values[i].Number)
			}
		}
	}
	return at, y
}

func plain(values []stats.Value) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = v.Number
	}
	return out
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// The numbers for the north well are those of query/stats over the records' own values.
func TestNumbersAreThoseOfStats(t *testing.T) {
	j := example(t)
	at, values := read(t, j, "north-well", water.Sulfate)
	y := plain(values)
	p := profileOf(t, j, "north-well", "sulfate", Options{Limits: []Target{{"asked for", 350}}})
	same(t, "n", p.N, len(values))

	median, _ := stats.CensoredMedian(values, 0)
	top, _ := stats.CensoredQuantile(values, .95, stats.Weibull, 0)
	mad, _ := stats.MAD(y)
	same(t, "median", p.All.Median, median)
	same(t, "95 %", p.All.Top, top)
	same(t, "spread", p.All.Spread, stats.Interval{Low: 1.4826 * mad, High: 1.4826 * mad})

	axis := stats.TimeAxis{Origin: at[0]}
	x := axis.Years(at)
	slope, _ := stats.TheilSen(x, y, .95)
	test, _ := stats.MannKendall(x, y)
	same(t, "slope", *p.Trend.Slope, slope)
	same(t, "Mann-Kendall", p.Trend.Kendall, test)
	var season []int
	for _, moment := range at {
		season = append(season, (int(moment.In(j.Settings.Zone).Month())-1)/3)
	}
	seasonal, err := stats.SeasonalMannKendall(season, x, y, .95)
	if err != nil {
		t.Fatal(err)
	}
	if p.Trend.Seasonal == nil || math.Abs(p.Trend.Seasonal.Slope-seasonal.Slope) > 1e-9 || p.Trend.Seasonal.S != seasonal.S || p.Trend.Seasons != "quarter" {
		t.Errorf("seasonal %+v, want %+v", p.Trend.Seasonal, seasonal)
	}
	crossing, _ := slope.Passes(350)
	when, _ := axis.Moment(crossing.Estimate)
	early, _ := axis.Moment(crossing.Earliest)
	late, _ := axis.Moment(crossing.Latest)
	if len(p.Trend.Projections) != 1 || !p.Trend.Projections[0].At.Equal(when) || !p.Trend.Projections[0].Earliest.Equal(early) || !p.Trend.Projections[0].Latest.Equal(late) {
		t.Errorf("projections %+v, want %v, %v to %v", p.Trend.Projections, when, early, late)
	}

	on, usual := own(t, j, "north-well", water.Sulfate)
	chart, _ := stats.FreezeIndividuals(usual[:20])
	same(t, "chart", p.Control[0].Chart, chart)
	sums, _ := stats.StandardCUSUM(chart.Center, chart.Sigma).Points(usual)
	last := sums[len(sums)-1]
	if s := p.Control[0].Sums; s == nil || !s.Still || !last.HighSignal || !s.Since.Sampled.Equal(on[last.HighSince]) {
		t.Errorf("CUSUM %+v, want since %v", s, on[last.HighSince])
	}
	averages, _ := stats.StandardEWMA(chart.Center, chart.Sigma).Points(usual)
	if s := p.Control[0].Averages; s == nil || s.Still != averages[len(averages)-1].Beyond {
		t.Errorf("EWMA %+v", s)
	}

	for i := range y {
		y[i] -= slope.At(x[i])
	}
	z, _ := stats.ModifiedZScores(y)
	far := 0
	for _, score := range z.Scores {
		if math.Abs(score) > stats.ModifiedZLimit {
			far++
		}
	}
	same(t, "outliers", len(p.Outliers.Unexplained)+len(p.Outliers.Explained), far)
}

// Bounds stay intervals, and are estimated as query/stats does it.
func TestBoundsAreNeverNumbers(t *testing.T) {
	j := example(t)
	_, values := read(t, j, "ro-permeate", water.Sulfate)
	p := profileOf(t, j, "ro-permeate", "sulfate", Options{Limits: []Target{{"asked for", 5}}})
	count, _ := stats.CountCensored(values)
	if p.Below != count.Below || count.Below == 0 {
		t.Errorf("below %d, want %d", p.Below, count.Below)
	}
	median, _ := stats.CensoredMedian(values, 0)
	mad, _ := stats.CensoredMAD(values, 0)
	same(t, "median", p.All.Median, median)
	same(t, "spread", p.All.Spread, stats.Interval{Low: 1.4826 * mad.Low, High: 1.4826 * mad.High})
	k, _ := stats.EstimateKaplanMeier(values, 0)
	top, _ := k.Quantile(.95)
	same(t, "Kaplan-Meier 95 %", p.All.Estimate.Top, top)
	same(t, "Kaplan-Meier mean", p.All.Estimate.Mean, k.Mean)
	ordered, _ := stats.RobustOrderRegression(values)
	same(t, "order regression", p.All.Estimate.Ordered.Mean, ordered.Mean)
	if len(p.Trend.Projections) != 0 {
		t.Errorf("a trend with bounds is drawn on: %+v", p.Trend.Projections)
	}
	if p.Anew == nil || !strings.Contains(p.Anew.What, "membrane") {
		t.Errorf("counted from %+v", p.Anew)
	}
	if !strings.Contains(p.Trend.Lack, "too few values: 3 readings, 8 needed") {
		t.Errorf("trend %+v", p.Trend)
	}
}

// Each regime stands by itself, and the regimes' difference is that of query/stats.
func TestRegimes(t *testing.T) {
	j := example(t)
	at, values := read(t, j, "town-main", water.Sulfate)
	site, _ := j.Sites.Get("town-main")
	groups := map[string][]float64{}
	for i, v := range values {
		regime := site.Regime(at[i])
		groups[regime] = append(groups[regime], v.Number)
	}
	on, usual := own(t, j, "town-main", water.Sulfate)
	tested := map[string][]float64{}
	for i, v := range usual {
		tested[site.Regime(on[i])] = append(tested[site.Regime(on[i])], v)
	}
	p := profileOf(t, j, "town-main", "sulfate", Options{})
	if len(p.Regimes) != 2 || len(p.Control) != 2 || len(p.Differences) != 1 {
		t.Fatalf("%d regimes, %d charts, %d differences", len(p.Regimes), len(p.Control), len(p.Differences))
	}
	for i, name := range []string{"reservoir", "wellfield"} {
		median, _ := stats.Median(groups[name])
		same(t, name, p.Regimes[i].Median, stats.Interval{Low: median, High: median})
		chart, _ := stats.FreezeIndividuals(tested[name][:20])
		same(t, name+" chart", p.Control[i].Chart, chart)
	}
	shift, _ := stats.ShiftBetween(groups["wellfield"], groups["reservoir"], .95)
	same(t, "difference", p.Differences[0].Shift, shift)
	if p.Trend.Seasons != "supply regime" || p.Trend.Regime != "wellfield" {
		t.Errorf("trend by %q of %q", p.Trend.Seasons, p.Trend.Regime)
	}
	// The lot that read low in August and September 2025 stands out; nothing was written at the readings.
	var odd []string
	for _, o := range p.Outliers.Unexplained {
		odd = append(odd, o.Point.Session)
	}
	if text := strings.Join(odd, " "); !strings.Contains(text, "2025-08-11-town-main 2025-08-25-town-main 2025-09-08-town-main 2025-09-22-town-main") {
		t.Errorf("unexplained: %s", text)
	}
}

// The same lines of a record, asked for as a name, as a derived value and as an expression.
func TestValuesThatAreComputed(t *testing.T) {
	j := example(t)
	p := profileOf(t, j, "north-well", "sulfate / chloride", Options{})
	_, sulfate := read(t, j, "north-well", water.Sulfate)
	_, chloride := read(t, j, "north-well", water.Chloride)
	if p.N != len(sulfate) || len(sulfate) != len(chloride) {
		t.Fatalf("n %d of %d and %d", p.N, len(sulfate), len(chloride))
	}
	for i, point := range p.Series.Points {
		if want := sulfate[i].Number / chloride[i].Number; math.Abs(point.Value-want) > 1e-12*want || !(point.U > 0) {
			t.Fatalf("%s: %v ± %v, want %v", point.Session, point.Value, point.U, want)
		}
	}
	if len(p.Standards) > 0 || len(p.Replicates.Sets) > 0 {
		t.Error("an expression has no check standards")
	}
	if p := profileOf(t, j, "town-main", "residual_alkalinity", Options{}); p.N == 0 || len(p.Standards) > 0 {
		t.Errorf("residual alkalinity: n %d, standards %v", p.N, p.Standards)
	}
}
