package website

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/query/report"
	"wj/render"
	"wj/render/site"
)

// lists are the pages that list the records of a kind; sessions have one a year.
func (m *maker) lists() []site.Page {
	var out []site.Page
	for _, k := range kindOrder {
		if m.counts[k] == 0 {
			continue
		}
		p := site.Page{File: listFile(k), Name: plural(k), Section: "Lists", About: k.What(), Key: k.Folder()}
		d := render.Document{Title: fmt.Sprintf("%s: %d", plural(k), m.counts[k])}
		switch k {
		case journal.KindSession:
			out = append(out, m.years(&d)...)
		default:
			d.Table("", m.table(k))
		}
		p.Document = ready(d)
		out = append(out, p)
	}
	return out
}

// table lists the records of a kind, with links, the newest first where they have a day.
func (m *maker) table(k journal.Kind) render.Table {
	var t render.Table
	switch k {
	case journal.KindChange:
		t.Columns = render.Heads("id", "for", "state", "author", "proposed", "batches#")
		for _, c := range m.j.Changes.List {
			judged := m.changes.Change(c)
			t.Rows = append(t.Rows, cells(c.ID, c.For, report.MarkText(c.Void, judged.Words()), m.j.PersonName(c.Author), report.DayText(c.Proposed), fmt.Sprint(len(judged.Batches))))
		}
	case journal.KindSignoff:
		t.Columns = render.Heads("id", "of", "by", "decision", "standing")
		for _, s := range m.j.Signoffs.List {
			t.Rows = append(t.Rows, cells(s.ID, s.Of, m.j.PersonName(s.By), s.Decision, evidence.Judge(m.j, s, m.Lint.Facts).Standing.String()))
		}
	case journal.KindAnchor:
		t.Columns = render.Heads("id", "on", "by")
		for _, a := range m.j.Anchors.List {
			t.Rows = append(t.Rows, cells(a.ID, report.DayText(a.On), m.j.PersonName(a.By)))
		}
	default:
		t = report.List(m.j, k, "", func(time.Time) bool { return true })
	}
	if slices.Contains([]journal.Kind{journal.KindChange, journal.KindBatch, journal.KindSignoff, journal.KindAnchor, journal.KindEvent, journal.KindAction, journal.KindReport}, k) {
		slices.Reverse(t.Rows)
	}
	for i := len(t.Columns) - 1; i > 0; i-- {
		counted := strings.HasPrefix(t.Columns[i].Head, "used") && m.Extract != nil // of all owners' tests
		if head := t.Columns[i].Head; !m.Contacts && (head == "email" || head == "to") || counted {
			t.Columns = slices.Delete(t.Columns, i, i+1)
			for r := range t.Rows {
				t.Rows[r] = slices.Delete(t.Rows[r], i, i+1)
			}
		}
	}
	for _, row := range t.Rows {
		row[0].Link = report.PageKey(k, row[0].Text)
	}
	m.linkCells(&t, 2, 3)
	return t
}

func cells(texts ...string) []render.Cell {
	row := make([]render.Cell, len(texts))
	for i, t := range texts {
		row[i].Text = t
	}
	return row
}

// years are the pages of sessions by year, the newest first, and their list in d.
func (m *maker) years(d *render.Document) []site.Page {
	byYear := map[int][]*journal.Session{}
	var years []int
	for _, s := range m.j.Sessions.List {
		y := s.Sampled.In(m.j.Settings.Zone).Year()
		if byYear[y] == nil {
			years = append(years, y)
		}
		byYear[y] = append(byYear[y], s)
	}
	slices.Sort(years)
	slices.Reverse(years)
	var pages []site.Page
	var list [][]render.Cell
	for _, y := range years {
		key := fmt.Sprintf("sessions of %d", y)
		one := render.Document{Title: fmt.Sprintf("Sessions of %d: %d", y, len(byYear[y]))}
		t := render.Table{Columns: render.Heads("id", "sampled", "site", "by", "readings#", "what")}
		slices.SortStableFunc(byYear[y], func(a, b *journal.Session) int { return b.Sampled.Compare(a.Sampled) })
		for _, s := range byYear[y] {
			row := cells(s.ID, s.Sampled.In(m.j.Settings.Zone).Format("2006-01-02 15:04"), s.Site, m.j.PersonName(s.By), fmt.Sprint(len(s.Readings)), report.MarkText(s.Void, s.Source+", "+s.Sample))
			row[0].Link, row[2].Link = report.PageKey(journal.KindSession, s.ID), report.PageKey(journal.KindSite, s.Site)
			t.Rows = append(t.Rows, row)
		}
		m.nameSites(&t)
		one.Table("", t)
		pages = append(pages, site.Page{File: fmt.Sprintf("sessions/%d.html", y), Name: fmt.Sprintf("Sessions of %d", y), Section: "Lists", About: journal.Count(len(byYear[y]), "session"), Key: key, Under: listFile(journal.KindSession), Document: ready(one),
			Search: fmt.Sprint(y)})
		list = append(list, []render.Cell{{Text: fmt.Sprint(y), Link: key}, {Text: fmt.Sprint(len(byYear[y]))}})
	}
	d.Table("", render.Table{Columns: render.Heads("year", "sessions#"), Rows: list})
	return pages
}
