package main

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/exchange"
	"wj/journal/judge"
	"wj/query"
	"wj/render"
	"wj/water"
)

type summaryCmd struct {
	Owner  string `required:"" placeholder:"ID" help:"Whose water. Nothing of other owners is in the page."`
	Since  string `placeholder:"DATE" help:"From this day on: 2026-01-15, 2026-01 or 2026; the last twelve months if absent."`
	Until  string `placeholder:"DATE" help:"Up to this day."`
	Format string `enum:"text,html,markdown" default:"text" help:"${enum}."`
	Output string `short:"o" placeholder:"FILE" help:"Where to; standard output if absent. A name that ends in .html or .md chooses the format."`
}

func (c *summaryCmd) Help() string {
	return "wj summary --owner tarrow-lane --since 2026 -o tarrow-lane.html\n\n" +
		"One page in the owner's own units: the newest results and their limits, how they moved, what was found, decided and signed. " +
		"The HTML page is whole in itself: it can be mailed, opened without a network, and printed on A4."
}

// summary is what the page says, in words and figures of the owner's units.
type summary struct {
	Owner, Brewery string
	From, To       time.Time
	Written        time.Time
	Lead           []string
	Sites          []summarySite
	Happened       []dated // events, deviations, corrections
	Decided        []dated // changes and who signed them
	Sent           []dated // reports
	Policy         string
	Charts         []summaryChart // the weightiest first
	LeftOut        []string
}

type dated struct {
	On   time.Time
	Text string
}

type summarySite struct {
	ID, Name, Stage string
	Sessions        int
	Rows            []summaryRow
}

// summaryRow is one value at a site: the newest result, the range, the limits.
type summaryRow struct {
	Analyte            water.ID
	Title, Unit        string
	Derived            bool
	Latest, Half       string
	On                 time.Time
	Least, Most, Count string
	Course             []float64
	Limits             []summaryLimit
}

// name is the row's title; a computed value says so.
func (r *summaryRow) name() string {
	if r.Derived {
		return r.Title + ", computed"
	}
	return r.Title
}

// newest is the newest result with its uncertainty, without its unit.
func (r *summaryRow) newest() string {
	if r.Half == "" {
		return r.Latest
	}
	return r.Latest + " ± " + r.Half
}

// span is the least and the greatest result of the time; empty where all lie
// beyond the range of the method.
func (r *summaryRow) span() string {
	if r.Most == r.Least {
		return r.Least
	}
	return r.Least + " to " + r.Most
}

// summaryLimit is a limit and how the newest result stands to it.
type summaryLimit struct {
	Rule, Bound string // Bound is the end that is near
	Conformity  judge.Conformity
}

func (l summaryLimit) String() string { return l.Rule + ": " + l.Conformity.String() }

// kept reports whether the result keeps the limit, beyond its uncertainty.
func (l summaryLimit) kept() bool { return l.Conformity == judge.Within }

func (c *summaryCmd) Run(a *app) error {
	format := c.Format
	switch {
	case strings.HasSuffix(c.Output, ".html"):
		format = "html"
	case strings.HasSuffix(c.Output, ".md"):
		format = "markdown"
	case c.Output != "" && format == "text":
		return withHint("such as -o summary.html", "the name %q does not say which format", c.Output)
	}
	j, root, err := a.load(journal.Options{Check: true, Sessions: true})
	if err != nil {
		return err
	}
	owner, ok := j.Owners.Get(c.Owner)
	if !ok {
		return noOwner(j, c.Owner)
	}
	now := a.now().In(j.Settings.Zone)
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return err
	}
	if from.IsZero() {
		from = time.Date(now.Year()-1, now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	}
	if to.IsZero() || to.After(now) {
		to = now
	}
	if to.Before(from) {
		return withHint("give --since before --until", "the period ends before it begins")
	}
	w := a.witnessOrNone(j, root)
	defer w.close()
	g := &gathering{a: a, j: j, owner: owner, from: from, to: to, now: now, judgement: audit.NewJudgement(j, a.facts(j, w)), inForce: judge.NewLimits(j)}
	s, err := g.summary()
	if err != nil {
		return err
	}
	switch format {
	case "html":
		return a.deliver(c.Output, []exchange.File{{Content: []byte(s.html())}})
	case "markdown":
		return a.deliver(c.Output, []exchange.File{{Content: []byte(render.Clean(s.markdown()))}})
	}
	return a.markdown(s.markdown())
}

// gathering collects a summary of one owner's water.
type gathering struct {
	a         *app
	j         *journal.Journal
	owner     *journal.Owner
	from, to  time.Time
	now       time.Time
	judgement *audit.Judgement
	inForce   *judge.Limits
	foreign   []string // names by which other owners and their sites could be told
	charts    []summaryChart
	hidden    int // texts that were not shown because of them
}

func (g *gathering) in(t time.Time) bool { return !t.Before(g.from) && !t.After(g.to) }

