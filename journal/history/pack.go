package history

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

// pack reads one pack file by its index, version 2 of both (gitformat-pack(5)).
type pack struct {
	name    string // path without extension
	file    *os.File
	fanout  []byte // 256 counts
	names   []byte // count × 20, sorted
	offsets []byte // count × 4
	large   []byte // offsets of 8 bytes
	count   int
}

// maxChain is the longest chain of deltas that git writes (pack.depth is at
// most 4095).
const maxChain = 4096

func openPack(name string) (*pack, error) {
	raw, err := readRegular(name + ".idx")
	if err != nil {
		return nil, err
	}
	const head = 8 + 256*4
	if len(raw) < head+40 || string(raw[:8]) != "\xfftOc\x00\x00\x00\x02" {
		return nil, fmt.Errorf("pack index %s.idx: is not of version 2: %w", name, ErrUnsupported)
	}
	p := &pack{name: name, fanout: raw[8:head]}
	p.count = int(binary.BigEndian.Uint32(raw[head-4:]))
	before := uint32(0)
	for i := range 256 {
		n := binary.BigEndian.Uint32(p.fanout[i*4:])
		if n < before {
			return nil, fmt.Errorf("pack index %s.idx: counts do not grow: %w", name, ErrCorrupt)
		}
		before = n
	}
	if int64(p.count)*28+head+40 > int64(len(raw)) {
		return nil, fmt.Errorf("pack index %s.idx: is cut short: %w", name, ErrCorrupt)
	}
	at := head
	p.names = raw[at : at+p.count*20]
	at += p.count * 24 // names, then checksums that are not used
	p.offsets = raw[at : at+p.count*4]
	p.large = raw[at+p.count*4 : len(raw)-40]
	if p.file, err = openRegular(name + ".pack"); err != nil {
		return nil, err
	}
	return p, nil
}

// span gives the range of index positions whose names begin with the byte b.
func (p *pack) span(b byte) (int, int) {
	low := 0
	if b > 0 {
		low = int(binary.BigEndian.Uint32(p.fanout[(int(b)-1)*4:]))
	}
	return low, int(binary.BigEndian.Uint32(p.fanout[int(b)*4:]))
}

// find gives the offset of an object in the pack file.
func (p *pack) find(h Hash) (int64, bool) {
	low, high := p.span(h[0])
	if i, ok := findIn(p.names, low, high, &h); ok {
		return p.offset(i)
	}
	return 0, false
}

func (p *pack) offset(position int) (int64, bool) {
	offset := int64(binary.BigEndian.Uint32(p.offsets[position*4:]))
	if offset&0x80000000 == 0 {
		return offset, true
	}
	at := (offset & 0x7fffffff) * 8
	if at+8 > int64(len(p.large)) {
		return 0, false
	}
	return int64(binary.BigEndian.Uint64(p.large[at:]) &^ (1 << 63)), true
}

// eachNamed calls f for every object whose name begins with the hexadecimal
// prefix of at least two digits, until f says no.
func (p *pack) eachNamed(prefix string, f func(Hash) bool) {
	first, err := hex.DecodeString(prefix[:2])
	if err != nil {
		return
	}
	low, high := p.span(first[0])
	for i := low; i < high; i++ {
		h := Hash(p.names[i*20 : i*20+20])
		if strings.HasPrefix(h.String(), prefix) && !f(h) {
			return
		}
	}
}

// inflater is what reading one compressed object needs; pooled, since its
// tables are large.
type inflater struct {
	buffered *bufio.Reader
	zlib     io.ReadCloser
	source   packSource
}

func newInflater() *inflater {
	return &inflater{buffered: bufio.NewReaderSize(bytes.NewReader(nil), 4096)}
}

// packSource reads a file from an offset on, without moving a shared position.
type packSource struct {
	file *os.File
	at   int64
}

func (s *packSource) Read(p []byte) (int, error) {
	n, err := s.file.ReadAt(p, s.at)
	s.at += int64(n)
	return n, err
}

const (
	offsetDelta = 6
	nameDelta   = 7
)

// read gives the object at an offset, applying its chain of deltas.
func (p *pack) read(offset int64, all *objects) (kind, []byte, error) {
	type step struct {
		offset int64
		delta  []byte
	}
	var stack [16]step
	steps := stack[:0]
	var base []byte
	var k kind
	for {
		var ok bool
		if k, base, ok = all.cache.get(cacheKey{pack: p, offset: offset}); ok {
			break
		}
		got, data, baseOffset, baseName, err := p.entry(offset)
		if err != nil {
			return 0, nil, err
		}
		if got != offsetDelta && got != nameDelta {
			k, base = kind(got), data
			if k == treeKind || len(steps) > 0 {
				all.cache.put(cacheKey{pack: p, offset: offset}, k, base)
			}
			break
		}
		steps = append(steps, step{offset, data})
		if len(steps) > maxChain {
			return 0, nil, fmt.Errorf("chain of more than %d deltas: %w", maxChain, ErrCorrupt)
		}
		if got == nameDelta {
			// A stored pack is complete in itself; only one on the wire may not be.
			if baseOffset, ok = p.find(baseName); !ok {
				return 0, nil, fmt.Errorf("delta base %s is not in the pack: %w", baseName, ErrCorrupt)
			}
		}
		offset = baseOffset
	}
	for i := len(steps) - 1; i >= 0; i-- {
		result, err := applyDelta(base, steps[i].delta, fresh)
		if err != nil {
			return 0, nil, err
		}
		base = result
		if k == treeKind || i > 0 {
			all.cache.put(cacheKey{pack: p, offset: steps[i].offset}, k, base)
		}
	}
	return k, base, nil
}

