package water

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestNumbersAsAMeterShowsThem(t *testing.T) {
	for s, want := range map[string]float64{
		"0": 0, "7": 7, "7.42": 7.42, "0.02": 0.02, "0.50": 0.5, "84.0": 84, "-12.5": -12.5, "−3": -3, "+4": 4, "999999999": 999999999, "123456789.123456": 123456789.123456,
		" 7.42 ": 7.42, "\t7.42": 7.42, "100": 100, "10": 10, "0.000001": 1e-6, "-0": 0,
	} {
		q, err := ParseQuantity(s)
		if err != nil || q.Value != want || !q.Unit.IsNone() {
			t.Errorf("%q = %v, %v; want %v", s, q.Value, err, want)
		}
	}
}

func TestWhatIsNoNumber(t *testing.T) {
	for s, fault := range map[string]Fault{
		"": FaultNumber, " ": FaultNumber, "-": FaultNumber, "+": FaultNumber, ".": FaultNumber, ".5": FaultNumber, "5.": FaultNumber, "5. mg/L": FaultNumber, "1.2.3": FaultNumber, "..5": FaultNumber,
		"012": FaultNumber, "00": FaultNumber, "0012.5": FaultNumber, "0o17": FaultUnit, "0b101": FaultUnit, "0x1F": FaultNumber, "0X10 mg/L": FaultNumber, "1_000": FaultNumber, "1_000 mg/L": FaultNumber, "1'000": FaultNumber, "1e3": FaultNumber,
		"1E3": FaultNumber, "1e-3 mg/L": FaultNumber, "1E+06": FaultNumber, "NaN": FaultNumber, ".nan": FaultNumber, "nan mg/L": FaultNumber, "Inf": FaultNumber, "+Inf": FaultNumber, "-.inf": FaultNumber, "infinity": FaultNumber, "∞": FaultNumber,
		"７.４２": FaultNumber, "８４ mg/L": FaultNumber, "٨٤": FaultNumber, "½": FaultNumber, "1/2": FaultUnit, "~84 mg/L": FaultNumber, "ca. 84": FaultNumber, "84-86 mg/L": FaultUnit, "84 86 mg/L": FaultUnit,
		"7,42": FaultDecimalComma, "7,42 mg/L": FaultDecimalComma, "-7,4": FaultDecimalComma, "1,000": FaultDecimalComma, "1,234.5 mg/L": FaultDecimalComma, "1,234,567": FaultDecimalComma, "1.234,5": FaultUnit, "84 ± 4,5 mg/L": FaultDecimalComma,
		"1234567890": FaultNumber, "1.1234567": FaultNumber, "<=5 mg/L": FaultNumber, ">= 5": FaultNumber, "<": FaultNumber, "< mg/L": FaultNumber, "<<5": FaultNumber, "<-": FaultNumber, "≤5 mg/L": FaultNumber, "--5": FaultNumber, "+-5": FaultNumber,
		"<5 ± 1 mg/L": FaultSign, "84 ± -4 mg/L": FaultSign, "84 ±": FaultNumber, "84 ± mg/L": FaultNumber, "± 4": FaultNumber, "84 mg/L ± 4 mg/L": FaultUnit, "84 mg/L ± 4": FaultUnit, "84 mgl": FaultUnit, "84 gal": FaultUnit, "84 mg/L,": FaultUnit,
		"true": FaultNumber, "null": FaultNumber, "0x": FaultNumber, "１": FaultNumber, "7\u202e42": FaultUnit, "7\x00": FaultUnit, "1 e3": FaultUnit, "2026-03-04": FaultUnit, "8:15": FaultUnit,
		strings.Repeat("9", 400): FaultNumber, "0." + strings.Repeat("0", 400) + "1": FaultNumber, strings.Repeat("9", 400) + " mg/L": FaultNumber, "1," + strings.Repeat("0", 400): FaultDecimalComma,
	} {
		q, err := ParseQuantity(s)
		var e *QuantityError
		if !errors.As(err, &e) {
			t.Errorf("%.40q is read as %v, %v", s, q, err)
			continue
		}
		if e.Fault != fault {
			t.Errorf("%.40q: fault %d (%v), want %d", s, e.Fault, err, fault)
		}
		if e.Start < 0 || e.End < e.Start || e.End > len(s) || e.Message == "" || len(e.Message) > 400 {
			t.Errorf("%.40q: place %d:%d, message %.80q", s, e.Start, e.End, e.Message)
		}
		if e.Help == "" {
			t.Errorf("%.40q: no next step: %v", s, err)
		}
	}
}

