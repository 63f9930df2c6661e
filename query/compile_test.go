package query

import (
	"errors"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

func compileError(t *testing.T, source string) *Error {
	t.Helper()
	_, err := Compile(source)
	var e *Error
	if !errors.As(err, &e) {
		t.Fatalf("%s: error is %v, want *Error", source, err)
	}
	return e
}

// Each mistake is reported at its place, with the next step.
func TestCompileErrors(t *testing.T) {
	cases := []struct {
		source       string
		line, column int
		message      string
		help         string
	}{
		{"sulphate > 300", 1, 1, `no "sulphate"`, "did you mean sulfate?"},
		{"site == \"x\" and sulfat > 3", 1, 17, `no "sulfat"`, "did you mean sulfate?"},
		{"sulfate > 300\n  and chlorid > 3", 2, 7, `no "chlorid"`, "did you mean chloride?"},
		{"site == \"ü\" and ph > 7", 1, 17, `no "ph"`, "did you mean pH?"},
		{"RA > 40", 1, 1, `no "RA"`, "residual_alkalinity"},
		{"sulfate > 300 AND pH > 7", 1, 15, "AND is not expected", "small letters"},
		{"sulfate = 300", 1, 9, "= is not a comparison", "=="},
		{"sulfate >", 1, 10, "ends too early", "missing"},
		{"(sulfate > 3", 1, 13, "ends too early", "bracket"},
		{"sulfate >> 3", 1, 10, "not expected", ""},
		{"site == \"north", 1, 9, "no end", "closing quote"},
		{"sulfate", 1, 1, "a number, not a condition", "sulfate > 300"},
		{"site", 1, 1, "a text, not a condition", ""},
		{"not sulfate > 3", 1, 1, "not is before a number", "brackets"},
		{"sulfate and pH > 7", 1, 1, "joins conditions", "compare"},
		{"site > 3", 1, 6, "cannot be compared", ""},
		{"site == north-well", 1, 9, `no "north"`, ""},
		{"sulfate > dKH(7)", 1, 11, "sulfate cannot be in dKH", "mg/L"},
		{"calcium_hardness > dKH(7)", 1, 20, "calcium_hardness cannot be in dKH", "dH"},
		{"alkalinity > mgL(7)", 1, 14, "does not say as what", "CaCO3"},
		{"pH > dKH(7)", 1, 6, "pH is a number without a unit", ""},
		{"nitrate > mgL(10)", 1, 11, "does not say as what", "mg/L NO3 or mg/L N"},
		{"dKH(7) > 3", 1, 10, "without a unit", "dKH(3)"},
		{"alkalinity > dKH(7) + 1", 1, 23, "without a unit", "dKH(1)"},
		{"alkalinity > sulfate", 1, 12, "alkalinity is in mg/L CaCO3, sulfate in mg/L", ""},
		{"calcium > calcium_hardness", 1, 9, "calcium is in mg/L", `as("mg/L CaCO3", calcium)`},
		{"temperature + pH > 3", 1, 13, "temperature is in degC", ""},
		{"sulfate > \"300 mgl\"", 1, 11, "is beside a number", ""},
		{"as(\"mg/X\", 3) < nitrate", 1, 4, "not a known unit", ""},
		{"sampled > 3", 1, 9, "cannot be compared", ""},
		{"sampled > \"01/02/2026\"", 1, 11, "not a date", "2026"},
		{"sampled > date(\"2026-13\")", 1, 16, "not a date", "2026"},
		{"now - sampled > 3", 1, 17, "without a unit", ""},
		{"sampled > now - 3", 1, 17, "without a unit of time", "days(3)"},
		{"surely(sulfate)", 1, 8, "take a condition", ""},
		{"surely()", 1, 1, "takes one argument", "surely(sulfate > 300)"},
		{"lot(sulphate) == \"x\"", 1, 5, `no reading "sulphate"`, "sulfate"},
		{"lot(3) == \"x\"", 1, 5, "name of a reading", ""},
		{"lot == \"x\"", 1, 1, "lot is a function", "lot(sulfate)"},
		{"sulfate(3) > 2", 1, 1, "not a function", ""},
		{"surly(sulfate > 3)", 1, 1, `no function "surly"`, "surely"},
		{"median(sulfate) > 3", 1, 1, `no function "median"`, ""},
		{"all(1..9, # > 3)", 1, 1, `no function "all"`, "one session"},
		{"sum([1,2]) > 3", 1, 1, `no function "sum"`, "one session"},
		{"now() > sampled", 1, 1, "", ""},
		{"month in 6..8", 1, 11, ".. is not known", "month >= 6"},
		{"site in \"north-well\"", 1, 9, "in needs a list", "["},
		{"site in []", 1, 9, "the list is empty", ""},
		{"$env[\"sulfate\"] > 3", 1, 5, "", ""},
		{"sulfate > 3; true", 1, 14, "one condition", "and"},
		{"let x = 3; sulfate > x", 1, 5, "variables are not known", ""},
		{"sulfate > 3 ? true : false", 1, 1, "if and ?", ""},
		{"alkalinity.dKH > 7", 1, 12, "parts of a value", "dKH(alkalinity)"},
		{"(sulfate ?? 0) > 7", 1, 10, "?? is not known", ""},
		{"sulfate == nil", 1, 12, "nil is not known", "known(sulfate)"},
		{"sulfate ** 2 > 3", 1, 9, "** is not known", ""},
		{"site matches \"(\"", 1, 14, "pattern cannot be read", "contains"},
		{"site matches by", 1, 14, "fixed text", "quotes"},
		{"text(\" \")", 1, 6, "no word", ""},
		{"1/0 > sulfate", 1, 2, "no value", ""},
	}
	for _, c := range cases {
		e := compileError(t, c.source)
		if e.Line != c.line || e.Column != c.column {
			t.Errorf("%s: at %d:%d, want %d:%d (%s)", c.source, e.Line, e.Column, c.line, c.column, e.Message)
		}
		if !strings.Contains(e.Message, c.message) || !strings.Contains(e.Help, c.help) {
			t.Errorf("%s: %q; %q, want %q; %q", c.source, e.Message, e.Help, c.message, c.help)
		}
		if strings.HasSuffix(e.Message, ".") || e.Source != c.source {
			t.Errorf("%s: message %q, source %q", c.source, e.Message, e.Source)
		}
	}
	if line, caret := compileError(t, "pH > 7 and\nsulphate > 300").Excerpt(); line != "sulphate > 300" || caret != "^" {
		t.Errorf("excerpt %q, caret %q", line, caret)
	}
}

// A source made to hurt is refused in 100 ms, before it reaches the parser.
func TestHostileSources(t *testing.T) {
	const many = 1_000_000
	sources := map[string]string{
		"parentheses":       strings.Repeat("(", many),
		"nots":              strings.Repeat("!", many) + "true",
		"minus signs":       "sulfate > " + strings.Repeat("-", many) + "3",
		"list brackets":     strings.Repeat("[", many),
		"closed brackets":   strings.Repeat("(", many) + "true" + strings.Repeat(")", many),
		"not words":         strings.Repeat("not ", many) + "true",
		"short parentheses": strings.Repeat("(", 65) + "true" + strings.Repeat(")", 65),
		"short nots":        strings.Repeat("! ", 65) + "true",
		"short not words":   strings.Repeat("not ", 65) + "true",
		"ternaries":         "true" + strings.Repeat("?true:true", 300),
		"many parts":        "pH > 7" + strings.Repeat(" or pH > 7", 300),
		"loops":             "all(1..999, all(1..999, # > 0))",
		"long pattern":      "site matches \"" + strings.Repeat("(a*)*", 60) + "\"",
		"repeated pattern":  "site matches \"((((a{1000}){1000}){1000}){1000})\"",
		"not text":          "pH > 7 \xff",
	}
	for name, source := range sources {
		_, err := Compile(source)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%s: %v, want *Error", name, err)
		}
	}
	deep := strings.Repeat("(", 64) + "pH > 7" + strings.Repeat(")", 64)
	if _, err := Compile(deep); err != nil {
		t.Errorf("64 deep: %v", err)
	}
	if _, err := Compile("site == \"" + strings.Repeat("(", 200) + "\""); err != nil {
		t.Errorf("brackets inside a text: %v", err)
	}
}

