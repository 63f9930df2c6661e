package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/overlay"
)

// atFlag is --at of every command that reads.
type atFlag struct {
	At string `placeholder:"REV|DATE" help:"As it was then, by what was known then and as of that moment: a commit, a branch or a date."`
}

func (f atFlag) looksAt() (revision string, reads bool) { return f.At, true }

// reader is a command that may only read: then it works in a repository without
// a working tree too.
type reader interface {
	looksAt() (revision string, reads bool)
}

// past is the revision that is looked at instead of the working files.
type past struct {
	revision history.Revision
	files    fs.FS
	asked    bool // by --at; else it is the last commit of a bare repository
}

// looksBack says that --at names what is looked at.
func (a *app) looksBack() bool { return a.past != nil && a.past.asked }

// files are those of the journal: the working files, or those of the revision
// that --at names, or the last commit's where there is no working tree. With
// --at the command's clock is set to that moment: to the end of a day that was
// named, else to when the commit came.
func (a *app) files(root string) (fs.FS, error) {
	switch {
	case a.past != nil:
		return a.past.files, nil
	case a.at == "" && !a.bare:
		return a.workingFiles(root), nil
	}
	h, err := a.openHistory(root)
	if err != nil {
		return nil, err
	}
	zone := time.UTC
	if settings, err := a.lastSettings(root, h); err == nil {
		zone = settings.Zone
	}
	r, err := h.Resolve(cmp.Or(a.at, "HEAD"), zone)
	if err != nil {
		return nil, err
	}
	fsys, err := filesAt(h, r, a.at)
	if err != nil {
		return nil, err
	}
	if a.absent, err = h.Absent(a.ctx, r.Hash); err != nil {
		return nil, err
	}
	a.sayAbsent()
	a.past = &past{r, fsys, a.at != ""}
	if !a.past.asked {
		return fsys, nil
	}
	moment, dated := history.ParseMoment(a.at, zone)
	if names, err := h.Candidates(a.at); err != nil || len(names) > 0 || !dated {
		if moment, err = h.Moment(r); err != nil {
			return nil, err
		}
	}
	if now := a.now(); moment.After(now) {
		moment = now
	}
	a.now = func() time.Time { return moment }
	a.say("as of %s", revisionName(r, zone))
	return fsys, nil
}

// workingFiles are the journal's files in its folder, with those that a sparse
// checkout leaves out of it.
func (a *app) workingFiles(root string) fs.FS {
	switch {
	case a.sparse != nil:
		return a.sparse
	case !history.Sparse(root):
		return journal.Dir(root)
	}
	a.sparse = journal.Dir(root)
	h, err := history.Open(root)
	if err == nil {
		defer h.Close()
		var left map[string][]byte
		if left, a.absent, err = h.LeftOut(a.ctx); err == nil && len(left) > 0 {
			a.sparse = overlay.New(a.sparse, left)
		}
		a.sayAbsent()
	}
	if err != nil && !errors.Is(err, history.ErrUnborn) {
		a.say("what a sparse checkout leaves out is not looked at: %s", history.Reason(err))
	}
	return a.sparse
}

// sayAbsent tells of records that answers leave out since they are not in this
// copy.
func (a *app) sayAbsent() {
	if a.absent > 0 {
		a.say("note: %s not in this copy (a partial clone), and left out of every answer; a clone without --filter has all", journal.Count(a.absent, "record"))
	}
}

// lastSettings are those of the working files, or of the last commit.
func (a *app) lastSettings(root string, h *history.History) (journal.Settings, error) {
	if !a.bare {
		return journal.ReadSettings(journal.Dir(root))
	}
	head, err := h.Head()
	if err != nil {
		return journal.Settings{}, err
	}
	fsys, err := h.FS(head.Hash)
	if err != nil {
		return journal.Settings{}, err
	}
	return journal.ReadSettings(fsys)
}

// repository opens the repository of the journal, at the revision that is looked
// at.
func (a *app) repository(root string) (*history.History, error) {
	h, err := history.Open(root)
	if err == nil && a.looksBack() {
		h.Pin(a.past.revision.Hash)
	}
	return h, err
}

// openHistory is repository; that there is none is said with the next step.
func (a *app) openHistory(root string) (*history.History, error) {
	h, err := a.repository(root)
	if errors.Is(err, history.ErrNoRepository) {
		return nil, withHint("git init && git add . && git commit -m \"Start the water journal\"", "there is no history: the journal is in no Git repository")
	}
	return h, err
}

// bareRoot is the journal's folder in a repository without a working tree: where
// wj.yaml lies in the commit that is looked at, at the top or in the only folder that has one.
// ok is false where the command's folder is in no such repository.
func (a *app) bareRoot() (root string, ok bool, err error) {
	place, ok := history.FindBare(a.dir)
	if !ok {
		return "", false, nil
	}
	if !a.reads {
		return "", true, withHint("git clone "+place.GitDir+", and record there", "%s has no working tree (it is a bare repository): it can be read and not written to", place.GitDir)
	}
	h, err := history.Open(place.Journal)
	if err != nil {
		return "", true, err
	}
	defer h.Close()
	a.bare = true
	r, err := h.Resolve(cmp.Or(a.at, "HEAD"), time.UTC)
	if errors.Is(err, history.ErrUnborn) && a.at == "" {
		return "", true, withHint("name a branch: --at main", "HEAD of %s leads to no commit", place.GitDir)
	}
	if err != nil {
		return "", true, err
	}
	fsys, err := filesAt(h, r, a.at)
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
		return "", true, withHint("name its folder: -C "+place.GitDir+"/FOLDER", "there is no %s at %s in %s", journal.SettingsFile, r.Hash.Short(), place.GitDir)
	case len(found) > 1:
		return "", true, withHint("-C "+filepath.Join(place.Journal, filepath.Dir(found[0])), "there are several journals in %s", place.GitDir)
	}
	return filepath.Join(place.Journal, filepath.FromSlash(filepath.Dir(found[0]))), true, nil
}
