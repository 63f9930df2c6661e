package judge

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/journaltest"
	"wj/water"
)

const changeID = journaltest.BlendChange

var june13 = time.Date(2026, 6, 13, 12, 0, 0, 0, time.UTC)

func TestJudge(t *testing.T) {
	for _, c := range []struct {
		name  string
		by    string
		on    string
		edit  func(m map[string]string)
		facts evidence.Facts
		want  evidence.Standing
		why   string
	}{
		{name: "sound", want: evidence.InForce},
		{name: "author", by: "ines", want: evidence.NotAllowed, why: "author of the change"},
		{name: "nobody", by: "mallory", want: evidence.NotAllowed, why: "nobody in people/"},
		{name: "left", by: "emil", want: evidence.NotAllowed, why: "was not there"},
		{name: "covered file changed", edit: journaltest.Replace("sessions/2026-06-09-well.md", "278", "279"), want: evidence.Void, why: "sessions/2026-06-09-well.md changed after it was signed"},
		{name: "covered file gone", edit: func(m map[string]string) { delete(m, "targets/bitter.md") }, want: evidence.Void, why: "targets/bitter.md is gone"},
		{name: "only line ends changed", edit: func(m map[string]string) {
			m["targets/bitter.md"] = strings.ReplaceAll(m["targets/bitter.md"], "\n", "\r\n")
		}, want: evidence.InForce},
		{name: "moved to another folder", edit: func(m map[string]string) {
			m["sessions/2026/2026-06-09-well.md"] = m["sessions/2026-06-09-well.md"]
			delete(m, "sessions/2026-06-09-well.md")
		}, want: evidence.InForce},
		{name: "basis not covered", edit: func(m map[string]string) {
			p := "signoffs/2026-06-12-jonas-accepted.md"
			lines := slices.DeleteFunc(strings.Split(m[p], "\n"), func(l string) bool { return strings.Contains(l, "2026-06-09-well") })
			m[p] = strings.Join(lines, "\n")
		}, want: evidence.Void, why: "does not cover sessions/2026-06-09-well.md"},
		{name: "old", facts: evidence.Facts{Now: june13.AddDate(1, 0, 1)}, want: evidence.Lapsed, why: "older than the policy's 365 d"},
		{name: "the water moved", facts: evidence.Facts{Moved: func(_ *journal.Change, _ time.Time, _ func(*journal.Session) bool) string {
			return "sulfate is 246, over 240"
		}}, want: evidence.Lapsed, why: "the water moved: sulfate is 246"},
		{name: "policy asks for a signature", edit: journaltest.Replace("wj.yaml", "format: 1", "format: 1\npolicy: {proof: signature}"), want: evidence.Void, why: "policy asks for the signer's own signature"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := journaltest.Blend()
			if c.by == "" {
				c.by = "jonas"
			}
			if c.on == "" {
				c.on = "2026-06-12T09:40+03:00"
			}
			id := journaltest.Sign(t, m, changeID, c.by, c.on, "accepted")
			if c.edit != nil {
				c.edit(m)
			}
			if c.facts.Now.IsZero() {
				c.facts.Now = june13
			}
			j := journaltest.Load(t, m)
			s, ok := j.Signoffs.Get(id)
			if !ok {
				t.Fatal("no sign-off")
			}
			v := evidence.Judge(j, s, c.facts)
			if v.Standing != c.want || !strings.Contains(strings.Join(v.Why, "; "), c.why) {
				t.Errorf("%s: %v, want %s: %s", v.Standing, v.Why, c.want, c.why)
			}
		})
	}
}

