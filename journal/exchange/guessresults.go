package exchange

import (
	"fmt"
	"strings"

	"wj/water"
)

// wide lists the columns that hold results.
func (g *guesser) wide() {
	taken := map[water.ID]string{}
	any, without := false, 0
	for i, n := range g.names {
		if id, _, exact, ok := readHead(n); ok && !exact && !g.used[i] && !id.Info().Unit.IsNone() {
			without++
		}
	}
	if without > 2 {
		g.d.ask("unit:", fmt.Sprintf("%d heads name no unit: one that holds for all of them where it fits, such as mg/L; take the line away to say each", without))
	}
	g.d.line("results:")
	for i, n := range g.names {
		if g.used[i] || n == "" {
			continue
		}
		id, unit, exact, ok := readHead(n)
		if !ok || len(g.distinct(i, 1)) == 0 {
			continue
		}
		g.used[i], any = true, true
		if other, twice := taken[id]; twice {
			g.d.ask("  # "+quoteHead(n)+":", fmt.Sprintf("%s is in %q already: which one is meant?", id, other))
			continue
		}
		taken[id] = n
		g.result("  "+quoteHead(n)+": {analyte: "+id.String(), id, unit, exact)
	}
	if !any {
		g.d.ask("  # HEAD: {analyte: calcium, unit: mg/L}", "no column was recognised")
	}
}

// result writes an analyte and its unit, or asks for the unit.
func (g *guesser) result(start string, id water.ID, unit water.Unit, exact bool) {
	info := id.Info()
	if !exact && info.Unit.IsNone() {
		g.d.line("%s}", start)
		return
	}
	if !exact {
		g.d.ask(start+", unit: }", "the head names no unit: "+strings.Join(unitNames(info)[:min(5, len(unitNames(info)))], ", ")+" …")
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
	for _, b := range info.Bases {
		if u := unit.With(b); info.FitUnit(u) == nil {
			bases = append(bases, u.String())
		}
	}
	if len(bases) == 0 {
		bases = unitNames(info)
	}
	g.d.ask(start+", unit: "+unit.String()+"}", "as what? "+strings.Join(bases[:min(5, len(bases))], " or "))
}

// long drafts the map of one row a result.
func (g *guesser) long() {
	d := g.d
	d.line("result:")
	d.line("  value: %s", quoteHead(g.names[g.role["value"]]))
	unitColumn, hasUnit := g.role["unit"]
	if hasUnit {
		d.line("  unit:")
		d.line("    column: %s", quoteHead(g.names[unitColumn]))
		var strange []string
		for _, u := range g.distinct(unitColumn, maxListed) {
			if _, ok := water.ParseUnit(u); !ok {
				strange = append(strange, u)
			}
		}
		if len(strange) > 0 {
			d.line("    values:")
			for _, u := range strange {
				d.ask("      "+quoteHead(u)+":", "which unit is that? none where it is a number alone")
			}
		}
	} else {
		d.ask("  unit:", "the unit of all results, or {column: HEAD}")
	}
	for _, r := range [][2]string{{"basis", "basis"}, {"limit", "limit"}} {
		if n, ok := g.role[r[0]]; ok {
			if r[0] == "basis" {
				d.line("  basis: {column: %s}", quoteHead(g.names[n]))
			} else {
				d.line("  limit: %s", quoteHead(g.names[n]))
			}
		}
	}
	if n, ok := g.role["flag"]; ok {
		d.line("  qualifier:")
		d.line("    column: %s", quoteHead(g.names[n]))
		d.line("    values:")
		for _, f := range g.distinct(n, 40) {
			if meaning, known := standardFlags[f]; known {
				d.line("      %s: %s", quoteHead(f), meaning)
			} else {
				d.ask("      "+quoteHead(f)+": refuse", "what does it mean? exact, below, above, missing or refuse")
			}
		}
	}
	d.line("  analyte:")
	d.line("    column: %s", quoteHead(g.names[g.role["name"]]))
	d.line("    others: skip")
	d.line("    values:")
	for _, name := range g.distinct(g.role["name"], maxListed) {
		id, unit, exact, ok := readHead(name)
		switch {
		case !ok:
		case exact && !hasUnit:
			g.result("      "+quoteHead(name)+": {analyte: "+id.String(), id, unit, true)
		default:
			d.line("      %s: %s", quoteHead(name), id)
		}
	}
}

// rest lists the columns that nothing was made of.
func (g *guesser) rest() {
	var left []string
	for i, n := range g.names {
		if n != "" && !g.used[i] {
			left = append(left, quoteHead(n))
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
