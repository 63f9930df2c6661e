package dataset

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"wj/journal"
)

// formats are the complete formats: each writes a journal and gives the name of what it
// wrote.
var formats = map[string]func(t testing.TB, j *journal.Journal, opt Options) string{
	"sqlite": sqliteOf,
	"parquet": func(t testing.TB, j *journal.Journal, opt Options) string {
		dir := filepath.Join(t.TempDir(), "out")
		export(t, j, opt, NewParquet(dir))
		return dir
	},
	"datapackage": func(t testing.TB, j *journal.Journal, opt Options) string {
		dir := t.TempDir()
		export(t, j, opt, NewDataPackage(dir, "A journal", opt.Origin))
		return dir
	},
	"jsonl": func(t testing.TB, j *journal.Journal, opt Options) string {
		name := filepath.Join(t.TempDir(), "out.jsonl")
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		export(t, j, opt, NewJSONLines(f))
		return name
	},
}

func export(t testing.TB, j *journal.Journal, opt Options, sink Sink) {
	t.Helper()
	if _, err := Export(j, opt, sink); err != nil {
		t.Fatal(err)
	}
}

// TestRoundTrip: every complete format gives every record of the example back, byte for
// byte.
func TestRoundTrip(t *testing.T) {
	j := example(t)
	for name, write := range formats {
		t.Run(name, func(t *testing.T) {
			where := write(t, j, Options{Origin: testOrigin})
			if got := Detect(where); got != name {
				t.Fatalf("it is taken for %q", got)
			}
			n := 0
			h, err := Restore(where, "", func(r Record) error {
				n++
				want, err := fs.ReadFile(j.FS, r.Path)
				if err != nil || r.Edited || !bytes.Equal(want, r.Content) {
					t.Errorf("%s: %v, edited %v\n%s", r.Path, err, r.Edited, r.Content)
				}
				return nil
			}, func(p *Problem) { t.Error(p) })
			if err != nil || !h.Complete || h.JournalID != testOrigin.JournalID || h.Commit != testOrigin.Commit {
				t.Fatalf("%+v %v", h, err)
			}
			if n != len(j.Files)+1 {
				t.Errorf("%d records of %d", n, len(j.Files)+1)
			}
		})
	}
}
