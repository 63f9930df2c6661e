package dataset

import (
	"database/sql"
	"fmt"
	"strings"
)

// sqliteSource reads a database. It runs nothing that the database brings along: only
// tables are read, of views and triggers it knows nothing.
type sqliteSource struct {
	db    *sql.DB
	reads map[*Table]*sql.Stmt
}

func openSQLite(name string) (source, error) {
	db, err := sql.Open("sqlite", "file:"+uriPath(name)+"?mode=ro&immutable=1&_pragma=trusted_schema(0)&_pragma=query_only(1)&_pragma=cache_size(-16384)")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	var version int
	if err := db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		db.Close()
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if version/100 != schemaNumber/100 {
		db.Close()
		return nil, fmt.Errorf("%s: %w", name, ErrFormat)
	}
	for _, t := range theModel().tables {
		var kind string
		if err := db.QueryRow("SELECT type FROM sqlite_schema WHERE name = ?", t.Name).Scan(&kind); err != nil || kind != "table" {
			db.Close()
			return nil, fmt.Errorf("%s has no table %s: %w", name, t.Name, ErrFormat)
		}
	}
	return &sqliteSource{db, map[*Table]*sql.Stmt{}}, nil
}

func (s *sqliteSource) Close() error { return s.db.Close() }

// rows are rows of a table, as SQL asks for them.
func (s *sqliteSource) rows(t *Table, where string, args ...any) ([][]any, error) {
	stmt := s.reads[t]
	if stmt == nil {
		names := make([]string, len(t.Columns))
		for i, c := range t.Columns {
			names[i] = c.Name
		}
		var err error
		if stmt, err = s.db.Prepare("SELECT " + strings.Join(names, ", ") + " FROM " + t.Name + " " + where); err != nil {
			return nil, fmt.Errorf("read %s: %w", t.Name, err)
		}
		s.reads[t] = stmt
	}
	found, err := stmt.Query(args...)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", t.Name, err)
	}
	defer found.Close()
	var out [][]any
	into := make([]any, len(t.Columns))
	for found.Next() {
		row := make([]any, len(t.Columns))
		for i := range into {
			into[i] = &row[i]
		}
		if err := found.Scan(into...); err != nil {
			return nil, fmt.Errorf("read %s: %w", t.Name, err)
		}
		for i, v := range row {
			if b, ok := v.([]byte); ok {
				row[i] = string(b)
			}
		}
		out = append(out, row)
	}
	return out, found.Err()
}

func (s *sqliteSource) header() (rowsOf, error) {
	rows, err := s.rows(exportsTable, "")
	return rowsOf{exportsTable.Name: rows}, err
}

func (s *sqliteSource) records(journalID string, do func(kind, id string, rows rowsOf) error) error {
	kind, id := "", ""
	for {
		list, err := s.rows(recordsTable, "WHERE journal_id = ? AND (record_kind, record_id) > (?, ?) ORDER BY record_kind, record_id LIMIT 256", journalID, kind, id)
		if err != nil || len(list) == 0 {
			return err
		}
		for _, record := range list {
			kind, id = asText(record[1]), asText(record[2])
			rows := rowsOf{recordsTable.Name: {record}}
			for _, t := range tablesOf(kind)[1:] {
				idColumn, kindColumn := idAt(t)
				order := " ORDER BY " + strings.Join(keyOf(t), ", ")
				switch {
				case t == settingsTable:
					rows[t.Name], err = s.rows(t, "WHERE journal_id = ?"+order, journalID)
				case kindColumn > 0:
					rows[t.Name], err = s.rows(t, "WHERE journal_id = ? AND record_kind = ? AND record_id = ?"+order, record[0], kind, id)
				default:
					rows[t.Name], err = s.rows(t, "WHERE journal_id = ? AND "+t.Columns[idColumn].Name+" = ?"+order, record[0], id)
				}
				if err != nil {
					return err
				}
			}
			if err := do(kind, id, rows); err != nil {
				return err
			}
		}
	}
}
