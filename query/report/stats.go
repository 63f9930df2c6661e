package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/query"
	"wj/query/profile"
	"wj/query/stats"
	"wj/water"
)

// Stats is what the statistics know of one value at one site, in the unit of the series. Every part is there, null or empty where
// it has nothing to say; a lack says why.
type Stats struct {
	Schema      string         `json:"schema"`
	Value       string         `json:"value"`
	Site        string         `json:"site"`
	Unit        string         `json:"unit"`
	Answer      []string       `json:"answer"`
	Known       Known          `json:"known"`
	Last        Point          `json:"last"`
	Since       *Anew          `json:"since"` // from when on trend, control and outliers count
	Level       Level          `json:"level"`
	Regimes     []Level        `json:"regimes"`
	Differences []Difference   `json:"differences"`
	Trend       StatsTrend     `json:"trend"`
	Control     []StatsControl `json:"control"`
	Outliers    Outliers       `json:"outliers"`
	Laboratory  Laboratory     `json:"laboratory"`
	Replicates  Replicates     `json:"replicates"`
	Duplicates  Replicates     `json:"duplicates"`
	Standards   []Standard     `json:"standards"`
	Blanks      Blanks         `json:"blanks"`

	p    *profile.Profile
	now  time.Time
	site string
}

// Known is how many results there are, and what was left out.
type Known struct {
	N        int      `json:"n"`
	Measured int      `json:"measured"`
	Below    int      `json:"below"`
	Above    int      `json:"above"`
	From     Moment   `json:"from"`
	To       Moment   `json:"to"`
	LeftOut  Excluded `json:"left_out"`
}

// Excluded counts the sessions without a place in the series.
type Excluded struct {
	NoReading       int `json:"no_reading"`
	BoundNotCarried int `json:"bound_not_carried"`
	Void            int `json:"void"`
	Unreadable      int `json:"unreadable"`
	OtherSamples    int `json:"other_samples"`
}

// Point is one result of a series.
type Point struct {
	Session string  `json:"session"`
	Sampled Moment  `json:"sampled"`
	Value   *Number `json:"value"` // of a bound, where it is
	Bound   *string `json:"bound"` // "<", ">" or null
	U       *Number `json:"u"`
}

// Anew is the event from which on the plant is another one.
type Anew struct {
	On   Day    `json:"on"`
	What string `json:"what"`
}

// Interval is where a number lies; an open end is null.
type Interval struct {
	Low  *Number `json:"low"`
	High *Number `json:"high"`
}

// Level is where the results lie, in a supply regime or in all.
type Level struct {
	Regime   string         `json:"regime"`
	N        int            `json:"n"`
	Bounds   int            `json:"bounds"`
	P05      *Interval      `json:"p05"`
	P25      *Interval      `json:"p25"`
	Median   *Interval      `json:"median"`
	P75      *Interval      `json:"p75"`
	P95      *Interval      `json:"p95"`
	Spread   *Interval      `json:"spread"`
	Estimate *LevelEstimate `json:"estimate"`
}

// LevelEstimate is the level where many results are bounds.
type LevelEstimate struct {
	KaplanMeier struct {
		Median Interval `json:"median"`
		P95    Interval `json:"p95"`
		Mean   Interval `json:"mean"`
	} `json:"kaplan_meier"`
	OrderRegression *OrderEstimate `json:"order_regression"`
	Lack            *string        `json:"lack"`
}

// OrderEstimate is robust regression on order statistics.
type OrderEstimate struct {
	Median            *Number `json:"median"`
	Mean              *Number `json:"mean"`
	StandardDeviation *Number `json:"standard_deviation"`
}

// Difference is how far two regimes are apart.
type Difference struct {
	Of     string    `json:"of"`
	Less   string    `json:"less"`
	Lack   *string   `json:"lack"`
	By     *Number   `json:"by,omitempty"`
	Limits *Interval `json:"limits_95,omitempty"`
	N      []int     `json:"n,omitempty"`
}

