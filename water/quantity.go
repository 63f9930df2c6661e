package water

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"wj/water/spelling"
)

// Bound says whether a value is the value itself or only a bound of it.
type Bound int8

// A reading below the method's range is Below its limit ("<5 mg/L"), one above
// it is Above (">200 mg/L"). A bound is never used as a number.
const (
	Exact Bound = 0
	Below Bound = -1
	Above Bound = 1
)

// String is "", "<" or ">".
func (b Bound) String() string {
	switch b {
	case Below:
		return "<"
	case Above:
		return ">"
	}
	return ""
}

// Quantity is a number with its unit as somebody wrote it.
type Quantity struct {
	Value    float64
	Expanded float64 // what is after ±: a 95 % half-width in the same unit; 0 if nothing does
	Bound    Bound
	Decimals uint8 // digits after the point, as typed
	Digits   uint8 // significant digits, as typed
	Unit     Unit
}

// Fault is the kind of a mistake in a quantity.
type Fault uint8

// The faults that ParseQuantity distinguishes; a linter has a rule for each.
const (
	FaultNumber       Fault = iota // not a number in the plain decimal form
	FaultDecimalComma              // 7,42
	FaultUnit                      // a unit that is not in the table
	FaultNoUnit                    // no unit where one is needed
	FaultKind                      // a unit that does not fit the analyte
	FaultBasis                     // a unit whose basis must be said
	FaultSign                      // ± or bound where it cannot stand
)

// QuantityError is a mistake in a written quantity: what is wrong, where in
// the text (bytes), and what to write instead.
type QuantityError struct {
	Fault      Fault
	Start, End int
	Message    string
	Help       string
	Fix        string   // the whole text fixed, where there is only one way to read it
	Near       []string // units that may have been meant by the text from Start to End
}

func (e *QuantityError) Error() string {
	if e.Help == "" {
		return e.Message
	}
	return e.Message + "; " + e.Help
}

// Limits of the number grammar: more digits than any meter shows.
const (
	maxIntegerDigits = 9
	maxDecimals      = 6
)

// ParseQuantity reads "84 mg/L", "118 mg/L as CaCO3", "<5 mg/L", "84 ± 4 mg/L"
// or "7.42". The unit may be absent here; whether it may be depends on what is
// measured (Analyte.Fit). Errors are *QuantityError.
func ParseQuantity(s string) (Quantity, error) {
	var q Quantity
	i := skipBlank(s, 0)
	switch {
	case i < len(s) && s[i] == '<':
		q.Bound, i = Below, i+1
	case i < len(s) && s[i] == '>':
		q.Bound, i = Above, i+1
	}
	if q.Bound != Exact && i < len(s) && s[i] == '=' {
		return q, &QuantityError{Fault: FaultNumber, Start: i, End: i + 1, Message: fmt.Sprintf("%q is no bound", s[i-1:i+1]),
			Help: "write < for a result below the method's range and > for one above it"}
	}
	i = skipBlank(s, i)
	start := i
	n, end, err := parseNumber(s, i)
	if err != nil {
		return q, err
	}
	q.Value, q.Decimals, q.Digits = n.value, n.decimals, n.digits
	i = skipBlank(s, end)
	if after, found := cutPlusMinus(s[i:]); found {
		i = skipBlank(s, len(s)-len(after))
		pm, end, err := parseNumber(s, i)
		if err != nil {
			return q, err
		}
		if q.Bound != Exact {
			return q, &QuantityError{Fault: FaultSign, Start: start, End: end, Message: "a bound has no ±", Help: "write the bound alone, such as <5 mg/L"}
		}
		if pm.value < 0 {
			return q, &QuantityError{Fault: FaultSign, Start: i, End: end, Message: "± is followed by a negative number", Help: "write the half-width of the 95 % interval, such as 84 ± 4 mg/L"}
		}
		q.Expanded = pm.value
		i = skipBlank(s, end)
	}
	rest := strings.TrimRight(s[i:], " \t")
	if rest == "" || rest == "[pH]" || rest == "pH" { // UCUM has a code for what has no unit here
		return q, nil
	}
	u, ok := ParseUnit(rest)
	if !ok {
		return q, unknownUnit(s, i, rest)
	}
	q.Unit = u
	return q, nil
}

