package lint

import (
	"fmt"
	"strings"
	"testing"

	"wj/journal"
)

// house lints the base journal with one more session and settings added to wj.yaml.
func house(t *testing.T, settings string, opt Options) []Diagnostic {
	t.Helper()
	files := baseFiles(t)
	files["wj.yaml"] += settings
	files[sessionPath] = "---\nsite: north-well\nsampled: 2026-03-04T08:15+02:00\nby: ines\ninstrument: meter-2\nreadings:\n  pH: 7.4\n  iron: 0.30 mg/L\n---\n"
	opt.Now = at(t, "2026-03-31")
	return lintFS(t, mapFS(files), opt)
}

func TestHouseRules(t *testing.T) {
	for _, c := range []struct {
		name, settings string
		opt            Options
		want           string // path:line:column severity rule: message, one a line
	}{
		{"fires at the reading", "rules:\n  house/iron: {where: surely(iron > 0.1), message: iron in the liquor, help: flush the main}\n", Options{},
			"sessions/2026/2026-03-04-north-well.md:8:9 warning house/iron: iron in the liquor: iron 0.30 mg/L; flush the main"},
		{"silent", "rules:\n  house/iron: {where: iron > 0.4, message: x}\n", Options{}, ""},
		{"a mistake in plain text", "rules:\n  house/iron: {where: irn > 0.1, message: x}\n", Options{},
			`wj.yaml:%d:23 error format/value: house/iron: column 1 of the expression: there is no "irn" in a session; did you mean iron?`},
		{"a mistake behind quotes", "rules:\n  house/iron: {where: 'site == ''tap'' && irn > 0.1', message: x}\n", Options{},
			`wj.yaml:%d:43 error format/value: house/iron: column 18 of the expression: there is no "irn" in a session; did you mean iron?`},
		{"a mistake on a further line", "rules:\n  house/iron:\n    where: iron > 0.1 and\n      irn > 0.2\n    message: x\n", Options{},
			`wj.yaml:%d:7 error format/value: house/iron: column 16 of the expression: there is no "irn" in a session; did you mean iron?`},
		{"no such site", "rules:\n  house/iron: {where: site == \"taap\", message: x}\n", Options{}, `wj.yaml:%d:23 warning format/value: house/iron: the journal has no site "taap"`},
		{"no name of the house", "rules:\n  iron: {where: iron > 0.4, message: x}\n", Options{}, `wj.yaml:%d:3 error format/value: "iron" is no name of a house rule; write house/ and a word in lower case, such as house/iron`},
		{"a severity of its own", "rules:\n  house/iron: {where: iron > 0.1, severity: error, message: x}\n", Options{}, "sessions/2026/2026-03-04-north-well.md:8:9 error house/iron: x: iron 0.30 mg/L"},
		{"off for the site", "rules:\n  house/iron: {where: iron > 0.1, message: x}\nlint_for:\n  - {sites: north-well, lint: {house/iron: off}}\n", Options{}, ""},
		{"for a folder", "lint: {house/iron: off}\nrules:\n  house/iron: {where: iron > 0.1, message: x}\nlint_for:\n  - {paths: sessions/*, lint: {house/iron: info}}\n", Options{}, "sessions/2026/2026-03-04-north-well.md:8:9 info house/iron: x: iron 0.30 mg/L"},
		{"for another folder", "lint: {house/iron: off}\nrules:\n  house/iron: {where: iron > 0.1, message: x}\nlint_for:\n  - {paths: [sessions/2025, sites/**], lint: {house/iron: info}}\n", Options{}, ""},
		{"the family is left out", "rules:\n  house/iron: {where: iron > 0.1, message: x}\n", Options{Skip: []string{"house"}}, ""},
		{"a part of nothing", "lint_for:\n  - {lint: {cause/test: off}}\n", Options{}, "wj.yaml:%d:5 error format/missing-key: this part names neither sites nor paths"},
	} {
		var got []string
		for _, d := range house(t, c.settings, c.opt) {
			if strings.HasPrefix(d.Rule, "house/") || d.Path == "wj.yaml" {
				got = append(got, strings.Join([]string{place(d), d.Severity.String(), d.Rule + ":", d.Message}, " ")+"; "+d.Help)
			}
		}
		want := c.want
		if i := strings.Index(want, "%d"); i >= 0 && len(got) == 1 {
			line, _, _ := strings.Cut(strings.TrimPrefix(got[0], "wj.yaml:"), ":")
			want = strings.Replace(want, "%d", line, 1)
		}
		if len(got) > 1 || (want == "") != (len(got) == 0) || want != "" && !strings.HasPrefix(got[0], want) {
			t.Errorf("%s:\n got %q\nwant %q", c.name, got, c.want)
		}
	}
}

func place(d Diagnostic) string { return fmt.Sprintf("%s:%d:%d", d.Path, d.Line, d.Column) }

// TestThresholdsOfAPart: a rule of many records has the thresholds of each one's part.
func TestThresholdsOfAPart(t *testing.T) {
	p := newPlant(t, 7)
	p.season(at(t, "2025-01-06"), 10, "north-well", "town-main")
	opt := Options{Now: at(t, "2025-12-01"), Only: []string{"site/overdue"}}
	p.files["wj.yaml"] += "lint_for:\n  - {sites: [north-well], lint: {site/overdue: {severity: error}}}\n  - {paths: ['sites/town*.md'], lint: {site/overdue: off}}\n"
	for _, d := range lintFS(t, mapFS(p.files), opt) {
		if d.Path == "sites/town-main.md" || d.Path == "sites/north-well.md" && d.Severity != Error {
			t.Errorf("%s %s %s", d.Path, d.Severity, d.Message)
		}
	}
	for pattern, files := range map[string][2]string{
		"sessions/2026":        {"sessions/2026/a.md", "sessions/2025/a.md"},
		"sessions/**/a.md":     {"sessions/2026/a.md", "sessions/2026/b.md"},
		"**/2026-*-tap.md":     {"sessions/2026/2026-03-04-tap.md", "sessions/2026/2025-03-04-tap.md"},
		"lots/SU-*.md":         {"lots/SU-1.md", "lots/CL-1.md"},
		"sessions\\2026\\a.md": {"sessions/2026/a.md", "sessions/2026"},
	} {
		if files[0] != "" && !journal.MatchPath(pattern, files[0]) || journal.MatchPath(pattern, files[1]) {
			t.Errorf("%s: %v", pattern, files)
		}
	}
}
