package equilibrium

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Each row of testdata/published/equilibrium.tsv is a check against something outside the project; its source is in
// the row. A row marked "disagrees" is kept, with the reason in its remark, and the test holds that it still disagrees.

type publishedRow struct {
	id, inputs, unit, tolerance, source, status, remark string
	expected                                            float64
}

func readPublished(t testing.TB, name string) []publishedRow {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows []publishedRow
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		if n == 1 {
			continue
		}
		c := strings.Split(lines.Text(), "\t")
		if len(c) != 8 {
			t.Fatalf("%s:%d: %d columns, want 8", name, n, len(c))
		}
		v, err := strconv.ParseFloat(c[2], 64)
		if err != nil {
			t.Fatalf("%s:%d: %v", name, n, err)
		}
		rows = append(rows, publishedRow{c[0], c[1], c[3], c[4], c[5], c[6], c[7], v})
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return rows
}

// allowed reads "±0.02", "±1%", "exact" or "±5% (remark)".
func (r publishedRow) allowed() (float64, error) {
	word := strings.Fields(r.tolerance)[0]
	if word == "exact" {
		return 5e-4 * math.Abs(r.expected), nil
	}
	word = strings.TrimPrefix(word, "±")
	if p, ok := strings.CutSuffix(word, "%"); ok {
		v, err := strconv.ParseFloat(p, 64)
		return v / 100 * math.Abs(r.expected), err
	}
	return strconv.ParseFloat(word, 64)
}

// rowInput is the "key=value; key=value" of a row.
type rowInput map[string]string

func parseInput(s string) rowInput {
	in := rowInput{}
	for _, part := range strings.Split(s, ";") {
		if k, v, ok := strings.Cut(strings.TrimSpace(part), "="); ok {
			in[k] = v
		}
	}
	return in
}

