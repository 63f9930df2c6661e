package exchange

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/render"
	"wj/water"
)

// draftMap is a map in the making: lines of YAML with remarks where something
// must be said by a person.
type draftMap struct {
	b      strings.Builder
	unsure int
}

func (d *draftMap) line(format string, args ...any) { fmt.Fprintf(&d.b, format+"\n", args...) }

// ask writes a line that is not yet right; the remark says what to do.
func (d *draftMap) ask(line, remark string) {
	d.unsure++
	d.b.WriteString(line + "  # ? " + render.Line(remark) + "\n")
}

func quoteHead(s string) string { return frontmatter.Quote(render.Line(s)) }

// Guess drafts a map for a sheet: which column holds what, judged by its head and
// by what stands in it. What must be looked at by a person is marked with a
// question; where nothing could be proposed (a unit that no head names) the line
// is left empty, and the map does not import until it is filled in. unsure counts
// the questions.
func Guess(j *journal.Journal, s *Sheet, file, by string) (yaml []byte, unsure int, err error) {
	rows, names := guessHeader(s)
	if rows == nil {
		return nil, 0, fmt.Errorf("no row looks like heads: none names two things that are tested")
	}
	_, first, failed := heads(s, rows)
	if failed != nil {
		return nil, 0, failed
	}
	g := &guesser{j: j, s: s, names: names, lines: s.Lines[first:], role: map[string]int{}, d: &draftMap{}, used: map[int]bool{}}
	d := g.d
	d.line("# map of %s, drafted by wj import --guess: answer what is marked with ?", render.Line(file))
	if s.Name != "" {
		d.line("sheet: %s", quoteHead(s.Name))
	}
	if len(rows) == 1 {
		d.line("header: %d", rows[0])
	} else {
		d.line("header: [%d, %d]  # the heads take two rows", rows[0], rows[1])
	}
	g.roles()
	g.decimal()
	d.ask("source: lab", "lab, utility or bench: whose figures are they?")
	g.laboratory()
	if by != "" {
		d.line("by: %s", frontmatter.Quote(by))
	} else {
		d.ask("by:", "who answers for these records? an id of people/")
	}
	g.site()
	g.time()
	if n, ok := g.role["group"]; ok {
		d.line("group: [%s]  # tells samples of one site and time apart", quoteHead(names[n]))
	}
	if n, ok := g.role["note"]; ok {
		d.line("notes: [%s]", quoteHead(names[n]))
	}
	g.texts()
	_, long1 := g.role["name"]
	_, long2 := g.role["value"]
	if long1 && long2 {
		g.long()
	} else {
		g.wide()
	}
	g.rest()
	return []byte(d.b.String()), d.unsure, nil
}

// guesser holds what is known of the sheet while a map is drafted.
type guesser struct {
	j     *journal.Journal
	s     *Sheet
	names []string
	lines []Line
	role  map[string]int // role → column
	used  map[int]bool
	d     *draftMap
}

// guessHeader finds the row (or two) among the first forty whose cells name the
// most things that are known.
func guessHeader(s *Sheet) (rows []int, names []string) {
	best, bestScore := -1, 1
	for i := range s.Lines {
		if i == 40 {
			break
		}
		score := 0
		for _, c := range s.Lines[i].Cells {
			if _, _, _, ok := readHead(c.Text); ok {
				score += 2
			} else if roleNamed(c.Text) != "" {
				score += 2
			}
		}
		if score > bestScore {
			best, bestScore = i, score
		}
	}
	if best < 0 {
		return nil, nil
	}
	rows = []int{s.Lines[best].Number}
	if best+1 < len(s.Lines) { // a row of units below the names
		units := 0
		for _, c := range s.Lines[best+1].Cells {
			if _, ok := water.ParseUnit(strings.Trim(c.Text, "()[]")); ok {
				units++
			}
		}
		if units >= 2 {
			rows = append(rows, s.Lines[best+1].Number)
		}
	}
	names, _, err := heads(s, rows)
	if err != nil {
		return nil, nil
	}
	return rows, names
}

// roles finds the columns that are no results; the first of each role counts.
func (g *guesser) roles() {
	for i, n := range g.names {
		role := roleNamed(n)
		if role == "" {
			continue
		}
		if _, taken := g.role[role]; !taken {
			g.role[role], g.used[i] = i, true
		}
	}
}

