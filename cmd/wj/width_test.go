package main

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"wj/render"
)

// screens are commands as a person types them, by the name of the file in testdata/screens that holds what they show: first in the demo,
// then in a brewery that the first of them founds. What they write is not undone.
var screens = []struct{ name, command string }{
	{"home", ""}, {"status", "status"}, {"due", "due"}, {"due-all", "due --all"}, {"stock", "stock"},
	{"query", "query sulfate>310 --columns id,sulfate,residual_alkalinity"}, {"query-groups", "query --by site --show count,median(sulfate)"},
	{"show-site", "show north-well"}, {"show-membrane", "show ro-permeate"}, {"show-session", "show 2026-09-15-north-well"}, {"show-lot", "show SU-2507"}, {"show-change", "show 2026-09-24-dark-mild-well"},
	{"ls", "ls"}, {"ls-sessions", "ls sessions --since 2026-09-10"}, {"ls-changes", "ls changes --since 2026"}, {"ls-sites", "ls sites"},
	{"chart", "chart sulfate --site north-well"}, {"chart-sites", "chart nitrate --by site"}, {"chart-ions", "chart --ions 2026-06-05-north-well"}, {"stats", "stats sulfate --site north-well"},
	{"map", "map --owner quillmarsh"}, {"trace", "trace SU-2507 --down --if sulfate=-18%"}, {"treat", "treat --site north-well --site ro-permeate --target wicket-bitter --volume 1500L"},
	{"review", "review 2026-09-24-dark-mild-well"}, {"review-waiting", "review --waiting"}, {"sheet", "sheet 2026-06-11-wicket-bitter-less-gypsum --volume 1500L"},
	{"log", "log 2026-09-15-north-well"}, {"blame", "blame 2025-10-14-su-2507"}, {"diff", "diff 2026-06-01..2026-07-01"}, {"verify", "verify"},
	{"summary", "summary --owner tarrow-lane --since 2026"}, {"lint", "lint --only reagent,limit"}, {"explain", "explain reagent/expired"}, {"explain-import", "explain import"},
	{"method", "method sulfate"}, {"method-list", "method"}, {"convert", "convert 2.4mmol/L mg/L"}, {"round-list", "round"}, {"migrate", "migrate --dry-run"}, {"resolve", "resolve"},
	{"sign", "sign 2026-09-24-dark-mild-well --dry-run"}, {"remark", "remark 2026-09-24-dark-mild-well Measured? --line basis --request --dry-run"}, {"anchor", "anchor --no-commit"},
	{"amend", "amend 2026-09-15-north-well sulfate 158mg/L --reason slip --dry-run"}, {"void", "void 2026-09-15-north-well --reason slip --dry-run"}, {"transfer", "transfer tarrow-bore --to quillmarsh --from 2026-10-01 --dry-run"},
	{"mail", "mail 2026-09-15-tarrow-bore --to tove@tarrow-lane.example -o ../results.eml --no-commit"}, {"export", "export --owner tarrow-lane -o ../results.csv"},
	{"page", "page sheet --site town-main -o ../sheet.html"}, {"import-guess", "import --guess ../results.csv -o ../map.yaml"}, {"demo", "demo ../second"}, {"unknown", "stats sulphat --site north-wel"}, {"wrong", "query sulfate>>3"},

	{"init", "init yard --name Yard --country LT --timezone Europe/Vilnius --site Tap --every 30d --tests pH,sulfate --full-name Ines --email ines@quillmarsh.example --git"},
	{"new", "-C yard new session tap sulfate=84mg/L pH=7.4"}, {"new-refused", "-C yard new session tap sulfate=84"}, {"home-new", "-C yard"}, {"status-new", "-C yard status"},
	{"enter", "-C yard enter tap --tests sulfate --new"}, {"round", "-C yard round --sites tap --tests pH --new"}, {"attach", "-C yard attach 2026-09-25-tap results.csv"}, {"hook", "-C yard hook install"},
	{"export-yard", "-C yard export -o own.csv"}, {"import", "-C yard import own.csv"}, {"site", "-C yard site -o pages"}, {"bundle", "-C yard bundle yard.zip"}, {"split", "-C yard split part --owner yard"}, {"join", "-C yard join part --prefix part"},
}

// typed is what is typed at a command; it is asked anew at each width.
var typed = map[string]string{"enter": "\n84\nq\n", "round": "\n72\nq\n"}

// verbatim show a file as it is, or a line to keep whole.
var verbatim = []string{"migrate", "sign", "remark", "anchor", "amend", "void", "transfer", "site"}

// changing is what differs with every edit of a file that wj init writes.
var changing = regexp.MustCompile(`\b[0-9a-f]{10}\b|\b[0-9a-f]{40}\b|\d+ bytes`)

// unshown are the commands whose output is not for a person.
var unshown = []string{"lsp", "schema", "completion", "man", "version"}

// tty keeps what a person would see at the end, on screens of three widths: not how far a long work was.
type tty struct {
	bytes.Buffer
	others map[int]io.Writer
}

func (*tty) Terminal() bool { return true }

func (t *tty) Screens() map[int]io.Writer { return t.others }

func (t *tty) Write(p []byte) (int, error) {
	if bytes.HasPrefix(p, []byte("\r")) {
		return len(p), nil
	}
	return t.Buffer.Write(p)
}

