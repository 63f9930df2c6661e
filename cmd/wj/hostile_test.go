package main

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"unicode"
	"unicode/utf8"

	"wj/testdata/raced"
)

// payloads are what a hostile pull request would put where a name, a reason or a note belongs. In front matter they stand
// as YAML escapes, which are plain ASCII in the file and controls in memory (YAML 1.2.2, 5.7); in notes and in Git they
// stand raw. The controls are those of ECMA-48, the operating system commands 8 and 52 those of xterm's "Control
// Sequences", the bidi controls those of Unicode Standard Annex 9, the workflow commands those of GitHub Actions.
const (
	escapedPayload = `"\e[31mRED\a\r\x9b8mC1\u202Egnp\u200Bz \e]52;c;aGk=\a\e]8;;http://e.example\e\\ &#27;[31m &#x9b;\n::set-output name=x::y\n::error::x\n<script>alert(1)</script><img src=x onerror=alert(1)> \"><b>\t%0A::warning::z"`
	rawPayload     = "\x1b[31mRED\a\r\u009b8mC1\u202egnp\u200bz \x1b]52;c;aGk=\a\x1b]8;;http://e.example\x1b\\ &#27;[31m &**#27;**[31m\n\n::set-output name=x::y\n\n::error::x\n\n<script>alert(1)</script>\n\n[x](javascript:alert(1)) \ufeff\n"
	plainPayload   = "\n&#27;[31m &#x9b;8m &**#27;**]52;c;aGk=&#7; <svg onload=alert(1)>\n\n::error::x\n\n[x](javascript:alert(1)) <a href=\"javascript:alert(1)\">y</a>\n"
	formulaPayload = `"=cmd|' /C calc'!A0"`
)

var freeText = regexp.MustCompile(`(?m)^(\s*)(name|what|note|deviation|cause|correction|effect|meaning|subject|principle|serial|sort|grade|laboratory|beer): .*$`)
var inlineText = regexp.MustCompile(`(reason|evidence|effect|remedy|do|source|laboratory): ("[^"]*"|[^,{}"]+)([,}])`)

// poison writes the payloads into every free text of a journal.
func poison(t *testing.T, dir string) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(dir, func(p string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			if e != nil && e.Name() == ".git" {
				return filepath.SkipDir
			}
			return err
		}
		src, err := os.ReadFile(p)
		if err != nil || !strings.HasSuffix(p, ".md") && e.Name() != "wj.yaml" {
			return err
		}
		n++
		payload := escapedPayload
		if n%3 == 0 {
			payload = formulaPayload
		}
		out := freeText.ReplaceAllString(string(src), "$1$2: "+strings.ReplaceAll(payload, "$", "$$"))
		out = inlineText.ReplaceAllString(out, "$1: "+strings.ReplaceAll(payload, "$", "$$")+"$3")
		if e.Name() != "wj.yaml" {
			if n%2 == 0 {
				out += rawPayload
			} else {
				out += plainPayload
			}
		}
		return os.WriteFile(p, []byte(out), 0o644)
	})
	if err != nil {
		t.Fatal(err)
	}
	if n < 100 {
		t.Fatalf("only %d records were poisoned", n)
	}
	for name, content := range map[string]string{
		"sessions/2026/2026-05-05-\x1b[31m\u202e.md": "---\nsite: \"\\e[31mnowhere\"\nsampled: \"\\e[5m2026\"\n\"\\e]52;c;aGk=\\a\": \"\\x9b1m\"\nreadings:\n  \"sul\\e[2Jfate\": \"\\e[31m5 mg/L\"\n  sulfate: {value: \"5 m\\e[8mg/L\", lot: \"\\u202E\"}\n  chloride: 5 mg/L\n---\n",
		"sessions/2026/::error::x.md":                "---\nsite: north-well\nsampled: 2026-05-05T08:00+03:00\nby: ines\nreadings:\n  sulfate: \"::error::7\"\n---\n::error::body\n",
		"sessions/2026/=cmd.md":                      "---\nsite: north-well\nsampled: 2026-05-05T08:00+03:00\nby: \"=1+1\"\nreadings:\n  sulfate: 5 mg/L\n---\n",
		"sessions/2026/2026-05-06-<script>.md":       "---\nsite: north-well\nsampled: 2026-05-06T08:00+03:00\nby: ines\nreadings:\n  sulfate: 5 mg/L\n---\n",
		"people/\u202e.md":                           "---\nname: \"\\e[31m\"\nemail: \"x@example.org\\r\\nBcc: all@example.org\"\n---\n",
		"actions/2026-05-05-\x9b.md":                 "---\nabout: \"\\e[31m\"\nopened: 2026-05-05\nby: \"\\a\"\ndeviation: \"\\e[31m\"\n---\n",
		"sites/x\ny.md":                              "---\nname: \"\\e[31m\"\nowner: \"\\x9b\"\nstage: \"\\e[1m\"\nplace: [55.7, 19.0]\nsince: 2023-10-01\n---\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), []byte(content), 0o644); err != nil {
			t.Logf("this file system does not take %q: %v", name, err)
		}
	}
}

