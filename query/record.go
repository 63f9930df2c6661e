package query

import (
	"math"
	"strconv"

	"wj/water"
)

// Field is one named value of a row for a program: a text, a float64, or nil
// where there is none.
type Field struct {
	Name  string
	Value any
}

// Fields names what Record gives, in its order. Of a column of numbers the value,
// its bound and its unit are fields of their own:
//
//	sulfate        the number; nil where there is none or only a bound is known
//	sulfate_bound  "<" or ">" where only a bound is known; of an aggregate also "<=", ">=" or ".."
//	sulfate_limit  the number behind the bound
//	sulfate_low, sulfate_high   of an aggregate: the ends of the interval, or the 95 % limits of a slope
//	sulfate_unit   the unit of all of them, the same in every row
//
// A count, and a value without a unit, has no fields that would be empty.
func (r *Result) Fields() []string {
	var names []string
	for i := range r.Columns {
		for _, f := range r.Columns[i].fields(missing()) {
			names = append(names, f.Name)
		}
	}
	return names
}

// Record is a row for a program: see Fields. Numbers have six significant digits,
// more than any measurement carries and the same on every machine.
func (r *Result) Record(row int) []Field {
	var out []Field
	for i := range r.Columns {
		out = append(out, r.Columns[i].fields(r.Rows[row].Cells[i])...)
	}
	return out
}

func (c *Column) fields(cell Cell) []Field {
	if !c.Number {
		value := any(cell.Text)
		if cell.Missing {
			value = nil
		}
		return []Field{{c.Name, value}}
	}
	var number, bound, limit, low, high any
	switch {
	case cell.Missing:
	case cell.Number:
		number = significant(cell.Value)
	case cell.Interval && cell.Bound == water.Exact:
		bound = ".."
	default:
		bound, limit = cell.sign(), significant(cell.Value)
	}
	if cell.Interval || cell.Low != 0 || cell.High != 0 {
		low, high = significant(cell.Low), significant(cell.High)
	}
	out := []Field{{c.Name, number}}
	if c.Bounded {
		out = append(out, Field{c.Name + "_bound", bound}, Field{c.Name + "_limit", limit})
	}
	if c.Reduced {
		out = append(out, Field{c.Name + "_low", low}, Field{c.Name + "_high", high})
	}
	if unit := c.UnitText(); unit != "" {
		out = append(out, Field{c.Name + "_unit", unit})
	}
	return out
}

// UnitText is the unit of the column's numbers in words: "mg/L a year".
func (c *Column) UnitText() string {
	switch {
	case c.Per == "":
		return c.Unit.String()
	case c.Unit.IsNone():
		return c.Per
	}
	return c.Unit.String() + " " + c.Per
}

// sign is the bound of a cell as it is written: "<", or "<=" of an aggregate whose
// limit was measured.
func (c *Cell) sign() string {
	if len(c.Text) > 1 && c.Text[1] == '=' {
		return c.Text[:2]
	}
	return c.Bound.String()
}

// significant is a number to six significant digits; nil for one that is open.
func significant(v float64) any {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	x, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64) // what was just written can be read
	return x + 0                                                       // no negative zero
}

// ForPerson is a cell for a person: four significant digits at most are what such
// tests carry; a reading keeps the digits that were typed.
func (c *Cell) ForPerson() string {
	long := len(c.Text) > 8
	switch {
	case c.Missing:
		return ""
	case c.Note != "":
		return water.Round(c.Value, 3) + " " + c.Note
	case long && c.Interval && c.Bound == water.Exact:
		return water.Round(c.Low, 3) + ".." + water.Round(c.High, 3)
	case long && c.Bound != water.Exact && c.Interval: // a typed bound has its unit
		return c.sign() + water.Round(c.Value, 3)
	case c.Number && c.Derived:
		return water.Round(c.Value, 3)
	case c.Number && long:
		return water.Round(c.Value, 4) // read in another unit: the digits of the conversion mean nothing
	}
	return c.Text
}
