package judge

import (
	"strings"
	"testing"

	"wj/journal/evidence"
	"wj/journal/journaltest"
)

// Two changes for one target that were reviewed apart are rivals until one of
// them is superseded, void, refused or no longer approved.
func TestRivals(t *testing.T) {
	other := "changes/2026-06-12-bitter.md"
	for name, c := range map[string]struct {
		edit func(m map[string]string)
		want string
	}{
		"proposed before the other was approved": {want: "2026-06-12-bitter 2026-06-11-bitter"},
		"proposed after it":                      {edit: journaltest.Replace(other, "proposed: 2026-06-12", "proposed: 2026-06-13")},
		"one supersedes the other":               {edit: journaltest.Replace(other, "author:", "supersedes: 2026-06-11-bitter\nauthor:")},
		"for the sparge alone": {edit: func(m map[string]string) {
			journaltest.Replace(other, "author:", "tank: sparge\nauthor:")(m)
			journaltest.Replace("changes/2026-06-11-bitter.md", "author:", "tank: mash\nauthor:")(m)
		}},
		"one is void": {edit: journaltest.Replace(other, "author:", "void: {by: ines, on: 2026-06-12, reason: wrong}\nauthor:")},
	} {
		m := journaltest.Blend()
		m[other] = strings.Replace(m["changes/2026-06-11-bitter.md"], "proposed: 2026-06-11", "proposed: 2026-06-12", 1)
		if c.edit != nil {
			c.edit(m)
		}
		journaltest.Sign(t, m, "2026-06-11-bitter", "jonas", "2026-06-12T09:40+03:00", "accepted")
		if !strings.Contains(m[other], "void:") {
			journaltest.Sign(t, m, "2026-06-12-bitter", "jonas", "2026-06-13T09:40+03:00", "accepted")
		}
		g := NewChanges(journaltest.Load(t, m), evidence.Facts{Now: june13})
		var got []string
		for _, group := range g.Rivals() {
			got = append(got, strings.Join(IDs(group), " "))
		}
		if strings.Join(got, "; ") != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}
