package journal_test

import (
	"io/fs"
	"os"
	"strings"
	"testing"

	"wj/journal"
)

// TestOriginal brings every record of the example under a prefix and takes that back.
func TestOriginal(t *testing.T) {
	in := journal.Joined{Prefix: "mill"}
	fsys := os.DirFS("../example-journal")
	j, err := journal.Load(fsys, journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	moved := 0
	for _, f := range j.Files {
		content, err := fs.ReadFile(fsys, f.Path)
		if err != nil {
			t.Fatal(err)
		}
		there := in.Bring(f.Kind, content, func(id string) bool { return j.Exists(journal.KindTarget, id) })
		if string(there) != string(content) {
			moved++
		}
		if back := in.Original(f.Kind, there); string(back) != string(content) {
			t.Errorf("%s:\n%s\nbecame\n%s", f.Path, content, back)
		}
		if id := in.ID(f.ID); !in.Has(id) || !journal.ValidID(id, f.Kind) {
			t.Errorf("%s: %s", f.Path, id)
		}
	}
	if moved < 500 {
		t.Errorf("only %d records refer to others", moved)
	}
	signoff := "---\nof: 2026-03-11-pale\nby: 'jonas'\ncovers:\n  changes/2026-03-11-pale.md: ab\n  \"lots/SU-1.md\": ab\n  wj.yaml: cd\n---\nof: x\n"
	want := strings.NewReplacer("of: 2026-03-11-pale", "of: 2026-03-11-mill-pale", "'jonas'", "'mill-jonas'", "changes/2026-03-11-pale", "changes/2026-03-11-mill-pale", "lots/SU-1", "lots/mill-SU-1").Replace(signoff)
	if got := string(in.Bring(journal.KindSignoff, []byte(signoff), nil)); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	for id, want := range map[string]string{"spring": "mill-spring", "2026-03-02-spring-2": "2026-03-02-mill-spring-2", "SU-2511": "mill-SU-2511", "2026-041": "mill-2026-041"} {
		if got := in.ID(id); got != want {
			t.Errorf("%s: %s, want %s", id, got, want)
		}
	}
}
