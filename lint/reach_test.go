package lint

import (
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	example "wj/example-journal"
	"wj/journal"
	"wj/journal/journaltest"
)

func TestEveryRuleSaysHowFarItLooks(t *testing.T) {
	for _, r := range Rules() {
		if r.Scope != Form && r.Reach == 0 {
			t.Errorf("%s has no Reach", r.Name)
		}
		if r.Scope == History && r.Reach != OfSite || r.Scope == Session && r.Reach > OfBench && r != formatDSTTime {
			t.Errorf("%s: reach %d does not go with its scope", r.Name, r.Reach)
		}
	}
}

// edit changes one record of a journal's files; it is nil where it does not apply.
type edit struct {
	name string
	path func(files map[string]string, r *rand.Rand) string
	make func(text string, r *rand.Rand) string // "" takes the record away
}

func anyOf(folder string, fit func(text string) bool) func(map[string]string, *rand.Rand) string {
	return func(files map[string]string, r *rand.Rand) string {
		var paths []string
		for _, p := range slices.Sorted(maps.Keys(files)) {
			if strings.HasPrefix(p, folder+"/") && strings.HasSuffix(p, ".md") && (fit == nil || fit(files[p])) {
				paths = append(paths, p)
			}
		}
		if len(paths) == 0 {
			return ""
		}
		return paths[r.IntN(len(paths))]
	}
}

func has(text string) func(string) bool {
	return func(s string) bool { return strings.Contains(s, text) }
}

func swap(old, new string) func(string, *rand.Rand) string {
	return func(text string, _ *rand.Rand) string { return strings.Replace(text, old, new, 1) }
}

func gone(string, *rand.Rand) string { return "" }

var edits = []edit{
	{"a reading", anyOf("sessions", has(" mg/L")), func(text string, r *rand.Rand) string {
		at := strings.Index(text, " mg/L")
		return text[:at] + strconv.Itoa(r.IntN(10)) + text[at:]
	}},
	{"a session away", anyOf("sessions", nil), gone},
	{"a session new", anyOf("sessions", nil), func(text string, _ *rand.Rand) string { return text + "\nAgain.\n" }},
	{"a session void", anyOf("sessions", nil), swap("site:", "void: {by: ines, on: 2026-06-01T10:00+03:00, reason: wrong tap}\nsite:")},
	{"a lot recalled", anyOf("lots", has("analyte:")), swap("---\n", "---\nrecalled: {by: ines, on: 2025-06-01, reason: reads low}\n")},
	{"a lot away", anyOf("lots", nil), gone},
	{"a pack smaller", anyOf("lots", has("tests:")), swap("tests: ", "tests: 1 #")},
	{"a site's stage", anyOf("sites", has("stage: ")), swap("stage: ", "stage: ro-permeate #")},
	{"a site away", anyOf("sites", nil), gone},
	{"a change's volume", anyOf("changes", nil), swap("volume: ", "volume: 9")},
	{"a batch away", anyOf("batches", nil), gone},
	{"a sign-off away", anyOf("signoffs", nil), gone},
	{"an event away", anyOf("events", nil), gone},
	{"a person away", anyOf("people", nil), gone},
	{"a meter away", anyOf("instruments", nil), gone},
	{"an action away", anyOf("actions", nil), gone},
	{"a report away", anyOf("reports", nil), gone},
	{"a target", anyOf("targets", nil), swap("max: ", "max: 1")},
}

