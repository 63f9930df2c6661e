package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/plan"
	"wj/lint"
)

// witness is the history of a journal with the base whose people, keys and
// policy count.
type witness struct {
	h        *history.History
	j        *journal.Journal
	head     history.Revision
	base     *journal.Journal
	baseName string
	ring     *history.Keyring
	dirty    map[string]bool

	once    sync.Once
	origins map[string]evidence.Origin
	walkErr error // why origins are not all known
	a       *app
}

// witnessIfAny is the witness, or one that knows nothing where there is no
// history to ask, which is said.
func (a *app) witnessIfAny(j *journal.Journal, root string) (*witness, error) {
	w, err := a.witness(j, root, "")
	if errors.Is(err, history.ErrNoRepository) || errors.Is(err, history.ErrUnsupported) || errors.Is(err, history.ErrUnborn) {
		a.say("who signed cannot be checked in history here: %s", err)
		return &witness{}, nil
	}
	return w, err
}

// witnessOrNone is the witness, or one that knows nothing, for a command to
// which history is only an addition.
func (a *app) witnessOrNone(j *journal.Journal, root string) *witness {
	w, err := a.witness(j, root, "")
	if err != nil {
		return &witness{}
	}
	return w
}

func (w *witness) close() {
	if w.h != nil {
		w.h.Close()
	}
}

// witness opens the history and reads the base. Without a name the base is
// main, or else master; where that is checked out, or there is neither, it is
// the last commit: never the working files, which anybody can edit.
func (a *app) witness(j *journal.Journal, root, base string) (*witness, error) {
	h, err := history.Open(root)
	if err != nil {
		return nil, err
	}
	w := &witness{h: h, j: j, a: a, dirty: map[string]bool{}}
	fail := func(err error) (*witness, error) {
		h.Close()
		return nil, err
	}
	if w.head, err = h.Head(); err != nil {
		return fail(err)
	}
	rev := w.head
	w.baseName = "the last commit, " + w.head.Hash.Short()
	candidates := []string{base}
	if base == "" {
		candidates = []string{"main", "master"}
	}
	for _, name := range candidates {
		if base == "" && name == h.Place().Branch {
			break
		}
		r, err := h.Resolve(name, j.Settings.Zone)
		if err == nil {
			rev, w.baseName = r, name+", "+r.Hash.Short()
			break
		}
		if base != "" {
			return fail(err)
		}
	}
	fsys, err := h.FS(rev.Hash)
	if errors.Is(err, fs.ErrNotExist) {
		return fail(withHint("commit the journal first", "the journal is not in the commit %s", rev.Hash.Short()))
	}
	if err != nil {
		return fail(err)
	}
	if w.base, err = journal.Load(fsys, journal.Options{}); errors.Is(err, journal.ErrNoJournal) {
		return fail(withHint("commit the journal first: git add . && git commit", "%s, holds no wj.yaml", w.baseName))
	} else if err != nil {
		return fail(fmt.Errorf("read the journal at %s: %w", w.baseName, err))
	}
	w.ring = keyring(w.base)
	dirty, err := history.Dirty(root, a.contents(j))
	if err != nil {
		return fail(err)
	}
	for _, c := range dirty {
		w.dirty[c.Path] = true
	}
	return w, nil
}

// origin finds the commit that gave a file its present bytes. All files that
// can be asked for (sign-offs and changes) are found in one walk. A commit
// counts only if it left exactly the bytes that are there now: where branches
// were merged, the newest commit of a file is not always the one that prevailed.
// Of several such commits for a sign-off one by its signer is taken, so that
// bringing a file back does not take it from who signed it.
func (w *witness) origin(p string) (evidence.Origin, bool) {
	w.once.Do(w.findOrigins)
	o, ok := w.origins[p]
	if !ok && !w.dirty[p] && (w.h.Shallow() || w.walkErr != nil) {
		return evidence.Origin{Cut: true}, true
	}
	return o, ok
}

func (w *witness) findOrigins() {
	search, err := w.startOrigins()
	if err == nil && len(search.open) > 0 {
		folders := []string{journal.KindSignoff.Folder(), journal.KindChange.Folder()}
		_, err = w.h.Walk(w.a.ctx, w.head.Hash, history.WalkOptions{Folders: folders}, func(step history.Step) error {
			if search.see(step); len(search.open) == 0 {
				return errEnough
			}
			return nil
		})
	}
	if !errors.Is(err, errEnough) {
		w.walkErr = err
	}
}

// originSearch looks for origins while a walk goes by.
type originSearch struct {
	w    *witness
	open map[string]wantedOrigin // by the path at that point of the walk
}

type wantedOrigin struct {
	path   string // now
	blob   history.Hash
	signer *journal.Person
}

