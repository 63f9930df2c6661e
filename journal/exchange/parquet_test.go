package exchange

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"testing"
)

// The reader below is written from the format's specification, apart from the
// writer: it reads any compact-protocol structure into maps. What it cannot show,
// that other programs agree, was checked by hand with DuckDB 1.4 and the Go
// library parquet-go 0.32, which read schema, counts, sums, nulls and times alike.

type thriftReader struct {
	b  []byte
	at int
}

func (r *thriftReader) varint() uint64 {
	v, n := binary.Uvarint(r.b[r.at:])
	r.at += n
	return v
}

func (r *thriftReader) value(typ byte) any {
	switch typ {
	case 1, 2:
		return typ == 1
	case 5, 6:
		v := r.varint()
		return int64(v>>1) ^ -int64(v&1)
	case 8:
		n := int(r.varint())
		s := string(r.b[r.at : r.at+n])
		r.at += n
		return s
	case 9:
		h := r.b[r.at]
		r.at++
		n := int(h >> 4)
		if n == 15 {
			n = int(r.varint())
		}
		var out []any
		for range n {
			out = append(out, r.value(h&15))
		}
		return out
	case 12:
		out, last := map[int]any{}, 0
		for {
			h := r.b[r.at]
			r.at++
			if h == 0 {
				return out
			}
			if delta := int(h >> 4); delta > 0 {
				last += delta
			} else {
				v := r.varint()
				last = int(int64(v>>1) ^ -int64(v&1))
			}
			out[last] = r.value(h & 15)
		}
	}
	panic(fmt.Sprintf("type %d", typ))
}

func TestParquetReadsBack(t *testing.T) {
	for _, n := range []int{0, 1, 9, 1000, parquetGroup + 17} {
		table := wideTable(n)
		content, err := Parquet(&table)
		if err != nil {
			t.Fatal(err)
		}
		size := len(content)
		if string(content[:4]) != "PAR1" || string(content[size-4:]) != "PAR1" {
			t.Fatal("the file has no PAR1 at both ends")
		}
		length := int(binary.LittleEndian.Uint32(content[size-8:]))
		meta := (&thriftReader{b: content[size-8-length : size-8]}).value(12).(map[int]any)
		if meta[3] != int64(n) {
			t.Fatalf("%d rows, the footer says %v", n, meta[3])
		}
		schema := meta[2].([]any)
		var names []string
		for _, s := range schema[1:] {
			names = append(names, s.(map[int]any)[4].(string))
		}
		if fmt.Sprint(names) != "[n value text flag at at_text]" {
			t.Fatalf("columns %v", names)
		}
		row := 0
		groups, _ := meta[4].([]any)
		for _, g := range groups {
			group := g.(map[int]any)
			rows := int(group[3].(int64))
			for k, c := range group[1].([]any) {
				chunk := c.(map[int]any)[3].(map[int]any)
				column := readChunk(t, content, chunk, rows)
				for i, got := range column {
					want := table.Rows[row+i]
					var w any
					switch k {
					case 0, 1, 2, 3:
						w = want[k]
					case 4, 5:
						w = want[4]
					}
					if (w == nil) != (got == nil) {
						t.Fatalf("row %d column %s: got %v, want %v", row+i, names[k], got, w)
					}
					if w == nil {
						continue
					}
					ok := true
					switch k {
					case 0, 1, 3:
						ok = got == w
					case 2:
						ok = got == w.(string)
					case 4:
						ok = got == want[4].(interface{ UnixMilli() int64 }).UnixMilli()
					case 5:
						ok = got == formatValue(w)
					}
					if !ok {
						t.Fatalf("row %d column %s: got %v, want %v", row+i, names[k], got, w)
					}
				}
			}
			row += rows
		}
		if row != n {
			t.Errorf("the groups hold %d rows of %d", row, n)
		}
	}
}

func readChunk(t *testing.T, content []byte, chunk map[int]any, rows int) []any {
	t.Helper()
	r := &thriftReader{b: content, at: int(chunk[9].(int64))}
	page := r.value(12).(map[int]any)
	z, err := gzip.NewReader(bytes.NewReader(content[r.at : r.at+int(page[3].(int64))]))
	if err != nil {
		t.Fatal(err)
	}
	plain, err := io.ReadAll(z)
	if err != nil || len(plain) != int(page[2].(int64)) {
		t.Fatalf("a page of %d bytes, %v: the header says %v", len(plain), err, page[2])
	}
	levels := int(binary.LittleEndian.Uint32(plain))
	run, values := plain[4:4+levels], plain[4+levels:]
	head, used := binary.Uvarint(run)
	if head&1 != 1 || int(head>>1) != len(run)-used {
		t.Fatal("the levels are not one bit-packed run")
	}
	run = run[used:]
	out := make([]any, rows)
	bits := 0
	for i := range rows {
		if run[i/8]>>(i%8)&1 == 0 {
			continue
		}
		switch chunk[1].(int64) {
		case 0:
			out[i] = values[bits/8]>>(bits%8)&1 == 1
			bits++
		case 2:
			out[i], values = int64(binary.LittleEndian.Uint64(values)), values[8:]
		case 5:
			out[i], values = math.Float64frombits(binary.LittleEndian.Uint64(values)), values[8:]
		case 6:
			n := int(binary.LittleEndian.Uint32(values))
			out[i], values = string(values[4:4+n]), values[4+n:]
		}
	}
	return out
}
