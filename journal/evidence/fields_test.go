package evidence

import (
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wj/journal"
)

const plainSession = `---
site: north-well
sampled: 2026-03-04T08:15+01:00
by: ines
readings:
  pH:       7.42
  sulfate:  {value: 168 mg/L, dilution: 2, lot: SU-2511}
  chloride: {value: [21 mg/L, 22 mg/L], lot: CL-2511}
---

Notes.
`

// The same facts, written in other ways that YAML allows.
var rewritings = []string{
	"---\nby: ines\nsite: \"north-well\"\nreadings:\n    chloride:\n        lot: CL-2511\n        value:\n          - 21 mg/L\n          - '22 mg/L'\n    sulfate: {lot: SU-2511, dilution: 2, value: 168 mg/L}\n    pH: {value: 7.42}\nsampled: 2026-03-04T08:15+01:00\n---\n",
	"---\r\nsite: north-well # the old one\r\nsampled: 2026-03-04T08:15+01:00\r\nby: ines\r\nreadings: {pH: 7.42, sulfate: {value: 168 mg/L, dilution: 2, lot: SU-2511}, chloride: {value: [21 mg/L, 22 mg/L], lot: CL-2511}}\r\n---\r\n",
}

func TestFieldsIgnoreTheWayOfWriting(t *testing.T) {
	want := ByPath(Fields([]byte(plainSession)))
	if want["readings.pH.value"] != "7.42" || want["readings.chloride.value"] != "[21 mg/L, 22 mg/L]" || want["readings.sulfate.lot"] != "SU-2511" {
		t.Fatalf("fields: %v", want)
	}
	for i, src := range rewritings {
		if got := ByPath(Fields([]byte(src))); !maps.Equal(got, want) {
			t.Errorf("rewriting %d:\n got %v\nwant %v", i, got, want)
		}
	}
}

// Any order of keys, any indentation, block or flow, quoted or not: the fields
// are the same.
func TestFieldsProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		analytes := rapid.Permutation([]string{"pH", "sulfate", "chloride", "alkalinity", "calcium_hardness"}).Draw(t, "order")
		want := map[string]string{}
		var b strings.Builder
		b.WriteString("---\nreadings:\n")
		indent := strings.Repeat(" ", rapid.IntRange(1, 6).Draw(t, "indent"))
		for _, a := range analytes {
			value := fmt.Sprintf("%d mg/L", rapid.IntRange(0, 999).Draw(t, "value"))
			want["readings."+a+".value"] = value
			written := value
			if rapid.Bool().Draw(t, "quoted") {
				written = "\"" + value + "\""
			}
			switch rapid.IntRange(0, 2).Draw(t, "form") {
			case 0:
				fmt.Fprintf(&b, "%s%s: %s\n", indent, a, written)
			case 1:
				fmt.Fprintf(&b, "%s%s: {lot: X-1, value: %s}\n", indent, a, written)
				want["readings."+a+".lot"] = "X-1"
			case 2:
				fmt.Fprintf(&b, "%s%s:\n%s%s  value: %s\n", indent, a, indent, indent, written)
			}
		}
		b.WriteString("---\n")
		if got := ByPath(Fields([]byte(b.String()))); !maps.Equal(got, want) {
			t.Fatalf("%s\n got %v\nwant %v", b.String(), got, want)
		}
	})
}