func unknownUnit(s string, i int, rest string) error {
	e := &QuantityError{Fault: FaultUnit, Start: i, End: i + len(rest), Message: fmt.Sprintf("%q is not a known unit", clipped(rest))}
	if len(rest) > 40 {
		rest = rest[:40]
	}
	switch strings.ToLower(unitFolder.Replace(rest)) {
	case "gal", "gallon", "gallons":
		e.Help = "which gallon? write gal_us (3.785 L) or gal_br (4.546 L)"
	case "bbl", "barrel", "barrels":
		e.Help = "which barrel? write bbl_us (117.3 L) or bbl_br (163.7 L)"
	case "od", "deg", "degrees", "o", "kh", "gh":
		e.Help = "which degree? write dH (hardness) or dKH (alkalinity), fH, eH, or degC for a temperature"
	case "mg/l no3-n", "mg/l no2-n", "mg/l nh4-n", "mg/l nh3-n", "mg/l n-no3", "mg/l n-nh4":
		e.Help = "that is nitrogen: write mg/L N"
	case "mg/l po4-p", "mg/l p-po4":
		e.Help = "that is phosphorus: write mg/L P"
	case "mg/kg":
		e.Help = "a mass per mass; for drinking water write mg/L (they differ by under 0.3 % when it is cold)"
	default:
		e.Near = spelling.Meant(rest, UnitNames())
		e.Help = spelling.HintOr(rest, UnitNames(),
			"known are mg/L, ug/L, g/L (with a basis such as mg/L CaCO3), mmol/L, meq/L, dH, dKH, fH, eH, gpg, uS/cm, degC, NTU, %, g, kg, mL, L, hL")
	}
	return e
}

type number struct {
	value    float64
	decimals uint8
	digits   uint8
}

// parseNumber reads the plain decimal form only: no exponent, no underscore,
// no octal, no infinity. What is typed is what the meter showed.
func parseNumber(s string, i int) (number, int, error) {
	start := i
	neg := false
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		neg = s[i] == '-'
		i++
	} else if strings.HasPrefix(s[i:], "−") {
		neg = true
		i += len("−")
	}
	var n number
	intStart := i
	var mantissa uint64
	for i < len(s) && isDigit(s[i]) {
		if i-intStart < maxIntegerDigits+maxDecimals {
			mantissa = mantissa*10 + uint64(s[i]-'0')
		}
		i++
	}
	intDigits := i - intStart
	if i < len(s) && s[i] == ',' && i+1 < len(s) && isDigit(s[i+1]) {
		return n, i, decimalComma(s, start, i)
	}
	if i < len(s) && s[i] == '.' {
		i++
		fracStart := i
		for i < len(s) && isDigit(s[i]) {
			if i-fracStart < maxDecimals+1 {
				mantissa = mantissa*10 + uint64(s[i]-'0')
			}
			i++
		}
		n.decimals = uint8(min(i-fracStart, 255))
		if n.decimals == 0 {
			return n, i, numberError(s, start, i, "a point needs digits after it")
		}
	}
	end := i
	for end < len(s) && isNumberTail(s[end]) {
		end++
	}
	switch {
	case intDigits == 0 && n.decimals > 0:
		return n, i, numberError(s, start, end, "write a 0 before the point: 0"+s[intStart:i])
	case intDigits == 0:
		if end == start {
			end = len(s)
		}
		return n, i, numberError(s, start, end, "write a plain decimal number and its unit, such as 84 mg/L, <5 mg/L or 7.42")
	case intDigits > 1 && s[intStart] == '0':
		return n, i, numberError(s, start, i, "write it without the leading zero")
	case intDigits > maxIntegerDigits || n.decimals > maxDecimals:
		return n, i, numberError(s, start, i, fmt.Sprintf("at most %d digits before and %d after the point", maxIntegerDigits, maxDecimals))
	case i < len(s) && (s[i] == '_' || s[i] == '\''):
		return n, i, numberError(s, start, end, "write the digits without separators")
	case i+1 < len(s) && (s[i] == 'e' || s[i] == 'E') && (isDigit(s[i+1]) || i+2 < len(s) && (s[i+1] == '-' || s[i+1] == '+') && isDigit(s[i+2])):
		return n, i, numberError(s, start, end, "write the number without an exponent")
	case i < len(s) && (s[i] == 'x' || s[i] == 'X') && s[intStart] == '0':
		return n, i, numberError(s, start, end, "write a decimal number")
	case i < len(s) && s[i] == '.':
		return n, i, numberError(s, start, end, "one decimal point only")
	}
	n.value = float64(mantissa) / pow10[n.decimals]
	if neg {
		n.value = -n.value
	}
	n.digits = uint8(significant(s[intStart:i]))
	return n, i, nil
}

var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

func isNumberTail(c byte) bool {
	return isDigit(c) || c == '.' || c == ',' || c == '_' || c == '\'' || c == '+' || c == '-' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z'
}

func skipBlank(s string, i int) int {
	for i < len(s) && (s[i] == ' ' || s[i] == '\t') {
		i++
	}
	return i
}

func cutPlusMinus(s string) (after string, found bool) {
	if after, found = strings.CutPrefix(s, "±"); found {
		return after, true
	}
	return strings.CutPrefix(s, "+/-")
}

