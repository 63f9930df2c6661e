package report

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/judge"
	"wj/lint"
	"wj/query"
	"wj/render"
	"wj/water"
)

// Summary is what an owner is told about their water in a period. Nothing of other owners is in it.
type Summary struct {
	Schema  string           `json:"schema"`
	Owner   string           `json:"owner"`
	Name    string           `json:"name"`
	Brewery string           `json:"tested_by"`
	From    Moment           `json:"from"`
	To      Moment           `json:"to"`
	Written Moment           `json:"written"`
	Answer  []string         `json:"answer"` // in whole sentences, worst first
	Verdict string           `json:"verdict"`
	Sites   []SummarySite    `json:"sites"`
	Events  []Dated          `json:"happened"` // events, deviations, corrections
	Decided []Dated          `json:"decided"`  // changes and who signed them
	Policy  string           `json:"policy,omitempty"`
	Sent    []Dated          `json:"sent"` // reports, and whether they still hold
	LeftOut []string         `json:"left_out"`
	charts  []render.Drawing // the weightiest first
}

// Dated is something that happened on a day.
type Dated struct {
	On   Day    `json:"on"`
	Text string `json:"text"`
}

// SummarySite is one sampling point of a summary; the worst result comes first.
type SummarySite struct {
	ID       string   `json:"id"`
	Name     string   `json:"name"`
	Stage    string   `json:"stage"`
	Sessions int      `json:"sessions"`
	Results  []Result `json:"results"`
}

// SummaryRequest says of which period, and what the judgement of changes is.
type SummaryRequest struct {
	From, To, Now time.Time
	Changes       *judge.Changes
}

// NewSummary gathers a summary. The error has a hint where nothing of the owner's water was tested in the period.
func NewSummary(j *journal.Journal, owner *journal.Owner, q SummaryRequest) (*Summary, error) {
	j = j.WaterOf(owner.ID)
	g := &gatherer{SummaryRequest: q, j: j, owner: owner, limits: judge.NewLimits(j)}
	s := &Summary{Schema: schema.ID("summary"), Owner: owner.ID, Name: owner.Name, Brewery: j.Settings.Name, From: Moment{q.From}, To: Moment{q.To}, Written: Moment{q.Now},
		Sites: []SummarySite{}, Events: []Dated{}, Decided: []Dated{}, Sent: []Dated{}, LeftOut: []string{}}
	g.others()
	var all []atSite
	total := 0
	for _, site := range j.Sites.List {
		if !site.OwnedBy(owner.ID) || site.Void != nil {
			continue
		}
		one, err := g.site(site)
		if err != nil {
			return nil, err
		}
		if one.Sessions == 0 {
			continue
		}
		total += one.Sessions
		for i := range one.Results {
			all = append(all, atSite{&one.Results[i], one.Name})
		}
		s.Sites = append(s.Sites, one)
	}
	if len(s.Sites) == 0 {
		return nil, journal.Hint("give an earlier --since", "no water of %s was tested between %s and %s", owner.ID, journal.FormatDate(q.From), journal.FormatDate(q.To))
	}
	var overall judge.Conformity
	s.Answer, overall = headline(all)
	s.Verdict = overall.String()
	places := s.Sites[0].Name
	if len(s.Sites) > 1 {
		places = fmt.Sprintf("%d places", len(s.Sites))
	}
	s.Answer = append(s.Answer, fmt.Sprintf("Tested: %s at %s.", journal.Count(total, "session"), places))
	s.charts = g.chosen()
	s.Events, s.Decided, s.Sent = g.happened(s), g.decided(s), g.sent()
	if g.hidden > 0 {
		s.LeftOut = append(s.LeftOut, journal.Count(g.hidden, "remark")+" not shown, because they name other people's water")
	}
	return s, nil
}

// gatherer collects a summary of one owner's water.
type gatherer struct {
	SummaryRequest
	j       *journal.Journal
	owner   *journal.Owner
	limits  *judge.Limits
	found   map[string][]lint.Diagnostic // of the linter's, in the sites' histories
	foreign []string                     // names by which other owners and their sites could be recognised
	charts  []weighed
	hidden  int // texts that were not shown because of them
}

func (g *gatherer) in(t time.Time) bool { return !t.Before(g.From) && !t.After(g.To) }

// inDay compares days, for dates without a time.
func (g *gatherer) inDay(t time.Time) bool {
	return !t.Before(journal.Day(g.From)) && !t.After(journal.Day(g.To).AddDate(0, 0, 1))
}

// others lists the words by which another owner could be recognised in a text.
func (g *gatherer) others() {
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
		if !site.OwnedBy(g.owner.ID) {
			add(site.ID, site.Name)
		}
	}
}

