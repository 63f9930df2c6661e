package query

import (
	"fmt"
	"sort"
	"strings"

	"github.com/expr-lang/expr/ast"

	"wj/journal"
	"wj/water"
	"wj/water/spelling"
)

// function is one function of the language.
type function struct {
	example string
	compile func(c *compiler, at int, args []ast.Node) (*operand, *Error)
}

var functions map[string]function

// The table refers to functions that look into it for their messages.
func init() {
	functions = map[string]function{
		"surely":     {"surely(sulfate > 300)", withMode(surely)},
		"maybe":      {"maybe(sulfate > 300)", withMode(maybe)},
		"u":          {"u(sulfate)", uncertaintyOf},
		"lot":        {"lot(sulfate)", lotOf},
		"replicates": {"replicates(sulfate)", replicatesOf},
		"diluted":    {"diluted(sulfate)", ofReading(func(_ *row, g *journal.Reading) verdict { return truth(g.Dilution != 1 && g.Dilution != 0) })},
		"recalled":   {"recalled(sulfate)", ofReading((*row).recalled)},
		"expired":    {"expired(sulfate)", ofReading((*row).expired)},
		"removal":    {"removal(free_chlorine)", removalOf},
		"measured":   {"measured(sulfate)", ofName(func(r *row, id water.ID) bool { g := r.reading(id); return g != nil && !g.Faulty })},
		"derived":    {"derived(magnesium)", ofName(func(r *row, id water.ID) bool { return r.reading(id) == nil && r.number(id).k == isExact })},
		"known":      {"known(sulfate)", ofNumber(isExact)},
		"below":      {"below(chloride)", ofNumber(isBelow)},
		"above":      {"above(sulfate)", ofNumber(isAbove)},
		"uses":       {`uses("SU-2511")`, usesLot},
		"text":       {`text("cloudy")`, textSearch},
		"date":       {`date("2026-03")`, dateOf},
		"last":       {"last(90)", lastDays},
		"as":         {`as("mg/L N", 10)`, inUnit},
		"abs":        {"abs(charge_balance)", absolute},
		"lower":      {"lower(note)", lowerCase},
	}
}

func exampleCall(name string) string {
	if f, ok := functions[name]; ok {
		return f.example
	}
	return name + "(3)"
}

func (c *compiler) call(n *ast.CallNode) (*operand, *Error) {
	callee, ok := n.Callee.(*ast.IdentifierNode)
	if !ok {
		return nil, c.fail(at(n), "only the functions of the query language can be called", "")
	}
	name := callee.Value
	if f, ok := functions[name]; ok {
		o, err := f.compile(c, at(n), n.Arguments)
		if o != nil {
			c.fields[name] = true
		}
		return o, err
	}
	if unit, ok := helpers()[name]; ok {
		if len(n.Arguments) != 1 {
			return nil, c.fail(at(n), name+" takes one number", "write "+exampleCall(name))
		}
		return c.told(at(n), unit, n.Arguments[0])
	}
	return nil, c.unknownFunction(at(n), name)
}

func (c *compiler) unknownFunction(at int, name string) *Error {
	known := helperNames()
	for f := range functions {
		known = append(known, f)
	}
	sort.Strings(known)
	message := fmt.Sprintf("there is no function %q", shorten(name))
	if _, isName := water.Lookup(name); isName || textFields[name] != nil {
		return c.fail(at, fmt.Sprintf("%s is not a function", name), "write it without brackets")
	}
	if near := spelling.Nearest(name, known); near != "" {
		return c.fail(at, message, "did you mean "+exampleCall(near)+"?")
	}
	switch name {
	case "count", "sum", "max", "min", "mean", "median", "first", "groupBy", "all", "any", "filter", "map", "reduce":
		return c.fail(at, message, "an expression sees one session; grouping and aggregates over sessions are not part of it")
	}
	return c.fail(at, message, "known are surely, maybe, u, lot, known, date, last and the units such as dKH(7)")
}

// one checks that there is one argument.
func (c *compiler) one(at int, args []ast.Node, example string) *Error {
	if len(args) != 1 {
		return c.fail(at, fmt.Sprintf("this takes one argument, not %d", len(args)), "write "+example)
	}
	return nil
}

// analyteArgument is the name that is the only argument.
func (c *compiler) analyteArgument(at int, args []ast.Node) (water.ID, *Error) {
	if err := c.one(at, args, "the name of a reading, such as known(sulfate)"); err != nil {
		return 0, err
	}
	n, ok := args[0].(*ast.IdentifierNode)
	if !ok {
		return 0, c.fail(args[0].Location().From, "this takes the name of a reading", "such as sulfate")
	}
	id, ok := water.Lookup(n.Value)
	if !ok {
		return 0, c.fail(n.Location().From, fmt.Sprintf("there is no reading %q", shorten(n.Value)),
			spelling.HintOr(n.Value, water.Keys(), "this takes the name of a reading, such as sulfate"))
	}
	c.uses.Add(id)
	return id, nil
}

