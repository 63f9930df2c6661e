package report

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/render"
	"wj/water"
)

// Result is one value of a water: what was found, how it was before, and how it compares with its limits.
type Result struct {
	Analyte  string        `json:"analyte"`
	Title    string        `json:"title"`
	Computed bool          `json:"computed"`
	Newest   Value         `json:"newest"`
	Session  string        `json:"session"`
	Sampled  Moment        `json:"sampled"`
	Lowest   *Number       `json:"lowest"`  // of what was measured in the period, in the unit of newest
	Highest  *Number       `json:"highest"` // null where all results are bounds
	Count    int           `json:"count"`
	Bounds   int           `json:"bounds"`
	Limits   []ResultLimit `json:"limits"`
	Verdict  string        `json:"verdict"` // over, under, inconclusive, within, or no limit: the worst of the limits

	id      water.ID
	overall judge.Conformity
}

// ReplacedLimit is a limit that another one is applied in place of, in the unit of the result.
type ReplacedLimit struct {
	Name    string  `json:"name"`
	Lowest  *Number `json:"lowest"`
	Highest *Number `json:"highest"`
	Source  string  `json:"source,omitempty"`

	words string
}

func (l ReplacedLimit) String() string { return l.words }

// ResultLimit is one limit in force, in the unit of its result, and how the result stands to it.
type ResultLimit struct {
	Name     string          `json:"name"`   // the site's own limit, EU health limit
	Health   bool            `json:"health"` // set for the health of who drinks the water
	Lowest   *Number         `json:"lowest"`
	Highest  *Number         `json:"highest"`
	Source   string          `json:"source,omitempty"`
	Replaces []ReplacedLimit `json:"replaces,omitempty"` // limits that this one is applied in place of
	Verdict  string          `json:"verdict"`
	Likely   string          `json:"likely,omitempty"` // of an inconclusive one: over, under, within where that side is likelier than 5 in 6

	conformity judge.Conformity
}

// state is how a conformity is marked.
func state(c judge.Conformity) render.State {
	switch c {
	case judge.Over:
		return render.Over
	case judge.Under:
		return render.Under
	case judge.Inconclusive:
		return render.Doubtful
	case judge.Within:
		return render.Within
	}
	return render.Unjudged
}

// markCell is the mark of a conformity alone, for the first column of a table.
func markCell(c judge.Conformity) render.Cell { return render.Cell{State: state(c)} }

// judged holds a value in a unit against the limits in force at a site on a day; they are written in the unit that is read.
func judged(limits *judge.Limits, site string, at time.Time, v water.Value, unit, read water.Unit) (out []ResultLimit, overall judge.Conformity) {
	out = []ResultLimit{}
	for _, l := range limits.Of(v.ID, site, at) {
		c := l.ConformIn(v, unit)
		if c == judge.Unlimited {
			continue
		}
		lowest, highest := l.Ends(read)
		one := ResultLimit{Name: l.Name(), Health: l.Health(), Lowest: optional(lowest), Highest: optional(highest), Source: l.Source, Verdict: c.String(), conformity: c}
		for i := range l.Replaced {
			other := &l.Replaced[i]
			lowest, highest := other.Ends(read)
			one.Replaces = append(one.Replaces, ReplacedLimit{other.Name(), optional(lowest), optional(highest), other.Source, other.Words()})
		}
		if c == judge.Inconclusive {
			lowest, highest = l.Ends(unit)
			switch water.Judge(v, lowest, highest) {
			case water.ProbablyOver:
				one.Likely = "over"
			case water.ProbablyUnder:
				one.Likely = "under"
			case water.ProbablyWithin:
				one.Likely = "within"
			}
		}
		overall = max(overall, c)
		out = append(out, one)
	}
	return out, overall
}

func optional(v *float64) *Number {
	if v == nil {
		return nil
	}
	return number(*v)
}

