package query

import (
	"strings"
	"testing"
	"time"
)

// FuzzParsePeriod: a span that is read is not empty, begins at a midnight of the
// zone unless it is a moment or counted back, and is the same span whatever
// blanks stand around it.
func FuzzParsePeriod(f *testing.F) {
	for _, s := range []string{"2026", "2026-Q2", "2026-q4", "2026-03", "2026-03-04", "2026-03-04T08:15+01:00", "today", "last 90 d", "last 2 weeks", "last 65535 years", " last  1 mo ", "last 0 d", "0001", "9999-12-31", "+202", "2026-Q5", "२०२६"} {
		f.Add(s)
	}
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, s string) {
		start, end, err := ParsePeriod(s, zone, clock)
		if err != nil {
			if err.Error() == "" {
				t.Errorf("%q: no message", s)
			}
			return
		}
		if !start.Before(end) {
			t.Errorf("%q: %v to %v", s, start, end)
		}
		text := strings.TrimSpace(s)
		if !strings.ContainsAny(text, " T") && (start.In(zone).Format("15:04:05") != "00:00:00" || end.In(zone).Format("15:04:05") != "00:00:00") {
			t.Errorf("%q: %v to %v", s, start, end)
		}
		if a, b, err := ParsePeriod("\t"+text+" ", zone, clock); err != nil || !a.Equal(start) || !b.Equal(end) {
			t.Errorf("%q: %v to %v, with blanks %v to %v, %v", s, start, end, a, b, err)
		}
		if day, err := time.ParseInLocation(time.DateOnly, text, zone); err == nil && (!start.Equal(day) || !end.Equal(day.AddDate(0, 0, 1))) {
			t.Errorf("%q: %v to %v; Go reads the day %v", s, start, end, day)
		}
	})
}
