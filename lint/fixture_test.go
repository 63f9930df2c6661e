package lint

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"wj/journal"
)

// A fixture is a txtar of a rule: a small journal over testdata/base.txtar.
// Files below good/ make up the silent case and files below common/ belong to
// both cases and to the page's examples; all others are the firing case.
//
//	# want RULE "regexp"            on the line of the finding
//	# want-next RULE "regexp"       on the line before it
//	# want-file PATH RULE "regexp"  in the txtar's comment, for any place in a file
//
// fixed/PATH is what safe fixes make of a file. A name that ends in ! holds
// escapes (\r, \ufeff, \u202e, \x00). A file named series holds a session a line.
// git tells a fake history. In the comment, "now: TIME" sets the clock and
// "also: RULE …" runs other rules beside.
type fixture struct {
	rule       string
	now        time.Time
	only       []string
	bad, good  map[string]string
	common     map[string]string
	fixed      map[string]string
	wants      []want
	git        *fakeGit
	goodGit    *fakeGit
	fires, mum bool
}

var escapes = strings.NewReplacer(`\r`, "\r", `\ufeff`, "\ufeff", `\u202e`, "\u202e", `\x00`, "\x00", `\xff`, "\xff")

type want struct {
	path    string
	line    int // 0: anywhere in the file
	rule    string
	message *regexp.Regexp
}

var wantForm = regexp.MustCompile(`# want(-next|-file)? (?:(\S+/\S+\.\S+|wj\.yaml) )?([a-z-]+/[a-z-]+) "((?:[^"\\]|\\.)*)"`)

