package source

import (
	"errors"
	"io/fs"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/plan"
	"wj/lint"
)

// Provenance is what Git knows of a journal: its history, and the mainline that
// judges. The zero value knows nothing.
type Provenance struct {
	History    *history.History
	Line       *evidence.Mainline
	Base       *journal.Journal // whose people and policy count, with the files of its commit
	BaseName   string
	Dirty      map[string]bool
	Working    []history.Change // what is not committed
	Staged     []history.Change // asked for where every commit is followed
	Unreadable string           // why there is a repository that cannot be asked

	remove func() // takes an unpacked history away
}

// Close lets the history go.
func (p *Provenance) Close() {
	if p.History != nil {
		p.History.Close()
	}
	if p.remove != nil {
		p.remove()
	}
}

// Repository opens the repository of the journal, at the revision that is looked
// at.
func (s *Source) Repository(root string) (*history.History, error) {
	h, err := history.Open(root)
	if err == nil && s.LooksBack() {
		h.Pin(s.past.revision.Hash)
	}
	return h, err
}

// History is Repository; that there is none is said with the next step.
func (s *Source) History(root string) (*history.History, error) {
	h, err := s.Repository(root)
	if errors.Is(err, history.ErrNoRepository) {
		return nil, journal.Hint("git init && git add . && git commit -m \"Start the water journal\"", "there is no history: the journal is in no Git repository")
	}
	return h, err
}

