package judge

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"
	"wj/journal"
	"wj/journal/evidence"
	"wj/water"
)

// blend is a small journal: a blend of a well and permeate with gypsum.
func blend() map[string]string {
	return map[string]string{
		"wj.yaml":                     "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n",
		"owners/quillmarsh.md":        "---\nname: Quillmarsh Brewery\nself: true\n---\n",
		"people/ines.md":              "---\nname: Ines Kaldre\nemail: ines@quillmarsh.example\n---\n",
		"people/jonas.md":             "---\nname: Jonas Welk\nemail: jonas@quillmarsh.example\nroles:\n  - {role: reviewer, since: 2023-01-01}\n---\n",
		"people/emil.md":              "---\nname: Emil Sorrel\nemail: emil@quillmarsh.example\nroles:\n  - {role: reviewer, since: 2023-01-01, until: 2024-08-30}\nuntil: 2024-08-30\n---\n",
		"sites/well.md":               "---\nname: Well\nowner: quillmarsh\nstage: intake\nschedule:\n  - {every: 30 d, analytes: [sulfate, calcium]}\n---\n",
		"sites/ro.md":                 "---\nname: RO\nowner: quillmarsh\nstage: ro-permeate\n---\n",
		"sites/tank.md":               "---\nname: Tank\nowner: quillmarsh\nstage: hot-liquor\n---\n",
		"lots/SU-1.md":                "---\nanalyte: sulfate\nexpires: 2026-12\ntests: 50\n---\n",
		"lots/GY-1.md":                "---\nsubstance: gypsum\n---\n",
		"instruments/meter-1.md":      "---\nname: Meter\nmeasures:\n  sulfate: {accuracy: 5 mg/L + 8 %}\n---\n",
		"targets/bitter.md":           "---\nname: Bitter\nranges:\n  sulfate: {min: 180 mg/L, max: 240 mg/L}\n---\n",
		"sessions/2026-06-09-well.md": "---\nsite: well\nsampled: 2026-06-09T08:00+03:00\nby: ines\ninstrument: meter-1\nreadings:\n  sulfate: {value: 278 mg/L, lot: SU-1}\n  calcium: 160 mg/L\n---\n",
		"sessions/2026-06-05-ro.md":   "---\nsite: ro\nsampled: 2026-06-05T08:00+03:00\nby: ines\nreadings:\n  sulfate: <2 mg/L\n  calcium: 1 mg/L\n---\n",
		"changes/2026-06-11-bitter.md": "---\nfor: bitter\nauthor: ines\nproposed: 2026-06-11\nbasis:\n  - {session: 2026-06-09-well, share: 40 %}\n  - {session: 2026-06-05-ro, share: 60 %}\n" +
			"volume: 1500 L\nadd:\n  gypsum: {amount: 210 g, lot: GY-1}\nexpect:\n  sulfate: 190 ± 14 mg/L\n---\n",
	}
}

