package query

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"sync"

	"wj/water"
)

// numberType is what the compiler knows of a number.
//
//	plain     a bare number: 300, year, sulfate / chloride
//	value     told in a unit, of the analytes of a set: sulfate, sulfate + chloride; a bare number beside it is in its unit
//	quantity  told in a unit, of no analyte yet: dKH(7), days(90); a bare number beside it has no unit
type numberType struct {
	sort       numberSort
	unit       water.Unit
	of         water.Set // analytes; empty for a value that is of no analyte, such as age
	scaled     bool      // times or by a bare number: how much of another, so that a bare number beside it has no unit
	difference bool      // a difference or uncertainty: offsets of temperature scales do not enter
}

type numberSort uint8

const (
	plain numberSort = iota
	value
	quantity
)

// helpers are the unit functions by name: dKH(7), mgN(10).
var helpers = sync.OnceValue(func() map[string]water.Unit {
	m := map[string]water.Unit{}
	for _, name := range water.UnitNames() {
		if u, ok := water.ParseUnit(name); ok {
			if short := strings.NewReplacer("/", "", "_", "").Replace(name); short != "%" {
				m[short] = u
			}
		}
	}
	for _, long := range []string{"day", "hour", "minute", "week"} {
		if u, ok := water.ParseUnit(map[string]string{"day": "d", "hour": "h", "minute": "min", "week": "wk"}[long]); ok {
			m[long+"s"] = u
		}
	}
	for _, one := range []string{"d", "h", "s", "m", "min", "wk", "mo", "km", "g", "kg", "mg", "oz", "lb", "L", "mL", "hL", "m3", "galus", "galbr", "bblus", "bblbr"} {
		delete(m, one) // no analyte has these; days and hours are spelled out
	}
	m["mmol"], m["meq"], m["percent"] = water.MillimolLitre, water.MilliequivLitre, water.Percent
	for _, basis := range water.Bases() {
		m["mg"+basis.String()] = water.MilligramLitre.With(basis)
	}
	return m
})