func significant(digits string) int {
	n, seen := 0, false
	for i := 0; i < len(digits); i++ {
		if !isDigit(digits[i]) {
			continue
		}
		if digits[i] != '0' {
			seen = true
		}
		if seen {
			n++
		}
	}
	return max(n, 1)
}

func numberError(s string, start, end int, help string) error {
	text := clipped(s[start:end])
	msg := fmt.Sprintf("%q is not a number as a meter shows it", text)
	if strings.TrimSpace(text) == "" {
		msg = "there is no number"
	}
	return &QuantityError{Fault: FaultNumber, Start: start, End: end, Message: msg, Help: help}
}

// clipped keeps a message short however long the text is.
func clipped(s string) string {
	if len(s) <= 40 {
		return s
	}
	return strings.ToValidUTF8(s[:40], "") + "…"
}

// decimalComma reports a comma between digits. It can be fixed where it can
// only be a decimal comma: one comma, and not three digits after it.
func decimalComma(s string, start, comma int) error {
	end := comma + 1
	for end < len(s) && (isDigit(s[end]) || s[end] == ',' || s[end] == '.') {
		end++
	}
	e := &QuantityError{Fault: FaultDecimalComma, Start: start, End: end, Message: fmt.Sprintf("%q has a comma in a number", clipped(s[start:end]))}
	frac := s[comma+1 : end]
	if strings.ContainsAny(frac, ",.") || len(frac) > maxDecimals || len(frac) == 3 && comma-start <= 3 && s[start] != '0' {
		e.Help = "write the number without a thousands separator and with a decimal point"
		return e
	}
	mended := s[start:comma] + "." + frac
	e.Help = "write " + mended
	e.Fix = s[:start] + mended + s[end:]
	return e
}

// String writes the quantity in the one written form. The digits are those
// that were typed.
func (q Quantity) String() string {
	var b strings.Builder
	b.WriteString(q.Bound.String())
	b.WriteString(strconv.FormatFloat(q.Value, 'f', int(q.Decimals), 64))
	if q.Expanded > 0 {
		b.WriteString(" ± ")
		b.WriteString(strconv.FormatFloat(q.Expanded, 'f', -1, 64))
	}
	if !q.Unit.IsNone() {
		b.WriteByte(' ')
		b.WriteString(q.Unit.String())
	}
	return b.String()
}

// In converts a quantity of a family that needs no analyte (mass, volume,
// duration, length, temperature, conductivity, fraction) to another unit of
// the same family.
func (q Quantity) In(u Unit) (float64, error) {
	if q.Unit.Family() != u.Family() || q.Unit.basis != u.basis {
		return math.NaN(), fmt.Errorf("%s (%s) is not a %s", q, q.Unit.Family(), u.Family())
	}
	return u.fromBase(q.Unit.base(q.Value)), nil
}

// Round formats v with a number of significant digits, trailing zeros kept and
// no exponent.
func Round(v float64, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	if math.Abs(v) < 1e-100 {
		return "0"
	}
	decimals := digits - 1 - int(math.Floor(math.Log10(math.Abs(v))))
	if rounded := roundTo(v, decimals); rounded != 0 {
		decimals = digits - 1 - int(math.Floor(math.Log10(math.Abs(rounded))+1e-12))
	}
	return strconv.FormatFloat(roundTo(v, decimals), 'f', max(decimals, 0), 64)
}

func roundTo(v float64, decimals int) float64 {
	if decimals > 300 || decimals < -300 { // 10^decimals is beyond a float64
		return v
	}
	p := math.Pow(10, float64(decimals))
	return math.Round(v*p) / p
}

// Spread formats a value and its 95 % half-width: the half-width with two
// significant digits where it begins with 1 or 2 or lies between 10 and 100,
// else with one, and the value to the same decimal (GUM 7.2.6: uncertainties are
// given with at most two significant digits and values rounded to match).
func Spread(v, expanded float64) (value, halfWidth string) {
	if !(expanded > 0) || math.IsInf(expanded, 0) {
		return Round(v, 3), ""
	}
	exponent := math.Floor(math.Log10(expanded))
	digits := 1
	if expanded/math.Pow(10, exponent) < 2.5 || exponent == 1 {
		digits = 2
	}
	decimals := digits - 1 - int(exponent)
	shown := max(decimals, 0)
	return strconv.FormatFloat(unsigned(roundTo(v, decimals)), 'f', shown, 64), strconv.FormatFloat(roundTo(expanded, decimals), 'f', shown, 64)
}

// unsigned turns a negative zero, which rounding makes of -0.4, into zero.
func unsigned(v float64) float64 {
	if v == 0 {
		return 0
	}
	return v
}
