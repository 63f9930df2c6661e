package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/lint"
	"wj/query"
	"wj/query/control"
	"wj/query/profile"
	"wj/query/stats"
	"wj/render"
	"wj/water"
)

// ControlChart is one value at one site over time: the readings, what is expected of them, the limits, and what happened.
type ControlChart struct {
	Site     string       `json:"site"`
	Value    string       `json:"value"`
	Unit     string       `json:"unit"`
	Points   []ChartPoint `json:"points"`
	Expected []Expected   `json:"expected"`
	Trend    *ChartTrend  `json:"trend"` // null: none is shown
	Limits   []ChartLimit `json:"limits"`
	Events   []Dated      `json:"events"`
	Lots     []Dated      `json:"lots"` // from when on a lot was in use

	notes   []string
	periods []render.Period
}

// ChartPoint is one reading.
type ChartPoint struct {
	Session string `json:"session"`
	Sampled Moment `json:"sampled"`
	Value
	Regime  string `json:"regime,omitempty"`
	Source  string `json:"source"`
	Lot     string `json:"lot,omitempty"`
	Verdict string `json:"verdict"` // as of a Result, by the limits of that day
	// Outside says that the linter finds the reading not to be what the site's other ones lead to expect.
	Outside bool `json:"outside_expected"`

	conformity judge.Conformity
	at         float64 // the number, or where the bound is
	apart      bool    // its lot was recalled, and that of the reading before was not, or the other way round
}

// Expected is what a supply regime's first readings lead to expect: their mean and three standard deviations.
type Expected struct {
	Regime string  `json:"regime"`
	N      int     `json:"n"` // readings that it depends on
	Center *Number `json:"center"`
	Lower  *Number `json:"lower"`
	Upper  *Number `json:"upper"`
}

// ChartTrend is a drift that is expected to go on: the line between two readings, with 95 % limits of its slope a year, and how
// far from it readings may lie (null: it is unknown).
type ChartTrend struct {
	From   Moment   `json:"from"`
	To     Moment   `json:"to"`
	First  *Number  `json:"first"`
	Last   *Number  `json:"last"`
	Slope  *Number  `json:"slope"`
	Limits Interval `json:"slope_95"`
	P      *Number  `json:"p"`
	Spread *Number  `json:"spread"`
}

// ChartLimit is one end of a limit in force at the newest reading, and the day from which it applies (null: always).
type ChartLimit struct {
	Name  string  `json:"name"`
	End   string  `json:"end"` // lowest or highest
	Value *Number `json:"value"`
	Since Day     `json:"since"`
}

// historyFindings are what the linter's rules of a site's history, and of the causes of odd sessions, find at some sites, by the
// path of the session.
func historyFindings(j *journal.Journal, sites []string) map[string][]lint.Diagnostic {
	o := lint.Options{}
	for _, r := range lint.Rules() {
		severity := j.Settings.Lint[r.Name].Severity
		if (r.Scope == lint.History || r.Family == lint.FamilyCause) && severity != lint.Off.String() && (severity != "" || r.Severity != lint.Off) {
			o.Only = append(o.Only, r.Name)
		}
	}
	for _, s := range j.Sessions.List {
		if slices.Contains(sites, s.Site) {
			o.Paths = append(o.Paths, s.Path)
		}
	}
	out := map[string][]lint.Diagnostic{}
	if len(o.Only) == 0 || len(o.Paths) == 0 {
		return out
	}
	for _, d := range lint.Run(j, o).Diagnostics {
		out[d.Path] = append(out[d.Path], d)
	}
	return out
}

// ring marks the readings that the linter finds not to be what is expected.
func (c *ControlChart) ring(j *journal.Journal, s *query.Series, found map[string][]lint.Diagnostic) {
	for i, p := range s.Points {
		if len(found[p.Path]) == 0 || p.Derived {
			continue
		}
		line, _, _, _ := j.Locate(p.Path, "readings", s.Name)
		c.Points[i].Outside = slices.ContainsFunc(found[p.Path], func(d lint.Diagnostic) bool { return d.Line == line })
	}
}

