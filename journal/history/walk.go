package history

import (
	"context"
	"errors"
	"fmt"
	"path"
	"runtime"
	"slices"
	"strings"
	"sync"
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
// everything else was brought by a commit of its own. Reading goes ahead of f
// on several processors; f is called from one goroutine. An error of f ends
// the walk and is returned. A deadline of ctx, like the limit, ends it without
// error and is told in Walked.Stopped.
func (h *History) Walk(ctx context.Context, tip Hash, options WalkOptions, f func(Step) error) (Walked, error) {
	var walked Walked
	g, err := h.ancestry(ctx, tip)
	if err != nil {
		return endOfWalk(walked, ctx, err)
	}
	excluded := make([]bool, len(g.names))
	if !options.Exclude.IsZero() {
		if err := h.exclude(ctx, g, options.Exclude, excluded); err != nil {
			return endOfWalk(walked, ctx, err)
		}
	}
	var todo []int32
	for _, n := range g.order {
		if excluded[n] {
			continue
		}
		if options.Limit > 0 && len(todo) == options.Limit {
			walked.Stopped = fmt.Sprintf("stopped after %d commits: the limit is reached", options.Limit)
			break
		}
		todo = append(todo, n)
	}
	by := g.mergedBy()
	err = h.inOrder(ctx, todo, func(r *reader, n int32) (Step, error) {
		step, err := h.step(r, g, n, options.Folders)
		step.MergedBy, step.FirstParent = g.names[by[n]], by[n] == n
		return step, err
	}, func(step Step) error {
		walked.Commits++
		walked.Shallow = walked.Shallow || step.Boundary
		return f(step)
	})
	return endOfWalk(walked, ctx, err)
}

func endOfWalk(walked Walked, ctx context.Context, err error) (Walked, error) {
	if errors.Is(err, context.DeadlineExceeded) && ctx.Err() != nil {
		walked.Stopped = fmt.Sprintf("stopped after %d commits: the time is over", walked.Commits)
		return walked, nil
	}
	return walked, err
}

// exclude marks a commit and its ancestors. They need not be among the tip's.
func (h *History) exclude(ctx context.Context, g *graph, base Hash, excluded []bool) error {
	stack := []int32{}
	if n, ok := g.find(base); ok {
		stack = append(stack, n)
	} else {
		other, err := h.ancestry(ctx, base)
		if err != nil {
			return err
		}
		for _, name := range other.names {
			if n, ok := g.find(name); ok {
				stack = append(stack, n)
			}
		}
	}
	for len(stack) > 0 {
		n := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if !excluded[n] {
			excluded[n] = true
			stack = append(stack, g.parents[n]...)
		}
	}
	return nil
}

// inOrder computes one step per commit on several processors and hands them on
// in order, some blocks ahead at most.
func (h *History) inOrder(ctx context.Context, todo []int32, compute func(*reader, int32) (Step, error), f func(Step) error) error {
	// The first blocks are short, for those that look for something recent.
	const shortest, longest = 32, 512
	type result struct {
		steps []Step
		err   error
	}
	ctx, stop := context.WithCancelCause(ctx)
	workers := runtime.GOMAXPROCS(0)
	blocks := make(chan chan result, 2*workers)
	jobs := make(chan func(*reader), 2*workers)
	var running sync.WaitGroup
	// Nothing is left running when the walk ends, however it ends.
	defer running.Wait()
	defer stop(nil)
	for range workers {
		running.Go(func() {
			r := h.objects.reader()
			for job := range jobs {
				job(r)
			}
		})
	}
	running.Go(func() {
		defer close(jobs)
		defer close(blocks)
		for size := shortest; len(todo) > 0; size = min(2*size, longest) {
			part := todo[:min(size, len(todo))]
			todo = todo[len(part):]
			out := make(chan result, 1)
			job := func(reader *reader) {
				r := result{steps: make([]Step, 0, len(part))}
				for _, n := range part {
					if ctx.Err() != nil {
						r.err = ctx.Err()
						break
					}
					reader.turn()
					step, err := compute(reader, n)
					if err != nil {
						r.err = err
						break
					}
					if !step.Hash.IsZero() {
						r.steps = append(r.steps, step)
					}
				}
				out <- r
			}
			select {
			case jobs <- job:
			case <-ctx.Done():
				return
			}
			select {
			case blocks <- out:
			case <-ctx.Done():
				return
			}
		}
	})
	for out := range blocks {
		r := <-out
		for _, step := range r.steps {
			if err := f(step); err != nil {
				return err
			}
		}
		if r.err != nil {
			return r.err
		}
	}
	return ctx.Err()
}

// step reads one commit and compares it with its parents. With folders named,
// the commit itself is read only where it changed something in them; a zero
// step says that it did not.
func (h *History) step(reader *reader, g *graph, n int32, folders []string) (Step, error) {
	step := Step{Boundary: g.boundary[n]}
	var err error
	if len(folders) > 0 {
		if step.Boundary {
			step.Revision, err = h.revision(reader, g, n)
			return step, err
		}
		if step.Changes, err = h.stepChanges(reader, g, n, folders); err != nil || len(step.Changes) == 0 {
			return Step{}, h.explainMissing(err)
		}
		if slices.ContainsFunc(step.Changes, func(c Change) bool { return c.Kind != Modified }) {
			// It may have come from a folder that is not looked at, or gone to one.
			if step.Changes, err = h.stepChanges(reader, g, n, nil); err != nil {
				return Step{}, h.explainMissing(err)
			}
			step.Changes = slices.DeleteFunc(step.Changes, func(c Change) bool {
				folder, _, _ := strings.Cut(c.Path, "/")
				return !slices.Contains(folders, folder)
			})
		}
		// What a change rests on is taken from the commits themselves.
		for _, p := range g.parents[n] {
			if _, err := h.revision(reader, g, p); err != nil {
				return step, err
			}
		}
		step.Revision, err = h.revision(reader, g, n)
		return step, err
	}
	if step.Revision, err = h.revision(reader, g, n); err != nil || step.Boundary {
		return step, err
	}
	step.Changes, err = h.stepChanges(reader, g, n, nil)
	return step, h.explainMissing(err)
}

// revision reads a commit and holds it against what the commit-graph said of it.
func (h *History) revision(reader *reader, g *graph, n int32) (Revision, error) {
	r, err := reader.revision(g.names[n])
	if err != nil {
		return r, h.explainMissing(err)
	}
	same := r.Tree == g.trees[n] && (g.boundary[n] || len(r.Parents) == len(g.parents[n]))
	for i, p := range g.parents[n] {
		same = same && r.Parents[i] == g.names[p]
	}
	if !same {
		return r, fmt.Errorf("commit %s: the commit-graph file contradicts it (git commit-graph verify): %w", r.Hash, ErrCorrupt)
	}
	return r, nil
}

// stepChanges is what a commit changed itself.
func (h *History) stepChanges(reader *reader, g *graph, n int32, folders []string) (changes []Change, err error) {
	if len(g.parents[n]) == 0 {
		changes, err = h.plainChanges(reader, Hash{}, g.trees[n], folders)
		return pairRenames(changes), err
	}
	// Renames are told after the comparison with all parents: what is a new name
	// beside one of them may be an old one beside another.
	for i, p := range g.parents[n] {
		part, err := h.plainChanges(reader, g.trees[p], g.trees[n], folders)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			changes = part
		} else {
			changes = inBoth(changes, part)
		}
		if len(changes) == 0 {
			break
		}
	}
	return pairRenames(changes), nil
}