// typing is lines as a person types them, and sees them.
type typing struct {
	lines  []string
	screen io.Writer
}

func (k *typing) Read(p []byte) (int, error) {
	if len(k.lines) == 0 || k.lines[0] == "" {
		return 0, io.EOF
	}
	n := copy(p, k.lines[0])
	k.lines = k.lines[1:]
	return k.screen.Write(p[:n])
}

// holdWidth holds what was shown at each width to it: no line is longer, and no word is cut, which is one that a wider screen does not have.
func holdWidth(t *testing.T, name string, shown map[int]string) {
	word := regexp.MustCompile(`[\pL\d].*[\pL\d]`) // without the marks around it
	const indent = 4                               // of a line that cannot be parted: a command, a path
	words := map[string]bool{}
	for _, width := range []int{120, 80, 40} {
		if shown[width] == "" {
			t.Errorf("wj %s prints nothing at %d columns", name, width)
		}
		for line := range strings.Lines(shown[width]) {
			example := strings.HasPrefix(strings.TrimSpace(line), "wj ") || strings.HasPrefix(line, "Usage:") || strings.HasPrefix(line, "        --") // typed as it is
			if n := render.Width(strings.TrimRight(line, "\n")); n > width && !example && strings.Contains(strings.TrimSpace(line), " ") {
				t.Errorf("wj %s at %d columns: %d in %q", name, width, n, line)
			}
			for w := range strings.FieldsSeq(line) {
				w = word.FindString(w)
				if width < 120 && w != "" && !words[w] && !part(words, w, width-indent) && !strings.Contains(name, "chart") && !strings.Contains(name, "map") {
					t.Errorf("wj %s at %d columns cuts a word: %q in %q", name, width, w, line)
				}
				words[w] = true
			}
		}
	}
}

// part reports whether a word is of one that has no room on a line.
func part(words map[string]bool, w string, room int) bool {
	for long := range words {
		if render.Width(long) >= room && strings.Contains(long, w) {
			return true
		}
	}
	return false
}

// holdScreens compares what the commands show with what is kept, at 40, 80 and 120 columns, and holds it and their help to the width.
func holdScreens(t *testing.T, here, demo string, env func(columns int) func(string) string, current func(name, now string)) {
	t.Chdir(demo)
	at := func(columns []int, in string, args ...string) map[int]string {
		out := map[int]*tty{}
		main := &tty{others: map[int]io.Writer{}}
		for _, width := range columns {
			out[width] = &tty{}
			main.others[width] = out[width]
		}
		delete(main.others, columns[0])
		out[columns[0]] = main
		run(args, &typing{lines: strings.SplitAfter(in, "\n"), screen: main}, main, main, env(columns[0]))
		shown := map[int]string{}
		for width, o := range out {
			shown[width] = o.String()
		}
		return shown
	}
	had := map[string]bool{}
	for _, s := range screens {
		args := strings.Fields(s.command)
		if s.name == "init" {
			t.Chdir(filepath.Dir(demo))
		}
		shown := map[int]string{}
		if in, asks := typed[s.name]; asks {
			for _, width := range []int{80, 40, 120} {
				maps.Copy(shown, at([]int{width}, in, args...))
			}
		} else {
			shown = at([]int{80, 40, 120}, "", args...)
		}
		widths := []int{40, 80, 120}
		if slices.Contains(verbatim, s.name) {
			widths = []int{80}
		} else {
			holdWidth(t, s.command, shown)
		}
		var b strings.Builder
		for _, width := range widths {
			fmt.Fprintf(&b, "%s\n$ wj %s\n%s\n", strings.Repeat("=", width), s.command, shown[width])
		}
		text := b.String()
		if strings.Contains(s.command, "yard") {
			text = changing.ReplaceAllString(text, "…")
		}
		current(filepath.Join("testdata", "screens", s.name+".txt"), text)
		if args = append(args, "home"); args[0] == "-C" {
			args = args[2:]
		}
		had[args[0]] = true
	}
	var cl commandLine
	parser, err := kong.New(&cl, kong.Vars{"version": ""}, kong.ExplicitGroups(commandGroups))
	if err != nil {
		t.Fatal(err)
	}
	describe(parser.Model.Node)
	for _, n := range parser.Model.Children {
		switch {
		case n.Hidden:
			continue
		case !had[n.Name] && !slices.Contains(unshown, n.Name):
			t.Errorf("wj %s has no screen", n.Name)
		}
		if examples, _, _ := strings.Cut(n.Detail, "\n\n"); n.Name != "lsp" && (!typedText(examples) || strings.Count(examples, "\n") < 1) {
			t.Errorf("the help of wj %s does not begin with two examples", n.Name)
		}
		help := map[int]string{}
		for _, width := range []int{120, 80, 40} {
			maps.Copy(help, at([]int{width}, "", n.Name, "--help"))
		}
		holdWidth(t, n.Name+" --help", help)
	}
	kept, err := os.ReadDir(filepath.Join(here, "testdata", "screens"))
	if err != nil || len(kept) != len(screens) {
		t.Errorf("testdata/screens holds %d files, not %d: %v", len(kept), len(screens), err)
	}
}
