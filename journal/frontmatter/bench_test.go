package frontmatter

import "testing"

func BenchmarkFast(b *testing.B) {
	src := []byte(session)
	var d Document
	d.Parse(src)
	b.SetBytes(int64(len(src)))
	b.ReportAllocs()
	for b.Loop() {
		d.reset(src)
		if !d.fast(true) {
			b.Fatal("the strict reader refuses the canonical form")
		}
	}
}

func BenchmarkLibrary(b *testing.B) {
	src := []byte(session)
	var d Document
	b.SetBytes(int64(len(src)))
	b.ReportAllocs()
	for b.Loop() {
		d.reset(src)
		d.slow(true)
	}
}

func BenchmarkFindPath(b *testing.B) {
	var d Document
	d.Parse([]byte(session))
	b.ReportAllocs()
	for b.Loop() {
		if _, ok := d.FindPath("readings", "sulfate", "value"); !ok {
			b.Fatal("not found")
		}
	}
}
