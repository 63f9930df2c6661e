package exchange

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

func TestResultsNeverGiveABoundAsANumber(t *testing.T) {
	j := smallJournal(t, nil)
	table := Results(j, j.Sessions.List, Options{Derived: true})
	var b bytes.Buffer
	if err := table.WriteCSV(&b, false); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, h := range rows[0] {
		at[h] = i
	}
	seen := map[string][]string{}
	for _, r := range rows[1:] {
		seen[r[at["session"]]+" "+r[at["analyte"]]] = r
	}
	for _, c := range []struct{ row, column, want string }{
		{"2026-03-04-north-well chloride", "value", ""},
		{"2026-03-04-north-well chloride", "bound", "<"},
		{"2026-03-04-north-well chloride", "bound_value", "5"},
		{"2026-03-04-north-well chloride", "u", ""},
		{"2026-03-04-north-well sulfate", "value", "170"}, // mean of 84 and 86, times 2
		{"2026-03-04-north-well sulfate", "typed", "84 mg/L, 86 mg/L × 2"},
		{"2026-03-04-north-well sulfate", "replicates", "2"},
		{"2026-03-04-north-well pH", "typed", "7.40"},
		{"2026-03-04-north-well bicarbonate", "derived", "true"},
		{"2026-03-05-tarrow-bore alkalinity", "typed_unit", "gpg"},
		{"2026-03-05-tarrow-bore alkalinity", "sampled", "2026-03-05T23:30:00-05:00"},
		{"2026-03-05-tarrow-bore alkalinity", "laboratory", "'=cmd|'/C calc'!A0"}, // no formula
	} {
		if got := seen[c.row]; got == nil || got[at[c.column]] != c.want {
			t.Errorf("%s %s: got %q, want %q", c.row, c.column, got, c.want)
		}
	}
	// 1 grain CaCO3 per US gallon is 17.118 mg/L (Hem 1985, USGS Water-Supply Paper 2254, p. 159).
	if got := seen["2026-03-05-tarrow-bore alkalinity"][at["value"]]; !strings.HasPrefix(got, "260.1") {
		t.Errorf("15.2 gpg became %s mg/L CaCO3, want 260.2", got)
	}
	b.Reset()
	if err := table.WriteJSONLines(&b); err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(strings.TrimSpace(b.String()), "\n") {
		var o map[string]any
		if err := json.Unmarshal([]byte(line), &o); err != nil {
			t.Fatal(err)
		}
		if o["bound"] != nil && o["value"] != nil {
			t.Errorf("a bound with a value: %s", line)
		}
	}
}

// TestSQLiteShell opens what is written with the sqlite3 shell of the SQLite
// project: it checks the whole structure and counts.
func TestSQLiteShell(t *testing.T) {
	shell, err := exec.LookPath("sqlite3")
	if err != nil {
		t.Skip("no sqlite3 program")
	}
	for _, n := range []int{0, 1, 2, 300, 3000, 150_000} { // 150,000 rows need three levels of pages
		table := wideTable(n)
		content, err := SQLite([]Table{table, Analytes()})
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(t.TempDir(), "water.db")
		if err := os.WriteFile(name, content, 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(shell, name, `pragma integrity_check; select count(*), count(value), coalesce(sum(n),0), coalesce(sum(length(text)),0), coalesce(sum(flag),0) from results; select cas from analytes where analyte='sulfate'`).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		values, sum, length, flags := 0, 0, 0, 0
		for i, r := range table.Rows {
			if r[1] != nil {
				values++
			}
			if i%2 == 0 {
				flags++
			}
			sum += i
			length += len(r[2].(string))
		}
		want := fmt.Sprintf("ok\n%d|%d|%d|%d|%d\n14808-79-8\n", n, values, sum, length, flags)
		if string(out) != want {
			t.Errorf("%d rows: got %q, want %q", n, out, want)
		}
	}
}

func TestWideHasUnitsInItsHeads(t *testing.T) {
	j := smallJournal(t, nil)
	table := Wide(j, j.Sessions.List, Options{})
	heads := strings.Join(table.Heads(), "|")
	for _, want := range []string{"|pH|", "|sulfate (mg/L)", "|chloride (mg/L)|chloride bound|", "|alkalinity (mg/L CaCO3)|"} {
		if !strings.Contains(heads, want) {
			t.Errorf("%q lacks %q", heads, want)
		}
	}
	for _, row := range table.Rows {
		if len(row) != len(table.Columns) {
			t.Errorf("a row of %d for %d columns", len(row), len(table.Columns))
		}
	}
}

func TestOwnersAreToldApart(t *testing.T) {
	j := smallJournal(t, nil)
	if got := strings.Join(Owners(j, j.Sessions.List), " "); got != "quillmarsh tarrow-lane" {
		t.Errorf("owners: %s", got)
	}
	if sites := Sites(j, j.Sessions.List[:1]); len(sites.Rows) != 1 || sites.Rows[0][0] != "north-well" {
		t.Errorf("the sites of one owner's sessions: %v", sites.Rows)
	}
}

// TestDataPackage checks the descriptor against the files: what it says of each
// column must hold (Table Schema, Frictionless Standards).
func TestDataPackage(t *testing.T) {
	j := smallJournal(t, nil)
	files, err := DataPackage(j, []Table{Results(j, j.Sessions.List, Options{Derived: true}), Sites(j, j.Sessions.List)}, testNow)
	if err != nil {
		t.Fatal(err)
	}
	var p struct {
		Resources []struct {
			Path, Hash string
			Bytes      int
			Schema     struct {
				Fields     []struct{ Name, Type string }
				PrimaryKey []string
			}
		}
	}
	if err := json.Unmarshal(files[0].Content, &p); err != nil {
		t.Fatal(err)
	}
	if files[0].Name != "datapackage.json" || len(p.Resources) != 2 || len(files) != 3 {
		t.Fatalf("%d resources, %d files", len(p.Resources), len(files))
	}
	for i, r := range p.Resources {
		if r.Path != files[i+1].Name || r.Bytes != len(files[i+1].Content) {
			t.Errorf("resource %d does not describe %s", i, files[i+1].Name)
		}
		rows, err := csv.NewReader(bytes.NewReader(files[i+1].Content)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		keys := map[string]bool{}
		for n, row := range rows {
			key := ""
			for k, f := range r.Schema.Fields {
				if n == 0 && row[k] != f.Name {
					t.Errorf("field %q is head %q", f.Name, row[k])
				}
				if n > 0 && f.Type == "number" && row[k] != "" {
					if _, err := fmt.Sscanf(row[k], "%g", new(float64)); err != nil {
						t.Errorf("%s is no number: %q", f.Name, row[k])
					}
				}
				for _, name := range r.Schema.PrimaryKey {
					if f.Name == name {
						key += row[k] + "|"
					}
				}
			}
			if keys[key] {
				t.Errorf("two rows have the key %s", key)
			}
			keys[key] = true
		}
	}
}
