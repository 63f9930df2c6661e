package exchange

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
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

// quoteKey writes a text of the file as a key, which must be a text also where it is a number or a word such as true.
func quoteKey(s string) string {
	s = quoteHead(s)
	switch c := s[0]; {
	case c >= '0' && c <= '9', c == '.', c == '+', c == '-', slices.Contains([]string{"true", "false", "yes", "no", "on", "off", "null", "~"}, strings.ToLower(s)):
		return `"` + s + `"`
	}
	return s
}

// Guess drafts a map for a sheet: which column holds what, judged by its head and
// by what is in it. What must be looked at by a person is marked with a
// question; where nothing could be proposed (a unit that no head names) the line
// is left empty, and the map does not import until it is filled in. unsure counts
// the questions.
func Guess(j *journal.Journal, s *Sheet, file, by string, like ...string) (yaml []byte, unsure int, err error) {
	rows, names := guessHeader(s)
	if rows == nil {
		if _, first := analyteRows(s); first < 1 {
			return nil, 0, fmt.Errorf("no row looks like heads, and no column names two things that are tested")
		}
		rows = []int{s.Lines[0].Number}
		names, _, _ = heads(s, rows)
	}
	_, first, failed := heads(s, rows)
	if failed != nil {
		return nil, 0, failed
	}
	g := &guesser{j: j, s: s, file: file, names: names, lines: s.Lines[first:], titles: s.Lines[:max(first-1, 0)], role: map[string]int{}, d: &draftMap{}, used: map[int]bool{}}
	d := g.d
	g.lines = slices.DeleteFunc(slices.Clone(g.lines), func(l Line) bool { return s.headsAgain(&l, rows) })
	g.roles()
	rows, across := g.across(rows)
	names = g.names
	d.line("# map of %s, drafted by wj import --guess: answer what is marked with ?", render.Line(file))
	switch {
	case len(like) > 0:
		quoted := []string{quoteHead(s.Name)}
		for _, name := range like {
			quoted = append(quoted, quoteHead(name))
		}
		d.ask("sheet: ["+strings.Join(quoted, ", ")+"]", "these sheets have the same heads: all of them? what is in two of them is taken once")
	case s.Name != "":
		d.line("sheet: %s", quoteHead(s.Name))
	}
	if len(rows) == 1 {
		d.line("header: %d", rows[0])
	} else {
		d.line("header: [%d, %d]  # the heads take two rows", rows[0], rows[1])
	}
	for _, line := range g.shape {
		d.line("%s", line)
	}
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
		d.line("group: [%s]  # distinguishes samples of one site and time", quoteHead(names[n]))
	}
	if n, ok := g.role["note"]; ok {
		d.line("notes: [%s]", quoteHead(names[n]))
	}
	g.texts()
	_, long1 := g.role["name"]
	_, long2 := g.role["value"]
	if long1 && long2 || across {
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
	file  string
	// of a table with its analytes in rows: how it is reshaped, and the lines above its heads
	shape  []string
	titles []Line
	kept   []int // the columns of the file that the first ones came from
	used   map[int]bool
	d      *draftMap
}

