package website

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/lint"
	"wj/query/report"
	"wj/render"
	"wj/render/site"
)

// fewNews is how many decisions and events the first page has.
const fewNews = 6

// home is the first page: the state of the water, what waits, what was decided and what happened.
func (m *maker) home() site.Page {
	d := m.status.Document(true)
	asOf := d.Title
	d.Title, d.Lead = d.Lead[0], append(d.Lead[1:], fmt.Sprintf("%s. Newest result of the value that matters most at each tap.", asOf))
	named := false
	for i := range d.Blocks {
		b := &d.Blocks[i]
		if b.Table != nil && i == 0 {
			b.Heading = "Water"
			m.nameSites(b.Table)
		}
		if b.Fact != nil && !named {
			named = true
			d.Blocks = slices.Insert(d.Blocks, i, render.Block{Heading: "To look at and to do"})
			break
		}
	}
	var decided, happened [][]render.Cell
	signed := slices.Clone(m.j.Signoffs.List)
	slices.SortStableFunc(signed, func(a, b *journal.Signoff) int { return b.On.Compare(a.On) })
	for _, s := range signed {
		c, ok := m.j.Changes.Get(s.Of)
		if !ok || len(decided) == fewNews || s.Decision != journal.DecidedAccepted && s.Decision != journal.DecidedRefused {
			continue
		}
		decided = append(decided, []render.Cell{{Text: report.DayText(s.On.In(m.j.Settings.Zone))}, {Text: c.ID, Link: report.PageKey(journal.KindChange, c.ID)}, {Text: s.Decision + " by " + m.j.PersonName(s.By)}})
	}
	type news struct {
		on   time.Time
		row  []render.Cell
		rank int
	}
	var all []news
	add := func(on time.Time, kind journal.Kind, id, what string) {
		all = append(all, news{on, []render.Cell{{Text: report.DayText(on.In(m.j.Settings.Zone))}, {Text: what, Link: report.PageKey(kind, id)}}, len(all)})
	}
	for _, e := range m.j.Events.List {
		if e.Void == nil {
			add(e.On, journal.KindEvent, e.ID, e.What)
		}
	}
	for _, a := range m.j.Actions.List {
		if a.Closed != nil {
			add(a.Closed.On, journal.KindAction, a.ID, "closed: "+a.Deviation)
		} else if a.Void == nil {
			add(a.Opened, journal.KindAction, a.ID, "open: "+a.Deviation)
		}
	}
	slices.SortFunc(all, func(a, b news) int { return cmp.Or(b.on.Compare(a.on), cmp.Compare(a.rank, b.rank)) })
	for _, n := range all[:min(len(all), fewNews)] {
		happened = append(happened, n.row)
	}
	rows(&d, "Decided", []string{"on", "change", "decision"}, decided)
	rows(&d, "Happened", []string{"on", "what"}, happened)
	var kinds [][]render.Cell
	for _, k := range kindOrder {
		if n := m.counts[k]; n > 0 {
			kinds = append(kinds, []render.Cell{{Text: plural(k), Link: k.Folder()}, {Text: fmt.Sprint(n)}, {Text: k.What()}})
		}
	}
	d.Blocks = append(d.Blocks, render.Block{Heading: "All records", Table: &render.Table{Columns: render.Heads("kind", "records#", "what"), Rows: kinds}})
	return site.Page{File: homeFile, Name: "Water", Section: "Start", About: "the state of the water and what waits", Document: ready(d), After: site.FindForm(findFile, "Find a tap, lot, batch, person or word")}
}

// nameSites writes the names of sites in place of their ids.
func (m *maker) nameSites(t *render.Table) {
	for _, row := range t.Rows {
		for k := range row {
			id, is := strings.CutPrefix(row[k].Link, journal.KindSite.Folder()+"/")
			if s, ok := m.j.Sites.Get(id); is && ok && s.Name != "" {
				row[k].Text = s.Name
			}
		}
	}
}

// wallSeconds is after how long a screen on the wall reads its page again.
const wallSeconds = 60