// distinct lists the different texts of a column, commonest first, and at most
// limit of them.
func (g *guesser) distinct(column, limit int) []string {
	count := map[string]int{}
	for i := range g.lines {
		if text := g.lines[i].cell(column).Text; text != "" {
			count[text]++
		}
	}
	out := make([]string, 0, len(count))
	for text := range count {
		out = append(out, text)
	}
	sort.Slice(out, func(a, b int) bool {
		if count[out[a]] != count[out[b]] {
			return count[out[a]] > count[out[b]]
		}
		return out[a] < out[b]
	})
	return out[:min(limit, len(out))]
}

// decimal looks for commas in numbers.
func (g *guesser) decimal() {
	comma, point := 0, 0
	for i := range g.lines {
		for _, c := range g.lines[i].Cells {
			text := strings.TrimLeft(c.Text, "<>- ")
			if len(text) < 3 || strings.IndexFunc(text, func(r rune) bool { return (r < '0' || r > '9') && r != ',' && r != '.' }) >= 0 {
				continue
			}
			if strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
				comma++
			} else if strings.Count(text, ".") == 1 && !strings.Contains(text, ",") {
				point++
			}
		}
	}
	switch {
	case comma > 0 && point == 0:
		g.d.ask("decimal: comma", fmt.Sprintf("%d numbers have a comma and none has a point", comma))
	case comma > 0:
		g.d.ask("decimal: point", fmt.Sprintf("%d numbers have a point and %d a comma; if the commas stand between thousands, say thousands: comma", point, comma))
	}
}

func (g *guesser) laboratory() {
	if n, ok := g.role["laboratory"]; ok {
		g.d.line("laboratory: {column: %s}", quoteHead(g.names[n]))
	}
}

// maxListed is how many names of sites or tests a drafted map lists.
const maxListed = 300

func (g *guesser) site() {
	n, ok := g.role["site"]
	if !ok {
		g.d.ask("site:", "an id of sites/ where all rows are of one site, or {column: HEAD}")
		return
	}
	texts := g.distinct(n, maxListed+1)
	byName := map[string]string{}
	for _, s := range g.j.Sites.List {
		byName[strings.ToLower(s.Name)] = s.ID
	}
	var unknown []string
	g.d.line("site:")
	g.d.line("  column: %s", quoteHead(g.names[n]))
	for _, t := range texts {
		if !g.j.Exists(journal.KindSite, t) && byName[strings.ToLower(t)] == "" && !g.j.Exists(journal.KindSite, Slug(t)) {
			unknown = append(unknown, t)
		}
	}
	if len(unknown) == 0 {
		return
	}
	g.d.line("  # no sites of this journal: %s; new_sites below makes them, or say here what they are:", quoteHead(strings.Join(unknown[:min(3, len(unknown))], ", ")))
	g.d.line("  # values: {%s: %s}", quoteHead(unknown[0]), firstNonEmpty(firstOf(g.j.IDs(journal.KindSite)), "north-well"))
	owner := ""
	for _, o := range g.j.Owners.List {
		if o.Self || owner == "" {
			owner = o.ID
		}
	}
	g.d.line("new_sites:")
	g.d.ask("  owner: "+owner, "whose waters are they?")
	g.d.ask("  stage: intake", "where in the plant: "+strings.Join(journal.Stages, ", "))
	_, lat := g.role["latitude"]
	_, lon := g.role["longitude"]
	if lat && lon {
		g.d.line("  latitude: %s", quoteHead(g.names[g.role["latitude"]]))
		g.d.line("  longitude: %s", quoteHead(g.names[g.role["longitude"]]))
	}
}

