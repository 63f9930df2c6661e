package exchange

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
)

// The database file format of SQLite 3 ("Database File Format", sqlite.org,
// section numbers below). Tables that are only written once and in order need
// a small part of it: rowid tables as b-trees of leaf and interior pages, with
// overflow pages for long rows. Writing that part ourselves costs the program
// neither five megabytes nor a start-up time.
const (
	sqlitePage     = 8192
	sqliteMaxLocal = sqlitePage - 35               // 1.6: payload kept whole on a leaf
	sqliteMinLocal = (sqlitePage-12)*32/255 - 23   // 1.6: payload kept when the rest overflows
	sqliteOverflow = sqlitePage - 4                // 1.6: bytes on an overflow page
	sqliteLeaf     = 0x0d                          // 1.6: leaf of a table
	sqliteInterior = 0x05                          // 1.6: interior page of a table
	sqliteHeader   = 100                           // 1.3
	sqliteMaxPages = 1 << 18                       // 2 GiB: more is no hand-off
	sqliteCellRoom = sqlitePage - sqliteHeader - 8 // what page 1 holds
)

// sqliteFile is a database in the making; pages are numbered from 1.
type sqliteFile struct {
	pages [][]byte
	err   error
}

func (f *sqliteFile) add(p []byte) uint32 {
	if len(f.pages) >= sqliteMaxPages {
		f.err = errors.New("write the database: it would be larger than 2 GiB; export less at a time")
		return 1
	}
	f.pages = append(f.pages, p)
	return uint32(len(f.pages))
}

// SQLite writes tables as one database file. The same tables give the same
// bytes.
func SQLite(tables []Table) ([]byte, error) {
	f := &sqliteFile{pages: [][]byte{nil}}
	var schema [][]byte
	for i := range tables {
		t := &tables[i]
		root := f.table(t)
		record := sqliteRecord([]any{"table", t.Name, t.Name, int64(root), createTable(t)})
		schema = append(schema, f.cell(int64(i+1), record))
	}
	if f.err != nil {
		return nil, f.err
	}
	size := 0
	for _, c := range schema {
		size += len(c) + 2
	}
	if size > sqliteCellRoom {
		return nil, errors.New("write the database: the tables have more columns than its first page can describe")
	}
	first := f.page(sqliteLeaf, sqliteHeader, schema, 0)
	copy(first, f.header())
	f.pages[0] = first
	out := make([]byte, 0, len(f.pages)*sqlitePage)
	for _, p := range f.pages {
		out = append(out, p...)
	}
	return out, nil
}

// header is the database header (1.3).
func (f *sqliteFile) header() []byte {
	h := make([]byte, sqliteHeader)
	copy(h, "SQLite format 3\x00")
	be := binary.BigEndian
	be.PutUint16(h[16:], sqlitePage)
	h[18], h[19] = 1, 1                        // rollback journal
	h[21], h[22], h[23] = 64, 32, 32           // fixed payload fractions
	be.PutUint32(h[24:], 1)                    // file change counter
	be.PutUint32(h[28:], uint32(len(f.pages))) // size in pages
	be.PutUint32(h[40:], 1)                    // schema cookie
	be.PutUint32(h[44:], 4)                    // schema format
	be.PutUint32(h[56:], 1)                    // UTF-8
	be.PutUint32(h[92:], 1)                    // version-valid-for: the change counter
	be.PutUint32(h[96:], 3040000)              // a library version that writes this format
	return h
}

// createTable is the statement that the schema keeps.
func createTable(t *Table) string {
	// DOUBLE has the affinity of REAL (SQLite, Datatypes, 3.1), and loaders that go by
	// the name make eight bytes of it, not four.
	types := map[Type]string{Text: "TEXT", Real: "DOUBLE", Integer: "INTEGER", Flag: "INTEGER", Moment: "TEXT", Date: "TEXT"}
	var b strings.Builder
	fmt.Fprintf(&b, "CREATE TABLE %s (", sqlName(t.Name))
	for i, c := range t.Columns {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(sqlName(c.Name) + " " + types[c.Type])
	}
	b.WriteString(")")
	return b.String()
}

