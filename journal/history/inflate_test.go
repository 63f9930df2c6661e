package history

import (
	"bytes"
	"compress/zlib"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
)

// inflatedByLibrary reads a stream of a known size with the standard library.
func inflatedByLibrary(compressed []byte, size int) ([]byte, bool) {
	z, err := zlib.NewReader(bytes.NewReader(compressed))
	if err != nil {
		return nil, false
	}
	got, err := io.ReadAll(io.LimitReader(z, int64(size)+1))
	return got, err == nil && len(got) == size
}

func deflated(t testing.TB, content []byte, level int) []byte {
	var b bytes.Buffer
	z, err := zlib.NewWriterLevel(&b, level)
	if err != nil {
		t.Fatal(err)
	}
	z.Write(content)
	z.Close()
	return b.Bytes()
}

// What follows a stream in a pack.
var following = bytes.Repeat([]byte{0x9c, 0x78}, 16)

// TestInflate reads what the standard library wrote, in all its kinds of
// blocks.
func TestInflate(t *testing.T) {
	noise := make([]byte, 70_000)
	random := rand.New(rand.NewPCG(8, 850))
	for i := range noise {
		noise[i] = byte(random.Uint32())
	}
	var tree bytes.Buffer
	for i := range 300 {
		tree.WriteString("100644 2026-08-01-north-well.md\x00")
		tree.Write(noise[i*20 : i*20+20])
	}
	var tables huffmanTables
	for name, content := range map[string][]byte{"empty": {}, "one": {7}, "run": make([]byte, 100_000), "noise": noise, "tree": tree.Bytes(),
		"text": []byte(strings.Repeat("sulfate: {value: 148 mg/L, lot: SU-2507}\n", 40) + "The end."), "short": []byte("tree 4b825dc642cb6eb9a060e54bf8d69288fbee4904\n")} {
		for level := zlib.HuffmanOnly; level <= zlib.BestCompression; level++ {
			compressed := append(deflated(t, content, level), following...)
			got := make([]byte, len(content))
			if !tables.inflate(got, compressed) {
				t.Errorf("%s at level %d is not read", name, level)
				continue
			}
			if !bytes.Equal(got, content) {
				t.Errorf("%s at level %d differs", name, level)
			}
		}
	}
}

// FuzzInflate: whatever this reader accepts, the standard library reads too, to
// the same bytes.
func FuzzInflate(f *testing.F) {
	for _, level := range []int{zlib.HuffmanOnly, zlib.NoCompression, zlib.BestSpeed, zlib.BestCompression} {
		content := []byte(plainCommit + "\nRecord a session of the north well, the north well and the north well\n")
		f.Add(append(deflated(f, content, level), following...), uint16(len(content)))
	}
	f.Add([]byte("\x78\x9c\x03\x00\x00\x00\x00\x01"), uint16(0))
	f.Fuzz(func(t *testing.T, compressed []byte, size uint16) {
		var tables huffmanTables
		got := make([]byte, size)
		if !tables.inflate(got, compressed) {
			return
		}
		if want, ok := inflatedByLibrary(compressed, int(size)); !ok || !bytes.Equal(got, want) {
			t.Errorf("%d bytes read, the library reads %d, %v", len(got), len(want), ok)
		}
	})
}

func BenchmarkInflate(b *testing.B) {
	content := []byte(plainCommit + "\nRecord 2026-08-01-north-well-4711\n")
	compressed := append(deflated(b, content, zlib.DefaultCompression), following...)
	result := make([]byte, len(content))
	var tables huffmanTables
	for b.Loop() {
		if !tables.inflate(result, compressed) {
			b.Fatal("not read")
		}
	}
}