func TestStates(t *testing.T) {
	signed := func(m map[string]string) {
		journaltest.Sign(t, m, changeID, "jonas", "2026-06-12T09:40+03:00", "accepted")
	}
	batch := func(m map[string]string) {
		m["batches/2026-118.md"] = "---\nbeer: bitter\nbrewed: 2026-06-16\nchange: " + changeID + "\n---\n"
	}
	verification := func(sulfate string) func(m map[string]string) {
		return func(m map[string]string) {
			m["sessions/2026-06-16-tank.md"] = "---\nsite: tank\nsample: verification\nchange: " + changeID + "\nsampled: 2026-06-16T07:20+03:00\nby: jonas\ninstrument: meter-1\nreadings:\n  sulfate: " + sulfate + "\n---\n"
		}
	}
	for _, c := range []struct {
		want  State
		edits []func(map[string]string)
		facts evidence.Facts
		note  string
	}{
		{want: Proposed},
		{want: Draft, facts: evidence.Facts{Wrong: func(string) bool { return true }}},
		{want: Signed, edits: []func(map[string]string){signed}},
		{want: Refused, edits: []func(map[string]string){signed, func(m map[string]string) {
			journaltest.Sign(t, m, changeID, "jonas", "2026-06-12T09:50+03:00", "refused")
		}}},
		{want: Signed, edits: []func(map[string]string){func(m map[string]string) {
			journaltest.Sign(t, m, changeID, "jonas", "2026-06-12T09:00+03:00", "refused")
		}, signed}},
		{want: InUse, edits: []func(map[string]string){signed, batch}},
		{want: Verified, edits: []func(map[string]string){signed, batch, verification("195 mg/L")}},
		{want: Missed, edits: []func(map[string]string){signed, batch, verification("240 mg/L")}},
		{want: VoidState, edits: []func(map[string]string){signed, journaltest.Replace("sessions/2026-06-09-well.md", "278", "279")}},
		{want: VoidState, edits: []func(map[string]string){signed, journaltest.Replace("changes/2026-06-11-bitter.md", "volume", "void: {by: ines, on: 2026-06-12T10:00+03:00, reason: x}\nvolume")}},
		{want: LapsedState, edits: []func(map[string]string){signed}, facts: evidence.Facts{Now: june13.AddDate(2, 0, 0)}},
		{want: Emergency, edits: []func(map[string]string){journaltest.Replace("changes/2026-06-11-bitter.md", "volume", "emergency: {by: ines, on: 2026-06-11T06:10+03:00, reason: main break}\nvolume"), batch}, note: "overdue"},
		{want: InUse, edits: []func(map[string]string){journaltest.Replace("changes/2026-06-11-bitter.md", "volume", "emergency: {by: ines, on: 2026-06-10T06:10+03:00, reason: main break}\nvolume"), signed, batch}, note: "reviewed after 51 h"},
		{want: Superseded, edits: []func(map[string]string){signed, func(m map[string]string) {
			m["changes/2026-06-12-bitter.md"] = strings.Replace(m["changes/2026-06-11-bitter.md"], "proposed: 2026-06-11", "proposed: 2026-06-12\nsupersedes: 2026-06-11-bitter", 1)
			journaltest.Sign(t, m, "2026-06-12-bitter", "jonas", "2026-06-12T11:00+03:00", "accepted")
		}}},
		// What only proposes to replace it does not.
		{want: Signed, edits: []func(map[string]string){signed, func(m map[string]string) {
			m["changes/2026-06-12-bitter.md"] = strings.Replace(m["changes/2026-06-11-bitter.md"], "proposed: 2026-06-11", "proposed: 2026-06-12\nsupersedes: 2026-06-11-bitter", 1)
		}}},
		{want: Proposed, edits: []func(map[string]string){batch}, note: "brewed without an approval"},
		// Two that supersede each other end the search all the same.
		{want: Proposed, edits: []func(map[string]string){journaltest.Replace("changes/2026-06-11-bitter.md", "proposed: 2026-06-11", "proposed: 2026-06-11\nsupersedes: 2026-06-11-bitter")}},
		{want: Signed, edits: []func(map[string]string){journaltest.Replace("wj.yaml", "format: 1", "format: 1\npolicy: {changes: {reviewers: 0}}")}},
	} {
		m := journaltest.Blend()
		for _, e := range c.edits {
			e(m)
		}
		if c.facts.Now.IsZero() {
			c.facts.Now = june13
		}
		j := journaltest.Load(t, m)
		change, _ := j.Changes.Get(changeID)
		r := NewChanges(j, c.facts).Change(change)
		if r.State != c.want || !strings.Contains(strings.Join(r.Notes, "; "), c.note) {
			t.Errorf("%s (%v; %v), want %s with %q", r.State, r.Why, r.Notes, c.want, c.note)
		}
	}
}