func helperNames() []string {
	names := make([]string, 0, len(helpers()))
	for name := range helpers() {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}

// helperFor is the shortest way to write a number in the unit.
func helperFor(u water.Unit, number string) string {
	best := ""
	for name, unit := range helpers() {
		if unit == u && (best == "" || len(name) < len(best) || len(name) == len(best) && name < best) {
			best = name
		}
	}
	if best == "" {
		return fmt.Sprintf("as(%q, %s)", u, number)
	}
	return best + "(" + number + ")"
}

func names(set water.Set) string {
	if set.Empty() {
		return "the value"
	}
	list := strings.Split(set.String(), ", ")
	last := len(list) - 1
	return strings.TrimPrefix(strings.Join(list[:last], ", ")+" and "+list[last], " and ")
}

func unitName(u water.Unit) string {
	if u.IsNone() {
		return "no unit"
	}
	return u.String()
}

// affine is a conversion: v × factor + offset.
type affine struct{ factor, offset float64 }

func (a affine) apply(n num) num {
	switch {
	case n.k >= isCensored || a == affine{1, 0}:
		return n
	case a.factor < 0:
		return n // no unit is negative
	}
	n.v = n.v*a.factor + a.offset
	return n
}

// conversion is the way from one unit to another for every analyte of a set; of no analyte, both units must
// measure the same kind of thing.
func conversion(of water.Set, from, to water.Unit) (affine, error) {
	if from == to {
		return affine{1, 0}, nil
	}
	if of.Empty() {
		one, err := water.Quantity{Value: 1, Unit: from}.In(to)
		if err != nil {
			return affine{}, fmt.Errorf("%s and %s do not measure the same", unitName(from), unitName(to))
		}
		zero, _ := water.Quantity{Unit: from}.In(to)
		return affine{one - zero, zero}, nil
	}
	var way affine
	var first water.ID
	started := false
	for id := range of.All() {
		one, err := id.Info().Convert(1, from, to)
		if err != nil {
			return way, err
		}
		zero := 0.0
		if from.Family() == water.Temperature {
			zero, _ = id.Info().Convert(0, from, to)
		}
		here := affine{one - zero, zero}
		if started && math.Abs(here.factor-way.factor) > sameTo*math.Abs(way.factor) {
			return way, fmt.Errorf("%s is another number of %s for %s than for %s", unitName(from), unitName(to), id, first)
		}
		if !started {
			way, first, started = here, id, true
		}
	}
	return way, nil
}

// ionic says that a unit tells milligrams of the ion or molecule itself, so that values of different analytes may
// stand side by side; values as CaCO3 may not be beside them.
func ionic(u water.Unit) bool {
	if u.With(water.NoBasis) != water.MilligramLitre {
		return false
	}
	switch u.Basis() {
	case water.NoBasis, water.AsNO3, water.AsNO2, water.AsNH4, water.AsPO4, water.AsSiO2:
		return true
	}
	return false
}

// unify brings two numbers that are compared, added or subtracted to one type, converting a quantity to the unit
// of the value that it meets.
func (c *compiler) unify(at int, l, r *operand) (numberType, *Error) {
	a, b := l.number, r.number
	switch {
	case a.sort == plain && b.sort == plain:
		return a, nil
	case a.sort == plain && b.scaled, a.scaled && b.sort == plain:
		return numberType{}, nil // 1 - conductivity / 520 is a share
	case a.sort == plain && b.sort == value:
		return b, nil
	case a.sort == value && b.sort == plain:
		return a, nil
	case a.sort == plain:
		return a, c.bare(l, b)
	case b.sort == plain:
		return a, c.bare(r, a)
	case a.sort == quantity && b.sort == value:
		return b, c.bring(l, b)
	case b.sort == quantity:
		t := a
		t.of = t.of.Union(b.of)
		return t, c.bring(r, a)
	}
	t := a
	t.of = t.of.Union(b.of)
	t.difference, t.scaled = a.difference && b.difference, a.scaled && b.scaled
	if a.unit == b.unit || ionic(a.unit) && ionic(b.unit) {
		return t, nil
	}
	help := "values in different units do not compare"
	if _, err := conversion(b.of, b.unit, a.unit); err == nil && !b.of.Empty() {
		help = fmt.Sprintf("bring one to the unit of the other: as(%q, %s)", a.unit, names(b.of))
	} else if _, err := conversion(a.of, a.unit, b.unit); err == nil && !a.of.Empty() {
		help = fmt.Sprintf("bring one to the unit of the other: as(%q, %s)", b.unit, names(a.of))
	}
	return t, c.fail(at, fmt.Sprintf("%s is in %s, %s in %s", names(a.of), unitName(a.unit), names(b.of), unitName(b.unit)), help)
}

// bare refuses a bare number beside a quantity.
func (c *compiler) bare(n *operand, beside numberType) *Error {
	text := "3"
	if n.constant != nil {
		text = formatNumber(*n.constant)
	}
	return c.fail(n.at, "a number without a unit is beside one in "+unitName(beside.unit), "write "+helperFor(beside.unit, text))
}

// bring converts a quantity to the unit of the type.
func (c *compiler) bring(q *operand, to numberType) *Error {
	way, err := conversion(to.of, q.number.unit, to.unit)
	if err != nil {
		help := ""
		if e, ok := err.(*water.QuantityError); ok {
			return c.fail(q.at, e.Message, e.Help)
		}
		if to.of.Empty() {
			help = "write " + helperFor(to.unit, "3")
		}
		return c.fail(q.at, err.Error(), help)
	}
	if to.difference || q.number.difference {
		way.offset = 0
	}
	q.convert(way)
	q.number.unit = to.unit
	return nil
}

// convert appends a conversion to the operand's computation.
func (o *operand) convert(way affine) {
	if way == (affine{1, 0}) {
		return
	}
	inner := o.num
	o.num = func(r *row) num { return way.apply(inner(r)) }
	if o.constant != nil {
		v := way.apply(num{v: *o.constant}).v
		o.constant = &v
		o.num = func(*row) num { return num{v: v} }
	}
}
