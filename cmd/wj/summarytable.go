package main

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/water"
)

// sitesAcross is how many sites stand beside each other in a table of an A4 sheet.
const sitesAcross = 6

// tables writes the figures: of one site with all that is known of each value, of
// several with the sites beside each other.
func (s *summary) tables(b *strings.Builder, room pageRoom) {
	if len(s.Sites) == 1 {
		s.siteTable(b, s.Sites[0], room)
		return
	}
	for i := 0; i < len(s.Sites); i += sitesAcross {
		s.matrix(b, s.Sites[i:min(i+sitesAcross, len(s.Sites))], room, i)
	}
}

func openTable(b *strings.Builder, id, title, label, caption string) {
	fmt.Fprintf(b, "<section aria-labelledby=\"%s\">\n<h2 id=\"%s\">%s</h2>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"%s\"><table><caption>%s</caption>\n<thead><tr>", id, id, escaped(title), escaped(label), escaped(caption))
}

const closeTable = "</tbody></table></div>\n</section>\n"

// siteTable is the table of one site.
func (s *summary) siteTable(b *strings.Builder, site summarySite, room pageRoom) {
	openTable(b, "s0", site.Name, "results at "+site.Name, site.Stage+", "+count(site.Sessions, "session"))
	b.WriteString("<th scope=\"col\">value</th><th scope=\"col\" class=\"n\">newest</th><th scope=\"col\">unit</th><th scope=\"col\" class=\"n\">on</th><th scope=\"col\" class=\"n\">in this time</th><th scope=\"col\" class=\"rule\">limit, and the newest</th></tr></thead>\n<tbody>\n")
	for _, r := range site.Rows {
		span := r.span()
		if span == "" {
			span = "beyond the range"
		}
		var limits []string
		for _, l := range r.Limits {
			limits = append(limits, outsideMark(l, escaped(l.String())))
		}
		fmt.Fprintf(b, "<tr%s><th scope=\"row\">%s</th><td class=\"n\">%s</td><td>%s</td><td class=\"n\">%s</td><td class=\"n\">%s</td><td class=\"rule\">%s</td></tr>\n",
			restClass(room.without[r.Analyte]), escaped(r.name()), escaped(r.newest()), escaped(r.Unit), day(r.On), escaped(span), strings.Join(limits, "<br>"))
	}
	b.WriteString(closeTable)
}

// outsideMark sets a text apart where the result is beyond the limit or cannot be told from it.
func outsideMark(l summaryLimit, text string) string {
	switch {
	case l.Conformity.Outside():
		return "<span class=\"over\">" + text + "</span>"
	case !l.kept():
		return "<span class=\"over\">? " + text + "</span>"
	}
	return text
}

