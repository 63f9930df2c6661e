package judge_test

import (
	"fmt"
	"testing"

	"wj/journal/journaltest"
	"wj/journal/judge"
)

// TestChecksFail: by three standard uncertainties at once, by two of them in two of three on one
// side, in each of two portions, and not by one of twenty; accuracy 5 mg/L + 8 %: ± 13 at 100.
func TestChecksFail(t *testing.T) {
	for _, c := range []struct {
		values []string
		failed string // of each check: x, ., or - where a repeat cleared it
	}{
		{[]string{"100", "112", "88"}, "..."},
		{[]string{"85"}, "."},
		{[]string{"80"}, "x"},
		{[]string{"121"}, "x"},
		{[]string{"86", "86"}, ".x"},
		{[]string{"86", "100", "86"}, "..x"},
		{[]string{"86", "100", "100", "86"}, "...."},
		{[]string{"86", "115"}, ".."},
		{[]string{"86", "86", "+100"}, ".-."}, // repeated within the hour
		{[]string{"86", "86", "+86"}, ".xx"},
		{[]string{"80", "+100", "86"}, "-.."},
		{[]string{"[86 mg/L, 85 mg/L]"}, "x"},
		{[]string{"[85 mg/L, 88 mg/L]"}, "."},
	} {
		files := journaltest.Blend()
		day, hour := 7, 8
		for i, v := range c.values {
			if day, hour = day+3, 8; v[0] == '+' {
				v, day, hour = v[1:], day-3, 9
			}
			if v[0] != '[' {
				v += " mg/L"
			}
			files[fmt.Sprintf("sessions/2026-05-%02d-standard-%d.md", day, i+1)] = fmt.Sprintf("---\nsite: tank\nsampled: 2026-05-%02dT%02d:00+03:00\nby: ines\ninstrument: meter-1\nsample: check-standard\nstandard: {sulfate: 100 mg/L}\nreadings:\n  sulfate: {value: %s, lot: SU-1}\n---\n", day, hour, v)
		}
		j := journaltest.Load(t, files)
		got := ""
		checks := judge.NewChecks(j)
		for _, s := range j.Sessions.List {
			if !judge.IsCheck(s) {
				continue
			}
			check, ok := checks.Of(s, &s.Readings[0])
			switch {
			case !ok:
				got += "-"
			case check.Passed:
				got += "."
			default:
				got += "x"
			}
		}
		if got != c.failed {
			t.Errorf("%v: %s, want %s", c.values, got, c.failed)
		}
	}
}
