package journal

import (
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"
)

// TimeError says what is wrong with a written date or time, and what to write.
type TimeError struct{ Message, Help string }

func (e *TimeError) Error() string { return e.Message + "; " + e.Help }

// zones holds one fixed zone for each quarter of an hour from -16:00 to +16:00,
// made once, so that reading a time allocates nothing.
var zones = sync.OnceValue(func() []*time.Location {
	table := make([]*time.Location, 129)
	for i := range table {
		table[i] = time.FixedZone("", (i-64)*15*60)
	}
	return table
})

const asTime = "write it as 2026-03-04T08:15+01:00"

// ParseTime reads a time with its offset, as RFC 3339 writes it; the seconds
// may be left out: 2026-03-04T08:15+01:00.
func ParseTime(s string) (time.Time, error) {
	y, m, d, rest, err := parseDay(s)
	if err != nil {
		return time.Time{}, err
	}
	if rest == "" {
		return time.Time{}, &TimeError{fmt.Sprintf("%q is a day without a time", strings.Clone(s)), "write the time and the offset too, such as " + s + "T08:15+01:00"}
	}
	bad := func(help string) (time.Time, error) {
		return time.Time{}, &TimeError{fmt.Sprintf("%q is not a time", strings.Clone(s)), help}
	}
	if len(rest) < 6 || rest[0] != 'T' && rest[0] != 't' && rest[0] != ' ' || rest[3] != ':' {
		return bad(asTime)
	}
	if rest[0] != 'T' {
		return bad("write a T between day and time: " + s[:10] + "T" + rest[1:])
	}
	hour, ok1 := digits(rest[1:3])
	minute, ok2 := digits(rest[4:6])
	second, ok3 := 0, true
	rest = rest[6:]
	if len(rest) >= 3 && rest[0] == ':' {
		second, ok3 = digits(rest[1:3])
		rest = rest[3:]
		if len(rest) > 1 && rest[0] == '.' && isDigit(rest[1]) {
			for rest = rest[1:]; rest != "" && isDigit(rest[0]); {
				rest = rest[1:] // fractions of a second are dropped
			}
		}
	}
	if !ok1 || !ok2 || !ok3 || hour > 23 || minute > 59 || second > 59 {
		return bad(asTime)
	}
	var loc *time.Location
	switch {
	case rest == "":
		return time.Time{}, &TimeError{fmt.Sprintf("%q has no offset from UTC", strings.Clone(s)), "add the offset that the clock had, such as " + s + "+01:00"}
	case rest == "Z":
		loc = time.UTC
	case len(rest) == 6 && (rest[0] == '+' || rest[0] == '-') && rest[3] == ':':
		h, ok1 := digits(rest[1:3])
		q, ok2 := digits(rest[4:6])
		if !ok1 || !ok2 || h > 15 || q > 59 || q%15 != 0 {
			return bad("write the offset as +01:00")
		}
		quarters := h*4 + q/15
		if rest[0] == '-' {
			quarters = -quarters
		}
		loc = zones()[quarters+64]
	default:
		return bad("write the offset as +01:00")
	}
	return time.Date(y, time.Month(m), d, hour, minute, second, 0, loc), nil
}

// ParseDate reads a day: 2026-03-04. The result is midnight UTC and stands for
// the day alone.
func ParseDate(s string) (time.Time, error) {
	y, m, d, rest, err := parseDay(s)
	if err != nil {
		return time.Time{}, err
	}
	if rest != "" {
		return time.Time{}, &TimeError{fmt.Sprintf("%q is more than a day", s), "write the day alone: " + s[:10]}
	}
	return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC), nil
}

// ParseMonth reads the last day of something: a day, or a month that stands
// for its last day.
func ParseMonth(s string) (time.Time, error) {
	if len(s) == 7 && s[4] == '-' {
		t, err := ParseDate(s + "-01")
		if err != nil {
			return time.Time{}, &TimeError{fmt.Sprintf("%q is not a month", s), "write it as 2026-11, or the day as 2026-11-30"}
		}
		return t.AddDate(0, 1, -1), nil
	}
	return ParseDate(s)
}

func parseDay(s string) (y, m, d int, rest string, err error) {
	if len(s) < 10 || s[4] != '-' || s[7] != '-' {
		e := &TimeError{fmt.Sprintf("%q is not a date", strings.Clone(s)), "write year, month and day as 2026-03-04"}
		if len(s) > 40 {
			e.Message = fmt.Sprintf("%q… is not a date", strings.Clone(s[:40]))
		}
		if len(s) >= 8 && isDigit(s[0]) && (s[2] == '/' || s[1] == '/' || s[2] == '.' || s[1] == '.') {
			e.Help = "day and month are ambiguous: write year, month and day as 2026-03-04"
		}
		return 0, 0, 0, "", e
	}
	y, ok1 := digits(s[:4])
	m, ok2 := digits(s[5:7])
	d, ok3 := digits(s[8:10])
	if !ok1 || !ok2 || !ok3 {
		return 0, 0, 0, "", &TimeError{fmt.Sprintf("%q is not a date", strings.Clone(s)), "write year, month and day as 2026-03-04"}
	}
	if m < 1 || m > 12 || d < 1 || d > daysIn(y, m) {
		return 0, 0, 0, "", &TimeError{"there is no day " + s[:10], "check day and month"}
	}
	return y, m, d, s[10:], nil
}

func daysIn(y, m int) int {
	switch m {
	case 2:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

func digits(s string) (int, bool) {
	n := 0
	for i := 0; i < len(s); i++ {
		if !isDigit(s[i]) {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, true
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// FormatTime writes a time in the form that ParseTime reads, to the minute.
func FormatTime(t time.Time) string { return t.Format("2006-01-02T15:04-07:00") }

// FormatDate writes a day.
func FormatDate(t time.Time) string { return t.Format("2006-01-02") }

// parsePlain reads a plain decimal number such as a dilution or a coordinate.
func parsePlain(s string) (float64, bool) {
	if s == "" || len(s) > 24 {
		return 0, false
	}
	for i := 0; i < len(s); i++ {
		if !isDigit(s[i]) && s[i] != '.' && !(i == 0 && s[i] == '-') {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}
