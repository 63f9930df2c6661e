package history

import (
	"context"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"
)

// ChangeKind says what happened to a file in a commit.
type ChangeKind byte

// What can happen to a file. Renamed files were found under another name with
// the same content, or under the same file name (a record's id) in another
// folder.
const (
	Added ChangeKind = iota + 1
	Modified
	Deleted
	Renamed
)

// String gives the kind as a word.
func (k ChangeKind) String() string {
	names := [...]string{"unchanged", "added", "modified", "deleted", "renamed"}
	if int(k) < len(names) {
		return names[k]
	}
	return "unknown change"
}

// Change is one file that a commit changed. Before and After name the contents
// for [History.Blob]; Before is zero for an added, After for a deleted file.
type Change struct {
	Kind   ChangeKind
	Path   string // in the journal; of a deleted file the path that it had
	From   string // of a renamed file, the path that it had
	Before Hash
	After  Hash
}

// Step is one commit of a walk.
type Step struct {
	Revision
	Changes     []Change // what this commit itself brought, sorted by path
	FirstParent bool     // on the first-parent line of the tip
	MergedBy    Hash     // the first-parent commit that brought it in; itself on that line
	Boundary    bool     // its parents are not in this copy, so what it changed is unknown
}

// Walked says how a walk ended.
type Walked struct {
	Commits int    // commits shown
	Stopped string // "" where all were shown, else why not: "stopped after 500 commits: …"
	Shallow bool   // a boundary was met: older history is not in this copy
}

// WalkOptions narrow a walk. The zero value is everything.
type WalkOptions struct {
	Exclude Hash // neither this commit nor its ancestors, as in EXCLUDE..TIP
	Limit   int  // at most so many commits; 0 is no limit
	// Folders of the journal, the outermost ones, by name: what lies elsewhere is
	// not looked at, and a commit that changed nothing in them is not shown. None
	// is everything.
	Folders []string
}

// Walk shows every commit that tip descends from to f, children before parents
// and otherwise the newest first, each with the journal's files that it
// changed itself: a merge only has what differs from all its parents, since
// everything else was brought by a commit of its own. f is called from one
// goroutine. An error of f ends the walk and is returned. A deadline of ctx,
// like the limit, ends it without error and is shown in Walked.Stopped.
func (h *History) Walk(ctx context.Context, tip Hash, options WalkOptions, f func(Step) error) (Walked, error) {
	if len(options.Folders) > 0 && options.Limit == 0 {
		return h.walkFolders(ctx, tip, options, f)
	}
	var walked Walked
	q := logQuery{tip: tip, exclude: options.Exclude, raw: true, changes: true, below: h.below(options.Folders)}
	if options.Limit > 0 {
		q.limit = options.Limit + 1
	}
	var words words
	brought := newBringing(tip)
	errLimit := errors.New("limit")
	err := h.store.log(ctx, q, func(c *commit) error {
		if options.Limit > 0 && walked.Commits == options.Limit {
			walked.Stopped = fmt.Sprintf("stopped after %d commits: the limit is reached", options.Limit)
			return errLimit
		}
		step := Step{Boundary: h.shallow[c.name]}
		step.MergedBy = brought.by(c.name, c.parents)
		step.FirstParent = step.MergedBy == c.name
		if !step.Boundary {
			step.Changes = pairRenames(h.ownChanges(c))
		}
		var err error
		if step.Revision, err = words.parse(c); err != nil {
			return err
		}
		walked.Commits++
		walked.Shallow = walked.Shallow || step.Boundary
		return f(step)
	})
	if err == errLimit {
		err = nil
	}
	return endOfWalk(walked, ctx, h.explainMissing(err))
}

