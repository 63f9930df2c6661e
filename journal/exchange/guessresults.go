package exchange

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"

	"wj/water"
)

// wide lists the columns that hold results.
func (g *guesser) wide() {
	heads := g.chosen()
	balances, byColumn := g.weigh(heads)
	without := 0
	for _, h := range heads {
		if !h.exact && h.id.Info().FitUnit(water.MilligramLitre) == nil {
			without++
		}
	}
	common := without > 2
	if common {
		g.d.ask("unit:", fmt.Sprintf("%d heads name no unit: write one that holds for all of them, such as mg/L; or take the line away and say each%s", without, balances))
	}
	g.d.line("results:")
	any := false
	for i, n := range g.names {
		h, ok := heads[i]
		switch {
		case !ok:
			if g.used[i] || n == "" {
				continue
			}
			if at20().MatchString(n) {
				g.used[i] = true
				g.d.ask("  # "+quoteKey(n)+": {analyte: conductivity, unit: uS/cm}", "it is at 20 degC and about a tenth lower than at 25 degC, as it is here: left out")
				continue
			}
			if meant := doubtfulWords[foldName(plainHead(n))]; meant != "" && len(g.distinct(i, 1)) > 0 {
				g.used[i] = true
				g.d.ask("  # "+quoteKey(n)+": {analyte: , unit: }", "what is it? "+meant)
			}
			continue
		case h.instead != "":
			g.d.ask("  # "+quoteKey(n)+":", fmt.Sprintf("%s is in %q already: which one is meant?", h.id, h.instead))
		case h.inCells:
			g.d.line("  %s: {analyte: %s, unit: cell%s%s}", quoteKey(n), h.id, g.qualifier(i), g.ends(h.id))
		case common && !h.exact && h.id.Info().FitUnit(water.MilligramLitre) == nil:
			g.d.line("  %s: {analyte: %s%s%s}", quoteKey(n), h.id, g.qualifier(i), g.ends(h.id))
		case !h.exact && h.id == water.SampleTemperature && g.liquidOnlyInCelsius(i):
			g.d.ask("  "+quoteKey(n)+": {analyte: "+h.id.String()+", unit: "+water.DegreeCelsius.String()+"}", "the head names no unit; in degF this water would be ice")
		default:
			evidence := byColumn[i]
			if !h.exact {
				evidence = g.middle(i)
			}
			g.result("  "+quoteKey(n)+": {analyte: "+h.id.String()+g.qualifier(i)+g.ends(h.id), h.id, h.unit, h.exact, evidence)
		}
		g.used[i], any = true, true
	}
	if !any {
		g.d.ask("  # HEAD: {analyte: calcium, unit: mg/L}", "no column was recognised")
	}
}

// resultHead is a column that holds results of one analyte.
type resultHead struct {
	id      water.ID
	unit    water.Unit
	exact   bool
	inCells bool   // each cell states its own unit
	instead string // the column that is taken in its place
}

// chosen finds the columns that hold results. Of two with the same analyte the one
// with the plainer head is taken: "pH" before "field pH".
func (g *guesser) chosen() map[int]resultHead {
	out, best := map[int]resultHead{}, map[water.ID]int{}
	words := func(i int) int { return len(strings.Fields(g.names[i])) }
	for i, n := range g.names {
		if g.used[i] || n == "" {
			continue
		}
		id, unit, exact, ok := readHead(n)
		if !ok || len(g.distinct(i, 1)) == 0 {
			continue
		}
		h := resultHead{id: id, unit: unit, exact: exact}
		if units, bare := g.unitsIn(i, "", id); !exact && bare == 0 && len(units) > 0 && !id.Info().Unit.IsNone() {
			h.exact, h.unit, h.inCells = true, units[0], len(units) > 1
		}
		out[i] = h
		if old, twice := best[id]; !twice || words(i) < words(old) {
			best[id] = i
		}
	}
	for i, h := range out {
		if best[h.id] != i {
			h.instead = g.names[best[h.id]]
			out[i] = h
		}
	}
	return out
}

// plainHead is a head without what is in brackets, and without a unit at its end.
func plainHead(head string) string {
	words := strings.Fields(bracketed().ReplaceAllString(head, " "))
	for len(words) > 1 {
		if _, ok := water.ParseUnit(words[len(words)-1]); !ok {
			break
		}
		words = words[:len(words)-1]
	}
	return strings.Join(words, " ")
}

