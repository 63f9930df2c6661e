package query

import (
	"fmt"
	"strings"
	"time"

	"github.com/expr-lang/expr/ast"

	"wj/journal"
	"wj/water"
)

// Expression is a checked condition on a session. It holds no state: several goroutines may use it at once.
type Expression struct {
	source   string
	holds    func(*row) verdict
	uses     water.Set
	pairs    []string // names of pairNames
	fields   map[string]bool
	mentions []mention
}

// mention is a text that a field is compared with. Where the journal has no such record, the answer to a query
// is an empty table that looks like good news, so the result says so.
type mention struct{ field, text string }

// kinds are the fields that name a record, by the kind of record.
var kinds = map[string]journal.Kind{
	"site": journal.KindSite, "owner": journal.KindOwner, "by": journal.KindPerson, "recorded_by": journal.KindPerson,
	"instrument": journal.KindInstrument, "batch": journal.KindBatch, "change": journal.KindChange, "lot": journal.KindLot,
}

// choices are the fields that have one of a few values.
var choices = func() map[string][]string {
	samples := make([]string, len(journal.SampleKinds))
	for i, k := range journal.SampleKinds {
		samples[i] = k.Name
	}
	return map[string][]string{"source": journal.Names(journal.Sources), "sample": samples, "stage": journal.Names(journal.Stages)}
}()

// Compile checks an expression; "" stands for all sessions. The error is *Error.
func Compile(source string) (*Expression, error) {
	x := &Expression{source: source, holds: func(*row) verdict { return yes }, fields: map[string]bool{}}
	if strings.TrimSpace(source) == "" {
		return x, nil
	}
	c, o, err := compileOperand(source)
	if err != nil {
		return nil, err
	}
	if o.kind != truthKind {
		return nil, c.fail(o.at, fmt.Sprintf("the expression is %s, not a condition", o.kind), "compare it, such as sulfate > 300")
	}
	x.holds, x.uses, x.pairs, x.fields, x.mentions = o.truth, c.uses, c.pairs, c.fields, c.mentions
	return x, nil
}

// String is the source of the expression.
func (x *Expression) String() string { return x.source }

// Analytes lists the analytes and derived names that the expression uses, in the order of the analyte table.
func (x *Expression) Analytes() []water.ID {
	return x.uses.List()
}

// Pairs reports whether the expression compares a site with its feed, so that an answer depends on two sessions.
func (x *Expression) Pairs() bool { return x.fields["salt_passage"] || x.fields["removal"] }

// Uses says whether the expression has the field, such as "void".
func (x *Expression) Uses(field string) bool { return x.fields[field] }

func compileOperand(source string) (*compiler, *operand, error) {
	node, err := parse(source)
	if err != nil {
		return nil, nil, err
	}
	c := &compiler{source: source, fields: map[string]bool{}}
	o, failed := c.operand(node)
	if failed != nil {
		return nil, nil, failed
	}
	return c, o, nil
}

// compiler turns the parser's tree into a tree of closures: the row costs only what the expression uses, and
// nothing is allocated or looked up by name while rows go by.
type compiler struct {
	source   string
	mode     sureness
	uses     water.Set
	pairs    []string
	fields   map[string]bool
	mentions []mention
}

// sureness is how a comparison treats uncertainty. It is settled at each comparison, not where conditions are joined:
// surely (a or b) with a unsure and b censored is censored, but maybe (a or b) is yes.
type sureness uint8

const (
	plainly sureness = iota
	surely           // what is unsure counts as no
	maybe            // what is unsure counts as yes
)

// turned is the mode under a negation: surely not is not maybe.
func (s sureness) turned() sureness {
	switch s {
	case surely:
		return maybe
	case maybe:
		return surely
	}
	return plainly
}

// settle answers what is unsure.
func (s sureness) settle(v verdict) verdict {
	if v == unsure {
		return truth(s == maybe)
	}
	return v
}