// walkFolders is Walk of some folders: the commits that changed something there are
// read, of all others only what they descend from.
func (h *History) walkFolders(ctx context.Context, tip Hash, options WalkOptions, f func(Step) error) (Walked, error) {
	var walked Walked
	var touching []*commit
	read := make(chan error, 1)
	go func() {
		q := logQuery{tip: tip, exclude: options.Exclude, raw: true, changes: true, dense: true, below: h.below(options.Folders)}
		read <- h.store.log(ctx, q, func(c *commit) error {
			touching = append(touching, c)
			return nil
		})
	}()
	all, err := h.links(ctx, tip, options.Exclude)
	if err := errors.Join(<-read, err); err != nil {
		return endOfWalk(walked, ctx, h.explainMissing(err))
	}
	brought := newBringing(tip)
	mergedBy := map[Hash]Hash{}
	for _, c := range touching {
		mergedBy[c.name] = Hash{}
	}
	for i := range all {
		l := &all[i]
		by := brought.by(l.Hash, l.Parents)
		if _, ok := mergedBy[l.Hash]; ok {
			mergedBy[l.Hash] = by
		}
		walked.Shallow = walked.Shallow || l.Boundary
	}
	var words words
	for _, c := range touching {
		step := Step{MergedBy: mergedBy[c.name], Boundary: h.shallow[c.name]}
		step.FirstParent = step.MergedBy == c.name
		if !step.Boundary {
			if step.Changes, err = h.changesIn(c, options.Folders); err != nil {
				return endOfWalk(walked, ctx, h.explainMissing(err))
			}
			if len(step.Changes) == 0 {
				continue
			}
		}
		if step.Revision, err = words.parse(c); err != nil {
			return walked, err
		}
		walked.Commits++
		if err := f(step); err != nil {
			return walked, err
		}
	}
	return walked, nil
}

// below are the folders of a repository that a walk of the journal looks into.
func (h *History) below(folders []string) (below []string) {
	for _, folder := range folders {
		below = append(below, path.Join(h.place.Prefix, folder))
	}
	if len(below) == 0 && h.place.Prefix != "" {
		below = []string{h.place.Prefix}
	}
	return below
}

func endOfWalk(walked Walked, ctx context.Context, err error) (Walked, error) {
	if errors.Is(err, context.DeadlineExceeded) && ctx.Err() != nil {
		walked.Stopped = fmt.Sprintf("stopped after %d commits: the time is over", walked.Commits)
		return walked, nil
	}
	return walked, err
}

// bringing knows for each commit of a walk which commit of the first-parent line
// brought it in: itself on that line, else the oldest one that descends from it.
// Children come before parents, so it is handed on from them.
type bringing struct {
	next  Hash // the next commit of the line
	depth int  // how far down the line
	from  map[Hash]bringer
}

type bringer struct {
	name  Hash
	depth int
}

func newBringing(tip Hash) *bringing { return &bringing{next: tip, from: map[Hash]bringer{}} }

func (b *bringing) by(commit Hash, parents []Hash) Hash {
	own := b.from[commit]
	delete(b.from, commit)
	if commit == b.next || own.name.IsZero() {
		own = bringer{commit, b.depth}
		b.depth++
		b.next = Hash{}
		if len(parents) > 0 {
			b.next = parents[0]
		}
		if len(parents) == 1 && len(b.from) == 0 {
			return commit // nothing beside the line: its parent is of it too
		}
	}
	for _, p := range parents {
		if known, ok := b.from[p]; !ok || known.depth < own.depth {
			b.from[p] = own
		}
	}
	return own.name
}

// ownChanges are the journal's files in which a commit differs from all its
// parents.
func (h *History) ownChanges(c *commit) []Change {
	var changes []Change
	for _, p := range c.changes {
		name, ok := within(h.place.Prefix, p.path)
		if !ok {
			continue
		}
		change := Change{Kind: Modified, Path: name, Before: p.before[0].hash, After: p.after.hash}
		switch {
		case p.after.absent():
			change.Kind = Deleted
		case p.before[0].absent():
			change.Kind = Added
		}
		changes = append(changes, change)
	}
	return changes
}

