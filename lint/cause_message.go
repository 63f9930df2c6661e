package lint

import (
	"fmt"
	"math"
	"strings"

	"wj/journal"
	"wj/lint/cause"
	"wj/water"
)

// verdict reports one.
func (p *Pass) verdict(v *verdicts, o *cause.Explanation) *Finding {
	s := v.records[o.Session]
	says := p.clause(v, o, &o.Best)
	head := s.Site
	var f *Finding
	if o.Best.Reading >= 0 {
		r := v.readings[o.Session][o.Best.Reading]
		part := "value"
		head = fmt.Sprintf("%s at %s", reads(journal.TypedReading(r), r.Analyte), s.Site)
		if o.Best.Kind == cause.Lot {
			part = "lot"
		}
		f = p.ReportReading(s, r, part, "")
	} else {
		keys := map[cause.Kind]string{cause.Bottle: "site", cause.Supply: "sampled", cause.Meter: "instrument"}[o.Best.Kind]
		if keys == "" {
			keys = "readings"
		}
		at := []string{keys}
		if r := leaking(v, o); r != nil {
			at = append(at, r.Analyte.String(), "value")
			head = fmt.Sprintf("%s at %s", reads(journal.TypedReading(r), r.Analyte), s.Site)
		}
		f = p.Report(s.Path, at, "")
	}
	if o.Best.Posterior < 0.8 && o.Second != nil {
		f.d.Message = fmt.Sprintf("%s: %s, or %s (odds %s that one of them is right)", head, says, p.clause(v, o, o.Second), odds(o.Odds))
	} else {
		f.d.Message = fmt.Sprintf("%s: %s (odds %s)", head, says, odds(o.Odds))
	}
	if o.Since > 1 {
		f.d.Message += fmt.Sprintf(". So in %d sessions in a row", o.Since)
	}
	f.d.Help = strings.Join(p.steps(v, o), ". ")
	f.verdict = o
	for _, n := range o.Also {
		f.also = append(f.also, v.records[n].Path)
		f.See(v.records[n].Path, []string{"readings"}, "the same cause")
	}
	switch j := p.Journal; o.Best.Kind {
	case cause.Lot:
		if lot, ok := j.Lots.Get(v.readings[o.Session][o.Best.Reading].Lot); ok {
			f.See(lot.Path, nil, "the lot")
		}
	case cause.Bottle:
		if site, ok := j.Sites.Get(v.sites[o.Best.With].Name); ok {
			f.See(site.Path, nil, "the site that the readings fit")
		}
	case cause.Swap:
		f.See(s.Path, []string{"readings", v.readings[o.Session][o.Best.With].Analyte.String()}, "the other reading")
	case cause.Meter:
		if meter, ok := j.Instruments.Get(s.Instrument); ok {
			f.See(meter.Path, nil, "the meter")
		}
	}
	f.doubted = map[water.ID]bool{}
	if o.Best.Reading >= 0 {
		f.doubted[v.readings[o.Session][o.Best.Reading].Analyte] = true
		if o.Best.Kind == cause.Swap {
			f.doubted[v.readings[o.Session][o.Best.With].Analyte] = true
		}
	}
	return f
}

// leaking is the hardness that a softener let through; nil where it is another cause.
func leaking(v *verdicts, o *cause.Explanation) *journal.Reading {
	if o.Best.Kind != cause.Treatment || v.sites[v.sessions[o.Session].Site].Stage != journal.StageSoftener {
		return nil
	}
	for _, r := range v.readings[o.Session] {
		if r.Analyte == water.TotalHardness {
			return r
		}
	}
	return nil
}

// odds writes them rounded, for nobody knows them better.
func odds(v float64) string {
	for _, step := range []float64{1000, 500, 200, 100, 50, 20, 10, 5, 2} {
		if v >= step {
			if step == 1000 {
				return "over 1,000 to 1"
			}
			return fmt.Sprintf("%.0f to 1", step)
		}
	}
	return "1 to 1"
}

