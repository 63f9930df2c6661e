package source

import (
	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/lint"
)

// LoadPresent loads of a journal's sessions, which Load was not asked for, those that show how
// its water is now; with all, all of them.
func (s *Source) LoadPresent(j *journal.Journal, all bool) *lint.Present {
	p, opt := lint.NewPresent(j, s.Now(), all), journal.Options{Check: true}
	if s.last.journal == j && s.last.contents != nil && p.Whole() {
		opt.Saw = s.last.contents.Saw
	}
	p.Load(opt)
	s.last.part = !p.Whole()
	return p
}

// LoadAround loads of them those that one record is judged by.
func (s *Source) LoadAround(j *journal.Journal, f journal.File) *lint.Present {
	s.last.part = true
	return lint.Around(j, f, journal.Options{Check: true})
}

// ProvenanceOfTasks is [Source.Provenance], without the branch that judges where there is no
// change, no sign-off and no policy that asks for one.
func (s *Source) ProvenanceOfTasks(j *journal.Journal, root string) (*Provenance, error) {
	h, err := s.Repository(root)
	if err != nil {
		return nil, err
	}
	if judged(h, j) {
		h.Close()
		return s.Provenance(j, root, evidence.Options{}, false)
	}
	p := &Provenance{History: h, Dirty: map[string]bool{}}
	if err := p.compare(s, j); err != nil {
		h.Close()
		return nil, err
	}
	return p, nil
}

// judged reports whether anything of a journal is judged by that branch, or it cannot be read.
func judged(h *history.History, j *journal.Journal) bool {
	if len(j.Changes.List)+len(j.Signoffs.List)+len(j.Settings.Policy.Required) > 0 {
		return true
	}
	base, err := evidence.FindBase(h, "", j.Settings.Zone)
	if err != nil {
		return true
	}
	fsys, err := h.FS(base.Commit.Hash)
	if err != nil {
		return true
	}
	settings, err := journal.ReadSettings(fsys)
	return err != nil || len(settings.Policy.Required) > 0
}
