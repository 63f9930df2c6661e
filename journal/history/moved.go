package history

import (
	"context"
	"path"
	"path/filepath"
	"strings"

	"wj/journal"
)

// movedDepth is how deep in a repository a journal is looked for that was moved.
const movedDepth = 4

// MovedFrom gives the history of the journal as it lay in another folder of the
// repository, or of one that a merge brought, before a commit put it where it lies:
// older reads it there, from parent on. It is nil where the commit founded the journal.
// A journal that left its folder in the commit is the one that was moved; of several,
// of one that stays, and of one that left earlier, it is one that shares records.
func (h *History) MovedFrom(brought Hash) (older *History, parent Hash, err error) {
	older, parent, err = h.movedFrom(brought)
	return older, parent, h.explainMissing(err)
}

func (h *History) movedFrom(brought Hash) (older *History, parent Hash, err error) {
	r, err := h.Revision(brought)
	parents := h.parents(r)
	if err != nil || len(parents) == 0 {
		return nil, Hash{}, err
	}
	if there, err := h.hasJournal(r.Tree, h.place.Prefix); err != nil || !there {
		return nil, Hash{}, err
	}
	var known, left []lain
	for i, p := range parents {
		before, err := h.Revision(p)
		if err != nil {
			return nil, Hash{}, err
		}
		if there, err := h.hasJournal(before.Tree, h.place.Prefix); err != nil || there && i == 0 {
			return nil, Hash{}, err
		}
		found, err := h.journals(before.Tree, "", 0)
		if err != nil {
			return nil, Hash{}, err
		}
		for _, folder := range found {
			stays, err := h.hasJournal(r.Tree, folder)
			if err != nil {
				return nil, Hash{}, err
			}
			known = append(known, lain{p, before.Tree, folder})
			if !stays && i == 0 {
				left = append(left, lain{p, before.Tree, folder})
			}
		}
	}
	if len(left) == 1 {
		return h.at(left[0].folder), left[0].commit, nil
	}
	q := logQuery{tip: parents[0], firstParent: true, changes: true, dense: true, named: journal.SettingsFile}
	if err := h.store.log(context.Background(), q, func(c *commit) error {
		for _, p := range c.changes {
			if !p.after.absent() || len(c.parents) == 0 {
				continue
			}
			before, err := h.Revision(c.parents[0])
			if err != nil {
				return err
			}
			known = append(known, lain{before.Hash, before.Tree, strings.TrimSuffix(strings.TrimSuffix(p.path, journal.SettingsFile), "/")})
		}
		return nil
	}); err != nil {
		return nil, Hash{}, err
	}
	most := 0
	var from lain
	for _, l := range known {
		if n, err := h.shared(r.Tree, l); err != nil {
			return nil, Hash{}, err
		} else if n > most {
			most, from = n, l
		}
	}
	if most == 0 {
		return nil, Hash{}, nil
	}
	return h.at(from.folder), from.commit, nil
}

// lain is where a journal lay in a commit.
type lain struct {
	commit, tree Hash
	folder       string
}

func (h *History) hasJournal(tree Hash, folder string) (bool, error) {
	e, err := h.trees.at(tree, path.Join(folder, journal.SettingsFile))
	return e.isFile(), err
}

// journals are the folders of a tree in which a journal lies.
func (h *History) journals(tree Hash, folder string, depth int) (found []string, err error) {
	raw, err := h.trees.read(tree)
	if err != nil {
		return nil, err
	}
	entries, err := parseTree(raw, int(tree.size))
	for _, e := range entries {
		switch {
		case e.name == journal.SettingsFile && e.isFile():
			found = append(found, folder)
		case e.isTree() && depth < movedDepth:
			below, err := h.journals(e.hash, path.Join(folder, e.name), depth+1)
			if err != nil {
				return nil, err
			}
			found = append(found, below...)
		}
	}
	return found, err
}

// shared counts the records of acts and results that a journal elsewhere had under the
// names that the one here has.
func (h *History) shared(tree Hash, l lain) (n int, err error) {
	for _, k := range []journal.Kind{journal.KindSession, journal.KindChange, journal.KindSignoff, journal.KindBatch} {
		names := map[string]bool{}
		for i, folder := range []string{path.Join(h.place.Prefix, k.Folder()), path.Join(l.folder, k.Folder())} {
			root, err := h.trees.at([]Hash{tree, l.tree}[i], folder)
			if err != nil {
				return 0, err
			}
			if !root.isTree() {
				continue
			}
			if err := h.trees.compare(Hash{}, root.hash, "", nil, func(name string, _, _ treeEntry) error {
				if base := path.Base(name); i == 0 {
					names[base] = true
				} else if names[base] {
					n++
				}
				return nil
			}); err != nil {
				return 0, err
			}
		}
	}
	return n, nil
}

// at is the history of the journal as it lies in another folder.
func (h *History) at(folder string) *History {
	place := h.place
	place.Prefix, place.Journal = folder, filepath.Join(place.Top, filepath.FromSlash(folder))
	return with(place, h.store, h.shallow)
}
