package history

import (
	"encoding/binary"
	"path/filepath"
	"strings"
)

// commitGraph reads git's commit-graph files (gitformat-commit-graph(5)): tree,
// parents and time of each commit without opening its object, and which paths
// it may have changed. One file, or a chain of layers with the oldest first;
// positions count through all layers.
type commitGraph struct {
	layers []graphLayer
}

type graphLayer struct {
	base   int // position of its first commit
	count  int
	fanout []byte
	names  []byte
	data   []byte
	edges  []byte
	ends   []byte // where each commit's filter ends, 4 bytes each
	bloom  []byte // filters, after the header of 12 bytes
	hashes int    // bits set per path
}

// openCommitGraph reads the commit-graph of an objects folder. It is derived
// data: where it is absent, damaged or of a kind unknown to us there is none,
// and commits are read instead.
func openCommitGraph(objects string) *commitGraph {
	g := &commitGraph{}
	if raw, err := readRegular(filepath.Join(objects, "info", "commit-graph")); err == nil {
		if g.add(raw) {
			return g
		}
		return nil
	}
	dir := filepath.Join(objects, "info", "commit-graphs")
	chain, err := readRegular(filepath.Join(dir, "commit-graph-chain"))
	if err != nil {
		return nil
	}
	for _, line := range strings.Fields(string(chain)) {
		if _, err := ParseHash(line); err != nil {
			return nil
		}
		raw, err := readRegular(filepath.Join(dir, "graph-"+line+".graph"))
		if err != nil || !g.add(raw) {
			return nil
		}
	}
	if len(g.layers) == 0 {
		return nil
	}
	return g
}

// add parses one file as the next layer, and says whether it could.
func (g *commitGraph) add(raw []byte) bool {
	if len(raw) < 8 || string(raw[:6]) != "CGPH\x01\x01" || int(raw[7]) != len(g.layers) {
		return false
	}
	chunks := map[string][]byte{}
	for i := range int(raw[6]) {
		at := 8 + i*12
		if len(raw) < at+24 {
			return false
		}
		from, to := binary.BigEndian.Uint64(raw[at+4:]), binary.BigEndian.Uint64(raw[at+16:])
		if from > to || to > uint64(len(raw)) {
			return false
		}
		chunks[string(raw[at:at+4])] = raw[from:to]
	}
	l := graphLayer{fanout: chunks["OIDF"], names: chunks["OIDL"], data: chunks["CDAT"], edges: chunks["EDGE"]}
	if len(l.fanout) != 1024 {
		return false
	}
	before := uint32(0)
	for i := range 256 {
		n := binary.BigEndian.Uint32(l.fanout[i*4:])
		if n < before {
			return false
		}
		before = n
	}
	l.count = int(before)
	if len(l.names) != l.count*20 || len(l.data) != l.count*36 {
		return false
	}
	if n := len(g.layers); n > 0 {
		l.base = g.layers[n-1].base + g.layers[n-1].count
	}
	if ends, data := chunks["BIDX"], chunks["BDAT"]; len(ends) == l.count*4 && len(data) >= 12 {
		// Versions 1 and 2 differ only for bytes above 0x7f, see mayChange.
		version, hashes := binary.BigEndian.Uint32(data), binary.BigEndian.Uint32(data[4:])
		if (version == 1 || version == 2) && hashes > 0 && hashes < 64 {
			l.ends, l.bloom, l.hashes = ends, data[12:], int(hashes)
		}
	}
	g.layers = append(g.layers, l)
	return true
}

// find gives a commit's position.
func (g *commitGraph) find(h Hash) (int, bool) {
	if g == nil {
		return 0, false
	}
	for i := len(g.layers) - 1; i >= 0; i-- {
		l := &g.layers[i]
		low, high := 0, int(binary.BigEndian.Uint32(l.fanout[int(h[0])*4:]))
		if h[0] > 0 {
			low = int(binary.BigEndian.Uint32(l.fanout[(int(h[0])-1)*4:]))
		}
		if at, ok := findIn(l.names, low, high, &h); ok {
			return l.base + at, true
		}
	}
	return 0, false
}

func (g *commitGraph) layer(position int) *graphLayer {
	for i := len(g.layers) - 1; i >= 0; i-- {
		if l := &g.layers[i]; position >= l.base && position < l.base+l.count {
			return l
		}
	}
	return nil
}

