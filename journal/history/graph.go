package history

import (
	"container/heap"
	"context"
	"fmt"
)

// graph is all ancestors of one commit, itself included. Commits are numbered;
// number 0 is the tip.
type graph struct {
	names    []Hash
	trees    []Hash
	when     []int64 // committer time, Unix seconds
	parents  [][]int32
	boundary []bool // parents are not in this copy
	number   map[Hash]int32
	order    []int32 // children before parents, else newer before older
	rank     []int32 // place of each commit in order
	inGraph  []int32 // position in the commit-graph, -1 where not in it
}

// links gives tree, parents and time of a commit, from the commit-graph where
// it is there; position is -1 otherwise.
func (h *History) links(name Hash) (tree Hash, parents []Hash, when int64, position int32, err error) {
	h.graphOnce.Do(func() { h.commitGraph = openCommitGraph(h.objects.dirs[0]) })
	if p, ok := h.commitGraph.find(name); ok {
		if tree, parents, when, ok = h.commitGraph.links(p); ok {
			return tree, parents, when, int32(p), nil
		}
	}
	raw, err := h.objects.want(name, commitKind)
	if err != nil {
		return tree, nil, 0, -1, h.explainMissing(err)
	}
	if tree, parents, when, err = links(raw); err != nil {
		return tree, nil, 0, -1, fmt.Errorf("commit %s: %w", name, err)
	}
	return tree, parents, when, -1, nil
}

// ancestry gives the graph of a tip. The last one is kept: commands ask for the
// same tip again and again.
func (h *History) ancestry(ctx context.Context, tip Hash) (*graph, error) {
	h.graphMu.Lock()
	defer h.graphMu.Unlock()
	if h.lastGraph != nil && h.lastGraph.names[0] == tip {
		return h.lastGraph, nil
	}
	g := &graph{number: map[Hash]int32{}}
	add := func(name Hash) int32 {
		n := int32(len(g.names))
		g.names = append(g.names, name)
		g.number[name] = n
		return n
	}
	add(tip)
	for n := 0; n < len(g.names); n++ {
		if n%1024 == 0 && ctx.Err() != nil {
			return nil, fmt.Errorf("read history: stopped after %d commits: %w", n, ctx.Err())
		}
		name := g.names[n]
		tree, parents, when, position, err := h.links(name)
		if err != nil {
			return nil, err
		}
		boundary := h.shallow[name]
		if boundary {
			parents = nil
		}
		numbers := make([]int32, len(parents))
		for i, p := range parents {
			number, ok := g.number[p]
			if !ok {
				number = add(p)
			}
			numbers[i] = number
		}
		g.trees, g.when, g.parents = append(g.trees, tree), append(g.when, when), append(g.parents, numbers)
		g.boundary, g.inGraph = append(g.boundary, boundary), append(g.inGraph, position)
	}
	g.sort()
	h.lastGraph = g
	return g, nil
}

// sort puts the commits in order: a commit follows when all its children are
// out (Kahn 1962), the newest of those that may follow first.
func (g *graph) sort() {
	children := make([]int32, len(g.names))
	for _, parents := range g.parents {
		for _, p := range parents {
			children[p]++
		}
	}
	ready := &byAge{when: g.when}
	for n, c := range children {
		if c == 0 {
			ready.numbers = append(ready.numbers, int32(n))
		}
	}
	heap.Init(ready)
	g.order, g.rank = make([]int32, 0, len(g.names)), make([]int32, len(g.names))
	for len(ready.numbers) > 0 {
		n := heap.Pop(ready).(int32)
		g.rank[n] = int32(len(g.order))
		g.order = append(g.order, n)
		for _, p := range g.parents[n] {
			if children[p]--; children[p] == 0 {
				heap.Push(ready, p)
			}
		}
	}
}

// byAge is a heap of commit numbers, the newest first.
type byAge struct {
	when    []int64
	numbers []int32
}

func (b *byAge) Len() int { return len(b.numbers) }
func (b *byAge) Less(i, j int) bool {
	x, y := b.numbers[i], b.numbers[j]
	if b.when[x] != b.when[y] {
		return b.when[x] > b.when[y]
	}
	return x < y
}
func (b *byAge) Swap(i, j int) { b.numbers[i], b.numbers[j] = b.numbers[j], b.numbers[i] }
func (b *byAge) Push(x any)    { b.numbers = append(b.numbers, x.(int32)) }
func (b *byAge) Pop() any {
	last := b.numbers[len(b.numbers)-1]
	b.numbers = b.numbers[:len(b.numbers)-1]
	return last
}

// mergedBy gives for every commit the first-parent commit of the tip that
// brought it in: itself on the first-parent line, the merge elsewhere.
func (g *graph) mergedBy() []int32 {
	by := make([]int32, len(g.names))
	for i := range by {
		by[i] = -1
	}
	var line []int32
	for n := int32(0); ; n = g.parents[n][0] {
		line = append(line, n)
		by[n] = n
		if len(g.parents[n]) == 0 {
			break
		}
	}
	// The oldest merge first: what it brought is not brought again later.
	for i := len(line) - 1; i >= 0; i-- {
		stack := append([]int32(nil), g.parents[line[i]]...)
		for len(stack) > 0 {
			n := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if by[n] == -1 {
				by[n] = line[i]
				stack = append(stack, g.parents[n]...)
			}
		}
	}
	return by
}

// IsAncestor says whether commit a is commit b or one of its ancestors, as far
// as history is in this copy.
func (h *History) IsAncestor(ctx context.Context, a, b Hash) (bool, error) {
	g, err := h.ancestry(ctx, b)
	if err != nil {
		return false, err
	}
	_, ok := g.number[a]
	return ok, nil
}

// MergeBase gives the best common ancestor of two commits: one that no other
// common ancestor descends from, the newest where there are several. Not ok
// where the two have no history in common here.
func (h *History) MergeBase(ctx context.Context, a, b Hash) (Hash, bool, error) {
	ofA, err := h.ancestry(ctx, a)
	if err != nil {
		return Hash{}, false, err
	}
	ofB, err := h.ancestry(ctx, b)
	if err != nil {
		return Hash{}, false, err
	}
	for _, n := range ofB.order {
		if _, ok := ofA.number[ofB.names[n]]; ok {
			return ofB.names[n], true, nil
		}
	}
	return Hash{}, false, nil
}
