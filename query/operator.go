package query

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"wj/water"
)

// maxPattern is the longest regular expression, in bytes.
const maxPattern = 256

func (c *compiler) arithmetic(sign int, operator string, l, r *operand) (*operand, *Error) {
	if l.kind == timeKind || r.kind == timeKind {
		return c.timeArithmetic(sign, operator, l, r)
	}
	for _, pair := range [][2]*operand{{l, r}, {r, l}} {
		if err := c.literalFor(pair[0], pair[1]); err != nil {
			return nil, err
		}
	}
	for _, side := range []*operand{l, r} {
		if side.kind != numberKind {
			return nil, c.fail(side.at, fmt.Sprintf("%s needs numbers, and this is %s", operator, side.kind), "")
		}
	}
	o := &operand{kind: numberKind, at: l.at, uses: l.uses.Union(r.uses)}
	switch operator {
	case "+", "-":
		t, err := c.unify(sign, l, r)
		if err != nil {
			return nil, err
		}
		t.difference = t.difference || operator == "-" && l.number.sort == value && r.number.sort == value
		o.number = t
	case "*":
		switch {
		case l.number.sort == plain:
			o.number = r.number.times()
		case r.number.sort == plain:
			o.number = l.number.times()
		}
	case "/":
		switch {
		case r.number.sort == plain:
			o.number = l.number.times()
		case l.number.sort != plain && (l.number.sort == quantity || r.number.sort == quantity):
			if _, err := c.unify(sign, l, r); err != nil {
				return nil, err
			}
		}
	}
	a, b := l.num, r.num
	switch operator {
	case "+":
		o.num = func(r *row) num { return a(r).add(b(r)) }
	case "-":
		o.num = func(r *row) num { return a(r).add(b(r).negative()) }
	case "*":
		o.num = func(r *row) num { return a(r).times(b(r)) }
	case "/":
		o.num = func(r *row) num { return a(r).over(b(r)) }
	}
	if l.constant != nil && r.constant != nil {
		// Both sides ignore the row.
		v := o.num(nil)
		if v.k != isExact {
			return nil, c.fail(sign, "this has no value", "division by 0?")
		}
		o.constant = &v.v
		o.num = func(*row) num { return v }
	}
	return o, nil
}

// times is the type of a number times a bare one.
func (t numberType) times() numberType {
	t.scaled = t.sort == value
	return t
}

// timeArithmetic makes time − time, a duration in seconds, and time ± duration.
func (c *compiler) timeArithmetic(sign int, operator string, l, r *operand) (*operand, *Error) {
	for _, pair := range [][2]*operand{{l, r}, {r, l}} {
		if pair[0].kind == textKind && pair[0].literal != nil {
			if err := c.date(pair[0]); err != nil {
				return nil, err
			}
		}
	}
	if l.kind == timeKind && r.kind == timeKind && operator == "-" {
		a, b := l.time, r.time
		return &operand{kind: numberKind, at: l.at, number: numberType{sort: quantity, unit: water.Second}, num: func(r *row) num {
			p, v := a(r)
			q, w := b(r)
			if v != yes || w != yes {
				return nothing(isAbsent)
			}
			return exact(float64(p.low - q.low))
		}}, nil
	}
	if operator == "+" && r.kind == timeKind {
		l, r = r, l
	}
	if l.kind != timeKind || r.kind != numberKind || operator != "+" && operator != "-" {
		return nil, c.fail(sign, fmt.Sprintf("%s does not go between %s and %s", operator, l.kind, r.kind), "subtract two times, or add days(3) or hours(2) to one")
	}
	way, err := affine{}, error(nil)
	if r.number.unit.Family() == water.Duration {
		way, err = conversion(water.Set{}, r.number.unit, water.Second)
	}
	if r.number.unit.Family() != water.Duration || err != nil {
		return nil, c.fail(r.at, "a time and a number without a unit of time", "write days(3) or hours(2)")
	}
	factor := way.factor
	if operator == "-" {
		factor = -factor
	}
	a, b := l.time, r.num
	return &operand{kind: timeKind, at: l.at, time: func(r *row) (period, verdict) {
		p, v := a(r)
		n := b(r)
		if v != yes {
			return p, v
		}
		if n.k != isExact {
			return p, n.why()
		}
		shift := int64(max(-1e15, min(1e15, n.v*factor)))
		return period{p.low + shift, p.high + shift}, yes
	}}, nil
}

// in makes membership in a list, or of a time in a span.
func (c *compiler) in(sign int, l, r *operand) (*operand, *Error) {
	if r.kind != listKind {
		if l.kind == timeKind {
			return c.comparison(sign, equal, l, r)
		}
		return nil, c.fail(r.at, "in needs a list, and this is "+r.kind.String(), "write it in square brackets: site in [\"north-well\", \"town-tap\"]")
	}
	if len(r.list) == 0 {
		return nil, c.fail(r.at, "the list is empty", "name what to look for")
	}
	var any *operand
	for _, item := range r.list {
		left := *l
		one, err := c.comparison(item.at, equal, &left, item)
		if err != nil {
			return nil, err
		}
		if any == nil {
			any = one
			continue
		}
		if any, err = c.join("or", any, one); err != nil {
			return nil, err
		}
	}
	any.at = l.at
	return any, nil
}

// textual makes contains, startsWith, endsWith and matches. The right side is a text in quotes.
func (c *compiler) textual(sign int, operator string, l, r *operand) (*operand, *Error) {
	for _, side := range []*operand{l, r} {
		if side.kind != textKind {
			return nil, c.fail(side.at, fmt.Sprintf("%s needs texts, and this is %s", operator, side.kind), "text is in quotes")
		}
	}
	if r.literal == nil {
		return nil, c.fail(r.at, operator+" looks for a fixed text", "write it in quotes")
	}
	want := *r.literal
	test := func(s string) bool { return strings.Contains(s, want) }
	switch operator {
	case "startsWith":
		test = func(s string) bool { return strings.HasPrefix(s, want) }
	case "endsWith":
		test = func(s string) bool { return strings.HasSuffix(s, want) }
	case "matches":
		if len(want) > maxPattern {
			return nil, c.fail(r.at, fmt.Sprintf("the pattern is longer than %d bytes", maxPattern), "use a shorter one, or contains")
		}
		pattern, err := regexp.Compile(want)
		if err != nil {
			return nil, c.fail(r.at, "the pattern cannot be read: "+strings.TrimPrefix(err.Error(), "error parsing regexp: "), "contains looks for plain text")
		}
		test = pattern.MatchString
	}
	a := l.text
	return &operand{kind: truthKind, at: l.at, cost: l.cost, truth: func(r *row) verdict {
		s, v := a(r)
		if v != yes {
			return v
		}
		return truth(test(s))
	}}, nil
}

func moment(t time.Time) (period, verdict) {
	if t.IsZero() {
		return period{}, absent
	}
	return period{t.Unix(), t.Unix()}, yes
}