// Unit helpers convert for the analyte that they meet. Factors: 1 German degree is 10 mg/L CaO (DIN 38409-6), 1 French
// degree 10 mg/L CaCO3, 1 English degree 1 grain CaCO3 per imperial gallon, 1 gpg 17.12 mg/L CaCO3 (Hem 1985, USGS
// Water-Supply Paper 2254, p. 159). One mmol/L of hardness is 100.09 mg/L CaCO3 and one of alkalinity 50.04; NO3 is
// 62.005/14.007 times N (IUPAC 2021 atomic weights).
func TestUnits(t *testing.T) {
	readings := []string{"alkalinity: 118 mg/L CaCO3", "calcium_hardness: 92 mg/L CaCO3", "total_hardness: 138 mg/L CaCO3",
		"nitrate: 44.3 mg/L NO3", "temperature: 11.5 degC", "conductivity: 412 uS/cm", "sulfate: 96.06 mg/L", "iron: 0.2 mg/L"}
	j := one(t, readings...)
	cases := []struct{ source, want string }{
		{"alkalinity > dKH(6.6) and alkalinity < dKH(6.62)", "yes"}, // 118 / 17.848 = 6.611
		{"alkalinity > \"6.6 dKH\" and alkalinity < '6.62 °dKH'", "yes"},
		{"alkalinity == fH(11.8)", "yes"},
		{"alkalinity > gpg(6.89) and alkalinity < gpg(6.90)", "yes"}, // 118 / 17.118 = 6.893
		{"alkalinity > eH(8.27) and alkalinity < eH(8.29)", "yes"},   // 118 / 14.254 = 8.279
		{"alkalinity > mmol(2.35) and alkalinity < mmol(2.36)", "yes"},
		{"total_hardness > mmol(1.37) and total_hardness < mmol(1.38)", "yes"},
		{"total_hardness > dH(7.73) and total_hardness < dH(7.74)", "yes"}, // 138 / 17.848 = 7.732
		{"total_hardness > meq(2.75) and total_hardness < meq(2.76)", "yes"},
		{"alkalinity > meq(2.35) and alkalinity < meq(2.36)", "yes"},
		{"nitrate > mgN(10) and nitrate < mgN(10.01)", "yes"}, // 44.3 / 4.4267 = 10.007
		{"nitrate > as(\"mg/L N\", 10)", "yes"},
		{"nitrate < mgNO3(50)", "yes"},
		{"temperature < degF(52.8) and temperature > degF(52.6)", "yes"}, // 11.5 degC = 52.7 degF
		{"u(temperature) > degF(0.4) and u(temperature) < degF(0.5)", "yes"},
		{"conductivity < mScm(0.5)", "yes"},
		{"iron == ugL(200)", "yes"},
		{"sulfate > mmol(0.999) and sulfate < mmol(1.001)", "yes"},
		{"sulfate < mmol(0.5 + 0.6)", "yes"},
		{"dKH(alkalinity) > 6.6 and dKH(alkalinity) < 6.62", "yes"},
		{"as(\"mg/L CaCO3\", calcium) == calcium_hardness", "yes"},
		{"alkalinity + dKH(1) > dKH(7.6)", "yes"},
		{"alkalinity / dKH(1) > 6.6", "yes"},
		{"dKH(1) * 6 < alkalinity", "yes"},
		{"total_hardness - calcium_hardness == 46", "yes"},
		{"total_hardness - calcium_hardness > dH(2.5)", "yes"},
		{"magnesium > 11.1 and magnesium < 11.3", "yes"}, // 46 mg/L CaCO3 × 24.305/100.086 = 11.17
		{"residual_alkalinity > dKH(4.7) and residual_alkalinity < dKH(4.8)", "yes"},
		{"alkalinity in [\"1 dKH\", \"118 mg/L CaCO3\"]", "yes"},
	}
	for _, c := range cases {
		if got := answer(t, j, c.source); got != c.want {
			t.Errorf("%s: %s, want %s", c.source, got, c.want)
		}
	}
}