func sessionsOf(t *testing.T, dir string) []string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(dir, "sessions", "*", "*.md"))
	if err != nil || len(names) == 0 {
		t.Fatal("no sessions", err)
	}
	return names
}

// hostileNames lists the record files whose names are no ids.
func hostileNames(dir string) []string {
	var out []string
	_ = filepath.WalkDir(dir, func(p string, e os.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(p, ".md") && regexp.MustCompile(`[^A-Za-z0-9.-]`).MatchString(e.Name()) {
			out = append(out, p)
		}
		return nil
	})
	return out
}

// unclean names the first character of an output that a terminal, a log viewer or a reader could be deceived by.
func unclean(out string, lineEnds string) string {
	if !utf8.ValidString(out) {
		return "invalid UTF-8"
	}
	for i, r := range out {
		if r == '\n' || strings.ContainsRune(lineEnds, r) {
			continue
		}
		if unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Bidi_Control, unicode.Zl, unicode.Zp) {
			return fmt.Sprintf("U+%04X in %q", r, out[max(0, i-60):min(len(out), i+40)])
		}
	}
	return ""
}

// hostileJournal is the example with its history, poisoned, in a repository whose newest commits are poisoned too.
func hostileJournal(t *testing.T) (dir string, wj func(args ...string) (out, errs string, status int)) {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git here: the hostile journal wants a history")
	}
	home := t.TempDir()
	env := os.Environ()
	for name, value := range map[string]string{"HOME": home, "XDG_CONFIG_HOME": home, "GIT_CONFIG_NOSYSTEM": "1", "GIT_AUTHOR_NAME": "\x1b[31m\u202eEve", "GIT_AUTHOR_EMAIL": "ines@quillmarsh.example",
		"GIT_COMMITTER_NAME": "\u009b31mEve", "GIT_COMMITTER_EMAIL": "ines@quillmarsh.example", "NO_COLOR": "1", "COLUMNS": "100", "WJ_NOW": "2026-10-01T12:00+03:00"} {
		env = append(env, name+"="+value)
	}
	// The program in a process of its own, as the scripts run it, so that several run at once.
	wj = func(args ...string) (string, string, int) {
		var out, errs bytes.Buffer
		c := exec.Command("wj", args...)
		c.Env, c.Stdout, c.Stderr = env, &out, &errs
		if err := c.Run(); err != nil && c.ProcessState == nil {
			t.Error(err)
			return "", "", -1
		}
		return out.String(), errs.String(), c.ProcessState.ExitCode()
	}
	dir = filepath.Join(t.TempDir(), "journal")
	if _, errs, status := wj("demo", dir); status != statusFine {
		t.Fatalf("demo: %s", errs)
	}
	git := func(args ...string) {
		t.Helper()
		c := exec.Command("git", append([]string{"-C", dir}, args...)...)
		c.Env = env
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("git %v: %v\n%s", args, err, out)
		}
	}
	for i, name := range sessionsOf(t, dir) { // a part of the many is as hostile as all
		if i%60 > 0 && !strings.Contains(name, "2026-06-0") {
			if err := os.Remove(name); err != nil {
				t.Fatal(err)
			}
		}
	}
	poison(t, dir)
	git("checkout", "-q", "-b", "x\u202ey-error")
	git("add", "-A")
	git("commit", "-q", "-m", "\x1b[31mred\x1b]52;c;aGk=\a\n\n::set-output name=x::y\r\u009b8m\n<script>\n\nReason: \x1b[31m\nCo-authored-by: \x1b[2J <x@example.org>")
	git("tag", "v\u202e1")
	return dir, wj
}

