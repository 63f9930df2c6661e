package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/query/profile"
	"wj/query/stats"
	"wj/render"
	"wj/water"
)

// statsPage lays a profile out on one screen.
type statsPage struct {
	p   *profile.Profile
	now time.Time
	out render.Document
}

// Document lays the statistics out.
func (s *Stats) Document() render.Document {
	page := statsPage{p: s.p, now: s.now, out: render.Document{Title: strings.TrimSuffix(fmt.Sprintf("%s at %s, %s", s.p.Series.Name, s.site, unitText(s.Unit)), ", "), Lead: s.Answer}}
	page.known()
	page.level()
	page.trend()
	page.control()
	page.outliers()
	page.quality()
	return page.out
}

// unit is the unit behind a number, with a space before it.
func (s *statsPage) unit() string {
	if u := s.p.Series.Unit.String(); u != "" {
		return " " + unitText(u)
	}
	return ""
}

// figure writes a number with the digits that the spread of all lets mean
// something: to a tenth of it.
func (s *statsPage) figure(v float64) string {
	scale := s.p.All.Spread.High
	if !(scale > 0) || math.IsInf(scale, 0) {
		scale = math.Abs(s.p.Last().Value) / 10
	}
	decimals := 1
	if scale > 0 {
		decimals = min(max(1-int(math.Floor(math.Log10(scale))), 0), 6)
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// between writes an interval in which a number must lie.
func (s *statsPage) between(i stats.Interval) string {
	switch {
	case i.Exact():
		return s.figure(i.Low)
	case i.Bounded() && i.Low > s.p.Series.Floor():
		return s.figure(i.Low) + ".." + s.figure(i.High)
	case !math.IsInf(i.High, 1):
		return "<" + s.figure(i.High)
	case i.Known():
		return ">" + s.figure(i.Low)
	}
	return "?"
}

func (s *statsPage) known() {
	p := s.p
	points := p.Series.Points
	text := journal.Count(p.N, "reading") + " from " + points[0].Sampled.Format("2006-01-02") + " to " + p.Last().Sampled.Format("2006-01-02")
	var bounds []string
	for _, b := range []struct {
		n      int
		sign   string
		limits []float64
	}{{p.Below, "<", p.LimitsBelow}, {p.Above, ">", p.LimitsAbove}} {
		if b.n > 0 {
			span := fewDigits(b.limits[0])
			if last := b.limits[len(b.limits)-1]; last != b.limits[0] {
				span += " to " + fewDigits(last)
			}
			bounds = append(bounds, fmt.Sprintf("%d %s%s", b.n, b.sign, span+s.unit()))
		}
	}
	if len(bounds) > 0 {
		text += fmt.Sprintf("; bounds: %s (%.0f %%)", strings.Join(bounds, ", "), 100*p.Share())
	}
	s.out.Fact("known", "%s", text)
	left := LeftSessions(p.Series)
	if p.Series.Others > 0 {
		left = append(left, journal.Count(p.Series.Others, "duplicate, blank or other sample"))
	}
	if len(left) > 0 {
		s.out.Fact("", "sessions left out: %s", strings.Join(left, ", "))
	}
	last := p.Last()
	value := last.Bound.String() + fewDigits(last.Value)
	if last.Bound == water.Exact && last.U > 0 {
		v, half := water.Spread(last.Value, 2*last.U)
		value = v + " ± " + half
	}
	s.out.Fact("last", "%s%s, %s (%s)", value, s.unit(), ago(s.now.Sub(last.Sampled)), last.Session)
	if p.Anew != nil {
		s.out.Fact("since", "trend, control and outliers count from %s on: %s", journal.FormatDate(p.Anew.On), p.Anew.What)
	}
}

func ago(d time.Duration) string {
	if text := ageText(d); text != "today" {
		return text + " old"
	}
	return "today"
}

func (s *statsPage) level() {
	p := s.p
	var t render.Table
	if len(p.Regimes) > 0 {
		t.Columns = []render.Column{{Head: "regime"}}
	}
	for _, head := range []string{"n", "bounds", "5 %", "quartile", "median", "quartile", "95 %", "spread"} {
		t.Columns = append(t.Columns, render.Column{Head: head, Right: true})
	}
	lacksTails, lacksQuarts, open := false, false, false
	for _, l := range append([]profile.Level{p.All}, p.Regimes...) {
		name := l.Regime
		if len(t.Rows) == 0 {
			name = "all"
		} else if name == "" {
			name = "(none)"
		}
		var row []render.Cell
		if len(p.Regimes) > 0 {
			row = []render.Cell{{Text: name}}
		}
		row = append(row, render.Cell{Text: strconv.Itoa(l.N)}, render.Cell{Text: strconv.Itoa(l.Bounds)})
		for _, q := range []struct {
			i   stats.Interval
			can bool
		}{{l.Bottom, l.HasTwenty}, {l.Lower, l.HasQuarts}, {l.Median, true}, {l.Upper, l.HasQuarts}, {l.Top, l.HasTwenty}, {l.Spread, l.HasQuarts}} {
			text := "too few"
			if q.can {
				text = s.between(q.i)
				open = open || strings.Contains(text, "..")
			}
			row = append(row, render.Cell{Text: text})
		}
		t.Rows = append(t.Rows, row)
		lacksTails, lacksQuarts = lacksTails || !l.HasTwenty, lacksQuarts || !l.HasQuarts
	}
	s.out.Table(strings.TrimSuffix("Level, "+unitText(p.Series.Unit.String()), ", ")+" (spread: 1.4826 MAD)", t)
	var notes []string
	if lacksQuarts {
		notes = append(notes, fmt.Sprintf("quartiles and spread need %d readings", profile.QuartilesNeed))
	}
	if lacksTails {
		notes = append(notes, fmt.Sprintf("5 %% and 95 %% need %d readings", profile.TailsNeed))
	}
	if open {
		notes = append(notes, "a..b: somewhere between, the bounds leave it open")
	}
	s.out.Fact("", "%s", strings.Join(notes, "; "))
	for _, d := range p.Differences {
		name := fmt.Sprintf("%s less %s", orNone(d.First), orNone(d.Second))
		if d.Lack != "" {
			s.out.Fact("difference", "%s: %s", name, shortLack(d.Lack))
			continue
		}
		s.out.Fact("difference", "%s: %s%s (95 %%: %s; Hodges-Lehmann, n %d and %d)", name, signed(d.Shift.By), s.unit(), interval95(d.Shift.Limits), d.Shift.First, d.Shift.Second)
	}
	if e := p.All.Estimate; e != nil {
		text := fmt.Sprintf("Kaplan-Meier: median %s, 95 %% %s, mean %s", s.between(e.Median), s.between(e.Top), s.between(e.Mean))
		if e.Ordered != nil {
			text += fmt.Sprintf("; regression on order statistics: median %s, mean %s", s.figure(e.Ordered.Median), s.figure(e.Ordered.Mean))
		}
		s.out.Fact("estimates", "%s%s, n %d", text, s.unit(), p.N)
	}
}

func orNone(regime string) string {
	if regime == "" {
		return "(none)"
	}
	return regime
}

// shortLack leaves the method's name out of an error that says what is missing.
func shortLack(text string) string {
	if at := strings.Index(text, stats.ErrTooFew.Error()); at > 0 {
		return text[at:]
	}
	return text
}

func (s *statsPage) control() {
	var lacks []string
	for _, c := range s.p.Control {
		label, name := "control", ""
		if len(s.p.Control) > 1 {
			name = orNone(c.Regime)
			label += ", " + name
		}
		if c.Lack == "" {
			s.charts(label, c)
			continue
		}
		if name != "" {
			name += ": "
		}
		lacks = append(lacks, name+shortLack(c.Lack))
	}
	s.out.Fact("control", "%s", strings.Join(lacks, "; "))
}

func (s *statsPage) charts(label string, c profile.Control) {
	text := fmt.Sprintf("%s, limits %s to %s%s from the first %d of n %d (%s to %s)", s.figure(c.Chart.Center), s.figure(c.Chart.Lower), s.figure(c.Chart.Upper), s.unit(),
		c.Chart.N, c.N, c.First.Sampled.Format("2006-01-02"), c.Last.Sampled.Format("2006-01-02"))
	text += fmt.Sprintf("; %d outside", len(c.Beyond))
	if n := len(c.Beyond); n > 0 {
		text += ", last " + c.Beyond[n-1].Session
	}
	if n := len(c.RangeBeyond); n > 0 {
		text += fmt.Sprintf("; %s too large, last %s", journal.Count(n, "step"), c.RangeBeyond[n-1].Session)
	}
	if t := s.p.Trend; len(s.p.Control) == 1 && t.Slope != nil && t.Kendall.P < profile.TrendP {
		text += "; the value drifts, and leaves the limits of any level"
	} else if c.Correlated {
		text += fmt.Sprintf("; neighbours resemble each other (r₁ %s), so the limits are too narrow", water.Round(c.Chart.Autocorrelation, 2))
	}
	s.out.Fact(label, "%s", text)
	s.out.Fact("", "%s", s.shift("CUSUM", c.Sums)+"; "+s.shift("EWMA", c.Averages))
	if n := len(c.Runs); n > 0 {
		r := c.Runs[n-1]
		side := "low"
		if r.High {
			side = "high"
		}
		s.out.Fact("", "%s: %s, last %s %s to %s", journal.Count(n, "run"), r.Rule.Says, side, r.From.Session, r.To.Session)
	}
}

func (s *statsPage) shift(chart string, m *profile.Shifted) string {
	switch {
	case m == nil:
		return chart + ": no shift"
	case m.Still:
		return fmt.Sprintf("%s: shifted by %s%s since %s (n %d)", chart, signed(m.By), s.unit(), m.Since.Session, m.N)
	}
	if m.N == 1 {
		return fmt.Sprintf("%s: was off by %s%s at %s (n 1), back since", chart, signed(m.By), s.unit(), m.Since.Session)
	}
	return fmt.Sprintf("%s: was off by %s%s from %s to %s (n %d), back since", chart, signed(m.By), s.unit(), m.Since.Session, m.Until.Session, m.N)
}

// most is how many outliers and people are named; the rest are counted.
const most = 5

func (s *statsPage) outliers() {
	o := s.p.Outliers
	if o.N == 0 {
		s.out.Fact("outliers", "%s", shortLack(o.Lack))
		return
	}
	var list []string
	for i := len(o.Unexplained) - 1; i >= 0 && len(list) < most; i-- {
		u := o.Unexplained[i]
		list = append(list, fmt.Sprintf("%s %s%s z %s", u.Point.Session, fewDigits(u.Point.Value), s.unit(), signed(u.Z)))
	}
	text := "none unexplained"
	if len(list) > 0 {
		text = "unexplained, newest first: " + strings.Join(list, "; ")
		if more := len(o.Unexplained) - len(list); more > 0 {
			text += fmt.Sprintf("; %d more", more)
		}
	}
	text += fmt.Sprintf(" (modified |z| > %g, n %d", stats.ModifiedZLimit, o.N)
	if o.FromLine {
		text += ", from the trend line"
	}
	text += ")"
	if n := len(o.Explained); n > 0 {
		text += fmt.Sprintf("; %d more with a note, replicates or an amendment", n)
	}
	if o.CoarseScale {
		text += "; most values are alike, so any other looks far off"
	}
	s.out.Fact("outliers", "%s", text)
	if g := o.Grubbs; g != nil {
		verdict := "is no outlier"
		if g.Outlier {
			verdict = "is an outlier"
		}
		s.out.Fact("", "Grubbs: %s, furthest out, %s (G %s, critical %s at 5 %%, n %d)", o.Furthest.Session, verdict, water.Round(g.G, 3), water.Round(g.Critical, 3), g.N)
	}
}
