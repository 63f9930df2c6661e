package evidence_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/journaltest"
	"wj/journal/judge"
)

var june14 = time.Date(2026, 6, 14, 12, 0, 0, 0, time.UTC)

// Whom policy.required names by kind, owner, path and stage must sign, and may.
func TestRequired(t *testing.T) {
	const change = journaltest.BlendChange
	pia := "---\nname: Pia Alsey\nemail: pia@quillmarsh.example\nroles:\n  - {role: quality, since: 2023-01-01}\n---\n"
	for name, c := range map[string]struct {
		required string
		signers  []string
		approved bool
		lacks    string
		may      string
	}{
		"of everybody":                     {"", []string{"jonas"}, true, "", "jonas"},
		"a person, who has not signed":     {"{kinds: [changes], people: [pia]}", []string{"jonas"}, false, "1 of pia must sign", "jonas pia"},
		"a person is no reviewer by that":  {"{kinds: [changes], people: [pia]}", []string{"pia"}, false, "", "jonas pia"},
		"both":                             {"{kinds: [changes], people: [pia]}", []string{"pia", "jonas"}, true, "", "jonas pia"},
		"a role":                           {"{owners: [quillmarsh], role: quality}", []string{"jonas"}, false, "1 of pia must sign", "jonas pia"},
		"another owner":                    {"{owners: [tarrow-lane], role: quality}", []string{"jonas"}, true, "", "jonas"},
		"a stage of its waters":            {"{stages: [ro-permeate], role: quality}", []string{"jonas"}, false, "1 of pia must sign", "jonas pia"},
		"a stage of none":                  {"{stages: [cold-liquor], role: quality}", []string{"jonas"}, true, "", "jonas"},
		"its path":                         {"{paths: [\"changes/*-bitter.md\"], people: [pia]}", []string{"jonas"}, false, "1 of pia must sign", "jonas pia"},
		"another path":                     {"{paths: [changes/2025], people: [pia]}", []string{"jonas"}, true, "", "jonas"},
		"more reviewers":                   {"{kinds: [changes], reviewers: 2}", []string{"jonas"}, false, "2 of jonas must sign", "jonas"},
		"an author is not asked to review": {"{kinds: [changes], people: [ines, pia]}", []string{"jonas"}, false, "1 of pia must sign", "jonas pia"},
		"not yet":                          {"{kinds: [changes], people: [pia], since: 2026-07-01}", []string{"jonas"}, true, "", "jonas"},
	} {
		m := journaltest.Blend()
		m["people/pia.md"] = pia
		if c.required != "" {
			m["wj.yaml"] += "policy:\n  required:\n    - " + c.required + "\n"
		}
		for i, by := range c.signers {
			journaltest.Sign(t, m, change, by, []string{"2026-06-12T09:40+03:00", "2026-06-13T09:40+03:00"}[i], "accepted")
		}
		j := journaltest.Load(t, m)
		if len(j.Problems) > 0 {
			t.Fatalf("%s: %v", name, j.Problems)
		}
		got, _ := j.Changes.Get(change)
		r := judge.NewChanges(j, evidence.Facts{Now: june14}).Change(got)
		if r.State.Approved() != c.approved || r.Approval.Lacks != c.lacks {
			t.Errorf("%s: %s, lacks %q, want %v %q", name, r.State, r.Approval.Lacks, c.approved, c.lacks)
		}
		if may := strings.Join(evidence.Reviewers(j, j, got, june14), " "); may != c.may {
			t.Errorf("%s: %s may sign, want %s", name, may, c.may)
		}
	}
}

// A reviewer whose role is limited to paths or stages signs nothing else.
func TestRoleScope(t *testing.T) {
	for scope, want := range map[string]bool{
		"": true, ", paths: [changes]": true, ", paths: [targets]": false,
		", stages: [intake, ro-permeate]": true, ", stages: [intake]": false, ", kinds: [changes], stages: [intake, ro-permeate]": true,
	} {
		m := journaltest.Blend()
		journaltest.Replace("people/jonas.md", "since: 2023-01-01", "since: 2023-01-01"+scope)(m)
		j := journaltest.Load(t, m)
		c, _ := j.Changes.Get(journaltest.BlendChange)
		if why := evidence.MaySign(j, j, c, "jonas", june14); (why == "") != want {
			t.Errorf("%q: %q", scope, why)
		}
	}
}

// What waits names whom it waits for, and leaves the list once they signed.
func TestWaiting(t *testing.T) {
	m := journaltest.Blend()
	m["wj.yaml"] += "policy:\n  required:\n    - {kinds: [sessions], stages: [intake], people: [jonas, ines]}\n"
	show := func(person string) string {
		j := journaltest.Load(t, m)
		var out []string
		list, err := judge.Waiting(j, judge.NewChanges(j, evidence.Facts{Now: june14}), nil, "", person, func(*journal.Journal, string) bool { return false })
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range list {
			out = append(out, w.Subject+" for "+strings.Join(w.For, "+"))
		}
		slices.Sort(out)
		return strings.Join(out, "; ")
	}
	if got, want := show("jonas"), "2026-06-09-well for jonas; 2026-06-11-bitter for jonas"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got := show("ines"); got != "" {
		t.Errorf("ines made both, and is asked for %s", got)
	}
	journaltest.Sign(t, m, journaltest.BlendChange, "jonas", "2026-06-12T09:40+03:00", "accepted")
	journaltest.Sign(t, m, "2026-06-09-well", "jonas", "2026-06-13T09:40+03:00", "accepted")
	if got := show(""); got != "" {
		t.Errorf("all is signed, and %s waits", got)
	}
	// A request waits for its author's answer, then for who asked.
	id := journaltest.Sign(t, m, journaltest.BlendChange, "jonas", "2026-06-14T09:40+03:00", "requested")
	if got, want := show(""), "2026-06-11-bitter for ines"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	m["signoffs/2026-06-14-answer.md"] = "---\nof: " + id + "\nby: ines\non: 2026-06-14T10:00+03:00\ndecision: remarked\ncovers:\n  signoffs/" + id + ".md: " + journal.Digest([]byte(m["signoffs/"+id+".md"])) + "\n---\n"
	if got, want := show(""), "2026-06-11-bitter for jonas"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
