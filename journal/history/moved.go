package history

import (
	"path"
	"path/filepath"

	"wj/journal"
)

// movedDepth is how deep in a repository a journal is looked for that was moved.
const movedDepth = 4

// MovedFrom gives the history of the journal as it lay in another folder of the
// repository before a commit moved it as a whole: older reads it there, from the
// commit's first parent on. It is nil where the commit did not move it.
func (h *History) MovedFrom(commit Hash) (older *History, parent Hash, err error) {
	r, err := h.Revision(commit)
	if err != nil || len(h.parents(r)) == 0 {
		return nil, Hash{}, err
	}
	parent = r.Parents[0]
	before, err := h.Revision(parent)
	if err != nil {
		return nil, Hash{}, err
	}
	has := func(tree Hash, folder string) (bool, error) {
		e, err := h.trees.at(tree, path.Join(folder, journal.SettingsFile))
		return e.isFile(), err
	}
	for _, side := range []struct {
		tree Hash
		want bool
	}{{r.Tree, true}, {before.Tree, false}} {
		if there, err := has(side.tree, h.place.Prefix); err != nil || there != side.want {
			return nil, Hash{}, h.explainMissing(err)
		}
	}
	var from []string
	var look func(tree Hash, folder string, depth int) error
	look = func(tree Hash, folder string, depth int) error {
		raw, err := h.trees.read(tree)
		if err != nil {
			return err
		}
		entries, err := parseTree(raw, int(tree.size))
		if err != nil {
			return err
		}
		for _, e := range entries {
			switch {
			case e.name == journal.SettingsFile && e.isFile():
				if stays, err := has(r.Tree, folder); err != nil {
					return err
				} else if !stays {
					from = append(from, folder)
				}
			case e.isTree() && depth < movedDepth:
				if err := look(e.hash, path.Join(folder, e.name), depth+1); err != nil {
					return err
				}
			}
		}
		return nil
	}
	if err := look(before.Tree, "", 0); err != nil || len(from) != 1 {
		return nil, Hash{}, h.explainMissing(err) // of several nobody knows which it was
	}
	place := h.place
	place.Prefix, place.Journal = from[0], filepath.Join(place.Top, filepath.FromSlash(from[0]))
	return with(place, h.store, h.shallow), parent, nil
}
