package diff

import (
	"cmp"
	"errors"
	"io/fs"
	"slices"

	"wj/journal"
	"wj/journal/history"
)

// CommittedPairs gives the record files, and the settings, that differ between
// two commits.
func CommittedPairs(h *history.History, a, b history.Hash) ([]FilePair, error) {
	changes, err := h.Diff(a, b)
	if err != nil {
		return nil, err
	}
	var pairs []FilePair
	for _, c := range changes {
		if _, ok := journal.FileOf(c.Path); !ok && c.Path != journal.SettingsFile {
			continue
		}
		p := FilePair{Path: c.Path, From: c.From}
		for blob, content := range map[history.Hash]*[]byte{c.Before: &p.Before, c.After: &p.After} {
			if blob.IsZero() {
				continue
			}
			if *content, err = h.Blob(blob); err != nil {
				return nil, err
			}
		}
		if c.Before == c.After { // one entry of the map above stood for both
			if p.After, err = h.Blob(c.After); err != nil {
				return nil, err
			}
			p.Before = p.After
		}
		pairs = append(pairs, p)
	}
	return pairs, nil
}

// WorkingPairs compares a commit with the working files: what the last commit
// changed since, and what is not committed, as [history.History.Dirty] gives it.
func WorkingPairs(h *history.History, root string, from history.Hash, dirty []history.Change) ([]FilePair, error) {
	head, err := h.Head()
	if err != nil {
		return nil, err
	}
	committed, err := h.Diff(from, head.Hash)
	if err != nil {
		return nil, err
	}
	origin := map[string]string{} // path now → path in from
	var order []string
	note := func(p, old string) {
		if _, known := origin[p]; !known {
			order = append(order, p)
		}
		origin[p] = old
	}
	for _, c := range committed {
		note(c.Path, cmp.Or(c.From, c.Path))
	}
	for _, c := range dirty {
		old := cmp.Or(c.From, c.Path)
		if earlier, ok := origin[old]; ok && c.From != "" {
			old = earlier
		} else if earlier, ok := origin[c.Path]; ok {
			old = earlier
		}
		note(c.Path, old)
	}
	files := journal.Dir(root)
	var pairs []FilePair
	for _, p := range order {
		if _, ok := journal.FileOf(p); !ok && p != journal.SettingsFile {
			continue
		}
		pair := FilePair{Path: p}
		if pair.After, err = files.ReadFile(p); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
		content, err := h.BlobAt(from, origin[p])
		switch {
		case err == nil:
			pair.Before = content
			if origin[p] != p {
				pair.From = origin[p]
			}
		case !errors.Is(err, fs.ErrNotExist):
			return nil, err
		}
		pairs = append(pairs, pair)
	}
	return pairs, nil
}

// StagedPairs compares a commit with what is about to be committed.
func StagedPairs(h *history.History, from history.Hash, staged history.Staged) ([]FilePair, error) {
	var pairs []FilePair
	for _, p := range staged.Changed {
		if _, ok := journal.FileOf(p); !ok && p != journal.SettingsFile {
			continue
		}
		pair := FilePair{Path: p}
		var err error
		if pair.After, err = fs.ReadFile(staged, p); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
		if pair.Before, err = h.BlobAt(from, p); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
		pairs = append(pairs, pair)
	}
	return pairs, nil
}

// Touched is the part of a journal that [Differences] asks for, given the files
// that differ. What is new touches nothing else; of
// a session the changes and batches of its site may depend on it; and a lot, a
// meter, a method or a site may have been used by any session.
func Touched(pairs []FilePair) *journal.Part {
	part := &journal.Part{Files: map[string]bool{}, Sites: map[string]bool{}}
	for _, p := range pairs {
		part.Files[p.Path], part.Files[cmp.Or(p.From, p.Path)] = true, true
		f, ok := journal.FileOf(p.Path)
		if !ok || p.Before == nil {
			continue
		}
		switch f.Kind {
		case journal.KindLot, journal.KindInstrument, journal.KindMethod, journal.KindSite:
			part.Everything = true
		case journal.KindSession:
			for _, state := range [][]byte{p.Before, p.After} {
				if s := session(f, state); s != nil {
					part.Sites[s.Site] = true
				}
			}
		}
	}
	return part
}

// CompareStates reads of two states of a journal what their differences ask for
// and gives those, with the later state. Session files that nothing asks for are
// neither opened nor, where nothing that was there differs, listed.
func CompareStates(before, after fs.FS, pairs []FilePair) ([]RecordChange, *journal.Journal, error) {
	earlier, err := journal.Load(withoutSessions{before}, journal.Options{})
	if err != nil {
		return nil, nil, err
	}
	opt := journal.Options{}
	if slices.ContainsFunc(pairs, func(p FilePair) bool { return p.Before != nil }) {
		part := Touched(pairs)
		opt = journal.Options{Sessions: true, Only: part.Holds}
	} else {
		after = withoutSessions{after}
	}
	later, err := journal.Load(after, opt)
	if err != nil {
		return nil, nil, err
	}
	return Differences(earlier, later, pairs), later, nil
}

// withoutSessions is a journal's files but for its sessions.
type withoutSessions struct{ fs.FS }

func (w withoutSessions) ReadDir(name string) ([]fs.DirEntry, error) {
	if name == journal.KindSession.Folder() {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrNotExist}
	}
	return fs.ReadDir(w.FS, name)
}
