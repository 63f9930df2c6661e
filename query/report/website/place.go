package website

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/query/report"
	"wj/render"
)

// site adds to a site's newest results a chart of each value with its results, what happened there, the lots that were used,
// and its sessions; the record itself comes last.
func (m *maker) site(d *render.Document, s *journal.Site, r *report.Record) error {
	record := *d
	d.Title = cmp.Or(s.Name, s.ID)
	about := journal.Capital(strings.ReplaceAll(s.Stage, "-", " ")) + " · " + s.ID
	if o, ok := m.j.Owners.Get(s.Owner); ok {
		about += " · water of " + o.Name
	}
	d.Lead = append(d.Lead, about)
	d.Blocks = slices.DeleteFunc(slices.Clone(d.Blocks), func(b render.Block) bool {
		return b.Fact != nil && (b.Fact.Label == "file" || b.Fact.Label == "more" || b.Fact.Label == "lint" || b.Fact.Label == "") || b.Passage != "" ||
			b.Table != nil && len(b.Table.Columns) == 2 && b.Table.Columns[0].Head == "field"
	})
	if len(d.Blocks) > 0 && d.Blocks[0].Table != nil {
		d.Blocks[0].Heading = "Newest results"
		for i, row := range d.Blocks[0].Table.Rows {
			if i < len(r.Results) {
				row[1].Link, row[len(row)-1].Link = "#"+r.Results[i].Analyte, report.PageKey(journal.KindSession, r.Results[i].Session)
			}
		}
	}
	var values []string
	for _, x := range r.Results {
		values = append(values, x.Analyte)
	}
	charts, err := report.SiteCharts(m.j, s, values, m.found)
	if err != nil {
		return err
	}
	for _, c := range charts {
		wide, narrow := c.Drawings()
		unit := ""
		if c.Control.Unit != "" && c.Control.Unit != "1" {
			unit = ", " + render.Unit(c.Control.Unit)
		}
		d.Blocks = append(d.Blocks, render.Block{Anchor: c.Control.Value, Heading: strings.ReplaceAll(journal.Capital(c.Control.Value), "_", " ") + unit, Drawing: &wide, Narrow: &narrow, Lines: 16})
		t := c.Table(mostResults)
		words := journal.Count(len(c.Control.Points), "result") + " as a table"
		if n := len(c.Control.Points); n > mostResults {
			words = fmt.Sprintf("the newest %d of %d results as a table", mostResults, n)
		}
		d.Blocks = append(d.Blocks, render.Block{Fold: words, Table: &t})
	}
	m.happened(d, s)
	m.lotsAt(d, s)
	m.sessions(d, "Sessions", m.bySite[s.ID])
	for _, b := range record.Blocks {
		if b.Passage != "" || b.Fact != nil && b.Fact.Label == "lint" {
			d.Blocks = append(d.Blocks, b)
		}
	}
	*d = folded(*d, record, "The record")
	return nil
}

// happened are the events at a site and its supply, the newest first.
func (m *maker) happened(d *render.Document, s *journal.Site) {
	var list [][]render.Cell
	for _, e := range slices.Backward(m.j.Events.List) {
		if slices.Contains(e.Sites, s.ID) {
			text := e.What
			if e.Void != nil {
				text = "void: " + e.Void.Reason
			}
			list = append(list, []render.Cell{{Text: report.DayText(e.On)}, {Text: text, Link: report.PageKey(journal.KindEvent, e.ID)}, {Text: m.j.PersonName(e.By)}})
		}
	}
	rows(d, "Events", []string{"on", "what", "by"}, list)
	list = nil
	for _, x := range slices.Backward(s.Supply) {
		list = append(list, []render.Cell{{Text: report.DayText(x.Since)}, {Text: report.DayText(x.Until)}, {Text: x.Regime}, {Text: x.Evidence}})
	}
	rows(d, "Supply", []string{"since", "until", "regime", "evidence"}, list)
}

// lotsAt are the lots that a site's readings were made with, the newest first.
func (m *maker) lotsAt(d *render.Document, s *journal.Site) {
	type use struct {
		id, first, last string
		n               int
	}
	uses := map[string]*use{}
	for _, x := range m.bySite[s.ID] {
		day := report.DayText(x.Sampled.In(m.j.Settings.Zone))
		for i := range x.Readings {
			id := x.Readings[i].Lot
			if id == "" {
				continue
			}
			u := uses[id]
			if u == nil {
				u = &use{id: id, first: day}
				uses[id] = u
			}
			u.n += x.Readings[i].Taken()
			u.first, u.last = min(u.first, day), max(u.last, day)
		}
	}
	var list []*use
	for _, u := range uses {
		list = append(list, u)
	}
	slices.SortFunc(list, func(a, b *use) int { return cmp.Or(cmp.Compare(b.last, a.last), cmp.Compare(a.id, b.id)) })
	var out [][]render.Cell
	for _, u := range list {
		what := ""
		if l, ok := m.j.Lots.Get(u.id); ok {
			var names []string
			for _, id := range l.Analytes {
				names = append(names, strings.ReplaceAll(id.String(), "_", " "))
			}
			what = strings.Join(names, ", ")
			if l.Recalled != nil {
				what += ", recalled " + report.DayText(l.Recalled.On)
			}
		}
		out = append(out, []render.Cell{{Text: u.id, Link: report.PageKey(journal.KindLot, u.id)}, {Text: what}, {Text: fmt.Sprint(u.n)}, {Text: u.first}, {Text: u.last}})
	}
	rows(d, "Lots used here", []string{"lot", "for", "tests#", "first", "last"}, out)
}
