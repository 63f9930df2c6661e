package dataset

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/rogpeppe/go-internal/txtar"

	"wj/journal"
)

// TestFormat: the files of format 1 mean what testdata/format says, for this program
// as for any other that reads them.
func TestFormat(t *testing.T) {
	cases, err := filepath.Glob("../../../testdata/format/*.txtar")
	if err != nil || len(cases) < 10 {
		t.Fatal(len(cases), err)
	}
	for _, name := range cases {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txtar"), func(t *testing.T) {
			archive, err := txtar.ParseFile(name)
			if err != nil {
				t.Fatal(err)
			}
			files := fstest.MapFS{}
			want := map[string]string{}
			for _, f := range archive.Files {
				if strings.HasPrefix(f.Name, "want.") {
					want[f.Name] = string(f.Data)
				} else {
					files[f.Name] = &fstest.MapFile{Data: f.Data}
				}
			}
			got := readsAs(t, files)
			if *update {
				kept := archive.Files[:0]
				for _, f := range archive.Files {
					if !strings.HasPrefix(f.Name, "want.") {
						kept = append(kept, f)
					}
				}
				for _, part := range []string{"want.jsonl", "want.problems"} {
					if got[part] != "" {
						kept = append(kept, txtar.File{Name: part, Data: []byte(got[part])})
					}
				}
				archive.Files = kept
				if err := os.WriteFile(name, txtar.Format(archive), 0o666); err != nil {
					t.Fatal(err)
				}
				return
			}
			for _, part := range []string{"want.jsonl", "want.problems"} {
				if got[part] != want[part] {
					t.Errorf("%s is\n%s\nwant\n%s", part, got[part], want[part])
				}
			}
		})
	}
}

// aside are the tables that tell of an export or repeat what others hold.
var aside = []string{recordsTable.Name, "journals", "exports", "record_links", "journal_settings"}

// readsAs is what a journal's files mean: the rows of its facts, and the places of
// what is wrong with them.
func readsAs(t *testing.T, files fstest.MapFS) map[string]string {
	t.Helper()
	j, err := journal.Load(files, journal.Options{Sessions: true, Check: true})
	if err != nil {
		return map[string]string{"want.problems": "the journal cannot be read\n"}
	}
	problems := slices.Clone(j.Problems)
	for _, f := range j.Files {
		d, _, err := j.ReadRecord(f)
		if err != nil {
			t.Fatal(err)
		}
		problems = append(problems, journal.Check(d, f.Kind, f.Path, j)...)
	}
	var rows bytes.Buffer
	if len(problems) == 0 {
		var m memory
		if _, err := Export(j, Options{Origin: testOrigin}, &m); err != nil {
			t.Fatal(err)
		}
		for _, e := range m.entries {
			for _, r := range e.Rows {
				if r.Table.Layer == Facts && !slices.Contains(aside, r.Table.Name) {
					fmt.Fprintf(&rows, "{\"table\":%q", r.Table.Name)
					for i, v := range r.Values {
						if c := r.Table.Columns[i].Name; v != nil && c != "journal_id" {
							fmt.Fprintf(&rows, ",%q:%q", c, FormatValue(v))
						}
					}
					rows.WriteString("}\n")
				}
			}
		}
	}
	var places []string
	for _, p := range problems {
		places = append(places, fmt.Sprintf("%s:%d:%d %s\n", p.Path, p.Line, p.Column, p.Rule))
	}
	slices.Sort(places)
	return map[string]string{"want.jsonl": rows.String(), "want.problems": strings.Join(slices.Compact(places), "")}
}