// StatsTrend is the drift and where it leads.
type StatsTrend struct {
	Regime       string         `json:"regime"`
	N            int            `json:"n"`
	Bounds       int            `json:"bounds"`
	From         Day            `json:"from"`
	To           Day            `json:"to"`
	Lack         *string        `json:"lack"`
	SlopeAYear   *Number        `json:"slope_a_year"`
	Limits       *Interval      `json:"limits_95"`
	SlopeBetween *Interval      `json:"slope_between"`
	MannKendall  *KendallTest   `json:"mann_kendall"`
	Seasonal     *SeasonalTrend `json:"seasonal"`
	SeasonalLack *string        `json:"seasonal_lack"`
	Projections  []Projection   `json:"limits"`
}

// KendallTest is Mann's and Kendall's test of a trend.
type KendallTest struct {
	S     int     `json:"s"`
	TauB  *Number `json:"tau_b"`
	P     *Number `json:"p"`
	Exact bool    `json:"exact"`
}

// SeasonalTrend compares each season with itself.
type SeasonalTrend struct {
	By           string   `json:"by"`
	N            int      `json:"n"`
	SlopeAYear   *Number  `json:"slope_a_year"`
	Limits       Interval `json:"limits_95"`
	P            *Number  `json:"p"`
	HomogeneityP *Number  `json:"homogeneity_p"`
}

// Projection is when the trend comes to a limit, or when it passed it.
type Projection struct {
	Name         string  `json:"name"`
	Limit        *Number `json:"limit"`
	LineNow      *Number `json:"line_now"`
	Passed       bool    `json:"passed"`
	At           Day     `json:"at"`
	Earliest     Day     `json:"earliest"`
	Latest       Day     `json:"latest"`
	Extrapolated bool    `json:"extrapolated"`
}

// StatsControl is a control chart's result in one regime.
type StatsControl struct {
	Regime      string    `json:"regime"`
	N           int       `json:"n"`
	Lack        *string   `json:"lack"`
	Baseline    *Baseline `json:"baseline,omitempty"`
	Beyond      []string  `json:"beyond,omitempty"`
	RangeBeyond []string  `json:"range_beyond,omitempty"`
	Runs        []RunOf   `json:"runs,omitempty"`
	Cusum       *ShiftOf  `json:"cusum,omitempty"`
	Ewma        *ShiftOf  `json:"ewma,omitempty"`
}

// Baseline is what a control chart's limits are frozen from.
type Baseline struct {
	N               int     `json:"n"`
	From            string  `json:"from"`
	To              string  `json:"to"`
	Center          *Number `json:"center"`
	Sigma           *Number `json:"sigma"`
	Lower           *Number `json:"lower"`
	Upper           *Number `json:"upper"`
	RangeUpper      *Number `json:"range_upper"`
	Autocorrelation *Number `json:"autocorrelation"`
	Correlated      bool    `json:"correlated"`
}

// RunOf is a run of results on one side.
type RunOf struct {
	Rule string `json:"rule"`
	From string `json:"from"`
	To   string `json:"to"`
	High bool   `json:"high"`
}

// ShiftOf is a shift that a chart of sums or averages shows.
type ShiftOf struct {
	Since string  `json:"since"`
	On    Day     `json:"on"`
	Until string  `json:"until"`
	Still bool    `json:"still"`
	N     int     `json:"n"`
	Mean  *Number `json:"mean"`
	By    *Number `json:"by"`
}

// Outliers are results far off.
type Outliers struct {
	N           int       `json:"n"`
	Lack        *string   `json:"lack"`
	FromTrend   bool      `json:"from_trend"`
	Unexplained []Outlier `json:"unexplained"`
	Explained   []Outlier `json:"explained"`
	Grubbs      *Grubbs   `json:"grubbs"`
	GrubbsLack  *string   `json:"grubbs_lack"`
}

// Outlier is one of them; explained_by says what explains it.
type Outlier struct {
	Session string  `json:"session"`
	Value   *Number `json:"value"`
	Z       *Number `json:"z"`
	Why     *string `json:"explained_by"`
}