// thresholds are those of the rules that the charts share.
func thresholds(j *journal.Journal) profile.Thresholds {
	return profile.Thresholds{
		Baseline: int(lint.Setting(j, "site/control", "baseline")), Uncertainties: lint.Setting(j, "site/control", "uncertainty"),
		Trend: control.TrendOptions{Probability: lint.Setting(j, "site/trend", "probability"), Readings: int(lint.Setting(j, "site/trend", "readings")),
			Newest: int(lint.Setting(j, "site/trend", "newest")), Uncertainties: lint.Setting(j, "site/trend", "uncertainty")},
	}
}

// NewControlChart works out the chart of one value at one site. found are the linter's findings there.
func NewControlChart(j *journal.Journal, site *journal.Site, s *query.Series, from, to time.Time, found map[string][]lint.Diagnostic) (*ControlChart, error) {
	c := &ControlChart{Site: s.Site, Value: s.Name, Unit: s.Unit.String(), Points: []ChartPoint{}, Expected: []Expected{}, Limits: []ChartLimit{}, Events: []Dated{}, Lots: []Dated{}}
	limits := judge.NewLimits(j)
	recalled, lots := false, []string(nil)
	for _, p := range s.Points {
		point := ChartPoint{Session: p.Session, Sampled: Moment{p.Sampled}, Value: valueOf(p.Value, p.U, p.Bound, c.Unit), Regime: p.Regime, Source: p.Source, Lot: p.Lot, at: p.Value}
		for _, l := range limits.Of(s.Analyte, s.Site, p.Sampled) {
			point.conformity = max(point.conformity, l.ConformIn(valueAt(s, p), s.Unit))
		}
		point.Verdict = point.conformity.String()
		lot, known := j.Lots.Get(p.Lot)
		off := known && lot.Recalled != nil
		point.apart = off != recalled
		if recalled = off; off && !slices.Contains(lots, p.Lot) {
			lots = append(lots, p.Lot)
		}
		if n := len(c.Lots); p.Lot != "" && (n == 0 || c.Lots[n-1].Text != p.Lot) {
			c.Lots = append(c.Lots, Dated{Day{p.Sampled}, p.Lot})
		}
		c.Points = append(c.Points, point)
	}
	for _, l := range limits.Of(s.Analyte, s.Site, s.Points[len(s.Points)-1].Sampled) {
		since := Day{}
		if l.Own != nil {
			since = Day{l.Own.Since}
		}
		lowest, highest := l.Ends(s.Unit)
		if lowest != nil {
			c.Limits = append(c.Limits, ChartLimit{l.Label(), "lowest", number(*lowest), since})
		}
		if highest != nil {
			c.Limits = append(c.Limits, ChartLimit{l.Label(), "highest", number(*highest), since})
		}
	}
	usual, err := profile.UsualOf(j, site, s, thresholds(j))
	if err != nil {
		return nil, err
	}
	c.expectations(judge.Regimes(j, site), usual, s)
	c.ring(j, s, found)
	for _, e := range j.Events.List {
		if e.Void == nil && site != nil && slices.Contains(e.Sites, site.ID) && (from.IsZero() || !e.On.Before(from)) && (to.IsZero() || !e.On.After(to)) {
			c.Events = append(c.Events, Dated{Day{e.On}, e.What})
		}
	}
	counted := journal.Count(len(s.Points), "reading")
	if left := LeftSessions(s); len(left) > 0 {
		counted += "; sessions left out: " + strings.Join(left, ", ")
	}
	c.notes = append(c.notes, counted)
	if len(lots) > 0 {
		c.notes = append(c.notes, "recalled since: "+strings.Join(lots, ", "))
	}
	return c, nil
}

