package main

import (
	"errors"
	"io/fs"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/plan"
	"wj/lint"
)

// provenance is what Git knows of a journal: its history, and the mainline that
// judges. The zero value knows nothing.
type provenance struct {
	h          *history.History
	line       *evidence.Mainline
	base       *journal.Journal // whose people and policy count, with the files of its commit
	baseName   string
	ring       *history.Keyring
	dirty      map[string]bool
	working    []history.Change
	staged     []history.Change // asked for where every commit is followed
	unreadable string           // why there is a repository that cannot be asked
	remove     func()           // takes an unpacked history away
}

// provenanceIfAny is the provenance, or one that knows nothing where there is no
// history to ask, which is reported.
func (a *app) provenanceIfAny(j *journal.Journal, root string) (*provenance, error) {
	w, err := a.provenance(j, root, "")
	switch {
	case errors.Is(err, history.ErrNoRepository):
		a.say("signer not verified: there is no Git repository here")
		return &provenance{}, nil
	case unreadable(err):
		return &provenance{unreadable: history.Reason(err)}, nil
	}
	return w, err
}

// unreadable reports whether there is a repository that cannot be asked, as one
// of a kind that is not known, or one in which contents are missing or damaged.
func unreadable(err error) bool {
	for _, reason := range []error{history.ErrUnsupported, history.ErrUnborn, history.ErrMissing, history.ErrCorrupt} {
		if errors.Is(err, reason) {
			return true
		}
	}
	return false
}

// provenanceOrNone is the provenance, or one that knows nothing, for a command to
// which history is only an addition.
func (a *app) provenanceOrNone(j *journal.Journal, root string) *provenance {
	return a.provenanceAt(j, root, history.Revision{})
}

// provenanceAt is provenanceOrNone for a journal as a commit has it, or where that is
// zero as the working files are.
func (a *app) provenanceAt(j *journal.Journal, root string, at history.Revision) *provenance {
	opt := evidence.Options{}
	if !at.Hash.IsZero() {
		opt.Head = at.Hash.String()
	}
	w, err := a.openProvenance(j, root, opt, false)
	switch {
	case err == nil:
		return w
	case errors.Is(err, history.ErrNoRepository):
		return &provenance{}
	}
	return &provenance{unreadable: history.Reason(err)}
}

func (w *provenance) close() {
	if w.h != nil {
		w.h.Close()
	}
	if w.remove != nil {
		w.remove()
	}
}

// provenance opens the history and reads the branch that judges.
func (a *app) provenance(j *journal.Journal, root, base string) (*provenance, error) {
	return a.openProvenance(j, root, evidence.Options{Base: base}, false)
}

// openProvenance is provenance with more options; with all, every commit is followed.
func (a *app) openProvenance(j *journal.Journal, root string, opt evidence.Options, all bool) (*provenance, error) {
	h, err := a.repository(root)
	if err != nil {
		return nil, err
	}
	w := &provenance{h: h, dirty: map[string]bool{}}
	fail := func(err error) (*provenance, error) {
		h.Close()
		return nil, err
	}
	if _, err := h.Head(); err != nil {
		return fail(err)
	}
	if w.line, err = a.mainline(h, j, opt, all); err != nil {
		return fail(err)
	}
	w.baseName = w.line.Base().String()
	fsys, err := h.FS(w.line.Base().Commit.Hash)
	if err != nil {
		return fail(err)
	}
	rules := w.line.Rules()
	w.base, w.ring = rules.Journal.On(fsys), rules.Ring
	if opt.Head != "" { // the working files are another branch's
		return w, nil
	}
	seen := a.contents(j)
	if a.read.part {
		seen = h.Noted()
	}
	if w.working, err = h.Dirty(seen); err != nil {
		return fail(err)
	}
	if all {
		if w.staged, err = h.Staged(); err != nil {
			return fail(err)
		}
	}
	for _, c := range w.working {
		w.dirty[c.Path] = true
	}
	return w, nil
}

// mainline reads the branch that judges, which must hold the journal.
func (a *app) mainline(h *history.History, j *journal.Journal, opt evidence.Options, all bool) (*evidence.Mainline, error) {
	line, err := evidence.Open(a.ctx, h, opt, j.Settings.Zone, all)
	if errors.Is(err, evidence.ErrBase) {
		return nil, withHint("name it in full, --base refs/heads/main, and remove or rename the other", "%w", err)
	}
	if err != nil {
		return nil, err
	}
	fsys, err := h.FS(line.Base().Commit.Hash)
	if err == nil {
		_, err = fs.Stat(fsys, journal.SettingsFile)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil, withHint("commit the journal first: git add . && git commit", "%s holds no wj.yaml", line.Base())
	}
	return line, err
}

// facts are what the judgement of sign-offs and changes is told.
func (a *app) facts(j *journal.Journal, w *provenance) evidence.Facts {
	f := evidence.Facts{Now: a.now(), Line: w.line, Unreadable: w.unreadable, Moved: plan.Open(j).MovedWords}
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
		if r.Family == lint.FamilyChange || r.Family == lint.FamilyDose {
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

// bundledProvenance is the provenance of a journal that lies in the data folder of an
// unpacked bundle, whose history is beside it; nil where it does not.
func (a *app) bundledProvenance(j *journal.Journal, root string, opt evidence.Options) (*provenance, error) {
	dir, remove, ok, err := evidence.OpenBundled(a.ctx, root)
	if err != nil || !ok {
		return nil, err
	}
	w, err := a.openProvenance(j, dir, opt, true)
	if err != nil {
		remove()
		return nil, err
	}
	w.remove = remove
	return w, nil
}

// guardSigned asks, when it is first asked, whether enough others signed what a
// branch changes of what it is judged by.
func (a *app) guardSigned(j *journal.Journal, root, base string) func(path string) (bool, string) {
	var facts *evidence.Facts
	return func(p string) (bool, string) {
		if facts == nil {
			facts = &evidence.Facts{Now: a.now()}
			w, err := a.openProvenance(j, root, evidence.Options{Base: base}, true)
			if err != nil {
				facts.Unreadable = history.Reason(err)
			} else {
				facts.Line = w.line
			}
		}
		if facts.Line == nil {
			return false, ""
		}
		return facts.GuardSigned(j, p)
	}
}
