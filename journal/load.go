package journal

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal/frontmatter"
)

// File is one record file of a journal.
type File struct {
	Kind Kind
	ID   string
	Path string
}

// Set holds the records of one kind, in the order of their paths.
type Set[T any] struct {
	List []*T
	byID map[string]*T
}

// Get finds a record by its id.
func (s *Set[T]) Get(id string) (*T, bool) {
	r, ok := s.byID[id]
	return r, ok
}

func (s *Set[T]) add(id string, r *T) {
	if s.byID == nil {
		s.byID = map[string]*T{}
	}
	s.List = append(s.List, r)
	if _, taken := s.byID[id]; !taken {
		s.byID[id] = r
	}
}

// Journal is a journal in memory. Sessions are loaded only when asked for.
type Journal struct {
	FS          fs.FS
	Settings    Settings
	People      Set[Person]
	Owners      Set[Owner]
	Sites       Set[Site]
	Lots        Set[Lot]
	Instruments Set[Instrument]
	Methods     Set[Method]
	Sessions    Set[Session]
	Targets     Set[Target]
	Changes     Set[Change]
	Signoffs    Set[Signoff]
	Batches     Set[Batch]
	Events      Set[Event]
	Actions     Set[Action]
	Reports     Set[Report]
	Anchors     Set[Anchor]

	Files    []File // every record file, sorted by path
	Problems []Problem

	index *idIndex
}

// ErrNoJournal says that there is no journal at or above a folder.
var ErrNoJournal = errors.New("no journal here: there is no wj.yaml in this folder or above it")

// FindRoot finds the journal's root: the nearest folder at or above dir that
// holds wj.yaml.
func FindRoot(dir string) (string, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", fmt.Errorf("find the journal: %w", err)
	}
	for at := abs; ; {
		if info, err := os.Lstat(filepath.Join(at, SettingsFile)); err == nil && info.Mode().IsRegular() {
			return at, nil
		}
		parent := filepath.Dir(at)
		if parent == at {
			return "", ErrNoJournal
		}
		at = parent
	}
}

// Options say what Load does.
type Options struct {
	Check    bool // compare every file with its schema and collect Problems
	Sessions bool // load the sessions too
	// Only, where it is set, chooses the sessions that are loaded, see [Part]. The
	// others are in Files alone. The journal has all its other records by then.
	Only func(j *Journal, f File) bool
	// Saw, where it is set, is given the bytes of each record as it is read, on
	// several goroutines at once; they hold for the call.
	Saw func(path string, content []byte)
}

// ReadSettings reads a journal's settings alone.
func ReadSettings(fsys fs.FS) (Settings, error) {
	var d frontmatter.Document
	src, err := readFile(fsys, SettingsFile, nil)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return Settings{}, ErrNoJournal
	case err != nil:
		return Settings{}, fmt.Errorf("read %s: %w", SettingsFile, err)
	}
	d.ParseYAML(src)
	return DecodeSettings(&d), nil
}

// Load reads a journal. What is wrong with a record is in Problems (with
// Check); an error means that the journal itself could not be read.
func Load(fsys fs.FS, opt Options) (*Journal, error) {
	j := &Journal{FS: fsys, index: &idIndex{}}
	var d frontmatter.Document
	src, err := readFile(fsys, SettingsFile, nil)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, ErrNoJournal
	case err != nil:
		return nil, fmt.Errorf("read %s: %w", SettingsFile, err)
	}
	d.ParseYAML(src)
	j.Settings = DecodeSettings(&d)
	if opt.Check {
		j.Problems = checkSettings(&d, Check(&d, KindSettings, SettingsFile, nil))
	}
	if err := j.list(opt.Check); err != nil {
		return nil, err
	}
	files := j.Files
	if !opt.Sessions || opt.Only != nil {
		files = make([]File, 0, 256)
		for _, f := range j.Files {
			if f.Kind != KindSession {
				files = append(files, f)
			}
		}
	}
	j.load(files, opt)
	if opt.Sessions && opt.Only != nil {
		files = nil
		for _, f := range j.SessionFiles() {
			if opt.Only(j, f) {
				files = append(files, f)
			}
		}
		j.load(files, opt)
	}
	return j, nil
}

