package journal

import (
	"regexp"
	"strings"
	"testing"
	"time"
)

// FuzzParseTime holds what is read as a time, a day or a month against Go's own
// reader of RFC 3339: the same moment, and nothing that is no such time.
func FuzzParseTime(f *testing.F) {
	for _, s := range []string{"2026-03-04T08:15+01:00", "2026-03-04T08:15:59Z", "2026-03-04T08:15:00.125-03:30", "2026-03-04", "2026-11", "2024-02-29T23:59+15:45", "2026-03-04t08:15Z",
		"04.03.2026 08:15", "2026-02-29", "0000-01-01T00:00Z", "2026-03-04T24:00Z", "2026-03-04T08:15+0100", "2026-13", "2026-03-04T08:15:001Z", "2026-03-04T08:15:00.5.5Z", "", "२०२६-03-04"} {
		f.Add(s)
	}
	minutes := regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d(?:Z|[+-]\d\d:\d\d)$`)
	seconds := regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-](?:0\d|1[0-5]):(?:00|15|30|45))$`)
	f.Fuzz(func(t *testing.T, s string) {
		full := s
		if minutes.MatchString(s) {
			full = s[:16] + ":00" + s[16:] // the seconds may be left out
		}
		want, wantErr := time.Parse(time.RFC3339, full)
		got, err := ParseTime(s)
		switch {
		case err == nil && (wantErr != nil || !got.Equal(want.Truncate(time.Second))):
			t.Errorf("%q is read as %v; RFC 3339: %v, %v", s, got, want, wantErr)
		case err != nil && wantErr == nil && seconds.MatchString(full):
			t.Errorf("%q is refused: %v", s, err)
		case err == nil:
			if back, err := ParseTime(FormatTime(got)); err != nil || !back.Equal(got.Truncate(time.Minute)) {
				t.Errorf("%q is written %q and read as %v, %v", s, FormatTime(got), back, err)
			}
		case !strings.Contains(err.Error(), ";"):
			t.Errorf("%q: %v", s, err)
		}
		want, wantErr = time.Parse(time.DateOnly, s)
		if got, err := ParseDate(s); (err == nil) != (wantErr == nil) || !got.Equal(want) {
			t.Errorf("day %q: %v, %v; Go reads %v, %v", s, got, err, want, wantErr)
		}
		if month, monthErr := time.Parse("2006-01", s); monthErr == nil {
			want, wantErr = month.AddDate(0, 1, -1), nil
		}
		if got, err := ParseMonth(s); (err == nil) != (wantErr == nil) || !got.Equal(want) {
			t.Errorf("month %q: %v, %v; Go reads %v, %v", s, got, err, want, wantErr)
		}
	})
}
