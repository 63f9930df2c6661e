package source

import (
	"errors"
	"path/filepath"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
)

// Verify judges a journal: sign-offs, history and what was brewed. The history of an unpacked
// bundle is read from beside it. Without a repository only what the files show is judged.
func (s *Source) Verify(j *journal.Journal, root string, opt evidence.Options) (*evidence.Report, error) {
	opt.Now, opt.Moved, opt.Wrong, opt.IsError = s.Now(), plan.Open(j).MovedWords, s.wrong(j), lint.IsErrorIn
	p, err := s.bundled(j, root, opt)
	if p == nil && err == nil {
		p, err = s.Provenance(j, root, opt, true)
	}
	switch {
	case errors.Is(err, history.ErrNoRepository):
		p = &Provenance{}
	case Unreadable(err):
		p = &Provenance{Unreadable: history.Reason(err)}
	case err != nil:
		return nil, err
	}
	defer p.Close()
	if p.Line == nil && (opt.Base != "" || opt.Since != "" || opt.Root != "") {
		return nil, err
	}
	opt.Working, opt.Staged, opt.Unreadable = p.Working, p.Staged, p.Unreadable
	judgement := judge.NewChanges(j, s.Facts(j, p))
	var explained []string
	if p.Line != nil {
		opt.Others = func() (wrong, unknown []evidence.Finding) {
			wrong, unknown, explained = judgement.Brewed()
			return wrong, unknown
		}
	}
	found, err := evidence.Verify(s.Context, j, p.Line, opt, judgement.Settled)
	if err != nil {
		return nil, err
	}
	if p.remove != nil {
		found.Wrong = append(found.Wrong, evidence.Repacked(filepath.Dir(root))...)
	}
	for _, text := range explained {
		found.Say("%s.", text)
	}
	return found, nil
}
