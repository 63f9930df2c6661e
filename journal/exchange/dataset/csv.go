package dataset

import (
	"bufio"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"strconv"
)

// csvTable is one CSV file that is being written, with its digest.
type csvTable struct {
	file *os.File
	buf  *bufio.Writer
	sum  hash.Hash
	size int64
	w    *csv.Writer
}

func (c *csvTable) Write(p []byte) (int, error) {
	c.sum.Write(p)
	c.size += int64(len(p))
	return c.buf.Write(p)
}

// packageSink writes a Data Package: a CSV file for each table and datapackage.json,
// which describes them (Frictionless Standards 1.0).
type packageSink struct {
	dir    string
	origin Origin
	title  string
	tables map[*Table]*csvTable
}

// NewDataPackage writes a Data Package to a folder. title names the journal.
func NewDataPackage(dir, title string, origin Origin) Sink {
	return &packageSink{dir, origin, title, map[*Table]*csvTable{}}
}

func (s *packageSink) Write(e *Entry) error {
	for _, row := range e.Rows {
		c := s.tables[row.Table]
		if c == nil {
			var err error
			if c, err = s.start(row.Table); err != nil {
				return err
			}
		}
		fields := make([]string, len(row.Values))
		for i, v := range row.Values {
			fields[i] = FormatValue(v)
		}
		if err := c.w.Write(fields); err != nil {
			return fmt.Errorf("write %s.csv: %w", row.Table.Name, err)
		}
	}
	return nil
}

func (s *packageSink) start(t *Table) (*csvTable, error) {
	file, err := os.OpenFile(filepath.Join(s.dir, t.Name+".csv"), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, err
	}
	c := &csvTable{file: file, buf: bufio.NewWriterSize(file, 32<<10), sum: sha256.New()}
	c.w = csv.NewWriter(c)
	s.tables[t] = c
	heads := make([]string, len(t.Columns))
	for i := range t.Columns {
		heads[i] = t.Columns[i].Name
	}
	return c, c.w.Write(heads)
}

// FormatValue is a value of a table as text: nothing where there is none, a flag as 0 or 1.
func FormatValue(v any) string {
	switch v := v.(type) {
	case bool:
		return strconv.FormatInt(flagValue(v), 10)
	case string:
		return v
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case int64:
		return strconv.FormatInt(v, 10)
	}
	return ""
}

// parsed is the inverse of FormatValue.
func parsed(text string, t Type) (any, error) {
	if text == "" {
		return nil, nil
	}
	switch t {
	case Real:
		return strconv.ParseFloat(text, 64)
	case Integer, Flag:
		return strconv.ParseInt(text, 10, 64)
	}
	return text, nil
}

type object = map[string]any

// frictionlessTypes are the types of Table Schema.
var frictionlessTypes = map[Type]string{Text: "string", Real: "number", Integer: "integer", Flag: "integer", Moment: "datetime", Day: "date"}

func (s *packageSink) Finish() error {
	var resources []any
	var all error
	for _, t := range AllTables() {
		c := s.tables[t]
		if c == nil { // an empty table is there too: others refer to it
			var err error
			if c, err = s.start(t); err != nil {
				return err
			}
		}
		c.w.Flush()
		all = errors.Join(all, c.w.Error(), c.buf.Flush(), c.file.Close())
		resources = append(resources, object{"name": t.Name, "path": t.Name + ".csv", "description": t.Doc, "profile": "tabular-data-resource", "format": "csv", "mediatype": "text/csv", "encoding": "utf-8",
			"bytes": c.size, "hash": "sha256:" + hex.EncodeToString(c.sum.Sum(nil)), "schema": tableSchema(t), "dialect": object{"delimiter": ",", "doubleQuote": true, "header": true}})
	}
	if all != nil {
		return fmt.Errorf("write the tables: %w", all)
	}
	o := s.origin
	description := object{"profile": "tabular-data-package", "name": "water-journal", "id": o.JournalID, "title": s.title, "version": SchemaVersion, "resources": resources,
		"description": "A water journal as tables. The tables and columns are described in docs/data.md of wj. Texts are as typed: a program that runs cells as formulas must be set to read them as text.",
		"journal_id":  o.JournalID, "commit_sha": o.Commit, "program_version": o.Program, "schema_version": SchemaVersion}
	if when := utc(o.Time); when != nil {
		description["created"] = when
	}
	text, err := json.MarshalIndent(description, "", " ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(s.dir, "postgresql.sql"), []byte(postgresSQL(s.origin)), 0o666); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(s.dir, "datapackage.json"), append(text, '\n'), 0o666)
}

// tableSchema is a table's schema. Keys leave the journal out, of which there is one in
// a package: some readers do not take a key with a part that may be empty.
func tableSchema(t *Table) object {
	var fields []any
	skip := 0
	if t.ownKey() && t != journalsTable {
		skip = 1
	}
	for i, c := range t.Columns {
		f := object{"name": c.Name, "type": frictionlessTypes[c.Type], "description": c.Doc}
		constraints := object{}
		if i < t.Key {
			constraints["required"] = true
		}
		if len(c.Enum) > 0 {
			constraints["enum"] = c.Enum
		} else if c.Type == Flag {
			constraints["enum"] = []int{0, 1}
		}
		if t.Key == 1+skip && i == skip {
			constraints["unique"] = true
		}
		if len(constraints) > 0 {
			f["constraints"] = constraints
		}
		if c.Unit != "" {
			f["ucum"] = c.Unit
		}
		fields = append(fields, f)
	}
	schema := object{"fields": fields, "missingValues": []string{""}, "primaryKey": keyOf(t)[skip:]}
	var foreign []any
	for _, f := range foreignKeys(t) {
		columns, to := f.Columns, f.To
		if len(columns) > 1 && columns[0] == "journal_id" {
			columns, to = columns[1:], to[1:]
		}
		foreign = append(foreign, object{"fields": columns, "reference": object{"resource": f.Table, "fields": to}})
	}
	if foreign != nil {
		schema["foreignKeys"] = foreign
	}
	return schema
}

// readCSV reads the rows of a table from a CSV file with its head.
func readCSV(r io.Reader, t *Table) (next func() ([]any, error), err error) {
	c := &csvReader{r: bufio.NewReaderSize(r, 32<<10)}
	head, err := c.read()
	if err == nil && len(head) != len(t.Columns) {
		err = fmt.Errorf("%d columns, and schema version %s has %d", len(head), SchemaVersion, len(t.Columns))
	}
	if err != nil {
		return nil, fmt.Errorf("%s.csv: %w", t.Name, err)
	}
	for i := range head {
		if head[i] != t.Columns[i].Name {
			return nil, fmt.Errorf("%s.csv: column %d is %q, and schema version %s has %q there", t.Name, i+1, head[i], SchemaVersion, t.Columns[i].Name)
		}
	}
	return func() ([]any, error) {
		record, err := c.read()
		if err == nil && len(record) != len(head) {
			err = fmt.Errorf("line %d: %d fields of %d", c.line, len(record), len(head))
		}
		if err != nil {
			if err != io.EOF {
				err = fmt.Errorf("%s.csv: %w", t.Name, err)
			}
			return nil, err
		}
		row := make([]any, len(record))
		for i, text := range record {
			if row[i], err = parsed(text, t.Columns[i].Type); err != nil {
				return nil, fmt.Errorf("%s.csv, line %d, %s: %q is no %s", t.Name, c.line, head[i], text, frictionlessTypes[t.Columns[i].Type])
			}
		}
		return row, nil
	}, nil
}
