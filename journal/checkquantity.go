package journal

import (
	"errors"
	"fmt"
	"strings"

	"wj/journal/frontmatter"
	"wj/water"
)

func (c *checker) quantity(node int32, s string, f *Field, ctx context) {
	q, err := water.ParseQuantity(s)
	if err != nil {
		c.quantityProblem(node, s, asQuantityError(err), ctx)
		return
	}
	if len(f.Families) == 0 {
		return
	}
	for _, family := range f.Families {
		if q.Unit.Family() == family {
			return
		}
	}
	want := make([]string, len(f.Families))
	for i, family := range f.Families {
		want[i] = family.String()
	}
	rule, message := RuleUnitKind, fmt.Sprintf("%s is a %s, not %s", s, q.Unit.Family(), strings.Join(want, " or "))
	if q.Unit.IsNone() {
		rule, message = RuleUnitMissing, fmt.Sprintf("%s has no unit", s)
	}
	c.report(rule, node, message, "write "+example(f.Families[0]))
}

func example(f water.Family) string {
	switch f {
	case water.Mass:
		return "a mass such as 180 g"
	case water.Volume:
		return "a volume such as 140 mL, 1200 L or 15 hL"
	case water.Fraction:
		return "a share such as 40 %"
	case water.Duration:
		return "a time such as 20 s, 15 min, 24 h or 30 d"
	case water.Length:
		return "a distance such as 250 m"
	case water.Temperature:
		return "a temperature such as 20 degC"
	}
	return "a number with its unit"
}

func asQuantityError(err error) *water.QuantityError {
	var q *water.QuantityError
	if errors.As(err, &q) {
		return q
	}
	return &water.QuantityError{Message: err.Error()}
}

func quantityError(s string) *water.QuantityError {
	if _, err := water.ParseQuantity(s); err != nil {
		return asQuantityError(err)
	}
	return nil
}

var faultRules = map[water.Fault]string{
	water.FaultNumber: RuleNumber, water.FaultDecimalComma: RuleDecimalComma, water.FaultUnit: RuleUnitKind,
	water.FaultNoUnit: RuleUnitMissing, water.FaultKind: RuleUnitKind, water.FaultBasis: RuleUnitBasis, water.FaultSign: RuleNumber,
}

func (c *checker) quantityProblem(node int32, s string, e *water.QuantityError, ctx context) {
	if e == nil {
		return
	}
	message := e.Message
	if (e.Fault == water.FaultNoUnit || e.Fault == water.FaultKind || e.Fault == water.FaultBasis) && ctx.known {
		message = fmt.Sprintf("%s: %s", s, e.Message)
	}
	p := c.report(faultRules[e.Fault], node, message, e.Help)
	if e.Fix != "" {
		p.Fix = ptr(frontmatter.SetScalar(c.d, node, e.Fix))
	}
	for _, text := range nearUnits(s, e, ctx) {
		p.Near = append(p.Near, frontmatter.SetScalar(c.d, node, text))
	}
}

// nearUnits are the texts that a quantity may have been meant as: with a unit that is
// spelt alike, or one that the analyte has.
func nearUnits(s string, e *water.QuantityError, ctx context) (out []string) {
	const most = 4
	switch number := strings.TrimRight(s[:len(s)-len(strings.TrimLeft(s, "<>+-0123456789. "))], " "); {
	case e.Fix != "":
	case len(e.Near) > 0 && 0 <= e.Start && e.Start <= e.End && e.End <= len(s):
		for _, unit := range e.Near {
			out = append(out, s[:e.Start]+unit+s[e.End:])
		}
	case ctx.known && number != "" && (e.Fault == water.FaultNoUnit || e.Fault == water.FaultBasis || e.Fault == water.FaultKind):
		for _, u := range ctx.analyte.Info().Units() {
			if len(out) < most && !u.IsNone() {
				out = append(out, number+" "+u.String())
			}
		}
	}
	return out
}

func ptr[T any](v T) *T { return &v }

// ParseAccuracy reads a promise of accuracy, such as "5 mg/L CaCO3 + 8 %": one
// or two parts, in units that fit the analyte or in percent.
func ParseAccuracy(s string, id water.ID) (water.Accuracy, error) {
	var a water.Accuracy
	info := id.Info()
	for _, part := range strings.Split(s, "+") {
		q, err := water.ParseQuantity(part)
		if err != nil {
			return a, fmt.Errorf("%q is no accuracy: %w", s, err)
		}
		if q.Bound != water.Exact || q.Expanded != 0 || q.Value < 0 {
			return a, fmt.Errorf("%q is no accuracy", s)
		}
		if q.Unit == water.Percent {
			a.Relative += q.Value / 100
			continue
		}
		if err := info.Fit(q); err != nil {
			return a, fmt.Errorf("%q is no accuracy: %w", s, err)
		}
		if info.Unit.Family() == water.Temperature {
			a.Absolute += q.Value * q.Unit.Scale()
			continue
		}
		a.Absolute += info.Standard(q)
	}
	return a, nil
}
