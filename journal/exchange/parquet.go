package exchange

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"time"
)

// Apache Parquet (format specification 2.10, apache/parquet-format: README,
// Encodings, and parquet.thrift, whose field numbers stand below). A hand-off
// needs a small part of it: flat optional columns, PLAIN values, one data page
// a column and row group, GZIP. A library for all of it would double the
// program.
const (
	parquetGroup = 100_000 // rows a row group

	parquetBoolean, parquetInt64, parquetDouble, parquetByteArray = 0, 2, 5, 6
	parquetPlain, parquetRLE                                      = 0, 3
	parquetGzip                                                   = 2
)

// Parquet writes one table. A moment is written twice: as a timestamp in UTC,
// and with its offset as text in a column of the same name with _text.
func Parquet(t *Table) ([]byte, error) {
	columns := parquetColumns(t)
	var out bytes.Buffer
	out.WriteString("PAR1")
	var groups []parquetGroupInfo
	for start := 0; start < len(t.Rows); start += parquetGroup {
		rows := t.Rows[start:min(start+parquetGroup, len(t.Rows))]
		g := parquetGroupInfo{rows: len(rows)}
		for _, c := range columns {
			chunk, err := c.chunk(&out, rows)
			if err != nil {
				return nil, fmt.Errorf("write parquet column %s: %w", c.name, err)
			}
			g.chunks = append(g.chunks, chunk)
		}
		groups = append(groups, g)
	}
	meta := parquetMeta(t, columns, groups)
	out.Write(meta)
	out.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(meta))))
	out.WriteString("PAR1")
	return out.Bytes(), nil
}

// parquetColumn is a column of the file: which column of the table, and how.
type parquetColumn struct {
	name   string
	at     int
	typ    int  // physical type
	text   bool // a UTF-8 text
	moment bool // milliseconds of UTC
}

func parquetColumns(t *Table) []parquetColumn {
	var out []parquetColumn
	for i, c := range t.Columns {
		p := parquetColumn{name: c.Name, at: i, typ: parquetByteArray, text: true}
		switch c.Type {
		case Real:
			p.typ, p.text = parquetDouble, false
		case Integer:
			p.typ, p.text = parquetInt64, false
		case Flag:
			p.typ, p.text = parquetBoolean, false
		case Moment:
			out = append(out, parquetColumn{name: c.Name, at: i, typ: parquetInt64, moment: true})
			p.name += "_text"
		}
		out = append(out, p)
	}
	return out
}

type parquetGroupInfo struct {
	rows   int
	chunks []parquetChunk
}

type parquetChunk struct {
	offset            int64
	plain, compressed int64 // sizes with the page header
}

// chunk writes the one page of a column chunk: definition levels, then the
// values that are there.
func (c parquetColumn) chunk(out *bytes.Buffer, rows [][]any) (parquetChunk, error) {
	levels := make([]byte, (len(rows)+7)/8)
	var values []byte
	bits := 0
	for i, row := range rows {
		v := row[c.at]
		if f, ok := v.(float64); v == nil || ok && math.IsNaN(f) {
			continue
		}
		levels[i/8] |= 1 << (i % 8)
		switch {
		case c.text:
			s := strings.ToValidUTF8(formatValue(v), "\uFFFD")
			values = append(binary.LittleEndian.AppendUint32(values, uint32(len(s))), s...)
		case c.moment:
			t, _ := v.(time.Time)
			values = binary.LittleEndian.AppendUint64(values, uint64(t.UnixMilli()))
		case c.typ == parquetDouble:
			f, _ := v.(float64)
			values = binary.LittleEndian.AppendUint64(values, math.Float64bits(f))
		case c.typ == parquetInt64:
			n, _ := v.(int64)
			values = binary.LittleEndian.AppendUint64(values, uint64(n))
		default: // booleans are bits, the first the lowest
			if bits%8 == 0 {
				values = append(values, 0)
			}
			if b, _ := v.(bool); b {
				values[bits/8] |= 1 << (bits % 8)
			}
			bits++
		}
	}
	// One bit-packed run of the RLE/bit-packing hybrid (Encodings.md): its header is
	// the number of groups of eight, shifted, with the lowest bit set.
	run := binary.AppendUvarint(nil, uint64(len(levels))<<1|1)
	run = append(run, levels...)
	page := binary.LittleEndian.AppendUint32(nil, uint32(len(run)))
	page = append(append(page, run...), values...)
	if len(page) > math.MaxInt32 {
		return parquetChunk{}, fmt.Errorf("it is larger than 2 GiB; export less at a time")
	}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if _, err := z.Write(page); err != nil {
		return parquetChunk{}, err
	}
	if err := z.Close(); err != nil {
		return parquetChunk{}, err
	}
	var h thrift
	h.begin()
	h.i32(1, 0) // DATA_PAGE
	h.i32(2, len(page))
	h.i32(3, packed.Len())
	h.structure(5)
	h.i32(1, len(rows))
	h.i32(2, parquetPlain)
	h.i32(3, parquetRLE)
	h.i32(4, parquetRLE)
	h.end()
	h.end()
	chunk := parquetChunk{offset: int64(out.Len()), plain: int64(len(h.buf) + len(page)), compressed: int64(len(h.buf) + packed.Len())}
	out.Write(h.buf)
	out.Write(packed.Bytes())
	return chunk, nil
}