// words say how a result stands to a limit: "over the site's own limit, at most 300".
func (l ResultLimit) words() string {
	says := l.Verdict
	switch {
	case l.Likely != "":
		says = "likely " + l.Likely
	case l.conformity == judge.Inconclusive:
		says += " against"
	}
	return fmt.Sprintf("%s %s, %s", says, l.Name, l.longText())
}

// rank orders by urgency: over, then likely over, then cannot say, then likely within.
func (l ResultLimit) rank() int {
	rank := 10 * int(l.conformity)
	switch l.Likely {
	case "over", "under":
		rank += 2
	case "":
		rank++
	}
	return rank
}

// worst is the limit that the result stands worst to; nil where there is none.
func (r *Result) worst() *ResultLimit {
	var out *ResultLimit
	for i := range r.Limits {
		if out == nil || r.Limits[i].rank() > out.rank() {
			out = &r.Limits[i]
		}
	}
	return out
}

// resultOf is the newest result of a series with its range and its limits.
func resultOf(limits *judge.Limits, s *query.Series) Result {
	last := s.Points[len(s.Points)-1]
	r := Result{Analyte: s.Analyte.String(), Title: title(s.Analyte), Computed: last.Derived, Newest: valueOf(last.Value, last.U, last.Bound, s.Unit.String()),
		Session: last.Session, Sampled: Moment{last.Sampled}, Count: len(s.Points), id: s.Analyte}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range s.Points {
		if p.Bound != water.Exact {
			r.Bounds++
			continue
		}
		low, high = min(low, p.Value), max(high, p.Value)
	}
	if low <= high {
		r.Lowest, r.Highest = number(low), number(high)
	}
	r.Limits, r.overall = judged(limits, s.Site, last.Sampled, valueAt(s, last), s.Unit, s.Unit)
	r.Verdict = r.overall.String()
	return r
}

// valueAt is a point of a series as a value, in the series' unit.
func valueAt(s *query.Series, p query.Point) water.Value {
	return water.Value{ID: s.Analyte, Value: p.Value, U: p.U, Bound: p.Bound, Derived: p.Derived}
}

// span is the lowest and the highest result, with the decimals of the newest; "" where all are bounds.
func (r *Result) span() string {
	if r.Lowest == nil {
		return ""
	}
	text, half := r.Newest.Figure()
	if half != "" {
		text = half
	}
	low, high := like(float64(*r.Lowest), text), like(float64(*r.Highest), text)
	if r.Newest.Bound != "" {
		bound, _ := r.Newest.Figure()
		if r.Newest.Limit != nil && r.Newest.Bound == "<" && *r.Highest <= *r.Newest.Limit {
			return bound // what was measured meanwhile is below the range of this method
		}
		low, high = bound, trimmed(water.Round(float64(*r.Highest), 2))
	}
	if low == high {
		return low
	}
	if strings.HasPrefix(low, "-") || strings.HasPrefix(low, "<") {
		return low + " to " + high
	}
	return low + "–" + high
}

// limitText is the limit that the result stands worst to, in short: "≤ 300", "6.5–9.5".
func (r *Result) limitText() string {
	w := r.worst()
	switch {
	case w == nil:
		return ""
	case w.Lowest != nil && w.Highest != nil:
		return fewDigits(float64(*w.Lowest)) + "–" + fewDigits(float64(*w.Highest))
	case w.Lowest != nil:
		return "≥ " + fewDigits(float64(*w.Lowest))
	}
	return "≤ " + fewDigits(float64(*w.Highest))
}

// longText is the limit in a sentence: "at most 300", "6.5 to 9.5".
func (l ResultLimit) longText() string {
	switch {
	case l.Lowest != nil && l.Highest != nil:
		return fewDigits(float64(*l.Lowest)) + " to " + fewDigits(float64(*l.Highest))
	case l.Lowest != nil:
		return "at least " + fewDigits(float64(*l.Lowest))
	}
	return "at most " + fewDigits(float64(*l.Highest))
}

