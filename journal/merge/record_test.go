package merge

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wj/journal"
	"wj/journal/evidence"
)

const session = `---
site: north-well
sampled: 2026-03-04T08:15+01:00
by: ines
readings:
  # the meter was warm
  pH: {value: 7.42, lot: PH-2509}
  chloride: 21 mg/L
  sulfate: {value: 168 mg/L, lot: SU-2511}
---

A first note.
`

func TestRecord(t *testing.T) {
	edit := func(old, now string) string {
		if !strings.Contains(session, old) {
			t.Fatalf("no %q", old)
		}
		return strings.Replace(session, old, now, 1)
	}
	amended := func(key, was, by string) string {
		return fmt.Sprintf("amended:\n  - {key: readings.%s, was: %s, by: %s, on: 2026-03-0%dT09:00+01:00, reason: read again}\n---\n\n", key, was, by, len(by))
	}
	pH := strings.Replace(edit("7.42", "7.40"), "---\n\n", amended("pH", "7.42", "jonas"), 1)
	cl := strings.Replace(edit("21 mg/L", "23 mg/L"), "---\n\n", amended("chloride", "21 mg/L", "ines"), 1)
	flow := strings.Replace(edit("21 mg/L", "23 mg/L"), "---\n\n", "amended: [{key: readings.chloride, was: 21 mg/L, by: ines, on: 2026-03-04T09:00+01:00, reason: read again}]\n---\n\n", 1)
	change := "---\nfor: bitter\nauthor: pia\nbasis:\n  - {session: a, share: 60 %}\n  - {session: b, share: 40 %}\nvolume: 1000 L\nadd:\n  gypsum: {amount: 80 g}\n---\n"
	for name, c := range map[string]struct {
		path, base, ours, theirs string
		want                     []string // in the result
		conflicts                string
	}{
		"two amendments":                 {"sessions/x.md", session, pH, cl, []string{"pH: {value: 7.40, lot: PH-2509}\n  chloride: 23 mg/L\n", "by: ines, on: 2026-03-04T09:00+01:00, reason: read again}\n  - {key: readings.pH"}, ""},
		"amendments written in one line": {"sessions/x.md", session, pH, flow, []string{"chloride: 23 mg/L", "amended:\n  - {key: readings.chloride, was: 21 mg/L, by: ines, on: 2026-03-04T09:00+01:00, reason: read again}\n  - {key: readings.pH"}, ""},
		"two new readings":               {"sessions/x.md", session, edit("  sulfate", "  nitrate: 4 mg/L NO3\n  sulfate"), edit("SU-2511}\n", "SU-2511}\n  sodium: 9 mg/L\n"), []string{"nitrate: 4", "sodium: 9"}, ""},
		"one reading, two values":        {"sessions/x.md", session, edit("21 mg/L", "22 mg/L"), edit("21 mg/L", "23 mg/L"), []string{"<<<<<<< ours\n  chloride: 22 mg/L\n||||||| before\n  chloride: 21 mg/L\n=======\n  chloride: 23 mg/L\n>>>>>>> theirs\n"}, "readings.chloride"},
		"two notes":                      {"sessions/x.md", session, session + "\nOurs.\n", session + "\nTheirs.\n", []string{"A first note.\n\nOurs.\n\nTheirs.\n"}, ""},
		"taken out and edited":           {"sessions/x.md", session, edit("  chloride: 21 mg/L\n", ""), edit("21 mg/L", "22 mg/L"), []string{"  chloride: 22 mg/L\n>>>>>>> theirs"}, "readings.chloride"},
		"two samples of one name":        {"sessions/x.md", "", session, edit("08:15", "10:15"), []string{"<<<<<<< ours\n---\nsite: north-well"}, "two sessions of one site and day"},
		"a dose that nobody worked out":  {"changes/x.md", change, strings.Replace(change, "80 g", "90 g", 1), strings.Replace(change, "1000 L", "1200 L", 1), []string{"=======\nvolume: 1200 L\n", "<<<<<<< ours\nadd:\n  gypsum: {amount: 90 g}"}, "volume, add"},
		"the settings":                   {"wj.yaml", "format: 1\nlimits:\n  nitrate: {max: 50 mg/L NO3}\n", "format: 1\nlimits:\n  nitrate: {max: 50 mg/L NO3}\n  sulfate: {max: 250 mg/L}\n", "format: 1\nname: A\nlimits:\n  nitrate: {max: 40 mg/L NO3}\n", []string{"format: 1\nname: A\nlimits:\n  nitrate: {max: 40 mg/L NO3}\n  sulfate: {max: 250 mg/L}\n"}, ""},
	} {
		var base []byte
		if c.base != "" {
			base = []byte(c.base)
		}
		merged, conflicts := Record(c.path, base, []byte(c.ours), []byte(c.theirs))
		for _, want := range c.want {
			if !strings.Contains(string(merged), want) {
				t.Errorf("%s: %q is missing:\n%s", name, want, merged)
			}
		}
		if got := strings.Join(conflicts, ", "); got != c.conflicts {
			t.Errorf("%s: conflicts %q, want %q:\n%s", name, got, c.conflicts, merged)
		}
	}
}

