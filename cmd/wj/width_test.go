package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"wj/render"
)

// screens are what the commands print for a person, by the name of the file in testdata/screens that holds it at 80 columns.
var screens = map[string]string{
	"status": "status", "due": "due", "stock": "stock", "query": "query sulfate>310 --columns id,sulfate,residual_alkalinity", "query-groups": "query --by site --show count,median(sulfate)",
	"show-site": "show north-well", "show-session": "show 2026-09-15-north-well", "show-lot": "show SU-2507", "ls": "ls", "ls-sessions": "ls sessions --since 2026-09-10",
	"chart": "chart sulfate --site north-well", "chart-ions": "chart --ions 2026-06-05-north-well", "stats": "stats sulfate --site north-well", "map": "map --owner quillmarsh",
	"trace": "trace SU-2507 --down --if sulfate=-18%", "treat": "treat --site north-well --site ro-permeate --target wicket-bitter --volume 1500L", "review": "review 2026-09-24-dark-mild-well",
	"sheet": "sheet 2026-06-11-wicket-bitter-less-gypsum --volume 1500L", "log": "log 2026-09-15-north-well", "blame": "blame 2025-10-14-su-2507", "diff": "diff 2026-06-01..2026-07-01", "verify": "verify",
	"summary": "summary --owner tarrow-lane --since 2026", "lint": "lint --only reagent,limit", "explain": "explain reagent/expired", "method": "method sulfate", "convert": "convert 2.4mmol/L mg/L",
}

// costly are screens that take long to work out: they are held at 80 columns here, and by query/report at other widths.
var costly = []string{"status", "review", "treat", "verify"}

// terminal keeps what a person would see at the end: not how far a long work was.
type terminal struct{ bytes.Buffer }

func (*terminal) Terminal() bool { return true }

func (t *terminal) Write(p []byte) (int, error) {
	if bytes.HasPrefix(p, []byte("\r")) {
		return len(p), nil
	}
	return t.Buffer.Write(p)
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

// holdScreens compares the screens with those that are kept, and holds them at 40 columns to the width: no line is longer, and no
// word is cut, which is one that the wider one does not have. The same holds for the help of every command, at 120 columns too.
func holdScreens(t *testing.T, wj func(columns int, args ...string) string, current func(name, now string)) {
	word := regexp.MustCompile(`[\pL\d].*[\pL\d]`) // without the marks around it
	const indent = 4                               // of a line that cannot be parted: a command, a path
	hold := func(name string, args ...string) string {
		words, at80 := map[string]bool{}, ""
		widths := []int{80, 40}
		switch {
		case slices.Contains(costly, name):
			widths = widths[:1]
		case len(args) == 2 && args[1] == "--help":
			widths = []int{120, 80, 40}
		}
		for _, width := range widths {
			out := wj(width, args...)
			if out == "" {
				t.Errorf("wj %s prints nothing", name)
			}
			for line := range strings.Lines(out) {
				example := strings.HasPrefix(strings.TrimSpace(line), "wj ") || strings.HasPrefix(line, "Usage:") || strings.HasPrefix(line, "        --") // typed as it is
				if n := render.Width(strings.TrimRight(line, "\n")); n > width && !example && strings.Contains(strings.TrimSpace(line), " ") {
					t.Errorf("wj %s at %d columns: %d in %q", name, width, n, line)
				}
				for w := range strings.FieldsSeq(line) {
					w = word.FindString(w)
					if width == 40 && w != "" && !words[w] && !part(words, w, width-indent) && !strings.Contains(name, "chart") && !strings.Contains(name, "map") {
						t.Errorf("wj %s at %d columns cuts a word: %q in %q", name, width, w, line)
					}
					words[w] = true
				}
			}
			if width == 80 {
				at80 = out
			}
		}
		return at80
	}
	names := []string{}
	for name := range screens {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		current(filepath.Join("testdata", "screens", name+".txt"), hold(name, strings.Fields(screens[name])...))
	}
	var cl commandLine
	parser, err := kong.New(&cl, kong.Vars{"version": ""}, kong.ExplicitGroups(commandGroups))
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range parser.Model.Children {
		if !n.Hidden {
			hold(n.Name+" --help", n.Name, "--help")
		}
	}
	kept, err := os.ReadDir("testdata/screens")
	if err != nil || len(kept) != len(screens) {
		t.Errorf("testdata/screens holds %d files, not %d: %v", len(kept), len(screens), err)
	}
}