// GNU units agrees with the helpers of one fixed factor.
func TestUnitsAgainstGNUUnits(t *testing.T) {
	program, err := exec.LookPath("units")
	if err != nil {
		t.Skip("GNU units is not installed")
	}
	cases := []struct{ helper, from string }{
		{"gpg", "grain/gallon"}, {"eH", "grain/brgallon"}, {"ugL", "microgram/liter"}, {"gL", "gram/liter"},
	}
	for _, c := range cases {
		out, err := exec.Command(program, "--terse", c.from, "mg/liter").Output()
		if err != nil {
			t.Fatalf("units %s: %v", c.from, err)
		}
		want, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
		if err != nil {
			t.Fatal(err)
		}
		to := "total_hardness"
		if c.helper == "ugL" || c.helper == "gL" {
			to = "sulfate"
		}
		_, o, err := compileOperand(to + " + " + c.helper + "(1) - " + to)
		if err != nil {
			t.Fatal(err)
		}
		way, err := conversion(o.number.of, helpers()[c.helper], o.number.unit)
		if err != nil || way.factor < want*(1-1e-6) || way.factor > want*(1+1e-6) {
			t.Errorf("1 %s = %v mg/L (%v), GNU units says %v", c.helper, way.factor, err, want)
		}
	}
}