const (
	noParent   = 0x70000000
	manyEdges  = 0x80000000
	edgesLimit = 1 << 16
)

// size is the number of commits in all layers.
func (g *commitGraph) size() int {
	if g == nil {
		return 0
	}
	l := &g.layers[len(g.layers)-1]
	return l.base + l.count
}

// name gives the commit at a position that is one.
func (g *commitGraph) name(position int) Hash {
	l := g.layer(position)
	i := (position - l.base) * 20
	return Hash(l.names[i : i+20])
}

// links gives what a walk needs of a commit, its parents' positions after those
// in parents; not ok where the file contradicts itself.
func (g *commitGraph) links(position int, parents []int32) (tree Hash, _ []int32, when int64, ok bool) {
	l := g.layer(position)
	if l == nil {
		return tree, nil, 0, false
	}
	row := l.data[(position-l.base)*36:][:36]
	tree = Hash(row[:20])
	when = int64(binary.BigEndian.Uint32(row[28:])&3)<<32 | int64(binary.BigEndian.Uint32(row[32:]))
	add := func(p uint32) bool {
		if g.layer(int(p)) == nil {
			return false
		}
		parents = append(parents, int32(p))
		return true
	}
	first, second := binary.BigEndian.Uint32(row[20:]), binary.BigEndian.Uint32(row[24:])
	if first != noParent && !add(first) {
		return tree, nil, 0, false
	}
	if second == noParent {
		return tree, parents, when, true
	}
	if second&manyEdges == 0 {
		return tree, parents, when, add(second)
	}
	for i := int(second&^manyEdges) * 4; ; i += 4 {
		if i+4 > len(l.edges) || len(parents) > edgesLimit {
			return tree, nil, 0, false
		}
		edge := binary.BigEndian.Uint32(l.edges[i:])
		if !add(edge &^ manyEdges) {
			return tree, nil, 0, false
		}
		if edge&manyEdges != 0 {
			return tree, parents, when, true
		}
	}
}

// pathKey is a path as the changed-path filters know it; not ok for paths with
// bytes above 0x7f, which version 1 of the filters hashed wrongly.
type pathKey struct {
	first, step uint32
	ok          bool
}

func keyOf(path string) pathKey {
	for i := range len(path) {
		if path[i] >= 0x80 {
			return pathKey{}
		}
	}
	return pathKey{murmur3(0x293ae76f, path), murmur3(0x7e646e2c, path), true}
}

// mayChange says whether the commit may differ from its first parent at a
// path; false is certain, as far as the file is true.
func (g *commitGraph) mayChange(position int, key pathKey) bool {
	l := g.layer(position)
	if l == nil || l.bloom == nil || !key.ok {
		return true
	}
	i := position - l.base
	from, to := uint32(0), binary.BigEndian.Uint32(l.ends[i*4:])
	if i > 0 {
		from = binary.BigEndian.Uint32(l.ends[(i-1)*4:])
	}
	if from >= to || uint64(to) > uint64(len(l.bloom)) {
		return true
	}
	filter := l.bloom[from:to]
	bits := uint32(len(filter)) * 8
	for n := range uint32(l.hashes) {
		bit := (key.first + n*key.step) % bits
		if filter[bit/8]&(1<<(bit%8)) == 0 {
			return false
		}
	}
	return true
}

// murmur3 is MurmurHash3_x86_32 by Austin Appleby (2011, public domain), the
// hash that gitformat-commit-graph(5) names.
func murmur3(seed uint32, s string) uint32 {
	const c1, c2 = 0xcc9e2d51, 0x1b873593
	h := seed
	n := len(s)
	for ; len(s) >= 4; s = s[4:] {
		k := uint32(s[0]) | uint32(s[1])<<8 | uint32(s[2])<<16 | uint32(s[3])<<24
		k *= c1
		k = k<<15 | k>>17
		h ^= k * c2
		h = h<<13 | h>>19
		h = h*5 + 0xe6546b64
	}
	if len(s) > 0 {
		var k uint32
		for i := len(s) - 1; i >= 0; i-- {
			k = k<<8 | uint32(s[i])
		}
		k *= c1
		k = k<<15 | k>>17
		h ^= k * c2
	}
	h ^= uint32(n)
	h ^= h >> 16
	h *= 0x85ebca6b
	h ^= h >> 13
	h *= 0xc2b2ae35
	return h ^ h>>16
}
