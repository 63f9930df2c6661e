package history

import (
	"encoding/binary"
	"hash/adler32"
	"sync"
)

// inflate fills result with the zlib stream at the beginning of compressed
// (RFC 1950, RFC 1951), and says whether it could: the stream must have exactly
// the size of result and the right checksum, and some bytes must follow it, as
// they do in a pack. False is no verdict, the standard library then looks
// again: it reads from a stream, byte by byte, which for the small objects of a
// history takes longer than the decompression itself.
func (t *huffmanTables) inflate(result, compressed []byte) bool {
	if len(compressed) < 2 || compressed[0]&0x0f != 8 || compressed[0]>>4 > 7 || compressed[1]&0x20 != 0 || binary.BigEndian.Uint16(compressed)%31 != 0 {
		return false
	}
	in := bits{source: compressed, at: 2}
	out := 0
	for last := false; !last; {
		if !in.fill() {
			return false
		}
		last = in.take(1) == 1
		switch in.take(2) {
		case 0:
			in.take(in.count & 7)
			in.at -= int(in.count >> 3)
			in.held, in.count = 0, 0
			if in.at+4 > len(compressed) {
				return false
			}
			n := int(binary.LittleEndian.Uint16(compressed[in.at:]))
			if n != int(^binary.LittleEndian.Uint16(compressed[in.at+2:])) || in.at+4+n > len(compressed) || out+n > len(result) {
				return false
			}
			in.at += 4
			out += copy(result[out:], compressed[in.at:in.at+n])
			in.at += n
		case 1:
			fixed := fixedTables()
			if out = block(&in, &fixed.symbols, &fixed.distances, result, out); out < 0 {
				return false
			}
		case 2:
			if !t.read(&in) {
				return false
			}
			if out = block(&in, &t.symbols, &t.distances, result, out); out < 0 {
				return false
			}
		default:
			return false
		}
	}
	in.at -= int(in.count >> 3)
	return out == len(result) && in.at+4 <= len(compressed) && binary.BigEndian.Uint32(compressed[in.at:]) == adler32.Checksum(result)
}

// bits takes bits from bytes, the lowest first.
type bits struct {
	source []byte
	at     int
	held   uint64
	count  uint // of bits in held that count
}

// fill makes 56 bits available; it needs eight bytes, and where the source ends
// before, it fails.
func (b *bits) fill() bool {
	if b.at+8 > len(b.source) {
		return false
	}
	b.held |= binary.LittleEndian.Uint64(b.source[b.at:]) << b.count
	b.at += int(63-b.count) >> 3
	b.count |= 56
	return true
}

func (b *bits) take(n uint) uint {
	v := uint(b.held) & (1<<n - 1)
	b.held >>= n
	b.count -= n
	return v
}

// block decodes one block's symbols into result from out on, and gives where it
// ended, -1 where it is wrong.
func block(in *bits, symbols, distances *huffman, result []byte, out int) int {
	for {
		if !in.fill() { // enough for a length and a distance: 15+5+15+13 bits
			return -1
		}
		symbol := symbols.next(in)
		switch {
		case symbol < 0:
			return -1
		case symbol < 256:
			if out == len(result) {
				return -1
			}
			result[out] = byte(symbol)
			out++
			continue
		case symbol == 256:
			return out
		case symbol-257 >= len(lengthBase):
			return -1
		}
		length := int(lengthBase[symbol-257]) + int(in.take(uint(lengthExtra[symbol-257])))
		d := distances.next(in)
		if d < 0 || d >= len(distanceBase) {
			return -1
		}
		distance := int(distanceBase[d]) + int(in.take(uint(distanceExtra[d])))
		if distance > out || out+length > len(result) {
			return -1
		}
		if distance >= length {
			out += copy(result[out:out+length], result[out-distance:])
			continue
		}
		for end := out + length; out < end; out++ { // what is copied is being written
			result[out] = result[out-distance]
		}
	}
}

// The lengths and distances of RFC 1951, 3.2.5, and the order of 3.2.7.
var (
	lengthBase    = [29]uint16{3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258}
	lengthExtra   = [29]uint8{0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0}
	distanceBase  = [30]uint16{1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577}
	distanceExtra = [30]uint8{0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13}
	codeOrder     = [19]uint8{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15}
)

// huffman is a code: short ones are looked up by the bits that come next, longer
// ones are found by their canonical order.
type huffman struct {
	short  [1 << shortCode]uint16 // symbol<<4 | length, 0 where the code is longer; the first 1<<width count
	width  uint8
	count  [16]uint16  // codes of each length
	symbol [288]uint16 // by code
}

