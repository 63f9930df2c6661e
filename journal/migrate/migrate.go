// Package migrate brings a journal from the format version that it was written in to the one that this program reads. A step rewrites the
// records that it must and leaves every other byte as it is: comments, order and quoting stay.
//
//	plan, err := migrate.New(os.DirFS(root), migrate.Steps, journal.Format, "")
//	for _, f := range plan.Files {
//		fmt.Println(f.Path, len(f.Old), len(f.New))
//	}
package migrate

import (
	"bytes"
	"fmt"
	"io/fs"
	"slices"
	"strconv"

	"wj/journal"
	"wj/journal/frontmatter"
)

// Step is the way from one format version to the next one.
type Step struct {
	From  int
	Says  string // what becomes different, in a sentence
	Kinds []journal.Kind
	// Rewrite gives the edits of one record's front matter; none where it stays as it is. It sees the records of its kinds,
	// wj.yaml where they name [journal.KindSettings]; the number of the format is changed without it.
	Rewrite func(kind journal.Kind, d *frontmatter.Document) ([]frontmatter.Edit, error)
}

// Steps are the ways between the format versions that there have been, in order. Format 1 is the first.
var Steps []Step

// File is a file that becomes different.
type File struct {
	Path     string
	Old, New []byte
}

// Plan is what a migration does.
type Plan struct {
	From, To int
	Says     []string
	Files    []File   // in the order of their paths
	Signed   []string // sign-offs that cover a file as it was: they no longer hold
}

// New works out what brings a journal to a format version. id is written into wj.yaml as the journal's own where it has none; it may be
// empty. A file that cannot be read in the way of its own version is an error that names it: nothing is guessed.
func New(fsys fs.FS, steps []Step, to int, id string) (*Plan, error) {
	settings, err := fs.ReadFile(fsys, journal.SettingsFile)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", journal.SettingsFile, err)
	}
	from, err := version(settings)
	if err != nil {
		return nil, err
	}
	p := &Plan{From: from, To: to}
	if from > to {
		return nil, fmt.Errorf("this journal has format %d, and this program knows formats up to %d: use a newer wj", from, to)
	}
	now := map[string][]byte{journal.SettingsFile: settings}
	was := map[string][]byte{journal.SettingsFile: settings}
	for n := from; n < to; n++ {
		i := slices.IndexFunc(steps, func(s Step) bool { return s.From == n })
		if i < 0 {
			return nil, fmt.Errorf("there is no way from format %d to format %d", n, n+1)
		}
		p.Says = append(p.Says, steps[i].Says)
		if err := steps[i].over(fsys, was, now); err != nil {
			return nil, err
		}
	}
	if now[journal.SettingsFile], err = numbered(now[journal.SettingsFile], to); err != nil {
		return nil, err
	}
	if id != "" {
		given, err := named(now[journal.SettingsFile], id)
		if err != nil {
			return nil, err
		}
		if !bytes.Equal(given, now[journal.SettingsFile]) {
			p.Says, now[journal.SettingsFile] = append(p.Says, "The journal's id "+id+" is in wj.yaml, so that every copy and every later export agree on it."), given
		}
	}
	for path, text := range now {
		if !bytes.Equal(text, was[path]) {
			p.Files = append(p.Files, File{path, was[path], text})
		}
	}
	slices.SortFunc(p.Files, func(a, b File) int { return bytes.Compare([]byte(a.Path), []byte(b.Path)) })
	return p, p.signed(fsys)
}

// over applies a step to the records of its kinds.
func (s *Step) over(fsys fs.FS, was, now map[string][]byte) error {
	return fs.WalkDir(fsys, ".", func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return fmt.Errorf("read %s: %w", path, err)
		}
		f, record := journal.FileOf(path)
		if path == journal.SettingsFile {
			f, record = journal.File{Kind: journal.KindSettings, Path: path}, true
		}
		if e.IsDir() || !record || !slices.Contains(s.Kinds, f.Kind) {
			return nil
		}
		if _, seen := now[path]; !seen {
			src, err := fs.ReadFile(fsys, path)
			if err != nil {
				return fmt.Errorf("read %s: %w", path, err)
			}
			was[path], now[path] = src, src
		}
		var d frontmatter.Document
		if f.Kind == journal.KindSettings {
			d.ParseYAML(now[path])
		} else {
			d.Parse(now[path])
		}
		if len(d.Problems) > 0 {
			return fmt.Errorf("%s cannot be read (wj lint says where): put it right first", path)
		}
		edits, err := s.Rewrite(f.Kind, &d)
		if err == nil {
			now[path], err = frontmatter.Apply(now[path], edits)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		return nil
	})
}

// version is the format number of wj.yaml; 1 where it has none.
func version(settings []byte) (int, error) {
	var d frontmatter.Document
	d.ParseYAML(settings)
	node, ok := d.FindPath("format")
	if !ok {
		return 1, nil
	}
	n, err := strconv.Atoi(d.Text(node))
	if err != nil || n < 1 {
		return 0, fmt.Errorf("%s: there is no format %q", journal.SettingsFile, d.Text(node))
	}
	return n, nil
}

// numbered is wj.yaml with another format number.
func numbered(settings []byte, n int) ([]byte, error) {
	var d frontmatter.Document
	d.ParseYAML(settings)
	if node, ok := d.FindPath("format"); ok {
		if d.Text(node) == strconv.Itoa(n) {
			return settings, nil
		}
		return frontmatter.Apply(settings, []frontmatter.Edit{frontmatter.SetScalar(&d, node, strconv.Itoa(n))})
	}
	return append([]byte("format: "+strconv.Itoa(n)+"\n"), settings...), nil
}

// named is wj.yaml with the journal's id, after the format number; as it is where it has one.
func named(settings []byte, id string) ([]byte, error) {
	var d frontmatter.Document
	d.ParseYAML(settings)
	if _, ok := d.FindPath("journal"); ok {
		return settings, nil
	}
	node, _ := d.FindPath("format")
	end := bytes.IndexByte(settings[d.Nodes[node].End:], '\n')
	if end < 0 {
		return append(settings, "\njournal: "+id+"\n"...), nil
	}
	at := int(d.Nodes[node].End) + end + 1
	return frontmatter.Apply(settings, []frontmatter.Edit{{Start: at, End: at, New: "journal: " + id + " # never change it: exports of this journal are known by it\n"}})
}

// signed finds the sign-offs that cover a file as it was.
func (p *Plan) signed(fsys fs.FS) error {
	digests := map[string]string{}
	for _, f := range p.Files {
		digests[journal.Digest(f.Old)] = f.Path
	}
	folder := journal.KindSignoff.Folder()
	entries, err := fs.ReadDir(fsys, folder)
	if err != nil || len(p.Files) == 0 {
		return nil // no sign-offs
	}
	for _, e := range entries {
		f, ok := journal.FileOf(folder + "/" + e.Name())
		if !ok {
			continue
		}
		src, err := fs.ReadFile(fsys, f.Path)
		if err != nil {
			return fmt.Errorf("read %s: %w", f.Path, err)
		}
		var d frontmatter.Document
		d.Parse(src)
		covers, ok := d.FindPath("covers")
		if !ok {
			continue
		}
		for node := range d.Children(covers) {
			if path, covered := digests[d.Text(node)]; covered && path == d.Key(node) {
				p.Signed = append(p.Signed, f.ID)
				break
			}
		}
	}
	return nil
}