// changesIn is ownChanges of the folders named alone, with renames from and to others.
func (h *History) changesIn(c *commit, folders []string) ([]Change, error) {
	changes := pairRenames(h.ownChanges(c))
	parents := c.parents
	if len(parents) == 0 || !slices.ContainsFunc(changes, func(c Change) bool { return c.Kind != Modified }) {
		return changes, nil // nothing was moved
	}
	for i, p := range parents {
		part, err := h.plainChanges(p, c.name)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			changes = part
			continue
		}
		paths := map[string]bool{}
		for _, c := range part {
			paths[c.Path] = true
		}
		changes = slices.DeleteFunc(changes, func(c Change) bool { return !paths[c.Path] })
	}
	return In(folders, pairRenames(changes)), nil
}

// In are the changes of what lies in one of the outermost folders that are named, or
// lay there.
func In(folders []string, changes []Change) []Change {
	return slices.DeleteFunc(changes, func(c Change) bool {
		is, _, _ := strings.Cut(c.Path, "/")
		was, _, _ := strings.Cut(c.From, "/")
		return !slices.Contains(folders, is) && (c.From == "" || !slices.Contains(folders, was))
	})
}

// Diff gives the journal's files that differ between two commits, sorted by
// path; a zero commit is an empty journal.
func (h *History) Diff(a, b Hash) ([]Change, error) {
	changes, err := h.plainChanges(a, b)
	return pairRenames(changes), h.explainMissing(err)
}

// maxChanges bounds the files of one commit: trees that name each other many
// times over unfold to any number of them.
const maxChanges = 2_000_000

// plainChanges is Diff without renames, in no particular order.
func (h *History) plainChanges(a, b Hash) ([]Change, error) {
	var roots [2]Hash
	for i, commit := range []Hash{a, b} {
		if commit.IsZero() {
			continue
		}
		r, err := h.Revision(commit)
		if err != nil {
			return nil, err
		}
		e, err := h.trees.at(r.Tree, h.place.Prefix)
		if err != nil {
			return nil, err
		}
		if e.isTree() {
			roots[i] = e.hash
		}
	}
	var changes []Change
	err := h.trees.compare(roots[0], roots[1], "", nil, func(path string, before, after treeEntry) error {
		c := Change{Path: path, Before: before.hash, After: after.hash}
		switch {
		case before.absent():
			c.Kind = Added
		case after.absent():
			c.Kind = Deleted
		default:
			c.Kind = Modified
		}
		if len(changes) == maxChanges {
			return fmt.Errorf("more than %d files in one commit: %w", maxChanges, ErrCorrupt)
		}
		changes = append(changes, c)
		return nil
	})
	return changes, err
}

// pairRenames joins a deleted and an added file to one renamed one: first
// those with the same content, the same file name preferred, then those with
// the same file name, which in a journal is the record's id. The result is
// sorted by path.
func pairRenames(changes []Change) []Change {
	if len(changes) < 2 {
		return changes
	}
	slices.SortFunc(changes, func(a, b Change) int { return strings.Compare(a.Path, b.Path) })
	gone := make([]bool, len(changes))
	for _, key := range []func(content Hash, file string) string{
		func(content Hash, file string) string { return string(content.sum[:]) + path.Base(file) },
		func(content Hash, _ string) string { return string(content.sum[:]) },
		func(_ Hash, file string) string { return path.Base(file) },
	} {
		left := map[string][]int{}
		for i, c := range changes {
			if c.Kind == Deleted && !gone[i] {
				k := key(c.Before, c.Path)
				left[k] = append(left[k], i)
			}
		}
		for i := range changes {
			c := &changes[i]
			if c.Kind != Added {
				continue
			}
			k := key(c.After, c.Path)
			if candidates := left[k]; len(candidates) > 0 {
				from := candidates[0]
				left[k] = candidates[1:]
				c.Kind, c.From, c.Before, gone[from] = Renamed, changes[from].Path, changes[from].Before, true
			}
		}
	}
	kept := changes[:0]
	for i, c := range changes {
		if !gone[i] {
			kept = append(kept, c)
		}
	}
	return kept
}