// drawing lays the chart out, without a title.
func (c *ControlChart) drawing() render.Control {
	d := render.Control{Unit: unitText(c.Unit), Periods: c.periods, Notes: slices.Clone(c.notes)}
	for _, p := range c.Points {
		point := render.Point{At: p.Sampled.Time, Value: p.at, Apart: p.apart}
		name := p.Sampled.Format("2006-01-02") + " "
		if p.Bound != "" {
			point.Bound = map[string]int{"<": -1, ">": 1}[p.Bound]
			name += p.Bound + water.Round(p.at, 4)
		} else {
			point.State = state(p.conformity)
			value, half := p.Figure()
			if name += value; half != "" {
				point.Low, point.High = p.at-2*float64(*p.U), p.at+2*float64(*p.U)
				name += " ± " + half
			}
		}
		for _, extra := range []string{p.Source, p.Lot} {
			if extra != "" && extra != journal.SourceBench {
				name += ", " + extra
			}
		}
		d.Points, d.Names, d.Rings = append(d.Points, point), append(d.Names, name), append(d.Rings, p.Outside)
	}
	for _, l := range c.Limits {
		d.Limits = append(d.Limits, render.LimitLine{Name: l.Name, Value: float64(*l.Value)})
	}
	for _, e := range c.Events {
		d.Events = append(d.Events, render.Event{At: e.On.Time, Name: e.Text})
	}
	for _, e := range c.Lots {
		d.Changes = append(d.Changes, render.Event{At: e.On.Time, Name: e.Text})
	}
	if t := c.Trend; t != nil {
		d.Trend = []render.Point{{At: t.From.Time, Value: float64(*t.First)}, {At: t.To.Time, Value: float64(*t.Last)}}
		if t.Spread != nil {
			d.Spread = float64(*t.Spread)
		}
	}
	return d
}

// LeftSessions counts the sessions that a series leaves out, and why.
func LeftSessions(s *query.Series) []string {
	var left []string
	for _, l := range []struct {
		n   int
		why string
	}{{s.NoReading, "without " + s.Name}, {s.Censored, "with a bound that does not carry through"}, {s.Void, "void"}, {s.Faulty, "that could not be read"}} {
		if l.n > 0 {
			left = append(left, fmt.Sprintf("%d %s", l.n, l.why))
		}
	}
	return left
}

func SiteLine(j *journal.Journal, site *journal.Site, s *query.Series) string {
	if site == nil {
		return s.Site
	}
	text := site.Name
	if o, ok := j.Owners.Get(site.Owner); ok && !o.Self {
		text += ", water of " + o.Name
	}
	return text
}

// expectations works out what is expected of the site: in each regime the mean and limits of its first readings, or, where the
// value drifts, the trend.
func (c *ControlChart) expectations(periods []judge.Period, u *profile.Usual, s *query.Series) {
	if u.Anew != nil {
		c.notes = append(c.notes, fmt.Sprintf("expectation and trend are counted from %s on: %s", journal.FormatDate(u.Anew.On), u.Anew.What))
	}
	expected := map[string]render.Period{}
	if !c.drift(u, s) {
		lack := u.Lack
		for _, g := range u.Groups {
			frozen, err := u.Freeze(g)
			if err != nil {
				lack = shortLack(err.Error())
				continue
			}
			c.Expected = append(c.Expected, Expected{g.Regime, frozen.N, number(frozen.Center), number(frozen.Lower), number(frozen.Upper)})
			expected[g.Regime] = render.Period{Expected: true, Center: frozen.Center, Lower: frozen.Lower, Upper: frozen.Upper}
		}
		switch {
		case len(expected) > 0:
			c.notes = append(c.notes, "band: expected, "+u.Words())
		case lack != "":
			c.notes = append(c.notes, "no expected band: "+lack)
		}
	}
	if len(periods) == 0 {
		if e, ok := expected[""]; ok {
			c.periods = append(c.periods, e)
		}
		return
	}
	for _, d := range periods {
		p := expected[d.Regime]
		p.Name, p.From, p.To, p.Shaded = d.Regime, d.From, d.To, d.Regime != periods[0].Regime
		c.periods = append(c.periods, p)
	}
}