func (in rowInput) number(key string) float64 {
	v, err := strconv.ParseFloat(in[key], 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// ion reads mg/L under a name, or mmol/L under name_mmol.
func (in rowInput) ion(name string, mass float64) float64 {
	if _, ok := in[name+"_mmol"]; ok {
		return in.number(name+"_mmol") / 1000
	}
	if _, ok := in[name]; ok {
		scale := 1.0
		if _, ok := in["perkg"]; ok {
			scale = in.number("perkg")
		}
		return in.number(name) / 1000 / mass / scale
	}
	return 0
}

// water builds the water of a row, with inorganic carbon from its pH.
func (in rowInput) water(t testing.TB) (Solution, error) {
	w := Water{
		Temperature: in.number("t"), Calcium: in.ion("ca", massCa), Magnesium: in.ion("mg", massMg), Potassium: in.ion("k", massK),
		Ammonium: in.ion("nh4", massNH4), Chloride: in.ion("cl", massCl), Sulfate: in.ion("so4", massSO4),
		Nitrate: in.ion("no3", massNO3), Fluoride: in.ion("f", massF), Silica: in.ion("sio2", massSiO2),
	}
	switch {
	case in["hco3"] != "":
		w.Alkalinity = in.ion("hco3", massBicarbonate)
	case in["alk_meq"] != "":
		w.Alkalinity = in.number("alk_meq") / 1000
	case in["alk"] != "":
		w.Alkalinity = in.number("alk") / 1000 / (molarMassCalcite / 2)
	}
	if in["na"] == "balance" {
		w.Sodium = w.Alkalinity
	} else {
		w.Sodium = in.ion("na", massNa)
	}
	if in["tic_mmol"] != "" {
		w.InorganicCarbon = in.number("tic_mmol") / 1000
		var err error
		if w.Alkalinity, err = alkalinityAt(w, in.number("pH")); err != nil {
			return Solution{}, err
		}
		return Speciate(w)
	}
	if in["do"] == "buffer" {
		w.Phosphate, w.Citrate = in.number("po4_mmol")/1000, in.number("citrate_mmol")/1000
		w.InorganicCarbon = in.number("carbon_mmol") / 1000
		return Speciate(w)
	}
	if in["alk"] == "0" {
		return Speciate(w) // pure water, or a neutral salt: its pH follows
	}
	return SpeciateAt(w, in.number("pH"))
}

// quantity picks what a row asks of a solution.
func quantity(s *Solution, want string) (float64, error) {
	species := map[string]Species{
		"HCO3": Bicarbonate, "CO3": Carbonate, "CO2": CarbonDioxide, "CaHCO3": CalciumBicarbonate, "CaCO3": CalciumCarbonate,
		"CaSO4": CalciumSulfate, "MgSO4": MagnesiumSulfate, "NaSO4": SodiumSulfate, "MgHCO3": MagnesiumBicarbonate,
		"H3SiO4": SilicateOne,
	}
	if j, ok := species[want]; ok {
		return 1000 * s.Amount(j), nil
	}
	switch want {
	case "TIC":
		return 1000 * s.Water.InorganicCarbon, nil
	case "pH":
		return s.PH, nil
	case "alk":
		return s.Water.Alkalinity * molarMassCalcite / 2 * 1000, nil
	case "alk_meq":
		return s.Water.Alkalinity * 1000, nil
	case "Ca":
		return s.Water.Calcium * massCa * 1000, nil
	case "Ca_mmol":
		return s.Water.Calcium * 1000, nil
	case "I":
		return s.IonicStrength, nil
	case "SI":
		return s.CalciteSaturation, nil
	case "SIaragonite":
		return s.AragoniteSaturation, nil
	case "SIgypsum":
		return s.GypsumSaturation, nil
	case "logpCO2":
		return math.Log10(s.CarbonDioxidePressure), nil
	case "species_charge":
		return s.SpeciesChargeError(), nil
	case "charge":
		return s.Water.ChargeError(), nil
	case "EC":
		return s.Conductivity(), nil
	case "EC_SM":
		return s.ConductivityByStandardMethods(), nil
	case "constituents":
		return s.DissolvedSolids(SolidsConstituents), nil
	case "CCPP":
		p, err := PrecipitateCalcite(s.Water)
		return p.PrecipitationPotential(), err
	}
	return 0, fmt.Errorf("no quantity %q", want)
}

func computeRow(t testing.TB, in rowInput) (float64, error) {
	want := in["want"]
	switch in["do"] {
	case "constant":
		c := in.number("t")
		table := map[string]float64{
			"pK1": -LogCarbonicFirst(c), "pK2": -LogCarbonicSecond(c), "pKw": -LogWater(c), "logKH": LogHenry(c),
			"logKcalcite": LogCalcite(c), "pKcalcite": -LogCalcite(c), "logKaragonite": LogAragonite(c), "logKgypsum": LogGypsum(c),
		}
		return table[want], nil
	case "pair":
		k := constantsAt(in.number("t")).lnK
		hco3, co3 := k[Bicarbonate], k[Carbonate]
		ln, ok := map[string]float64{
			"CaHCO3": k[CalciumBicarbonate] - hco3, "CaCO3": k[CalciumCarbonate] - co3,
			"MgHCO3": k[MagnesiumBicarbonate] - hco3, "MgCO3": k[MagnesiumCarbonate] - co3,
			"NaHCO3": k[SodiumBicarbonate] - hco3, "CaSO4": k[CalciumSulfate], "MgSO4": k[MagnesiumSulfate],
			"NaSO4": k[SodiumSulfate], "KSO4": k[PotassiumSulfate], "HSO4": k[Bisulfate], "CaOH": k[CalciumHydroxide],
			"MgOH": k[MagnesiumHydroxide], "H3SiO4": k[SilicateOne], "NH3": k[Ammonia],
		}[want]
		if !ok {
			return 0, fmt.Errorf("no pair %q", want)
		}
		return ln / math.Ln10, nil
	case "speciate", "buffer":
		s, err := in.water(t)
		if err != nil {
			return 0, err
		}
		return quantity(&s, want)
	case "react":
		s, err := in.water(t)
		if err != nil {
			return 0, err
		}
		w := s.Water
		if name, amount, ok := strings.Cut(in["add"], ":"); ok {
			reagent := map[string]Reagent{
				"HCl": ReagentHydrochloricAcid, "H2SO4": ReagentSulfuricAcid, "H3PO4": ReagentPhosphoricAcid, "lactic": ReagentLacticAcid,
				"NaOH": ReagentSodiumHydroxide, "CO2": ReagentCarbonDioxide,
			}[name]
			mmol, _ := strconv.ParseFloat(amount, 64)
			if w, err = Add(w, reagent, mmol/1000); err != nil {
				return 0, err
			}
		}
		if in["open"] != "" {
			s, err = EquilibrateCO2(w, math.Pow(10, in.number("open")))
		} else {
			s, err = Speciate(w)
		}
		if err != nil {
			return 0, err
		}
		return quantity(&s, want)
	case "blend":
		one, err := in.water(t)
		if err != nil {
			return 0, err
		}
		second := rowInput{"alk": in["alk2"], "pH": in["pH2"], "t": in["t"], "na": "balance"}
		two, err := second.water(t)
		if err != nil {
			return 0, err
		}
		share := in.number("shareof2")
		mixed, err := Blend(Part{one.Water, 1 - share}, Part{two.Water, share})
		if err != nil {
			return 0, err
		}
		s, err := Speciate(mixed)
		if err != nil {
			return 0, err
		}
		return quantity(&s, want)
	case "saturate":
		pure := Water{Temperature: in.number("t")}
		if want == "gypsum" {
			g, err := SaturateGypsum(pure)
			return -g.Precipitated * 172.164, err
		}
		var p Saturated
		var err error
		if in["open"] != "" {
			p, err = PrecipitateCalciteOpen(pure, math.Pow(10, in.number("open")))
		} else {
			p, err = PrecipitateCalcite(pure)
		}
		if err != nil {
			return 0, err
		}
		return quantity(&p.Solution, want)
	}
	return 0, fmt.Errorf("no operation %q", in["do"])
}

func TestPublishedValues(t *testing.T) {
	rows := readPublished(t, "equilibrium.tsv")
	if len(rows) < 150 {
		t.Fatalf("only %d rows", len(rows))
	}
	for _, r := range rows {
		t.Run(r.id, func(t *testing.T) {
			allowed, err := r.allowed()
			if err != nil {
				t.Fatalf("tolerance %q: %v", r.tolerance, err)
			}
			got, err := computeRow(t, parseInput(r.inputs))
			if err != nil {
				t.Fatal(err)
			}
			off := got - r.expected
			agrees := math.Abs(off) <= allowed
			if r.status == "disagrees" {
				if agrees {
					t.Errorf("row is marked as disagreeing, but %g agrees with %g %s", got, r.expected, r.unit)
				}
				if r.remark == "" {
					t.Error("a row that disagrees needs its reason as a remark")
				}
				return
			}
			if !agrees || math.IsNaN(got) {
				t.Errorf("%s: got %.6g, want %g %s (%s); off by %.3g (%.2f %%); source: %s", r.inputs, got, r.expected, r.unit, r.tolerance, off, 100*off/r.expected, r.source)
			}
		})
	}
}
