package equilibrium

import (
	"fmt"
	"math"
	"testing"

	"wj/water/substance"
)

// The table of substances and the table of reagents say the same in two places, so that each package stands alone: this
// holds them together.
func TestReagentsAgreeWithSubstances(t *testing.T) {
	for r, key := range map[Reagent]string{
		ReagentHydrochloricAcid: "hydrochloric_acid", ReagentSulfuricAcid: "sulfuric_acid", ReagentLacticAcid: "lactic_acid",
		ReagentPhosphoricAcid: "phosphoric_acid", ReagentCitricAcid: "citric_acid_anhydrous",
		ReagentCalciumHydroxide: "slaked_lime", ReagentSodiumBicarbonate: "baking_soda", ReagentSodiumCarbonate: "soda_ash",
		ReagentCalciumCarbonate: "chalk", ReagentCalciumSulfate: "gypsum", ReagentCalciumChloride: "calcium_chloride_dihydrate",
		ReagentMagnesiumSulfate: "epsom_salt", ReagentMagnesiumChloride: "magnesium_chloride_hexahydrate",
		ReagentSodiumChloride: "table_salt", ReagentPotassiumChloride: "potassium_chloride", ReagentSodiumSulfate: "sodium_sulfate",
	} {
		s, err := substance.Find(key)
		if err != nil {
			t.Fatal(err)
		}
		w := r.PerMole()
		if w.Alkalinity != s.Alkalinity || w.InorganicCarbon != s.InorganicCarbon {
			t.Errorf("%v: alkalinity %g and carbon %g, in the substances %g and %g", r, w.Alkalinity, w.InorganicCarbon, s.Alkalinity, s.InorganicCarbon)
		}
		for _, name := range TotalNames() {
			if got := *w.Total(name); got != s.MolesOf(name) {
				t.Errorf("%v: %s %g, in the substances %g", r, name, got, s.MolesOf(name))
			}
		}
	}
}

func TestDissociationAgreesWithSubstances(t *testing.T) {
	for _, celsius := range []float64{5, 25, 60} {
		c := constantsAt(celsius)
		for key, steps := range map[string][]float64{
			"phosphoric_acid":       {c.lnK[PhosphoricAcid], -c.lnK[PhosphateOne], c.lnK[PhosphateOne] - c.lnK[PhosphateTwo]},
			"citric_acid_anhydrous": {c.lnK[CitricAcid], -c.lnK[CitrateOne], c.lnK[CitrateOne] - c.lnK[CitrateTwo]},
			"lactic_acid":           {c.lnK[LacticAcid]},
		} {
			s, _ := substance.ByKey(key)
			for i, ln := range steps {
				if got, want := ln/math.Ln10, s.Dissociation[i].At(celsius); math.Abs(got-want) > 1e-9 {
					t.Errorf("%s step %d at %g degC: %g, in the substances %g", key, i+1, celsius, got, want)
				}
			}
		}
	}
}

func ExampleSpeciateAt() {
	// Calcium 60, magnesium 10, sodium 20, chloride 30, sulfate 40 mg/L, alkalinity 150 mg/L as CaCO3, pH 7.6 at 15 degC.
	w := Water{
		Temperature: 15, Calcium: 60 / 40.078e3, Magnesium: 10 / 24.305e3, Sodium: 20 / 22.990e3, Chloride: 30 / 35.45e3,
		Sulfate: 40 / 96.056e3, Alkalinity: 150 / 50.043e3,
	}
	s, err := SpeciateAt(w, 7.6)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("bicarbonate %.2f mmol/L, calcite %+.2f\n", 1000*s.Amount(Bicarbonate), s.CalciteSaturation)
	after, err := Add(s.Water, ReagentLacticAcid, 2e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	acid, err := Speciate(after)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("after 2 mmol/L of lactic acid: pH %.2f\n", acid.PH)
	// Output:
	// bicarbonate 2.93 mmol/L, calcite +0.04
	// after 2 mmol/L of lactic acid: pH 6.05
}