// operand is a part of an expression with its type. Of the functions only the one of its kind is set.
type operand struct {
	kind operandKind
	at   int // offset of its first code point, for messages

	truth func(*row) verdict
	num   func(*row) num
	text  func(*row) (string, verdict)
	time  func(*row) (period, verdict)
	list  []*operand

	number   numberType
	uses     water.Set // analytes that the value depends on
	constant *float64  // of a number
	literal  *string   // of a text
	field    string    // the name, where the operand is a bare name
	cost     int       // 1 where a file must be read anew
}

type operandKind uint8

const (
	truthKind operandKind = iota
	numberKind
	textKind
	timeKind
	listKind
)

// String names the kind as messages do.
func (k operandKind) String() string {
	return [...]string{"a condition", "a number", "a text", "a time", "a list"}[k]
}

func (c *compiler) fail(at int, message, help string) *Error {
	return errorAt(c.source, at, message, help)
}

func at(n ast.Node) int {
	// An operator stands at its sign; the operand begins with its left side.
	if b, ok := n.(*ast.BinaryNode); ok {
		return at(b.Left)
	}
	return n.Location().From
}

func (c *compiler) operand(n ast.Node) (*operand, *Error) {
	switch n := n.(type) {
	case *ast.IdentifierNode:
		return c.name(n)
	case *ast.IntegerNode:
		return number(at(n), float64(n.Value)), nil
	case *ast.FloatNode:
		return number(at(n), n.Value), nil
	case *ast.BoolNode:
		v := truth(n.Value)
		return &operand{kind: truthKind, at: at(n), truth: func(*row) verdict { return v }}, nil
	case *ast.StringNode:
		s := n.Value
		return &operand{kind: textKind, at: at(n), literal: &s, text: func(*row) (string, verdict) { return s, yes }}, nil
	case *ast.ArrayNode:
		o := &operand{kind: listKind, at: at(n)}
		for _, item := range n.Nodes {
			i, err := c.operand(item)
			if err != nil {
				return nil, err
			}
			if i.kind == listKind {
				return nil, c.fail(i.at, "a list is inside a list", "write one list")
			}
			o.list = append(o.list, i)
		}
		return o, nil
	case *ast.UnaryNode:
		return c.unary(n)
	case *ast.BinaryNode:
		return c.binary(n)
	case *ast.CallNode:
		return c.call(n)
	case *ast.BuiltinNode:
		return nil, c.unknownFunction(at(n), n.Name)
	case *ast.NilNode:
		return nil, c.fail(at(n), "nil is not known", "known(sulfate) asks whether there is a value, batch == \"\" whether there is none")
	case *ast.SequenceNode:
		return nil, c.fail(at(n.Nodes[len(n.Nodes)-1]), "one condition is allowed, and this is another", "join conditions with and")
	case *ast.VariableDeclaratorNode:
		return nil, c.fail(at(n), "variables are not known", "write the value itself")
	case *ast.MemberNode, *ast.ChainNode, *ast.SliceNode:
		return nil, c.fail(at(n), "parts of a value are not asked for with . or [ ]", "write lot(sulfate), u(sulfate) or dKH(alkalinity)")
	case *ast.ConditionalNode:
		return nil, c.fail(at(n.Cond), "if and ? are not known", "use and, or, not")
	}
	return nil, c.fail(at(n), "this is not part of the query language", "write conditions such as sulfate > 300 and site == \"north-well\"")
}

func number(at int, v float64) *operand {
	n := exact(v)
	return &operand{kind: numberKind, at: at, constant: &v, num: func(*row) num { return n }}
}

