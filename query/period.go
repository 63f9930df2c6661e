package query

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"wj/journal"
)

// period is a span of time in Unix seconds, both ends inside; a moment is a period of one second.
type period struct{ low, high int64 }

// ParsePeriod reads a span of time as people write it: 2026, 2026-Q2, 2026-03, 2026-03-04, a moment
// (2026-03-04T08:15+01:00), today, or "last 90 d" counted back from now. The span is from start up to, but not
// including, end. Days begin and end at midnight in the zone.
func ParsePeriod(text string, zone *time.Location, now time.Time) (start, end time.Time, err error) {
	s := strings.TrimSpace(text)
	bad := fmt.Errorf("%q is not a date or a span of time: write 2026, 2026-Q2, 2026-03, 2026-03-04 or last 90 d", shorten(s))
	if zone == nil {
		zone = time.UTC
	}
	if s == "today" {
		y, m, d := now.In(zone).Date()
		return time.Date(y, m, d, 0, 0, 0, 0, zone), time.Date(y, m, d+1, 0, 0, 0, 0, zone), nil
	}
	if back, ok := strings.CutPrefix(s, "last "); ok {
		return parseBack(back, now, bad)
	}
	if len(s) > 10 {
		at, timeError := journal.ParseTime(s)
		if timeError != nil {
			return start, end, timeError
		}
		return at, at.Add(time.Second), nil
	}
	if len(s) < 4 {
		return start, end, bad
	}
	year, yearError := strconv.ParseUint(s[:4], 10, 16)
	if yearError != nil || year == 0 {
		return start, end, bad
	}
	months, first := 12, 1
	switch {
	case len(s) == 4:
	case len(s) == 7 && (s[4:6] == "-Q" || s[4:6] == "-q") && '1' <= s[6] && s[6] <= '4':
		months, first = 3, 3*int(s[6]-'1')+1
	case len(s) == 7:
		day, dateError := journal.ParseDate(s + "-01")
		if dateError != nil {
			return start, end, bad
		}
		months, first = 1, int(day.Month())
	case len(s) == 10:
		day, dateError := journal.ParseDate(s)
		if dateError != nil {
			return start, end, dateError
		}
		y, m, d := day.Date()
		return time.Date(y, m, d, 0, 0, 0, 0, zone), time.Date(y, m, d+1, 0, 0, 0, 0, zone), nil
	default:
		return start, end, bad
	}
	return time.Date(int(year), time.Month(first), 1, 0, 0, 0, 0, zone), time.Date(int(year), time.Month(first+months), 1, 0, 0, 0, 0, zone), nil
}

func parseBack(back string, now time.Time, bad error) (start, end time.Time, err error) {
	count, unit, _ := strings.Cut(strings.TrimSpace(back), " ")
	n, numberError := strconv.ParseUint(count, 10, 16)
	if numberError != nil {
		return start, end, bad
	}
	switch strings.TrimSuffix(strings.TrimSpace(unit), "s") {
	case "d", "day":
		start = now.AddDate(0, 0, -int(n))
	case "wk", "week":
		start = now.AddDate(0, 0, -7*int(n))
	case "mo", "month":
		start = now.AddDate(0, -int(n), 0)
	case "year":
		start = now.AddDate(-int(n), 0, 0)
	default:
		return start, end, bad
	}
	return start, now.Add(time.Second), nil
}

// resolve is the period of a text that the compiler has accepted.
func (r *row) resolve(text string) period {
	p, ok := r.periods[text]
	if !ok {
		start, end, _ := ParsePeriod(text, r.zone, r.now)
		p = period{start.Unix(), end.Unix() - 1}
		r.periods[text] = p
	}
	return p
}

// order is the sign that a comparison tests: before, inside or after.
func (p period) order(q period) int {
	switch {
	case p.high < q.low:
		return -1
	case p.low > q.high:
		return 1
	}
	return 0
}