// day compares days, for dates without a time.
func (g *gathering) inDay(t time.Time) bool {
	return !t.Before(journal.Day(g.from)) && !t.After(journal.Day(g.to).AddDate(0, 0, 1))
}

func (g *gathering) summary() (*summary, error) {
	s := &summary{Owner: g.owner.Name, Brewery: g.j.Settings.Name, From: g.from, To: g.to, Written: g.now}
	g.others()
	var sessions []string
	var over []beyond
	for _, site := range g.j.Sites.List {
		if site.Owner != g.owner.ID || site.Void != nil {
			continue
		}
		one, found, err := g.site(site)
		if err != nil {
			return nil, err
		}
		if one.Sessions == 0 {
			continue
		}
		sessions = append(sessions, fmt.Sprintf("%s at %s", count(one.Sessions, "session"), g.text(site.Name, site.ID)))
		over = append(over, found...)
		s.Sites = append(s.Sites, one)
	}
	if len(s.Sites) == 0 {
		return nil, withHint("give an earlier --since", "no water of %s was tested between %s and %s", g.owner.ID, day(g.from), day(g.to))
	}
	if len(sessions) > 2 {
		total := 0
		for _, site := range s.Sites {
			total += site.Sessions
		}
		sessions = []string{fmt.Sprintf("%s at %d places", count(total, "session"), len(s.Sites))}
	}
	s.Lead = append(s.Lead, "Tested: "+strings.Join(sessions, ", ")+".")
	s.Lead = append(lead(over, s.hasLimits()), s.Lead...)
	g.choose(s)
	g.happened(s)
	g.decided(s)
	g.sent(s)
	if g.hidden > 0 {
		s.LeftOut = append(s.LeftOut, count(g.hidden, "remark")+" not shown, for they name other people's water")
	}
	return s, nil
}

// beyond is a newest result that does not keep a limit.
type beyond struct {
	text       string
	conformity judge.Conformity
}

// lead is the verdict over all newest results and every limit in force. It comes
// first: on a telephone nothing else is seen.
func lead(list []beyond, limited bool) []string {
	var out []string
	for _, part := range []struct {
		head string
		is   func(judge.Conformity) bool
	}{
		{"Beyond a limit: ", judge.Conformity.Outside},
		{"Inconclusive (the interval includes the limit): ", func(c judge.Conformity) bool { return c == judge.Inconclusive }},
	} {
		var texts []string
		for _, b := range list {
			if part.is(b.conformity) {
				texts = append(texts, b.text)
			}
		}
		if len(texts) > 0 {
			out = append(out, part.head+strings.Join(texts, "; ")+".")
		}
	}
	switch {
	case len(out) > 0:
	case limited:
		out = append(out, "The newest result of everything that has a limit here is within it.")
	default:
		out = append(out, "Nothing that was tested here has a limit in the journal.")
	}
	return out
}

// others lists the words by which another owner could be recognised in a text.
func (g *gathering) others() {
	add := func(words ...string) {
		for _, w := range words {
			if w = strings.ToLower(strings.TrimSpace(w)); len(w) > 2 {
				g.foreign = append(g.foreign, w)
			}
		}
	}
	for _, o := range g.j.Owners.List {
		if o.ID != g.owner.ID {
			add(o.ID, o.Name, strings.ReplaceAll(o.ID, "-", " "))
			add(o.Email...)
		}
	}
	for _, site := range g.j.Sites.List {
		if site.Owner != g.owner.ID {
			add(site.ID, site.Name)
		}
	}
}

// foreigner reports whether a text names another owner or one of its sites.
func (g *gathering) foreigner(text string) bool {
	text = strings.ToLower(text)
	return slices.ContainsFunc(g.foreign, func(w string) bool { return strings.Contains(text, w) })
}

// text passes free text on, or what stands for it where it names other owners.
func (g *gathering) text(text, instead string) string {
	if g.foreigner(text) {
		g.hidden++
		return instead
	}
	return render.Line(text)
}

// site gathers one sampling point.
func (g *gathering) site(site *journal.Site) (one summarySite, over []beyond, err error) {
	one = summarySite{ID: site.ID, Name: g.text(site.Name, site.ID), Stage: strings.ReplaceAll(site.Stage, "-", " ")}
	measured := map[water.ID]bool{}
	for _, s := range g.j.Sessions.List {
		if s.Site != site.ID || s.Void != nil || !g.in(s.Sampled) || s.Sample != "routine" && s.Sample != "verification" {
			continue
		}
		one.Sessions++
		for i := range s.Readings {
			measured[s.Readings[i].Analyte] = true
		}
	}
	if one.Sessions == 0 {
		return one, nil, nil
	}
	var ids []water.ID
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		if measured[id] {
			ids = append(ids, id)
		}
	}
	if measured[water.Alkalinity] && measured[water.CalciumHardness] {
		ids = append(ids, water.ResidualAlkalinity)
	}
	units := map[water.ID]water.Unit{}
	for _, id := range ids {
		units[id] = g.j.Preferred(g.owner.ID, id)
	}
	series, err := query.Histories(g.j, query.SeriesRequest{Sites: []string{site.ID}, Analytes: ids, Units: units, Since: g.from, Until: pastEnd(g.to)})
	if err != nil {
		return one, nil, err
	}
	for _, s := range series {
		if len(s.Points) == 0 {
			continue
		}
		row, outside := g.row(s)
		one.Rows = append(one.Rows, row)
		for _, o := range outside {
			o.text += " at " + one.Name
			over = append(over, o)
		}
		if chart, ok := g.chart(site, s); ok {
			g.charts = append(g.charts, chart)
		}
	}
	return one, over, nil
}

