package water

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// spellings: many in, one out.
var spellings = map[string]string{
	"mg/L": "mg/L mg/l MG/L mg/dm3 mg/dm³ ppm PPM [ppm] g/m3 g/m³|mg·l-1|mg l⁻¹|mg.L-1|mg / L|mg per litre|mg per l",
	"ug/L": "ug/L ug/l µg/L μg/l mcg/L ppb [ppb] mg/m3 mg/m³ ug/dm3", "g/L": "g/L g/l g/dm3 kg/m3 kg/m³",
	"mmol/L": "mmol/L mmol/l mM mol/m3 mol/m³ mmol/dm3|mmol/L CaCO3", "meq/L": "meq/L meq/l mval/l mval/L meq/dm3",
	"dH": "dH °dH ºdH dh °dGH dGH odH °DH", "dKH": "dKH °dKH dkh °DKH", "fH": "fH °fH °f fh °FH|fH as CaCO3", "eH": "eH °eH °e Clark °Clark [gr]/[gal_br] clark",
	"gpg":        "gpg GPG gr/gal grain/gal grains/gallon [gr]/[gal_us]|grains per gallon|gpg CaCO3",
	"mg/L CaCO3": "mg/L{CaCO3} ppm{CaCO3}|mg/L CaCO3|mg/l CaCO3|mg/L as CaCO3|mg/L (as CaCO3)|mg/L (CaCO3)|mg/L caco₃|ppm CaCO3|ppm as CaCO3|mg CaCO3/L|mg caco3/l|mg/L  CaCO3|mg/L as calcium carbonate",
	"mg/L HCO3":  "mg/L{HCO3}|mg/L HCO3|mg/L HCO3-|mg/l HCO₃⁻|mg/L as HCO3|mg HCO3/L|mg/L bicarbonate", "mg/L Ca": "mg/L{Ca}|mg/L Ca|mg/L as Ca|mg/L Ca2+|mg/L Ca²⁺|mg/L Ca++",
	"mg/L NO3": "mg/L{NO3}|mg/L NO3|mg/L NO₃⁻|mg/L as NO3", "mg/L N": "mg/L{N}|mg/L N|mg/L as N|mg N/L", "mg/L SO4": "mg/L{SO4}|mg/L SO4|mg/L SO₄|mg/L SO42-|mg/L SO4--", "mg/L Cl2": "mg/L{Cl2}|mg/L Cl2|mg/L as Cl2|mg/L Cl₂",
	"uS/cm": "uS/cm µS/cm μS/cm us/cm|uS/cm at 25 degC|uS/cm at 25 °C", "mS/m": "mS/m ms/m", "mS/cm": "mS/cm dS/m ms/cm", "degC": "degC °C ºC Cel C celsius", "degF": "degF °F ºF [degF] F fahrenheit",
	"NTU": "NTU ntu FNU {NTU} FTU", "%": "% percent pct", "g": "g gram grams", "kg": "kg", "mg": "mg", "oz": "oz ounce ounces [oz_av]", "lb": "lb lbs pound pounds [lb_av]",
	"L": "L l litre litres liter liters dm3", "mL": "mL ml cm3 cm³", "hL": "hL hl", "m3": "m3 m³", "gal_us": "gal_us [gal_us]|US gal|us gallons", "gal_br": "gal_br [gal_br]|imp gal|imperial gallons",
	"bbl_us": "bbl_us|US bbl|us beer barrel", "bbl_br": "bbl_br|UK bbl|uk barrel", "s": "s sec", "min": "min minutes", "h": "h hours", "d": "d days", "wk": "wk weeks", "mo": "mo months", "m": "m", "km": "km",
}

func TestSpellingsOfUnits(t *testing.T) {
	n := 0
	for written, list := range spellings {
		plain, spaced, _ := strings.Cut(list, "|")
		for _, s := range append(strings.Fields(plain), strings.Split(spaced, "|")...) {
			if s == "" {
				continue
			}
			if !strings.Contains(list, "|") && strings.Contains(s, " ") {
				t.Fatal(s)
			}
			n++
			u, ok := ParseUnit(s)
			if !ok || u.String() != written {
				t.Errorf("ParseUnit(%q) = %q, %v; want %q", s, u, ok, written)
			}
			if q, err := ParseQuantity("84 " + s); err != nil || q.Unit != u {
				t.Errorf("ParseQuantity(84 %s) = %v, %v", s, q, err)
			}
		}
	}
	if n < 160 {
		t.Errorf("only %d spellings", n)
	}
}

func TestWhatIsNoUnit(t *testing.T) {
	for _, s := range []string{"", " ", "mm", "M", "gal", "gallon", "bbl", "barrel", "°d", "deg", "KH", "GH", "mg/L CaCO3 CaCO3", "mg/L as", "mg/L NaCl", "L CaCO3", "dH CaCO3", "mmol/L Ca",
		"mg/kg", "mg/L{", "mg/L}", "{CaCO3}", "/L", "mg", "mg//L", "ｍｇ/L", "mol", strings.Repeat("mg/L ", 5000)} {
		if s == "mg" {
			continue
		}
		if u, ok := ParseUnit(s); ok {
			t.Errorf("ParseUnit(%.40q) = %q, want none", s, u)
		}
	}
}

// TestUCUMRoundTrip: the codes are those of the UCUM essence table, version 2.1;
// a basis is an annotation in braces there.
func TestUCUMRoundTrip(t *testing.T) {
	for text, u := range exactUnits {
		code := u.UCUM()
		if code == "" {
			switch u.String() {
			case "dH", "dKH", "fH", "bbl_us", "bbl_br":
			default:
				t.Errorf("%s has no UCUM code", text)
			}
			continue
		}
		if back, ok := ParseUnit(code); !ok || back != u {
			t.Errorf("%s is %s in UCUM, which reads as %q, %v", text, code, back, ok)
		}
		if back, ok := ParseUnit(u.String()); !ok || back != u {
			t.Errorf("%s does not read as itself", u)
		}
	}
}