func readArchive(t *testing.T, name string) *txtar.Archive {
	t.Helper()
	a, err := txtar.ParseFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func loadFixture(t *testing.T, file, rule string) *fixture {
	t.Helper()
	a := readArchive(t, file)
	f := &fixture{rule: rule, only: []string{rule}, now: at(t, "2026-03-31T12:00+03:00"), bad: map[string]string{}, good: map[string]string{}, common: map[string]string{}, fixed: map[string]string{}}
	for _, line := range strings.Split(string(a.Comment), "\n") {
		if rest, ok := strings.CutPrefix(line, "now: "); ok {
			f.now = at(t, strings.TrimSpace(rest))
		}
		if rest, ok := strings.CutPrefix(line, "also: "); ok {
			f.only = append(f.only, strings.Fields(rest)...)
		}
		if m := wantForm.FindStringSubmatch(line); m != nil && m[1] == "-file" {
			f.want(t, m[2], 0, m)
		}
	}
	versions := map[string]string{}
	for _, section := range a.Files {
		if rest, ok := strings.CutPrefix(section.Name, "version/"); ok {
			versions[rest] = string(section.Data)
		}
	}
	for _, section := range a.Files {
		name, text := section.Name, string(section.Data)
		if escaped, ok := strings.CutSuffix(name, "!"); ok {
			name, text = escaped, escapes.Replace(text)
		}
		switch head, rest, _ := strings.Cut(name, "/"); head {
		case "good":
			f.put(t, f.good, rest, text, true)
			f.mum = true
		case "common":
			f.put(t, f.common, rest, text, true)
		case "fixed":
			f.fixed[rest] = text
		case "version":
		case "git":
			f.git = parseGit(t, text, versions)
		case "goodgit":
			f.goodGit = parseGit(t, text, versions)
		default:
			f.put(t, f.bad, name, text, false)
		}
	}
	f.fires = len(f.wants) > 0
	return f
}

func (f *fixture) put(t *testing.T, into map[string]string, name, text string, silent bool) {
	t.Helper()
	if name == "series" {
		for _, s := range expandSeries(t, text) {
			into[s.path] = s.text
			if m := wantForm.FindStringSubmatch(s.comment); m != nil && !silent {
				f.want(t, s.path, 0, m)
			}
		}
		return
	}
	into[name] = text
	if silent {
		return
	}
	for i, line := range strings.Split(text, "\n") {
		for _, m := range wantForm.FindAllStringSubmatch(line, -1) {
			n := i + 1
			if m[1] == "-next" {
				n++
			}
			f.want(t, name, n, m)
		}
	}
}

func (f *fixture) want(t *testing.T, path string, line int, m []string) {
	t.Helper()
	re, err := regexp.Compile(strings.ReplaceAll(m[4], `\"`, `"`))
	if err != nil {
		t.Fatalf("%s: %v", f.rule, err)
	}
	f.wants = append(f.wants, want{path, line, m[3], re})
}

func at(t *testing.T, text string) time.Time {
	t.Helper()
	if m, err := journal.ParseTime(text); err == nil {
		return m
	}
	d, err := journal.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// baseFiles is the journal that all fixtures stand on.
func baseFiles(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, f := range readArchive(t, "testdata/base.txtar").Files {
		out[f.Name] = string(f.Data)
	}
	return out
}

// mapFS lays files over each other, the later ones on top. A file that ends in
// the word REMOVED is taken out.
func mapFS(layers ...map[string]string) fstest.MapFS {
	out := fstest.MapFS{}
	for _, layer := range layers {
		for name, text := range layer {
			if strings.TrimSpace(text) == "REMOVED" {
				delete(out, name)
				continue
			}
			out[name] = &fstest.MapFile{Data: []byte(text), Mode: 0o644}
		}
	}
	// "PATH: DIGEST" stands for the file's real digest.
	for name, f := range out {
		text := digestForm.ReplaceAllStringFunc(string(f.Data), func(m string) string {
			path := strings.TrimSuffix(strings.TrimSpace(m), ": DIGEST")
			return strings.Replace(m, "DIGEST", fmt.Sprintf("%x", sha256.Sum256(out[path].Data)), 1)
		})
		out[name].Data = []byte(text)
	}
	return out
}

var digestForm = regexp.MustCompile(`\S+: DIGEST`)

// baseRevision is the fixtures' journal as the branch to merge into.
func baseRevision(t *testing.T, layers ...map[string]string) *Base {
	t.Helper()
	j, err := journal.Load(mapFS(layers...), journal.Options{Check: true})
	if err != nil {
		t.Fatal(err)
	}
	return &Base{Name: "main", Journal: j}
}

func lintFS(t *testing.T, fsys fs.FS, opt Options) []Diagnostic {
	t.Helper()
	j, err := journal.Load(fsys, journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	return Run(j, opt).Diagnostics
}

// fixtureFiles finds the fixtures of all rules: testdata/FAMILY/NAME.txtar, and
// further ones as NAME-2.txtar.
func fixtureFiles(t *testing.T) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	files, err := filepath.Glob("testdata/*/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	more := regexp.MustCompile(`-[2-9]$`)
	for _, f := range files {
		name := strings.TrimSuffix(filepath.ToSlash(f), ".txtar")
		rule := strings.TrimPrefix(name, "testdata/")
		if _, ok := Find(rule); !ok {
			rule = more.ReplaceAllString(rule, "")
		}
		if _, ok := Find(rule); !ok {
			t.Errorf("%s: there is no such rule", f)
			continue
		}
		out[rule] = append(out[rule], f)
	}
	return out
}

func TestFixtures(t *testing.T) {
	base := baseFiles(t)
	files := fixtureFiles(t)
	for _, rule := range Rules() {
		t.Run(rule.Name, func(t *testing.T) {
			fires, mum := false, false
			for _, file := range files[rule.Name] {
				f := loadFixture(t, file, rule.Name)
				fires, mum = fires || f.fires, mum || f.mum
				f.run(t, file, base)
			}
			if !fires {
				t.Error("no fixture in which the rule fires")
			}
			if !mum {
				t.Error("no fixture in which the rule stays silent")
			}
		})
	}
}

func (f *fixture) run(t *testing.T, file string, base map[string]string) {
	opt := Options{Now: f.now, Only: f.only}
	if f.git != nil {
		opt.History = f.git
	}
	if f.rule == recordGuardChanged.Name {
		opt.Base = baseRevision(t, base, f.common)
	}
	ds := lintFS(t, mapFS(base, f.common, f.bad), opt)
	left := slices.Clone(f.wants)
	for _, d := range ds {
		i := slices.IndexFunc(left, func(w want) bool {
			return w.path == d.Path && (w.line == 0 || w.line == d.Line) && w.rule == d.Rule && w.message.MatchString(d.Message+" | "+d.Help)
		})
		if i < 0 {
			t.Errorf("%s: unexpected finding %s:%d:%d: %s %s: %s\n\thelp: %s", file, d.Path, d.Line, d.Column, d.Severity, d.Rule, d.Message, d.Help)
			continue
		}
		left = slices.Delete(left, i, i+1)
		if d.Help == "" {
			t.Errorf("%s: %s names no next step", file, d.Message)
		}
		if strings.HasSuffix(d.Message, ".") || strings.HasSuffix(d.Help, ".") || strings.Contains(d.Message+d.Help, "NaN") || strings.Contains(d.Message, "%!") || strings.Contains(d.Help, "%!") {
			t.Errorf("%s: badly written: %q, %q", file, d.Message, d.Help)
		}
	}
	for _, w := range left {
		t.Errorf("%s: missing finding %s:%d %s %q", file, w.path, w.line, w.rule, w.message)
	}
	if f.mum {
		opt.History = nil
		if f.goodGit != nil {
			opt.History = f.goodGit
		}
		for _, d := range lintFS(t, mapFS(base, f.common, f.good), opt) {
			t.Errorf("%s: the silent case is not silent: %s:%d:%d: %s: %s", file, d.Path, d.Line, d.Column, d.Rule, d.Message)
		}
	}
	f.fixes(t, file, base, ds, opt)
}

// fixes applies the safe fixes and compares, then asks that doing it again
// changes nothing.
func (f *fixture) fixes(t *testing.T, file string, base map[string]string, ds []Diagnostic, opt Options) {
	now := map[string]string{}
	for name, text := range f.bad {
		out, n, err := Apply(name, []byte(text), ds, false)
		if err != nil {
			t.Errorf("%s: fix %s: %v", file, name, err)
		}
		if n > 0 {
			now[name] = string(out)
		}
	}
	for name, text := range now {
		if f.fixed[name] != text {
			t.Errorf("%s: fixed %s is\n%s\nwant\n%s", file, name, text, f.fixed[name])
		}
	}
	for name := range f.fixed {
		if _, ok := now[name]; !ok {
			t.Errorf("%s: %s was not fixed", file, name)
		}
	}
	if len(now) == 0 {
		return
	}
	again := lintFS(t, mapFS(base, f.common, f.bad, now), opt)
	for name, text := range now {
		if out, n, err := Apply(name, []byte(text), again, false); err != nil || n > 0 {
			t.Errorf("%s: fixing %s twice changes it again (%d, %v):\n%s", file, name, n, err, out)
		}
	}
}

// TestBaseIsClean holds that the fixtures' journal has no finding of its own,
// so that what a fixture shows is its rule's alone.
func TestBaseIsClean(t *testing.T) {
	for _, d := range lintFS(t, mapFS(baseFiles(t)), Options{Now: at(t, "2026-03-31")}) {
		t.Errorf("%s:%d:%d: %s %s: %s", d.Path, d.Line, d.Column, d.Severity, d.Rule, d.Message)
	}
}

// headings are those of every rule's page, in order.
var headings = []string{"What it checks", "Why it matters at the bench", "A bad record", "A good record", "What to do", "Settings", "Source"}

var (
	headingForm = regexp.MustCompile(`(?m)^## (.+)$`)
	exampleForm = regexp.MustCompile("(?ms)^```[a-z]+ (\\S+)\n(.*?)^```$")
)

// TestPages runs the examples of each rule's page over the base journal and the
// common part of the rule's fixture.
func TestPages(t *testing.T) {
	base := baseFiles(t)
	files := fixtureFiles(t)
	for _, rule := range Rules() {
		t.Run(rule.Name, func(t *testing.T) {
			page := rule.Page()
			if page == "" {
				t.Fatalf("there is no page rules/%s.md", rule.Name)
			}
			if want := "# " + rule.Name + "\n"; !strings.HasPrefix(page, want) {
				t.Errorf("the page does not begin with %q", want)
			}
			var found []string
			for _, m := range headingForm.FindAllStringSubmatch(page, -1) {
				found = append(found, m[1])
			}
			if !slices.Equal(found, headings) {
				t.Fatalf("headings are %q, want %q", found, headings)
			}
			for _, s := range rule.Settings {
				if !strings.Contains(page, "`"+s.Key+"`") || !strings.Contains(page, "`"+s.Default+"`") {
					t.Errorf("the page does not name the setting %s with its default %s", s.Key, s.Default)
				}
			}
			f := &fixture{only: []string{rule.Name}, now: at(t, "2026-03-31T12:00+03:00"), common: map[string]string{}}
			if len(files[rule.Name]) > 0 {
				f = loadFixture(t, files[rule.Name][0], rule.Name)
			}
			opt := Options{Now: f.now, Only: f.only}
			if f.git != nil {
				opt.History = f.git
			}
			if rule == recordGuardChanged {
				opt.Base = baseRevision(t, base, f.common)
			}
			bad := examples(t, page, "A bad record", "A good record")
			good := examples(t, page, "A good record", "What to do")
			if len(bad) == 0 || len(good) == 0 {
				t.Fatal("an example is missing")
			}
			fired := false
			for _, d := range lintFS(t, mapFS(base, f.common, bad), opt) {
				fired = fired || d.Rule == rule.Name
			}
			if !fired {
				t.Error("the bad record does not fire the rule")
			}
			if f.goodGit != nil {
				opt.History = f.goodGit
			}
			for _, d := range lintFS(t, mapFS(base, f.common, good), opt) {
				if d.Rule == rule.Name {
					t.Errorf("the good record fires the rule: %s:%d: %s", d.Path, d.Line, d.Message)
				}
			}
		})
	}
	if err := filepath.WalkDir("rules", func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			if _, ok := Find(strings.TrimSuffix(strings.TrimPrefix(filepath.ToSlash(p), "rules/"), ".md")); !ok {
				t.Errorf("%s is the page of no rule", p)
			}
		}
		return err
	}); err != nil && !os.IsNotExist(err) {
		t.Error(err)
	}
}

func examples(t *testing.T, page, from, to string) map[string]string {
	out := map[string]string{}
	start, end := strings.Index(page, "## "+from), strings.Index(page, "## "+to)
	for _, m := range exampleForm.FindAllStringSubmatch(page[start:end], -1) {
		name, text := path.Clean(m[1]), m[2]
		if escaped, ok := strings.CutSuffix(name, "!"); ok {
			name, text = escaped, escapes.Replace(text)
		}
		if name == "series" {
			for _, s := range expandSeries(t, text) {
				out[s.path] = s.text
			}
			continue
		}
		out[name] = text
	}
	return out
}