// guessHeader finds the row (or two) among the first forty whose cells name the
// most things that are known.
func guessHeader(s *Sheet) (rows []int, names []string) {
	best, bestScore := -1, 1
	for i := range s.Lines {
		if i == 40 {
			break
		}
		score, periods := 0, 0
		for _, c := range s.Lines[i].Cells {
			if _, _, _, ok := readHead(c.Text); ok {
				score += 2
			} else if roleNamed(c.Text) != "" {
				score += 2
			} else if number, _ := apart(c.Text); strings.ContainsAny(number, ".,") && plainNumber().MatchString(strings.Replace(number, ",", ".", 1)) {
				score -= 2 // a result
			}
			if periodKind(c) == "Month" || periodKind(c) == "Statistic" {
				periods++
			}
		}
		if periods >= 3 {
			score += periods
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
			} else if _, _, _, ok := readHead(c.Text); ok { // a row of results
				units = -len(s.Lines[best+1].Cells)
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

// roles finds the columns that are no results; the first of each role counts. A
// head such as "ID" or "Sample" names the site where nothing better does.
func (g *guesser) roles() {
	for i, n := range g.names {
		role := roleNamed(n)
		if role == "" {
			continue
		}
		if _, taken := g.role[role]; !taken {
			g.role[role] = i
			g.used[i] = role != "maybe site" && role != "x" && role != "y" && role != "year"
		}
	}
	if n, ok := g.role["maybe site"]; ok {
		site := g.column("site")
		if site < 0 || g.numbers(site) && !g.numbers(n) {
			g.role["site"], g.role["maybe site"] = n, site
			g.used[n] = true
		}
	}
	// x and y are degrees only where all of them can be.
	x, y := g.column("x"), g.column("y")
	if x >= 0 && y >= 0 && g.column("longitude") < 0 && g.within(x, 180) && g.within(y, 90) {
		g.role["longitude"], g.role["latitude"] = x, y
		g.used[x], g.used[y] = true, true
	}
}

// numbers reports whether a column holds nothing but numbers.
func (g *guesser) numbers(column int) bool {
	for _, text := range g.distinct(column, maxListed) {
		if !plainNumber().MatchString(text) {
			return false
		}
	}
	return true
}

// within reports whether a column holds numbers with decimals, from -limit to limit.
func (g *guesser) within(column int, limit float64) bool {
	decimals := false
	for _, text := range g.distinct(column, maxListed) {
		v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || v < -limit || v > limit {
			return false
		}
		decimals = decimals || v != float64(int(v))
	}
	return decimals
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
			if number, stated := apart(text); stated != "" {
				if _, ok := unitOf(stated, water.Calcium); ok {
					text = number
				}
			}
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
		g.d.ask("decimal: point", fmt.Sprintf("%d numbers have a point and %d a comma; if the commas separate thousands, say thousands: comma", point, comma))
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
	if point, by := g.role["maybe point"]; !ok && by {
		n, ok = point, true
	}
	if !ok && len(g.j.Sites.List) == 1 {
		g.d.ask("site: "+g.j.Sites.List[0].ID, "the file names no site: is it this one?")
		return
	}
	if !ok {
		ids := g.j.IDs(journal.KindSite)
		g.d.ask("site:", "where all rows are of one site, its id: "+strings.Join(ids[:min(len(ids), 8)], ", ")+"; else {column: HEAD}")
		return
	}
	texts := g.distinct(n, maxListed+1)
	byName := map[string]string{}
	for _, s := range g.j.Sites.List {
		byName[strings.ToLower(s.Name)] = s.ID
	}
	var unknown []string
	g.d.line("site:")
	if other, doubt := g.role["maybe site"]; doubt && other >= 0 && other != n {
		g.d.ask("  column: "+quoteHead(g.names[n]), "or is it "+quoteHead(g.names[other])+" that names the place?")
	} else {
		g.d.line("  column: %s", quoteHead(g.names[n]))
	}
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
	g.d.ask("  stage: intake", "where in the plant: "+strings.Join(journal.Names(journal.Stages), ", "))
	_, lat := g.role["latitude"]
	_, lon := g.role["longitude"]
	if lat && lon {
		g.d.line("  latitude: %s", quoteHead(g.names[g.role["latitude"]]))
		longitude := "  longitude: " + quoteHead(g.names[g.role["longitude"]])
		if g.role["longitude"] == g.column("x") {
			g.d.ask(longitude, "are these degrees of WGS 84?")
		} else {
			g.d.line("%s", longitude)
		}
	}
}

func firstOf(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

// stand-ins that files write as a number where there is none.
var numberForNone = map[string]bool{"-9": true, "-99": true, "-999": true, "-9999": true, "-99999": true, "-8888": true, "-99.9": true, "-99.99": true, "-999.9": true, "-999.99": true, "-9999.0": true, "-999.0": true}

// notDetected are words for a result below the detection limit, folded as foldName
// does; common practice, no source.
var notDetected = map[string]bool{"nd": true, "notdetected": true, "nondetect": true, "bdl": true, "bd": true, "nn": true, "nichtnachweisbar": true, "nichtnachgewiesen": true, "blq": true, "loq": true, "belowdetection": true,
	"belowdetectionlimit": true, "belowreportinglimit": true, "presentbelowquantificationlimit": true, "udl": true, "u": true, "nodetectado": true, "nondetecte": true, "nondetectee": true, "nietaangetoond": true, "nonrilevato": true, "naodetectado": true, "ikkepavist": true, "niewykryto": true, "ejpavisad": true}

// texts finds words that stand where numbers should.
func (g *guesser) texts() {
	words, stand := map[string]int{}, map[string]int{}
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
			if number, stated := apart(t); stated != "" {
				if _, ok := unitOf(stated, water.Calcium); ok { // a unit beside the number is read with it
					t = number
				}
			}
			switch {
			case t == "":
			case numberForNone[t]:
				stand[c.Text]++
			case plainNumber().MatchString(strings.Replace(t, ",", ".", 1)):
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
	var missing, below, strange []string
	for w := range stand {
		missing = append(missing, w)
	}
	for w := range words {
		switch folded := foldName(w); folded {
		case "", "na", "nan", "ns", "nm", "null", "none", "notmeasured", "nodata", "nb", "notanalysed", "notanalyzed", "x":
			missing = append(missing, w)
		default:
			if notDetected[folded] {
				below = append(below, w)
				continue
			}
			// A unit beside the number is read with it, thousands and flags are not.
			if _, err := strconv.ParseFloat(strings.TrimLeft(strings.Fields(w)[0], "<>"), 64); err != nil {
				strange = append(strange, w)
			}
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
		g.d.ask(key+": ["+strings.Join(words[:min(12, len(words))], ", ")+"]", remark)
	}
	list("missing", missing, "do these mean that there is no result?")
	remark := "do these mean below the detection limit? then each result needs its limit: column"
	if g.column("limit") < 0 {
		remark += "; this file seems to have none, so take the line away and put them under missing"
	}
	list("nondetect", below, remark)
	list("# missing", strange, "what do these mean where a number is expected? under missing they are left out")
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
