package query

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"wj/journal"
	"wj/water"
)

// Column is one column of a result: what was asked for, as it was written, and the unit of its numbers.
type Column struct {
	Name   string
	Unit   water.Unit
	Per    string // what a rate is told by: "a year"
	Number bool   // the cells are numbers, where they are not missing
	// Bounded: the cells may be bounds, as those of every value that is read or comes of readings. Reduced: they are of
	// several sessions and may be intervals.
	Bounded, Reduced bool

	o       *operand
	id      water.ID
	analyte bool
	way     affine
}

// Cell is one value of a row.
type Cell struct {
	// Text is the value for machines: a number in the column's unit with every digit, a bound as it was typed
	// ("<5 mg/L"), a time as the record writes it. It is empty where the cell is Missing.
	Text    string
	Value   float64 // of a number, or of a bound, in the column's unit
	Bound   water.Bound
	U       float64 // standard uncertainty in the column's unit; 0 where none is known
	Derived bool    // computed from readings, not read
	Assumed bool    // U is what such a test usually reaches: nothing was declared
	Missing bool
	Number  bool   // Text is a plain number
	Note    string // what belongs behind the number for a person: the limits of a slope
	// Low and High are the ends where only an interval is known of an aggregate (Interval), or the 95 % limits of a
	// slope; an infinite end is open.
	Interval  bool
	Low, High float64
}

// columns compiles what is to be shown. Each name is an expression: sulfate, lot(sulfate), sulfate / chloride.
func columns(names []string, units map[string]water.Unit) ([]*Column, error) {
	var list []*Column
	for _, name := range names {
		name = strings.TrimSpace(name)
		c, err := compileColumn(name, units)
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, nil
}

func compileColumn(name string, units map[string]water.Unit) (*Column, error) {
	if name == "" {
		return nil, errors.New("a column has no name; write --columns site,sampled,sulfate")
	}
	_, o, err := compileOperand(name)
	if err != nil {
		return nil, err
	}
	if o.kind == listKind || o.literal != nil || o.constant != nil {
		return nil, errorAt(name, o.at, "a column shows something of each session, and this is the same for all", "name a value such as sulfate")
	}
	c := &Column{Name: name, o: o, way: affine{1, 0}, Number: o.kind == numberKind, Bounded: o.kind == numberKind && !o.uses.Empty()}
	if o.kind == numberKind {
		c.Unit = o.number.unit
	}
	if o.field != "" {
		c.id, c.analyte = water.Lookup(o.field)
	}
	if u, ok := units[name]; ok {
		if c.way, err = c.toUnit(u); err != nil {
			return nil, err
		}
		c.Unit = u
	}
	return c, nil
}

// toUnit is the way from the column's own unit to the one that was asked for.
func (c *Column) toUnit(u water.Unit) (affine, error) {
	if c.o.kind != numberKind || c.o.number.sort == plain {
		return affine{}, fmt.Errorf("show %s in %s: it has no unit", c.Name, unitName(u))
	}
	way, err := conversion(c.o.number.of, c.o.number.unit, u)
	if err != nil {
		return affine{}, fmt.Errorf("show %s in %s: %w", c.Name, unitName(u), err)
	}
	if c.o.number.difference {
		way.offset = 0
	}
	return way, nil
}

func missing() Cell { return Cell{Missing: true} }

func (r *row) cell(c *Column) Cell {
	switch c.o.kind {
	case truthKind:
		switch c.o.truth(r) {
		case yes:
			return Cell{Text: "yes"}
		case no:
			return Cell{Text: "no"}
		}
		return missing()
	case textKind:
		s, v := c.o.text(r)
		return Cell{Text: s, Missing: v != yes || s == ""}
	case timeKind:
		return r.timeCell(c)
	}
	if c.analyte {
		return r.analyteCell(c)
	}
	n := c.way.apply(c.o.num(r))
	if n.k >= isCensored {
		return missing()
	}
	cell := numberCell(n)
	if !c.o.uses.Empty() {
		cell.Derived = true
		cell.U = r.spread(c.o.uses, c.o.num) * c.way.factor
	}
	return cell
}

func (r *row) timeCell(c *Column) Cell {
	// The fields that are a time are shown as the record writes them, with their own offset.
	switch at := r.s.Sampled; c.o.field {
	case "sampled", "tested":
		if c.o.field == "tested" {
			at = r.s.Tested
		}
		if at.IsZero() {
			return missing()
		}
		return Cell{Text: journal.FormatTime(at), Value: float64(at.Unix())}
	}
	p, v := c.o.time(r)
	if v != yes {
		return missing()
	}
	at := unixIn(p.low, r)
	return Cell{Text: journal.FormatTime(at), Value: float64(p.low)}
}

func numberCell(n num) Cell {
	cell := Cell{Value: n.v, Bound: water.Bound(n.k), Number: n.k == isExact}
	cell.Text = cell.Bound.String() + formatNumber(n.v)
	return cell
}

// analyteCell is the value of a name, measured or derived.
func (r *row) analyteCell(c *Column) Cell {
	g := r.reading(c.id)
	if g != nil && g.Faulty {
		return missing()
	}
	r.fill(withUncertainty)
	v, err := r.a.Value(c.id)
	if err != nil {
		return missing()
	}
	cell := numberCell(c.way.apply(num{v.Value, known(v.Bound)}))
	cell.U, cell.Derived = v.U*c.way.factor, v.Derived
	if g == nil || v.Derived {
		return cell
	}
	cell.Assumed = r.assumed(c.id)
	// Straight from the unit as typed: by way of the standard unit 6.6 dKH would become 6.6000000000000005.
	typed, _ := g.Result()
	if straight, err := c.id.Info().Convert(typed, g.First.Unit, c.Unit); err == nil && v.Bound == water.Exact {
		cell.Value, cell.Text = straight, formatNumber(straight)
	}
	if v.Bound != water.Exact {
		cell.Text = journal.TypedReading(g)
	}
	return cell
}

// assumed says that the uncertainty of a reading depends on what such a test usually reaches.
func (r *row) assumed(id water.ID) bool {
	m, ok := r.a.Measured(id)
	return ok && m.Assumed
}

// formatNumber writes a number with all its digits and no exponent.
func formatNumber(v float64) string {
	if v == 0 {
		v = 0 // no negative zero
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
