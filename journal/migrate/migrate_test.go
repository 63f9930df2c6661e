package migrate

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/journaltest"
)

// steps are two versions that there might be: one gives a key of sessions another name, the next writes the radius of sites in km.
var steps = []Step{
	{From: 1, Says: "A session's by is now tester.", Kinds: []journal.Kind{journal.KindSession}, Rewrite: rename("by", "tester")},
	{From: 2, Says: "A site's stage has capitals.", Kinds: []journal.Kind{journal.KindSite}, Rewrite: func(_ journal.Kind, d *frontmatter.Document) ([]frontmatter.Edit, error) {
		node, ok := d.FindPath("stage")
		if !ok {
			return nil, nil
		}
		return []frontmatter.Edit{frontmatter.SetScalar(d, node, strings.ToUpper(d.Text(node)))}, nil
	}},
}

func blend(t *testing.T) map[string]string {
	files := journaltest.Blend()
	files["sessions/2026-06-09-well.md"] = strings.Replace(files["sessions/2026-06-09-well.md"], "by: ines", "by:   ines   # on a cold morning", 1)
	journaltest.Sign(t, files, journaltest.BlendChange, "jonas", "2026-06-12T09:40+03:00", "accepted")
	return files
}

// TestNew: each step changes what it says and no other byte, steps follow each other, and what was signed is named.
func TestNew(t *testing.T) {
	files := blend(t)
	p, err := New(journaltest.FS(files), steps, 3, "")
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, f := range p.Files {
		if got[f.Path] = string(f.New); string(f.Old) != files[f.Path] {
			t.Errorf("%s was not read as it is", f.Path)
		}
	}
	for path, text := range files {
		want := text
		switch {
		case path == "wj.yaml":
			want = strings.Replace(text, "format: 1\n", "format: 3\n", 1)
		case strings.HasPrefix(path, "sessions/"):
			want = strings.Replace(text, "\nby:", "\ntester:", 1)
		case strings.HasPrefix(path, "sites/"):
			at := strings.Index(text, "stage: ") + len("stage: ")
			end := at + strings.IndexByte(text[at:], '\n')
			want = text[:at] + strings.ToUpper(text[at:end]) + text[end:]
		}
		if changed, is := got[path]; is && changed != want || !is && want != text {
			t.Errorf("%s is\n%s\nwant\n%s", path, changed, want)
		}
	}
	if p.From != 1 || len(p.Says) != 2 || len(p.Signed) != 1 {
		t.Errorf("%+v", p)
	}
	// What was migrated needs nothing more.
	after := fstest.MapFS{}
	for path, text := range files {
		after[path] = &fstest.MapFile{Data: []byte(text)}
	}
	for path, text := range got {
		after[path] = &fstest.MapFile{Data: []byte(text)}
	}
	if p, err := New(after, steps, 3, ""); err != nil || len(p.Files) > 0 || len(p.Signed) > 0 {
		t.Errorf("a second time: %+v, %v", p, err)
	}
}

// TestNewRefuses: what cannot be migrated safely is named, and nothing is guessed.
func TestNewRefuses(t *testing.T) {
	for _, c := range []struct {
		path, old, new string
		to             int
		want           string
	}{
		{"wj.yaml", "format: 1", "format: 7", 3, "use a newer wj"},
		{"wj.yaml", "format: 1", "format: none", 3, `there is no format "none"`},
		{"wj.yaml", "format: 1", "format: 1", 4, "no way from format 3 to format 4"},
		{"sessions/2026-06-05-ro.md", "by: ines", "by: ines\ntester: ines", 3, "sessions/2026-06-05-ro.md: it has both by and tester"},
		{"sessions/2026-06-05-ro.md", "by: ines", "by: [ines", 3, "sessions/2026-06-05-ro.md cannot be read"},
	} {
		files := blend(t)
		journaltest.Replace(c.path, c.old, c.new)(files)
		if p, err := New(journaltest.FS(files), steps, c.to, ""); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %+v, %v; want %q", c.new, p, err, c.want)
		}
	}
}

// TestID: the id is written once, after the number, and an id that is there stays.
func TestID(t *testing.T) {
	for settings, want := range map[string]string{
		"# mine\nformat: 1 # the first\ntimezone: UTC\n": "# mine\nformat: 1 # the first\njournal: well-0123456789 # never change it: exports of this journal are known by it\ntimezone: UTC\n",
		"timezone: UTC":            "format: 1\njournal: well-0123456789 # never change it: exports of this journal are known by it\ntimezone: UTC",
		"timezone: UTC\nformat: 1": "timezone: UTC\nformat: 1\njournal: well-0123456789\n",
		"format: 1\njournal: other-0123456789\ntimezone: UTC": "format: 1\njournal: other-0123456789\ntimezone: UTC",
	} {
		p, err := New(fstest.MapFS{"wj.yaml": {Data: []byte(settings)}}, nil, 1, "well-0123456789")
		if err != nil {
			t.Fatal(err)
		}
		got := settings
		if i := slices.IndexFunc(p.Files, func(f File) bool { return f.Path == "wj.yaml" }); i >= 0 {
			got = string(p.Files[i].New)
		}
		if got != want {
			t.Errorf("%q became %q, want %q", settings, got, want)
		}
	}
}

// TestSteps: there is a way from every format version that there was to the one of today, and testdata/format has the files of each.
func TestSteps(t *testing.T) {
	for n := 1; n < journal.Format; n++ {
		if !slices.ContainsFunc(Steps, func(s Step) bool { return s.From == n && s.Says != "" && s.Rewrite != nil }) {
			t.Errorf("no way from format %d", n)
		}
	}
	if cases, err := filepath.Glob("../../testdata/format/*.txtar"); err != nil || len(cases) == 0 {
		t.Error(err, len(cases))
	}
	if _, err := New(os.DirFS("../../example-journal"), Steps, journal.Format, ""); err != nil {
		t.Error(err)
	}
}

// rename is a Rewrite that gives a key at the margin of a record another name.
func rename(old, name string) func(journal.Kind, *frontmatter.Document) ([]frontmatter.Edit, error) {
	return func(_ journal.Kind, d *frontmatter.Document) ([]frontmatter.Edit, error) {
		node, ok := d.FindPath(old)
		if !ok {
			return nil, nil
		}
		if _, taken := d.FindPath(name); taken {
			return nil, fmt.Errorf("it has both %s and %s: which is right?", old, name)
		}
		n := d.Nodes[node]
		return []frontmatter.Edit{{Start: int(n.KeyStart), End: int(n.KeyEnd), New: name}}, nil
	}
}
