package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/render"
	"wj/water"
)

// How much of each the board shows unless all is asked for.
const (
	fewSites    = 12
	fewOfASite  = 3 // results outside or inconclusive
	fewTasks    = 5 // of a topic
	fewFindings = 5
)

// Document lays the board out: the sites worst first, what to look at, what to do. With all nothing is left out.
func (s *Status) Document(all bool) render.Document {
	d := s.head()
	if len(s.Sites) > 0 {
		s.table(&d, all)
	}
	s.looks(&d, all)
	s.tasks(&d, all)
	if r := s.Read; r != nil {
		d.Fact("read", "the last year of each tap and what tasks depend on: %d of %s; %s not judged: wj status --all reads everything", r.Sessions, journal.Count(r.Of, "session"), strings.Join(r.NotJudged, ", "))
	}
	s.begin(&d)
	return d
}

// Brief lays out what wj alone shows: the headline, the first things to look at and to do, and where there is more.
func (s *Status) Brief() render.Document {
	const few = 5
	d := s.head()
	var rest render.Document
	s.looks(&rest, false)
	s.tasks(&rest, false)
	for _, b := range rest.Blocks {
		if b.Fact != nil && b.Fact.Label != "" && len(d.Blocks) < few {
			d.Blocks = append(d.Blocks, b)
		}
	}
	s.begin(&d)
	if len(s.Sites) > 0 {
		d.Command("all taps", "", "wj status")
	}
	d.Command("commands", "", "wj --help")
	return d
}

func (s *Status) head() render.Document {
	d := render.Document{Title: fmt.Sprintf("%s · %s", cmp.Or(s.Name, "Water journal"), s.now.Format("2 Jan 2006, 15:04"))}
	for _, a := range s.Answer {
		d.Answer("%s", a)
	}
	return d
}

// begin says how to go on where no water is known.
func (s *Status) begin(d *render.Document) {
	if s.unjudged {
		d.Command("limits", "name the laws that hold here as jurisdictions: in wj.yaml, or limits: of your own", "wj explain settings")
	}
	tested := slices.ContainsFunc(s.Sites, func(x StatusSite) bool { return !x.Tested.IsZero() })
	switch {
	case len(s.folders) > 0:
	case len(s.Sites) == 0:
		d.Command("first tap", "", "wj new site")
		d.Command("first test", "", "wj enter TAP")
		d.Command("old sheet", "", "wj import FILE --guess")
		d.Command("look round", "", "wj demo DIR")
	case !tested:
		if !slices.ContainsFunc(s.Tasks, func(t Task) bool { return t.Topic == string(judge.Tests) }) {
			d.Command("first test", "", "wj enter "+s.Sites[0].ID)
		}
		d.Command("old sheet", "", "wj import FILE --guess")
	}
}

// shown are the results of a site that the board has rows for: those that are not within their limits, or else the one
// nearest to its limit.
func (x *StatusSite) shown(all bool) []*SiteResult {
	var out []*SiteResult
	for i := range x.Results {
		if r := &x.Results[i]; r.overall > judge.Within && (all || len(out) < fewOfASite) {
			out = append(out, r)
		}
	}
	if len(out) > 0 || x.Passage != nil || len(x.Results) == 0 {
		return out
	}
	best := &x.Results[0]
	for i := range x.Results {
		if r := &x.Results[i]; r.used() > best.used() {
			best = r
		}
	}
	return append(out, best)
}

// used is how much of the way to its limit a result has gone: 1 at the limit, -1 where there is none.
func (r *Result) used() float64 {
	w := r.worst()
	v := r.Newest.Value
	if v == nil {
		v = r.Newest.Limit
	}
	if w == nil || v == nil {
		return -1
	}
	switch x := float64(*v); {
	case w.Lowest != nil && w.Highest != nil:
		half := float64(*w.Highest-*w.Lowest) / 2
		return math.Abs(x-float64(*w.Lowest)-half) / half
	case w.Highest != nil && *w.Highest > 0:
		return x / float64(*w.Highest)
	case w.Lowest != nil && x > 0:
		return float64(*w.Lowest) / x
	}
	return -1
}

// trends fills in the trend of what the board shows, from all of its history.
func (s *Status) trends(j *journal.Journal) error {
	wanted := map[water.ID][]string{}
	for i := range s.Sites[:min(fewSites, len(s.Sites))] {
		for _, r := range s.Sites[i].shown(false) {
			wanted[r.id] = append(wanted[r.id], s.Sites[i].ID)
		}
	}
	for id, sites := range wanted {
		series, err := query.Histories(j, query.SeriesRequest{Sites: sites, Analytes: []water.ID{id}, Until: s.now})
		if err != nil {
			return err
		}
		for _, one := range series {
			site, _ := j.Sites.Get(one.Site)
			at := slices.IndexFunc(s.Sites, func(x StatusSite) bool { return x.ID == one.Site })
			for k := range s.Sites[at].Results {
				if r := &s.Sites[at].Results[k]; r.id == id {
					_, r.Trend = slopeOf(j, site, one)
				}
			}
		}
	}
	return nil
}

var arrows = map[string]string{"rising": " ↑", "falling": " ↓"}

