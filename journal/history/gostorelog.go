package history

import (
	"container/heap"
	"context"
	"fmt"
	"path"
	"slices"
	"strings"
)

// ancestry is all ancestors of a commit, itself included and first.
func (s *goStore) ancestry(ctx context.Context, tip Hash, not map[Hash]*commit) (map[Hash]*commit, error) {
	found := map[Hash]*commit{}
	todo := []Hash{tip}
	for len(todo) > 0 {
		name := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if found[name] != nil || not[name] != nil {
			continue
		}
		if ctx.Err() != nil {
			return nil, fmt.Errorf("read history: stopped after %d commits: %w", len(found), ctx.Err())
		}
		c, err := s.commit(name)
		if err != nil {
			return nil, err
		}
		found[name] = c
		todo = append(todo, c.parents...)
	}
	return found, nil
}

// inOrder sorts commits as git log --date-order does: a commit follows when all
// its children are out (Kahn 1962), the newest of those that may follow first.
func inOrder(tip Hash, all map[Hash]*commit) []*commit {
	children := map[Hash]int{}
	for _, c := range all {
		for _, p := range c.parents {
			children[p]++
		}
	}
	ready := &byAge{}
	push := func(c *commit) {
		heap.Push(ready, aged{c, ready.count})
		ready.count++
	}
	if c := all[tip]; c != nil {
		push(c)
	}
	var order []*commit
	for len(ready.commits) > 0 {
		c := heap.Pop(ready).(aged).commit
		order = append(order, c)
		for _, p := range c.parents {
			if children[p]--; children[p] == 0 && all[p] != nil {
				push(all[p])
			}
		}
	}
	return order
}

// byAge is a heap of commits, the newest first, of equals the one that came
// first.
type byAge struct {
	commits []aged
	count   int
}

type aged struct {
	*commit
	number int
}

func (b *byAge) Len() int { return len(b.commits) }
func (b *byAge) Less(i, j int) bool {
	x, y := b.commits[i], b.commits[j]
	if x.when != y.when {
		return x.when > y.when
	}
	return x.number < y.number
}
func (b *byAge) Swap(i, j int) { b.commits[i], b.commits[j] = b.commits[j], b.commits[i] }
func (b *byAge) Push(x any)    { b.commits = append(b.commits, x.(aged)) }
func (b *byAge) Pop() any {
	last := b.commits[len(b.commits)-1]
	b.commits = b.commits[:len(b.commits)-1]
	return last
}

func (s *goStore) log(ctx context.Context, q logQuery, f func(*commit) error) error {
	shown := 0
	show := func(c *commit) error {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		one := *c
		if q.changes && one.changes == nil {
			var err error
			of := one
			if q.firstParent {
				of.parents = one.parents[:min(1, len(one.parents))]
			}
			if one.changes, err = s.changes(&of, q.below); err != nil {
				return err
			}
			if q.named != "" {
				one.changes = slices.DeleteFunc(one.changes, func(p pathChange) bool { return path.Base(p.path) != q.named })
			}
			if q.dense && len(one.changes) == 0 {
				return nil
			}
		}
		shown++
		return f(&one)
	}
	var excluded map[Hash]*commit
	var err error
	if !q.exclude.IsZero() {
		if excluded, err = s.ancestry(ctx, q.exclude, nil); err != nil {
			return err
		}
	}
	if q.firstParent {
		for at := q.tip; excluded[at] == nil && (q.limit == 0 || shown < q.limit); {
			c, err := s.commit(at)
			if err != nil {
				return err
			}
			if err := show(c); err != nil {
				return err
			}
			if len(c.parents) == 0 {
				break
			}
			at = c.parents[0]
		}
		return nil
	}
	all, err := s.ancestry(ctx, q.tip, excluded)
	if err != nil {
		return err
	}
	wanted := map[Hash]bool{q.tip: true}
	for _, c := range inOrder(q.tip, all) {
		if q.limit > 0 && shown == q.limit {
			break
		}
		if q.simplify {
			if !wanted[c.name] {
				continue
			}
			same, changes, err := s.fileChange(ctx, c, q.below[0])
			if err != nil {
				return err
			}
			if !same.IsZero() {
				wanted[same] = true
				continue
			}
			for _, p := range c.parents {
				wanted[p] = true
			}
			if len(changes) == 0 {
				continue
			}
			c.changes = changes
		}
		if err := show(c); err != nil {
			return err
		}
	}
	return nil
}