// ucumBase says how the table of units follows from UCUM's own definitions of
// its non-metric units (UCUM essence table: gr = 64.79891 mg, gal_us = 231 in³,
// gal_br = 4.54609 L, oz_av = lb_av/16, lb_av = 7000 gr; in = 2.54 cm).
func TestCustomaryUnitsFollowUCUM(t *testing.T) {
	const grain, inch = 64.79891e-3, 2.54 // g, cm
	for u, want := range map[unitID]float64{
		gallonUS: 231 * inch * inch * inch / 1000, gallonUK: 4.54609, pound: 7000 * grain, ounce: 7000 * grain / 16,
		gpg: 1000 * grain / (231 * inch * inch * inch / 1000), eH: 1000 * grain / 4.54609,
	} {
		if got := unitTable[u].factor; math.Abs(got-want) > 1e-12*want {
			t.Errorf("%s: %.15g, want %.15g", unitTable[u].symbol, got, want)
		}
	}
}

// anyAnalyte draws an analyte and two units that fit it.
func anyAnalyte(t *rapid.T) (*Analyte, Unit, Unit) {
	a := &table[rapid.IntRange(0, int(NumNames)-1).Draw(t, "analyte")]
	units := a.Units()
	return a, rapid.SampledFrom(units).Draw(t, "from"), rapid.SampledFrom(units).Draw(t, "to")
}

func TestUnitsThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, from, to := anyAnalyte(t)
		decimals := rapid.IntRange(0, 6).Draw(t, "decimals")
		step := math.Pow(10, -float64(decimals))
		v := float64(rapid.IntRange(-999_999_999, 999_999_999).Draw(t, "digits")) * step
		there, err := a.Convert(v, from, to)
		if err != nil {
			t.Fatalf("%s from %s to %s: %v", a.Key, from, to, err)
		}
		back, err := a.Convert(there, to, from)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(back-v) > math.Max(step/2, 1e-14*math.Abs(v)) {
			t.Fatalf("%s: %.12g %s -> %.12g %s -> %.12g", a.Key, v, from, there, to, back)
		}
	})
}

func TestConversionIsLinear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, from, to := anyAnalyte(t)
		x, y := rapid.Float64Range(-1e5, 1e5).Draw(t, "x"), rapid.Float64Range(-1e5, 1e5).Draw(t, "y")
		k := rapid.Float64Range(-10, 10).Draw(t, "k")
		f := func(v float64) float64 {
			w, err := a.Convert(v, from, to)
			if err != nil {
				t.Fatal(err)
			}
			return w
		}
		zero := f(0) // temperatures have an offset
		left, right := f(k*x+y)-zero, k*(f(x)-zero)+(f(y)-zero)
		scale := math.Abs(k*(f(x)-zero)) + math.Abs(f(y)-zero) + math.Abs(zero)
		if math.Abs(left-right) > 1e-11*scale {
			t.Fatalf("%s %s -> %s: %g, %g", a.Key, from, to, left, right)
		}
	})
}

// Convert without an analyte must give what every analyte that fits gives, or
// refuse.
func TestConvertNeverPicksOneOfSeveral(t *testing.T) {
	for _, from := range exactUnits {
		for _, to := range exactUnits {
			got, err := Convert(Quantity{Value: 3, Unit: from}, to)
			if err != nil {
				if err.Error() == "" {
					t.Error("an error without words")
				}
				continue
			}
			for i := range table {
				if a := &table[i]; a.entity != mixedHardness && a.fits(from) && a.fits(to) {
					v, err := a.Convert(3, from, to)
					if err != nil || math.Abs(v-got) > 1e-9*math.Abs(v) {
						t.Errorf("3 %s is %g %s, but %g for %s (%v)", from, got, to, v, a.Key, err)
					}
				}
			}
		}
	}
}

func TestKindsWithoutAFixedFactorSayWhy(t *testing.T) {
	for _, c := range []struct{ from, to, why string }{
		{"10 mg/L N", "uS/cm", "depends on all ions"}, {"7 dH", "dKH", "alkalinity"}, {"1 mmol/L", "mg/L CaCO3", "alkalinity"}, {"7.42", "mg/L", "no unit"},
		{"12 g", "L", "mass"}, {"10 mg/L N", "mg/L CaCO3", "no analyte"}, {"11 degC", "mg/L", "temperature"},
	} {
		q, err := ParseQuantity(c.from)
		if err != nil {
			t.Fatal(err)
		}
		u, _ := ParseUnit(c.to)
		if _, err := Convert(q, u); err == nil || !strings.Contains(err.Error(), c.why) {
			t.Errorf("%s to %s: %v, want %q", c.from, c.to, err, c.why)
		}
	}
}

func FuzzParseUnit(f *testing.F) {
	for _, list := range spellings {
		for _, s := range strings.FieldsFunc(list, func(r rune) bool { return r == '|' }) {
			f.Add(s)
		}
	}
	for _, s := range []string{"", "°", "mg/L{{}}", "mg/L ()", "as", "mg as CaCO3/l", "\x00", "µ\xff", "( )", "per per", "_"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		u, ok := ParseUnit(s)
		if !ok {
			return
		}
		if back, ok := ParseUnit(u.String()); !ok || back != u {
			t.Fatalf("%q reads as %q, which reads as %q", s, u, back)
		}
	})
}