// worstFirst orders results: over, inconclusive, the rest as they were.
func worstFirst(list []Result) {
	sort.SliceStable(list, func(a, b int) bool { return list[a].urgency() > list[b].urgency() })
}

// urgency is the rank of the worst limit that the result is not within; 0 where there is none.
func (r *Result) urgency() int {
	if w := r.worst(); w != nil && r.overall > judge.Within {
		return w.rank()
	}
	return 0
}

// atSite is a result with the name of its site, for a headline over several.
type atSite struct {
	*Result
	where string
}

// Headline says how results stand to their limits, worst first, and never more than is known: what is over is named, what is
// inconclusive is named, and what has no limit is counted.
func headline(list []atSite) (answer []string, overall judge.Conformity) {
	var over, unsure []atSite
	within, without := 0, 0
	for _, r := range list {
		overall = max(overall, r.overall)
		switch {
		case r.overall.Outside():
			over = append(over, r)
		case r.overall == judge.Inconclusive:
			unsure = append(unsure, r)
		case r.overall == judge.Within:
			within++
		default:
			without++
		}
	}
	for _, group := range [][]atSite{over, unsure} {
		sort.SliceStable(group, func(a, b int) bool { return group[a].worst().rank() > group[b].worst().rank() })
	}
	total := len(over) + len(unsure) + within
	switch {
	case len(list) == 0:
		return []string{"No results."}, overall
	case total == 0:
		return []string{"None of the values has a limit here, so none was judged."}, overall
	case len(over) > 0:
		answer = append(answer, fmt.Sprintf("%s outside a limit: %s.", journal.Capital(countOf(len(over), total)), listed(over)))
	case len(unsure) == 0:
		text := fmt.Sprintf("All %d values that have a limit are within it", total)
		if total == 1 {
			text = "The one value that has a limit is within it"
		}
		if without > 0 {
			text += fmt.Sprintf("; %d have no limit", without)
			if without == 1 {
				text = strings.TrimSuffix(text, "have no limit") + "has no limit"
			}
		}
		return []string{text + "."}, overall
	}
	if len(unsure) > 0 {
		lead := "Inconclusive"
		if len(over) == 0 {
			lead = journal.Capital(countOf(len(unsure), total)) + " inconclusive"
		}
		answer = append(answer, fmt.Sprintf("%s (the interval includes the limit): %s.", lead, listed(unsure)))
	}
	return answer, overall
}

func countOf(n, of int) string {
	verb := "are"
	if of == 1 {
		return "the one value that has a limit is"
	}
	if n == 1 {
		verb = "is"
	}
	return fmt.Sprintf("%d of %d values that have a limit %s", n, of, verb)
}

// listed names results with their figures and what is wrong.
func listed(list []atSite) string {
	var parts []string
	for _, r := range list {
		text := fmt.Sprintf("%s %s", r.Title, r.Newest)
		if r.where != "" {
			text += " at " + r.where
		}
		parts = append(parts, text+", "+r.worst().words())
	}
	return strings.Join(slices.Compact(parts), "; ")
}

// resultTable lays results out, worst first: mark, value, figure, uncertainty, unit, range, limit, and more columns.
func resultTable(list []Result, span string, now time.Time) render.Table {
	t := render.Table{Columns: []render.Column{{}, {Head: "value"}, {Head: "newest", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"},
		{Head: span, Right: true, Drop: 2}, {Head: "limit", Right: true}, {Head: "on", Drop: 1}}}
	for i := range list {
		r := &list[i]
		value, half := r.Newest.Figure()
		name := r.Title
		if r.Computed {
			name += "*"
		}
		t.Rows = append(t.Rows, []render.Cell{markCell(r.overall), {Text: name}, {Text: value}, {Text: half}, {Text: unitText(r.Newest.Unit)}, {Text: r.span()}, {Text: r.limitText()}, {Text: dayText(r.Sampled.Time, now)}})
	}
	return t
}