// clause says what a cause is, as a part of a sentence.
func (p *Pass) clause(v *verdicts, o *cause.Explanation, c *cause.Cause) string {
	s := v.records[o.Session]
	var r *journal.Reading
	of := ""
	if c.Reading >= 0 {
		r = v.readings[o.Session][c.Reading]
		if c.Reading != o.Best.Reading {
			of = " of " + r.Analyte.String()
		}
	}
	switch c.Kind {
	case cause.Unit:
		switch {
		case c.Unit.IsNone():
			return "the number" + of + " is probably as salt (NaCl), not as chloride"
		case r.Analyte == water.ElectricalConductivity && c.Unit.Family() == water.MassPerVolume:
			return "the number" + of + " is probably dissolved solids in mg/L"
		case c.Twice:
			return fmt.Sprintf("the number%s was probably converted from %s once too often", of, c.Unit)
		}
		return fmt.Sprintf("the number%s is probably in %s", of, c.Unit)
	case cause.Ten:
		places := "one place"
		if c.Factor > 50 || c.Factor < 0.02 {
			places = "two places"
		}
		return fmt.Sprintf("the decimal point%s probably slipped by %s", of, places)
	case cause.Typo:
		return fmt.Sprintf("probably a typing error%s for %s", of, show(r.Analyte, c.Means))
	case cause.Swap:
		return fmt.Sprintf("the numbers of %s and %s are probably exchanged", r.Analyte, v.readings[o.Session][c.With].Analyte)
	case cause.Dilution:
		meant := c.Factor * r.Factor()
		switch {
		case meant == 2 && r.Factor() == 1:
			return "the 1:1 dilution" + of + " is probably missing"
		case c.Factor > 1:
			return fmt.Sprintf("dilution: %g%s is probably missing", meant, of)
		case meant == 1:
			return "the dilution" + of + " was probably counted and not made"
		case meant*meant == r.Factor():
			return "the dilution" + of + " was probably counted twice"
		}
		return fmt.Sprintf("the dilution%s was probably %g", of, meant)
	case cause.Bottle:
		return fmt.Sprintf("these are probably the readings of %s, not of %s", v.named(c.With, s.Site), s.Site)
	case cause.Supply:
		declared := v.sites[v.sessions[o.Session].Site].Regime(s.Sampled)
		if declared == "" {
			return fmt.Sprintf("no supply period is declared on %s, and this is probably the water of %s", p.date(s.Sampled), c.Regime)
		}
		return fmt.Sprintf("declared as %s on %s, and this is probably the water of %s", declared, p.date(s.Sampled), c.Regime)
	case cause.Lot:
		if o.Since == 0 && c == &o.Best {
			way, by := "high", 100*(c.Factor-1)
			if by < 0 {
				way, by = "low", -by
			}
			return fmt.Sprintf("lot %s probably reads %s about %.0f %% %s", r.Lot, r.Analyte, by, way)
		}
		return fmt.Sprintf("lot %s%s probably reads wrong", r.Lot, of)
	case cause.Test:
		return "the test" + of + " probably failed"
	case cause.Meter:
		return "all tests with " + s.Instrument + " are probably off together"
	case cause.Change:
		return "the water has probably changed"
	case cause.Treatment:
		return "the treatment probably lets salts through"
	case cause.Cut:
		return fmt.Sprintf("the whole sample was probably diluted %g-fold", c.Factor)
	}
	return ""
}

// named is a site with its owner where that is another one than the first site's.
func (v *verdicts) named(site int, beside string) string {
	for _, other := range v.sites {
		if other.Name == beside && other.Owner != v.sites[site].Owner {
			return fmt.Sprintf("%s (owner: %s)", v.sites[site].Name, v.sites[site].Owner)
		}
	}
	return v.sites[site].Name
}

// steps are what was expected, and what to do next.
func (p *Pass) steps(v *verdicts, o *cause.Explanation) (out []string) {
	readings := v.readings[o.Session]
	if i := o.Best.Reading; i >= 0 && o.Expected[i].Half > 0 {
		e := o.Expected[i]
		text := fmt.Sprintf("Expected %s", spread(readings[i].Analyte, e.Middle, e.Half/2))
		if !math.IsNaN(o.Best.Means) {
			text += fmt.Sprintf(", and %s fits", show(readings[i].Analyte, o.Best.Means))
		}
		out = append(out, text)
	} else if o.Best.Reading < 0 {
		off, n := 0, 0
		for _, e := range o.Expected {
			if e.Half > 0 {
				n++
				if e.Off {
					off++
				}
			}
		}
		if off > 0 {
			out = append(out, fmt.Sprintf("%d of %d readings are outside the expected range of %s", off, n, v.records[o.Session].Site))
		}
	}
	switch o.Best.Kind {
	case cause.Bottle:
		out = append(out, "Check the label. If the bottle is that of "+v.sites[o.Best.With].Name+", void this record with the reason and write a new one under that site")
		for _, n := range o.Also {
			out = append(out, fmt.Sprintf("%s has the readings of %s: the two bottles were exchanged", v.records[n].ID, v.records[o.Session].Site))
		}
	case cause.Supply:
		out = append(out, fmt.Sprintf("Ask the utility whether the supply has switched, and declare the period in sites/%s.md", v.records[o.Session].Site))
	case cause.Lot:
		out = append(out, "Run this lot and the previous one side by side on one sample and on a check standard. Until then trust neither")
	case cause.Meter:
		out = append(out, "Test a check standard. Clean the cell and the optics before the session is repeated")
	case cause.Change:
		out = append(out, "If it did, write the event, or the supply period")
	case cause.Treatment:
		out = append(out, "Check the last service of the stage, and write the event")
	}
	if i := o.Repeat; i >= 0 {
		id := readings[i].Analyte
		out = append(out, fmt.Sprintf("Repeat %s: about %s again confirms it, about %s does not", id, show(id, o.Right), show(id, o.Else)))
	} else if o.Best.Kind == cause.Test {
		out = append(out, "Repeat the test with another lot before the number is used")
	} else if len(out) < 2 {
		out = append(out, "Compare with the meter's memory, and repeat the tests")
	}
	return out
}