// E_n by ISO 13528 for the verification of the worked example in the demo
// scenario: sulfate 195 against 201 with U 14 and, by 5 mg/L + 8 % at twice
// the dilution, 26.
func TestVerify(t *testing.T) {
	m := journaltest.Blend()
	journaltest.Replace("changes/2026-06-11-bitter.md", "190 ± 14", "201 ± 14")(m)
	m["sessions/2026-06-16-tank.md"] = "---\nsite: tank\nsample: verification\nchange: " + changeID + "\nsampled: 2026-06-16T07:20+03:00\nby: jonas\ninstrument: meter-1\nreadings:\n  sulfate: {value: [97 mg/L, 98 mg/L], dilution: 2}\n---\n"
	j := journaltest.Load(t, m)
	c, _ := j.Changes.Get(changeID)
	s, _ := j.Sessions.Get("2026-06-16-tank")
	checks := Verify(j, c, s)
	want := (195.0 - 201) / math.Hypot(14, 2*5+0.08*195)
	if len(checks) != 1 || checks[0].ID != water.Sulfate || math.Abs(checks[0].ErrorRatio-want) > 1e-6 || math.Abs(want+0.20) > 0.01 {
		t.Errorf("%+v, want E_n %.4f", checks, want)
	}
}

func TestToDos(t *testing.T) {
	m := journaltest.Blend()
	m["reports/2026-06-10-x.md"] = "---\nowner: quillmarsh\nto: a@b.example\nsent: 2026-06-10T10:00+03:00\nfiles: {}\nrests_on:\n  sessions/2026-06-09-well.md: " + journal.Digest([]byte(m["sessions/2026-06-09-well.md"])) + "\n---\n"
	m["actions/2026-06-10-x.md"] = "---\nabout: well\nopened: 2026-06-10\ndeviation: smells\ndue: 2026-06-12\n---\n"
	told := func(m map[string]string, now time.Time) string {
		j := journaltest.Load(t, m)
		var out []string
		for _, x := range ToDos(j, NewChanges(j, evidence.Facts{Now: now})) {
			urgent := ""
			if x.Urgent {
				urgent = "!"
			}
			out = append(out, string(x.Topic)+urgent+":"+x.Subject)
			if x.Next == "" {
				t.Errorf("%s has no next step", x.Text)
			}
		}
		return strings.Join(out, " ")
	}
	if got := told(m, june13); got != "changes:"+changeID+" actions!:2026-06-10-x" {
		t.Error(got)
	}
	// 30 d after 9 June is 9 July: told a week before, overdue after.
	if got := told(m, time.Date(2026, 7, 3, 12, 0, 0, 0, time.UTC)); !strings.Contains(got, "tests:well") {
		t.Error(got)
	}
	if got := told(m, time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC)); !strings.Contains(got, "tests!:well") {
		t.Error(got)
	}
	journaltest.Replace("sessions/2026-06-09-well.md", "278", "279")(m)
	if got := told(m, june13); !strings.Contains(got, "reports!:2026-06-10-x") {
		t.Error(got)
	}
	journaltest.Replace("lots/SU-1.md", "tests: 50", "recalled: {on: 2026-06-12, reason: reads low}")(m)
	if got := told(m, june13); !strings.Contains(got, "lots!:SU-1") {
		t.Error(got)
	}
}

// In half a clone the author's own sign-off may be the one of which nothing is known (found by a simulated brewery, seed 5).
func TestUnclearProposal(t *testing.T) {
	r := Change{Verdicts: []evidence.Verdict{{Signoff: &journal.Signoff{Decision: "proposed"}, Standing: evidence.CannotTell, Why: []string{"its commit is not here"}}},
		Unclear: []*journal.Batch{{Record: journal.Record{ID: "2026-001"}}}}
	r.Brews = []Brew{{Lack: LackUnknown, Why: r.unclear().Why[0]}}
	if got := r.UnclearNote(); !strings.Contains(got, "2026-001") || !strings.Contains(got, "its commit is not here") {
		t.Errorf("%q", got)
	}
}
