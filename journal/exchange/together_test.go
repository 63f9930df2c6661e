package exchange_test

import (
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/exchange/dataset"
	"wj/journal/journaltest"
)

// Two journals whose records have the same ids go into one export, and each comes back as it was.
func TestSeveralTogether(t *testing.T) {
	list := func() []exchange.Source {
		var out []exchange.Source
		for _, name := range []string{"mill", "lane"} {
			files := journaltest.Blend()
			files["owners/only-"+name+".md"] = "---\nname: Only " + name + "\n---\n"
			files["wj.yaml"] = strings.TrimRight(files["wj.yaml"], "\n") + "\njournal: " + name + "-k7m3q9x2wd\n"
			j := journaltest.Load(t, files)
			out = append(out, exchange.Source{Name: name, Journal: j, Options: dataset.Options{Origin: dataset.Origin{JournalID: j.Settings.Journal}}})
		}
		return out
	}
	two := list()
	for _, format := range []string{"sqlite", "parquet"} {
		where := filepath.Join(t.TempDir(), "water")
		x := exchange.Export{Format: format, Output: where}
		if _, err := x.Write(two); err != nil {
			t.Fatal(err)
		}
		for _, s := range two {
			n := 0
			r, err := exchange.Restore(fstest.MapFS{}, where, s.Name, func(records []dataset.Record) error {
				for _, record := range records {
					if want, err := fs.ReadFile(s.FS, record.Path); err != nil || string(want) != string(record.Content) {
						t.Errorf("%s: %s of %s: %v\n%s", format, record.Path, s.Name, err, record.Content)
					}
					n++
				}
				return nil
			})
			if err != nil || r.JournalID != s.JournalID || n != len(s.Files)+1 {
				t.Errorf("%s: %d records of %d of %s, %v", format, n, len(s.Files)+1, r.JournalID, err)
			}
			if r, err := exchange.Restore(s.FS, where, "", nil); err != nil || r.Same != n || r.New != 0 {
				t.Errorf("%s: the journal at hand is not found by its id: %+v, %v", format, r, err)
			}
		}
		_, err := exchange.Restore(fstest.MapFS{}, where, "", nil)
		if err == nil || err.Error() != "it holds 2 journals: lane-k7m3q9x2wd, mill-k7m3q9x2wd" {
			t.Errorf("%s, none chosen: %v", format, err)
		}
		two[1].JournalID = two[0].JournalID
		if _, err := x.Write(two); journal.HintOf(err) == "" || !strings.Contains(err.Error(), "mill and lane are one journal") {
			t.Errorf("%s: two copies of one journal: %v", format, err)
		}
		two = list()
	}
}