func firstOf(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

// layouts are tried in this order; where two fit all rows, a person must say.
var guessLayouts = []string{"YYYY-MM-DD", "YYYY-MM-DD HH:mm", "YYYY-MM-DD HH:mm:ss", "YYYY-MM-DDTHH:mm", "YYYY-MM-DDTHH:mm:ss", "YYYY-MM-DDTHH:mmoffset", "YYYY-MM-DDTHH:mm:ssoffset",
	"YYYY/MM/DD", "YYYY/M/D", "YYYYMMDD", "D.M.YYYY", "D.M.YYYY H:mm", "D.M.YYYY H:mm:ss", "D/M/YYYY", "M/D/YYYY", "D/M/YYYY H:mm", "M/D/YYYY H:mm", "D/M/YYYY H:mm:ss", "M/D/YYYY H:mm:ss",
	"M/D/YYYY h:mm AM", "D/M/YYYY h:mm AM", "D-M-YYYY", "M-D-YYYY", "D-MMM-YYYY", "D MMM YYYY", "MMM D, YYYY", "D/M/YY", "M/D/YY", "D.M.YY", "D-MMM-YY"}

// time finds the column of the time and how it is written.
func (g *guesser) time() {
	n, ok := g.role["date"]
	if !ok {
		g.d.ask("sampled:", `write {column: HEAD, layout: "YYYY-MM-DD HH:mm", zone: Europe/Vilnius}`)
		return
	}
	src := timeSource{columns: []column{{name: g.names[n], n: n}}, zone: g.j.Settings.Zone, clock: "12:00"}
	clock := false
	if k, ok := g.role["time"]; ok {
		src.columns = append(src.columns, column{name: g.names[k], n: k})
	}
	var fit []string
	filled := 0
	for i := range g.lines {
		c := g.lines[i].cell(n)
		if c.Text != "" {
			filled++
		}
		clock = clock || c.Clock
	}
	for _, written := range guessLayouts {
		for _, tail := range []string{"", " H:mm", " H:mm:ss"} {
			if tail != "" && (len(src.columns) == 1 || strings.Contains(written, "mm")) {
				continue
			}
			layout, err := goLayout(written + tail)
			if err != nil {
				continue
			}
			src.layouts = []string{layout}
			good := 0
			for i := range g.lines {
				if g.lines[i].cell(n).Text == "" {
					continue
				}
				if _, _, _, f := src.moment(&g.lines[i]); f != nil && !strings.Contains(f.message, "did not exist") {
					break
				}
				good++
			}
			if good == filled && filled > 0 && !slices.Contains(fit, written+tail) {
				fit = append(fit, written+tail)
			}
		}
		if len(fit) > 0 && strings.HasPrefix(fit[0], "YYYY") {
			break
		}
	}
	g.d.line("sampled:")
	if len(src.columns) == 2 {
		g.d.line("  columns: [%s, %s]", quoteHead(src.columns[0].name), quoteHead(src.columns[1].name))
	} else {
		g.d.line("  column: %s", quoteHead(src.columns[0].name))
	}
	sample := firstOf(g.distinct(n, 1))
	switch len(fit) {
	case 0:
		g.d.ask("  layout:", fmt.Sprintf("how is %q written? such as DD.MM.YYYY HH:mm", sample))
	case 1:
		g.d.line("  layout: %q", fit[0])
	default:
		g.d.ask("  layout:", fmt.Sprintf("%q can be read as %s", sample, strings.Join(fit, " or ")))
	}
	zone := g.j.Settings.Timezone
	if zone == "" {
		g.d.ask("  zone:", "in which zone are the times? such as Europe/Vilnius")
	} else {
		g.d.ask("  zone: "+zone, "the journal's zone: are the file's times of it?")
	}
	if len(fit) > 0 && !strings.Contains(fit[0], "mm") && !clock {
		g.d.ask(`  at: "12:00"`, "the file has no time of day: which is to be taken? it is noted in each record")
	}
}

// texts finds words that stand where numbers should.
func (g *guesser) texts() {
	words := map[string]int{}
	negative, long := 0, 0
	for i := range g.lines {
		for k, c := range g.lines[i].Cells {
			if k >= len(g.names) {
				break
			}
			if _, _, _, ok := readHead(g.names[k]); !ok && k != g.column("value") {
				continue
			}
			t := strings.TrimLeft(c.Text, "<> ")
			switch {
			case t == "":
			case plainNumber.MatchString(strings.Replace(t, ",", ".", 1)):
				if t[0] == '-' {
					negative++
				}
				if _, fraction, _ := strings.Cut(t, "."); len(fraction) > 6 {
					long++
				}
			case len(t) <= 16:
				words[c.Text]++
			}
		}
	}
	var missing, below []string
	for w := range words {
		switch foldName(w) {
		case "nd", "notdetected", "nondetect", "bdl", "bd", "nn", "nichtnachweisbar", "blq", "loq":
			below = append(below, w)
		case "", "na", "nan", "ns", "nm", "null", "none", "notmeasured", "nodata", "nb":
			missing = append(missing, w)
		}
	}
	list := func(key string, words []string, remark string) {
		if len(words) == 0 {
			return
		}
		sort.Strings(words)
		for i, w := range words {
			words[i] = quoteHead(w)
		}
		g.d.ask(key+": ["+strings.Join(words, ", ")+"]", remark)
	}
	list("missing", missing, "do these mean that there is no result?")
	list("nondetect", below, "do these mean below the detection limit? then each result needs its limit: column")
	if negative > 0 {
		g.d.ask("negative: refuse", fmt.Sprintf("%d numbers are negative; if -0.05 means <0.05, say below", negative))
	}
	if long > 0 {
		g.d.ask("round: 6", fmt.Sprintf("%d numbers have more than six decimals", long))
	}
}

func (g *guesser) column(role string) int {
	if n, ok := g.role[role]; ok {
		return n
	}
	return -1
}
