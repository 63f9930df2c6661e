package report

import (
	"slices"

	"wj/journal"
	"wj/lint"
	"wj/query"
	"wj/render"
	"wj/water"
)

// SiteCharts are the charts of values at a site over all its time, in the order of the names. found are the findings of the whole
// journal by path. A value that has no result there has no chart.
func SiteCharts(j *journal.Journal, site *journal.Site, values []string, found map[string][]lint.Diagnostic) ([]*Chart, error) {
	ids, err := ChartValues(values)
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	units := map[water.ID]water.Unit{}
	for _, id := range ids {
		units[id] = j.Preferred(site.Owner, id)
	}
	series, err := query.Histories(j, query.SeriesRequest{Sites: []string{site.ID}, Analytes: ids, Units: units})
	if err != nil {
		return nil, err
	}
	found = rings(found)
	var out []*Chart
	for _, id := range ids {
		at := slices.IndexFunc(series, func(s *query.Series) bool { return s.Analyte == id && len(s.Points) > 0 })
		if at < 0 {
			continue
		}
		c := &Chart{Kind: "control", Title: SiteLine(j, site, series[at]) + " · " + title(id)}
		if c.Control, err = NewControlChart(j, site, series[at], journal.Span{}.Since, journal.Span{}.Until, found); err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

// rings are the findings that charts mark: of the rules that historyFindings asks.
func rings(found map[string][]lint.Diagnostic) map[string][]lint.Diagnostic {
	marks := map[string]bool{}
	for _, r := range lint.Rules() {
		marks[r.Name] = r.Scope == lint.History || r.Family == lint.FamilyCause
	}
	out := map[string][]lint.Diagnostic{}
	for path, list := range found {
		for _, d := range list {
			if marks[d.Rule] {
				out[path] = append(out[path], d)
			}
		}
	}
	return out
}

// Drawings lay the chart out for a page and for a telephone.
func (c *Chart) Drawings() (wide, narrow render.Drawing) {
	wide, narrow = c.drawing(88, 18, 150), c.drawing(40, 16, 60)
	narrow.Width, narrow.Height = 360, 220
	wide.Untitled, narrow.Untitled = true, true
	return wide, narrow
}

// Table is the newest of the results that the chart shows, at most so many, as rows.
func (c *Chart) Table(most int) render.Table {
	t := render.Table{Columns: []render.Column{{}, {Head: "sampled"}, {Head: "result", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"}, {Head: "lot"}, {Head: "source"}}}
	for i := len(c.Control.Points) - 1; i >= 0 && len(t.Rows) < most; i-- {
		p := &c.Control.Points[i]
		value, half := p.Figure()
		row := []render.Cell{markCell(p.conformity), {Text: journal.FormatDate(p.Sampled.Time), Link: PageKey(journal.KindSession, p.Session)}, {Text: value}, {Text: half}, {Text: unitText(c.Control.Unit)},
			{Text: p.Lot}, {Text: p.Source}}
		if p.Lot != "" {
			row[5].Link = PageKey(journal.KindLot, p.Lot)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// PageKey is what cells of documents call the page of a record (render.Cell.Link).
func PageKey(kind journal.Kind, id string) string { return kind.Folder() + "/" + id }