// TestHostileJournalInEverySink runs every command that reads on a journal whose every free text, name and commit is
// hostile, in every format, and looks at each byte that comes out.
func TestHostileJournalInEverySink(t *testing.T) {
	t.Parallel()
	dir, wj := hostileJournal(t)
	aside := t.TempDir()
	session, change, batch, lot, person := "2026-06-09-north-well", "2026-06-30-pale-lager-lower", "2026-163", "SU-2511", "ines"
	var commands [][]string
	add := func(format string, formats []string, args ...string) {
		if len(formats) == 0 {
			commands = append(commands, args)
		}
		for _, f := range formats {
			commands = append(commands, append(append([]string{}, args...), "--"+format, f))
		}
	}
	lists := []string{"table", "csv", "jsonl", "markdown"}
	for _, kind := range []string{"people", "owners", "sites", "lots", "instruments", "methods", "sessions", "targets", "changes", "signoffs", "batches", "events", "actions", "reports"} {
		add("format", lists, "ls", kind)
	}
	add("format", lists, "ls")
	for _, id := range []string{session, change, batch, "2026-07-01-pale-lager-lower-jonas", "2026-05-05-\x1b[31m\u202e", "::error::x", "x\ny", "no\x1b[31msuch"} {
		add("format", []string{"text", "markdown", "json"}, "show", id)
		add("format", []string{"text", "json"}, "blame", id)
		add("format", []string{"text", "markdown"}, "review", id)
		add("", nil, "trace", id, "--up")
		add("", nil, "amend", id, "note", "\x1b[31m", "-r", "\x1b[31m\u202e", "--by", "ines", "-n")
		add("", nil, "void", id, "-r", "\x1b[31m\u202e", "--by", "ines", "-n")
		add("", nil, "sign", id, "-m", "\x1b[31m", "--by", "jonas", "-n")
	}
	for _, id := range []string{person, "north-well", "meter-2", "sulfate", "pale-lager", "2026-03-10-membrane-replaced", "2026-04-14-north-well-sulfate", "2026-05-20-tarrow-lane", "quillmarsh", "=cmd", "\u202e"} {
		add("format", []string{"text", "markdown"}, "show", id)
	}
	for _, id := range []string{session, change, person, "=cmd"} {
		add("format", []string{"html"}, "show", id)
	}
	for _, id := range []string{session, "north-well", "x\ny"} {
		add("format", []string{"text", "json"}, "log", id)
	}
	add("format", []string{"text", "json"}, "trace", lot, "--if", "sulfate=-18%")
	add("format", []string{"text", "json", "sarif", "junit", "github"}, "lint", "--fail-on", "info")
	add("", nil, "lint", "no\x1b[31msuch.md")
	add("", nil, "lint", "--only", "no\x1b[31msuch")
	add("", nil, "explain", "no\x1b[31msuch")
	add("format", []string{"text", "markdown", "json"}, "diff", "main..HEAD")
	add("format", []string{"text", "markdown", "json"}, "diff", "main..HEAD", "--fields")
	add("format", []string{"text", "json"}, "status", "--all")
	add("format", []string{"text", "json"}, "verify", "--all")
	add("format", lists, "query", "sulfate > 0")
	add("format", lists, "query", "sulfate > 0", "--by", "site,by", "--show", "count,median(sulfate)")
	add("", nil, "query", "sulf\x1b[31mate > 0")
	add("", nil, "query", "site == \"\x1b[31m\u202e\"")
	add("", nil, "query", "sulfate > 0", "--unit", "sulfate=\x1b[31m")
	add("format", lists, "stock", "--all")
	add("format", lists, "due", "--all")
	add("", nil, "due", "--all", "--ical", "--all-owners")
	add("as", []string{"csv", "jsonl", "geojson", "ical", "wqx", "wqx-csv"}, "export", "--all-owners")
	add("", nil, "export", "--all-owners", "--wide")
	add("format", append([]string{"geojson", "svg"}, lists...), "map", "--all-owners")
	add("format", []string{"text", "svg"}, "chart", "sulfate", "--all-owners")
	add("format", []string{"text", "svg"}, "chart", "sulfate", "chloride", "--scatter", "--all-owners")
	add("format", []string{"text", "svg"}, "chart", "--ions", session)
	add("format", []string{"text", "svg"}, "chart", "--piper", "--all-owners")
	for _, owner := range []string{"quillmarsh", "tarrow-lane", "no\x1b[31msuch"} {
		add("format", []string{"text", "html", "markdown"}, "summary", "--owner", owner)
	}
	add("format", []string{"text", "markdown", "html"}, "sheet", change, "--volume", "1480 L")
	add("format", []string{"text", "markdown", "json"}, "treat", "--site", "north-well", "--site", "ro-permeate", "--target", "pale-lager", "--volume", "1500 L")
	add("", nil, "treat", "--site", "nor\x1b[31m", "--target", "\x1b[31m", "--volume", "1500 L")
	add("format", []string{"text", "markdown", "html"}, "method", "sulfate")
	add("", nil, "method")
	table := filepath.Join(aside, "t\u202e.csv")
	if err := os.WriteFile(table, []byte("site\x1b[31m,date\u202e,\"sulfate ::error::x\"\n\x1b]52;c;aGk=\a,\u009b2026-05-05,5\n::set-output name=x::y,2026-05-05,6\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	add("", nil, "import", table, "--guess")
	add("", nil, "import", table, "--map", table, "-n")
	add("", nil, "completion", "bash", "sessions")
	add("", nil, "completion", "bash", "sites")
	add("", nil, "completion", "bash", "ids")
	for _, shell := range []string{"bash", "zsh", "fish"} {
		add("", nil, "completion", shell)
	}
	add("", nil, "convert", "5 m\x1b[31mg", "dKH")
	add("", nil, "no\x1b[31msuch")
	add("", nil, "ls", "\x1b[31m")
	add("", nil, "ls", "--\x1b[31m")
	add("", nil, "show", session, "--at", "x\u202ey-error")
	add("", nil, "show", session, "--at", "no\x1b[31msuch")
	add("", nil, "new", "session", "north\x1b[31m", "-n")
	add("", nil, "new", "session", "north-well", "sulf\x1b[31mate=5 mg/L", "-n")
	add("", nil, "new", "event", "x", "what=\x1b[31m", "site=north-well", "-n")
	add("", nil, "mail", "--to", "x\r\nBcc: all@example.org", session, "--no-commit", "-o", filepath.Join(aside, "a.eml"))
	add("", nil, "bundle", filepath.Join(aside, "no.zip")) // refused: a name in the journal is not UTF-8

	look := func(args []string) {
		name := fmt.Sprintf("%q", args)
		out, errs, status := wj(append([]string{"-C", dir}, args...)...)
		if strings.Contains(errs, "fault in wj itself") {
			t.Errorf("%s: panic: %s", name, errs)
			return
		}
		all := strings.Join(args, " ")
		ends := ""
		if strings.Contains(all, "csv") || strings.Contains(all, "ical") || args[0] == "export" {
			ends = "\r"
		}
		if args[0] == "completion" || strings.Contains(all, "csv") || strings.Contains(all, "github") || args[0] == "export" || strings.HasSuffix(all, "-n") {
			ends += "\t"
		}
		if args[0] == "sheet" || args[0] == "summary" {
			ends += "\t"
		}
		if bad := unclean(out, ends); bad != "" {
			t.Errorf("%s: stdout has %s", name, bad)
		}
		if bad := unclean(errs, ""); bad != "" {
			t.Errorf("%s: stderr has %s", name, bad)
		}
		for _, stream := range []string{out, errs} {
			for line := range strings.Lines(stream) {
				if strings.HasPrefix(strings.TrimSpace(line), "::") && !strings.Contains(all, "github") {
					t.Errorf("%s: a line begins with a workflow command: %q", name, line)
				}
			}
		}
		if status == statusFailed && errs == "" {
			t.Errorf("%s: failed without a word", name)
		}
		checkForm(t, name, all, args[0], out)
	}
	var workers sync.WaitGroup
	waiting := make(chan []string)
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for args := range waiting {
				look(args)
			}
		})
	}
	for i, args := range commands {
		if raced.On() && i%4 > 0 { // all of them run without the race detector
			continue
		}
		waiting <- args
	}
	close(waiting)
	workers.Wait()
	pages := filepath.Join(aside, "pages")
	if _, errs, status := wj("-C", dir, "site", "-o", pages); status == statusFailed || unclean(errs, "") != "" {
		t.Errorf("site: %q", errs)
	}
	_ = filepath.WalkDir(pages, func(name string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() && e.Type().IsRegular() && strings.HasSuffix(name, ".html") {
			text, err := os.ReadFile(name)
			if bad := unclean(string(text), "\t"); err != nil || bad != "" {
				t.Errorf("site: %s has %s", filepath.Base(name), bad)
			}
			if strings.Contains(string(text), "<script>alert") || strings.Contains(string(text), "<img src=x") {
				t.Errorf("site: %s has a record's text as markup", filepath.Base(name))
			}
		}
		return err
	})
	for _, name := range hostileNames(dir) {
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
	}
	if _, errs, status := wj("-C", dir, "bundle", filepath.Join(aside, "b.zip")); status == statusFailed {
		t.Fatalf("bundle: %s", errs)
	}
	checkBundle(t, filepath.Join(aside, "b.zip"))
}

