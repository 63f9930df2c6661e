package history

import (
	"context"
	"fmt"
	"path"
	"slices"
	"strings"
)

// Version is one commit that changed a record.
type Version struct {
	Revision
	Kind     ChangeKind
	Path     string // in the journal, at this commit
	From     string // of a renamed file, the path before
	Blob     Hash   // content after the commit, zero where deleted
	Before   []Hash // content in each parent, in their order; zero where absent
	Boundary bool   // the parents are not in this copy: brought by this commit or an older one
}

// FileLog gives the commits that changed one file of the journal, the newest
// first, as git log does it with history simplification: at a merge that
// agrees with one of its parents only that parent is followed. Renames are
// followed where the content stayed the same, or the file name (the record's
// id) did while the folder changed. A deadline of ctx ends the search without
// error and is shown in Walked.Stopped; Walked.Commits counts those found.
func (h *History) FileLog(ctx context.Context, tip Hash, file string) ([]Version, Walked, error) {
	walked := Walked{Shallow: h.Shallow()}
	if file == "" || path.Clean(file) != file || file[0] == '/' || strings.HasPrefix(file, "../") || file == ".." {
		return nil, walked, fmt.Errorf("log of %q: not a path inside the journal", file)
	}
	type search struct {
		tip  Hash
		file string
	}
	var versions []Version
	todo := []search{{tip, file}}
	seen := map[search]bool{}
	for len(todo) > 0 {
		next := todo[0]
		todo = todo[1:]
		err := h.store.log(ctx, logQuery{tip: next.tip, raw: true, changes: true, simplify: true, below: []string{path.Join(h.place.Prefix, next.file)}}, func(c *commit) error {
			version, from, err := h.version(c, next.file)
			if err != nil || version == nil || seen[search{c.name, next.file}] {
				return err
			}
			seen[search{c.name, next.file}] = true
			versions = append(versions, *version)
			for i, old := range from {
				if s := (search{c.parents[i], old}); old != "" && !slices.Contains(todo, s) {
					todo = append(todo, s)
				}
			}
			return nil
		})
		walked.Commits = len(versions)
		if err != nil {
			walked, err = endOfWalk(walked, ctx, h.explainMissing(err))
			return versions, walked, err
		}
	}
	if len(seen) > 0 && file != versions[len(versions)-1].Path {
		if err := h.newestFirst(ctx, tip, versions); err != nil {
			walked, err = endOfWalk(walked, ctx, h.explainMissing(err))
			return versions, walked, err
		}
	}
	return versions, walked, nil
}

// newestFirst sorts the versions of several searches as one walk shows them.
func (h *History) newestFirst(ctx context.Context, tip Hash, versions []Version) error {
	rank := map[Hash]int{}
	for _, v := range versions {
		rank[v.Hash] = -1
	}
	n := 0
	if err := h.store.log(ctx, logQuery{tip: tip}, func(c *commit) error {
		if _, ok := rank[c.name]; ok {
			rank[c.name] = n
		}
		n++
		return nil
	}); err != nil {
		return err
	}
	slices.SortStableFunc(versions, func(a, b Version) int { return rank[a.Hash] - rank[b.Hash] })
	return nil
}

// version is what a commit made of a file, nil where that is nothing, and for
// each parent the other path under which the file is found there.
func (h *History) version(c *commit, file string) (*Version, []string, error) {
	at := slices.IndexFunc(c.changes, func(p pathChange) bool { return p.path == path.Join(h.place.Prefix, file) })
	if at < 0 {
		return nil, nil, nil
	}
	change := c.changes[at]
	r, err := parseRevision(c.name, c.raw)
	if err != nil {
		return nil, nil, err
	}
	v := &Version{Revision: r, Kind: Modified, Path: file, Blob: change.after.file().hash, Boundary: h.shallow[c.name]}
	from := make([]string, len(c.parents))
	absent := 0
	for i, parent := range c.parents {
		before := change.before[i].file().hash
		v.Before = append(v.Before, before)
		if before == v.Blob {
			return nil, nil, nil // only its mode changed, or what is no file
		}
		if !before.IsZero() {
			continue
		}
		absent++
		changes, err := h.Diff(parent, c.name)
		if err != nil {
			return nil, nil, err
		}
		for _, renamed := range changes {
			if renamed.Kind == Renamed && renamed.Path == file {
				v.Kind, v.From, v.Before[i], from[i] = Renamed, renamed.From, renamed.Before, renamed.From
			}
		}
	}
	switch {
	case v.Blob.IsZero() && len(c.parents) == 0:
		return nil, nil, nil
	case v.Blob.IsZero():
		v.Kind = Deleted
	case absent == len(c.parents) && v.From == "":
		v.Kind = Added
	}
	return v, from, nil
}
