package water

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func TestAnalyteTable(t *testing.T) {
	key := regexp.MustCompile(`^(pH|[a-z]+(_[a-z]+)*)$`)
	seen := map[string]bool{}
	for id := range NumNames {
		a := id.Info()
		if a.ID != id || !key.MatchString(a.Key) || seen[a.Key] || a.Title == "" || a.Doc == "" || a.UCUM == "" {
			t.Errorf("%d: %+v", id, a)
		}
		seen[a.Key] = true
		if got, ok := Lookup(a.Key); !ok || got != id {
			t.Errorf("Lookup(%s) = %v, %v", a.Key, got, ok)
		}
		if _, ok := LookupAnalyte(a.Key); ok != (id < NumAnalytes) {
			t.Errorf("LookupAnalyte(%s)", a.Key)
		}
		if a.Units()[0] != a.Unit || !a.fits(a.Unit) {
			t.Errorf("%s does not fit its own unit", a.Key)
		}
		if id < NumAnalytes && a.Typical.Uncertainty(10, 1) <= 0 {
			t.Errorf("%s has no usual accuracy", a.Key)
		}
		// The code of the standard unit is that of the unit table, but for the basis that
		// chlorine is understood to have.
		if code := a.Unit.UCUM(); !a.Unit.IsNone() && code != a.UCUM && code+"{Cl2}" != a.UCUM {
			t.Errorf("%s: UCUM %s, its unit has %s", a.Key, a.UCUM, code)
		}
	}
	if len(Keys()) != int(NumNames) || len(AnalyteKeys()) != int(NumAnalytes) || Keys()[0] != "pH" {
		t.Error("keys")
	}
	if ID(200).String() != "ID(200)" {
		t.Error(ID(200).String())
	}
	if _, ok := Lookup("sulphate"); ok {
		t.Error("a name that is none")
	}
}

// The last digit of a CAS number is the sum of the others, each times its place
// from the right, modulo 10 (CAS, Check Digit Verification of CAS Registry Numbers).
func TestCASCheckDigits(t *testing.T) {
	for i := range table {
		cas := table[i].CAS
		if cas == "" {
			continue
		}
		digits := strings.ReplaceAll(cas, "-", "")
		sum := 0
		for k := range len(digits) - 1 {
			sum += int(digits[k]-'0') * (len(digits) - 1 - k)
		}
		if strconv.Itoa(sum%10) != digits[len(digits)-1:] || len(strings.Split(cas, "-")) != 3 {
			t.Errorf("%s: %s is no CAS number", table[i].Key, cas)
		}
	}
}

func TestUnitsThatDoNotFitSayWhatDoes(t *testing.T) {
	for _, c := range []struct {
		key, quantity string
		fault         Fault
		help          string
	}{
		{"alkalinity", "118", FaultNoUnit, "mg/L CaCO3"}, {"alkalinity", "118 mg/L", FaultBasis, "mg/L CaCO3 or mg/L HCO3"}, {"nitrate", "10 mg/L", FaultBasis, "mg/L NO3 or mg/L N"},
		{"chloride", "6 dKH", FaultKind, "mg/L"}, {"pH", "7.4 mg/L", FaultKind, "leave the unit away"}, {"alkalinity", "7 dH", FaultKind, "dKH"}, {"total_hardness", "7 dKH", FaultKind, "dH"},
		{"conductivity", "400 mg/L", FaultKind, "uS/cm"}, {"temperature", "11 uS/cm", FaultKind, "degC"}, {"sulfate", "40 mg/L N", FaultKind, "mg/L"}, {"silica", "4 mg/L", FaultBasis, "mg/L SiO2 or mg/L Si"},
		{"sulfate_chloride_ratio", "2 %", FaultKind, "leave"}, {"residual_alkalinity", "2 mmol/L", FaultKind, "mg/L CaCO3"},
	} {
		id, _ := Lookup(c.key)
		q, err := ParseQuantity(c.quantity)
		if err != nil {
			t.Fatal(err)
		}
		var e *QuantityError
		if err := id.Info().Fit(q); !errors.As(err, &e) || e.Fault != c.fault || !strings.Contains(e.Error(), c.help) {
			t.Errorf("%s: %s: %v", c.key, c.quantity, err)
		}
		if _, err := id.Info().Convert(1, q.Unit, id.Info().Unit); err == nil {
			t.Errorf("%s converts from %s", c.key, q.Unit)
		}
		if !math.IsNaN(id.Info().Standard(q)) {
			t.Errorf("%s has a standard value of %s", c.key, q)
		}
	}
}

func TestSpreadOfAnyFunction(t *testing.T) {
	a := fullAnalysis()
	for _, id := range []ID{ResidualAlkalinity, Sodium, SulfateChlorideRatio} {
		v, err := a.Derive(id)
		if err != nil {
			t.Fatal(err)
		}
		if u := a.Spread(v.From, func(b *Analysis) float64 { d, _ := b.Derive(id); return d.Value }); math.Abs(u-v.U) > 1e-9*v.U {
			t.Errorf("%s: %g, %g", id, u, v.U)
		}
	}
	if u := a.Spread([]ID{Iron, NumNames}, func(*Analysis) float64 { return 1 }); u != 0 {
		t.Errorf("of readings that are not there: %g", u)
	}
	a.Reset()
	if a.Has(Alkalinity) || (Value{U: 2}).Expanded() != 4 {
		t.Error("reset")
	}
}
