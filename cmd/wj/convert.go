package main

import (
	"fmt"
	"math"
	"strings"

	"wj/render"
	"wj/water"
	"wj/water/spelling"
)

type convertCmd struct {
	Quantity string `arg:"" help:"What to convert, with its unit: \"118 mg/L CaCO3\"."`
	Unit     string `arg:"" help:"The unit wanted: dKH, gpg, \"mg/L HCO3\", mmol/L …"`
	Analyte  string `short:"a" placeholder:"NAME" help:"What is measured, where the units alone are not enough: calcium, total_hardness …"`
	Format   string `enum:"text,json" default:"text" help:"${enum}."`
	Digits   int    `default:"0" help:"Significant digits; at least three, or as many as were given."`
}

func (c *convertCmd) Run(a *app) error {
	q, err := water.ParseQuantity(c.Quantity)
	if err != nil {
		return err
	}
	if q.Unit.IsNone() {
		return withHint(fmt.Sprintf("quotes keep number and unit together: wj convert \"%s mg/L CaCO3\" dKH", c.Quantity), "%q has no unit", c.Quantity)
	}
	to, ok := water.ParseUnit(c.Unit)
	if !ok {
		known := water.UnitNames()
		return withHint(spelling.HintOr(c.Unit, known, "known units: "+strings.Join(known, ", ")), "%q is not a known unit", c.Unit)
	}
	one := func(v float64) (float64, error) {
		each := q
		each.Value = v
		if c.Analyte == "" {
			return water.Convert(each, to)
		}
		id, ok := water.Lookup(c.Analyte)
		if !ok {
			return 0, withHint(spelling.HintOr(c.Analyte, water.Keys(), "wj explain lists the analytes"), "%q is no analyte", c.Analyte)
		}
		return id.Info().Convert(v, q.Unit, to)
	}
	v, err := one(q.Value)
	if err != nil {
		return err
	}
	digits := c.Digits
	if digits <= 0 {
		digits = max(3, int(q.Digits))
	}
	text, half := q.Bound.String()+water.Round(v, digits), math.NaN()
	if q.Expanded > 0 {
		high, err := one(q.Value + q.Expanded)
		if err != nil {
			return err
		}
		half = math.Abs(high - v)
		value, spread := water.Spread(v, half)
		text = value + " ± " + spread
	}
	if c.Format == "text" {
		return a.print(text + " " + to.String() + "\n")
	}
	var value, bound, limit, analyte any
	if q.Bound == water.Exact {
		value = rounded(v)
	} else {
		bound, limit = q.Bound.String(), rounded(v)
	}
	if c.Analyte != "" {
		analyte = c.Analyte
	}
	return a.document("convert", render.Object{{Name: "value", Value: value}, {Name: "bound", Value: bound}, {Name: "limit", Value: limit}, {Name: "expanded", Value: finite(half)},
		{Name: "unit", Value: to.String()}, {Name: "from", Value: c.Quantity}, {Name: "analyte", Value: analyte}})
}
