package dataset

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"

	"wj/journal"
)

// parquetGroup is how many rows a Parquet writer keeps before they go to the disk. Open
// files each hold a row group of their own.
var parquetGroup = 8192

// openYears is how many files of a table that is parted by year are open.
const openYears = 2

// columns is a group of fields in the order of a table; the library's own sorts them.
type columns struct {
	parquet.Group
	order []string
}

func (c columns) Fields() []parquet.Field {
	fields := c.Group.Fields()
	slices.SortFunc(fields, func(a, b parquet.Field) int { return slices.Index(c.order, a.Name()) - slices.Index(c.order, b.Name()) })
	return fields
}

// longTexts are columns whose values are seldom equal: a dictionary does not help.
var longTexts = map[string]bool{"file_text": true, "body": true, "file_sha256": true, "meaning_sha256": true, "sha256": true, "path": true, "from_id": true, "to_id": true, "record_id": true}

// compression is one for all columns: a compressor for each would keep a megabyte for
// each of a thousand columns.
var compression = &zstd.Codec{Level: zstd.SpeedFastest, Concurrency: 1}

func parquetSchema(t *Table) *parquet.Schema {
	c := columns{Group: parquet.Group{}}
	for i, col := range t.Columns {
		var node parquet.Node
		switch col.Type {
		case Text:
			if node = parquet.String(); !longTexts[col.Name] {
				node = parquet.Encoded(node, &parquet.RLEDictionary)
			}
		case Real:
			node = parquet.Leaf(parquet.DoubleType)
		case Integer:
			node = parquet.Int(64)
		case Flag:
			node = parquet.Int(32)
		case Moment:
			node = parquet.Timestamp(parquet.Millisecond)
		case Day:
			node = parquet.Date()
		}
		if i >= t.Key {
			node = parquet.Optional(node)
		}
		c.Group[col.Name] = parquet.Compressed(node, compression)
		c.order = append(c.order, col.Name)
	}
	return parquet.NewSchema(t.Name, c)
}

// parquetFile is one file that is being written. Rows wait in rows; their values and texts are in two slices that are used
// again once the library has taken them.
type parquetFile struct {
	name   string
	file   *os.File
	out    *bufio.Writer
	w      *parquet.GenericWriter[any]
	rows   []parquet.Row
	values []parquet.Value
	text   []byte
	times  []parsedTime // by column, the last
	count  int
}

// parsedTime is a moment or a day: the values of a session share theirs.
type parsedTime struct {
	typed string
	value parquet.Value
}

// parquetSink writes a folder with a folder for each table, parted by journal and, where
// a table is of sessions, by year: results/journal=…/year=2026/part-0.parquet.
type parquetSink struct {
	dir     string
	origin  Origin // of the journal whose rows come
	schemas map[*Table]*parquet.Schema
	open    map[*Table][]*parquetFile
	parts   map[string]int
}

// NewParquet writes Parquet files below a folder.
func NewParquet(dir string) Sink {
	return &parquetSink{dir, Origin{}, map[*Table]*parquet.Schema{}, map[*Table][]*parquetFile{}, map[string]int{}}
}

func (s *parquetSink) Write(e *Entry) error {
	if e.Kind == journal.NoKind {
		for _, row := range e.Rows {
			if row.Table == exportsTable {
				s.origin = Origin{JournalID: asText(row.Values[0]), Commit: asText(row.Values[1]), Program: asText(row.Values[exportsTable.At("program_version")])}
			}
		}
	}
	for _, row := range e.Rows {
		f, err := s.fileOf(row)
		if err != nil {
			return err
		}
		if err := f.write(row); err != nil {
			return fmt.Errorf("write %s: %w", f.name, err)
		}
	}
	return nil
}

