package report

import (
	"fmt"
	"slices"
	"strings"

	"wj/render"
	"wj/water"
)

// Check is one check of an analysis' correctness (Standard Methods 1030 E): judged by the readings' own uncertainty first, by the
// published band second.
type Check struct {
	Name     string  `json:"check"`
	Value    *Number `json:"value"`
	Unit     string  `json:"unit"`
	U        *Number `json:"u"`
	Own      string  `json:"own"` // whether the readings' uncertainty explains what is amiss: agrees, explained, barely explained, not explained
	Doubtful bool    `json:"doubtful"`
	Band     *Band   `json:"band"`
	Next     string  `json:"next,omitempty"`

	value water.Value
	other string // the charge balance in its other unit, for a reader
}

// Band is a published range of acceptance.
type Band struct {
	Low    Number `json:"low"`
	High   Number `json:"high"`
	In     bool   `json:"in"`
	Where  string `json:"where"`
	Source string `json:"source"`
}

// analysisChecks makes every check for which the analysis has the readings.
func analysisChecks(a *water.Analysis) []Check {
	out := []Check{}
	// Sodium by difference balances by construction: nothing is checked then.
	if a.Has(water.Sodium) {
		if b, err := water.CheckBalance(a); err == nil {
			out = append(out, balanceCheck(&b))
		}
	}
	for _, r := range water.CheckRatios(a) {
		c := Check{Name: r.Name, Band: &Band{Number(r.Band.Low), Number(r.Band.High), r.InBand, r.Band.Where, r.Band.Source}, Doubtful: r.Doubtful(), Own: "explained", Next: r.Hint}
		c.set(r.Value, "")
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

func (c *Check) set(v water.Value, unit string) {
	c.value, c.Value, c.U, c.Unit = v, number(v.Value), number(v.U), unit
}

func balanceCheck(b *water.BalanceVerdict) Check {
	c := Check{Name: "charge balance", Doubtful: b.Doubtful(), Own: "explained"}
	if b.HasBand {
		c.Band = &Band{Number(b.Band.Low), Number(b.Band.High), b.InBand, b.Band.Where, b.Band.Source}
	}
	c.set(b.Percent, "%")
	other, unit := b.Difference, "meq/L"
	if b.HasBand && b.Band.Unit == "meq/L" {
		c.set(b.Difference, "meq/L")
		other, unit = b.Percent, "%"
	}
	value, half := water.Spread(other.Value, 2*other.U)
	c.other = fmt.Sprintf("cations less anions: %s ± %s %s, of %s and %s meq/L", value, half, unit, water.Round(b.Cations.Value, 3), water.Round(b.Anions.Value, 3))
	if !b.Explained {
		c.Own = "not explained"
		c.Next = "repeat the reading you trust least"
		if len(b.Unmeasured) > 0 {
			c.Next += ", or look for what was not measured: " + names(b.Unmeasured)
		}
	}
	return c
}

// within reports whether a check is as it should be, in the words of a table.
func (c Check) within() string {
	switch c.Own {
	case "agrees", "explained":
		return "yes"
	case "barely explained":
		return "barely"
	}
	return "no"
}

// checksLine counts the checks that the readings' uncertainty explains, and names those that it does not.
func checksLine(list []Check) string {
	if len(list) == 0 {
		return ""
	}
	var fine, off []string
	for _, c := range list {
		if c.within() == "yes" {
			fine = append(fine, c.Name)
		} else {
			value, half := water.Spread(c.value.Value, 2*c.value.U)
			text := strings.TrimSpace(fmt.Sprintf("%s %s ± %s %s", c.Name, value, half, c.Unit))
			if c.Band != nil {
				text += fmt.Sprintf(", published band %g to %g", float64(c.Band.Low), float64(c.Band.High))
			}
			off = append(off, text)
		}
	}
	text := fmt.Sprintf("%d of %d within uncertainty", len(fine), len(list))
	if len(off) > 0 {
		text += "; not explained: " + strings.Join(off, "; ")
	}
	return text
}

// checksTable is every check with the bands and what to do.
func checksTable(d *render.Document, list []Check) {
	if len(list) == 0 {
		return
	}
	t := render.Table{Columns: []render.Column{{Head: "check", Wrap: true}, {Head: "result", Right: true}, {Head: "± 95 %", Right: true}, {Head: "unit"}, {Head: "within uncertainty"}, {Head: "published band"}}}
	var notes, sources []string
	for _, c := range list {
		value, half := water.Spread(c.value.Value, 2*c.value.U)
		band := "none"
		if c.Band != nil {
			band = fmt.Sprintf("%g to %g: %s", float64(c.Band.Low), float64(c.Band.High), map[bool]string{true: "in", false: "out"}[c.Band.In])
			if !slices.Contains(sources, c.Band.Source) {
				sources = append(sources, c.Band.Source)
			}
		}
		t.Rows = append(t.Rows, []render.Cell{{Text: c.Name}, {Text: value}, {Text: half}, {Text: c.Unit}, {Text: c.within()}, {Text: band}})
		switch {
		case c.Doubtful:
			notes = append(notes, c.Name+": "+sentence(c.Next))
		case c.Next != "":
			notes = append(notes, c.Name+", should it stay out: "+sentence(c.Next))
		}
		if c.other != "" {
			notes = append(notes, c.other+".")
		}
	}
	d.Table("Checks of the analysis", t)
	d.Items("", append(notes, "Bands: "+strings.Join(sources, "; ")+"."))
}
