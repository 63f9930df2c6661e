package dataset

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// cursor is a table that is read row by row.
type cursor struct {
	table *Table
	name  string
	head  []any // the next row; nil at the end
	next  func() ([]any, error)
	close func() error
}

func (c *cursor) advance() error {
	row, err := c.next()
	if errors.Is(err, io.EOF) {
		row, err = nil, nil
	}
	c.head = row
	return err
}

// cursors reads tables whose rows are in the order of their records, all together.
type cursors struct {
	byTable map[*Table][]*cursor
}

func (s *cursors) add(c *cursor) error {
	if err := c.advance(); err != nil {
		return err
	}
	s.byTable[c.table] = append(s.byTable[c.table], c)
	return nil
}

func (s *cursors) Close() error {
	var all error
	for _, list := range s.byTable {
		for _, c := range list {
			all = errors.Join(all, c.close())
		}
	}
	return all
}

func (s *cursors) header() (rowsOf, error) {
	rows := rowsOf{}
	for _, c := range s.byTable[exportsTable] {
		for c.head != nil {
			rows[exportsTable.Name] = append(rows[exportsTable.Name], c.head)
			if err := c.advance(); err != nil {
				return nil, err
			}
		}
	}
	return rows, nil
}

// records gives each record of a journal with its rows. Rows that belong to no record are an error:
// the files are not in the order in which they were written, or some are missing.
func (s *cursors) records(journalID string, do func(kind, id string, rows rowsOf) error) error {
	var all error
	for t, list := range s.byTable { // a file is of one journal
		s.byTable[t] = slices.DeleteFunc(list, func(c *cursor) bool {
			other := c.head != nil && t.ownKey() && asText(c.head[0]) != journalID
			if other {
				all = errors.Join(all, c.close())
			}
			return other
		})
	}
	if all != nil {
		return all
	}
	for _, list := range s.byTable[recordsTable] {
		for list.head != nil {
			kind, id := asText(list.head[1]), asText(list.head[2])
			rows := rowsOf{recordsTable.Name: {list.head}}
			if err := list.advance(); err != nil {
				return err
			}
			for _, t := range tablesOf(kind)[1:] {
				idColumn, kindColumn := idAt(t)
				for _, c := range s.byTable[t] {
					for c.head != nil && (t == settingsTable || asText(c.head[idColumn]) == id && (kindColumn == 0 || asText(c.head[kindColumn]) == kind)) {
						rows[t.Name] = append(rows[t.Name], c.head)
						if err := c.advance(); err != nil {
							return err
						}
					}
				}
			}
			if err := do(kind, id, rows); err != nil {
				return err
			}
		}
	}
	for _, list := range s.byTable {
		for _, c := range list {
			if c.head != nil && c.table.Layer == Facts && c.table != journalsTable && c.table != exportsTable && c.table != linksTable && c.table != tombstonesTable {
				return fmt.Errorf("%s: its rows are not in the order of the records: the row of %v belongs to none that comes", c.name, c.head[1:c.table.Key])
			}
		}
	}
	return nil
}

// openPackage reads a Data Package.
func openPackage(dir string) (source, error) {
	s := &cursors{map[*Table][]*cursor{}}
	for _, t := range theModel().tables {
		if t == linksTable || t == tombstonesTable {
			continue
		}
		name := filepath.Join(dir, t.Name+".csv")
		f, err := os.Open(name)
		if err != nil {
			return nil, errors.Join(err, s.Close())
		}
		next, err := readCSV(f, t)
		if err == nil {
			err = s.add(&cursor{table: t, name: name, next: next, close: f.Close})
		}
		if err != nil {
			return nil, errors.Join(err, f.Close(), s.Close())
		}
	}
	return s, nil
}