// textArgument is a quoted text that is the only argument.
func (c *compiler) textArgument(at int, args []ast.Node, example string) (string, *Error) {
	if err := c.one(at, args, example); err != nil {
		return "", err
	}
	s, ok := args[0].(*ast.StringNode)
	if !ok {
		return "", c.fail(args[0].Location().From, "this takes a text in quotes", "write "+example)
	}
	return s.Value, nil
}

// withMode makes surely and maybe.
func withMode(mode sureness) func(*compiler, int, []ast.Node) (*operand, *Error) {
	return func(c *compiler, at int, args []ast.Node) (*operand, *Error) {
		if err := c.one(at, args, "surely(sulfate > 300)"); err != nil {
			return nil, err
		}
		outer := c.mode
		c.mode = mode
		o, err := c.operand(args[0])
		c.mode = outer
		if err != nil {
			return nil, err
		}
		if o.kind != truthKind {
			return nil, c.fail(o.at, "surely and maybe take a condition, and this is "+o.kind.String(), "write surely(sulfate > 300)")
		}
		return &operand{kind: truthKind, at: at, cost: o.cost, truth: o.truth}, nil
	}
}

// ofName makes a question about a name that is never absent.
func ofName(test func(*row, water.ID) bool) func(*compiler, int, []ast.Node) (*operand, *Error) {
	return func(c *compiler, at int, args []ast.Node) (*operand, *Error) {
		id, err := c.analyteArgument(at, args)
		if err != nil {
			return nil, err
		}
		return &operand{kind: truthKind, at: at, truth: func(r *row) verdict { return truth(test(r, id)) }}, nil
	}
}

// ofNumber makes a question about what is known of a value, which is never absent.
func ofNumber(k known) func(*compiler, int, []ast.Node) (*operand, *Error) {
	return func(c *compiler, at int, args []ast.Node) (*operand, *Error) {
		o, _, err := c.valueArgument(at, args)
		if err != nil {
			return nil, err
		}
		return &operand{kind: truthKind, at: at, truth: func(r *row) verdict { return truth(o.num(r).k == k) }}, nil
	}
}

// ofReading makes a question about a reading, absent where there is no reading. Without an argument it is asked of
// every reading of the session and is yes where any answer is.
func ofReading(test func(*row, *journal.Reading) verdict) func(*compiler, int, []ast.Node) (*operand, *Error) {
	return func(c *compiler, at int, args []ast.Node) (*operand, *Error) {
		if len(args) == 0 {
			return &operand{kind: truthKind, at: at, truth: func(r *row) verdict {
				for i := range r.s.Readings {
					if test(r, &r.s.Readings[i]) == yes {
						return yes
					}
				}
				return no
			}}, nil
		}
		id, err := c.analyteArgument(at, args)
		if err != nil {
			return nil, err
		}
		return &operand{kind: truthKind, at: at, truth: func(r *row) verdict {
			g := r.reading(id)
			if g == nil {
				return absent
			}
			return test(r, g)
		}}, nil
	}
}

// uncertaintyOf is the standard uncertainty of a value in its standard unit.
func uncertaintyOf(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	o, id, err := c.valueArgument(at, args)
	if err != nil {
		return nil, err
	}
	kind := o.number
	kind.difference = true
	if id == water.NumNames {
		return &operand{kind: numberKind, at: at, number: kind, num: func(r *row) num {
			if n := o.num(r); n.k != isExact {
				return nothing(max(n.k, isCensored))
			}
			return exact(r.spread(o.uses, o.num))
		}}, nil
	}
	return &operand{kind: numberKind, at: at, number: kind, num: func(r *row) num {
		if n := r.number(id); n.k != isExact {
			return nothing(max(n.k, isCensored))
		}
		r.fill(withUncertainty)
		v, absence := r.a.Value(id)
		if absence != nil {
			return nothing(isAbsent)
		}
		return exact(v.U)
	}}, nil
}

func lotOf(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	id, err := c.analyteArgument(at, args)
	if err != nil {
		return nil, err
	}
	return &operand{kind: textKind, at: at, field: "lot", text: func(r *row) (string, verdict) {
		g := r.reading(id)
		if g == nil {
			return "", absent
		}
		return g.Lot, yes
	}}, nil
}

func replicatesOf(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	id, err := c.analyteArgument(at, args)
	if err != nil {
		return nil, err
	}
	return &operand{kind: numberKind, at: at, num: func(r *row) num {
		g := r.reading(id)
		switch {
		case g == nil:
			return nothing(isAbsent)
		case g.Faulty:
			return nothing(isFaulty)
		}
		return exact(float64(g.Replicates()))
	}}, nil
}

func usesLot(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	lot, err := c.textArgument(at, args, `uses("SU-2511")`)
	if err != nil {
		return nil, err
	}
	c.mentions = append(c.mentions, mention{"lot", lot})
	return &operand{kind: truthKind, at: at, truth: func(r *row) verdict {
		for i := range r.s.Readings {
			if r.s.Readings[i].Lot == lot {
				return yes
			}
		}
		return truth(r.s.StandardLot == lot)
	}}, nil
}

