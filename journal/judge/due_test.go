package judge

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wj/journal"
)

// TestDue: what falls due when. Each case failed in one of the copies that
// status, due, calendar and linter had.
func TestDue(t *testing.T) {
	site := "name: A\nowner: quillmarsh\nstage: intake\nsince: 2026-01-01\n"
	session := func(day, more string) string {
		return "site: a\nsampled: " + day + "T08:00+02:00\nby: ines\nsource: lab\nreadings:\n  sulfate: 80 mg/L\n" + more
	}
	change := map[string]string{
		"targets/ale.md":  "name: Ale\nranges:\n  sulfate: {max: 300 mg/L}\n",
		"changes/2026.md": "for: ale\nauthor: ines\nproposed: 2026-02-01\nbasis:\n  - {session: 2026-02-01-a, share: 100 %}\nvolume: 100 L\n",
	}
	for _, c := range []struct {
		name, schedule string
		sessions       map[string]string
		want           string // On and the analytes due by 20 March; "" for nothing planned
	}{
		{"one interval after the last", "{every: 30 d, analytes: [sulfate]}", map[string]string{"2026-02-01-a": session("2026-02-01", "")}, "2026-03-03 sulfate"},
		{"a verification is the site's water", "{every: 30 d, analytes: [sulfate]}", map[string]string{"2026-02-01-a": session("2026-02-01", ""), "2026-03-01-a": session("2026-03-01", "sample: verification\nchange: 2026\n")}, "2026-03-31 "},
		{"so is a duplicate", "{every: 30 d, analytes: [sulfate]}", map[string]string{"2026-02-01-a": session("2026-02-01", ""), "2026-02-02-a": session("2026-02-02", "sample: duplicate\nduplicate_of: 2026-02-01-a\n")}, "2026-03-04 sulfate"},
		{"a check standard is not", "{every: 30 d, analytes: [sulfate]}", map[string]string{"2026-02-01-a": session("2026-02-01", ""), "2026-03-01-a": session("2026-03-01", "sample: check-standard\nstandard: {sulfate: 80 mg/L}\n")}, "2026-03-03 sulfate"},
		{"nor what is void", "{every: 30 d, analytes: [sulfate]}", map[string]string{"2026-02-01-a": session("2026-02-01", ""), "2026-03-01-a": session("2026-03-01", "void: {by: ines, on: 2026-03-02T09:00+02:00, reason: x}\n")}, "2026-03-03 sulfate"},
		{"nor what is still to come", "{every: 30 d, analytes: [sulfate]}", map[string]string{"2026-02-01-a": session("2026-02-01", ""), "2026-05-01-a": session("2026-05-01", "")}, "2026-03-03 sulfate"},
		{"never tested: from the first day of the schedule", "{every: 30 d, analytes: [sulfate], since: 2026-03-10}", nil, "2026-03-10 sulfate"},
		{"never tested: from the first day of the site", "{every: 30 d, analytes: [sulfate]}", nil, "2026-01-01 sulfate"},
		{"a schedule asks for nothing before it holds", "{every: 7 d, analytes: [sulfate], since: 2026-03-10}", map[string]string{"2026-02-01-a": session("2026-02-01", "")}, "2026-03-10 sulfate"},
		{"only what was left out is due", "{every: 30 d, analytes: [sulfate, chloride]}", map[string]string{"2026-02-01-a": session("2026-02-01", "  chloride: 20 mg/L\n"), "2026-03-01-a": session("2026-03-01", "")}, "2026-03-03 chloride"},
		{"calcium gives its hardness, and with total hardness magnesium", "{every: 30 d, analytes: [calcium_hardness, magnesium]}", map[string]string{"2026-03-01-a": session("2026-03-01", "  calcium: 40 mg/L\n  total_hardness: 200 mg/L CaCO3\n")}, "2026-03-31 "},
		{"over the change of the clocks by the calendar", "{every: 30 d, analytes: [sulfate]}", map[string]string{"2026-02-28-a": strings.Replace(session("2026-02-28", ""), "T08:00", "T23:30", 1)}, "2026-03-30 "},
		{"a schedule that has ended", "{every: 30 d, analytes: [sulfate], until: 2026-03-01}", nil, ""},
	} {
		list := map[string]string{"sites/a.md": site + "schedule:\n  - " + c.schedule + "\n"}
		for name, text := range change {
			if _, ok := c.sessions["2026-02-01-a"]; ok {
				list[name] = text
			}
		}
		for id, text := range c.sessions {
			list["sessions/"+id+".md"] = text
		}
		got := ""
		for _, d := range Due(files(t, list), at("2026-03-20T12:00+02:00")) {
			var names []string
			for _, id := range d.By(journal.Day(at("2026-03-20T12:00Z"))) {
				names = append(names, id.String())
			}
			got = journal.FormatDate(d.On) + " " + strings.Join(names, " ")
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestDueMovesOn: a test of the site's water never makes anything due earlier,
// and right after it nothing of it is overdue.
func TestDueMovesOn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		every := rapid.IntRange(1, 40).Draw(t, "every")
		list := map[string]string{"sites/a.md": fmt.Sprintf("name: A\nowner: quillmarsh\nstage: intake\nsince: 2026-01-01\nschedule:\n  - {every: %d d, analytes: [sulfate]}\n", every)}
		before := Due(quick(list), at("2026-06-01T12:00+03:00"))[0]
		for n := range rapid.IntRange(1, 5).Draw(t, "sessions") {
			day := rapid.IntRange(1, 28).Draw(t, "day")
			sample := rapid.SampledFrom([]string{"", "sample: duplicate\n", "sample: blank\n", "sample: verification\n", "sample: check-standard\n"}).Draw(t, "sample")
			list[fmt.Sprintf("sessions/%d.md", n)] = fmt.Sprintf("site: a\nsampled: 2026-05-%02dT08:00+03:00\nby: ines\n%sreadings:\n  sulfate: 80 mg/L\n", day, sample)
			after := Due(quick(list), at("2026-06-01T12:00+03:00"))[0]
			if after.On.Before(before.On) {
				t.Fatalf("a session moved the day from %s back to %s", before.On, after.On)
			}
			before = after
			if d := Due(quick(list), at(fmt.Sprintf("2026-05-%02dT23:00+03:00", day)))[0]; (sample == "" || strings.Contains(sample, "dup") || strings.Contains(sample, "veri")) && d.Overdue(journal.Day(at(fmt.Sprintf("2026-05-%02dT23:00Z", day)))) {
				t.Fatalf("overdue on the day of its test")
			}
		}
	})
}
