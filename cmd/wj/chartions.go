package main

import (
	"fmt"
	"math"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// The ions of a water, in the order in which they are drawn.
var (
	cationOrder = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.Potassium, water.Ammonium, water.Iron, water.Manganese}
	anionOrder  = []water.ID{water.Alkalinity, water.Sulfate, water.Chloride, water.Nitrate, water.Fluoride}
)

// charge is an ion's charge in meq/L: mg/L over its molar mass times its charge
// number. Alkalinity stands for bicarbonate and carbonate together, those bound
// in ion pairs too, so that the bars add up to the sums of the charge balance.
func charge(v water.Value) float64 {
	info := v.ID.Info()
	if v.ID == water.Alkalinity {
		return v.Value / info.MolarMass
	}
	if info.MolarMass == 0 {
		return 0
	}
	return v.Value / info.MolarMass * math.Abs(float64(info.Charge))
}

// ionParts are the ions that a water has, and how many are only bounds.
func ionParts(a *water.Analysis, ids []water.ID) (parts []render.IonPart, bounds []string, missing error) {
	for _, id := range ids {
		v, err := a.Value(id)
		if err != nil {
			if missing == nil && (id == water.Calcium || id == water.Alkalinity) {
				missing = err
			}
			continue
		}
		if v.Bound != water.Exact {
			bounds = append(bounds, fmt.Sprintf("%s %s%s", id, v.Bound, water.Round(v.Value, 3)))
			continue
		}
		if c := charge(v); c > 0.0005 {
			note := ""
			if id == water.Sodium && v.Derived {
				note = "by difference, with potassium and every error"
			}
			parts = append(parts, render.IonPart{Name: ionName(id), Charge: c, Note: note})
		}
	}
	return parts, bounds, missing
}

func ionName(id water.ID) string {
	names := map[water.ID]string{water.Calcium: "Ca", water.Magnesium: "Mg", water.Sodium: "Na", water.Potassium: "K", water.Ammonium: "NH4", water.Iron: "Fe", water.Manganese: "Mn",
		water.Alkalinity: "HCO3+CO3", water.Sulfate: "SO4", water.Chloride: "Cl", water.Nitrate: "NO3", water.Fluoride: "F"}
	if n, ok := names[id]; ok {
		return n
	}
	return id.String()
}

// ions draws the ions of one session as bars.
func (c *chartCmd) ions(a *app, j *journal.Journal) (picture, error) {
	if err := resolve(j, &c.Ions, journal.KindSession); err != nil {
		return picture{}, err
	}
	s, _ := j.Sessions.Get(c.Ions)
	columns, _ := c.size(a, 0)
	d, err := ionDrawing(j, s, columns-4)
	return picture{Drawing: d, height: 10}, err
}

func ionDrawing(j *journal.Journal, s *journal.Session, columns int) (render.Drawing, error) {
	var analysis water.Analysis
	j.Analysis(s, &analysis)
	cations, few, err1 := ionParts(&analysis, cationOrder)
	anions, fewer, err2 := ionParts(&analysis, anionOrder)
	if err1 == nil {
		err1 = err2
	}
	if err1 != nil {
		return render.Drawing{}, withHint("such a picture needs calcium (or calcium hardness), alkalinity, and better all ions", "%s cannot be drawn: %v", s.ID, err1)
	}
	var notes []string
	if bounds := append(few, fewer...); len(bounds) > 0 {
		notes = append(notes, "not drawn, below the range of the method: "+strings.Join(bounds, ", "))
	}
	if _, measured := analysis.Measured(water.Sodium); measured {
		if b, err := water.CheckBalance(&analysis); err == nil {
			value, half := water.Spread(b.Difference.Value, 2*b.Difference.U)
			text := fmt.Sprintf("cations less anions %s ± %s meq/L (%.1f %%)", value, half, b.Percent.Value)
			if b.Explained {
				text += ": the errors of the readings explain it"
			} else {
				text += ": more than the errors of the readings explain"
			}
			notes = append(notes, text)
		}
	} else {
		notes = append(notes, "sodium was not measured but made up so that the bars are equal: they prove nothing")
	}
	name := s.Site
	if site, ok := j.Sites.Get(s.Site); ok {
		name = site.Name
	}
	return render.IonBars("Ions of "+name, s.Sampled.Format("2 January 2006")+", "+s.Source, cations, anions, columns, notes), nil
}

// piper draws where waters lie by the shares of their ions.
func (c *chartCmd) piper(a *app, j *journal.Journal) (picture, error) {
	sites, err := c.sites(a, j)
	if err != nil {
		return picture{}, err
	}
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return picture{}, err
	}
	asked := map[string]bool{}
	for _, s := range sites {
		asked[s] = true
	}
	sources := map[string]bool{}
	for _, s := range c.Source {
		sources[s] = true
	}
	var points []render.PiperPoint
	left := map[string]int{}
	derived := false
	for _, site := range sites {
		for _, s := range j.Sessions.List {
			if s.Site != site || !judge.InSeries(s) || !from.IsZero() && s.Sampled.Before(from) || !to.IsZero() && s.Sampled.After(to) || len(sources) > 0 && !sources[s.Source] {
				continue
			}
			p, byDifference, why := piperPoint(j, s)
			if why != "" {
				left[why]++
				continue
			}
			derived = derived || byDifference
			points = append(points, p)
		}
	}
	if len(points) == 0 {
		a.say("no water has all the ions%s", leftOut(left))
		return picture{}, errFindings
	}
	notes := []string{count(len(points), "water") + ", in percent of meq/L; nitrate has no place in the diagram"}
	if derived {
		notes = append(notes, "where sodium was not measured it is by difference, with potassium and every error")
	}
	if text := leftOut(left); text != "" {
		notes = append(notes, strings.TrimPrefix(text, "; "))
	}
	return picture{Drawing: render.Piper("Shares of the ions", "after Piper 1944", points, notes), height: c.Height}, nil
}

func piperPoint(j *journal.Journal, s *journal.Session) (p render.PiperPoint, byDifference bool, why string) {
	var a water.Analysis
	j.Analysis(s, &a)
	get := func(ids ...water.ID) (sum float64) {
		for i, id := range ids {
			v, err := a.Value(id)
			switch {
			case err != nil && i > 0: // carbonate and potassium add to what is there
			case err != nil:
				why = "without " + id.String()
			case v.Bound != water.Exact && i == 0:
				why = "with " + id.String() + " below the range"
			case v.Bound == water.Exact:
				sum += max(charge(v), 0)
				byDifference = byDifference || id == water.Sodium && v.Derived
			}
		}
		return sum
	}
	ca, mg, na := get(water.Calcium), get(water.Magnesium), get(water.Sodium, water.Potassium)
	hco3, so4, cl := get(water.Alkalinity), get(water.Sulfate), get(water.Chloride)
	cations, anions := ca+mg+na, hco3+so4+cl
	if why == "" && (cations <= 0 || anions <= 0) {
		why = "without ions"
	}
	if why != "" {
		return p, false, why
	}
	return render.PiperPoint{Name: s.Site, Calcium: ca / cations, Magnesium: mg / cations, Sodium: na / cations,
		Bicarbonate: hco3 / anions, Sulfate: so4 / anions, Chloride: cl / anions}, byDifference, ""
}
