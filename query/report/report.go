// Package report holds the answers of wj as typed values: the summary for an owner, one record, a review, statistics, a chart, a
// procedure. A report is worked out once and drawn many times: Document gives the screen, the Markdown and the page; encoding/json
// gives the machine's form, whose schema is in docs/schema and is checked by a test.
//
//	s, err := report.NewSummary(j, owner, report.SummaryRequest{From: from, To: to, Now: now, Changes: changes})
//	if err != nil {
//		return err // journal.HintOf(err) says what to do
//	}
//	fmt.Print(out.Document(s.Document()))
//
// A report reads no clock, no network and no Git: what it needs of those is given to it.
//
// To add one: a struct with json tags, a function that fills it from the journal, and a method Document that lays it out:
// title, answer first, worst first, the next command last. Then register it in schema_test.go.
package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/render"
	"wj/water"
)

// Number is a number in JSON, with six significant digits: more than any measurement carries, and the same on every machine. What
// is no number, or infinite, is null.
type Number float64

// MarshalJSON implements json.Marshaler.
func (n Number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	if v == 0 {
		return []byte("0"), nil
	}
	v, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return strconv.AppendFloat(nil, v, 'f', -1, 64), err
}

// number is v, or nothing where it is none.
func number(v float64) *Number {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	n := Number(v)
	return &n
}

// Figure is a number with the text that is printed of it. JSON has the number alone, null where there is none.
type Figure struct {
	Value float64 // NaN: none
	Text  string
}

// figure is a printed number with its unit: JSON has what is printed, a bound that was rounded down too.
func figure(text, unit string) Figure {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		v = math.NaN()
	}
	return Figure{v, strings.TrimSpace(text + " " + unit)}
}

func (f Figure) String() string { return f.Text }

// MarshalJSON implements json.Marshaler.
func (f Figure) MarshalJSON() ([]byte, error) {
	if f.Text == "" {
		return []byte("null"), nil
	}
	return Number(f.Value).MarshalJSON()
}

// Moment is a time in JSON, in the form in which records have it; the zero time is null.
type Moment struct{ time.Time }

// MarshalJSON implements json.Marshaler.
func (m Moment) MarshalJSON() ([]byte, error) {
	if m.IsZero() {
		return []byte("null"), nil
	}
	return []byte(strconv.Quote(journal.FormatTime(m.Time))), nil
}

// Day is a date in JSON; the zero day is null.
type Day struct{ time.Time }

// MarshalJSON implements json.Marshaler.
func (d Day) MarshalJSON() ([]byte, error) {
	if d.IsZero() {
		return []byte("null"), nil
	}
	return []byte(strconv.Quote(journal.FormatDate(d.Time))), nil
}

// Value is a result in JSON: a number with its unit and standard uncertainty, or a bound ("<" or ">") and where it is. A program
// that compares value never meets a bound.
type Value struct {
	Value *Number `json:"value"`
	Bound string  `json:"bound,omitempty"`
	Limit *Number `json:"limit,omitempty"`
	Unit  string  `json:"unit"`
	U     *Number `json:"u"`

	typed string // the number of a bound as it was typed, in the same unit
}

// valueOf makes a Value of a number with its standard uncertainty in a unit.
func valueOf(v, u float64, bound water.Bound, unit string) Value {
	if bound != water.Exact {
		return Value{Bound: bound.String(), Limit: number(v), Unit: unit}
	}
	return Value{Value: number(v), Unit: unit, U: number(u)}
}

// Figure writes the number, rounded to its uncertainty, and the 95 % half-width ("" where none is known): "318", "35". A bound is
// written as it was typed: "<0.02".
func (v Value) Figure() (value, half string) {
	switch {
	case v.Bound != "" && v.typed != "":
		return v.Bound + v.typed, ""
	case v.Bound != "" && v.Limit != nil:
		return v.Bound + trimmed(water.Round(float64(*v.Limit), 2)), ""
	case v.Value == nil:
		return "", ""
	case v.U == nil || *v.U <= 0:
		return fewDigits(float64(*v.Value)), ""
	}
	return water.Spread(float64(*v.Value), 2*float64(*v.U))
}

// String writes the value with uncertainty and unit, on one line: "318 ± 35 mg/L".
func (v Value) String() string {
	value, half := v.Figure()
	if half != "" {
		value += " ± " + half
	}
	if v.Unit != "" {
		value += " " + unitText(v.Unit)
	}
	return value
}

// InUnit turns a result in an analyte's standard unit into the one that an owner likes to read.
func InUnit(j *journal.Journal, owner string, id water.ID, bound water.Bound, v, u float64) Value {
	info := id.Info()
	want := j.Preferred(owner, id)
	x, err := info.Convert(v, info.Unit, want)
	if err != nil {
		x, want = v, info.Unit
	}
	high, err := info.Convert(v+u, info.Unit, want)
	if err != nil {
		high = v + u
	}
	return valueOf(x, math.Abs(high-x), bound, want.String())
}

// unitText writes a unit as people do: µS/cm, °C, mg/L CaCO₃.
func unitText(unit string) string { return render.Unit(unit) }

// title names a value in a table: "residual alkalinity", "pH".
func title(id water.ID) string { return strings.ReplaceAll(id.String(), "_", " ") }

// fewDigits writes a number with at most four digits that mean something.
func fewDigits(v float64) string {
	return trimmed(water.Round(v, 4))
}

// trimmed is a number without zeros at the end of its fraction.
func trimmed(text string) string {
	if strings.Contains(text, ".") {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// like writes a number with as many decimals as another text has.
func like(v float64, text string) string {
	_, fraction, _ := strings.Cut(text, ".")
	if v == 0 {
		v = 0 // no negative zero
	}
	return strconv.FormatFloat(v, 'f', len(fraction), 64)
}

// dayText writes a date as people do, with the year where it is not now's: "15 Sep", "22 Oct 2025".
func dayText(t, now time.Time) string {
	if t.IsZero() {
		return ""
	}
	if t.Year() == now.Year() {
		return t.Format("2 Jan")
	}
	return t.Format("2 Jan 2006")
}

func longDay(t time.Time) string { return t.Format("2 January 2006") }

// ageText is how old something is in days: "10 d", "today".
func ageText(d time.Duration) string {
	if days := int(math.Round(d.Hours() / 24)); days != 0 {
		return fmt.Sprintf("%d d", days)
	}
	return "today"
}

func names(ids []water.ID) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id.String()
	}
	return strings.Join(out, ", ")
}

// sentence begins a text with a capital letter and ends it with a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	s = journal.Capital(s)
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