// TestPartSaysWhatTheWholeDoes changes one record of a journal, in both directions, and
// compares what is new in the whole with what is new in the part: of every rule, and in
// every record.
func TestPartSaysWhatTheWholeDoes(t *testing.T) {
	seed, _ := strconv.ParseUint(os.Getenv("WJ_SEED"), 10, 64)
	cases, _ := strconv.Atoi(os.Getenv("WJ_CASES"))
	type source struct {
		name  string
		files map[string]string
		now   time.Time
	}
	var sources []source
	for i := range max(cases, 1) {
		files, now := journaltest.Generate(t, rand.New(rand.NewPCG(seed, uint64(i))))
		sources = append(sources, source{fmt.Sprint("generated ", i), files, now})
	}
	demo := map[string]string{}
	err := fs.WalkDir(example.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		src, err := fs.ReadFile(example.FS(), name)
		demo[name] = string(src)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	sources = append(sources, source{"demo", demo, time.Date(2026, 9, 29, 10, 0, 0, 0, time.UTC)})
	left := 0
	for _, src := range sources {
		r := rand.New(rand.NewPCG(seed, 12))
		for n, e := range edits {
			if few := cases == 0; few && (src.name == "demo" && n != 0 || n%3 != 0) {
				continue // WJ_CASES=20 for more
			}
			p := e.path(src.files, r)
			if p == "" {
				continue
			}
			other := maps.Clone(src.files)
			if text := e.make(other[p], r); text == other[p] {
				continue
			} else if text == "" {
				delete(other, p)
			} else if strings.HasSuffix(e.name, "new") {
				p = strings.Replace(p, ".md", "-b.md", 1)
				other[p] = text
			} else {
				other[p] = text
			}
			for _, way := range [][2]map[string]string{{src.files, other}, {other, src.files}} {
				whole, part, out := inBoth(t, way[0], way[1], p, src.now)
				if left += out; !slices.Equal(whole, part) {
					t.Errorf("%s, %s (%s): new in the whole alone\n\t%s\nin the part alone\n\t%s", src.name, e.name, p, without(whole, part), without(part, whole))
				}
			}
		}
	}
	if left == 0 {
		t.Error("no part left anything out")
	}
}

// inBoth gives what is new after a file changed, seen in the whole and in the part, and
// how many sessions the part left out.
func inBoth(t *testing.T, before, after map[string]string, path string, now time.Time) (whole, part []string, left int) {
	t.Helper()
	then, later := journaltest.FS(before), journaltest.FS(after)
	load := func(files fstest.MapFS, only func(*journal.Journal, journal.File) bool) *journal.Journal {
		j, err := journal.Load(files, journal.Options{Check: true, Sessions: true, Only: only})
		if err != nil {
			t.Fatal(err)
		}
		return j
	}
	f, _ := journal.FileOf(path)
	touched := Touched{File: f}
	old := map[string][]byte{}
	var added []string
	var sure bool
	if text, ok := before[path]; ok {
		_, touched.Before, _ = (&journal.Journal{FS: then}).ReadRecord(f)
		old[path] = []byte(text)
	} else {
		added = append(added, path)
	}
	if _, ok := after[path]; ok {
		_, touched.After, _ = (&journal.Journal{FS: later}).ReadRecord(f)
	}
	var p *Part
	holds := func(j *journal.Journal, f journal.File) bool {
		if p == nil {
			p = partOf(j, []Touched{touched}, 0)
		}
		return p.Holds(j, f)
	}
	partLater := load(later, holds)
	partThen, sure := p.Earlier(partLater, old, added)
	if !sure {
		partThen = load(then, holds)
	}
	wholeLater, wholeThen := load(later, nil), load(then, nil)
	left = len(wholeLater.Sessions.List) - len(partLater.Sessions.List)
	now1, now2 := Run(wholeLater, Options{Now: now}), Run(partLater, Options{Now: now, Part: p})
	return fresh(Run(wholeThen, Options{Now: now}), now1), fresh(Run(partThen, Options{Now: now, Part: p}), now2), left
}

func without(a, b []string) string {
	return strings.Join(slices.DeleteFunc(slices.Clone(a), func(s string) bool { return slices.Contains(b, s) }), "\n\t")
}

// fresh lists the findings that the earlier state has not.
func fresh(then, now Result) []string {
	old := map[string]int{}
	key := func(d Diagnostic) string {
		// The odds of a cause are counted over all waters that it might have been, and what is
		// counted at the bench over the months of the part.
		if r, ok := Find(d.Rule); ok && r.Reach == OfJournal {
			return fmt.Sprint(d.Path, ":", d.Line, " ", d.Rule)
		} else if ok && r.Reach == OfBench {
			d.Message = regexp.MustCompile("[0-9]+").ReplaceAllString(d.Message, "#")
		}
		return fmt.Sprint(d.Path, ":", d.Line, " ", d.Rule, " ", d.Message)
	}
	for _, d := range then.Diagnostics {
		old[key(d)]++
	}
	out := []string{}
	for _, d := range now.Diagnostics {
		if d.Rule == "format/dst-time" || d.Rule == "reagent/overdrawn" {
			continue // many of the one are gathered into one; the lots of the other have no first day here
		}
		if old[key(d)]--; old[key(d)] < 0 {
			out = append(out, key(d))
		}
	}
	return out
}

// What a lot touches is of every record; what comes after it in the list is too.
func TestALotBeforeOtherRecords(t *testing.T) {
	j := journaltest.Load(t, journaltest.Blend())
	var touched []Touched
	for _, id := range []string{"GY-1", "2026-06-09-well"} {
		f := j.Find(id)[0]
		_, record, err := j.ReadRecord(f)
		if err != nil {
			t.Fatal(err)
		}
		touched = append(touched, Touched{File: f, Before: record, After: record})
	}
	if p := partOf(j, touched, 0); p.alone != nil || !p.Files["lots/GY-1.md"] || !p.Sites["well"] {
		t.Errorf("%+v", p)
	}
}