// matrix is a table of several sites: a row for each value, a column for each site.
func (s *summary) matrix(b *strings.Builder, sites []summarySite, room pageRoom, number int) {
	id := fmt.Sprintf("m%d", number)
	openTable(b, id, "Newest results", "newest results by site", "Newest result; below it the least and the greatest of this time, and its day where it is not that of the column.")
	b.WriteString("<th scope=\"col\">value</th>")
	newest := make([]time.Time, len(sites))
	for i, site := range sites {
		newest[i] = site.usualDay()
		fmt.Fprintf(b, "<th scope=\"col\" class=\"n\">%s<small>%s</small><small>%s</small></th>", escaped(site.Name), escaped(count(site.Sessions, "session")), newest[i].Format("2 Jan 2006"))
	}
	b.WriteString("<th scope=\"col\" class=\"rule\">limits</th></tr></thead>\n<tbody>\n")
	for _, v := range valuesOf(sites) {
		var cells, rules []string
		tested, ruled := 0, map[string][]string{} // where a limit holds
		title := ""
		for i := range sites {
			r := sites[i].row(v)
			if r == nil {
				cells = append(cells, "<td class=\"n soft\"><span aria-label=\"not tested\">–</span></td>")
				continue
			}
			tested++
			title = escaped(r.Title)
			if r.Unit != "" {
				title += "<small>" + escaped(r.Unit) + "</small>"
			}
			cell := escaped(r.newest())
			if r.Derived {
				cell += "<abbr title=\"computed\">*</abbr>"
			}
			below := r.span()
			if below == r.Latest {
				below = ""
			}
			if day(r.On) != day(newest[i]) {
				below = strings.TrimSpace(below + " on " + r.On.Format("2 Jan"))
			}
			if below != "" {
				cell += "<small>" + escaped(below) + "</small>"
			}
			for _, l := range r.Limits {
				if !l.kept() {
					cell += "<small>" + outsideMark(l, escaped(l.Conformity.String()+" "+l.Bound)) + "</small>"
				}
				if rule := l.Rule; ruled[rule] == nil {
					rules = append(rules, rule)
				}
				ruled[l.Rule] = append(ruled[l.Rule], sites[i].Name)
			}
			cells = append(cells, "<td class=\"n\">"+cell+"</td>")
		}
		for i, rule := range rules {
			if at := ruled[rule]; len(at) < tested {
				rules[i] += " at " + strings.Join(at, ", ")
			}
		}
		fmt.Fprintf(b, "<tr%s><th scope=\"row\">%s</th>%s<td class=\"rule\">%s</td></tr>\n", restClass(room.without[v]), title, strings.Join(cells, ""), escaped(strings.Join(rules, "; ")))
	}
	b.WriteString(closeTable)
}

// usualDay is the day of most of the newest results: the last whole session.
func (s *summarySite) usualDay() (usual time.Time) {
	on := map[string]int{}
	for _, r := range s.Rows {
		on[day(r.On)]++
	}
	for _, r := range s.Rows {
		if n := on[day(r.On)]; n > on[day(usual)] || n == on[day(usual)] && r.On.After(usual) {
			usual = r.On
		}
	}
	return usual
}

// row is the row of a value; nil where it was not tested.
func (s *summarySite) row(id water.ID) *summaryRow {
	for i := range s.Rows {
		if s.Rows[i].Analyte == id {
			return &s.Rows[i]
		}
	}
	return nil
}

// valuesOf lists what was tested at any of the sites, in the order of the analytes.
func valuesOf(sites []summarySite) []water.ID {
	var ids []water.ID
	for _, site := range sites {
		for _, r := range site.Rows {
			if !slices.Contains(ids, r.Analyte) {
				ids = append(ids, r.Analyte)
			}
		}
	}
	sort.Slice(ids, func(a, b int) bool { return ids[a] < ids[b] })
	return ids
}

// pageRoom is what has room on one A4 sheet.
type pageRoom struct {
	charts, items, letters int
	without                map[water.ID]bool
	leftOut                string
}

// chartsOnPage is how many charts the page has on a screen.
const chartsOnPage = 4

// Heights on the printed sheet in mm, of summaryStyle's sizes (1 pt = 0.353 mm) in a
// broad typeface.
const (
	sheetHeight  = 297 - 2*10 - 5 // less a little, for other fonts
	headHeight   = 13.0
	tableHead    = 24.0
	rowHeight    = 6.6
	verdictLine  = 2.8
	lineOfText   = 3.8
	chartsHeight = 49.0
	titleHeight  = 6.0
	noteLine     = 3.0
	footMargin   = 5.0
	lineLetters  = 122
	noteLetters  = 140
)