// result writes an analyte and its unit, or asks for the unit. evidence is what the
// file tells that helps to answer.
func (g *guesser) result(start string, id water.ID, unit water.Unit, exact bool, evidence string) {
	info := id.Info()
	if !exact && info.Unit.IsNone() {
		g.d.line("%s}", start)
		return
	}
	if !exact {
		g.d.ask(start+", unit: }", "the head names no unit: "+strings.Join(unitNames(info)[:min(5, len(unitNames(info)))], ", ")+" …"+evidence)
		return
	}
	if info.FitUnit(unit) == nil {
		g.d.line("%s, unit: %s}", start, unit)
		return
	}
	if info.Unit.IsNone() {
		g.d.line("%s}", start)
		return
	}
	var bases []string
	for _, u := range basesFor(info, unit) {
		bases = append(bases, u.String())
	}
	if len(bases) == 0 {
		bases = unitNames(info)
	}
	g.d.ask(start+", unit: "+unit.String()+"}", "as what? "+strings.Join(bases[:min(5, len(bases))], " or ")+evidence)
}

// basesFor lists the unit with each basis that the analyte can have, the usual first.
func basesFor(info *water.Analyte, unit water.Unit) (out []water.Unit) {
	for _, b := range info.Bases {
		if u := unit.With(b); info.FitUnit(u) == nil {
			out = append(out, u)
		}
	}
	return out
}

// long drafts the map of one row a result.
func (g *guesser) long() {
	d := g.d
	d.line("result:")
	d.line("  value: %s", quoteHead(g.names[g.role["value"]]))
	unitColumn, hasUnit := g.role["unit"]
	if hasUnit {
		d.line("  unit:")
		d.line("    column: %s", g.ref(unitColumn))
		strange := g.strangeUnits(unitColumn)
		if len(strange) > 0 {
			d.line("    values:")
			for _, u := range strange {
				d.ask("      "+quoteKey(u)+":", "which unit is that? none where it is a number alone")
			}
		}
	} else if !g.inNames() && g.fixed() == nil && !g.inCells() {
		d.ask("  unit:", "the unit of all results, or {column: HEAD}")
	}
	for _, r := range [][2]string{{"basis", "basis"}, {"limit", "limit"}} {
		if n, ok := g.role[r[0]]; ok {
			if r[0] == "basis" {
				d.line("  basis: {column: %s}", quoteHead(g.names[n]))
			} else {
				d.line("  limit: %s", quoteHead(g.names[n]))
				if n, ok := g.role["limit unit"]; ok {
					d.line("  limit_unit: %s", quoteHead(g.names[n]))
				}
			}
		}
	}
	if _, ok := g.role["flag"]; !ok {
		if k := g.where(g.signs); k >= 0 {
			g.role["flag"], g.used[k] = k, true
		}
	}
	if n, ok := g.role["flag"]; ok {
		d.line("  qualifier:")
		d.line("    column: %s", g.ref(n))
		d.line("    values:")
		for _, f := range g.distinct(n, 40) {
			if meaning, known := standardFlags[f]; known {
				d.line("      %s: %s", quoteKey(f), meaning)
			} else if _, limit := g.role["limit"]; limit && notDetected[foldName(f)] {
				d.line("      %s: below", quoteKey(f))
			} else {
				d.ask("      "+quoteKey(f)+": refuse", "what does it mean? exact, below, above, missing or refuse")
			}
		}
	}
	if n, ok := g.role["statistic"]; ok {
		g.statistic(n)
	}
	if f := g.fixed(); f != nil {
		if f.exact && f.id.Info().FitUnit(f.unit) == nil {
			d.line("  analyte: %s", f.id)
			d.line("  unit: %s", f.unit)
		} else {
			d.line("  analyte: %s", f.id)
			d.ask("  unit: "+f.unit.String(), "in which unit, and as what? "+strings.Join(unitNames(f.id.Info())[:min(5, len(unitNames(f.id.Info())))], ", ")+" …")
		}
		return
	}
	if _, ok := g.role["name"]; !ok {
		d.ask("  analyte:", "which analyte are these results of?")
		return
	}
	d.line("  analyte:")
	d.line("    column: %s", g.ref(g.role["name"]))
	d.line("    others: skip")
	d.line("    values:")
	for _, name := range g.distinct(g.role["name"], maxListed) {
		id, unit, exact, ok := readHead(name)
		switch {
		case !ok && at20().MatchString(name):
			d.ask("      # "+quoteHead(name)+": conductivity", "it is at 20 degC and about a tenth lower than at 25 degC, as it is here: left out")
		case !ok:
		case exact && !hasUnit:
			g.result("      "+quoteKey(name)+": {analyte: "+id.String(), id, unit, true, "")
		case len(g.openBases(name, id)) > 0:
			d.ask("      "+quoteKey(name)+": {analyte: "+id.String()+", basis: }", "as what? "+strings.Join(g.openBases(name, id), " or "))
		default:
			d.line("      %s: %s", quoteKey(name), id)
		}
	}
}