// drift says whether the value drifts, and where it does so in one regime gives the line.
func (c *ControlChart) drift(u *profile.Usual, s *query.Series) bool {
	t, drifts, known := u.Trend()
	if !drifts {
		if known {
			c.notes = append(c.notes, "no trend shown")
		}
		return false
	}
	unit := strings.TrimSpace(c.Unit + " a year")
	groups := u.Shown(s)
	if len(groups) != 1 {
		c.notes = append(c.notes, fmt.Sprintf("within each regime: %s %s (95 %%: %s; seasonal Mann-Kendall, p %s)", signed(t.Slope), unit, interval95(t.Limits), probability(t.P)))
		return false
	}
	axis := profile.Axis(s, groups)
	_, slope, err := profile.Drift(s, groups[0], axis)
	if err != nil {
		return false
	}
	x, y := groups[0].Times(s, axis), groups[0].Values(s)
	last := slices.Max(x)
	c.notes = append(c.notes, fmt.Sprintf("broken line: trend %s %s (95 %%: %s; Theil-Sen), Mann-Kendall p %s", signed(slope.PerUnit), unit, interval95(slope.Limits), probability(t.P)))
	c.Trend = &ChartTrend{From: Moment{axis.Origin}, To: c.Points[groups[0].At[len(y)-1]].Sampled, First: number(slope.At(0)), Last: number(slope.At(last)),
		Slope: number(slope.PerUnit), Limits: interval(slope.Limits), P: number(t.P)}
	residuals := make([]float64, len(y))
	for i := range y {
		residuals[i] = y[i] - slope.At(x[i])
	}
	if z, err := stats.ModifiedZScores(residuals); err == nil && z.Scale == stats.ByMAD {
		c.Trend.Spread = number(stats.ModifiedZLimit * z.MAD / 0.6745) // Iglewicz & Hoaglin 1993
	}
	for _, l := range c.Limits {
		if text := reaches(slope, l, axis, last); text != "" {
			c.notes = append(c.notes, text)
		}
	}
	return true
}

func signed(v float64) string {
	if v > 0 {
		return "+" + water.Round(v, 3)
	}
	return strings.Replace(water.Round(v, 3), "-", "−", 1)
}

func interval95(i stats.Interval) string {
	end := func(v float64) string {
		if math.IsInf(v, 0) {
			return "open"
		}
		return signed(v)
	}
	return end(i.Low) + " to " + end(i.High)
}

// reaches reports when a trend comes to a limit within five years, or that it has
// passed it.
func reaches(slope stats.Slope, l ChartLimit, axis stats.TimeAxis, last float64) string {
	value := float64(*l.Value)
	crossing, err := slope.Passes(value)
	if err != nil || (crossing.Now > value) != (slope.At(last-1) > value) && crossing.Estimate <= last {
		return ""
	}
	if crossing.Estimate <= last || crossing.Estimate > last+5 {
		return ""
	}
	when, ok := axis.Moment(crossing.Estimate)
	if !ok {
		return ""
	}
	text := fmt.Sprintf("if it goes on so, it comes to %s (%s) about %s", water.Round(value, 4), l.Name, when.Format("January 2006"))
	early, ok1 := axis.Moment(crossing.Earliest)
	late, ok2 := axis.Moment(crossing.Latest)
	if ok1 && ok2 {
		text += fmt.Sprintf(", between %s and %s", early.Format("2006-01"), late.Format("2006-01"))
	}
	return text
}

func probability(p float64) string {
	if p < 0.0001 {
		return "below 0.0001"
	}
	return water.Round(p, 2)
}