// load reads files on every core and adds the records in the order of their
// paths.
func (j *Journal) load(files []File, opt Options) {
	records := make([]Any, len(files))
	problems := make([][]Problem, len(files))
	var index Index
	if opt.Check {
		index = j
	}
	each(j.FS, files, opt.Saw, func(w *worker, i int, err error) {
		f := files[i]
		if err != nil {
			help := "check the file and its permissions"
			if errors.Is(err, errTooLarge) {
				help = "a record is a page or two of text: keep what is large in a file beside it, named under attachments"
			}
			problems[i] = []Problem{{Rule: frontmatter.RuleFrontMatter, Path: f.Path, Line: 1, Column: 1, Message: "could not be read: " + readError(err), Help: help}}
			return
		}
		if opt.Check {
			problems[i] = Check(&w.d, f.Kind, f.Path, index)
			if f.Kind == KindSession {
				problems[i] = checkStandard(&w.d, f, problems[i])
				problems[i] = checkSessionID(&w.d, f, j.Settings, problems[i])
			}
		}
		if w.d.OK() {
			records[i] = w.x.decode(Record{Kind: f.Kind, ID: f.ID, Path: f.Path})
		}
	})
	for i, r := range records {
		j.Problems = append(j.Problems, problems[i]...)
		j.add(r)
	}
}

// LoadMore loads sessions that Load left out.
func (j *Journal) LoadMore(files []File, opt Options) {
	j.load(files, opt)
	slices.SortStableFunc(j.Sessions.List, func(a, b *Session) int { return strings.Compare(a.Path, b.Path) })
}

func (j *Journal) add(r Any) {
	switch r := r.(type) {
	case *Person:
		j.People.add(r.ID, r)
	case *Owner:
		j.Owners.add(r.ID, r)
	case *Site:
		j.Sites.add(r.ID, r)
	case *Lot:
		j.Lots.add(r.ID, r)
	case *Instrument:
		j.Instruments.add(r.ID, r)
	case *Method:
		j.Methods.add(r.ID, r)
	case *Session:
		j.Sessions.add(r.ID, r)
	case *Target:
		j.Targets.add(r.ID, r)
	case *Change:
		j.Changes.add(r.ID, r)
	case *Signoff:
		j.Signoffs.add(r.ID, r)
	case *Batch:
		j.Batches.add(r.ID, r)
	case *Event:
		j.Events.add(r.ID, r)
	case *Action:
		j.Actions.add(r.ID, r)
	case *Report:
		j.Reports.add(r.ID, r)
	case *Anchor:
		j.Anchors.add(r.ID, r)
	}
}

// ReadRecord reads one record file anew: its document for places, its body,
// and the typed record (nil where there is no front matter).
func (j *Journal) ReadRecord(f File) (*frontmatter.Document, Any, error) {
	src, err := readFile(j.FS, f.Path, nil)
	if err != nil {
		return nil, nil, fmt.Errorf("read %s: %s", f.Path, readError(err))
	}
	d := &frontmatter.Document{}
	d.Parse(src)
	if !d.OK() {
		return d, nil, nil
	}
	x := newDecoder()
	x.d = d
	return d, x.decode(Record{Kind: f.Kind, ID: f.ID, Path: f.Path}), nil
}

// Locate finds the place of a field in a record file, given the keys that lead
// to it; where the last key is absent, the nearest one that is there.
func (j *Journal) Locate(p string, keys ...string) (line, column, start, end int) {
	src, err := readFile(j.FS, p, nil)
	if err != nil {
		return 1, 1, 0, 0
	}
	d := &frontmatter.Document{}
	if p == SettingsFile {
		d.ParseYAML(src)
	} else {
		d.Parse(src)
	}
	for n := len(keys); n > 0; n-- {
		if i, ok := d.FindPath(keys[:n]...); ok {
			node := d.Nodes[i]
			start, end = int(node.Start), int(node.End)
			if node.Kind == frontmatter.Mapping && node.KeyStart >= 0 && n == len(keys) {
				start, end = int(node.KeyStart), int(node.KeyEnd)
			}
			line, column = d.Position(start)
			return line, column, start, end
		}
	}
	line, column = d.Position(d.Front)
	return line, column, d.Front, d.Front
}