// Settings are those of the working files, or of the last commit where there are none.
func (s *Source) Settings(root string, h *history.History) (journal.Settings, error) {
	if !s.bare {
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

// Provenance opens the history and reads the branch that judges; with all, every commit is
// followed.
func (s *Source) Provenance(j *journal.Journal, root string, opt evidence.Options, all bool) (*Provenance, error) {
	h, err := s.Repository(root)
	if err != nil {
		return nil, err
	}
	p := &Provenance{History: h, Dirty: map[string]bool{}}
	if err := s.read(p, j, opt, all); err != nil {
		h.Close()
		return nil, err
	}
	return p, nil
}

func (s *Source) read(p *Provenance, j *journal.Journal, opt evidence.Options, all bool) error {
	_, err := p.History.Head()
	if err != nil {
		return err
	}
	if p.Line, err = s.Mainline(p.History, j, opt, all); err != nil {
		return err
	}
	p.BaseName = p.Line.Base().String()
	fsys, err := p.History.FS(p.Line.Base().Commit.Hash)
	if err != nil {
		return err
	}
	p.Base = p.Line.Rules().Journal.On(fsys)
	if opt.Head != "" { // the working files are another branch's
		return nil
	}
	if err := p.compare(s, j); err != nil {
		return err
	}
	if all {
		if p.Staged, err = p.History.Staged(); err != nil {
			return err
		}
	}
	return nil
}

// compare finds the working files that differ from the last commit.
func (p *Provenance) compare(s *Source, j *journal.Journal) (err error) {
	if s.last.part {
		p.Working, err = p.History.DirtyNoted()
	} else {
		p.Working, err = p.History.Dirty(s.seen(j))
	}
	for _, c := range p.Working {
		p.Dirty[c.Path] = true
	}
	return err
}

// seen is what was read of a journal's files, so that it is not read again to find what is
// not committed; nil where that is not known.
func (s *Source) seen(j *journal.Journal) *history.Contents {
	if s.last.journal != j {
		return nil
	}
	return s.last.contents
}

// ProvenanceIfAny is the provenance, or one that knows nothing where there is no
// history to ask, which is said.
func (s *Source) ProvenanceIfAny(j *journal.Journal, root string) (*Provenance, error) {
	p, err := s.Provenance(j, root, evidence.Options{}, false)
	switch {
	case errors.Is(err, history.ErrNoRepository):
		s.Say("signer not verified: there is no Git repository here")
		return &Provenance{}, nil
	case Unreadable(err):
		return &Provenance{Unreadable: history.Reason(err)}, nil
	}
	return p, err
}

// Unreadable reports whether there is a repository that cannot be asked, as one
// of a kind that is not known, or one in which contents are missing or damaged.
func Unreadable(err error) bool {
	for _, reason := range []error{history.ErrUnsupported, history.ErrUnborn, history.ErrMissing, history.ErrCorrupt} {
		if errors.Is(err, reason) {
			return true
		}
	}
	return false
}

// ProvenanceOrNone is the provenance, or one that knows nothing, for a command to
// which history is only an addition.
func (s *Source) ProvenanceOrNone(j *journal.Journal, root string) *Provenance {
	return s.ProvenanceAt(j, root, history.Revision{})
}

// ProvenanceAt is ProvenanceOrNone for a journal as a commit has it, or where that is
// zero as the working files are.
func (s *Source) ProvenanceAt(j *journal.Journal, root string, at history.Revision) *Provenance {
	opt := evidence.Options{}
	if !at.Hash.IsZero() {
		opt.Head = at.Hash.String()
	}
	p, err := s.Provenance(j, root, opt, false)
	switch {
	case err == nil:
		return p
	case errors.Is(err, history.ErrNoRepository):
		return &Provenance{}
	}
	return &Provenance{Unreadable: history.Reason(err)}
}

// bundled is the provenance of a journal that lies in the data folder of an
// unpacked bundle, whose history is beside it; nil where it does not.
func (s *Source) bundled(j *journal.Journal, root string, opt evidence.Options) (*Provenance, error) {
	dir, remove, ok, err := evidence.OpenBundled(s.Context, root)
	if err != nil || !ok {
		return nil, err
	}
	p, err := s.Provenance(j, dir, opt, true)
	if err != nil {
		remove()
		return nil, err
	}
	p.remove = remove
	return p, nil
}

// Mainline reads the branch that judges, which must hold the journal; with all, every commit
// is followed.
func (s *Source) Mainline(h *history.History, j *journal.Journal, opt evidence.Options, all bool) (*evidence.Mainline, error) {
	line, err := evidence.Open(s.Context, h, opt, j.Settings.Zone, all)
	if errors.Is(err, evidence.ErrBase) {
		return nil, journal.Hint("name it in full, --base refs/heads/main, and remove or rename the other", "%w", err)
	}
	if err != nil {
		return nil, err
	}
	fsys, err := h.FS(line.Base().Commit.Hash)
	if err == nil {
		_, err = fs.Stat(fsys, journal.SettingsFile)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil, journal.Hint("commit the journal first: git add . && git commit", "%s holds no wj.yaml", line.Base())
	}
	return line, err
}

// Facts are what the judgement of sign-offs and changes is shown.
func (s *Source) Facts(j *journal.Journal, p *Provenance) evidence.Facts {
	return evidence.Facts{Now: s.Now(), Line: p.Line, Unreadable: p.Unreadable, Moved: plan.Open(j).MovedWords, Wrong: s.wrong(j)}
}

// wrong reports of a change whether it is wrong in itself.
func (s *Source) wrong(j *journal.Journal) func(path string) bool {
	return func(path string) bool { return lint.WrongInItself(j, path, s.Now()) }
}

// GuardSigned asks, when it is first asked, whether enough others signed what a
// branch changes of what it is judged by.
func (s *Source) GuardSigned(j *journal.Journal, root, base string) func(path string) (bool, string) {
	var facts *evidence.Facts
	return func(path string) (bool, string) {
		if facts == nil {
			facts = &evidence.Facts{Now: s.Now()}
			p, err := s.Provenance(j, root, evidence.Options{Base: base}, true)
			if err != nil {
				facts.Unreadable = history.Reason(err)
			} else {
				facts.Line = p.Line
			}
		}
		if facts.Line == nil {
			return false, ""
		}
		return facts.GuardSigned(j, path)
	}
}
