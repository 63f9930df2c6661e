package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"wj/journal/exchange"
	"wj/render"
)

// outside skips a test that starts a large program: they take seconds to start, and
// CI has little time. WJ_PROGRAMS=1 runs them.
func outside(t *testing.T, program string) string {
	t.Helper()
	if os.Getenv("WJ_PROGRAMS") == "" {
		t.Skip("WJ_PROGRAMS=1 runs it: it starts " + program)
	}
	path, err := exec.LookPath(program)
	if err != nil {
		t.Skip("no " + program + " here")
	}
	return path
}

// convert has LibreOffice turn a file into another format.
func convert(t *testing.T, office, dir, name, to string) []byte {
	t.Helper()
	cmd := exec.Command(office, "-env:UserInstallation=file://"+filepath.ToSlash(filepath.Join(dir, "profile")), "--headless", "--norestore",
		"--infilter=CSV:44,34,76,1", "--convert-to", to, "--outdir", filepath.Join(dir, "out"), filepath.Join(dir, name))
	if text, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	content, err := os.ReadFile(filepath.Join(dir, "out", strings.TrimSuffix(name, filepath.Ext(name))+"."+to))
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// TestSpreadsheet opens what is written in LibreOffice Calc, and what that saved in
// wj: numbers arrive as numbers, texts as they are, and no text becomes a formula.
func TestSpreadsheet(t *testing.T) {
	office := outside(t, "soffice")
	dir := t.TempDir()
	texts := []string{"=1+1", "+cmd|x", "@SUM(1,2)", "-2+3", "\t=5+5", "\r=6+6", "=HYPERLINK(\"http://x.example\",\"y\")", "  =7", "Grüße, Åsa – ü", "<0.02", ">200", "6.1.2"}
	numbers := []string{"84.2", "0.5", "1175", "-12.5", "0.0012", "7.40", "1e-3", "0", "100000000", "3", "-1", "2.25"}
	values := []string{"84.2", "0.5", "1175", "-12.5", "0.0012", "7.4", "0.001", "0", "100000000", "3", "-1", "2.25"}
	var rows [][]string
	for i := range texts {
		rows = append(rows, []string{texts[i], numbers[i]})
	}
	var table bytes.Buffer
	if err := render.CSV(&table, []string{"text", "number"}, rows); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "table.csv"), table.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	book, err := exchange.ReadWorkbook(convert(t, office, dir, "table.csv", "xlsx"), "")
	if err != nil {
		t.Fatal(err)
	}
	if len(book.Lines) != len(rows)+1 {
		t.Fatalf("%d rows arrived of %d", len(book.Lines), len(rows)+1)
	}
	for i, line := range book.Lines[1:] {
		if got := line.Cells[0].Text; !strings.HasSuffix(got, strings.TrimSpace(texts[i])) { // before it may stand the guard and a replaced control
			t.Errorf("%q arrived as %q", texts[i], got)
		}
		if line.Cells[1].Text != values[i] {
			t.Errorf("%s arrived as %q", numbers[i], line.Cells[1].Text)
		}
	}
	flat := string(convert(t, office, dir, "table.csv", "fods"))
	if strings.Contains(flat, "table:formula") {
		t.Errorf("a text became a formula:\n%s", flat)
	}
	if n := strings.Count(flat, `office:value-type="float"`); n != len(numbers) {
		t.Errorf("%d numbers, want %d", n, len(numbers))
	}
}

// TestSheetOfPaper prints the summary of the brewery with most sites, of every period,
// in Chromium, on sheets of A4.
func TestSheetOfPaper(t *testing.T) {
	browser := outside(t, "chromium")
	dir := t.TempDir()
	var out, talk bytes.Buffer
	wj := func(args ...string) {
		t.Helper()
		env := map[string]string{"WJ_NOW": "2026-10-01T09:00:00+03:00", "PATH": os.Getenv("PATH"), "HOME": dir}
		if code := run(args, nil, &out, &talk, func(name string) string { return env[name] }); code != 0 {
			t.Fatalf("%v: %s", args, talk.String())
		}
	}
	pages := regexp.MustCompile(`/Type\s*/Page\b`)
	for _, since := range []string{"2023", "2024", "2025", "2026", "2026-07"} {
		for _, owner := range []string{"quillmarsh", "tarrow-lane"} {
			page, pdf := filepath.Join(dir, owner+since+".html"), filepath.Join(dir, owner+since+".pdf")
			wj("-C", "../../example-journal", "summary", "--owner", owner, "--since", since, "-o", page)
			if text, err := exec.Command(browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+page).CombinedOutput(); err != nil {
				t.Fatalf("%v\n%s", err, text)
			}
			content, err := os.ReadFile(pdf)
			if err != nil {
				t.Fatal(err)
			}
			if n := len(pages.FindAll(content, -1)); n < 1 || n > 6 || !bytes.Contains(content, []byte("/MediaBox [0 0 594.9")) {
				t.Errorf("%s since %s: %d pages, want a few of A4", owner, since, n)
			}
		}
	}
}
