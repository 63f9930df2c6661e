package dataset

import (
	"strings"
	"testing"
	"testing/fstest"

	"wj/journal"
)

// memory keeps what is exported.
type memory struct {
	entries []*Entry
	rows    []Row
}

func (m *memory) Write(e *Entry) error {
	m.entries = append(m.entries, &Entry{Kind: e.Kind, ID: e.ID, Meaning: e.Meaning, Rows: append([]Row(nil), e.Rows...)})
	m.rows = append(m.rows, e.Rows...)
	return nil
}
func (m *memory) Finish() error { return nil }

// TestColumnsHoldTheRecord: every record of the example comes back from its columns
// alone, equal in meaning, and can be written from them.
func TestColumnsHoldTheRecord(t *testing.T) {
	j := example(t)
	var m memory
	if _, err := Export(j, Options{Origin: testOrigin}, &m); err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, e := range m.entries {
		if e.Kind == journal.NoKind {
			continue
		}
		n++
		rows := rowsOf{}
		for _, r := range e.Rows {
			rows[r.Table.Name] = append(rows[r.Table.Name], r.Values)
		}
		record := rows["records"][0]
		if asText(record[8]) != "1" {
			t.Errorf("%s %s: not all of it is in columns", e.Kind, e.ID)
		}
		got, body := rows.meaning(e.Kind), asText(record[9])
		if digest(e.Kind, e.ID, got, body) != asText(record[7]) {
			t.Errorf("%s %s: %v became %v", e.Kind, e.ID, e.Meaning, got)
			continue
		}
		src, err := compose(e.Kind, got, body)
		if err != nil {
			t.Errorf("%s %s: %v", e.Kind, e.ID, err)
		}
		if n < 3 || e.Kind == journal.KindSettings {
			t.Logf("%s", src)
		}
	}
	if n != len(j.Files)+1 {
		t.Errorf("%d records of %d", n, len(j.Files)+1)
	}
}

// TestNamesAreFree: no table and no column has a name that SQL keeps for itself, and no
// table two columns of one name.
func TestNamesAreFree(t *testing.T) {
	tables := map[string]bool{}
	for _, x := range AllTables() {
		if Reserved(x.Name) || tables[x.Name] {
			t.Errorf("the table %s", x.Name)
		}
		tables[x.Name] = true
		columns := map[string]bool{}
		for _, c := range x.Columns {
			if Reserved(c.Name) || columns[c.Name] || c.Name != strings.ToLower(c.Name) || c.Doc == "" {
				t.Errorf("the column %s.%s (%s)", x.Name, c.Name, c.Doc)
			}
			columns[c.Name] = true
		}
	}
}

// TestUntidyRecords: what columns cannot hold is said, and never lost.
func TestUntidyRecords(t *testing.T) {
	files := fstest.MapFS{"wj.yaml": {Data: []byte("format: 1\nname: \"\"\nunits: {}\n")},
		"people/ines.md":     {Data: []byte("---\nname: Ines\nhobby: swimming\nsince: 31.12.2025\n---\n")},
		"sessions/2026/a.md": {Data: []byte("---\nsite: nowhere\nsampled: yesterday\nreadings: {hardnes: 3, sulfate: [1 mg/L, 2 mg/L], calcium: \"7,42 mg/L\"}\n---\r\nText\r\n")},
		"sessions/2026/b.md": {Data: []byte("no front matter")},
		"owners/c.md":        {Data: []byte("---\nname: \xff\n---\n")},
	}
	j, err := journal.Load(files, journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sqliteOf(t, j, Options{Origin: testOrigin})
	var m memory
	notes, err := Export(j, Options{Origin: testOrigin}, &m)
	if err != nil || len(notes) != 1 || !strings.Contains(notes[0], "owners/c.md") {
		t.Errorf("%q %v", notes, err)
	}
	for _, e := range m.entries {
		if e.Kind != journal.NoKind {
			if whole := asText(e.Rows[0].Values[8]); whole != "0" && e.ID != "a" {
				t.Errorf("%s %s is said to be in its columns: %v", e.Kind, e.ID, e.Meaning)
			}
		}
	}
}
