package history

import (
	"container/heap"
	"context"
	"fmt"
	"sync"
)

// graph is all ancestors of one commit, itself included. Commits are numbered;
// number 0 is the tip.
type graph struct {
	names    []Hash
	trees    []Hash
	when     []int64 // committer time, Unix seconds
	parents  [][]int32
	boundary []bool  // parents are not in this copy
	order    []int32 // children before parents, else newer before older
	rank     []int32 // place of each commit in order
	inGraph  []int32 // position in the commit-graph, -1 where not in it

	once   sync.Once
	number map[Hash]int32 // see find
}

// find gives a commit's number.
func (g *graph) find(name Hash) (int32, bool) {
	g.once.Do(func() {
		g.number = make(map[Hash]int32, len(g.names))
		for n, name := range g.names {
			g.number[name] = int32(n)
		}
	})
	n, ok := g.number[name]
	return n, ok
}

func (h *History) openGraph() *commitGraph {
	h.graphOnce.Do(func() { h.commitGraph = openCommitGraph(h.objects.dirs[0]) })
	return h.commitGraph
}

// links gives tree, parents and time of a commit, from the commit-graph where
// it is there.
func (h *History) links(name Hash) (tree Hash, parents []Hash, when int64, err error) {
	graph := h.openGraph()
	if p, ok := graph.find(name); ok {
		if tree, positions, when, ok := graph.links(p, nil); ok {
			for _, p := range positions {
				parents = append(parents, graph.name(int(p)))
			}
			return tree, parents, when, nil
		}
	}
	raw, err := h.objects.want(name, commitKind)
	if err != nil {
		return tree, nil, 0, h.explainMissing(err)
	}
	if tree, parents, when, err = links(raw); err != nil {
		return tree, nil, 0, fmt.Errorf("commit %s: %w", name, err)
	}
	return tree, parents, when, nil
}

// ancestry gives the graph of a tip. The last one is kept: commands ask for the
// same tip again and again.
func (h *History) ancestry(ctx context.Context, tip Hash) (*graph, error) {
	h.graphMu.Lock()
	defer h.graphMu.Unlock()
	if h.lastGraph != nil && h.lastGraph.names[0] == tip {
		return h.lastGraph, nil
	}
	file := h.openGraph()
	size := file.size()
	b := graphBuilder{file: file, at: make([]int32, size), others: map[Hash]int32{}}
	b.names, b.trees, b.when = make([]Hash, 0, size), make([]Hash, 0, size), make([]int64, 0, size)
	b.parents, b.boundary, b.inGraph = make([][]int32, 0, size), make([]bool, 0, size), make([]int32, 0, size)
	b.byName(tip)
	for n := 0; n < len(b.names); n++ {
		if n%1024 == 0 && ctx.Err() != nil {
			return nil, fmt.Errorf("read history: stopped after %d commits: %w", n, ctx.Err())
		}
		name := b.names[n]
		if !b.fromFile(n, h.shallow[name]) {
			b.inGraph[n] = -1
			raw, err := h.objects.want(name, commitKind)
			if err != nil {
				return nil, h.explainMissing(err)
			}
			tree, parents, when, err := links(raw)
			if err != nil {
				return nil, fmt.Errorf("commit %s: %w", name, err)
			}
			if h.shallow[name] {
				parents = nil
			}
			numbers := make([]int32, len(parents))
			for i, p := range parents {
				numbers[i] = b.byName(p)
			}
			b.trees, b.when, b.parents = append(b.trees, tree), append(b.when, when), append(b.parents, numbers)
		}
		b.boundary = append(b.boundary, h.shallow[name])
	}
	b.sort()
	h.lastGraph = &b.graph
	return h.lastGraph, nil
}

// graphBuilder numbers commits as they are met.
type graphBuilder struct {
	graph
	file   *commitGraph
	at     []int32        // by position in the commit-graph: the number and one
	others map[Hash]int32 // those that are not in the commit-graph
	links  []int32        // memory for parents
	found  []int32
}

func (b *graphBuilder) byName(name Hash) int32 {
	if p, ok := b.file.find(name); ok {
		return b.byPosition(int32(p))
	}
	n, ok := b.others[name]
	if !ok {
		n = b.add(name, -1)
		b.others[name] = n
	}
	return n
}

func (b *graphBuilder) byPosition(p int32) int32 {
	if b.at[p] == 0 {
		b.at[p] = b.add(b.file.name(int(p)), p) + 1
	}
	return b.at[p] - 1
}

func (b *graphBuilder) add(name Hash, position int32) int32 {
	b.names, b.inGraph = append(b.names, name), append(b.inGraph, position)
	return int32(len(b.names) - 1)
}

// fromFile takes a commit's links from the commit-graph; false where it is not
// there or contradicts itself.
func (b *graphBuilder) fromFile(n int, boundary bool) bool {
	if b.inGraph[n] < 0 {
		return false
	}
	tree, positions, when, ok := b.file.links(int(b.inGraph[n]), b.found[:0])
	if b.found = positions; !ok {
		return false
	}
	if boundary {
		positions = nil
	}
	if len(b.links)+len(positions) > cap(b.links) {
		b.links = make([]int32, 0, max(4096, len(positions)))
	}
	from := len(b.links)
	for _, p := range positions {
		b.links = append(b.links, b.byPosition(p))
	}
	b.trees, b.when, b.parents = append(b.trees, tree), append(b.when, when), append(b.parents, b.links[from:len(b.links):len(b.links)])
	return true
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
	for next := int32(-1); next >= 0 || len(ready.numbers) > 0; {
		n := next
		if n < 0 {
			n = heap.Pop(ready).(int32)
		}
		next = -1
		g.rank[n] = int32(len(g.order))
		g.order = append(g.order, n)
		for _, p := range g.parents[n] {
			if children[p]--; children[p] > 0 {
				continue
			}
			// On a line of commits the heap stays empty.
			if next < 0 && len(ready.numbers) == 0 && len(g.parents[n]) == 1 {
				next = p
			} else {
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
	_, ok := g.find(a)
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
		if _, ok := ofA.find(ofB.names[n]); ok {
			return ofB.names[n], true, nil
		}
	}
	return Hash{}, false, nil
}
