package exchange

import (
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/water"
)

// Tables in which the analytes are in rows: beside each stand its results by sample, site, month,
// year or statistic. What a column of results is, its heads say.

// statisticWords are the words for figures of a period, folded; common practice, no source.
var statisticWords = map[string]string{
	"lowest":  "min min. minimum lowest mini minimi minimo minimalwert minwert kleinsterwert low najmniejsza vahim alin minimalna minst",
	"mean":    "mean average avg av mittel mittelwert mw moyenne media medio medie mediana snitt medel medelvarde gennemsnit gjennomsnitt gemiddelde gem srednia prumer priemer keskiarvo atlag vidurkis povprecje prosjek keskmine videjais medel",
	"highest": "max max. maximum highest maxi maksimi maks maksimum massimo maximo maxwert hochstwert maximalwert grosster high najwieksza maxim maksimalna storst",
}

// statisticOf is lowest, mean or highest, "" for a word that is no statistic.
func statisticOf(word string) string {
	folded := foldName(word)
	for kind, words := range statisticWords {
		if folded != "" && slices.Contains(strings.Fields(words), folded) {
			return kind
		}
	}
	return ""
}

var fourDigits = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\b(19|20)\d\d\b`) })

// headKind says what a head is that results stand below: a Date, Month, Year, Statistic or Site;
// "" where it is unknown.
func (g *guesser) headKind(c Cell) string {
	if kind := periodKind(c); kind != "" {
		return kind
	}
	text := c.Text
	if text == "" {
		return ""
	}
	for _, s := range g.j.Sites.List {
		if strings.EqualFold(s.Name, text) || s.ID == text || s.ID == Slug(text) {
			return "Site"
		}
	}
	return ""
}

// periodKind is headKind without sites.
func periodKind(c Cell) string {
	text := c.Text
	switch {
	case text == "":
		return ""
	case c.Day:
		return "Date"
	case len(text) == 4 && fourDigits().MatchString(text):
		return "Year"
	case monthIndex()[foldName(text)] != 0:
		return "Month"
	case statisticOf(text) != "":
		return "Statistic"
	}
	for _, layouts := range [][]string{dayLayouts, monthLayouts} {
		for _, layout := range layouts {
			if l, err := goLayout(layout); err == nil {
				if _, err := time.Parse(l, monthsIn(text, l)); err == nil {
					return "Date"
				}
			}
		}
	}
	return ""
}

// analyteRows finds the column that names analytes, and the index of the first line that does; -1
// where fewer than two lines do.
func analyteRows(s *Sheet) (column, first int) {
	best := 1
	column, first = -1, -1
	for k := range 6 {
		n, at := 0, -1
		seen := map[water.ID]bool{}
		for i := range s.Lines {
			if i == 200 {
				break
			}
			if id, _, _, ok := readHead(s.Lines[i].cell(k).Text); ok && !seen[id] {
				seen[id] = true
				if n++; at < 0 {
					at = i
				}
			}
		}
		if n > best {
			best, column, first = n, k, at
		}
	}
	return column, first
}

// across drafts the shape of a table with its analytes in rows, or of one analyte by year and
// month, and goes on with its reshaped sheet. It reports whether it did.
func (g *guesser) across(rows []int) ([]int, bool) {
	_, named := g.role["name"]
	_, value := g.role["value"]
	if value {
		return rows, false
	}
	wide := 0
	for i, n := range g.names {
		if _, _, _, ok := readHead(n); ok && len(g.distinct(i, 1)) > 0 {
			wide++
		}
	}
	column, first := analyteRows(g.s)
	if wide >= 2 || !named && column < 0 && !g.byPeriod() {
		return rows, false
	}
	if column >= 0 && !named { // the heads are the row above the analytes
		head := -1
		for i := range first {
			if !g.s.Lines[i].blank() {
				head = i
			}
		}
		if head < 0 {
			return rows, false
		}
		rows = []int{g.s.Lines[head].Number}
	}
	if named {
		column = g.role["name"]
	}
	var holds []int
	kinds := func(line *Line) (kind string) { // of most of the columns that hold results
		count := map[string]int{}
		last := Cell{}
		for _, k := range holds {
			if c := line.cell(k); c.Text != "" {
				last = c
			}
			count[g.headKind(last)]++
		}
		for _, k := range []string{"Date", "Month", "Year", "Statistic", "Site"} {
			if 2*count[k] > len(holds) {
				return k
			}
		}
		return ""
	}
	at := slices.IndexFunc(g.s.Lines, func(l Line) bool { return l.Number == rows[0] })
	for k := range g.width() {
		role := roleNamed(g.s.Lines[at].cell(k).Text)
		if k == column || role != "" && role != "x" && role != "y" && g.headKind(g.s.Lines[at].cell(k)) == "" || !g.holdsResults(k, at) {
			continue
		}
		holds = append(holds, k)
	}
	if len(holds) == 0 {
		return rows, false
	}
	form := &acrossForm{value: "value"}
	kind := kinds(&g.s.Lines[at])
	form.heads = []string{kind}
	if kind == "" {
		form.heads = []string{"Point"}
	}
	rows = rows[:1]
	if at > 0 {
		if above := kinds(&g.s.Lines[at-1]); above != "" {
			rows, form.heads = []int{g.s.Lines[at-1].Number, rows[0]}, []string{above, form.heads[0]}
		}
	}
	if at+1 < len(g.s.Lines) && len(rows) == 1 {
		below := &g.s.Lines[at+1]
		if _, _, _, analyte := readHead(below.cell(column).Text); !analyte {
			if under := kinds(below); under != "" && under != kind {
				rows, form.heads = []int{rows[0], below.Number}, []string{form.heads[0], under}
			}
		}
	}
	if len(form.heads) == 2 && form.heads[0] == form.heads[1] {
		return rows, false
	}
	names, _, err := heads(g.s, rows)
	if err != nil {
		return rows, false
	}
	index := headIndex(names)
	var listed []string
	for _, k := range holds {
		c := columnAt(names, index, k)
		form.columns = append(form.columns, c)
		listed = append(listed, quoteHead(c.name))
	}
	columns := "  columns: [" + strings.Join(listed, ", ") + "]"
	if last := holds[len(holds)-1]; len(holds) > 1 && last-holds[0] == len(holds)-1 && last >= len(names)-1 { // the next file has other dates
		form.from.name, form.columns = "="+columnLetters(holds[0]), nil
		columns = "  from: " + quoteHead(form.from.name)
	}
	m := &Mapping{Header: rows, Across: form}
	shaped, _, err := m.reshaped(g.s)
	if err != nil {
		return rows, false
	}
	g.shape = []string{"across:  # each of these columns becomes rows of its own", columns, "  heads: [" + strings.Join(form.heads, ", ") + "]"}
	g.titles = g.s.Lines[:at]
	g.s, g.names, g.role, g.used = shaped, nil, map[string]int{}, map[int]bool{}
	for _, c := range shaped.Lines[0].Cells {
		g.names = append(g.names, c.Text)
	}
	g.lines = shaped.Lines[1:]
	if len(g.lines) > 0 {
		g.kept = g.lines[0].kept
	}
	g.roles()
	if _, ok := g.role["name"]; !ok && column >= 0 {
		if i := slices.Index(g.kept, column); i >= 0 {
			g.role["name"], g.used[i] = i, true
		}
	}
	if _, ok := g.role["unit"]; !ok {
		if i := g.where(g.units); i >= 0 {
			g.role["unit"], g.used[i] = i, true
		}
	}
	for role, head := range map[string]string{"date": "Date", "month": "Month", "year": "Year", "statistic": "Statistic", "site": "Site", "maybe point": "Point"} {
		if i := slices.Index(g.names, head); i >= 0 && i >= len(g.names)-1-len(form.heads) {
			g.role[role], g.used[i] = i, true
		}
	}
	return rows, true
}

// byPeriod reports whether months or years stand side by side: a table of one analyte.
func (g *guesser) byPeriod() bool {
	n := 0
	for _, name := range g.names {
		if kind := g.headKind(Cell{Text: name}); kind == "Month" || kind == "Year" {
			n++
		}
	}
	return n >= 3
}

func (g *guesser) width() int {
	width := 0
	for i := range g.s.Lines {
		width = max(width, len(g.s.Lines[i].Cells))
	}
	return width
}

// holdsResults reports whether most cells of a column below a line are numbers, bounds or words for none.
func (g *guesser) holdsResults(column, head int) bool {
	number, other := 0, 0
	for i := head + 1; i < len(g.s.Lines); i++ {
		c := g.s.Lines[i].cell(column)
		text := strings.Replace(strings.TrimLeft(c.Text, "<> "), ",", ".", 1)
		switch {
		case c.Text == "" || c.Day:
		case plainNumber().MatchString(text) || text == "":
			number++
		default:
			other++
		}
	}
	return number > 0 && number >= other
}

// columnAt is a column by its head where that names it alone, else by its letters.
func columnAt(names []string, index columnIndex, k int) column {
	c := column{name: "=" + columnLetters(k), n: k}
	if index.kept != nil && k < len(index.kept) {
		c.name = "=" + columnLetters(index.kept[k])
	}
	if k < len(names) && names[k] != "" && index.byHead[names[k]] == k && !strings.HasPrefix(names[k], "=") {
		c.name = names[k]
	}
	return c
}

func columnLetters(n int) string {
	out := ""
	for n++; n > 0; n = (n - 1) / 26 {
		out = string(rune('A'+(n-1)%26)) + out
	}
	return out
}

// ref is how a map names a column: by its head, or by its letters.
func (g *guesser) ref(column int) string {
	index := headIndex(g.names)
	index.kept = g.kept
	return quoteHead(columnAt(g.names, index, column).name)
}

// where is the first column that a test holds of; -1 for none.
func (g *guesser) where(test func(int) bool) int {
	for i := range g.names {
		if test(i) {
			return i
		}
	}
	return -1
}

// units reports whether a column holds nothing but units.
func (g *guesser) units(column int) bool {
	if column < 0 || g.used[column] {
		return false
	}
	texts := g.distinct(column, maxListed)
	for _, text := range texts {
		if _, ok := water.ParseUnit(text); !ok {
			return false
		}
	}
	return len(texts) > 0
}

// signs reports whether a column holds nothing but the signs of bounds.
func (g *guesser) signs(column int) bool {
	if column < 0 || column >= len(g.names) || g.used[column] {
		return false
	}
	bound := false
	for _, text := range g.distinct(column, 10) {
		if _, ok := standardFlags[text]; !ok {
			return false
		}
		bound = bound || text == "<" || text == ">"
	}
	return bound
}

// qualifier is what a map says of the column of signs before or after a column of results, "" where
// there is none.
func (g *guesser) qualifier(column int) string {
	for _, k := range []int{column - 1, column + 1} {
		if g.signs(k) {
			g.used[k] = true
			return ", qualifier: " + g.ref(k)
		}
	}
	return ""
}

// ends are the columns of the lowest and highest of an analyte of which another column is the mean.
func (g *guesser) ends(id water.ID) string {
	out := ""
	for _, end := range []string{"lowest", "highest"} {
		for i, name := range g.names {
			words := strings.Fields(name)
			if g.used[i] || len(words) < 2 {
				continue
			}
			at := slices.IndexFunc(words, func(w string) bool { return statisticOf(strings.Trim(w, "()[],")) == end })
			if at < 0 {
				continue
			}
			if of, _, _, ok := readHead(strings.Join(slices.Delete(slices.Clone(words), at, at+1), " ")); ok && of == id {
				g.used[i] = true
				out += ", " + end + ": " + quoteHead(name)
				break
			}
		}
	}
	return out
}

// titled is the analyte that a title above the table names, with its unit.
func (g *guesser) titled() (id water.ID, unit water.Unit, exact, ok bool) {
	for i := range g.titles {
		for _, c := range g.titles[i].Cells {
			if id, unit, exact, ok = readHead(c.Text); ok {
				return id, unit, exact, true
			}
			for _, word := range strings.FieldsFunc(c.Text, func(r rune) bool { return r == ' ' || r == ',' || r == ':' }) {
				if id, unit, exact, ok = readHead(word); ok {
					return id, unit, exact, true
				}
			}
		}
	}
	return readHead(g.s.Name)
}

// titleYear is a year that a title, the sheet or the file names; "" for none.
func (g *guesser) titleYear() string {
	for i := range g.titles {
		for _, c := range g.titles[i].Cells {
			if y := fourDigits().FindString(c.Text); y != "" {
				return y
			}
		}
	}
	return firstNonEmpty(fourDigits().FindString(g.s.Name), fourDigits().FindString(strings.NewReplacer("_", " ", "-", " ").Replace(g.file)))
}

// sampledByMonth drafts the time of a table that has months, and years in a column or in its title.
func (g *guesser) sampledByMonth(month int) {
	d, names := g.d, g.names
	layout := "YYYY MMM"
	if g.numbers(month) {
		layout = "YYYY M"
	}
	d.line("sampled:")
	if year, ok := g.role["year"]; ok {
		g.used[year] = true
		d.line("  columns: [%s, %s]", quoteHead(names[year]), quoteHead(names[month]))
	} else {
		d.line("  column: %s", quoteHead(names[month]))
		year := g.titleYear()
		d.ask("  year: "+year, "of which year are the months?")
	}
	d.line("  layout: %s", layout)
	d.ask(`  day: "01-15"`, "the file has only months: which day is to be taken? the month is the row's; it is noted in each record")
	d.ask(`  at: "12:00"`, "and which time of day?")
	g.zone(g.j.Settings.Timezone)
}
