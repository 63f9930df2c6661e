package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/query/profile"
	"wj/render"
	"wj/water"
)

// SitePart is what is known of the water at a site: its newest results, worst first.
type SitePart struct {
	SiteName string       `json:"name"`
	Stage    string       `json:"stage"`
	Owner    string       `json:"owner"`
	Results  []SiteResult `json:"results"`
	Passage  *SaltPassage `json:"salt_passage"` // of a membrane
	Next     *Next        `json:"next"`

	answer   []string
	sessions int
}

// SiteResult is a newest result with the range of the year before it and the trend of all results.
type SiteResult struct {
	Result
	SlopeAYear *Number `json:"slope_a_year"` // null where no trend is shown or too little is known
	Trend      string  `json:"trend"`        // rising, falling, none, unknown
}

// Next is the next test that the site's schedule asks for.
type Next struct {
	On       Day      `json:"on"`
	Analytes []string `json:"analytes"`
}

func newSitePart(j *journal.Journal, site *journal.Site, now time.Time) (*SitePart, error) {
	p := &SitePart{SiteName: site.Name, Stage: site.Stage, Owner: site.Owner, Results: []SiteResult{}, Passage: newSaltPassage(j, site, now)}
	measured := map[water.ID]bool{}
	for _, s := range j.Sessions.List {
		if s.Site != site.ID || !judge.InSeries(s) || s.Sampled.After(now) {
			continue
		}
		p.sessions++
		for i := range s.Readings {
			measured[s.Readings[i].Analyte] = true
		}
	}
	var ids []water.ID
	units := map[water.ID]water.Unit{}
	for id := water.ID(0); id < water.NumAnalytes; id++ {
		if measured[id] {
			ids = append(ids, id)
			units[id] = j.Preferred(site.Owner, id)
		}
	}
	var list []Result
	more := map[water.ID]SiteResult{}
	if len(ids) > 0 {
		series, err := query.Histories(j, query.SeriesRequest{Sites: []string{site.ID}, Analytes: ids, Units: units, Until: now.Add(time.Second)})
		if err != nil {
			return nil, err
		}
		limits := judge.NewLimits(j)
		for _, s := range series {
			// What was measured here, even if a newer sample gives the value by calculation.
			if s.Points = slices.DeleteFunc(s.Points, func(p query.Point) bool { return p.Derived }); len(s.Points) == 0 {
				continue
			}
			r := newestResult(j, limits, s)
			list = append(list, r)
			slope, u := slopeOf(j, site, s)
			more[s.Analyte] = SiteResult{Result: r, SlopeAYear: slope, Trend: u}
		}
	}
	worstFirst(list)
	var heads []atSite
	for i := range list {
		one := more[list[i].id]
		one.Result = list[i]
		p.Results = append(p.Results, one)
		heads = append(heads, atSite{&list[i], ""})
	}
	if len(heads) == 0 {
		p.answer = []string{"No result from here yet."}
	} else {
		p.answer, _ = headline(heads)
	}
	for _, d := range judge.Due(j, now) {
		if d.Site.ID == site.ID {
			p.Next = nextOf(&d)
			break
		}
	}
	return p, nil
}

// newestResult is the newest result of a series, with the range of the year up to it.
func newestResult(j *journal.Journal, limits *judge.Limits, s *query.Series) Result {
	year := *s
	last := s.Points[len(s.Points)-1].Sampled
	for len(year.Points) > 1 && year.Points[0].Sampled.Before(last.Add(-PastYear)) {
		year.Points = year.Points[1:]
	}
	r := resultOf(limits, &year)
	typedBound(j, &r)
	return r
}

func nextOf(d *judge.DueTest) *Next {
	n := &Next{On: Day{d.On}}
	for _, id := range d.Names() {
		n.Analytes = append(n.Analytes, id.String())
	}
	return n
}

// slopeOf is the trend of a series by the rule of the linter: the slope a year where there is one, and a word.
func slopeOf(j *journal.Journal, site *journal.Site, s *query.Series) (*Number, string) {
	u := profile.UsualIn(j, site, s, thresholds(j))
	t, drifts, known := u.Trend()
	switch {
	case !known:
		return nil, "unknown"
	case !drifts:
		return nil, "none"
	}
	if groups := u.Shown(s); len(groups) == 1 { // the figure of the chart and the statistics
		if _, slope, err := profile.Drift(s, groups[0], profile.Axis(s, groups)); err == nil {
			t.Slope = slope.PerUnit
		}
	}
	if t.Slope > 0 {
		return number(t.Slope), "rising"
	}
	return number(t.Slope), "falling"
}

func (r *SiteResult) trendText() string {
	switch {
	case r.SlopeAYear != nil:
		return signed(float64(*r.SlopeAYear))
	case r.Trend == "none":
		return "none"
	}
	return ""
}

func (p *SitePart) document(d *render.Document, r *Record, all bool) {
	d.Title = fmt.Sprintf("%s · %s · %s", p.SiteName, strings.ReplaceAll(p.Stage, "-", " "), p.Owner)
	t := render.Table{Columns: []render.Column{{}, {Head: "newest"}, {Head: "result", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"}, {Head: "past year", Right: true, Drop: 2},
		{Head: "a year", Right: true, Drop: 1}, {Head: "limit", Right: true}, {Head: "on", Drop: 3}}}
	if s := p.Passage; s != nil {
		figure, half := s.Newest.Figure()
		t.Rows = append(t.Rows, []render.Cell{{}, {Text: "salt passage"}, {Text: figure}, {Text: half}, {Text: "%"}, {Text: s.span()}, {}, {}, {Text: dayText(s.Sampled.Time, r.now)}})
	}
	unlimited := fewRows
	for i := range p.Results {
		if len(p.Results[i].Limits) > 0 {
			unlimited--
		}
	}
	var also []string
	for i := range p.Results {
		x := &p.Results[i]
		if len(x.Limits) == 0 {
			unlimited--
		}
		if len(x.Limits) == 0 && unlimited < 0 && !all {
			also = append(also, x.Title+" "+x.Newest.String())
			continue
		}
		value, half := x.Newest.Figure()
		t.Rows = append(t.Rows, []render.Cell{markCell(x.overall), {Text: x.Title}, {Text: value}, {Text: half}, {Text: unitText(x.Newest.Unit)}, {Text: x.span()}, {Text: x.trendText()}, {Text: x.limitText()},
			{Text: dayText(x.Sampled.Time, r.now)}})
	}
	if len(t.Rows) > 0 {
		d.Table("", t)
		d.Fact("also", "%s", strings.Join(also, " · "))
	}
	for _, x := range p.Results {
		for _, l := range x.Limits {
			if len(l.Replaces) > 0 {
				d.Fact("limit", "%s: %s, %s (%s), in place of %s", x.Title, l.Name, l.longText(), l.Source, strings.Trim(fmt.Sprint(l.Replaces), "[]"))
			}
		}
	}
	if p.Next != nil {
		d.Command("next", fmt.Sprintf("%s, %s", dayText(p.Next.On.Time, r.now), strings.ReplaceAll(strings.Join(p.Next.Analytes, ", "), "_", " ")), "wj enter "+r.ID)
	}
	if len(p.Results) > 0 {
		value := p.Results[0].Analyte
		if p.Passage != nil {
			value = "salt_passage"
		}
		d.Command("more", journal.Count(p.sessions, "session"), "wj chart "+value+" --site "+r.ID)
	} else {
		d.Command("measure", "", "wj enter "+r.ID)
	}
}