// text passes free text on, or what is shown in its place where it names other owners.
func (g *gatherer) text(text, instead string) string {
	low := strings.ToLower(text)
	if slices.ContainsFunc(g.foreign, func(w string) bool { return strings.Contains(low, w) }) {
		g.hidden++
		return instead
	}
	return render.Line(text)
}

// site gathers one sampling point.
func (g *gatherer) site(site *journal.Site) (SummarySite, error) {
	one := SummarySite{ID: site.ID, Name: g.text(site.Name, site.ID), Stage: strings.ReplaceAll(site.Stage, "-", " ")}
	measured := map[water.ID]bool{}
	for _, s := range g.j.Sessions.List {
		if s.Site != site.ID || !judge.InSeries(s) || !g.in(s.Sampled) {
			continue
		}
		one.Sessions++
		for i := range s.Readings {
			measured[s.Readings[i].Analyte] = true
		}
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
	if one.Sessions == 0 || len(ids) == 0 {
		return one, nil
	}
	units := map[water.ID]water.Unit{}
	for _, id := range ids {
		units[id] = g.j.Preferred(g.owner.ID, id)
	}
	series, err := query.Histories(g.j, query.SeriesRequest{Sites: []string{site.ID}, Analytes: ids, Units: units, Since: g.From, Until: PastEnd(g.To)})
	if err != nil {
		return one, err
	}
	for _, s := range series {
		if len(s.Points) == 0 {
			continue
		}
		r := resultOf(g.limits, s)
		typedBound(g.j, &r)
		one.Results = append(one.Results, r)
		g.weigh(site, one.Name, s, &r)
	}
	worstFirst(one.Results)
	return one, nil
}

// typedBound gives a bound the number that was typed, so that <0.02 stays <0.02.
func typedBound(j *journal.Journal, r *Result) {
	s, ok := j.Sessions.Get(r.Session)
	if !ok || r.Newest.Bound == "" || r.Newest.Limit == nil {
		return
	}
	if reading, ok := s.Reading(r.id); ok {
		r.Newest.typed = typedNumber(reading, float64(*r.Newest.Limit))
	}
}

// typedNumber is the number of a reading as it was typed where it is v; "" where v is something else, as after a dilution.
func typedNumber(r *journal.Reading, v float64) string {
	text, _, _ := strings.Cut(strings.TrimLeft(r.First.String(), "<>≤≥ "), " ")
	if math.Abs(r.First.Value-v) > 1e-9*math.Abs(v) {
		return ""
	}
	return text
}

// weighed is a chart that the page could have.
type weighed struct {
	site   string
	weight int
	d      render.Drawing
}

// weigh makes a chart of a value and weighs it: what is near a limit that matters, or drifts, is worth a look; what is mostly
// below the range is not.
func (g *gatherer) weigh(site *journal.Site, name string, s *query.Series, r *Result) {
	if len(s.Points) < 5 || 2*r.Bounds > len(s.Points) {
		return
	}
	if g.found == nil {
		var own []string
		for _, o := range g.j.Sites.List {
			if o.OwnedBy(g.owner.ID) {
				own = append(own, o.ID)
			}
		}
		g.found = historyFindings(g.j, own)
	}
	chart, err := NewControlChart(g.j, site, s, g.From, g.To, g.found)
	if err != nil {
		return
	}
	d := chart.drawing()
	d.Title = s.Analyte.Info().Title + ", " + name
	d.Changes = nil // lots are the bench's own affair
	for i := range d.Events {
		d.Events[i].Name = g.text(d.Events[i].Name, "see the brewery's records")
	}
	weight := 0
	switch {
	case r.overall.Outside():
		weight += 6
	case r.overall == judge.Inconclusive:
		weight += 4
	}
	if len(d.Trend) == 2 {
		weight += 2
	}
	if s.Analyte == water.ElectricalConductivity { // says most of a water in one number
		weight++
	}
	drawing := d.Drawing(52, 12)
	drawing.Width, drawing.Height = 440, 140
	g.charts = append(g.charts, weighed{site.ID, weight, drawing})
}

// chosen are the charts of the page: the weightiest first, no more than two of a site and four in all.
func (g *gatherer) chosen() []render.Drawing {
	sort.SliceStable(g.charts, func(a, b int) bool { return g.charts[a].weight > g.charts[b].weight })
	drawn := map[string]int{}
	var out []render.Drawing
	for _, c := range g.charts {
		if c.weight > 0 && drawn[c.site] < 2 && len(out) < 4 {
			out = append(out, c.d)
			drawn[c.site]++
		}
	}
	return out
}

// PastEnd is the end of a request, which ends before it, for a period that ends with a second; an open one stays open.
func PastEnd(to time.Time) time.Time {
	if to.IsZero() {
		return to
	}
	return to.Add(time.Second)
}