// openBases are the bases that the units of a name's rows leave open; none where they say it, or where a
// column does.
func (g *guesser) openBases(name string, id water.ID) (out []string) {
	unit, ok := g.role["unit"]
	value, has := g.role["value"]
	if _, basis := g.role["basis"]; !ok && !has || basis {
		return nil
	}
	for i := range g.lines {
		l := &g.lines[i]
		if l.cell(g.role["name"]).Text != name {
			continue
		}
		text := ""
		if ok {
			text = l.cell(unit).Text
		} else {
			_, text = apart(l.cell(value).Text)
		}
		u, known := unitOf(text, id)
		if !known || id.Info().FitUnit(u) == nil {
			continue
		}
		for _, fits := range basesFor(id.Info(), u) {
			if b := fits.Basis().String(); !slices.Contains(out, b) {
				out = append(out, b)
			}
		}
	}
	return out
}

// strangeUnits are the texts of the column of units that are none, beside names that
// are known.
func (g *guesser) strangeUnits(column int) (out []string) {
	name, ok := g.role["name"]
	for i := range g.lines {
		id, known := water.Calcium, true
		if ok {
			id, _, _, known = readHead(g.lines[i].cell(name).Text)
		}
		text := g.lines[i].cell(column).Text
		if _, unit := unitOf(text, id); known && text != "" && !unit && !slices.Contains(out, text) && len(out) < maxListed {
			out = append(out, text)
		}
	}
	slices.Sort(out)
	return out
}

// inCells reports whether the results state their units themselves.
func (g *guesser) inCells() bool {
	value, ok := g.role["value"]
	if !ok {
		return false
	}
	units, bare := g.unitsIn(value, "", water.Calcium)
	return len(units) > 0 && bare <= len(g.lines)/2
}

// statistic says which of the figures of a period is taken.
func (g *guesser) statistic(n int) {
	words := map[string][]string{}
	for _, text := range g.distinct(n, 20) {
		if kind := statisticOf(text); kind != "" {
			words[kind] = append(words[kind], quoteHead(text))
		}
	}
	take := firstNonEmpty(strings.Join(words["mean"], ", "), strings.Join(words["highest"], ", "), strings.Join(words["lowest"], ", "))
	g.d.line("  statistic:")
	g.d.line("    column: %s", quoteHead(g.names[n]))
	g.d.ask("    take: ["+take+"]", "a result stands for a whole period: is this figure to be taken? lowest and highest are kept as its note")
	for _, end := range []string{"lowest", "highest"} {
		if len(words[end]) > 0 && strings.Join(words[end], ", ") != take {
			g.d.line("    %s: [%s]", end, strings.Join(words[end], ", "))
		}
	}
}

// inNames reports whether the names of the analytes have their units with them.
func (g *guesser) inNames() bool {
	n, ok := g.role["name"]
	if !ok {
		return false
	}
	for _, name := range g.distinct(n, maxListed) {
		if _, _, exact, ok := readHead(name); ok && exact {
			return true
		}
	}
	return false
}

// fixed is the one analyte of a table that names none but in its title; nil for none.
func (g *guesser) fixed() *resultHead {
	if _, ok := g.role["name"]; ok || g.shape == nil {
		return nil
	}
	id, unit, exact, ok := g.titled()
	if !ok {
		return nil
	}
	return &resultHead{id: id, unit: unit, exact: exact}
}

// rest lists the columns that nothing was made of.
func (g *guesser) rest() {
	var left []string
	for i, n := range g.names {
		if n != "" && !g.used[i] {
			left = append(left, quoteKey(n))
		}
	}
	if len(left) > 0 {
		g.d.line("# not taken; put those that say something under notes")
		g.d.line("ignore:")
		for _, n := range left {
			g.d.line("  - %s", n)
		}
	}
}

// liquidOnlyInCelsius reports whether all numbers of a column are temperatures of water in degC, and of
// ice in degF.
func (g *guesser) liquidOnlyInCelsius(column int) bool {
	n := 0
	for _, text := range g.distinct(column, maxListed) {
		if v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err == nil {
			if n++; v < 0 || v >= 32 {
				return false
			}
		}
	}
	return n > 0
}

// middle tells the number in the middle of a column, which helps to see its unit.
func (g *guesser) middle(column int) string {
	var values []float64
	for i := range g.lines {
		if v, err := strconv.ParseFloat(strings.Replace(g.lines[i].cell(column).Text, ",", ".", 1), 64); err == nil {
			values = append(values, v)
		}
	}
	if len(values) == 0 {
		return ""
	}
	sort.Float64s(values)
	return fmt.Sprintf(" (half of the numbers are up to %s)", formatReal(values[(len(values)-1)/2]))
}
