package main

import (
	"fmt"
	"slices"
	"strings"

	"wj/render"
	"wj/water"
)

// analysisCheck is one check of an analysis' correctness (Standard Methods
// 1030 E) as a person reads it: judged by the readings' own uncertainty first,
// by the published band second.
type analysisCheck struct {
	Name         string
	Value        water.Value // standard uncertainty with it
	Unit         string
	Own          string // whether the readings' uncertainty explains what is amiss: agrees, explained, barely explained, not explained
	Band         water.Band
	HasBand      bool
	InBand       bool
	Doubtful     bool
	Next         string
	BalanceUnits string // the charge balance in its other unit, for a reader
}

// analysisChecks makes every check for which the analysis has the readings.
func analysisChecks(a *water.Analysis) []analysisCheck {
	var out []analysisCheck
	// Sodium by difference balances by construction: nothing is checked then.
	if a.Has(water.Sodium) {
		if b, err := water.CheckBalance(a); err == nil {
			out = append(out, balanceCheck(&b))
		}
	}
	for _, r := range water.CheckRatios(a) {
		c := analysisCheck{Name: r.Name, Value: r.Value, Band: r.Band, HasBand: true, InBand: r.InBand, Doubtful: r.Doubtful(), Own: "explained", Next: r.Hint}
		switch {
		case r.InBand:
			c.Own = "agrees"
		case r.Doubtful():
			c.Own = "not explained"
		case r.Own.Outside():
			c.Own = "barely explained"
		}
		out = append(out, c)
	}
	return out
}

func balanceCheck(b *water.BalanceVerdict) analysisCheck {
	c := analysisCheck{Name: "charge balance", Value: b.Percent, Unit: "%", Band: b.Band, HasBand: b.HasBand, InBand: b.InBand, Doubtful: b.Doubtful()}
	value, half := water.Spread(b.Difference.Value, 2*b.Difference.U)
	c.BalanceUnits = fmt.Sprintf("%s ± %s meq/L, of %s and %s meq/L", value, half, water.Round(b.Cations.Value, 3), water.Round(b.Anions.Value, 3))
	if b.HasBand && b.Band.Unit == "meq/L" {
		c.Value, c.Unit = b.Difference, "meq/L"
		value, half = water.Spread(b.Percent.Value, 2*b.Percent.U)
		c.BalanceUnits = fmt.Sprintf("%s ± %s %%, of %s and %s meq/L", value, half, water.Round(b.Cations.Value, 3), water.Round(b.Anions.Value, 3))
	}
	c.Own = "explained"
	if !b.Explained {
		c.Own = "not explained"
		c.Next = "repeat the reading you trust least"
		if len(b.Unmeasured) > 0 {
			c.Next += ", or look for what was not measured: " + names(b.Unmeasured)
		}
	}
	return c
}

// checksPage writes the checks of an analysis, or nothing where none can be made.
func checksPage(b *strings.Builder, a *water.Analysis) {
	checks := analysisChecks(a)
	if len(checks) == 0 {
		return
	}
	b.WriteString("## Checks of the analysis\n\n")
	var rows [][]string
	var notes, sources []string
	for _, c := range checks {
		value, half := water.Spread(c.Value.Value, 2*c.Value.U)
		band := "none"
		if c.HasBand {
			band = fmt.Sprintf("%g to %g", c.Band.Low, c.Band.High)
			if c.InBand {
				band += ": in"
			} else {
				band += ": out"
			}
			if !slices.Contains(sources, c.Band.Source) {
				sources = append(sources, c.Band.Source)
			}
		}
		rows = append(rows, []string{c.Name, value, half, c.Unit, c.Own, band})
		switch {
		case c.Doubtful:
			notes = append(notes, fmt.Sprintf("**%s**. %s", plain(c.Name), plain(sentence(c.Next))))
		case c.Next != "":
			notes = append(notes, fmt.Sprintf("%s, should it stay out. %s", plain(c.Name), plain(sentence(c.Next))))
		}
		if c.BalanceUnits != "" {
			notes = append(notes, fmt.Sprintf("%s: %s", "cations less anions", plain(c.BalanceUnits)))
		}
	}
	mdTable(b, []string{"check", "result", "± 95 %", "unit", "readings' error", "published band"}, []bool{false, true, true, false, false, false}, rows)
	for _, n := range notes {
		b.WriteString("- " + n + "\n")
	}
	if len(notes) > 0 {
		b.WriteString("\n")
	}
	fmt.Fprintf(b, "Bands: %s.\n\n", plain(strings.Join(sources, "; ")))
}

// checksJSON is the machine's form of the same checks.
func checksJSON(a *water.Analysis) []any {
	out := []any{}
	for _, c := range analysisChecks(a) {
		o := render.Object{{Name: "check", Value: c.Name}, {Name: "value", Value: rounded(c.Value.Value)}, {Name: "unit", Value: c.Unit}, {Name: "u", Value: rounded(c.Value.U)},
			{Name: "own", Value: c.Own}, {Name: "doubtful", Value: c.Doubtful}}
		if c.HasBand {
			o = append(o, render.Member{Name: "band", Value: render.Object{{Name: "low", Value: rounded(c.Band.Low)}, {Name: "high", Value: rounded(c.Band.High)},
				{Name: "in", Value: c.InBand}, {Name: "where", Value: c.Band.Where}, {Name: "source", Value: c.Band.Source}}})
		}
		if c.Next != "" {
			o = append(o, render.Member{Name: "next", Value: c.Next})
		}
		out = append(out, o)
	}
	return out
}

// sentence begins a hint with a capital letter.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
