package journal

import (
	"testing"
	"time"
)

func TestParseClock(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		t.Skip(err)
	}
	now := time.Date(2026, 9, 22, 9, 30, 0, 0, zone)
	for text, want := range map[string]string{
		"08:15":                     "2026-09-22T08:15+03:00",
		"8:15":                      "2026-09-22T08:15+03:00",
		"2026-01-04 08:15":          "2026-01-04T08:15+02:00",
		"2026-01-04T08:15":          "2026-01-04T08:15+02:00",
		"2026-01-04T08:15+01:00":    "2026-01-04T08:15+01:00",
		"2026-01-04T08:15:30+01:00": "2026-01-04T08:15:30+01:00",
		"2026-10-25T03:30+02:00":    "2026-10-25T03:30+02:00",
	} {
		got, err := ParseClock(text, now)
		want, err2 := ParseTime(want)
		if err != nil || err2 != nil || !got.Equal(want) || FormatTime(got) != FormatTime(want) {
			t.Errorf("%s is %v, %v; want %v", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"2026-03-29T03:30": "2026-03-29 has no 03:30: the clocks went forward; look at the clock again",
		"2026-10-25T03:30": "2026-10-25T03:30 was twice: the clocks went back; write which: 2026-10-25T03:30+03:00 or 2026-10-25T03:30+02:00",
		"2026-09-22":       `"2026-09-22" is a day without a time; write the time too: 2026-09-22T08:15`,
		"yesterday":        `"yesterday" is not a time; write it as 08:15, or with its day as 2026-03-04T08:15`,
		"25:00":            `"25:00" is not a time; write it as 08:15, or with its day as 2026-03-04T08:15`,
	} {
		if _, err := ParseClock(text, now); err == nil || err.Error() != want {
			t.Errorf("%s: %v", text, err)
		}
	}
}