// FuzzCompile: no source makes Compile panic or hang; each error has a place inside the source, and each accepted
// expression answers.
func FuzzCompile(f *testing.F) {
	for _, s := range []string{"", "sulfate > 300 && site == \"north-well\"", "surely(alkalinity > dKH(7))", "not (chloride < 5) or last(90)",
		"sampled in \"2026-Q2\" and lot(sulfate) startsWith \"SU\"", "as(\"mg/L N\", 10) < nitrate", "text(\"cloudy\")", "a ?? b", "x[1:2]", "{a: 1}", "1 | u()",
		"sulfate in [1, \"2 mg/L\"]", "now - sampled > days(3)", "`x`", "b\"x\"", "::len(site)", "-(-(3)) < abs(charge_balance)", "filter(site, # == 1)", "'\\u{10FFFF}'",
		"sulfate > 1e308 * 10", "sampled + days(1e300) > now", "last(1e400)", "weekday in [6, 7]"} {
		f.Add(s)
	}
	j := one(f, "sulfate: 300 mg/L", "chloride: <5 mg/L", "alkalinity: 118 mg/L CaCO3")
	f.Fuzz(func(t *testing.T, source string) {
		x, err := Compile(source)
		if err != nil {
			var e *Error
			if !errors.As(err, &e) {
				t.Fatalf("%q: %v is no *Error", source, err)
			}
			if lines := strings.Count(e.Source, "\n") + 1; e.Line < 1 || e.Line > lines || e.Column < 1 || e.Column > len(e.Source)+1 {
				t.Fatalf("%q: place %d:%d", source, e.Line, e.Column)
			}
			if e.Message == "" || !strings.Contains(e.Error(), e.Message) {
				t.Fatalf("%q: message %q", source, e.Message)
			}
			return
		}
		r, err := Run(j, Request{Where: x, Now: clock})
		if err != nil {
			t.Fatal(err)
		}
		if r.Looked+r.Void != 1 {
			t.Fatalf("%q: looked at %d", source, r.Looked)
		}
	})
}