func (s *Status) table(d *render.Document, all bool) {
	t := render.Table{Columns: []render.Column{{}, {Head: "journal"}, {Head: "tap"}, {Head: "newest"}, {Head: "result", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"}, {Head: "past year", Right: true, Drop: 3}, {Head: "limit", Right: true},
		{Head: "age", Right: true, Drop: 1}, {Head: "next", Right: true, Drop: 2}}}
	fine := 0
	for i := range s.Sites {
		x := &s.Sites[i]
		next := ""
		if x.Next != nil {
			next = dayText(x.Next.On.Time, s.now)
		}
		rows := x.shown(all)
		if i >= fewSites && !all && x.overall <= judge.Within {
			fine++
			continue
		}
		site, of, page := x.ID, x.Journal, PageKey(journal.KindSite, x.ID)
		if len(rows) == 0 && x.Passage == nil {
			t.Rows = append(t.Rows, []render.Cell{{State: render.Unjudged}, {Text: of}, {Text: site, Link: page}, {Text: "not tested yet"}, {}, {}, {}, {}, {}, {}, {Text: next}})
			continue
		}
		for _, r := range rows {
			figure, half := r.Newest.Figure()
			t.Rows = append(t.Rows, []render.Cell{markCell(r.overall), {Text: of}, {Text: site, Link: page}, {Text: r.Title + arrows[r.Trend]}, {Text: figure}, {Text: half}, {Text: unitText(r.Newest.Unit)}, {Text: r.span()}, {Text: r.limitText()},
				{Text: ageText(s.now.Sub(r.Sampled.Time))}, {Text: next}})
			site, of, next = "", "", ""
		}
		if p := x.Passage; p != nil {
			figure, half := p.Newest.Figure()
			t.Rows = append(t.Rows, []render.Cell{{State: s.stage(x)}, {Text: of}, {Text: site, Link: page}, {Text: "salt passage"}, {Text: figure}, {Text: half}, {Text: "%"}, {Text: p.span()}, {},
				{Text: ageText(s.now.Sub(p.Sampled.Time))}, {Text: next}})
		}
	}
	if len(s.folders) == 0 { // without the column of journals
		t.Columns = slices.Delete(t.Columns, 1, 2)
		for i := range t.Rows {
			t.Rows[i] = slices.Delete(t.Rows[i], 1, 2)
		}
	}
	if fine > 0 {
		t.Notes = append(t.Notes, fmt.Sprintf("and %s without anything over a limit: wj status --all", journal.Count(fine, "more tap")))
	}
	d.Table("", t)
}

// stage is the mark of what treatment lets through: over where the linter found it so, else none.
func (s *Status) stage(x *StatusSite) render.State {
	if slices.ContainsFunc(s.Findings, func(f SiteFinding) bool { return f.Site == x.ID && f.Journal == x.Journal && f.Rule == "limit/stage" }) {
		return render.Over
	}
	return render.Plain
}

func (p *SaltPassage) span() string {
	if p.Lowest == nil {
		return ""
	}
	text, half := p.Newest.Figure()
	if half != "" {
		text = half
	}
	low, high := like(float64(*p.Lowest), text), like(float64(*p.Highest), text)
	if low == high {
		return low
	}
	return low + "–" + high
}

// looks says what to look at: each result that is not within its limits, then what lint rules found in the newest sessions.
func (s *Status) looks(d *render.Document, all bool) {
	label := "look at"
	for i := range s.Sites {
		x := &s.Sites[i]
		for _, r := range x.shown(all) {
			if r.overall <= judge.Within {
				continue
			}
			text := fmt.Sprintf("%s: %s is %s", of(x.Journal, x.ID), r.Title, r.worst().words())
			if r.Trend == "rising" || r.Trend == "falling" {
				text += ", " + r.Trend
			}
			d.Command(label, text, s.in(x.Journal, "wj chart "+r.Analyte+" --site "+x.ID))
			label = ""
		}
	}
	for i, f := range s.Findings {
		if i == fewFindings && !all {
			d.Command(label, "and "+journal.Count(len(s.Findings)-fewFindings, "more finding"), s.in(f.Journal, "wj lint"))
			break
		}
		text := fmt.Sprintf("%s: %s", of(f.Journal, f.Site), f.Message)
		if f.Help != "" {
			text += ". " + sentence(f.Help)
		}
		d.Command(label, strings.TrimSuffix(text, ".")+".", s.in(f.Journal, "wj show "+f.Session))
		label = ""
	}
}

// verbs are the labels of tasks, by topic.
var verbs = map[string]string{"bench": "finish", "tests": "test", "lots": "lots", "changes": "changes", "actions": "actions", "reports": "reports", "git": "commit"}

// tasks lists what there is to do, by topic, the topics with something urgent first.
func (s *Status) tasks(d *render.Document, all bool) {
	var topics []string
	of := map[string][]Task{}
	for _, t := range s.Tasks {
		if of[t.Topic] == nil {
			topics = append(topics, t.Topic)
		}
		of[t.Topic] = append(of[t.Topic], t)
	}
	for _, topic := range topics {
		label := cmp.Or(verbs[topic], topic)
		for i, t := range of[topic] {
			if i == fewTasks && !all {
				d.Command("", fmt.Sprintf("and %d more", len(of[topic])-fewTasks), "wj status --all")
				break
			}
			text := strings.TrimPrefix(t.Journal+": ", ": ") + t.Text
			if t.Urgent {
				text = "! " + strings.Replace(text, "! ", "", 1)
			}
			d.Command(label, text, t.Next)
			label = ""
		}
	}
}