func (c *compiler) unary(n *ast.UnaryNode) (*operand, *Error) {
	turned := n.Operator == "not" || n.Operator == "!"
	if turned {
		c.mode = c.mode.turned()
	}
	o, err := c.operand(n.Node)
	if turned {
		c.mode = c.mode.turned()
	}
	if err != nil {
		return nil, err
	}
	switch n.Operator {
	case "not", "!":
		if o.kind != truthKind {
			help := "not turns a condition around"
			if o.kind == numberKind {
				help = "put the comparison in brackets: not (sulfate > 300)"
			}
			return nil, c.fail(at(n), "not is before "+o.kind.String(), help)
		}
		inner := o.truth
		return &operand{kind: truthKind, at: at(n), cost: o.cost, uses: o.uses, truth: func(r *row) verdict { return not(inner(r)) }}, nil
	case "-", "+":
		if o.kind != numberKind {
			return nil, c.fail(at(n), n.Operator+" is before "+o.kind.String(), "")
		}
		if n.Operator == "+" {
			return o, nil
		}
		neg := *o
		neg.at, neg.field = at(n), ""
		inner := o.num
		neg.num = func(r *row) num { return inner(r).negative() }
		if o.constant != nil {
			v := -*o.constant
			neg.constant = &v
		}
		return &neg, nil
	}
	return nil, c.fail(at(n), n.Operator+" is not known", "")
}

func (c *compiler) binary(n *ast.BinaryNode) (*operand, *Error) {
	l, err := c.operand(n.Left)
	if err != nil {
		return nil, err
	}
	r, err := c.operand(n.Right)
	if err != nil {
		return nil, err
	}
	sign := n.Location().From
	switch n.Operator {
	case "and", "&&", "or", "||":
		return c.join(n.Operator, l, r)
	case "+", "-", "*", "/":
		return c.arithmetic(sign, n.Operator, l, r)
	case "in":
		return c.in(sign, l, r)
	case "contains", "startsWith", "endsWith", "matches":
		return c.textual(sign, n.Operator, l, r)
	}
	if op, ok := comparisons[n.Operator]; ok {
		return c.comparison(sign, op, l, r)
	}
	help := "known are + - * / and the comparisons"
	if n.Operator == ".." {
		help = "write two comparisons: month >= 6 and month <= 8"
	}
	return nil, c.fail(sign, n.Operator+" is not known", help)
}

// join makes and, or. The side that costs less goes first; the answer does not depend on the order.
func (c *compiler) join(operator string, l, r *operand) (*operand, *Error) {
	for _, side := range []*operand{l, r} {
		if side.kind != truthKind {
			return nil, c.fail(side.at, fmt.Sprintf("%s joins conditions, and this is %s", operator, side.kind), "compare it first, such as sulfate > 300")
		}
	}
	o := &operand{kind: truthKind, at: l.at, uses: l.uses.Union(r.uses), cost: max(l.cost, r.cost)}
	if l.cost > r.cost {
		l, r = r, l
	}
	first, second := l.truth, r.truth
	if operator == "and" || operator == "&&" {
		o.truth = func(r *row) verdict {
			a := first(r)
			if a == no {
				return no
			}
			return and(a, second(r))
		}
		return o, nil
	}
	o.truth = func(r *row) verdict {
		a := first(r)
		if a == yes {
			return yes
		}
		return or(a, second(r))
	}
	return o, nil
}

// comparison makes l op r for two operands of one kind.
func (c *compiler) comparison(sign int, op comparison, l, r *operand) (*operand, *Error) {
	for _, pair := range [][2]*operand{{l, r}, {r, l}} {
		if err := c.literalFor(pair[0], pair[1]); err != nil {
			return nil, err
		}
	}
	o := &operand{kind: truthKind, at: l.at, cost: max(l.cost, r.cost)}
	if l.kind != r.kind || l.kind == listKind {
		help := "compare a number with a number, a text with a text in quotes"
		if l.kind == timeKind && r.kind == truthKind {
			help = "a span of days is written alone: last(90) && site == \"north-well\"; a day is compared: sampled > \"2026-03-04\""
		}
		if l.kind == textKind && r.kind == truthKind || l.kind == listKind || r.kind == listKind {
			help = "write in for one of a list: site in [\"north-well\", \"town-tap\"]"
		}
		return nil, c.fail(sign, fmt.Sprintf("%s cannot be compared with %s", l.kind, r.kind), help)
	}
	switch l.kind {
	case numberKind:
		return o, c.compareNumbers(o, sign, op, l, r)
	case textKind:
		c.mention(l, r)
		c.mention(r, l)
		a, b := l.text, r.text
		o.truth = func(r *row) verdict {
			s, v := a(r)
			t, w := b(r)
			if worst := max(v, w); worst != yes {
				return worst
			}
			return truth(op.holds(strings.Compare(s, t)))
		}
		return o, nil
	case timeKind:
		a, b := l.time, r.time
		o.truth = func(r *row) verdict {
			p, v := a(r)
			q, w := b(r)
			if worst := max(v, w); worst != yes {
				return worst
			}
			return truth(op.holds(p.order(q)))
		}
		return o, nil
	}
	switch {
	case op != equal && op != different:
		return nil, c.fail(sign, "conditions have no order", "compare them with == or !=")
	case c.mode != plainly && !o.uses.Empty():
		return nil, c.fail(sign, "inside surely and maybe conditions are not compared with each other", "write it with and, or, not")
	}
	a, b := l.truth, r.truth
	o.truth = func(r *row) verdict {
		v, w := a(r), b(r)
		for _, side := range [...]verdict{v, w} {
			if side != yes && side != no {
				return side
			}
		}
		return truth((v == w) == (op == equal))
	}
	return o, nil
}