// openParquet reads a folder of Parquet files.
func openParquet(dir string) (source, error) {
	s := &cursors{map[*Table][]*cursor{}}
	for _, t := range theModel().tables {
		if t == linksTable || t == tombstonesTable {
			continue
		}
		var names []string
		for _, pattern := range []string{"part-*.parquet", "journal=*/part-*.parquet", "journal=*/year=*/part-*.parquet"} {
			found, _ := filepath.Glob(filepath.Join(globEscape(dir), t.Name, pattern))
			names = append(names, found...)
		}
		slices.Sort(names)
		for _, name := range names {
			c, err := parquetCursor(name, t)
			if err == nil {
				err = s.add(c)
			}
			if err != nil {
				return nil, errors.Join(fmt.Errorf("%s: %w", name, err), s.Close())
			}
		}
	}
	return s, nil
}

func globEscape(dir string) string {
	var out []rune
	for _, r := range dir {
		if r == '*' || r == '?' || r == '[' || r == '\\' {
			out = append(out, '\\')
		}
		out = append(out, r)
	}
	return string(out)
}

// parquetCursor reads one file: opened when its first row is asked for, closed after its
// last.
func parquetCursor(name string, t *Table) (*cursor, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	f, err := parquet.OpenFile(file, info.Size(), parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	at := make([]int, 0, len(t.Columns)) // the column of the table that each column of the file is
	for _, c := range f.Schema().Columns() {
		n := -1
		if len(c) == 1 {
			n = t.At(c[0])
		}
		at = append(at, n)
	}
	for i, c := range t.Columns {
		if !slices.Contains(at, i) {
			return nil, errors.Join(fmt.Errorf("it has no column %s", c.Name), file.Close())
		}
	}
	groups := f.RowGroups()
	var rows parquet.Rows
	buffer := make([]parquet.Row, 64)
	var have []parquet.Row
	next := func() ([]any, error) {
		for len(have) == 0 {
			if rows == nil {
				if len(groups) == 0 {
					return nil, io.EOF
				}
				rows, groups = groups[0].Rows(), groups[1:]
			}
			n, err := rows.ReadRows(buffer)
			have = buffer[:n]
			if errors.Is(err, io.EOF) {
				err = rows.Close()
				rows = nil
			}
			if err != nil {
				return nil, err
			}
			if rows == nil && n > 0 { // the rows outlive their pages only when they are copied
				for i := range have {
					have[i] = have[i].Clone()
				}
			}
		}
		row := make([]any, len(t.Columns))
		for _, v := range have[0] {
			if n := at[v.Column()]; n >= 0 {
				row[n] = tableValue(v, t.Columns[n].Type)
			}
		}
		have = have[1:]
		return row, nil
	}
	return &cursor{table: t, name: name, next: next, close: file.Close}, nil
}

// PartOf names the part of a journal that a Parquet folder holds: "" where it holds none of it, otherwise words that are the
// same for the same filters (see [Options.Part]).
func PartOf(dir, journalID string) (string, error) {
	name := filepath.Join(dir, exportsTable.Name, "journal="+journalID, "part-0.parquet")
	c, err := parquetCursor(name, exportsTable)
	if errors.Is(err, os.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("%s: %w", name, err)
	}
	defer c.close()
	if err := c.advance(); err != nil || c.head == nil {
		return "", errors.Join(fmt.Errorf("%s holds no export", name), err)
	}
	at := func(column string) string { return asText(c.head[exportsTable.At(column)]) }
	return part(at("owner_filter"), at("row_filter"), c.head[exportsTable.At("is_complete")] == int64(1)), nil
}

// Part is what an export is of, in words.
func (o *Options) Part() string { return part(o.OwnerFilter, o.RowFilter, o.complete()) }

func part(owners, rows string, complete bool) string {
	var words []string
	if owners != "" {
		words = append(words, "of the owners "+owners)
	}
	if rows != "" {
		words = append(words, "where "+rows)
	}
	switch {
	case complete:
		return "the whole journal"
	case len(words) == 0:
		return "a part of the journal"
	}
	return "the part " + strings.Join(words, " ")
}
