package lint

import (
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/tools/txtar"

	example "wj/example-journal"
	"wj/journal"
)

// recordsJournal is a good journal, whole or of four sessions a tap, into whose
// records of any kind faults are planted.
type recordsJournal struct {
	j     *journal.Journal
	now   time.Time
	files fs.FS
	m     Memory
	clean map[string]bool // rules and places of what is found without a fault
}

func (g *recordsJournal) lint(laid map[string][]byte) []Diagnostic {
	return Run(g.j.With(laid), Options{Now: g.now, Memory: &g.m}).Diagnostics
}

func recordsJournals(t *testing.T) map[string]*recordsJournal {
	out := map[string]*recordsJournal{"demo": {files: example.FS(), now: time.Date(2026, 9, 25, 12, 0, 0, 0, time.UTC)}}
	for _, name := range []string{"lake", "chalk", "coast", "hill", "years"} {
		archive, err := txtar.ParseFile("testdata/planted/journals/" + name + ".txtar")
		if err != nil {
			t.Fatal(err)
		}
		files := map[string]string{}
		for _, f := range archive.Files {
			files[f.Name] = string(f.Data)
		}
		out[name] = &recordsJournal{files: mapFS(files), now: time.Date(2026, 9, 24, 12, 0, 0, 0, time.UTC)}
	}
	for _, g := range out {
		var err error
		if g.j, err = journal.Load(g.files, journal.Options{Check: true, Sessions: true}); err != nil {
			t.Fatal(err)
		}
		g.clean = map[string]bool{}
		for _, d := range g.lint(nil) {
			g.clean[d.Rule+" "+d.Path] = true
		}
	}
	return out
}

// edit does what a row of records.tsv says.
func (g *recordsJournal) edit(t *testing.T, edits string) map[string][]byte {
	t.Helper()
	laid := map[string][]byte{}
	for one := range strings.SplitSeq(edits, " ;; ") {
		path, what, _ := strings.Cut(one, ": ")
		before, after, replaces := strings.Cut(what, " => ")
		if !replaces {
			after = what
		}
		before, after = strings.ReplaceAll(before, `\n`, "\n"), strings.ReplaceAll(after, `\n`, "\n")
		if strings.Contains(after, "DIGEST") { // of the record that a new sign-off covers
			_, of, _ := strings.Cut(after, "  ")
			of, _, _ = strings.Cut(of, ":")
			src, err := fs.ReadFile(g.files, of)
			if err != nil {
				t.Fatal(err)
			}
			after = strings.Replace(after, "DIGEST", journal.Digest(src), 1)
		}
		if !replaces {
			laid[path] = []byte(after)
			continue
		}
		src, ok := laid[path]
		if !ok {
			var err error
			if src, err = fs.ReadFile(g.files, path); err != nil {
				t.Fatal(err)
			}
		}
		if !strings.Contains(string(src), before) {
			t.Fatalf("%s holds no %q", path, before)
		}
		laid[path] = []byte(strings.Replace(string(src), before, after, 1))
	}
	return laid
}

// TestPlantedRecords: rows of testdata/planted/records.tsv, which were written before anybody
// knew what is found of them; all of them with WJ_CASES.
func TestPlantedRecords(t *testing.T) {
	journals, sum := recordsJournals(t), plantedSum{}
	for _, name := range []string{"records", "second", "third"} {
		plantRecords(t, journals, "testdata/planted/"+name+".tsv", &sum)
	}
	share := func(k int) float64 { return 100 * float64(k) / float64(sum.n) }
	if share(sum.found) < 98 || os.Getenv("WJ_CASES") != "" && (share(sum.line) < 97 || share(sum.named) < 95 || float64(sum.others)/float64(sum.n) > 0.3) {
		t.Errorf("too little of %d faults:\n%s", sum.n, strings.Join(sum.misses, "\n"))
	}
}

// plantedSum is what was found of planted faults.
type plantedSum struct {
	n, found, line, named, others int
	misses                        []string
}

func plantRecords(t *testing.T, journals map[string]*recordsJournal, path string, sum *plantedSum) {
	src, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var n, found, line, named, others int
	var misses []string
	anyOf := func(text string, alternatives string) bool {
		return slices.ContainsFunc(strings.Split(alternatives, "|"), func(a string) bool { return strings.Contains(text, strings.TrimSpace(a)) })
	}
	all := os.Getenv("WJ_CASES") != ""
	for i, row := range strings.Split(strings.TrimSpace(string(src)), "\n")[1:] {
		if !all && i%20 != 0 {
			continue // each lints a whole journal
		}
		c := strings.Split(row, "\t")
		if len(c) != 5 {
			t.Fatalf("%q has %d columns", row, len(c))
		}
		g := journals[c[1]]
		var seen []Diagnostic
		for _, d := range g.lint(g.edit(t, c[2])) {
			if !g.clean[d.Rule+" "+d.Path] {
				seen = append(seen, d)
			}
		}
		places, rules := strings.Split(c[3], " & "), strings.Split(c[4], " & ")
		n += len(places)
		found += min(len(seen), len(places))
		others += max(len(seen)-len(places), 0)
		well := len(seen) <= len(places)
		for i := range places {
			right := slices.ContainsFunc(seen, func(d Diagnostic) bool { return anyOf(d.Source, places[i]) })
			byName := slices.ContainsFunc(seen, func(d Diagnostic) bool { return anyOf(d.Rule, rules[i]) })
			if right {
				line++
			}
			if byName {
				named++
			}
			well = well && right && byName
		}
		if !well {
			text := c[1] + ", " + c[0] + ":"
			for i, d := range seen {
				if i == 6 {
					text += fmt.Sprintf("\n  and %d more", len(seen)-i)
					break
				}
				text += fmt.Sprintf("\n  %s %s:%d %q %s", d.Rule, d.Path, d.Line, strings.TrimSpace(d.Source), d.Message)
			}
			misses = append(misses, text)
		}
	}
	share := func(k int) float64 { return 100 * float64(k) / float64(n) }
	t.Logf("%s, %d faults: found %.1f %%, right line %.1f %%, named %.1f %%, others %.2f each", path, n, share(found), share(line), share(named), float64(others)/float64(n))
	*sum = plantedSum{sum.n + n, sum.found + found, sum.line + line, sum.named + named, sum.others + others, append(sum.misses, misses...)}
}