// Grubbs is his test of the furthest result.
type Grubbs struct {
	Session  string  `json:"session"`
	N        int     `json:"n"`
	G        *Number `json:"g"`
	Critical *Number `json:"critical"`
	P        *Number `json:"p"`
	Outlier  bool    `json:"outlier"`
}

// Laboratory is how the bench agrees with a laboratory.
type Laboratory struct {
	N          int       `json:"n"`
	WithBounds int       `json:"with_bounds"`
	Alone      int       `json:"alone"`
	Lack       *string   `json:"lack"`
	Mean       *Number   `json:"mean_difference"`
	Limits     *Interval `json:"limits_95"`
	Median     *Number   `json:"median_difference"`
	P          *Number   `json:"p"`
	Pairs      []LabPair `json:"pairs"`
}

// LabPair is one sample at both.
type LabPair struct {
	Bench Point   `json:"bench"`
	Lab   Point   `json:"lab"`
	En    *Number `json:"e_n"`
}

// Replicates is how repeated tests agree.
type Replicates struct {
	N        int            `json:"n"`
	Percent  bool           `json:"percent"`
	Judged   int            `json:"judged"`
	Exceeded int            `json:"exceeded"`
	People   []ReplicatesBy `json:"people"`
}

// ReplicatesBy is that of one person.
type ReplicatesBy struct {
	By     *string `json:"by"`
	N      int     `json:"n"`
	Median *Number `json:"median"`
	P95    *Number `json:"p95"`
	Worst  *Number `json:"worst"`
}

// Standard is what an instrument found in check standards.
type Standard struct {
	Instrument        string  `json:"instrument"`
	N                 int     `json:"n"`
	Percent           bool    `json:"percent"`
	Mean              *Number `json:"mean"`
	StandardDeviation *Number `json:"standard_deviation"`
	Low               *Number `json:"low"`
	High              *Number `json:"high"`
	From              Day     `json:"from"`
	To                Day     `json:"to"`
}

// Blanks is what was found in blanks.
type Blanks struct {
	Measured       int             `json:"measured"`
	Bounds         int             `json:"bounds"`
	DetectionLimit *DetectionLimit `json:"detection_limit"`
}

// DetectionLimit follows from blanks.
type DetectionLimit struct {
	N     int     `json:"n"`
	Limit *Number `json:"limit"`
	Shaky bool    `json:"shaky"`
}

// text is a text, or nothing for none.
func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func lack(s string) *string { return text(shortLack(s)) }

func interval(i stats.Interval) Interval { return Interval{number(i.Low), number(i.High)} }

func intervalIf(i stats.Interval, can bool) *Interval {
	if !can {
		return nil
	}
	out := interval(i)
	return &out
}

func pointOf(p query.Point) Point {
	out := Point{Session: p.Session, Sampled: Moment{p.Sampled}, Value: number(p.Value), U: number(p.U)}
	if p.Bound != water.Exact {
		out.Bound, out.U = text(p.Bound.String()), nil
	}
	return out
}

func sessionsOf(points []query.Point) []string {
	out := []string{}
	for _, p := range points {
		out = append(out, p.Session)
	}
	return out
}

