package exchange

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"wj/water"
)

// fault is why a cell cannot be taken: what is wrong and the next step.
type fault struct{ message, help string }

func (f *fault) Error() string { return f.message }

func faultf(help, format string, args ...any) *fault {
	return &fault{fmt.Sprintf(format, args...), help}
}

// plainNumber is what is left of a number once bound and separators are taken
// away: as spreadsheets and laboratories write it.
var plainNumber = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?$`) })

// numeral reads a number of the file as it is there and writes it as a
// journal does. The digits stay those of the file; only what the map declares
// (decimal comma, thousands, rounding) changes its spelling.
func (m *Mapping) numeral(text string) (string, *fault) {
	s := strings.ReplaceAll(text, "−", "-")
	if m.Thousands != "" {
		s = strings.ReplaceAll(s, m.Thousands, "")
	}
	if m.Decimal == ',' {
		if strings.Contains(s, ".") {
			return "", faultf("write decimal: point, or thousands: point", "%q has a point where the map says that the decimal mark is a comma", text)
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	if strings.Contains(s, ",") {
		return "", faultf("write decimal: comma or thousands: comma in the map", "%q has a comma", text)
	}
	if !plainNumber().MatchString(s) {
		return "", faultf("if it means that there is no result, put it under missing; if below the limit, under nondetect; a flag belongs in a qualifier column", "%q is not a number", text)
	}
	s = strings.TrimPrefix(s, "+")
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	if strings.ContainsAny(s, "eE") {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return "", faultf("", "%q is too large for a number", text)
		}
		s = strconv.FormatFloat(v, 'f', -1, 64)
	}
	whole, fraction, _ := strings.Cut(s, ".")
	whole = strings.TrimLeft(whole, "0")
	if whole == "" {
		whole = "0"
	}
	if len(fraction) > 6 {
		if m.Round < 0 {
			return "", faultf("write round: 4 in the map to keep four", "%q has more than six decimals", text)
		}
		v, err := strconv.ParseFloat(whole+"."+fraction, 64)
		if err != nil {
			return "", faultf("", "%q is not a number", text)
		}
		whole, fraction, _ = strings.Cut(strconv.FormatFloat(v, 'f', m.Round, 64), ".")
	}
	if fraction != "" {
		whole += "." + fraction
	}
	return sign + whole, nil
}

// cellValue is the text of one result with what is beside it.
type cellValue struct {
	analyte                                                     water.ID
	unit                                                        water.Unit
	value, qualifier, limit, lot, dilution, uncertainty, remark string
	flags                                                       map[string]string
	basis                                                       string // of a unit that the cell itself states
}

// standardFlags are qualifiers that every file means the same by.
var standardFlags = map[string]string{"": "exact", "=": "exact", "<": "below", ">": "above"}

// quantity makes the written quantity of a result; empty where there is none.
func (m *Mapping) quantity(c cellValue) (string, *fault) {
	value := c.value
	meaning, known := c.flags[c.qualifier]
	if !known {
		if meaning, known = standardFlags[c.qualifier]; !known {
			return "", faultf("say what it means: qualifier: {column: HEAD, values: {"+c.qualifier+": below}} (or exact, above, missing, refuse)", "the qualifier %q is not explained in the map", c.qualifier)
		}
	}
	switch meaning {
	case "missing":
		return "", nil
	case "refuse":
		return "", faultf("", "the map refuses the qualifier %q", c.qualifier)
	}
	nondetect := listed(m.Nondetect, value)
	if nondetect {
		value, meaning = "", "below"
	} else if listed(m.Missing, value) {
		value = ""
	}
	bound := map[string]string{"below": "<", "above": ">"}[meaning]
	switch {
	case strings.HasPrefix(value, "<") || strings.HasPrefix(value, ">"):
		if bound != "" && bound != value[:1] {
			return "", faultf("which is right?", "%q and the qualifier %q say different things", value, c.qualifier)
		}
		bound, value = value[:1], tidy(value[1:])
	case strings.HasPrefix(value, "≤"), strings.HasPrefix(value, "≥"):
		return "", faultf("a journal knows < and >; correct the file", "%q is not a plain bound", value)
	}
	if value == "" && (bound == "" || nondetect || c.limit != "") {
		if bound == "" {
			return "", nil
		}
		if value = c.limit; value == "" {
			return "", faultf("say limit: HEAD, the column of the detection limit, or put the text under missing", "%q says that the result is below a limit, and the limit is not given", firstNonEmpty(c.value, c.qualifier))
		}
		value = strings.TrimPrefix(value, "<")
	}
	// A cell may carry its own unit, which then must fit.
	unit := c.unit
	number := value
	if plain, stated := apart(value); stated != "" {
		if u, ok := unitOf(stated, c.analyte); ok {
			if u.Basis() == water.NoBasis && c.basis != "" {
				if u, ok = withBasis(u, c.basis); !ok {
					return "", faultf("write it as CaCO3, N, NO3 …", "%q is not a known basis", c.basis)
				}
			}
			if !unit.IsNone() && u != unit && !(u.Basis() == water.NoBasis && unit.With(water.NoBasis) == u) {
				return "", faultf("which is right?", "the cell says %s and the map %s", u, unit)
			}
			if unit.IsNone() {
				unit = u
			}
			number = plain
		}
	}
	digits, f := m.numeral(number)
	if f != nil {
		return "", f
	}
	if strings.HasPrefix(digits, "-") && c.analyte != water.SampleTemperature {
		if !m.NegativeBelow || bound != "" {
			return "", faultf("if the file writes results below the limit like that, say negative: below", "%s cannot be negative", c.analyte)
		}
		bound, digits = "<", digits[1:]
	}
	written := bound + digits
	if c.uncertainty != "" && bound == "" && !listed(m.Missing, c.uncertainty) {
		half, f := m.numeral(strings.TrimPrefix(c.uncertainty, "±"))
		if f != nil {
			return "", f
		}
		written += " ± " + half
	}
	if !unit.IsNone() {
		written += " " + unit.String()
	}
	q, err := water.ParseQuantity(written)
	if err == nil {
		err = c.analyte.Info().Fit(q)
	}
	if err != nil {
		help := ""
		if wrong := (*water.QuantityError)(nil); errors.As(err, &wrong) && wrong.Fault == water.FaultBasis {
			help = fmt.Sprintf("ask the laboratory, and say it in the map: {analyte: %s, unit: …} instead of %[1]s", c.analyte)
		}
		return "", faultf(help, "%s", err.Error())
	}
	return q.String(), nil
}

// longUnit is the unit of a row in the long form.
func (l *longForm) longUnit(named namedAnalyte, unitText, basisText string, id water.ID) (water.Unit, *fault) {
	if named.unit != "" {
		u, _ := water.ParseUnit(named.unit)
		return u, nil
	}
	if mapped, ok := l.unit.values[unitText]; ok {
		unitText = mapped
	}
	if unitText == "none" || unitText == "" {
		return water.Unit{}, nil
	}
	u, ok := unitOf(unitText, id)
	if !ok {
		return u, faultf("say what it means: unit: {column: HEAD, values: {"+strconv.Quote(unitText)+": mg/L}}", "%q is not a known unit", unitText)
	}
	basis := l.basisOf(named, basisText)
	if basis == "" || u.IsNone() {
		return u, nil
	}
	based, ok := withBasis(u, basis)
	if !ok {
		return u, faultf("write it as CaCO3, N, NO3 …", "%q is not a known basis", basis)
	}
	if u.Basis() != water.NoBasis && u != based {
		return u, faultf("which is right?", "the unit says %s and the basis %s", u, basis)
	}
	return based, nil
}

// basisOf is the basis that the map or a column states for a row; "" for none.
func (l *longForm) basisOf(named namedAnalyte, text string) string {
	basis := firstNonEmpty(named.basis, text)
	if mapped, ok := l.basis.values[basis]; ok {
		basis = mapped
	}
	return basis
}

func withBasis(u water.Unit, basis string) (water.Unit, bool) {
	return water.ParseUnit(u.With(water.NoBasis).String() + " as " + strings.TrimPrefix(basis, "as "))
}

// moment reads the time of a row. assumed are sentences that say what of it is the
// map's and not the file's.
func (t *timeSource) moment(l *Line) (at time.Time, assumed []string, column int, f *fault) {
	if !t.fixed.IsZero() {
		return t.fixed, []string{"The file gives no time; that of the map was taken."}, -1, nil
	}
	column = t.columns[0].n
	first := l.cell(column)
	var wall time.Time
	clock := false
	if first.Day {
		wall, clock = first.Time, first.Clock
		if len(t.columns) > 1 && !clock {
			second := l.cell(t.columns[1].n)
			switch {
			case second.Clock && !second.Day:
				wall, clock = wall.Add(time.Duration(second.Time.Hour())*time.Hour+time.Duration(second.Time.Minute())*time.Minute), true
			case second.Text != "":
				c, ok := clockTime(second.Text)
				if !ok {
					return at, nil, t.columns[1].n, faultf("write it as 08:15", "%q is not a time of day", second.Text)
				}
				wall, clock = wall.Add(c), true
			}
		}
	} else {
		var parts []string
		for _, c := range t.columns {
			if text := l.cell(c.n).Text; text != "" {
				parts = append(parts, text)
			}
		}
		text := strings.Join(parts, " ")
		if text != "" && t.year != "" {
			text = t.year + " " + text
		}
		if text == "" {
			return at, nil, column, faultf("a session needs the time at which it was sampled; leave such rows out with skip: {column: …, empty: true}", "the time is empty")
		}
		ok := false
		for _, layout := range t.layouts {
			w, err := time.Parse(layout, monthsIn(text, layout))
			if err != nil {
				continue
			}
			wall, ok = w, true
			if hasMonth, hasDay := layoutParts(layout); (!hasMonth || !hasDay) && t.day != "" {
				day, _ := time.Parse("01-02", t.day) // checked when the map was read
				month, said := day.Month(), t.day
				if hasMonth {
					month, said = w.Month(), t.day[3:]
				}
				wall = time.Date(w.Year(), month, day.Day(), w.Hour(), w.Minute(), w.Second(), 0, time.UTC)
				if wall.Month() != month {
					return at, nil, column, faultf("say another under day", "%s %d has no day %s", month, w.Year(), t.day[3:])
				}
				assumed = append(assumed, "The file gives no day; "+said+" was taken.")
			}
			clock = strings.Contains(layout, "15") || strings.Contains(layout, "03") || strings.Contains(layout, "3:")
			if strings.Contains(layout, "Z07:00") {
				return time.Date(wall.Year(), wall.Month(), wall.Day(), w.Hour(), w.Minute(), w.Second(), 0, w.Location()), assumed, column, nil
			}
			break
		}
		if !ok {
			return at, nil, column, faultf("the map says layout: "+strings.Join(t.written, ", "), "%q is not written like that", text)
		}
	}
	if !clock {
		if t.clock == "" {
			return at, nil, column, faultf(`say at: "12:00" under sampled to take one for all; it is noted in the record`, "%q has no time of day", first.Text)
		}
		c, _ := clockTime(t.clock)
		wall = wall.Add(c)
		assumed = append(assumed, "The file gives no time of day; "+t.clock+" was taken.")
	}
	at = time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, t.zone)
	if at.Hour() != wall.Hour() || at.Minute() != wall.Minute() {
		return at, nil, column, faultf("the clocks were put forward then; correct the file", "%s did not exist in %s", wall.Format("2006-01-02 15:04"), t.zone)
	}
	if y := at.Year(); y < 1900 || y > 2200 {
		return at, nil, column, faultf("check the layout", "%q gives the year %d", first.Text, y)
	}
	return at, assumed, column, nil
}

func clockTime(s string) (time.Duration, bool) {
	for _, layout := range []string{"15:04", "15:04:05", "3:04 PM", "3:04PM"} {
		if t, err := time.Parse(layout, s); err == nil {
			return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, true
		}
	}
	return 0, false
}

// listed reports whether a list of the map names a cell's text, in capitals or
// not: laboratories write ND and nd in one file.
func listed(list []string, text string) bool {
	return slices.ContainsFunc(list, func(s string) bool { return strings.EqualFold(s, text) })
}

func firstNonEmpty(texts ...string) string {
	for _, s := range texts {
		if s != "" {
			return s
		}
	}
	return ""
}