func (w *witness) startOrigins() (*originSearch, error) {
	w.origins = map[string]evidence.Origin{}
	head, err := w.h.FS(w.head.Hash)
	if err != nil {
		return nil, err
	}
	search := &originSearch{w: w, open: map[string]wantedOrigin{}}
	for _, f := range w.j.Files {
		if f.Kind != journal.KindSignoff && f.Kind != journal.KindChange || w.dirty[f.Path] {
			continue
		}
		info, err := fs.Stat(head, f.Path)
		if err != nil {
			continue
		}
		blob, _ := info.Sys().(history.Hash)
		o := wantedOrigin{path: f.Path, blob: blob}
		if signoff, ok := w.j.Signoffs.Get(f.ID); ok && f.Kind == journal.KindSignoff {
			o.signer, _ = w.base.People.Get(signoff.By)
		}
		search.open[f.Path] = o
	}
	return search, nil
}

// see looks at one commit; walks go from the newest to the oldest.
func (s *originSearch) see(step history.Step) {
	for _, c := range step.Changes {
		wanted, ok := s.open[c.Path]
		if !ok || c.Kind == history.Deleted {
			continue
		}
		if c.Kind == history.Renamed {
			s.open[c.From] = wanted
			if c.Before == c.After {
				delete(s.open, c.Path)
				continue
			}
		}
		if c.After != wanted.blob {
			continue
		}
		o := s.w.describe(step.Revision)
		bySigner := wanted.signer == nil || o.Signer == wanted.signer.ID || o.Signer == "" && o.By(wanted.signer)
		if _, known := s.w.origins[wanted.path]; !known || bySigner {
			s.w.origins[wanted.path] = o
		}
		if bySigner {
			delete(s.open, c.Path)
			delete(s.open, c.From)
		}
	}
}

// describe judges who made a commit.
func (w *witness) describe(r history.Revision) evidence.Origin {
	o := evidence.Origin{Commit: r.Hash.Short(), Name: r.Author.Name, Email: r.Author.Email, Committed: r.Committer.When}
	for _, t := range r.Trailers() {
		if _, address, ok := strings.Cut(strings.TrimSuffix(t.Value, ">"), "<"); ok && strings.EqualFold(t.Key, "Co-authored-by") {
			o.Others = append(o.Others, address)
		}
	}
	if !r.Signed {
		return o
	}
	v, err := w.h.Verify(r.Hash, w.ring, time.Time{})
	switch {
	case err != nil:
		o.Signature, o.Detail = evidence.Worthless, err.Error()
	case v.Kind == history.Good, v.Kind == history.Expired && v.ValidThen && v.Principal != "":
		o.Signature, o.Signer, o.Detail = evidence.Proven, v.Principal, v.Fingerprint
	case v.Kind == history.UnknownKey:
		o.Signature, o.Detail = evidence.Unknown, "signed with a key that is in no person's record, "+v.Fingerprint
	default:
		o.Signature, o.Detail = evidence.Worthless, v.Kind.String()+detail(v.Detail)
	}
	return o
}

// facts are what the judgement of sign-offs and changes is told.
func (a *app) facts(j *journal.Journal, w *witness) evidence.Facts {
	f := evidence.Facts{Now: a.now(), Base: w.base, Moved: a.waterMoved(j)}
	if w.h != nil {
		f.Origin = w.origin
	}
	f.Wrong = func(p string) bool { return a.hasErrors(j, p) }
	return f
}

// hasErrors reports whether a change is wrong in itself: its form, or what the
// rules for changes say of it. The rest of the journal is not judged for that.
func (a *app) hasErrors(j *journal.Journal, p string) bool {
	file, ok := journal.FileOf(p)
	if !ok {
		return true
	}
	d, record, err := j.ReadRecord(file)
	if err != nil || record == nil {
		return true
	}
	for _, problem := range journal.Check(d, file.Kind, p, j) {
		if !problem.Warning {
			return true
		}
	}
	var only []string
	for _, r := range lint.Rules() {
		if strings.HasPrefix(r.Name, "change/") || strings.HasPrefix(r.Name, "dose/") {
			only = append(only, r.Name)
		}
	}
	for _, d := range lint.Run(j, lint.Options{Now: a.now(), Paths: []string{p}, Only: only}).Diagnostics {
		if d.Severity == lint.Error {
			return true
		}
	}
	return false
}

// waterMoved recomputes changes with the newest sessions of their sites.
func (a *app) waterMoved(j *journal.Journal) func(*journal.Change) string {
	book := plan.Open(j)
	return func(c *journal.Change) string { return book.MovedWords(c, a.now()) }
}

// reasonOf is an error with what the repository's kind explains of it, on one
// line.
func reasonOf(err error) string {
	var t *history.Trouble
	if errors.As(err, &t) && t.Hint != "" {
		return err.Error() + "; " + t.Hint
	}
	return err.Error()
}

// readAttachment reads a file that a record names, beside the record or from
// the journal's root.
func readAttachment(fsys fs.FS, record, name string) ([]byte, error) {
	content, err := fs.ReadFile(fsys, path.Join(path.Dir(record), name))
	if err != nil {
		content, err = fs.ReadFile(fsys, path.Clean(name))
	}
	return content, err
}
