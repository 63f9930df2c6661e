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
// error and is told in Walked.Stopped; Walked.Commits counts those looked at.
func (h *History) FileLog(ctx context.Context, tip Hash, file string) ([]Version, Walked, error) {
	var walked Walked
	if file == "" || path.Clean(file) != file || file[0] == '/' || strings.HasPrefix(file, "../") || file == ".." {
		return nil, walked, fmt.Errorf("log of %q: not a path inside the journal", file)
	}
	g, err := h.ancestry(ctx, tip)
	if err != nil {
		walked, err = endOfWalk(walked, ctx, err)
		return nil, walked, err
	}
	var versions []Version
	trackers := map[string]*tracker{}
	wanted := map[int32][]string{0: {file}}
	for _, n := range g.order {
		files := wanted[n]
		if len(files) == 0 {
			continue
		}
		delete(wanted, n)
		walked.Commits++
		walked.Shallow = walked.Shallow || g.boundary[n]
		for _, file := range files {
			t := trackers[file]
			if t == nil {
				t = h.newTracker(g, path.Join(h.place.Prefix, file))
				trackers[file] = t
			}
			version, follow, err := t.visit(ctx, n, file)
			if err != nil {
				walked, err = endOfWalk(walked, ctx, h.explainMissing(err))
				return versions, walked, err
			}
			if version != nil {
				versions = append(versions, *version)
			}
			for parent, file := range follow {
				if !slices.Contains(wanted[parent], file) {
					wanted[parent] = append(wanted[parent], file)
				}
			}
		}
	}
	return versions, walked, nil
}

// visit judges one commit: the version that it made, nil where none, and what
// to look for in which parents.
func (t *tracker) visit(ctx context.Context, n int32, file string) (*Version, map[int32]string, error) {
	g := t.graph
	here, err := t.at(ctx, n)
	if err != nil {
		return nil, nil, err
	}
	parents := g.parents[n]
	before := make([]Hash, len(parents))
	for i, p := range parents {
		there, err := t.at(ctx, p)
		if err != nil {
			return nil, nil, err
		}
		if there == here {
			return nil, map[int32]string{p: file}, nil
		}
		before[i] = there
	}
	if len(parents) == 0 && here.IsZero() {
		return nil, nil, nil
	}
	r, err := t.history.Revision(g.names[n])
	if err != nil {
		return nil, nil, err
	}
	v := &Version{Revision: r, Kind: Modified, Path: file, Blob: here, Before: before, Boundary: g.boundary[n]}
	follow := map[int32]string{}
	absent := 0
	for i, p := range parents {
		follow[p] = file
		if !before[i].IsZero() {
			continue
		}
		absent++
		if here.IsZero() {
			continue
		}
		changes, err := t.history.changes(t.finders[0].reader, g.trees[p], g.trees[n])
		if err != nil {
			return nil, nil, err
		}
		for _, c := range changes {
			if c.Kind == Renamed && c.Path == file {
				v.Kind, v.From, before[i], follow[p] = Renamed, c.From, c.Before, c.From
			}
		}
	}
	switch {
	case here.IsZero():
		v.Kind = Deleted
	case absent == len(parents) && v.From == "":
		v.Kind = Added
	}
	return v, follow, nil
}

// tracker knows the content of one path in every commit that was asked about,
// and looks ahead in the order of the walk on several processors.
type tracker struct {
	history *History
	graph   *graph
	path    string // in the repository
	key     pathKey
	known   []trackState
	blob    []Hash
	finders []*finder // one for each processor
}

type trackState byte

const (
	notLooked trackState = iota
	looked
	asFirstParent // by the commit-graph's filter
)

func (h *History) newTracker(g *graph, repositoryPath string) *tracker {
	return &tracker{history: h, graph: g, path: repositoryPath, key: keyOf(repositoryPath),
		known: make([]trackState, len(g.names)), blob: make([]Hash, len(g.names))}
}

// at gives the path's content in a commit, zero where it is no regular file
// there.
func (t *tracker) at(ctx context.Context, n int32) (Hash, error) {
	end := n
	for t.known[end] != looked {
		if t.known[end] == notLooked {
			if err := t.lookAhead(ctx, t.graph.rank[end]); err != nil {
				return Hash{}, err
			}
		}
		if t.known[end] == asFirstParent {
			end = t.graph.parents[end][0]
		}
	}
	for ; n != end; n = t.graph.parents[n][0] {
		t.known[n], t.blob[n] = looked, t.blob[end]
	}
	return t.blob[end], nil
}

// lookAhead looks at the next commits in order from rank on.
func (t *tracker) lookAhead(ctx context.Context, rank int32) error {
	const block = 2048
	if ctx.Err() != nil {
		return ctx.Err()
	}
	part := t.graph.order[rank:min(int(rank)+block, len(t.graph.order))]
	workers := min(runtime.GOMAXPROCS(0), len(part)/64+1)
	for len(t.finders) < workers {
		t.finders = append(t.finders, &finder{reader: t.history.objects.reader(), parts: strings.Split(t.path, "/")})
	}
	errs := make([]error, workers)
	var running sync.WaitGroup
	for w := range workers {
		running.Go(func() {
			// Each its own stretch: neighbours share folders, which are then looked
			// into once.
			finder := t.finders[w]
			for _, n := range part[len(part)*w/workers : len(part)*(w+1)/workers] {
				if t.known[n] != notLooked {
					continue
				}
				if p := t.graph.inGraph[n]; p >= 0 && len(t.graph.parents[n]) > 0 && !t.history.commitGraph.mayChange(int(p), t.key) {
					t.known[n] = asFirstParent
					continue
				}
				blob, err := finder.find(t.graph.trees[n])
				if err != nil {
					errs[w] = err
					return
				}
				t.known[n], t.blob[n] = looked, blob
			}
		})
	}
	running.Wait()
	return errors.Join(errs...)
}

// finder finds one path in one root tree after another. Where a folder is the
// same as in the tree before, so is what it holds.
type finder struct {
	reader *reader
	parts  []string
	last   []Hash // the folders of the search before, outermost first
	way    []Hash
	found  Hash
}

func (f *finder) find(root Hash) (Hash, error) {
	f.reader.turn()
	folder, found := root, Hash{}
	way := f.way[:0]
	for i, part := range f.parts {
		if i < len(f.last) && f.last[i] == folder {
			way = append(way, f.last[i:]...)
			found = f.found
			break
		}
		way = append(way, folder)
		tree, err := f.reader.tree(folder)
		if err != nil {
			return Hash{}, err
		}
		e, ok, err := entryNamed(tree.data, part)
		if err != nil {
			return Hash{}, err
		}
		last := i == len(f.parts)-1
		if !ok || last && !e.isFile() || !last && !e.isTree() {
			break
		}
		if last {
			found = e.hash
		}
		folder = e.hash
	}
	f.last, f.way, f.found = way, f.last, found
	return found, nil
}
