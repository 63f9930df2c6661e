package bench

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"wj/journal"
	"wj/water"
)

// SamplingTime reads when the sample was taken: 08:15 of the day of now, the day
// and the time, or a whole time with its offset. It cannot lie after now.
func SamplingTime(text string, now time.Time) (time.Time, error) {
	t, err := journal.ParseClock(text, now)
	var wrong *journal.TimeError
	if errors.As(err, &wrong) {
		return t, errors.New(wrong.Message + ": " + wrong.Help)
	}
	if err == nil && t.After(now.Add(time.Minute)) {
		return t, fmt.Errorf("%s is ahead: it is %s now", t.Format("2006-01-02 15:04"), now.Format("15:04"))
	}
	return t, err
}

// Read reads what was typed for a test: a number as the display shows it, in
// the unit that was offered or one typed behind it; several numbers with blanks
// between are replicates; > and < alone stand for the end of the meter's range.
func Read(text string, t *Test, unit int) ([]water.Quantity, error) {
	text = strings.TrimSpace(text)
	switch {
	case text == ">" && t.High.Set:
		q := t.High.Quantity
		q.Bound = water.Above
		return []water.Quantity{q}, nil
	case text == "<" && t.Low.Set:
		q := t.Low.Quantity
		q.Bound = water.Below
		return []water.Quantity{q}, nil
	case text == ">" || text == "<":
		return nil, errors.New("the meter's record does not say where its range ends: type " + text + " and the number")
	}
	parts := []string{text}
	if fields := strings.Fields(text); len(fields) > 1 && !strings.ContainsFunc(text, unicode.IsLetter) && !strings.ContainsAny(text, "±°%/") {
		parts = fields
	}
	var out []water.Quantity
	for _, p := range parts {
		q, err := water.ParseQuantity(p)
		if err != nil {
			return nil, plainError(err)
		}
		info := t.Analyte.Info()
		if q.Unit.IsNone() && info.FitUnit(water.None) != nil {
			if len(t.Units) == 0 {
				return nil, fmt.Errorf("the meter's record names no unit: type it behind the number, such as %s %s", p, info.Unit)
			}
			q.Unit = t.Units[unit%len(t.Units)]
		}
		if err := info.Fit(q); err != nil {
			return nil, plainError(err)
		}
		out = append(out, q)
	}
	return out, nil
}

// plainError writes a mistake with its next step on one line.
func plainError(err error) error {
	var q *water.QuantityError
	if errors.As(err, &q) && q.Help != "" {
		return errors.New(q.Message + ": " + q.Help)
	}
	return err
}

func shortNumber(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