// parquetMeta is the FileMetaData at the end of the file.
func parquetMeta(t *Table, columns []parquetColumn, groups []parquetGroupInfo) []byte {
	var m thrift
	m.begin()
	m.i32(1, 1)
	m.list(2, thriftStruct, len(columns)+1)
	m.begin()
	m.str(4, t.Name)
	m.i32(5, len(columns))
	m.end()
	for _, c := range columns {
		m.begin()
		m.i32(1, c.typ)
		m.i32(3, 1) // OPTIONAL
		m.str(4, c.name)
		switch {
		case c.text:
			m.i32(6, 0) // UTF8, for readers older than logical types
			m.structure(10)
			m.structure(1) // STRING
			m.end()
			m.end()
		case c.moment:
			m.i32(6, 9) // TIMESTAMP_MILLIS
			m.structure(10)
			m.structure(8) // TIMESTAMP
			m.flag(1, true)
			m.structure(2)
			m.structure(1) // MILLIS
			m.end()
			m.end()
			m.end()
			m.end()
		}
		m.end()
	}
	m.i64(3, int64(len(t.Rows)))
	m.list(4, thriftStruct, len(groups))
	for _, g := range groups {
		m.begin()
		m.list(1, thriftStruct, len(g.chunks))
		total := int64(0)
		for i, c := range g.chunks {
			total += c.plain
			m.begin()
			m.i64(2, c.offset)
			m.structure(3)
			m.i32(1, columns[i].typ)
			m.list(2, thriftI32, 2)
			m.zigzag(parquetPlain)
			m.zigzag(parquetRLE)
			m.list(3, thriftBinary, 1)
			m.text(columns[i].name)
			m.i32(4, parquetGzip)
			m.i64(5, int64(g.rows))
			m.i64(6, c.plain)
			m.i64(7, c.compressed)
			m.i64(9, c.offset)
			m.end()
			m.end()
		}
		m.i64(2, total)
		m.i64(3, int64(g.rows))
		m.end()
	}
	var docs [][2]string
	for _, c := range t.Columns {
		if c.Doc != "" {
			docs = append(docs, [2]string{"column:" + c.Name, c.Doc})
		}
	}
	m.list(5, thriftStruct, len(docs))
	for _, d := range docs {
		m.begin()
		m.str(1, d[0])
		m.str(2, d[1])
		m.end()
	}
	m.str(6, "wj")
	m.end()
	return m.buf
}

// The compact protocol of Apache Thrift ("Thrift compact protocol encoding"):
// the types that the metadata needs.
const (
	thriftTrue, thriftFalse            = 1, 2
	thriftI32, thriftI64, thriftBinary = 5, 6, 8
	thriftList, thriftStruct           = 9, 12
)

// thrift writes nested structures; last holds the last field number of each.
type thrift struct {
	buf  []byte
	last []int
}

func (t *thrift) begin() { t.last = append(t.last, 0) }

func (t *thrift) end() {
	t.buf = append(t.buf, 0)
	t.last = t.last[:len(t.last)-1]
}

func (t *thrift) field(id int, typ byte) {
	at := len(t.last) - 1
	if delta := id - t.last[at]; delta > 0 && delta <= 15 {
		t.buf = append(t.buf, byte(delta)<<4|typ)
	} else {
		t.buf = append(t.buf, typ)
		t.zigzag(int64(id))
	}
	t.last[at] = id
}

func (t *thrift) zigzag(v int64)       { t.buf = binary.AppendVarint(t.buf, v) }
func (t *thrift) i32(id, v int)        { t.field(id, thriftI32); t.zigzag(int64(v)) }
func (t *thrift) i64(id int, v int64)  { t.field(id, thriftI64); t.zigzag(v) }
func (t *thrift) str(id int, s string) { t.field(id, thriftBinary); t.text(s) }
func (t *thrift) structure(id int)     { t.field(id, thriftStruct); t.begin() }

func (t *thrift) flag(id int, v bool) {
	if v {
		t.field(id, thriftTrue)
		return
	}
	t.field(id, thriftFalse)
}

func (t *thrift) text(s string) {
	t.buf = append(binary.AppendUvarint(t.buf, uint64(len(s))), s...)
}

// list starts a list; its elements follow.
func (t *thrift) list(id int, typ byte, n int) {
	t.field(id, thriftList)
	if n < 15 {
		t.buf = append(t.buf, byte(n)<<4|typ)
		return
	}
	t.buf = binary.AppendUvarint(append(t.buf, 0xf0|typ), uint64(n))
}