// entry reads one pack entry: its type, its inflated data, and for a delta
// where its base is.
func (p *pack) entry(offset int64) (kindNumber byte, data []byte, baseOffset int64, baseName Hash, err error) {
	z := inflaters.Get().(*inflater)
	defer inflaters.Put(z)
	z.source = packSource{p.file, offset}
	z.buffered.Reset(&z.source)
	fail := func(err error) (byte, []byte, int64, Hash, error) { return 0, nil, 0, Hash{}, corrupt(err) }

	b, err := z.buffered.ReadByte()
	if err != nil {
		return fail(err)
	}
	kindNumber = b >> 4 & 7
	size, shift := int64(b&15), 4
	for b&0x80 != 0 {
		if b, err = z.buffered.ReadByte(); err != nil || shift > 40 {
			return fail(errors.New("size of an entry"))
		}
		size |= int64(b&0x7f) << shift
		shift += 7
	}
	switch kindNumber {
	case byte(commitKind), byte(treeKind), byte(blobKind), byte(tagKind):
	case offsetDelta:
		if b, err = z.buffered.ReadByte(); err != nil {
			return fail(err)
		}
		back := int64(b & 0x7f)
		for b&0x80 != 0 {
			if b, err = z.buffered.ReadByte(); err != nil || back > 1<<48 {
				return fail(errors.New("offset of a delta base"))
			}
			back = (back+1)<<7 | int64(b&0x7f)
		}
		if baseOffset = offset - back; back <= 0 || baseOffset < 12 {
			return fail(errors.New("offset of a delta base"))
		}
	case nameDelta:
		if _, err = io.ReadFull(z.buffered, baseName[:]); err != nil {
			return fail(err)
		}
	default:
		return fail(fmt.Errorf("entry type %d", kindNumber))
	}
	if err = z.reset(); err != nil {
		return fail(err)
	}
	data, err = z.readAll(size)
	return kindNumber, data, baseOffset, baseName, err
}

var errBrokenDelta = fmt.Errorf("delta: %w", ErrCorrupt)

func fresh(n int) []byte { return make([]byte, n) }

// unchangedBegin is how many bytes at the beginning of the base a delta copies
// to the beginning of the result.
func unchangedBegin(delta []byte) int {
	for range 2 { // the two sizes
		_, n := binary.Uvarint(delta)
		if n <= 0 {
			return 0
		}
		delta = delta[n:]
	}
	if len(delta) == 0 || delta[0]&0x80 == 0 || delta[0]&0x0f != 0 {
		return 0
	}
	length, at := 0, 1
	for i := range 3 {
		if delta[0]&(0x10<<i) != 0 {
			if at == len(delta) {
				return 0
			}
			length |= int(delta[at]) << (8 * i)
			at++
		}
	}
	if length == 0 {
		length = 0x10000
	}
	return length
}

// applyDelta builds an object, in memory that alloc gives, from its base and a
// delta's copy and insert instructions (gitformat-pack(5), "Deltified
// representation").
func applyDelta(base, delta []byte, alloc func(int) []byte) ([]byte, error) {
	from, n := binary.Uvarint(delta)
	if n <= 0 || from != uint64(len(base)) {
		return nil, errBrokenDelta
	}
	delta = delta[n:]
	size, n := binary.Uvarint(delta)
	if n <= 0 || size > maxObject {
		return nil, errBrokenDelta
	}
	delta = delta[n:]
	// The size is only a claim yet; hardly a result is larger than this.
	result := alloc(int(min(size, uint64(2*(len(base)+len(delta))+4096))))[:0]
	for len(delta) > 0 {
		op := delta[0]
		delta = delta[1:]
		if op == 0 {
			return nil, errBrokenDelta
		}
		if op&0x80 == 0 {
			if int(op) > len(delta) || uint64(len(result)+int(op)) > size {
				return nil, errBrokenDelta
			}
			result = append(result, delta[:op]...)
			delta = delta[op:]
			continue
		}
		var fields [7]byte // four of the offset, three of the length
		for i := range fields {
			if op&(1<<i) != 0 {
				if len(delta) == 0 {
					return nil, errBrokenDelta
				}
				fields[i] = delta[0]
				delta = delta[1:]
			}
		}
		start := uint64(binary.LittleEndian.Uint32(fields[:4]))
		length := uint64(fields[4]) | uint64(fields[5])<<8 | uint64(fields[6])<<16
		if length == 0 {
			length = 0x10000
		}
		if start+length > uint64(len(base)) || uint64(len(result))+length > size {
			return nil, errBrokenDelta
		}
		result = append(result, base[start:start+length]...)
	}
	if uint64(len(result)) != size {
		return nil, errBrokenDelta
	}
	return result, nil
}