// checkStandard asks of a check standard what its true values are.
func checkStandard(d *frontmatter.Document, f File, out []Problem) []Problem {
	i, ok := d.FindPath("sample")
	if !ok || d.Text(i) != SampleStandard {
		return out
	}
	for _, key := range []string{"standard", "standard_lot"} {
		if _, ok := d.FindPath(key); ok {
			return out
		}
	}
	c := checker{d: d, path: f.Path, out: out}
	c.report(RuleMissingKey, i, "a check standard without its true values", "add standard: {sulfate: 100 mg/L}, or standard_lot: the bottle; for the site's water, sample: routine")
	c.out[len(c.out)-1].Warning = true // what was read is recorded all the same
	return c.out
}

// checkSessionID compares the date in a session's id with the day on which it
// was sampled, in the journal's zone.
func checkSessionID(d *frontmatter.Document, f File, settings Settings, out []Problem) []Problem {
	i, ok := d.FindPath("sampled")
	if !ok || len(f.ID) < 10 {
		return out
	}
	c := checker{d: d, path: f.Path, out: out}
	day, err := ParseDate(f.ID[:10])
	if err != nil {
		return out
	}
	if sampled, err := ParseTime(d.Text(i)); err == nil {
		if local := Day(sampled.In(settings.Zone)); !local.Equal(day) && !Day(sampled).Equal(day) {
			p := c.report(RuleID, i, fmt.Sprintf("sampled on %s, but the file name says %s", FormatDate(local), f.ID[:10]), "which is right? rename the file or amend the time")
			p.Warning = true
		}
	}
	return c.out
}

// Base name helpers for callers that hold paths.

// FileOf shows which record a path of the journal would be.
func FileOf(p string) (File, bool) {
	p = path.Clean(p)
	folder, rest, ok := strings.Cut(p, "/")
	if !ok || !strings.HasSuffix(rest, ".md") {
		return File{}, false
	}
	k, ok := KindNamed(folder)
	if !ok || k.Folder() != folder {
		return File{}, false
	}
	id := strings.TrimSuffix(path.Base(rest), ".md")
	return File{k, id, p}, true
}

// Each calls do for every record that is loaded, kind by kind, in the order of
// their paths.
func (j *Journal) Each(do func(Any)) {
	eachOf(j.People.List, do)
	eachOf(j.Owners.List, do)
	eachOf(j.Sites.List, do)
	eachOf(j.Lots.List, do)
	eachOf(j.Instruments.List, do)
	eachOf(j.Methods.List, do)
	eachOf(j.Sessions.List, do)
	eachOf(j.Targets.List, do)
	eachOf(j.Changes.List, do)
	eachOf(j.Signoffs.List, do)
	eachOf(j.Batches.List, do)
	eachOf(j.Events.List, do)
	eachOf(j.Actions.List, do)
	eachOf(j.Reports.List, do)
	eachOf(j.Anchors.List, do)
}

func eachOf[T Any](list []T, do func(Any)) {
	for _, r := range list {
		do(r)
	}
}

// On is the journal over other files: what was loaded stays, files are read
// from fsys.
func (j *Journal) On(fsys fs.FS) *Journal {
	other := *j
	other.FS = fsys
	return &other
}

// OwnerOf is whose water a session tested: the owner of its site on the day of
// sampling. "" where the site is unknown.
func (j *Journal) OwnerOf(s *Session) string {
	site, ok := j.Sites.Get(s.Site)
	if !ok {
		return ""
	}
	return site.OwnerAt(s.Sampled.In(j.Settings.Zone))
}

// WaterOf is the journal for one owner's eyes: of sites that changed hands only
// the sessions of that owner's days. Other sites are as they are.
func (j *Journal) WaterOf(owner string) *Journal {
	changed := false
	for _, s := range j.Sites.List {
		changed = changed || len(s.Owners) > 1
	}
	if !changed {
		return j
	}
	only := *j
	only.Sessions = Set[Session]{}
	for _, s := range j.Sessions.List {
		if site, ok := j.Sites.Get(s.Site); !ok || len(site.Owners) < 2 || j.OwnerOf(s) == owner {
			only.Sessions.add(s.ID, s)
		}
	}
	return &only
}