// fit chooses what stands on the sheet: values of least weight leave it, so that the
// charts have room; where even the rest is too much, the lists are cut shorter.
func (s *summary) fit() pageRoom {
	room := pageRoom{items: 5, letters: 320, without: map[water.ID]bool{}}
	tables, wanted := s.tablesHeight(), 0.0
	if len(s.Charts) > 0 {
		wanted = chartsHeight
	}
	text := s.textHeight(room)
	across := float64((len(s.Sites) + sitesAcross - 1) / sitesAcross)
	values := valuesOf(s.Sites)
	var leftOut []string
	for _, id := range leastOnPaper {
		if text+tables+wanted <= sheetHeight {
			break
		}
		if slices.Contains(values, id) && !s.matters(id) {
			if len(leftOut) == 0 {
				text += 2 * noteLine
			}
			room.without[id] = true
			leftOut = append(leftOut, id.Info().Title)
			tables -= across * rowHeight
		}
	}
	if len(leftOut) > 0 {
		room.leftOut = "Also tested, within such limits as there are; more in the journal: " + strings.Join(leftOut, ", ") + "."
	}
	for text+tables > sheetHeight && room.items > 2 {
		room.items--
		room.letters -= 60
		text = s.textHeight(room) + 2*noteLine
	}
	room.charts = min(max(0, int((sheetHeight-text-tables)/chartsHeight))*2, chartsOnPage)
	return room
}

// textHeight is how high everything but tables and charts is.
func (s *summary) textHeight(room pageRoom) float64 {
	lines := func(letters, perLine int) float64 { return float64(1 + letters/perLine) }
	high := headHeight + footMargin
	for _, l := range s.Lead {
		high += lines(len([]rune(l)), lineLetters) * lineOfText
	}
	for _, part := range s.sections() {
		if len(part.items) == 0 {
			continue
		}
		high += titleHeight
		for _, d := range part.items[max(len(part.items)-room.items, 0):] {
			high += lines(min(len([]rune(d.Text)), room.letters+20)+11, lineLetters) * lineOfText
		}
		if len(part.items) > room.items {
			high += lineOfText
		}
		if part.after != "" {
			high += lineOfText
		}
	}
	for _, n := range append(s.notes(), s.LeftOut...) {
		high += lines(len([]rune(n)), noteLetters) * noteLine
	}
	return high
}

// tablesHeight is how high the tables are with all their rows.
func (s *summary) tablesHeight() float64 {
	if len(s.Sites) == 1 {
		return tableHead + float64(len(s.Sites[0].Rows))*lineOfText*1.1
	}
	high := 0.0
	for i := 0; i < len(s.Sites); i += sitesAcross {
		sites := s.Sites[i:min(i+sitesAcross, len(s.Sites))]
		high += tableHead + float64(len(valuesOf(sites)))*rowHeight
		for _, site := range sites {
			for _, r := range site.Rows {
				for _, l := range r.Limits {
					if !l.kept() {
						high += verdictLine
					}
				}
			}
		}
	}
	return high
}

// leastOnPaper are the values that leave the sheet first where room is short: what
// follows from others that stay, and what says least of a brewing water.
var leastOnPaper = []water.ID{water.TurbidityValue, water.Copper, water.Zinc, water.Manganese, water.Silica, water.Phosphate, water.Fluoride, water.SampleTemperature, water.Ammonium, water.Nitrite, water.Potassium,
	water.Iron, water.TotalChlorine, water.DissolvedSolids, water.Bicarbonate, water.Carbonate, water.MagnesiumHardness, water.Calcium, water.Magnesium}

// matters reports whether a value is beyond a limit anywhere.
func (s *summary) matters(id water.ID) bool {
	for i := range s.Sites {
		if r := s.Sites[i].row(id); r != nil {
			for _, l := range r.Limits {
				if !l.kept() {
					return true
				}
			}
		}
	}
	return false
}

// notes are the remarks that explain the page.
func (s *summary) notes() []string {
	var notes []string
	if len(s.Sites) > 1 {
		notes = append(notes, "* is computed from other readings.")
	}
	return append(notes, summaryNote...)
}

// hasLimits tells whether any result is held against a limit.
func (s *summary) hasLimits() bool {
	return slices.ContainsFunc(s.Sites, func(site summarySite) bool {
		return slices.ContainsFunc(site.Rows, func(r summaryRow) bool { return len(r.Limits) > 0 })
	})
}
