package exchange

import (
	"fmt"
	"slices"
	"strings"
)

// dayLayouts and clockLayouts are how days and times of day are written. A row's
// text is tried against every pair; where two days fit all rows (7/4 or 4 July?)
// a person must say.
var (
	dayLayouts = []string{"YYYY-MM-DD", "YYYY/MM/DD", "YYYY/M/D", "YYYY.MM.DD", "YYYYMMDD", "D.M.YYYY", "D/M/YYYY", "M/D/YYYY", "D-M-YYYY", "M-D-YYYY", "D-MMM-YYYY", "D MMM YYYY", "D MMMM YYYY", "MMM D, YYYY",
		"MMMM D, YYYY", "D/M/YY", "M/D/YY", "D.M.YY", "D-M-YY", "M-D-YY", "D-MMM-YY"}
	monthLayouts = []string{"MMMM YYYY", "MMM YYYY", "MMM-YY", "MMM YY", "YYYY MMM", "YYYY-MM", "MM/YYYY", "M/YYYY", "MM.YYYY", "M.YYYY"}
	clockLayouts = []string{"", " H:mm", " H:mm:ss", "TH:mm", "TH:mm:ss", "THH:mmoffset", "THH:mm:ssoffset", " h:mm AM", " h:mm:ss AM"}
)

// layoutsFor finds how the texts of a time source are written: for each way to
// write the day that fits all of them, the layouts that occur.
func (g *guesser) layoutsFor(src timeSource) (fit [][]string) {
	n := src.columns[0].n
	for _, day := range append(dayLayouts[:len(dayLayouts):len(dayLayouts)], monthLayouts...) {
		if len(fit) > 0 && slices.Contains(monthLayouts, day) {
			break // M/YYYY is how days are not written
		}
		var used []string
		all := true
	rows:
		for i := range g.lines {
			if g.lines[i].cell(n).Text == "" {
				continue
			}
			for _, clock := range append(used[:len(used):len(used)], clockLayouts...) {
				written := clock
				if !slices.Contains(used, clock) {
					written = day + clock
				}
				layout, err := goLayout(written)
				if err != nil {
					continue
				}
				src.layouts = []string{layout}
				if _, _, _, f := src.moment(&g.lines[i]); f == nil || strings.Contains(f.message, "did not exist") {
					if !slices.Contains(used, written) {
						used = append(used, written)
					}
					continue rows
				}
			}
			all = false
			break
		}
		if all && len(used) > 0 {
			fit = append(fit, used)
			if strings.HasPrefix(day, "YYYY") {
				break
			}
		}
	}
	return fit
}

// dateByContent finds the column whose head says nothing, but whose cells are all
// dates; one whose head has a word of dates in it comes first.
func (g *guesser) dateByContent() (n int, ok bool) {
	found := -1
	for i, name := range g.names {
		if g.used[i] || name == "" || g.distinct(i, 1) == nil {
			continue
		}
		if _, _, _, result := readHead(name); result {
			continue
		}
		if len(g.layoutsFor(timeSource{columns: []column{{name: name, n: i}}, zone: g.j.Settings.Zone, clock: "12:00"})) == 0 {
			continue
		}
		for _, word := range []string{"date", "datum", "fecha", "sampl", "collect", "time"} {
			if strings.Contains(foldName(name), word) {
				return i, true
			}
		}
		if found < 0 {
			found = i
		}
	}
	return found, found >= 0
}

// time finds the column of the time and how it is written.
func (g *guesser) time() {
	n, ok := g.role["date"]
	if month, by := g.role["month"]; by && !ok {
		g.used[month] = true
		g.sampledByMonth(month)
		return
	}
	if _, years := g.role["year"]; !ok && !years {
		if n, ok = g.dateByContent(); ok {
			g.role["date"], g.used[n] = n, true
		}
	}
	year, hasYear := g.role["year"]
	zone := g.j.Settings.Timezone
	switch {
	case ok:
	case hasYear:
		g.used[year] = true
		g.d.line("sampled:")
		g.d.line("  column: %s", quoteHead(g.names[year]))
		g.d.line("  layout: YYYY")
		g.d.ask(`  day: "07-01"`, "the file has only a year: which day is to be taken? it is noted in each record")
		g.d.ask(`  at: "12:00"`, "and which time of day?")
		g.zone(zone)
		return
	default:
		g.d.ask("sampled:", `no column holds dates: write {column: HEAD, layout: "YYYY-MM-DD HH:mm", zone: Europe/Vilnius}, or one time for the whole file, such as 2026-03-04T12:00+02:00`)
		return
	}
	src := timeSource{columns: []column{{name: g.names[n], n: n}}, zone: g.j.Settings.Zone, clock: "12:00"}
	if k, ok := g.role["time"]; ok && k != n {
		src.columns = append(src.columns, column{name: g.names[k], n: k})
	}
	clock := false
	for i := range g.lines {
		clock = clock || g.lines[i].cell(n).Clock
	}
	fit := g.layoutsFor(src)
	g.d.line("sampled:")
	if len(src.columns) == 2 {
		g.d.line("  columns: [%s, %s]", quoteHead(src.columns[0].name), quoteHead(src.columns[1].name))
	} else {
		g.d.line("  column: %s", quoteHead(src.columns[0].name))
	}
	written := make([]string, len(fit))
	for i, layouts := range fit {
		quoted := make([]string, len(layouts))
		for k, l := range layouts {
			quoted[k] = fmt.Sprintf("%q", l)
			clock = clock || strings.Contains(l, "mm")
		}
		if written[i] = quoted[0]; len(quoted) > 1 {
			written[i] = "[" + strings.Join(quoted, ", ") + "]"
		}
	}
	sample := firstOf(g.distinct(n, 1))
	switch len(fit) {
	case 0:
		g.d.ask("  layout:", fmt.Sprintf("how is %q written? such as DD.MM.YYYY HH:mm", sample))
	case 1:
		g.d.line("  layout: %s", written[0])
	default:
		g.d.ask("  layout:", fmt.Sprintf("%q can be read as %s", sample, strings.Join(written, " or ")))
	}
	if len(fit) > 0 && slices.Contains(monthLayouts, strings.Trim(written[0], `"`)) {
		g.d.ask(`  day: "01-15"`, "the file has only months: which day is to be taken? the month is the file's; it is noted in each record")
	}
	g.zone(zone)
	if len(fit) > 0 && !clock {
		g.d.ask(`  at: "12:00"`, "the file has no time of day: which is to be taken? it is noted in each record")
	}
}

func (g *guesser) zone(zone string) {
	if zone == "" {
		g.d.ask("  zone:", "in which zone are the times? such as Europe/Vilnius")
		return
	}
	g.d.ask("  zone: "+zone, "the journal's zone: are the file's times of it?")
}