// Whatever two people do to one session, each value, amendment and note of
// either is in the result; where both gave one thing two values it is a
// conflict, and never a third value.
func TestNoFactIsLost(t *testing.T) {
	analytes := []string{"pH", "chloride", "sulfate", "sodium", "calcium", "nitrate"}
	rapid.Check(t, func(t *rapid.T) {
		type record struct {
			readings map[string]string
			amended  []string
			notes    string
		}
		write := func(r record, flow bool) []byte {
			var b strings.Builder
			b.WriteString("---\nsite: north-well\nsampled: 2026-03-04T08:15+01:00\nby: ines\nreadings:\n")
			for _, a := range analytes {
				if v := r.readings[a]; v != "" {
					fmt.Fprintf(&b, "  %s: %s\n", a, v)
				}
			}
			switch {
			case len(r.amended) == 0:
			case flow:
				fmt.Fprintf(&b, "amended: [%s]\n", strings.Join(r.amended, ", "))
			default:
				b.WriteString("amended:\n  - " + strings.Join(r.amended, "\n  - ") + "\n")
			}
			b.WriteString("---\n" + r.notes)
			return []byte(b.String())
		}
		start := record{readings: map[string]string{"pH": "7.4", "chloride": "21 mg/L", "sulfate": "168 mg/L"}, notes: "\nAs usual.\n"}
		act := func(who string) (record, []byte) {
			r := record{readings: map[string]string{}, notes: start.notes}
			for k, v := range start.readings {
				r.readings[k] = v
			}
			for i := range rapid.IntRange(0, 4).Draw(t, who) {
				a := rapid.SampledFrom(analytes).Draw(t, "analyte")
				unit := " mg/L"
				if a == "pH" {
					unit = ""
				}
				if was := r.readings[a]; was != "" {
					r.amended = append(r.amended, fmt.Sprintf("{key: readings.%s, was: %s, by: %s, on: 2026-03-05T%02d:00+01:00, reason: read again}", a, was, who, 8+i))
				}
				r.readings[a] = fmt.Sprint(rapid.IntRange(1, 14).Draw(t, "value")) + unit
				if rapid.Bool().Draw(t, "note") {
					r.notes += "\n" + who + " says " + fmt.Sprint(i) + ".\n"
				}
			}
			return r, write(r, rapid.Bool().Draw(t, "flow"))
		}
		a, ours := act("ines")
		b, theirs := act("jonas")
		merged, conflicts := Record("sessions/2026-03-04-north-well.md", write(start, false), ours, theirs)
		text := string(merged)
		for _, side := range []record{a, b} {
			for k, v := range side.readings {
				if v != start.readings[k] && !strings.Contains(text, "  "+k+": "+v+"\n") {
					t.Fatalf("%s: %s is lost:\n%s", k, v, text)
				}
			}
			for _, item := range side.amended {
				if !strings.Contains(text, item) {
					t.Fatalf("%s is lost:\n%s", item, text)
				}
			}
			for _, line := range strings.Split(side.notes, "\n") {
				if !strings.Contains(text, line) {
					t.Fatalf("%q is lost:\n%s", line, text)
				}
			}
		}
		clash := false
		for _, k := range analytes {
			x, y, was := a.readings[k], b.readings[k], start.readings[k]
			clash = clash || x != y && x != was && y != was
		}
		if clash != (len(conflicts) > 0) {
			t.Fatalf("conflicts %v:\n%s", conflicts, text)
		}
		if !clash {
			for _, f := range evidence.Fields(merged) {
				if k, ok := strings.CutPrefix(f.Path, "readings."); ok {
					k = strings.TrimSuffix(k, ".value")
					if f.Text != a.readings[k] && f.Text != b.readings[k] {
						t.Fatalf("%s: %s is nobody's", k, f.Text)
					}
				}
			}
			if n := len(evidence.Amendments(journal.KindSession, merged)); n != len(a.amended)+len(b.amended) {
				t.Fatalf("%d amendments of %d and %d:\n%s", n, len(a.amended), len(b.amended), text)
			}
		}
	})
}

// FuzzRecord holds that no line which either side wrote is lost, whatever the
// bytes are.
func FuzzRecord(f *testing.F) {
	f.Add([]byte(session), []byte(strings.Replace(session, "21 mg/L", "22 mg/L", 1)), []byte(strings.Replace(session, "7.42", "7.43", 1)))
	f.Add([]byte("---\na: [1,\n 2]\n---\n"), []byte("---\na:\n- 1\n- 3\n---\nx"), []byte("---\n# c\na:\n  - {b: 1}\n---\ny\n"))
	f.Add([]byte(nil), []byte("---\r\nsite: x\r\n---\r\n"), []byte("---\nsite: y\n---\n"))
	f.Fuzz(func(t *testing.T, base, ours, theirs []byte) {
		merged, _ := Record("sessions/2026-03-04-north-well.md", base, ours, theirs)
		words := func(src []byte) string { return strings.Join(strings.Fields(string(src)), "") }
		was, is := words(base), words(merged)
		for _, side := range [][]byte{ours, theirs} {
			for _, field := range evidence.Fields(side) {
				text := words([]byte(field.Text))
				if !strings.Contains(was, text) && !strings.Contains(is, text) && strings.Contains(words(side), text) && !strings.HasPrefix(text, "[") {
					t.Fatalf("%s: %q is lost:\n%s", field.Path, field.Text, merged)
				}
			}
		}
	})
}
