package dataset

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"
	"time"

	"wj/journal"
)

var testOrigin = Origin{JournalID: "quillmarsh-k7m3q9x2wd", Program: "test", Commit: "0123456789abcdef0123456789abcdef01234567", Time: time.Date(2026, 9, 22, 6, 0, 0, 0, time.UTC), Dirty: 0}

// example is the example journal.
func example(t testing.TB) *journal.Journal {
	t.Helper()
	j, err := journal.Load(journal.Dir("../../../example-journal"), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func sqliteOf(t testing.TB, j *journal.Journal, opt Options) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "water.db")
	sink, err := NewSQLite(name)
	if err != nil {
		t.Fatal(err)
	}
	notes, err := Export(j, opt, sink)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range notes {
		t.Log(n)
	}
	return name
}

// TestSQLite: keys and constraints hold, every view answers, the same journal gives the
// same bytes.
func TestSQLite(t *testing.T) {
	j := example(t)
	name := sqliteOf(t, j, Options{Origin: testOrigin})
	first, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	again, err := os.ReadFile(sqliteOf(t, j, Options{Origin: testOrigin}))
	if err != nil || string(first) != string(again) {
		t.Errorf("two exports of one journal differ: %d and %d bytes, %v", len(first), len(again), err)
	}
	db, err := sql.Open("sqlite", name)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, check := range []string{"PRAGMA integrity_check", "SELECT count(*) || ' broken references' FROM pragma_foreign_key_check"} {
		var said string
		if err := db.QueryRow(check).Scan(&said); err != nil || said != "ok" && said != "0 broken references" {
			t.Errorf("%s: %s %v", check, said, err)
		}
	}
	rows, err := db.Query("SELECT name FROM sqlite_schema WHERE type IN ('view', 'table') AND name NOT LIKE 'sqlite_%' ORDER BY name")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for rows.Next() {
		var n string
		_ = rows.Scan(&n)
		names = append(names, n)
	}
	for _, n := range names {
		var count int
		if err := db.QueryRow("SELECT count(*) FROM " + n).Scan(&count); err != nil {
			t.Errorf("%s: %v", n, err)
		}
		t.Logf("%s: %d", n, count)
	}
}
