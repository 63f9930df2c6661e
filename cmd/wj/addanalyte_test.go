package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// An analyte is one row of water/analytetable.go and one page. The program is
// built anew from a copy of the sources to which bromide was added so, and is
// asked for everything that an analyte has. It takes as long as building the
// program: WJ_PROGRAMS=1.
func TestAnAnalyteIsOneRowAndOnePage(t *testing.T) {
	if os.Getenv("WJ_PROGRAMS") == "" {
		t.Skip("WJ_PROGRAMS is not set")
	}
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	run := func(in, name string, args ...string) string {
		t.Helper()
		c := exec.Command(name, args...)
		c.Dir, c.Env = in, append(os.Environ(), "NO_COLOR=1", "COLUMNS=100")
		out, err := c.CombinedOutput()
		if err != nil {
			t.Fatalf("%s %q: %v\n%s", name, args, err, out)
		}
		return string(out)
	}
	source, journal := filepath.Join(dir, "source"), filepath.Join(dir, "journal")
	for _, at := range strings.Fields("water testdata go.mod go.sum journal lint query render cmd docs example-journal") {
		from := filepath.Join(root, at)
		info, err := os.Stat(from)
		if err == nil && info.IsDir() {
			err = os.CopyFS(filepath.Join(source, at), os.DirFS(from))
		} else if err == nil {
			var src []byte
			if src, err = os.ReadFile(from); err == nil {
				err = os.WriteFile(filepath.Join(source, at), src, 0o600)
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}

	// The whole of the work: CAS number and WQX name from memory.
	edit := func(name, old, with string) {
		t.Helper()
		name = filepath.Join(source, name)
		src, err := os.ReadFile(name)
		if err != nil || strings.Count(string(src), old) != 1 {
			t.Fatalf("%s: %v; %q must be there once", name, err, old)
		}
		if err := os.WriteFile(name, []byte(strings.Replace(string(src), old, with, 1)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	edit("water/analytetable.go", "}\n\n// computed are the rows", `	{Key: "bromide", Title: "bromide", Unit: MilligramLitre, Formula: "Br", Charge: -1, Plain: true, Ion: MinorIon, Total: "chloride",
		UCUM: "mg/L", Exchange: "Bromide", Speciation: "as Br", CAS: "24959-67-9", Typical: Accuracy{Absolute: 0.05, Relative: 0.1},
		Also: []string{"Br", "Br-"}, Doc: "dissolved bromide"},
}

// computed are the rows`)
	page, err := os.ReadFile(filepath.Join(source, "water/pages/chloride.md"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(source, "water/pages/bromide.md"), []byte(strings.Replace(string(page), "# Chloride", "# Bromide", 1)), 0o600); err != nil {
		t.Fatal(err)
	}

	run(source, "go", "test", "./water", "./query", "./journal") // masses, units, GNU units, pages, schema
	program := filepath.Join(dir, "wj")
	run(source, "go", "build", "-o", program, "./cmd/wj")
	run(dir, program, "demo", journal)
	const session = "2026-09-15-north-well"
	sums := []string{"query", `id == "` + session + `"`, "--columns", "anion_sum,dissolved_solids,ionic_strength,sodium", "--format", "csv"}
	before := run(journal, program, sums...)
	name := filepath.Join(journal, "sessions/2026", session+".md")
	src, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	with := func(line string) {
		t.Helper()
		if err := os.WriteFile(name, []byte(strings.Replace(string(src), "readings:\n", "readings:\n"+line, 1)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	with("  bromide: 30 mg/L\n")
	if after := run(journal, program, sums...); after == before {
		t.Errorf("bromide changes nothing: %s", after)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"query", "bromide > 20", "--columns", "id,bromide", "--format", "csv"}, session},
		{[]string{"query", "bromide > mmol(0.3)", "--columns", "id"}, session},
		{[]string{"show", session}, "bromide"},
		{[]string{"explain", "bromide"}, "79.904 g/mol"},
		{[]string{"explain", "anion_sum"}, "anion_sum"},
		{[]string{"convert", "1 mmol/L", "mg/L", "--analyte", "bromide"}, "79.9 mg/L"},
		{[]string{"convert", "1 mg/L Br", "mmol/L"}, "0.0125 mmol/L"},
		{[]string{"schema", "session"}, `"bromide"`},
		{[]string{"export", `site == "north-well"`, "--as", "wqx", "--since", "2026-09-15"}, "Bromide"},
		{[]string{"lint", name}, "nothing found"},
	} {
		if got := run(journal, program, c.args...); !strings.Contains(got, c.want) {
			t.Errorf("wj %s does not show %q:\n%s", strings.Join(c.args, " "), c.want, got)
		}
	}
	with("  bromid: 30 mg/L\n")
	c := exec.Command(program, "lint", name)
	c.Dir = journal
	if out, _ := c.CombinedOutput(); !strings.Contains(string(out), "did you mean bromide?") {
		t.Errorf("lint: %s", out)
	}
}