func textSearch(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	words, err := c.textArgument(at, args, `text("cloudy")`)
	if err != nil {
		return nil, err
	}
	if strings.TrimSpace(words) == "" {
		return nil, c.fail(args[0].Location().From, "there is no word to look for", `write text("cloudy")`)
	}
	want := []byte(strings.ToLower(words))
	return &operand{kind: truthKind, at: at, cost: 1, truth: func(r *row) verdict { return truth(r.mentions(want)) }}, nil
}

func dateOf(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	text, err := c.textArgument(at, args, `date("2026-03")`)
	if err != nil {
		return nil, err
	}
	o := &operand{at: args[0].Location().From, literal: &text}
	if err := c.date(o); err != nil {
		return nil, err
	}
	o.at = at
	return o, nil
}

// lastDays is whether the sample was taken in the days before now: last(90), last(weeks(2)).
func lastDays(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	if err := c.one(at, args, "last(90)"); err != nil {
		return nil, err
	}
	o, err := c.operand(args[0])
	if err != nil {
		return nil, err
	}
	if o.kind != numberKind || !o.uses.Empty() {
		return nil, c.fail(o.at, "last takes a number of days", "write last(90)")
	}
	seconds := 86400.0
	if o.number.sort != plain {
		way, wrong := conversion(water.Set{}, o.number.unit, water.Second)
		if wrong != nil || o.number.unit.Family() != water.Duration {
			return nil, c.fail(o.at, "last takes a number of days, not "+o.number.unit.String(), "write last(90)")
		}
		seconds = way.factor
	}
	inner := o.num
	return &operand{kind: truthKind, at: at, truth: func(r *row) verdict {
		n := inner(r)
		if n.k != isExact {
			return n.why()
		}
		if r.s.Sampled.IsZero() {
			return absent
		}
		back := r.now.Sub(r.s.Sampled).Seconds()
		return truth(back >= 0 && back <= n.v*seconds)
	}}, nil
}

func inUnit(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	if len(args) != 2 {
		return nil, c.fail(at, "as takes a unit in quotes and a number", `write as("mg/L N", 10)`)
	}
	s, ok := args[0].(*ast.StringNode)
	if !ok {
		return nil, c.fail(args[0].Location().From, "as takes a unit in quotes and a number", `write as("mg/L N", 10)`)
	}
	unit, ok := water.ParseUnit(s.Value)
	if !ok {
		help := spelling.HintOr(s.Value, water.UnitNames(), "known are mg/L, mmol/L, meq/L, dH, dKH, fH, eH, gpg, uS/cm and others")
		return nil, c.fail(args[0].Location().From, fmt.Sprintf("%q is not a known unit", shorten(s.Value)), help)
	}
	return c.told(at, unit, args[1])
}

// told gives a bare number a unit, and tells a value in it.
func (c *compiler) told(at int, unit water.Unit, arg ast.Node) (*operand, *Error) {
	o, err := c.operand(arg)
	if err != nil {
		return nil, err
	}
	if o.kind != numberKind {
		return nil, c.fail(o.at, "a unit is said of a number, and this is "+o.kind.String(), "write "+helperFor(unit, "3"))
	}
	told := *o
	told.at, told.field = at, ""
	if o.number.sort == plain {
		told.number = numberType{sort: quantity, unit: unit}
		return &told, nil
	}
	to := o.number
	to.unit = unit
	if err := c.bring(&told, to); err != nil {
		return nil, err
	}
	told.number.sort = value
	return &told, nil
}

func absolute(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	if err := c.one(at, args, "abs(charge_balance)"); err != nil {
		return nil, err
	}
	o, err := c.operand(args[0])
	if err != nil {
		return nil, err
	}
	if o.kind != numberKind {
		return nil, c.fail(o.at, "abs takes a number, and this is "+o.kind.String(), "write abs(charge_balance)")
	}
	positive := *o
	positive.at, positive.field, positive.constant = at, "", nil
	inner := o.num
	positive.num = func(r *row) num {
		n := inner(r)
		switch {
		case n.k == isBelow && n.v <= 0, n.k == isExact && n.v < 0:
			return n.negative()
		case n.k == isBelow, n.k == isAbove && n.v < 0:
			return nothing(isCensored)
		}
		return n
	}
	return &positive, nil
}

func lowerCase(c *compiler, at int, args []ast.Node) (*operand, *Error) {
	if err := c.one(at, args, "lower(note)"); err != nil {
		return nil, err
	}
	o, err := c.operand(args[0])
	if err != nil {
		return nil, err
	}
	if o.kind != textKind {
		return nil, c.fail(o.at, "lower takes a text, and this is "+o.kind.String(), "write lower(note)")
	}
	inner := o.text
	return &operand{kind: textKind, at: at, cost: o.cost, text: func(r *row) (string, verdict) {
		s, v := inner(r)
		return strings.ToLower(s), v
	}}, nil
}