func TestCompare(t *testing.T) {
	const hardness, sulfate = "readings.calcium_hardness.value", "readings.sulfate.value"
	for _, c := range []struct {
		field, a, b string
		want        Sameness
	}{
		{sulfate, "84 mg/L", "84 mg/L", Identical},
		{sulfate, "84 mg/L", "84 mg/l", SameSpelled},
		{sulfate, "84 mg/L", "84.0 mg/L", SameSpelled},
		{sulfate, "84 mg/L", "85 mg/L", Different},
		{sulfate, "<5 mg/L", "5 mg/L", Different},
		{sulfate, "84 mg/L", "0.084 g/L", SameWater},
		// 1 dKH is 10 mg/L CaO, 17.848 mg/L CaCO3 (DIN 38409-6; molar masses); 1 gpg is 17.118 (64.79891 mg in 3.785412 L).
		{"readings.alkalinity.value", "6.6 dKH", "118 mg/L CaCO3", SameWater},
		{"readings.alkalinity.value", "6.6 dKH", "113 mg/L CaCO3", Different},
		// calcium 40.078 and CaCO3 100.086 g/mol (IUPAC): 205 as Ca are 512 as CaCO3.
		{hardness, "205 mg/L Ca", "512 mg/L CaCO3", SameWater},
		{hardness, "205 mg/L Ca", "205 mg/L CaCO3", Different},
		{hardness, "[21 mg/L CaCO3, 22 mg/L CaCO3]", "[21 mg/L CaCO3]", Different},
		{hardness, "[21 mg/L CaCO3, 22 mg/L CaCO3]", "[21 mg/l CaCO3, 22 mg/L CaCO3]", SameSpelled},
		{"site", "north-well", "town-main", Different},
		{"weighed.gypsum.amount", "180 g", "0.18 kg", Different}, // no analyte: not judged to be the same
	} {
		if got := Compare(c.field, c.a, c.b); got != c.want {
			t.Errorf("%s: %q and %q: got %d, want %d", c.field, c.a, c.b, got, c.want)
		}
	}
}

func version(commit string, content, before string) Version {
	v := Version{Commit: commit, When: time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC), Content: []byte(content)}
	if content == "" {
		v.Content = nil
	}
	if before != "" {
		v.Before = [][]byte{[]byte(before)}
	}
	return v
}

func settingsOf(list []Setting, path string) (out []Setting) {
	for _, s := range list {
		if s.Path == path {
			out = append(out, s)
		}
	}
	return out
}

