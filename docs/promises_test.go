package docs

import (
	"bufio"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Each promise of docs/promises.md is played by the script that it names: below
// the line "# plays: MARK" the script runs the program and looks at what it says.
// No script plays a promise that is not in the table.
func TestEachPromiseIsPlayed(t *testing.T) {
	page, err := os.ReadFile("promises.md")
	if err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile("(?m)^\\| .+ \\| `([a-z-]+)` \\| `([a-z0-9-]+)` \\|$")
	promised := map[string]string{} // mark → script
	for _, m := range row.FindAllStringSubmatch(string(page), -1) {
		if promised[m[1]] != "" {
			t.Errorf("%s is in the table twice", m[1])
		}
		promised[m[1]] = m[2]
	}
	if n := strings.Count(string(page), "\n| ") - 2*strings.Count(string(page), "\n| --- "); len(promised) != n || n < 50 {
		t.Errorf("%d rows can be read of %d", len(promised), n)
	}
	scripts, err := filepath.Glob("../testdata/script/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range scripts {
		script := strings.TrimSuffix(filepath.Base(name), ".txtar")
		for mark, ran := range played(t, name) {
			switch {
			case promised[mark] == "":
				t.Errorf("%s plays %s, which docs/promises.md does not have", script, mark)
			case promised[mark] != script:
				t.Errorf("%s plays %s, which docs/promises.md finds in %s", script, mark, promised[mark])
			case !ran:
				t.Errorf("%s: nothing is run and looked at for %s", script, mark)
			}
			delete(promised, mark)
		}
	}
	for mark, script := range promised {
		t.Errorf("%s does not play %s", script, mark)
	}
}

// played are the marks of a script, each with whether the program runs below it
// and its outcome is looked at: that it fails, or what it says.
func played(t *testing.T, name string) map[string]bool {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	out := map[string]bool{}
	var open []string
	runs, marking := false, false
	lines := bufio.NewScanner(f)
	for lines.Scan() && !strings.HasPrefix(lines.Text(), "-- ") {
		line := lines.Text()
		if rest, ok := strings.CutPrefix(line, "["); ok { // where a program is there
			_, line, _ = strings.Cut(rest, "] ")
		}
		if mark, ok := strings.CutPrefix(line, "# plays: "); ok {
			if !marking {
				open, runs = nil, false
			}
			marking = true
			open = append(open, strings.Fields(mark)...)
			for _, m := range strings.Fields(mark) {
				out[m] = out[m] || false
			}
			continue
		}
		marking = marking && strings.HasPrefix(line, "#")
		runs = runs || strings.Contains(line, "wj ") || strings.Contains(line, "git ")
		if runs && slices.ContainsFunc([]string{"! exec wj", "exec wj verify", "stdout", "stderr", "! stdout", "cmp", "grep", "exec sh"}, func(p string) bool { return strings.HasPrefix(line, p) }) {
			for _, m := range open {
				out[m] = true
			}
		}
	}
	return out
}
