package evidence

import (
	"cmp"
	"context"
	"errors"
	"io/fs"
	"maps"
	"slices"

	"wj/journal"
	"wj/journal/history"
)

// moved is a repository in which one commit moved the whole journal to another
// folder: before it the journal is read where it lay then.
type moved struct {
	Repository                  // as it lies now
	older      *history.History // as it lay until parent
	at, parent history.Hash
}

// follow gives the repository with the folder in which the journal lay before the
// commit that brought it, or the repository itself where it was not moved.
func follow(repo Repository, brought history.Hash) (Repository, bool, error) {
	older, parent, err := repo.MovedFrom(brought)
	if err != nil || older == nil {
		return repo, false, err
	}
	return &moved{repo, older, brought, parent}, true, nil
}

// Ever is a journal's history with all folders in which it lay.
func Ever(ctx context.Context, h *history.History, head history.Hash) (Repository, error) {
	var repo Repository = h
	for h != nil {
		log, _, err := h.FileLog(ctx, head, journal.SettingsFile)
		if err != nil || len(log) == 0 {
			return repo, err
		}
		older, parent, err := repo.MovedFrom(log[len(log)-1].Hash)
		if err != nil {
			return nil, err
		}
		if older != nil {
			repo = &moved{repo, older, log[len(log)-1].Hash, parent}
		}
		h, head = older, parent
	}
	return repo, nil
}

// before reports whether the journal does not lie where it does now in a commit.
func (m *moved) before(commit history.Hash) bool {
	files, err := m.Repository.FS(commit)
	if err == nil {
		_, err = fs.Stat(files, journal.SettingsFile)
	}
	return err != nil
}

func (m *moved) FS(commit history.Hash) (fs.FS, error) {
	if m.before(commit) {
		return m.older.FS(commit)
	}
	return m.Repository.FS(commit)
}

func (m *moved) List(commit history.Hash, folder string) ([]history.Entry, error) {
	if m.before(commit) {
		return m.older.List(commit, folder)
	}
	return m.Repository.List(commit, folder)
}

// MovedFrom looks further back, where the journal lay before.
func (m *moved) MovedFrom(commit history.Hash) (*history.History, history.Hash, error) {
	if commit == m.at {
		return nil, history.Hash{}, nil
	}
	return m.older.MovedFrom(commit)
}

// Diff compares two commits, wherever the journal lay in each.
func (m *moved) Diff(a, b history.Hash) ([]history.Change, error) {
	if b == m.at {
		a = m.parent
	}
	switch old, is := a.IsZero() || m.before(a), b.IsZero() || m.before(b); {
	case old && is:
		return m.older.Diff(a, b)
	case old == is || a.IsZero() || b.IsZero():
		return m.Repository.Diff(a, b)
	}
	var files [2]map[string]history.Hash
	for i, commit := range []history.Hash{a, b} {
		list, err := m.List(commit, "")
		if err != nil {
			return nil, err
		}
		files[i] = map[string]history.Hash{}
		for _, e := range list {
			files[i][e.Path] = e.Blob
		}
	}
	all := maps.Clone(files[0])
	maps.Copy(all, files[1])
	var out []history.Change
	for _, p := range slices.Sorted(maps.Keys(all)) {
		c := history.Change{Kind: history.Modified, Path: p, Before: files[0][p], After: files[1][p]}
		switch {
		case c.Before == c.After:
			continue
		case c.Before.IsZero():
			c.Kind = history.Added
		case c.After.IsZero():
			c.Kind = history.Deleted
		}
		out = append(out, c)
	}
	return out, nil
}

// Walk shows what came since the journal lies where it does, the move as what it
// changed besides, and then what came before.
func (m *moved) Walk(ctx context.Context, tip history.Hash, options history.WalkOptions, f func(history.Step) error) (history.Walked, error) {
	if m.before(tip) {
		return m.older.Walk(ctx, tip, options, f)
	}
	since := options
	if options.Exclude.IsZero() || m.before(options.Exclude) {
		since.Exclude = m.parent
	}
	line, passed := map[history.Hash]bool{}, false // the first-parent line down to the move
	walked, err := m.Repository.Walk(ctx, tip, since, func(s history.Step) error {
		switch {
		case s.FirstParent && !passed:
			line[s.Hash], passed = true, s.Hash == m.at
		case passed && !line[s.MergedBy]: // of what the journal was put into, or of the time when it was nowhere
			s.FirstParent, s.MergedBy = false, m.at
		}
		if s.Hash == m.at {
			changes, err := m.Diff(m.parent, m.at)
			if err != nil {
				return err
			}
			if s.Changes = changes; len(options.Folders) > 0 {
				s.Changes = history.In(options.Folders, changes)
			}
		}
		return f(s)
	})
	if err != nil || since.Exclude != m.parent || walked.Stopped != "" {
		return walked, err
	}
	earlier, err := m.older.Walk(ctx, m.parent, options, f)
	earlier.Commits += walked.Commits
	earlier.Shallow = earlier.Shallow || walked.Shallow
	return earlier, err
}

// Mainline goes on where the journal lay before.
func (m *moved) Mainline(ctx context.Context, tip history.Hash) ([]history.Link, error) {
	if m.before(tip) {
		return m.older.Mainline(ctx, tip)
	}
	line, err := m.Repository.Mainline(ctx, tip)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(line, func(l history.Link) bool { return l.Hash == m.at })
	earlier, err := m.older.Mainline(ctx, m.parent)
	return append(line[:at+1], earlier...), err
}

// Brought shows what came since the journal lies where it does, the move, and what
// came before.
func (m *moved) Brought(ctx context.Context, tip history.Hash, folders []string, f func(history.Hash, []history.Change) error) error {
	if m.before(tip) {
		return m.older.Brought(ctx, tip, folders, f)
	}
	err := m.Repository.Brought(ctx, tip, folders, func(commit history.Hash, changes []history.Change) error {
		if commit != m.at {
			return f(commit, changes)
		}
		changes, err := m.Diff(m.parent, m.at)
		if err == nil {
			err = f(commit, changes)
		}
		return cmp.Or(err, errEnough)
	})
	if !errors.Is(err, errEnough) {
		return err
	}
	return m.older.Brought(ctx, m.parent, folders, f)
}