// summaryChart is a chart that the page could have.
type summaryChart struct {
	site   string
	weight int
	d      render.Control
}

// chart makes a chart of a value and weighs it: what lies near a limit that
// matters or drifts is worth a look, what is mostly below the range is none.
func (g *gathering) chart(site *journal.Site, s *query.Series) (summaryChart, bool) {
	bounds := 0
	for _, p := range s.Points {
		if p.Bound != water.Exact {
			bounds++
		}
	}
	if len(s.Points) < 5 || 2*bounds > len(s.Points) {
		return summaryChart{}, false
	}
	d := controlChart(g.j, site, s, g.from, g.to)
	d.Title, d.Subtitle, d.Bars = s.Analyte.Info().Title+", "+g.text(site.Name, site.ID), "", 60
	d.Changes = nil // lots are the bench's own affair
	for i := range d.Events {
		d.Events[i].Name = g.text(d.Events[i].Name, "see the brewery's records")
	}
	weight := 0
	for _, l := range g.inForce.Of(s.Analyte, s.Site, s.Points[len(s.Points)-1].Sampled) {
		lowest, highest := l.Ends(s.Unit)
		for _, end := range []*float64{lowest, highest} {
			near := end != nil && slices.ContainsFunc(s.Points, func(p query.Point) bool { return p.U > 0 && math.Abs(p.Value-*end) < 6*p.U })
			if near && (l.Own != nil || l.Health()) {
				weight += 4
			}
		}
	}
	if len(d.Trend) == 2 {
		weight += 2
	}
	if s.Analyte == water.ElectricalConductivity { // says most of a water in one number
		weight++
	}
	return summaryChart{site.ID, weight, d}, true
}

// choose orders the charts: the weightiest first, and no more than two of a site.
func (g *gathering) choose(s *summary) {
	sort.SliceStable(g.charts, func(a, b int) bool { return g.charts[a].weight > g.charts[b].weight })
	drawn := map[string]int{}
	for _, c := range g.charts {
		if c.weight > 0 && drawn[c.site] < 2 {
			s.Charts = append(s.Charts, c)
			drawn[c.site]++
		}
	}
}

// row is one value at a site.
func (g *gathering) row(s *query.Series) (row summaryRow, outside []beyond) {
	last := s.Points[len(s.Points)-1]
	row = summaryRow{Analyte: s.Analyte, Title: s.Analyte.Info().Title, Unit: s.Unit.String(), Derived: last.Derived, On: last.Sampled, Count: fmt.Sprint(len(s.Points))}
	row.Latest, row.Half = figure(last)
	least, most := math.Inf(1), math.Inf(-1)
	below := 0
	for _, p := range s.Points {
		if p.Bound != water.Exact {
			below++
			row.Course = append(row.Course, math.NaN())
			continue
		}
		least, most = min(least, p.Value), max(most, p.Value)
		row.Course = append(row.Course, p.Value)
	}
	if least <= most {
		digits := 3
		row.Least, row.Most = water.Round(least, digits), water.Round(most, digits)
	}
	if below > 0 {
		row.Count += fmt.Sprintf(", %d beyond the range", below)
	}
	for _, a := range pointLimits(g.inForce, s, last) {
		limit := summaryLimit{Rule: a.Limit.In(s.Unit), Bound: a.Limit.Near(last.Value, s.Unit), Conformity: a.Conformity}
		row.Limits = append(row.Limits, limit)
		if !limit.kept() {
			outside = append(outside, beyond{fmt.Sprintf("%s %s, %s", s.Analyte.Info().Title, strings.TrimSpace(row.newest()+" "+row.Unit), limit.Rule), limit.Conformity})
		}
	}
	return row, outside
}

// figure is a point as a person reads it.
func figure(p query.Point) (value, half string) {
	if p.Bound != water.Exact {
		return p.Bound.String() + water.Round(p.Value, 3), ""
	}
	if p.U <= 0 {
		return water.Round(p.Value, 3), ""
	}
	return water.Spread(p.Value, 2*p.U)
}
