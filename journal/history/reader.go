package history

import (
	"encoding/binary"
	"io"
)

// reader reads objects for one goroutine that goes through history: trees above
// all, hundreds of thousands, each compared with its neighbours and then done
// with. It shares nothing and leaves no garbage: what is read lies in two
// generations of memory that are used again and again. What it gives holds until
// the next call of turn; of commits, until the next commit.
type reader struct {
	objects    *objects
	tables     huffmanTables
	windows    [4]window
	clock      int
	young, old generation
	commit     []byte
	links      struct { // of entry
		kind   byte
		base   int64
		byName Hash
	}
	words  words
	path   [512]byte      // room for paths
	recent [16]recentTree // by how deep it lay, see treeAgain
}

// recentTree is the older one of two trees that were compared. Where history is
// a line, it is the newer one of the next two.
type recentTree struct {
	name Hash
	item *treeItem
}

// treeAgain reads a tree that may have been the older one at this depth.
func (r *reader) treeAgain(name Hash, depth int) (*treeItem, error) {
	if depth < len(r.recent) && r.recent[depth].name == name && r.recent[depth].item != nil {
		return r.recent[depth].item, nil
	}
	return r.tree(name)
}

// treeItem is a tree object that was read: marks are some of the places in data
// at which an entry begins, sorted.
type treeItem struct {
	data  []byte
	marks []int32
}

const (
	// firstGeneration and lastGeneration bound a generation's memory; it grows
	// between them as it proves too small.
	firstGeneration = 256 << 10
	lastGeneration  = 8 << 20
	// largeWindow is read where a reader moves on through a pack, smallWindow
	// where it comes to a new place.
	largeWindow = 32 << 10
	smallWindow = 4 << 10
	// directInflate bounds what is inflated in one piece.
	directInflate = 1 << 20
)

func (o *objects) reader() *reader {
	return &reader{objects: o}
}

// generation is memory in which objects lie until it is reset.
type generation struct {
	memory []byte
	used   int
	beyond int // bytes that did not fit, and were left to the garbage collector
	items  []treeItem
	byKey  map[uint64]*treeItem
}

func (g *generation) reset(size int) {
	if len(g.memory) < size {
		g.memory = make([]byte, size)
	}
	clear(g.byKey)
	clear(g.items)
	g.used, g.beyond, g.items = 0, 0, g.items[:0]
}

func (g *generation) alloc(n int) []byte {
	if g.memory == nil {
		g.memory = make([]byte, firstGeneration)
	}
	if g.used+n > len(g.memory) {
		g.beyond += n
		return make([]byte, n)
	}
	g.used += n
	return g.memory[g.used-n : g.used : g.used]
}

func (g *generation) put(key uint64, data []byte, marks []int32) *treeItem {
	if len(g.items) == cap(g.items) {
		g.items = make([]treeItem, 0, max(64, 2*cap(g.items))) // those given out stay where they are
	}
	g.items = append(g.items, treeItem{data, marks})
	item := &g.items[len(g.items)-1]
	if g.byKey == nil {
		g.byKey = map[uint64]*treeItem{}
	}
	g.byKey[key] = item
	return item
}

// turn ends the life of what was read two generations ago. Nothing read before
// it may be used after it.
func (r *reader) turn() {
	full := r.young.used + r.young.beyond
	if full < len(r.young.memory)/2 {
		return
	}
	r.young, r.old = r.old, r.young
	r.recent = [len(r.recent)]recentTree{}
	r.young.reset(min(max(firstGeneration, 4*full), lastGeneration))
}

// find gives the pack that holds an object, its number and the offset in it; nil
// where none does.
func (r *reader) find(name Hash) (p *pack, number int, offset int64) {
	r.objects.mu.RLock()
	packs := r.objects.packs
	r.objects.mu.RUnlock()
	for i, p := range packs {
		if offset, ok := p.find(name); ok {
			return p, i, offset
		}
	}
	return nil, 0, 0
}

// tree reads a tree object.
func (r *reader) tree(name Hash) (*treeItem, error) {
	if p, number, offset := r.find(name); p != nil {
		if item, err := r.treeAt(p, uint64(number)<<48, offset); item != nil || err != nil {
			return item, err
		}
	}
	data, err := r.objects.want(name, treeKind)
	return &treeItem{data: data}, err
}

// treeAt reads a tree of a pack; nil where it has to be read by other means.
func (r *reader) treeAt(p *pack, number uint64, offset int64) (*treeItem, error) {
	type step struct {
		offset int64
		delta  []byte
	}
	var stack [64]step
	steps := stack[:0]
	var item *treeItem
	for {
		key := number | uint64(offset)
		if item = r.young.byKey[key]; item != nil {
			break
		}
		if old := r.old.byKey[key]; old != nil {
			data := r.young.alloc(len(old.data))
			copy(data, old.data)
			item = r.young.put(key, data, old.marks)
			break
		}
		data, ok := r.entry(p, offset, &r.young)
		if !ok || len(steps) > maxChain {
			return nil, nil
		}
		switch r.links.kind {
		case byte(treeKind):
			item = r.young.put(key, data, nil)
		case offsetDelta:
			steps = append(steps, step{offset, data})
			offset = r.links.base
			continue
		case nameDelta:
			steps = append(steps, step{offset, data})
			if offset, ok = p.find(r.links.byName); !ok {
				return nil, nil
			}
			continue
		default:
			return nil, nil
		}
		break
	}
	for i := len(steps) - 1; i >= 0; i-- {
		data, err := applyDelta(item.data, steps[i].delta, r.young.alloc)
		if err != nil {
			return nil, err
		}
		item = r.young.put(number|uint64(steps[i].offset), data, upTo(item.marks, unchangedBegin(steps[i].delta)))
	}
	return item, nil
}