// inBoth keeps the changes of a whose path is also among those of b.
func inBoth(a, b []Change) []Change {
	paths := map[string]bool{}
	for _, c := range b {
		paths[c.Path] = true
	}
	return slices.DeleteFunc(a, func(c Change) bool { return !paths[c.Path] })
}

// Diff gives the journal's files that differ between two commits, sorted by
// path; a zero commit is an empty journal.
func (h *History) Diff(a, b Hash) ([]Change, error) {
	var trees [2]Hash
	for i, commit := range []Hash{a, b} {
		if commit.IsZero() {
			continue
		}
		r, err := h.Revision(commit)
		if err != nil {
			return nil, err
		}
		trees[i] = r.Tree
	}
	changes, err := h.changes(h.objects.reader(), trees[0], trees[1])
	return changes, h.explainMissing(err)
}

// maxChanges bounds the files of one commit: trees that name each other many
// times over unfold to any number of them.
const maxChanges = 2_000_000

// changes compares the journal's folder in two root trees, a zero tree being
// empty.
func (h *History) changes(reader *reader, a, b Hash) ([]Change, error) {
	changes, err := h.plainChanges(reader, a, b, nil)
	return pairRenames(changes), err
}

// plainChanges is changes without renames, in no particular order, in some of
// the journal's folders or in all of it.
func (h *History) plainChanges(reader *reader, a, b Hash, folders []string) ([]Change, error) {
	if a == b {
		return nil, nil
	}
	roots := [2]Hash{a, b}
	if h.place.Prefix != "" {
		for i, root := range roots {
			if root.IsZero() {
				continue
			}
			e, ok, err := reader.entryAt(root, h.place.Prefix)
			if err != nil {
				return nil, err
			}
			if roots[i] = (Hash{}); ok && e.isTree() {
				roots[i] = e.hash
			}
		}
	}
	var skip func([]byte) bool
	if len(folders) > 0 {
		skip = func(name []byte) bool {
			for _, f := range folders {
				if string(name) == f {
					return false
				}
			}
			return true
		}
	}
	var changes []Change
	err := reader.compareTrees(roots[0], roots[1], reader.path[:0], skip, func(path []byte, before, after rawEntry) error {
		c := Change{Path: string(path), Before: before.object(), After: after.object()}
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
		func(content Hash, file string) string { return string(content[:]) + path.Base(file) },
		func(content Hash, _ string) string { return string(content[:]) },
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