func sqlName(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// table writes the rows as leaves and, above them, interior pages up to one
// root, whose number it gives.
func (f *sqliteFile) table(t *Table) uint32 {
	type child struct {
		page uint32
		last int64 // the largest rowid below it
	}
	var level []child
	var cells [][]byte
	room := sqlitePage - 8
	used, last := 0, int64(0)
	flush := func() {
		level = append(level, child{f.add(f.page(sqliteLeaf, 0, cells, 0)), last})
		cells, used = nil, 0
	}
	for n, row := range t.Rows {
		c := f.cell(int64(n+1), sqliteRecord(row))
		if used+len(c)+2 > room {
			flush()
		}
		cells, used, last = append(cells, c), used+len(c)+2, int64(n+1)
	}
	if len(cells) > 0 || len(level) == 0 {
		flush()
	}
	// An interior cell is a page number and a rowid: at most 4 + 9 bytes and its
	// pointer. Each page holds that many and one more child to the right.
	const fan = (sqlitePage-12)/(4+9+2) + 1
	for len(level) > 1 {
		var up []child
		for i := 0; i < len(level); {
			end := min(i+fan, len(level))
			if len(level)-end == 1 {
				end-- // no interior page with a single child
			}
			group := level[i:end]
			cells = nil
			for _, c := range group[:len(group)-1] {
				cell := binary.BigEndian.AppendUint32(nil, c.page)
				cells = append(cells, appendSqliteVarint(cell, uint64(c.last)))
			}
			right := group[len(group)-1]
			up = append(up, child{f.add(f.page(sqliteInterior, 0, cells, right.page)), right.last})
			i = end
		}
		level = up
	}
	return level[0].page
}

// page lays out a b-tree page (1.6): header, pointers, and the cells from the
// end. at is where its header starts (100 on page 1).
func (f *sqliteFile) page(kind byte, at int, cells [][]byte, right uint32) []byte {
	p := make([]byte, sqlitePage)
	be := binary.BigEndian
	p[at] = kind
	be.PutUint16(p[at+3:], uint16(len(cells)))
	pointers := at + 8
	if kind == sqliteInterior {
		be.PutUint32(p[at+8:], right)
		pointers = at + 12
	}
	content := sqlitePage
	for i, c := range cells {
		content -= len(c)
		copy(p[content:], c)
		be.PutUint16(p[pointers+2*i:], uint16(content))
	}
	be.PutUint16(p[at+5:], uint16(content))
	return p
}

// cell is a leaf cell: payload size, rowid, and the payload, whose end goes to
// overflow pages where it is long.
func (f *sqliteFile) cell(rowid int64, payload []byte) []byte {
	c := appendSqliteVarint(nil, uint64(len(payload)))
	c = appendSqliteVarint(c, uint64(rowid))
	if len(payload) <= sqliteMaxLocal {
		return append(c, payload...)
	}
	local := sqliteMinLocal + (len(payload)-sqliteMinLocal)%sqliteOverflow
	if local > sqliteMaxLocal {
		local = sqliteMinLocal
	}
	c = append(c, payload[:local]...)
	rest := payload[local:]
	next := uint32(0)
	for end := len(rest); end > 0; {
		start := (end - 1) / sqliteOverflow * sqliteOverflow
		p := make([]byte, sqlitePage)
		binary.BigEndian.PutUint32(p, next)
		copy(p[4:], rest[start:end])
		next, end = f.add(p), start
	}
	return binary.BigEndian.AppendUint32(c, next)
}

// sqliteRecord encodes a row (2.1).
func sqliteRecord(row []any) []byte {
	var types, body []byte
	for _, v := range row {
		switch v := v.(type) {
		case float64:
			types = append(types, 7)
			body = binary.BigEndian.AppendUint64(body, math.Float64bits(v))
		case int64:
			types, body = appendSqliteInteger(types, body, v)
		case bool:
			types = append(types, 8)
			if v {
				types[len(types)-1] = 9
			}
		default:
			s := strings.ToValidUTF8(formatValue(v), "\uFFFD")
			if v == nil {
				types = append(types, 0)
				continue
			}
			types = appendSqliteVarint(types, uint64(13+2*len(s)))
			body = append(body, s...)
		}
	}
	// The header's size counts itself; one more byte where that needs two.
	size := len(types) + 1
	if size > 127 {
		size++
	}
	record := appendSqliteVarint(nil, uint64(size))
	return append(append(record, types...), body...)
}

func appendSqliteInteger(types, body []byte, v int64) ([]byte, []byte) {
	switch {
	case v == 0:
		return append(types, 8), body
	case v == 1:
		return append(types, 9), body
	case v >= math.MinInt8 && v <= math.MaxInt8:
		return append(types, 1), append(body, byte(v))
	case v >= math.MinInt32 && v <= math.MaxInt32:
		return append(types, 4), binary.BigEndian.AppendUint32(body, uint32(v))
	}
	return append(types, 6), binary.BigEndian.AppendUint64(body, uint64(v))
}

// appendSqliteVarint writes a variable-length integer, most significant bits
// first (1.6). Nothing here needs the ninth byte.
func appendSqliteVarint(b []byte, v uint64) []byte {
	var buf [9]byte
	i := len(buf) - 1
	buf[i] = byte(v & 0x7f)
	for v >>= 7; v > 0; v >>= 7 {
		i--
		buf[i] = byte(v&0x7f) | 0x80
	}
	return append(b, buf[i:]...)
}