func load(t *testing.T, m map[string]string) *journal.Journal {
	t.Helper()
	fsys := fstest.MapFS{}
	for name, content := range m {
		fsys[name] = &fstest.MapFile{Data: []byte(content)}
	}
	j, err := journal.Load(fsys, journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// sign adds a sign-off of the change with the digests of the files as they
// are.
func sign(t *testing.T, m map[string]string, of, by, on, decision string) string {
	t.Helper()
	j := load(t, m)
	f := j.Find(of)[0]
	_, record, err := j.ReadRecord(f)
	if err != nil {
		t.Fatal(err)
	}
	needed, err := evidence.Covers(j, record)
	if err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprintf("---\nof: %s\nby: %s\non: %s\ndecision: %s\ncovers:\n", of, by, on, decision)
	for _, n := range needed {
		text += "  " + n.Path + ": " + journal.Digest([]byte(m[n.Path])) + "\n"
	}
	id := on[:10] + "-" + by + "-" + decision
	m["signoffs/"+id+".md"] = text + "---\n"
	return id
}

const changeID = "2026-06-11-bitter"

var june13 = time.Date(2026, 6, 13, 12, 0, 0, 0, time.UTC)

func replace(p, old, new string) func(map[string]string) {
	return func(m map[string]string) { m[p] = strings.Replace(m[p], old, new, 1) }
}

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
		{name: "covered file changed", edit: replace("sessions/2026-06-09-well.md", "278", "279"), want: evidence.Void, why: "sessions/2026-06-09-well.md changed after it was signed"},
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
		{name: "the water moved", facts: evidence.Facts{Moved: func(*journal.Change, time.Time) string { return "sulfate is 246, over 240" }}, want: evidence.Lapsed, why: "the water moved: sulfate is 246"},
		{name: "policy asks for a signature", edit: replace("wj.yaml", "format: 1", "format: 1\npolicy: {proof: signature}"), want: evidence.Void, why: "policy asks for the signer's own signature"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := blend()
			if c.by == "" {
				c.by = "jonas"
			}
			if c.on == "" {
				c.on = "2026-06-12T09:40+03:00"
			}
			id := sign(t, m, changeID, c.by, c.on, "accepted")
			if c.edit != nil {
				c.edit(m)
			}
			if c.facts.Now.IsZero() {
				c.facts.Now = june13
			}
			j := load(t, m)
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
	signed := func(m map[string]string) { sign(t, m, changeID, "jonas", "2026-06-12T09:40+03:00", "accepted") }
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
		{want: Refused, edits: []func(map[string]string){signed, func(m map[string]string) { sign(t, m, changeID, "jonas", "2026-06-12T09:50+03:00", "refused") }}},
		{want: Signed, edits: []func(map[string]string){func(m map[string]string) { sign(t, m, changeID, "jonas", "2026-06-12T09:00+03:00", "refused") }, signed}},
		{want: InUse, edits: []func(map[string]string){signed, batch}},
		{want: Verified, edits: []func(map[string]string){signed, batch, verification("195 mg/L")}},
		{want: Missed, edits: []func(map[string]string){signed, batch, verification("240 mg/L")}},
		{want: VoidState, edits: []func(map[string]string){signed, replace("sessions/2026-06-09-well.md", "278", "279")}},
		{want: VoidState, edits: []func(map[string]string){signed, replace("changes/2026-06-11-bitter.md", "volume", "void: {by: ines, on: 2026-06-12T10:00+03:00, reason: x}\nvolume")}},
		{want: LapsedState, edits: []func(map[string]string){signed}, facts: evidence.Facts{Now: june13.AddDate(2, 0, 0)}},
		{want: Emergency, edits: []func(map[string]string){replace("changes/2026-06-11-bitter.md", "volume", "emergency: {by: ines, on: 2026-06-11T06:10+03:00, reason: main break}\nvolume"), batch}, note: "overdue"},
		{want: InUse, edits: []func(map[string]string){replace("changes/2026-06-11-bitter.md", "volume", "emergency: {by: ines, on: 2026-06-10T06:10+03:00, reason: main break}\nvolume"), signed, batch}, note: "reviewed after 51 h"},
		{want: Superseded, edits: []func(map[string]string){signed, func(m map[string]string) {
			m["changes/2026-06-12-bitter.md"] = strings.Replace(m["changes/2026-06-11-bitter.md"], "proposed: 2026-06-11", "proposed: 2026-06-12\nsupersedes: 2026-06-11-bitter", 1)
			sign(t, m, "2026-06-12-bitter", "jonas", "2026-06-12T11:00+03:00", "accepted")
		}}},
		// What only proposes to replace it does not.
		{want: Signed, edits: []func(map[string]string){signed, func(m map[string]string) {
			m["changes/2026-06-12-bitter.md"] = strings.Replace(m["changes/2026-06-11-bitter.md"], "proposed: 2026-06-11", "proposed: 2026-06-12\nsupersedes: 2026-06-11-bitter", 1)
		}}},
		{want: Proposed, edits: []func(map[string]string){batch}, note: "brewed without an approval"},
		// Two that supersede each other end the search all the same.
		{want: Proposed, edits: []func(map[string]string){replace("changes/2026-06-11-bitter.md", "proposed: 2026-06-11", "proposed: 2026-06-11\nsupersedes: 2026-06-11-bitter")}},
		{want: Signed, edits: []func(map[string]string){replace("wj.yaml", "format: 1", "format: 1\npolicy: {changes: {reviewers: 0}}")}},
	} {
		m := blend()
		for _, e := range c.edits {
			e(m)
		}
		if c.facts.Now.IsZero() {
			c.facts.Now = june13
		}
		j := load(t, m)
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
	m := blend()
	replace("changes/2026-06-11-bitter.md", "190 ± 14", "201 ± 14")(m)
	m["sessions/2026-06-16-tank.md"] = "---\nsite: tank\nsample: verification\nchange: " + changeID + "\nsampled: 2026-06-16T07:20+03:00\nby: jonas\ninstrument: meter-1\nreadings:\n  sulfate: {value: [97 mg/L, 98 mg/L], dilution: 2}\n---\n"
	j := load(t, m)
	c, _ := j.Changes.Get(changeID)
	s, _ := j.Sessions.Get("2026-06-16-tank")
	checks := Verify(j, c, s)
	want := (195.0 - 201) / math.Hypot(14, 2*5+0.08*195)
	if len(checks) != 1 || checks[0].ID != water.Sulfate || math.Abs(checks[0].ErrorRatio-want) > 1e-6 || math.Abs(want+0.20) > 0.01 {
		t.Errorf("%+v, want E_n %.4f", checks, want)
	}
}

func TestToDos(t *testing.T) {
	m := blend()
	m["reports/2026-06-10-x.md"] = "---\nowner: quillmarsh\nto: a@b.example\nsent: 2026-06-10T10:00+03:00\nfiles: {}\nrests_on:\n  sessions/2026-06-09-well.md: " + journal.Digest([]byte(m["sessions/2026-06-09-well.md"])) + "\n---\n"
	m["actions/2026-06-10-x.md"] = "---\nabout: well\nopened: 2026-06-10\ndeviation: smells\ndue: 2026-06-12\n---\n"
	told := func(m map[string]string, now time.Time) string {
		j := load(t, m)
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
	replace("sessions/2026-06-09-well.md", "278", "279")(m)
	if got := told(m, june13); !strings.Contains(got, "reports!:2026-06-10-x") {
		t.Error(got)
	}
	replace("lots/SU-1.md", "tests: 50", "recalled: {on: 2026-06-12, reason: reads low}")(m)
	if got := told(m, june13); !strings.Contains(got, "lots!:SU-1") {
		t.Error(got)
	}
}
