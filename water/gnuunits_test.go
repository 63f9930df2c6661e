package water

import (
	"fmt"
	"math"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The whole unit table against GNU units, a program of the GNU project that
// knows nothing of this one: its own unit definitions and its own atomic weights
// (older IUPAC values: within 0.03 % of those here, hence that tolerance for
// conversions between species).

// elements are GNU units' names of the elements.
var elements = map[string]string{
	"H": "hydrogen", "Li": "lithium", "B": "boron", "C": "carbon", "N": "nitrogen", "O": "oxygen", "F": "fluorine", "Na": "sodium", "Mg": "magnesium",
	"Al": "aluminum", "Si": "silicon", "P": "phosphorus", "S": "sulfur", "Cl": "chlorine", "K": "potassium", "Ca": "calcium", "Cr": "chromium",
	"Mn": "manganese", "Fe": "iron", "Ni": "nickel", "Cu": "copper", "Zn": "zinc", "As": "arsenic", "Se": "selenium", "Br": "bromine", "Sr": "strontium",
	"Cd": "cadmium", "I": "iodine", "Ba": "barium", "Hg": "mercury", "Pb": "lead", "U": "uranium",
}

// gnuFormula writes a formula of the tables as GNU units adds it up: their
// program, and not ours, weighs it.
func gnuFormula(formula string) string {
	var parts []string
	for _, m := range regexp.MustCompile(`([A-Z][a-z]?)(\d*)`).FindAllStringSubmatch(formula, -1) {
		parts = append(parts, strings.TrimSpace(m[2]+" "+elements[m[1]]))
	}
	return "(" + strings.Join(parts, "+") + ")"
}

func TestAtomicWeightsAgreeWithGNUUnits(t *testing.T) {
	var pairs []gnuPair
	for symbol, name := range elements {
		pairs = append(pairs, gnuPair{"atomic weight of " + symbol, name, "1", molarMass(symbol), 3e-4})
	}
	gnuRun(t, pairs)
}

var gnuMass = map[string]string{"mg/L": "mg/L", "ug/L": "ug/L", "g/L": "g/L"}

// asCaCO3 holds the degrees as a mass concentration of a species.
var gnuDegree = map[string]struct {
	expr  string
	basis string
}{
	"dH": {"10 mg/L", "CaO"}, "dKH": {"10 mg/L", "CaO"}, "fH": {"10 mg/L", "CaCO3"}, "eH": {"clarkdegree", "CaCO3"}, "gpg": {"gpg", "CaCO3"},
}

// gnuAmount is an expression for one of the unit in mol/L of what the analyte
// counts; "" where GNU units cannot say it.
func gnuAmount(id ID, u Unit) string {
	symbol := unitTable[u.id].symbol
	switch u.Family() {
	case AmountPerVolume:
		return "mmol/L"
	case ChargePerVolume:
		return fmt.Sprintf("(1|%g) mmol/L", id.Info().Equivalents())
	}
	expr, basis := gnuMass[symbol], u.basis.String()
	if d, ok := gnuDegree[symbol]; ok {
		expr, basis = d.expr, d.basis
	}
	if expr == "" {
		return ""
	}
	if basis == "" {
		if basis = id.Info().Formula; basis == "" || !id.Info().Plain {
			return ""
		}
	}
	count := "1"
	switch charges := id.Info().Equivalents(); {
	case (basis == "CaCO3" || basis == "CaO") && charges == 1:
		count = "2" // two equivalents in each
	case basis == "HCO3" && charges == 2:
		count = "(1|2)"
	}
	return fmt.Sprintf("%s (mol/g) (%s)/%s", count, expr, gnuFormula(basis))
}

type gnuPair struct {
	what       string
	have, want string
	ours       float64
	relative   float64
}

// gnuRun asks GNU units for many conversions in one run.
func gnuRun(t *testing.T, pairs []gnuPair) {
	t.Helper()
	program, err := exec.LookPath("units")
	if err != nil {
		t.Skip("GNU units is not installed (Debian package units): conversions are not compared with it")
	}
	if v, err := exec.Command(program, "--version").Output(); err != nil || !strings.Contains(string(v), "GNU Units") {
		t.Skip("units is not GNU units")
	}
	var in strings.Builder
	for _, p := range pairs {
		fmt.Fprintf(&in, "%s\n%s\n", p.have, p.want)
	}
	cmd := exec.Command(program, "-q", "-t", "-d", "12")
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("units: %v", err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != len(pairs) {
		t.Fatalf("units answered %d lines for %d questions", len(lines), len(pairs))
	}
	for i, p := range pairs {
		theirs, err := strconv.ParseFloat(strings.TrimSpace(lines[i]), 64)
		if err != nil {
			t.Errorf("%s: units says %q to %s -> %s", p.what, lines[i], p.have, p.want)
			continue
		}
		if math.Abs(p.ours-theirs) > p.relative*math.Abs(theirs) {
			t.Errorf("%s: %.9g, GNU units %.9g", p.what, p.ours, theirs)
		}
	}
	t.Logf("%d conversions agree with GNU units", len(pairs))
}

func TestConcentrationsAgreeWithGNUUnits(t *testing.T) {
	var pairs []gnuPair
	for i := range table {
		a := &table[i]
		if a.entity == notCountable {
			continue
		}
		for _, from := range a.Units() {
			for _, to := range a.Units() {
				have, want := gnuAmount(a.ID, from), gnuAmount(a.ID, to)
				if from == to || have == "" || want == "" {
					continue
				}
				ours, err := a.Convert(1, from, to)
				if err != nil {
					t.Fatal(err)
				}
				relative := 3e-4
				if from.basis == to.basis && from.Family() == to.Family() || from.Family() == CarbonateDegree && to.Family() == CarbonateDegree {
					relative = 1e-9
				}
				pairs = append(pairs, gnuPair{fmt.Sprintf("%s: 1 %s in %s", a.Key, from, to), have, want, ours, relative})
			}
		}
	}
	if len(pairs) < 700 {
		t.Errorf("only %d pairs", len(pairs))
	}
	gnuRun(t, pairs)
}

func TestPlainUnitsAgreeWithGNUUnits(t *testing.T) {
	names := map[string]string{
		"uS/cm": "uS/cm", "mS/m": "mS/m", "mS/cm": "mS/cm", "%": "percent", "g": "g", "kg": "kg", "mg": "mg", "oz": "oz", "lb": "pound", "L": "L", "mL": "mL", "hL": "hL",
		"m3": "m^3", "gal_us": "usgallon", "gal_br": "brgallon", "bbl_us": "usbeerbarrel", "bbl_br": "brbarrel", "s": "s", "min": "min", "h": "hour",
		"d": "day", "wk": "week", "m": "m", "km": "km", "mg/L": "mg/L", "ug/L": "ug/L", "g/L": "g/L", "mo": "30.4375 day",
	}
	var pairs []gnuPair
	for from := noUnit + 1; from < numUnits; from++ {
		for to := noUnit + 1; to < numUnits; to++ {
			a, b := Unit{id: from}, Unit{id: to}
			if from == to || a.Family() != b.Family() || names[a.String()] == "" || names[b.String()] == "" {
				continue
			}
			ours, err := Convert(Quantity{Value: 7.25, Unit: a}, b)
			if err != nil {
				t.Fatal(err)
			}
			pairs = append(pairs, gnuPair{fmt.Sprintf("7.25 %s in %s", a, b), "7.25 " + names[a.String()], names[b.String()], ours, 1e-9})
		}
	}
	for _, f := range []float64{-40, 32, 68.5, 152, 212} {
		ours, _ := Convert(Quantity{Value: f, Unit: Unit{id: degF}}, DegreeCelsius)
		pairs = append(pairs, gnuPair{fmt.Sprintf("%g degF", f), fmt.Sprintf("tempF(%g)", f), "tempC", ours, 1e-9})
		if f == 32 { // 0 has no relative tolerance
			pairs = pairs[:len(pairs)-1]
		}
	}
	gnuRun(t, pairs)
}