func TestDecimalCommaIsMendedOnlyWhereItIsPlain(t *testing.T) {
	for s, fix := range map[string]string{
		"7,42": "7.42", "<0,5 mg/L": "<0.5 mg/L", "11,5 degC": "11.5 degC", "0,125 mg/L": "0.125 mg/L", "1234,567": "1234.567", "1,000": "", "1,234.5": "", "12,345 mg/L": "", "1,234,567": "",
	} {
		_, err := ParseQuantity(s)
		var e *QuantityError
		if !errors.As(err, &e) || e.Fix != fix {
			t.Errorf("%q: %+v, want fix %q", s, e, fix)
			continue
		}
		if fix != "" {
			if _, err := ParseQuantity(fix); err != nil {
				t.Errorf("the mended %q: %v", fix, err)
			}
		}
	}
}

func TestQuantities(t *testing.T) {
	for s, want := range map[string]string{
		"84 mg/L": "84 mg/L", "118 mg/L as CaCO3": "118 mg/L CaCO3", "6.60dKH": "6.60 dKH", "<5 mg/L": "<5 mg/L", "> 200 ppm": ">200 mg/L", "84 ± 4 mg/L": "84 ± 4 mg/L", "84±4mg/l": "84 ± 4 mg/L", "84 +/- 4.5 mg/L": "84 ± 4.5 mg/L",
		"7.42": "7.42", "7.42 [pH]": "7.42", "7.42 pH": "7.42", "-0.50 meq/L": "-0.50 meq/L", "40%": "40 %", "412 µS/cm": "412 uS/cm", "1 gal_us": "1 gal_us",
	} {
		q, err := ParseQuantity(s)
		if err != nil || q.String() != want {
			t.Errorf("%q = %q, %v; want %q", s, q, err, want)
		}
	}
	q, _ := ParseQuantity("0.0420 ± 0.5 mg/L")
	if q.Decimals != 4 || q.Digits != 3 || q.Expanded != 0.5 {
		t.Errorf("%+v: decimals and digits are those of the value as typed", q)
	}
}

func TestUnknownUnitsNameTheNextStep(t *testing.T) {
	for s, help := range map[string]string{"84 gal": "gal_us", "84 bbl": "bbl_us", "6 °KH": "dKH", "84 mgl": "mg/L", "84 mg/L NO3-N": "mg/L N", "3 frogs": "known are", "84 mg/kg": "mg/L"} {
		_, err := ParseQuantity(s)
		var e *QuantityError
		if !errors.As(err, &e) || !strings.Contains(e.Help, help) {
			t.Errorf("%q: %v, want help with %q", s, err, help)
		}
	}
}

func TestEveryQuantityReadsAsItIsWritten(t *testing.T) {
	units := make([]Unit, 0, len(exactUnits)+1)
	units = append(units, None)
	for _, u := range exactUnits {
		units = append(units, u)
	}
	rapid.Check(t, func(t *rapid.T) {
		q := Quantity{Decimals: uint8(rapid.IntRange(0, 6).Draw(t, "decimals")), Unit: rapid.SampledFrom(units).Draw(t, "unit"),
			Bound: Bound(rapid.IntRange(-1, 1).Draw(t, "bound"))}
		q.Value = float64(rapid.IntRange(-999_999_999, 999_999_999).Draw(t, "digits")) / pow10[q.Decimals]
		if q.Bound == Exact {
			q.Expanded = float64(rapid.IntRange(0, 99_999).Draw(t, "half-width")) / 100
		}
		got, err := ParseQuantity(q.String())
		if err != nil {
			t.Fatal(err)
		}
		got.Digits = q.Digits
		if got != q {
			t.Fatalf("%q: %+v, want %+v", q.String(), got, q)
		}
	})
}

func FuzzParseQuantity(f *testing.F) {
	for _, s := range []string{"84 mg/L", "118 mg/L as CaCO3", "6.6 dKH", "<5 mg/L", ">200 mg/L", "84 ± 4 mg/L", "7.42", "7,42", "012", "1_000", ".nan", "0x1F", "1e5", "-0.0", "−3 degC",
		"+/-", "84+/-4", "<=5", "８４", "1,000", "µ", "84 mg/L{CaCO3}", "\xff\xfe", "0.1234567", "999999999999", "40 %", "5 grains per gallon"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		q, err := ParseQuantity(s)
		if err != nil {
			var e *QuantityError
			if !errors.As(err, &e) {
				t.Fatalf("%q: %T", s, err)
			}
			if e.Start < 0 || e.End < e.Start || e.End > len(s) {
				t.Fatalf("%q: place %d:%d", s, e.Start, e.End)
			}
			if e.Fix != "" {
				if _, err := ParseQuantity(e.Fix); err != nil && errors.As(err, &e) && e.Fault == FaultDecimalComma && e.Fix == s {
					t.Fatalf("%q: the fix changes nothing", s)
				}
			}
			return
		}
		if math.IsNaN(q.Value) || math.IsInf(q.Value, 0) || math.Abs(q.Value) >= 1e9+1 || q.Expanded < 0 {
			t.Fatalf("%q: %+v", s, q)
		}
		back, err := ParseQuantity(q.String())
		if err != nil || back != q {
			t.Fatalf("%q reads as %+v, written %q, reads as %+v, %v", s, q, q.String(), back, err)
		}
	})
}

