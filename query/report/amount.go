package report

import "wj/water"

// Amount is a quantity of a record as a number, in the unit in which it is
// written.
type Amount struct {
	Value Number  `json:"value"`
	Half  *Number `json:"half_width,omitempty"` // what is after ±: half of the 95 % interval
	Bound string  `json:"bound,omitempty"`      // "<" or ">": the value is a bound
	Unit  string  `json:"unit"`                 // "" for none
}

// amountOf reads a value of a record; nil where it is no quantity.
func amountOf(text string) *Amount {
	q, err := water.ParseQuantity(text)
	if err != nil {
		return nil
	}
	a := &Amount{Value: Number(q.Value), Bound: q.Bound.String(), Unit: q.Unit.String()}
	if q.Expanded > 0 {
		a.Half = number(q.Expanded)
	}
	return a
}