const shortCode = 9

// set makes the code of the lengths, words of up to width bits to be looked up (RFC 1951, 3.2.2), and says whether it is
// one: every sequence of bits must begin with exactly one code word, or there is
// but one.
func (h *huffman) set(lengths []uint8, width uint8) bool {
	h.width = width
	h.count = [16]uint16{}
	for _, n := range lengths {
		h.count[n]++
	}
	h.count[0] = 0
	left, first, at := 1, 0, uint16(0)
	var code, next [16]uint16
	for n := 1; n < 16; n++ {
		if left = left<<1 - int(h.count[n]); left < 0 {
			return false
		}
		first = (first + int(h.count[n-1])) << 1
		code[n], next[n] = uint16(first), at
		at += h.count[n]
	}
	if left != 0 {
		if at > 1 || at == 1 && h.count[1] == 0 {
			return false
		}
		clear(h.short[:1<<width]) // a code of one word of one bit, or of none
	}
	for symbol, n := range lengths {
		if n == 0 {
			continue
		}
		h.symbol[next[n]] = uint16(symbol)
		next[n]++
		if n <= width {
			for i := int(reverse(code[n]) >> (16 - n)); i < 1<<width; i += 1 << n {
				h.short[i] = uint16(symbol)<<4 | uint16(n)
			}
		} else {
			h.short[reverse(code[n])>>(16-n)&(1<<width-1)] = 0
		}
		code[n]++
	}
	return true
}

func reverse(v uint16) uint16 {
	v = v>>8 | v<<8
	v = v>>4&0x0f0f | v&0x0f0f<<4
	v = v>>2&0x3333 | v&0x3333<<2
	return v>>1&0x5555 | v&0x5555<<1
}

// next decodes one symbol.
func (h *huffman) next(in *bits) int {
	if e := h.short[in.held&(1<<h.width-1)&(1<<shortCode-1)]; e != 0 {
		in.take(uint(e & 15))
		return int(e >> 4)
	}
	code, first, at := 0, 0, 0
	for n := uint(1); n < 16; n++ {
		code |= int(in.held >> (n - 1) & 1)
		count := int(h.count[n])
		if code-first < count {
			in.take(n)
			return int(h.symbol[at+code-first])
		}
		at += count
		first = (first + count) << 1
		code <<= 1
	}
	return -1
}

// huffmanTables are the two codes of a block.
type huffmanTables struct {
	symbols, distances, lengths huffman
}

// read takes the codes of a dynamic block (RFC 1951, 3.2.7).
func (t *huffmanTables) read(in *bits) bool {
	symbols, distances, codes := int(in.take(5))+257, int(in.take(5))+1, int(in.take(4))+4
	if symbols > 286 || distances > 30 {
		return false
	}
	var lengths [286 + 30]uint8
	for i := range codes {
		if i%16 == 0 && !in.fill() {
			return false
		}
		lengths[codeOrder[i]] = uint8(in.take(3))
	}
	if !t.lengths.set(lengths[:19], 7) {
		return false
	}
	clear(lengths[:19])
	for i := 0; i < symbols+distances; {
		if !in.fill() {
			return false
		}
		n, repeat, value := t.lengths.next(in), 1, uint8(0)
		switch {
		case n < 0:
			return false
		case n < 16:
			value = uint8(n)
		case n == 16:
			if i == 0 {
				return false
			}
			repeat, value = 3+int(in.take(2)), lengths[i-1]
		case n == 17:
			repeat = 3 + int(in.take(3))
		default:
			repeat = 11 + int(in.take(7))
		}
		if i+repeat > symbols+distances {
			return false
		}
		for range repeat {
			lengths[i] = value
			i++
		}
	}
	return t.symbols.set(lengths[:symbols], shortCode) && t.distances.set(lengths[symbols:symbols+distances], 6)
}

// fixedTables are the codes of RFC 1951, 3.2.6.
var fixedTables = sync.OnceValue(func() *huffmanTables {
	var lengths [288]uint8
	for i := range lengths {
		switch {
		case i < 144:
			lengths[i] = 8
		case i < 256:
			lengths[i] = 9
		case i < 280:
			lengths[i] = 7
		default:
			lengths[i] = 8
		}
	}
	t := &huffmanTables{}
	t.symbols.set(lengths[:], shortCode)
	var distances [32]uint8
	for i := range distances {
		distances[i] = 5
	}
	t.distances.set(distances[:], 6)
	return t
})