// liveTag is a tag of the payloads that no backslash has made text.
var liveTag = regexp.MustCompile(`(?i)(?:^|[^\\])<(?:script|img|svg on|a href|b>)`)

// addressLink is a link that a page makes of an address, its target within quotes.
var addressLink = regexp.MustCompile(`<a href="mailto:[A-Za-z0-9._%+-]+@[A-Za-z0-9.-]+">`)

// checkForm reads a machine format with a reader of its own.
func checkForm(t *testing.T, name, all, command, out string) {
	t.Helper()
	markup := func(s string) {
		if m := liveTag.FindString(s); m != "" {
			t.Errorf("%s: markup reaches the output: %q", name, m)
		}
	}
	switch {
	case out == "":
	case strings.Contains(all, "jsonl"):
		for line := range strings.Lines(out) {
			if !json.Valid([]byte(line)) {
				t.Errorf("%s: not JSON: %q", name, line)
			}
		}
	case strings.HasSuffix(all, "json") || strings.HasSuffix(all, "sarif"):
		if !json.Valid([]byte(out)) {
			t.Errorf("%s: not JSON: %.200q", name, out)
		}
	case strings.HasSuffix(all, "junit") || strings.HasSuffix(all, "svg") || strings.HasSuffix(all, "wqx"):
		markup(out)
		d := xml.NewDecoder(strings.NewReader(out))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Errorf("%s: not XML: %v", name, err)
				break
			}
		}
	case strings.HasSuffix(all, "csv") || command == "export" && strings.HasSuffix(all, "--wide"):
		rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		if err != nil {
			t.Errorf("%s: not CSV: %v", name, err)
		}
		for _, row := range rows {
			for _, field := range row {
				if field != "" && strings.ContainsRune("=+@\t\r", rune(field[0])) || strings.HasPrefix(field, "-") && len(field) > 1 && strings.Trim(field[1:], "0123456789.") != "" {
					t.Errorf("%s: a spreadsheet would run %q", name, field)
				}
			}
		}
	case strings.HasSuffix(all, "github"):
		for line := range strings.Lines(out) {
			if !regexp.MustCompile(`^::(error|warning|notice) file=[^:\r\n]*::`).MatchString(line) {
				t.Errorf("%s: a line that is no annotation of ours: %q", name, line)
			}
		}
	case strings.HasSuffix(all, "markdown"), strings.HasSuffix(all, "html"):
		markup(addressLink.ReplaceAllString(out, "")) // what a page makes of an address
	case strings.Contains(all, "ical"):
		for line := range strings.Lines(out) {
			if strings.HasPrefix(line, "::") || !strings.HasSuffix(line, "\r\n") || len(line) > 77 {
				t.Errorf("%s: not a content line of RFC 5545: %q", name, line)
			}
		}
	}
}

// checkBundle looks at the names and at the report in an auditor's archive.
func checkBundle(t *testing.T, path string) {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	for _, f := range z.File {
		if !filepath.IsLocal(filepath.FromSlash(f.Name)) || strings.Contains(f.Name, "\\") || unclean(f.Name, "") != "" || !f.Mode().IsRegular() && !f.Mode().IsDir() {
			t.Errorf("the archive holds an entry %q, mode %v", f.Name, f.Mode())
		}
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f.Name, ".html") && (strings.Contains(string(content), "<script") || unclean(string(content), "\t") != "") {
			t.Errorf("%s in the archive is not clean", f.Name)
		}
	}
}