func TestHistory(t *testing.T) {
	edited := strings.Replace(plainSession, "168 mg/L", "186 mg/L", 1)
	amended := strings.Replace(edited, "---\n\nNotes", "amended:\n  - {key: readings.sulfate, was: 168 mg/L, by: ines, on: 2026-03-05T08:00+01:00, reason: digits turned}\n---\n\nNotes", 1)
	t.Run("amended in the same commit", func(t *testing.T) {
		got := settingsOf(History(journal.KindSession, []Version{version("b", amended, plainSession), version("a", plainSession, "")}), "readings.sulfate.value")
		if len(got) != 2 || got[1].Version != 0 || got[1].Before != "168 mg/L" || got[1].Amendment == nil || got[1].Silent {
			t.Fatalf("%+v", got)
		}
		if !got[0].First || got[0].Version != 1 {
			t.Fatalf("%+v", got[0])
		}
	})
	t.Run("amendment a commit later", func(t *testing.T) {
		got := settingsOf(History(journal.KindSession, []Version{version("c", amended, edited), version("b", edited, plainSession), version("a", plainSession, "")}), "readings.sulfate.value")
		if len(got) != 2 || got[1].Silent || got[1].Amendment == nil {
			t.Fatalf("%+v", got)
		}
	})
	t.Run("silently", func(t *testing.T) {
		got := settingsOf(History(journal.KindSession, []Version{version("b", edited, plainSession), version("a", plainSession, "")}), "readings.sulfate.value")
		if len(got) != 2 || !got[1].Silent {
			t.Fatalf("%+v", got)
		}
	})
	t.Run("the trace itself taken out", func(t *testing.T) {
		got := settingsOf(History(journal.KindSession, []Version{version("c", edited, amended), version("b", amended, plainSession), version("a", plainSession, "")}), "amended.readings.sulfate")
		if len(got) != 1 || !got[0].Silent || got[0].Before != "168 mg/L" {
			t.Fatalf("%+v", got)
		}
	})
	t.Run("squashed", func(t *testing.T) {
		got := settingsOf(History(journal.KindSession, []Version{version("a", amended, "")}), "readings.sulfate.value")
		if len(got) != 2 || got[0].Version != -1 || got[0].Before != "168 mg/L" || got[0].After != "186 mg/L" {
			t.Fatalf("%+v", got)
		}
	})
	t.Run("amended twice and squashed", func(t *testing.T) {
		twice := strings.Replace(amended, "digits turned}\n", "digits turned}\n  - {key: readings.sulfate, was: 186 mg/L, by: ines, on: 2026-03-06T08:00+01:00, reason: again}\n", 1)
		twice = strings.Replace(twice, "value: 186 mg/L", "value: 187 mg/L", 1)
		got := settingsOf(History(journal.KindSession, []Version{version("a", twice, "")}), "readings.sulfate.value")
		if len(got) != 3 || got[0].After != "186 mg/L" || got[1].After != "187 mg/L" {
			t.Fatalf("%+v", got)
		}
	})
	t.Run("written another way", func(t *testing.T) {
		for _, other := range rewritings {
			for _, s := range History(journal.KindSession, []Version{version("b", other, plainSession), version("a", plainSession, "")}) {
				if s.Version == 0 {
					t.Errorf("%+v", s)
				}
			}
		}
	})
	t.Run("a merge sets only what differs from all parents", func(t *testing.T) {
		left := strings.Replace(plainSession, "by: ines", "by: pia", 1)
		both := strings.Replace(edited, "by: ines", "by: pia", 1)
		merge := version("m", both, left)
		merge.Before = append(merge.Before, []byte(edited))
		for _, s := range History(journal.KindSession, []Version{merge, version("l", left, plainSession), version("r", edited, plainSession), version("a", plainSession, "")}) {
			if s.Version == 0 {
				t.Errorf("set by the merge: %+v", s)
			}
		}
	})
	t.Run("master data may change", func(t *testing.T) {
		before, after := "---\nname: North well\nstage: intake\n---\n", "---\nname: Old well\nstage: intake\n---\n"
		for _, s := range History(journal.KindSite, []Version{version("b", after, before)}) {
			if s.Silent {
				t.Errorf("%+v", s)
			}
		}
	})
	t.Run("removed", func(t *testing.T) {
		less := strings.Replace(plainSession, "  pH:       7.42\n", "", 1)
		got := settingsOf(History(journal.KindSession, []Version{version("b", less, plainSession)}), "readings.pH.value")
		if len(got) != 1 || !got[0].Silent || got[0].After != "" {
			t.Fatalf("%+v", got)
		}
	})
}

// FuzzHistory: whatever two versions hold, each value of the newer one was set
// last to what it is, and what is gone was set last to nothing.
func FuzzHistory(f *testing.F) {
	f.Add([]byte(plainSession), []byte(rewritings[0]))
	f.Add([]byte("---\nreadings: {pH: [}\n---\n"), []byte("---\namended: x\n---\n"))
	f.Add([]byte{}, []byte("---\n- a\n- b\n---\n"))
	f.Add([]byte("---\n'':"), []byte("---\n'F'?"))
	f.Fuzz(func(t *testing.T, a, b []byte) {
		if len(a)+len(b) > 1<<16 {
			return
		}
		old, now := Fields(a), Fields(b)
		want := map[string]string{}
		for _, field := range old {
			want[field.Path] = ""
		}
		for _, field := range now {
			want[field.Path] = field.Text
		}
		ambiguous := len(ByPath(old)) != len(old) || len(ByPath(now)) != len(now) // keys with points in them
		got := map[string]string{}
		for _, s := range History(journal.KindSession, []Version{{Commit: "b", Content: b, Before: [][]byte{a}}, {Commit: "a", Content: a}}) {
			if s.Version > 1 || s.Version < 0 && s.Amendment == nil {
				t.Fatalf("%+v", s)
			}
			if s.Version >= 0 && !strings.HasPrefix(s.Path, "amended") {
				got[s.Path] = s.After
			}
		}
		for p, text := range want {
			if after, ok := got[p]; (!ok || after != text) && !ambiguous && !strings.HasPrefix(p, "amended") {
				t.Fatalf("%q was set last to %q, %v; it is %q", p, after, ok, text)
			}
		}
	})
}