// NewStats draws up the statistics of a series at a site. The series has at least one point.
func NewStats(j *journal.Journal, site *journal.Site, series *query.Series, o profile.Options, now time.Time) (*Stats, error) {
	o.Thresholds = thresholds(j)
	p, err := profile.Of(j, site, series, o)
	if err != nil {
		return nil, err
	}
	s := p.Series
	out := &Stats{Schema: schema.ID("stats"), Value: s.Name, Site: s.Site, Unit: s.Unit.String(), p: p, now: now, site: SiteLine(j, site, series),
		Known: Known{p.N, p.Measured, p.Below, p.Above, Moment{s.Points[0].Sampled}, Moment{p.Last().Sampled}, Excluded{s.NoReading, s.Censored, s.Void, s.Faulty, s.Others}},
		Last:  pointOf(p.Last()), Level: levelOf(p.All), Regimes: []Level{}, Differences: []Difference{}, Trend: trendOf(p.Trend), Control: []StatsControl{}, Outliers: outliersOf(p.Outliers),
		Laboratory: laboratoryOf(p.Laboratory), Replicates: replicatesOf(p.Replicates), Duplicates: replicatesOf(p.Duplicates), Standards: []Standard{}, Blanks: Blanks{Measured: p.Blanks.Measured, Bounds: p.Blanks.Bounds}}
	if p.Anew != nil {
		out.Since = &Anew{Day{p.Anew.On}, p.Anew.What}
	}
	for _, l := range p.Regimes {
		out.Regimes = append(out.Regimes, levelOf(l))
	}
	for _, d := range p.Differences {
		one := Difference{Of: d.First, Less: d.Second, Lack: lack(d.Lack)}
		if d.Lack == "" {
			limits := interval(d.Shift.Limits)
			one.By, one.Limits, one.N = number(d.Shift.By), &limits, []int{d.Shift.First, d.Shift.Second}
		}
		out.Differences = append(out.Differences, one)
	}
	for _, c := range p.Control {
		out.Control = append(out.Control, controlOf(c))
	}
	for _, d := range p.Standards {
		out.Standards = append(out.Standards, Standard{d.Instrument, d.N, d.Percent, number(d.Mean), number(d.Deviation), number(d.Low), number(d.High), Day{d.First}, Day{d.LastTested}})
	}
	if l := p.Blanks.Limit; l != nil {
		out.Blanks.DetectionLimit = &DetectionLimit{l.N, number(l.Limit), l.Shaky}
	}
	out.Answer = []string{out.answer()}
	return out, nil
}

// answer is the newest result, and whether the value moves.
func (s *Stats) answer() string {
	last := s.p.Last()
	v := valueOf(last.Value, last.U, last.Bound, s.Unit)
	out := fmt.Sprintf("%s on %s", v, longDay(last.Sampled))
	t := s.p.Trend
	switch {
	case t.Lack != "":
		return out + fmt.Sprintf("; %s, too few for a trend.", journal.Count(t.N, "result"))
	case s.still():
		return out + "; no trend."
	case t.Slope != nil:
		word := "rises"
		if t.Slope.PerUnit < 0 {
			word = "falls"
		}
		return out + fmt.Sprintf("; %s %s %s a year.", word, water.Round(math.Abs(t.Slope.PerUnit), 2), strings.TrimSpace(unitText(s.Unit)))
	}
	return out + "; there is a trend, and bounds leave its slope open."
}

// still reports whether there is no trend, by the rule of the linter where it judges the value.
func (s *Stats) still() bool {
	if _, drifts, known := s.p.Usual.Trend(); known {
		return !drifts
	}
	return s.p.Trend.Kendall.P >= profile.TrendP
}

func levelOf(l profile.Level) Level {
	out := Level{Regime: l.Regime, N: l.N, Bounds: l.Bounds, P05: intervalIf(l.Bottom, l.HasTwenty), P25: intervalIf(l.Lower, l.HasQuarts), Median: intervalIf(l.Median, true), P75: intervalIf(l.Upper, l.HasQuarts),
		P95: intervalIf(l.Top, l.HasTwenty), Spread: intervalIf(l.Spread, l.HasQuarts)}
	if e := l.Estimate; e != nil {
		one := LevelEstimate{Lack: lack(e.OrderedLack)}
		one.KaplanMeier.Median, one.KaplanMeier.P95, one.KaplanMeier.Mean = interval(e.Median), interval(e.Top), interval(e.Mean)
		if r := e.Ordered; r != nil {
			one.OrderRegression = &OrderEstimate{number(r.Median), number(r.Mean), number(r.StandardDeviation)}
		}
		out.Estimate = &one
	}
	return out
}

