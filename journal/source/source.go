// Package source finds a journal and what it is judged by: its folder or the folder of its
// repository, the working files or those of a revision, its history, and the mainline whose
// people and policy count. No command asks whether --at was given, whether the repository is
// bare or the checkout sparse; they ask a Source.
//
//	s := &source.Source{Context: ctx, Dir: "brewery-water", At: "2026-03-01", Reads: true, Now: time.Now, Say: say}
//	root, err := s.Root()
//	j, err := s.Load(root, journal.Options{Sessions: true})
//	p := s.ProvenanceOrNone(j, root)
//	defer p.Close()
//	states := judge.NewChanges(j, s.Facts(j, p))
package source

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/overlay"
)

// Source is where a journal is read from.
type Source struct {
	Context context.Context
	Dir     string           // the journal is there or above
	At      string           // a commit, a branch or a date that is looked at; "" for the working files
	Reads   bool             // nothing is written: then a repository without a working tree will do
	Now     func() time.Time // what the journal is judged by; [Source.Files] sets it to the moment of At
	Say     func(format string, args ...any)

	bare    bool     // the repository has no working tree
	past    *past    // what is looked at instead of the working files
	checked fs.FS    // the working files with what a sparse checkout leaves out of them
	absent  int      // how many records are not in this copy of the repository
	last    struct { // what Load read, so that it need not be read again
		journal  *journal.Journal
		contents *history.Contents
		part     bool // some sessions were left out
	}
}

// past is the revision that is looked at instead of the working files.
type past struct {
	revision history.Revision
	files    fs.FS
}

// LooksBack says that At names what is looked at, and that it was found.
func (s *Source) LooksBack() bool { return s.past != nil && s.At != "" }

// Committed says that what is looked at is in a commit, and no working file.
func (s *Source) Committed() bool { return s.At != "" || s.bare }

// Root finds the journal's folder.
func (s *Source) Root() (string, error) {
	if root, ok, err := s.bareRoot(); ok {
		return root, err
	}
	root, err := journal.FindRoot(s.Dir)
	if errors.Is(err, journal.ErrNoJournal) {
		return "", journal.Hint("start one with wj init, or name its folder with -C", "%w", err)
	}
	return root, err
}

// bareRoot is the journal's folder in a repository without a working tree: where
// wj.yaml lies in the commit that is looked at, at the top or in the only folder that has one.
// ok is false where Dir is in no such repository.
func (s *Source) bareRoot() (root string, ok bool, err error) {
	place, ok := history.FindBare(s.Dir)
	if !ok {
		return "", false, nil
	}
	if !s.Reads {
		return "", true, journal.Hint("git clone "+place.GitDir+", and record there", "%s has no working tree (it is a bare repository): it can be read and not written to", place.GitDir)
	}
	h, err := history.Open(place.Journal)
	if err != nil {
		return "", true, err
	}
	defer h.Close()
	s.bare = true
	r, err := h.Resolve(cmp.Or(s.At, "HEAD"), time.UTC)
	if errors.Is(err, history.ErrUnborn) && s.At == "" {
		return "", true, journal.Hint("name a branch: --at main", "HEAD of %s leads to no commit", place.GitDir)
	}
	if err != nil {
		return "", true, err
	}
	fsys, err := s.filesOf(h, r)
	if err != nil {
		return "", true, err
	}
	if _, err := fs.Stat(fsys, journal.SettingsFile); err == nil {
		return place.Journal, true, nil
	}
	found, err := fs.Glob(fsys, "*/"+journal.SettingsFile)
	if err == nil && len(found) == 0 {
		found, err = fs.Glob(fsys, "*/*/"+journal.SettingsFile)
	}
	switch {
	case err != nil:
		return "", true, fmt.Errorf("find the journal in %s: %w", place.GitDir, err)
	case len(found) == 0:
		return "", true, journal.Hint("name its folder: -C "+place.GitDir+"/FOLDER", "there is no %s at %s in %s", journal.SettingsFile, r.Hash.Short(), place.GitDir)
	case len(found) > 1:
		return "", true, journal.Hint("-C "+filepath.Join(place.Journal, filepath.Dir(found[0])), "there are several journals in %s", place.GitDir)
	}
	return filepath.Join(place.Journal, filepath.FromSlash(filepath.Dir(found[0]))), true, nil
}

