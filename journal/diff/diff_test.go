package diff

import (
	"strings"
	"testing"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/journaltest"
	"wj/water"
)

func TestDifferences(t *testing.T) {
	m := journaltest.Blend()
	before := journaltest.Load(t, m)
	old := map[string]string{}
	for p, content := range m {
		old[p] = content
	}
	journaltest.Replace("targets/bitter.md", "240 mg/L", "260 mg/L")(m)
	journaltest.Replace("wj.yaml", "format: 1", "format: 1\npolicy: {changes: {reviewers: 0}}")(m)
	journaltest.Replace("sessions/2026-06-09-well.md", "calcium: 160 mg/L", "calcium: 400 mg/L CaCO3")(m) // 400 × 40.078 / 100.086 = 160.2
	journaltest.Replace("sessions/2026-06-05-ro.md", "calcium: 1 mg/L", "calcium: {value: \"1 mg/L\"}")(m)
	journaltest.Replace("lots/SU-1.md", "tests: 50", "tests: 50\nvoid: {by: ines, on: 2026-06-12T10:00+03:00, reason: wrong box}")(m)
	delete(m, "lots/GY-1.md")
	m["sessions/2026-06-20-well.md"] = m["sessions/2026-06-09-well.md"]
	after := journaltest.Load(t, m)
	var pairs []FilePair
	for p := range m {
		if m[p] != old[p] {
			pairs = append(pairs, FilePair{Path: p, Before: bytesOf(old, p), After: bytesOf(m, p)})
		}
	}
	pairs = append(pairs, FilePair{Path: "lots/GY-1.md", Before: []byte(old["lots/GY-1.md"])})
	var got []string
	for _, r := range Differences(before, after, pairs) {
		got = append(got, r.What.String()+" "+r.Path)
		switch r.Path {
		case "sessions/2026-06-09-well.md":
			if len(r.Fields) != 1 || r.Fields[0].Sameness != evidence.SameWater || len(r.Resting) == 0 || r.Resting[0].ID != "2026-06-11-bitter" {
				t.Errorf("%+v", r)
			}
		case "lots/SU-1.md":
			if r.Reason != "wrong box" {
				t.Errorf("%+v", r)
			}
		}
	}
	want := "edited targets/bitter.md;edited wj.yaml;deleted lots/GY-1.md;rewritten without an amendment sessions/2026-06-09-well.md;voided lots/SU-1.md;new sessions/2026-06-20-well.md"
	if strings.Join(got, ";") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, ";"), want)
	}
}

// bytesOf is a file's content, nil where it is not there.
func bytesOf(m map[string]string, p string) []byte {
	if content, ok := m[p]; ok {
		return []byte(content)
	}
	return nil
}

// Kolbach 1953: residual alkalinity = alkalinity - CaH/3.5 - MgH/7. A calcium
// hardness that was typed as calcium is 2.497 times too high (100.086/40.078).
func TestDerivedChange(t *testing.T) {
	m := journaltest.Blend()
	text := "---\nsite: well\nsampled: 2024-05-06T08:00+03:00\nby: ines\nreadings:\n  alkalinity: 211 mg/L CaCO3\n  calcium_hardness: 205 mg/L Ca\n  total_hardness: 264 mg/L CaCO3\n---\n"
	fixed := strings.Replace(text, "205 mg/L Ca\n", "205 mg/L CaCO3\n", 1)
	j := journaltest.Load(t, m)
	list := Differences(j, j, []FilePair{{Path: "sessions/2024-05-06-well.md", Before: []byte(text), After: []byte(fixed)}})
	if len(list) != 1 || list[0].Kind != journal.KindSession {
		t.Fatalf("%+v", list)
	}
	for _, d := range list[0].Derived {
		if d.ID == water.ResidualAlkalinity {
			want := 211 - 205.0/3.5 - (264-205.0)/7
			if diff := d.After - want; diff > 1e-6 || diff < -1e-6 || !d.Beyond {
				t.Errorf("%+v, want %g", d, want)
			}
			return
		}
	}
	t.Errorf("residual alkalinity is not among %+v", list[0].Derived)
}

// Ending one supply period and beginning another is two changes, whatever the
// regimes are called: one until added, one period added.
func TestSupplyPeriodsInADiff(t *testing.T) {
	head := "---\nname: Well\nowner: quillmarsh\nstage: intake\nschedule:\n  - {every: 30 d, analytes: [sulfate, calcium]}\nsupply:\n" +
		"  - {since: 2023-10-01, until: 2024-05-01, regime: reservoir}\n  - {since: 2024-05-02, until: 2024-10-08, regime: wellfield}\n" +
		"  - {since: 2024-10-09, until: 2025-05-04, regime: reservoir}\n"
	before := head + "  - {since: 2025-05-05, regime: wellfield}\n---\n"
	after := head + "  - {since: 2025-05-05, until: 2026-05-03, regime: wellfield}\n  - {since: 2026-05-04, regime: reservoir}\n---\n"
	j := journaltest.Load(t, journaltest.Blend())
	list := Differences(j, j, []FilePair{{Path: "sites/well.md", Before: []byte(before), After: []byte(after)}})
	var got []string
	for _, f := range list[0].Fields {
		got = append(got, f.Path+": "+f.Before+" → "+f.After)
	}
	want := []string{"supply.wellfield 2025-05-05.until:  → 2026-05-03", "supply.reservoir 2026-05-04.since:  → 2026-05-04", "supply.reservoir 2026-05-04.regime:  → reservoir"}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	// An item put in front does not rename the others.
	front := strings.Replace(before, "schedule:\n", "schedule:\n  - {every: 7 d, analytes: [pH]}\n", 1)
	list = Differences(j, j, []FilePair{{Path: "sites/well.md", Before: []byte(before), After: []byte(front)}})
	if n := len(list[0].Fields); n != 2 {
		t.Errorf("%d changes where one plan was put in front: %+v", n, list[0].Fields)
	}
}
