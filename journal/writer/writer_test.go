package writer

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
	"time"

	"wj/journal"
)

var noon = time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)

func small(t *testing.T) *journal.Journal {
	t.Helper()
	j, err := journal.Load(fstest.MapFS{
		"wj.yaml":        {Data: []byte("format: 1\ntimezone: UTC\n")},
		"people/ines.md": {Data: []byte("---\nname: Ines\n---\n")},
		"owners/o.md":    {Data: []byte("---\nname: O\nself: true\n---\n")},
		"sites/tap.md":   {Data: []byte("---\nname: Tap\nowner: o\nstage: intake\n---\n")},
	}, journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func session(readings string) []byte {
	return []byte("---\nsite: tap\nsampled: 2026-03-06T08:00+00:00\nby: ines\nreadings:\n" + readings + "---\n")
}

func TestCheckRefusesWhatCannotBe(t *testing.T) {
	const path = "sessions/2026/2026-03-06-tap.md"
	for readings, refused := range map[string]bool{
		"  pH: 7.4\n":                                      false,
		"  pH: 76\n":                                       true,
		"  pH: -3\n":                                       true,
		"  pH: 14.1\n":                                     true,
		"  nitrate: 60 mg/L NO3\n":                         false,
		"  sulfate: 500000 mg/L\n":                         true,
		"  sulfate: 2500 mg/L\n":                           false,
		"  calcium: 500000 mg/L\n":                         true,
		"  sulfate: {value: 84 mg/L, lot: SU-1}\n":         true,
		"  sulfate: 84\n":                                  true,
		"  total_hardness: 90 mg/L CaCO3\n":                false,
		"  iron: {value: 1.85 mg/L, instrument: none-1}\n": true,
	} {
		findings := Check(small(t), noon, []File{{Path: path, New: session(readings)}})
		if Refused(findings) != refused {
			t.Errorf("%q: refused is %v: %v", readings, !refused, findings)
		}
	}
	// What the file had already is no reason, except in the field that is set.
	old := session("  pH: 76\n  chloride: 21 mg/L\n")
	changed := session("  pH: 76\n  chloride: 22 mg/L\n")
	if Refused(Check(small(t), noon, []File{{Path: path, Old: old, New: changed, Fields: [][]string{{"readings", "chloride"}}}})) {
		t.Error("an old error keeps a record from being corrected")
	}
	if !Refused(Check(small(t), noon, []File{{Path: path, Old: old, New: changed, Fields: [][]string{{"readings", "pH"}}}})) {
		t.Error("an error in the field that is set was taken")
	}
}

// TestAllOrNothing writes outside of a repository: a second file that cannot be written takes
// the first back, and a new record whose name is taken counts up.
func TestAllOrNothing(t *testing.T) {
	root := t.TempDir()
	file := func(name string) File { return File{Path: name, New: []byte("---\n---\n")} }
	taken := file("lots/B.md")
	if err := os.MkdirAll(filepath.Join(root, "lots/B.md"), 0o755); err != nil {
		t.Fatal(err)
	}
	if _, err := Write(context.Background(), root, Record{Files: []File{file("lots/A.md"), taken}, Subject: "x", Kept: true}); err == nil {
		t.Fatal("a folder was overwritten")
	}
	if _, err := os.Stat(filepath.Join(root, "lots/A.md")); err == nil {
		t.Error("half of a record was left")
	}
	for _, want := range []string{"sessions/s.md", "sessions/s-2.md", "sessions/s-3.md"} {
		f := file("sessions/s.md")
		f.Stem = "s"
		out, err := Write(context.Background(), root, Record{Files: []File{f}, Subject: "x", Kept: true})
		if err != nil || len(out.Paths) != 1 || out.Paths[0] != want {
			t.Errorf("%v, %v; want %s", out.Paths, err, want)
		}
	}
}