// TestSpread: GUM 7.2.6 and its examples in H.1.6 and H.2: at most two digits of
// the uncertainty, the value rounded to match.
func TestSpread(t *testing.T) {
	for _, c := range []struct {
		v, u        float64
		value, half string
	}{
		{127.732, 0.142, "127.73", "0.14"}, {84, 4, "84", "4"}, {84.26, 4.4, "84", "4"}, {1002.70, 1.73, "1002.7", "1.7"}, {12.142, 4.378, "12", "4"}, {-0.04, 0.9, "0.0", "0.9"}, {0.00312, 0.00021, "0.00312", "0.00021"},
		{12345, 2000, "12300", "2000"}, {5, 0, "5.00", ""}, {5, math.NaN(), "5.00", ""}, {9.96, 0.996, "10.0", "1.0"}, {118, 9.7, "118", "10"},
	} {
		v, u := Spread(c.v, c.u)
		if v != c.value || u != c.half {
			t.Errorf("Spread(%g, %g) = %s ± %s, want %s ± %s", c.v, c.u, v, u, c.value, c.half)
		}
	}
}

func TestRound(t *testing.T) {
	for _, c := range []struct {
		v    float64
		n    int
		want string
	}{{6.6114, 3, "6.61"}, {0.0999, 2, "0.10"}, {99.96, 3, "100"}, {0, 3, "0"}, {-0.00001234, 2, "-0.000012"}, {123456, 3, "123000"}, {1e-320, 3, "0"}, {math.NaN(), 3, "NaN"}, {1e300, 2, ""}} {
		got := Round(c.v, c.n)
		if c.want != "" && got != c.want {
			t.Errorf("Round(%g, %d) = %s, want %s", c.v, c.n, got, c.want)
		}
	}
}

// Accuracy is the promise of a meter: "± (2 mg/L + 5 %)" of what it shows. The
// fixed part grows with a dilution, the relative one does not.
func TestDilutionDoublesTheFixedPart(t *testing.T) {
	a := Accuracy{Absolute: 10, Relative: 0.05}
	undiluted := a.Uncertainty(100, 1)       // reads 100
	diluted := a.Uncertainty(50, 2)          // the same water cut 1:1 reads 50
	if undiluted != 7.5 || diluted != 12.5 { // (10 + 5)/2; 2 × (10 + 2.5)/2
		t.Errorf("%g and %g, want 7.5 and 12.5", undiluted, diluted)
	}
	// Resolution 1 adds 1/√12 (GUM F.2.2.1).
	if got := (Accuracy{Resolution: 1}).Uncertainty(5, 1); math.Abs(got-0.288675) > 1e-6 {
		t.Errorf("resolution alone: %g", got)
	}
}

// GUM 4.2.3: the mean of n repeats has the standard deviation s/√n; a bias that
// all of them share stays (F.2.4.5).
func TestReplicatesShrinkOnlyTheirOwnPart(t *testing.T) {
	for _, c := range []struct {
		u, repeat   float64
		n           int
		total, part float64
	}{
		{5, 3, 1, 5, 4}, {5, 3, 9, math.Sqrt(17), 4}, {5, 0, 1, 5, 5 / math.Sqrt2}, {5, 0, 4, math.Sqrt(12.5 + 12.5/4), 5 / math.Sqrt2}, {5, 7, 1, 5, 0}, {5, 7, 4, 2.5, 0}, {5, 3, 0, 5, 4}, {0, 1, 2, 0, 0},
	} {
		total, shared := Replicates(c.u, c.repeat, c.n)
		if math.Abs(total-c.total) > 1e-12 || math.Abs(shared-c.part) > 1e-12 {
			t.Errorf("Replicates(%g, %g, %d) = %g, %g, want %g, %g", c.u, c.repeat, c.n, total, shared, c.total, c.part)
		}
	}
}