func trendOf(t profile.Trend) StatsTrend {
	out := StatsTrend{Regime: t.Regime, N: t.N, Bounds: t.Bounds, From: Day{t.From}, To: Day{t.To}, Lack: lack(t.Lack), SeasonalLack: lack(t.SeasonalLack), Projections: []Projection{}}
	if t.Slope != nil {
		out.SlopeAYear, out.Limits = number(t.Slope.PerUnit), intervalIf(t.Slope.Limits, true)
	} else if t.Lack == "" {
		out.SlopeBetween = intervalIf(t.Between, true)
	}
	if t.Lack == "" {
		out.MannKendall = &KendallTest{t.Kendall.S, number(t.Kendall.TauB), number(t.Kendall.P), t.Kendall.Exact}
	}
	if k := t.Seasonal; k != nil {
		out.Seasonal = &SeasonalTrend{t.Seasons, k.N, number(k.Slope), interval(k.SlopeLimits), number(k.P), number(k.HomogeneityP)}
	}
	for _, p := range t.Projections {
		out.Projections = append(out.Projections, Projection{p.Limit.Name, number(p.Limit.Value), number(p.Now), p.Passed, Day{p.At}, Day{p.Earliest}, Day{p.Latest}, !p.Passed})
	}
	return out
}

func controlOf(c profile.Control) StatsControl {
	out := StatsControl{Regime: c.Regime, N: c.N, Lack: lack(c.Lack)}
	if c.Lack != "" {
		return out
	}
	out.Baseline = &Baseline{c.Chart.N, c.First.Session, c.Last.Session, number(c.Chart.Center), number(c.Chart.Sigma), number(c.Chart.Lower), number(c.Chart.Upper), number(c.Chart.RangeUpper),
		number(c.Chart.Autocorrelation), c.Correlated}
	out.Beyond, out.RangeBeyond = sessionsOf(c.Beyond), sessionsOf(c.RangeBeyond)
	for _, r := range c.Runs {
		out.Runs = append(out.Runs, RunOf{r.Rule.Name, r.From.Session, r.To.Session, r.High})
	}
	shift := func(m *profile.Shifted) *ShiftOf {
		if m == nil {
			return nil
		}
		return &ShiftOf{m.Since.Session, Day{m.Since.Sampled}, m.Until.Session, m.Still, m.N, number(m.Mean), number(m.By)}
	}
	out.Cusum, out.Ewma = shift(c.Sums), shift(c.Averages)
	return out
}

func outliersOf(o profile.Outliers) Outliers {
	list := func(all []profile.Outlier) []Outlier {
		out := []Outlier{}
		for _, one := range all {
			out = append(out, Outlier{one.Point.Session, number(one.Point.Value), number(one.Z), text(one.Why)})
		}
		return out
	}
	out := Outliers{N: o.N, Lack: lack(o.Lack), FromTrend: o.FromLine, Unexplained: list(o.Unexplained), Explained: list(o.Explained), GrubbsLack: lack(o.GrubbsLack)}
	if g := o.Grubbs; g != nil {
		out.Grubbs = &Grubbs{o.Furthest.Session, g.N, number(g.G), number(g.Critical), number(g.P), g.Outlier}
	}
	return out
}

func laboratoryOf(l profile.Laboratory) Laboratory {
	out := Laboratory{N: len(l.Pairs), WithBounds: l.Bounds, Alone: l.Alone, Lack: lack(l.Lack), Pairs: []LabPair{}}
	for _, p := range l.Pairs {
		out.Pairs = append(out.Pairs, LabPair{pointOf(p.Bench), pointOf(p.Lab), number(p.En)})
	}
	if l.Lack == "" {
		out.Mean, out.Limits, out.Median, out.P = number(l.Test.MeanDifference), intervalIf(l.Test.Limits, true), number(l.Test.MedianDifference), number(l.Test.P)
	}
	return out
}

func replicatesOf(r profile.Replicates) Replicates {
	out := Replicates{N: len(r.Sets), Percent: r.Percent, Judged: r.Judged, Exceeded: r.Exceeded, People: []ReplicatesBy{}}
	for _, b := range r.People {
		out.People = append(out.People, ReplicatesBy{text(b.By), b.N, number(b.Median), number(b.Top), number(b.Worst)})
	}
	return out
}