// fileOf is the open file that a row goes to.
func (s *parquetSink) fileOf(row Row) (*parquetFile, error) {
	t := row.Table
	folder := t.Name
	if t.ownKey() {
		folder = filepath.Join(folder, "journal="+asText(row.Values[0]))
	}
	if t.ByYear {
		folder = filepath.Join(folder, "year="+row.Year)
	}
	for _, f := range s.open[t] {
		if f.name == folder {
			return f, nil
		}
	}
	if s.schemas[t] == nil {
		s.schemas[t] = parquetSchema(t)
	}
	for len(s.open[t]) >= openYears {
		if err := s.open[t][0].close(); err != nil {
			return nil, err
		}
		s.open[t] = s.open[t][1:]
	}
	dir := filepath.Join(s.dir, folder)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	file, err := os.OpenFile(filepath.Join(dir, fmt.Sprintf("part-%d.parquet", s.parts[folder])), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	s.parts[folder]++
	out := bufio.NewWriterSize(file, 64<<10)
	w := parquet.NewGenericWriter[any](out, s.schemas[t], parquet.PageBufferSize(64<<10), parquet.WriteBufferSize(0), parquet.CreatedBy("wj", s.origin.Program, ""),
		parquet.KeyValueMetadata("schema_version", SchemaVersion), parquet.KeyValueMetadata("journal_id", s.origin.JournalID), parquet.KeyValueMetadata("commit_sha", s.origin.Commit), parquet.KeyValueMetadata("program_version", s.origin.Program))
	f := &parquetFile{name: folder, file: file, out: out, w: w, times: make([]parsedTime, len(t.Columns))}
	s.open[t] = append(s.open[t], f)
	return f, nil
}

func (f *parquetFile) write(row Row) error {
	start := len(f.values)
	for i, v := range row.Values {
		level := 1
		if i < row.Table.Key {
			level = 0
		}
		value, err := f.value(i, v, row.Table.Columns[i].Type)
		if err != nil {
			return fmt.Errorf("%s.%s: %w", row.Table.Name, row.Table.Columns[i].Name, err)
		}
		if value.IsNull() {
			level = 0
		}
		f.values = append(f.values, value.Level(0, level, i))
	}
	f.rows = append(f.rows, f.values[start:len(f.values):len(f.values)])
	if len(f.rows) < 256 {
		return nil
	}
	return f.flush()
}

func (f *parquetFile) flush() error {
	if _, err := f.w.WriteRows(f.rows); err != nil {
		return err
	}
	f.count += len(f.rows)
	f.rows, f.values, f.text = f.rows[:0], f.values[:0], f.text[:0]
	if f.count < parquetGroup {
		return nil
	}
	f.count = 0
	return f.w.Flush()
}

func (f *parquetFile) close() error {
	err := f.flush()
	return errors.Join(err, f.w.Close(), f.out.Flush(), f.file.Close())
}

func (s *parquetSink) Finish() error {
	var all error
	for _, files := range s.open {
		for _, f := range files {
			all = errors.Join(all, f.close())
		}
	}
	return all
}

// value is what the file has of a value; tableValue is its inverse.
func (f *parquetFile) value(column int, v any, t Type) (parquet.Value, error) {
	switch v := v.(type) {
	case nil:
		return parquet.NullValue(), nil
	case float64:
		return parquet.DoubleValue(v), nil
	case int64:
		if t == Flag {
			return parquet.Int32Value(int32(v)), nil
		}
		return parquet.Int64Value(v), nil
	case string:
		if t == Moment || t == Day {
			last := &f.times[column]
			if last.typed == v {
				return last.value, nil
			}
			var at time.Time
			var err error
			if t == Moment {
				at, err = time.Parse(time.RFC3339, v)
				*last = parsedTime{v, parquet.Int64Value(at.UnixMilli())}
			} else {
				at, err = time.Parse(time.DateOnly, v)
				*last = parsedTime{v, parquet.Int32Value(int32(at.Unix() / 86400))}
			}
			return last.value, err
		}
		start := len(f.text)
		f.text = append(f.text, v...)
		return parquet.ByteArrayValue(f.text[start:len(f.text):len(f.text)]), nil
	}
	return parquet.NullValue(), fmt.Errorf("a value of type %T", v)
}

// tableValue is what a table has of a value in a file.
func tableValue(v parquet.Value, t Type) any {
	if v.IsNull() {
		return nil
	}
	switch t {
	case Real:
		return v.Double()
	case Integer:
		return v.Int64()
	case Flag:
		return int64(v.Int32())
	case Moment:
		return time.UnixMilli(v.Int64()).UTC().Format(time.RFC3339)
	case Day:
		return time.Unix(int64(v.Int32())*86400, 0).UTC().Format("2006-01-02")
	}
	return strings.Clone(string(v.ByteArray()))
}