func (c *compiler) compareNumbers(o *operand, sign int, op comparison, l, r *operand) *Error {
	if _, err := c.unify(sign, l, r); err != nil {
		return err
	}
	a, b := l.num, r.num
	uses := l.uses.Union(r.uses)
	o.uses = uses
	switch {
	case c.mode != plainly && !uses.Empty():
		mode := c.mode
		difference := func(r *row) num { return a(r).add(b(r).negative()) }
		o.truth = func(r *row) verdict {
			x, y := a(r), b(r)
			if max(x.k, y.k) >= isCensored {
				return num{k: max(x.k, y.k)}.why()
			}
			return mode.settle(compare(op, x, y, 2*r.spread(uses, difference)))
		}
	case r.constant != nil:
		limit := num{v: *r.constant}
		o.truth = func(r *row) verdict { return compare(op, a(r), limit, 0) }
	default:
		o.truth = func(r *row) verdict { return compare(op, a(r), b(r), 0) }
	}
	return nil
}

// literalFor reads a quoted text that is beside a number or a time as such: "7 dKH", "2026-03".
func (c *compiler) literalFor(o, beside *operand) *Error {
	if o.kind != textKind || o.literal == nil {
		return nil
	}
	switch beside.kind {
	case numberKind:
		q, err := water.ParseQuantity(*o.literal)
		switch {
		case err != nil:
			return c.fail(o.at, fmt.Sprintf("the text %q is beside a number, and is not one", shorten(*o.literal)), "write the number without quotes, or with its unit: \"7 dKH\"")
		case q.Bound != water.Exact || q.Expanded != 0:
			return c.fail(o.at, fmt.Sprintf("%q is not one number", shorten(*o.literal)), "write the number alone; below(sulfate) asks for readings below the range")
		}
		n := number(o.at, q.Value)
		if !q.Unit.IsNone() {
			n.number = numberType{sort: quantity, unit: q.Unit}
		}
		*o = *n
	case timeKind:
		return c.date(o)
	}
	return nil
}

// date turns a literal text into a span of time.
func (c *compiler) date(o *operand) *Error {
	text := *o.literal
	if _, _, err := ParsePeriod(text, time.UTC, time.Unix(0, 0)); err != nil {
		if e, ok := err.(*journal.TimeError); ok {
			return c.fail(o.at, e.Message, e.Help)
		}
		return c.fail(o.at, fmt.Sprintf("%q is not a date or a span of time", shorten(text)), "write \"2026\", \"2026-Q2\", \"2026-03\", \"2026-03-04\" or \"last 90 d\"")
	}
	*o = operand{kind: timeKind, at: o.at, time: func(r *row) (period, verdict) { return r.resolve(text), yes }}
	return nil
}

func (c *compiler) mention(field, text *operand) {
	if field.field == "" || text.literal == nil || *text.literal == "" {
		return
	}
	_, record := kinds[field.field]
	_, choice := choices[field.field]
	if record || choice {
		c.mentions = append(c.mentions, mention{field.field, *text.literal})
	}
}
