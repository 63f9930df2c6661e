package journal

import (
	"fmt"
	"strings"
	"time"
)

// ParseClock reads a time as people say it: 08:15 of the day of on, or 2026-03-04 08:15, both
// by the clock in on's zone; or a whole time with its offset, as files have it. An hour that
// the change of summer time leaves out, or has twice, is asked about.
func ParseClock(s string, on time.Time) (time.Time, error) {
	s = strings.TrimSpace(s)
	const as = "write it as 08:15, or with its day as 2026-03-04T08:15"
	day, text := on, s
	if len(s) > 10 && s[4] == '-' {
		d, err := ParseDate(s[:10])
		if err != nil {
			return time.Time{}, err
		}
		day, text = d, strings.TrimLeft(s[10:], " T")
	} else if _, err := ParseDate(s); err == nil {
		return time.Time{}, &TimeError{fmt.Sprintf("%q is a day without a time", s), "write the time too: " + s + "T08:15"}
	}
	clock, err := time.Parse("15:04", text)
	if err != nil {
		t, err := ParseTime(s)
		if err != nil && len(s) <= 10 {
			err = &TimeError{fmt.Sprintf("%q is not a time", s), as}
		}
		return t, err
	}
	t := time.Date(day.Year(), day.Month(), day.Day(), clock.Hour(), clock.Minute(), 0, 0, on.Location())
	const layout = "2006-01-02T15:04"
	if t.Hour() != clock.Hour() || t.Minute() != clock.Minute() {
		return t, &TimeError{t.Format("2006-01-02") + " has no " + text + ": the clocks went forward", "look at the clock again"}
	}
	for _, shift := range []time.Duration{-time.Hour, time.Hour} {
		if other := t.Add(shift); other.Format(layout) == t.Format(layout) {
			first, second := t, other
			if shift < 0 {
				first, second = other, t
			}
			return t, &TimeError{t.Format(layout) + " was twice: the clocks went back", "write which: " + FormatTime(first) + " or " + FormatTime(second)}
		}
	}
	return t, nil
}