// Files are those of the journal: the working files, or those of the revision that At
// names, or the last commit's where there is no working tree. With At the clock is set to
// that moment: to the end of a day that was named, else to when the commit came.
func (s *Source) Files(root string) (fs.FS, error) {
	switch {
	case s.past != nil:
		return s.past.files, nil
	case !s.Committed():
		return s.workingFiles(root), nil
	}
	h, err := s.History(root)
	if err != nil {
		return nil, err
	}
	zone := time.UTC
	if settings, err := s.Settings(root, h); err == nil {
		zone = settings.Zone
	}
	r, err := h.Resolve(cmp.Or(s.At, "HEAD"), zone)
	if err != nil {
		return nil, err
	}
	fsys, err := s.filesOf(h, r)
	if err != nil {
		return nil, err
	}
	if s.absent, err = h.Absent(s.Context, r.Hash); err != nil {
		return nil, err
	}
	s.sayAbsent()
	s.past = &past{r, fsys}
	if s.At == "" {
		return fsys, nil
	}
	moment, dated := history.ParseMoment(s.At, zone)
	if names, err := h.Candidates(s.At); err != nil || len(names) > 0 || !dated {
		if moment, err = h.Moment(r); err != nil {
			return nil, err
		}
	}
	if now := s.Now(); moment.After(now) {
		moment = now
	}
	s.Now = func() time.Time { return moment }
	s.Say("as of %s", r.Named(zone))
	return fsys, nil
}

// WholeFiles is Files for what must see every record: it refuses a copy that lacks some.
func (s *Source) WholeFiles(root string) (fs.FS, error) {
	fsys, err := s.Files(root)
	if err == nil && s.absent > 0 {
		err = history.CannotJudge(s.absent)
	}
	return fsys, err
}

// filesOf gives the journal's files as they were in a commit.
func (s *Source) filesOf(h *history.History, r history.Revision) (fs.FS, error) {
	fsys, err := h.FS(r.Hash)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, journal.Hint("choose a later one", "the journal was not there at %s", cmp.Or(s.At, "HEAD"))
	}
	return fsys, err
}

// workingFiles are the journal's files in its folder, with those that a sparse
// checkout leaves out of it.
func (s *Source) workingFiles(root string) fs.FS {
	switch {
	case s.checked != nil:
		return s.checked
	case !history.Sparse(root):
		return journal.Dir(root)
	}
	s.checked = journal.Dir(root)
	h, err := history.Open(root)
	if err == nil {
		defer h.Close()
		var left map[string][]byte
		if left, s.absent, err = h.LeftOut(s.Context); err == nil && len(left) > 0 {
			s.checked = overlay.New(s.checked, left)
		}
		s.sayAbsent()
	}
	if err != nil && !errors.Is(err, history.ErrUnborn) {
		s.Say("what a sparse checkout leaves out is not looked at: %s", history.Reason(err))
	}
	return s.checked
}

// sayAbsent shows records that answers leave out since they are not in this
// copy.
func (s *Source) sayAbsent() {
	if s.absent > 0 {
		s.Say("note: %s not in this copy (a partial clone), and left out of every answer; a clone without --filter has all", journal.Count(s.absent, "record"))
	}
}

// Load reads the journal: its files as they are, or as they were at the revision that At
// names.
func (s *Source) Load(root string, opt journal.Options) (*journal.Journal, error) {
	files, err := s.Files(root)
	if err != nil {
		return nil, err
	}
	var contents *history.Contents
	if s.past == nil && opt.Only == nil {
		contents = history.NewContents(root)
		opt.Saw = contents.Saw
	}
	j, err := journal.Load(files, opt)
	if err != nil {
		if s.past != nil {
			err = fmt.Errorf("read the journal at %s: %w", cmp.Or(s.At, "HEAD"), err)
		}
		return nil, err
	}
	s.last.journal, s.last.contents, s.last.part = j, contents, opt.Only != nil
	hint := "wj migrate"
	switch f := j.Settings.Format; {
	case f == journal.Format:
		return j, nil
	case f > journal.Format:
		hint = "use a newer wj"
	}
	return nil, journal.Hint(hint, "this journal has format %d, and this program reads format %d", j.Settings.Format, journal.Format)
}
