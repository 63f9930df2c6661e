package water_test

import (
	"fmt"

	"wj/water"
)

// What follows from the readings of one sample, with its uncertainty.
func ExampleAnalysis_Value() {
	var a water.Analysis
	a.Set(water.Alkalinity, water.Measured{Value: 248, U: 8})
	a.Set(water.CalciumHardness, water.Measured{Value: 429, U: 13})
	a.Set(water.TotalHardness, water.Measured{Value: 554, U: 19})
	v, err := a.Value(water.ResidualAlkalinity)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s ± %s %s\n", water.Round(v.Value, 3), water.Round(v.Expanded(), 2), v.ID.Info().Unit)
	// Output: 108 ± 17 mg/L CaCO3
}

// A unit is converted for an analyte.
func ExampleAnalyte_Convert() {
	q, _ := water.ParseQuantity("118 mg/L CaCO3")
	dKH, _ := water.ParseUnit("dKH")
	v, err := water.Alkalinity.Info().Convert(q.Value, q.Unit, dKH)
	fmt.Println(water.Round(v, 3), dKH, err)
	// Output: 6.61 dKH <nil>
}