// entry inflates one entry of a pack into a generation's memory; false where it
// is large or strange.
func (r *reader) entry(p *pack, offset int64, into *generation) ([]byte, bool) {
	raw, ok := r.at(p, offset, 64)
	if !ok {
		return nil, false
	}
	size, n := r.head(raw, offset)
	if n == 0 || size > directInflate {
		return nil, false
	}
	// zlib's compressBound, and what follows.
	if raw, ok = r.at(p, offset, n+int(size)+int(size>>10)+64); !ok {
		return nil, false
	}
	data := into.alloc(int(size))
	return data, r.tables.inflate(data, raw[n:])
}

// head reads what stands before an entry's compressed bytes into r.links, and
// gives the size of the content and of itself, 0 where it is wrong.
func (r *reader) head(raw []byte, offset int64) (size int64, n int) {
	b := raw[0]
	r.links.kind = b >> 4 & 7
	size, n = int64(b&15), 1
	for shift := 4; b&0x80 != 0; shift += 7 {
		if b = raw[n]; shift > 40 {
			return 0, 0
		}
		size |= int64(b&0x7f) << shift
		n++
	}
	switch r.links.kind {
	case offsetDelta:
		b = raw[n]
		n++
		back := int64(b & 0x7f)
		for ; b&0x80 != 0; n++ {
			if b = raw[n]; back > 1<<48 {
				return 0, 0
			}
			back = (back+1)<<7 | int64(b&0x7f)
		}
		if r.links.base = offset - back; back <= 0 || r.links.base < 12 {
			return 0, 0
		}
	case nameDelta:
		n += copy(r.links.byName[:], raw[n:])
	}
	return size, n
}

// window is a stretch of a pack file in memory.
type window struct {
	pack *pack
	from int64
	data []byte
	used int // when, by the reader's clock
}

// at gives at least n bytes of a pack from an offset on, or as many as there
// are but 32 at least.
func (r *reader) at(p *pack, offset int64, n int) ([]byte, bool) {
	r.clock++
	oldest, size, back := &r.windows[0], smallWindow, false
	for i := range r.windows {
		w := &r.windows[i]
		if w.pack == p {
			if end := w.from + int64(len(w.data)); offset >= w.from && offset+int64(n) <= end {
				w.used = r.clock
				return w.data[offset-w.from:], true
			} else if offset >= w.from-largeWindow && offset < end+largeWindow {
				size, back = largeWindow, offset < w.from
			}
		}
		if w.used < oldest.used {
			oldest = w
		}
	}
	from := offset
	if back { // through the file
		from = min(max(offset+int64(n)-largeWindow, 0), offset)
	}
	size = max(size, int(offset-from)+n)
	if cap(oldest.data) < size {
		oldest.data = make([]byte, size)
	}
	*oldest = window{p, from, oldest.data[:size], r.clock}
	got, err := p.file.ReadAt(oldest.data, from)
	oldest.data = oldest.data[:got]
	if err != nil && err != io.EOF || int64(got) < offset-from+32 {
		oldest.pack = nil
		return nil, false
	}
	return oldest.data[offset-from:], true
}

// revision reads a commit.
func (r *reader) revision(name Hash) (Revision, error) {
	raw, err := r.rawCommit(name)
	if err != nil {
		return Revision{}, err
	}
	if v, ok := r.words.revision(name, raw); ok {
		return v, nil
	}
	return parseRevision(name, raw)
}

func (r *reader) rawCommit(name Hash) ([]byte, error) {
	if r.commit == nil {
		r.commit = make([]byte, 1<<10)
	}
	if p, _, offset := r.find(name); p != nil {
		scratch := generation{memory: r.commit}
		if data, ok := r.entry(p, offset, &scratch); ok && r.links.kind == byte(commitKind) {
			return data, nil
		}
	}
	return r.objects.want(name, commitKind)
}

// findIn gives the position of a name among sorted ones of 20 bytes each, of
// which only low to high come into question. Names are evenly spread, so the
// place is guessed, and the guess is soon right.
func findIn(names []byte, low, high int, h *Hash) (int, bool) {
	want := uint64(binary.BigEndian.Uint32(h[1:]))
	from, to := uint64(0), uint64(1<<32)
	for range 6 {
		if high-low < 8 {
			break
		}
		guess := low + int(uint64(high-low)*(want-from)/(to-from))
		guess = min(max(guess, low), high-1)
		there := uint64(binary.BigEndian.Uint32(names[guess*20+1:]))
		switch {
		case there < want:
			low, from = guess+1, there
		case there > want:
			high, to = guess, there
		default:
			guess = -1
		}
		if guess < 0 || to <= from || want < from || want >= to {
			break
		}
	}
	for low < high {
		middle := int(uint(low+high) >> 1)
		switch c := compareNames(names[middle*20:], h); {
		case c < 0:
			low = middle + 1
		case c > 0:
			high = middle
		default:
			return middle, true
		}
	}
	return 0, false
}

func compareNames(a []byte, h *Hash) int {
	for _, at := range [3]int{0, 8, 12} {
		x, y := binary.BigEndian.Uint64(a[at:]), binary.BigEndian.Uint64(h[at:])
		if x != y {
			if x < y {
				return -1
			}
			return 1
		}
	}
	return 0
}