// fileChange is what a commit did to one file: the first parent that has it as
// the commit has, or else the change.
func (s *goStore) fileChange(ctx context.Context, c *commit, file string) (same Hash, changes []pathChange, err error) {
	if ctx.Err() != nil {
		return same, nil, ctx.Err()
	}
	change := pathChange{path: file}
	if change.after, err = s.trees.at(c.tree, file); err != nil {
		return same, nil, err
	}
	for _, p := range c.parents {
		parent, err := s.commit(p)
		if err != nil {
			return same, nil, err
		}
		before, err := s.trees.at(parent.tree, file)
		if err != nil {
			return same, nil, err
		}
		if sameEntry(before, change.after) {
			return p, nil, nil
		}
		change.before = append(change.before, before)
	}
	if len(c.parents) == 0 {
		if change.after.absent() {
			return same, nil, nil
		}
		change.before = []treeEntry{{}}
	}
	return same, []pathChange{change}, nil
}

// changes is in which files a commit differs from all its parents.
func (s *goStore) changes(c *commit, below []string) ([]pathChange, error) {
	parents := make([]Hash, max(1, len(c.parents)))
	for i, p := range c.parents {
		parent, err := s.commit(p)
		if err != nil {
			return nil, err
		}
		parents[i] = parent.tree
	}
	var wanted func(string) bool
	if len(below) > 0 {
		wanted = func(path string) bool {
			return slices.ContainsFunc(below, func(b string) bool {
				return path == b || strings.HasPrefix(path, b+"/") || strings.HasSuffix(path, "/") && strings.HasPrefix(b, path)
			})
		}
	}
	var all []pathChange
	for i, parent := range parents {
		found := map[string]bool{}
		at := map[string]int{}
		for n := range all {
			at[all[n].path] = n
		}
		err := s.trees.compare(parent, c.tree, "", wanted, func(path string, before, after treeEntry) error {
			before.name, after.name = "", ""
			if i == 0 {
				if len(all) == maxChanges {
					return fmt.Errorf("more than %d files in one commit: %w", maxChanges, ErrCorrupt)
				}
				n, twice := at[path] // a folder and a file may change places
				if !twice {
					n = len(all)
					at[path] = n
					all = append(all, pathChange{path: path, before: make([]treeEntry, len(parents))})
				}
				c := &all[n]
				if !before.absent() {
					c.before[0] = before
				}
				if !after.absent() {
					c.after = after
				}
			} else if n, ok := at[path]; ok {
				all[n].before[i] = before
			}
			found[path] = true
			return nil
		})
		if err != nil {
			return nil, err
		}
		all = slices.DeleteFunc(all, func(c pathChange) bool { return !found[c.path] })
	}
	slices.SortFunc(all, func(a, b pathChange) int { return strings.Compare(a.path, b.path) })
	return all, nil
}

func (s *goStore) mergeBases(ctx context.Context, a, b Hash) ([]Hash, error) {
	ofA, err := s.ancestry(ctx, a, nil)
	if err != nil {
		return nil, err
	}
	ofB, err := s.ancestry(ctx, b, nil)
	if err != nil {
		return nil, err
	}
	common := map[Hash]*commit{}
	for name, c := range ofB {
		if ofA[name] != nil {
			common[name] = c
		}
	}
	// The best are those that no other common ancestor descends from.
	below := map[Hash]bool{}
	for _, c := range common {
		for _, p := range c.parents {
			below[p] = true
		}
	}
	var best []*commit
	for name, c := range common {
		if !below[name] {
			best = append(best, c)
		}
	}
	slices.SortFunc(best, func(a, b *commit) int {
		if a.when != b.when {
			return int(min(max(b.when-a.when, -1), 1))
		}
		return strings.Compare(a.name.String(), b.name.String())
	})
	var names []Hash
	for _, c := range best {
		names = append(names, c.name)
	}
	return names, nil
}