// wall is a page to be read from across a room: each tap's value that matters most, and what is to do.
func (m *maker) wall() site.Page {
	board := m.status.Document(false)
	d := render.Document{Title: board.Title, Lead: board.Lead}
	for _, b := range board.Blocks {
		if b.Table == nil {
			continue
		}
		m.nameSites(b.Table)
		t := render.Table{}
		for i, c := range b.Table.Columns {
			if c.Drop == 0 || c.Head == "age" {
				t.Columns = append(t.Columns, c)
				for k, row := range b.Table.Rows {
					if len(t.Rows) <= k {
						t.Rows = append(t.Rows, nil)
					}
					row[i].Link = ""
					t.Rows[k] = append(t.Rows[k], row[i])
				}
			}
		}
		d.Table("", t)
	}
	var todo []string
	for _, t := range m.status.Tasks {
		if len(todo) < 5 {
			todo = append(todo, strings.TrimPrefix(t.Text, "! "))
		}
	}
	if n := len(m.status.Tasks) - len(todo); n > 0 {
		todo = append(todo, fmt.Sprintf("and %d more", n))
	}
	d.Items("To do", todo)
	d.Paragraph("", "Written %s. This page shows what was known then.", m.Now.Format("2 January 2006, 15:04"))
	return site.Page{File: wallFile, Name: "Wall", Section: "Start", About: "for a screen on the wall", Document: ready(d), Refresh: wallSeconds, Class: "wall"}
}

// findings are the page of what the linter finds, and the pages of the rules that found something.
func (m *maker) findings() []site.Page {
	d := render.Document{Title: "Lint findings"}
	counts := map[lint.Severity]int{}
	byRule := map[string][]lint.Diagnostic{}
	for _, x := range m.all {
		counts[x.Severity]++
		byRule[x.Rule] = append(byRule[x.Rule], x)
	}
	d.Title = fmt.Sprintf("%s, %s and %s in %s", journal.Count(counts[lint.Error], "error"), journal.Count(counts[lint.Warning], "warning"), journal.Count(counts[lint.Info], "note"), journal.Count(len(m.j.Files), "record"))
	if len(m.all) == 0 {
		d.Title = "The linter finds nothing in " + journal.Count(len(m.j.Files), "record")
	}
	var order []string
	for rule := range byRule {
		order = append(order, rule)
	}
	worst := func(rule string) (at lint.Severity) {
		for _, x := range byRule[rule] {
			at = max(at, x.Severity)
		}
		return at
	}
	slices.SortFunc(order, func(a, b string) int { return cmp.Or(cmp.Compare(worst(b), worst(a)), strings.Compare(a, b)) })
	var pages []site.Page
	for _, rule := range order {
		var list [][]render.Cell
		for _, x := range slices.Backward(byRule[rule]) {
			if len(list) == mostResults {
				break
			}
			name, link := x.Path, ""
			if f, ok := journal.FileOf(x.Path); ok {
				name, link = f.ID, report.PageKey(f.Kind, f.ID)
			}
			list = append(list, []render.Cell{{Text: name, Link: link}, {Text: fmt.Sprint(x.Line)}, {Text: sentence(x.Message) + behind(" Next: ", sentence(x.Help))}})
		}
		heading := fmt.Sprintf("%s %s", worst(rule), rule)
		if n := len(byRule[rule]); n > len(list) {
			heading += fmt.Sprintf(", the newest %d of %d", len(list), n)
		}
		if page, ok := lint.Page(rule); ok && m.Extract == nil {
			d.Blocks = append(d.Blocks, render.Block{Heading: heading, Passage: "What it checks: `" + rule + "`"})
			heading = ""
			pages = append(pages, site.Page{Section: "Rules", Name: rule, Markdown: page, Under: findingsFile})
		}
		rows(&d, heading, []string{"record", "line#", "finding"}, list)
	}
	return append([]site.Page{{File: findingsFile, Name: "Findings", Section: "Start", About: d.Title, Document: ready(d)}}, pages...)
}

func sentence(s string) string {
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return journal.Capital(s) + "."
}

func behind(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text
}
