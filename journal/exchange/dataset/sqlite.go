package dataset

import (
	"context"
	"database/sql/driver"
	_ "embed"
	"errors"
	"fmt"
	"strings"

	"modernc.org/sqlite"
)

// viewsSQL are the commonest questions, in the words that SQLite and PostgreSQL have in
// common.
//
//go:embed views.sql
var viewsSQL string

// AllTables are the tables of every format, parents before children.
func AllTables() []*Table {
	return append(append([]*Table{analytesTable, unitsTable, substancesTable}, theModel().tables...), derivationsTable, resultsTable)
}

// applicationID marks a database as one of ours (SQLite, PRAGMA application_id): "wj01".
const applicationID = 0x776a3031

// sqliteSink writes a database. It uses the driver itself: millions of rows go in one
// after another, and what package sql does for each would cost as much again.
type sqliteSink struct {
	conn   driver.Conn
	insert map[*Table]driver.StmtExecContext
	values []driver.NamedValue
}

// NewSQLite writes a new database to the file name, which must not exist: tables with
// keys and constraints, indexes, views.
func NewSQLite(name string) (Sink, error) {
	conn, err := (&sqlite.Driver{}).Open("file:" + uriPath(name) + "?_pragma=page_size(4096)&_pragma=journal_mode(off)&_pragma=synchronous(off)&_pragma=locking_mode(exclusive)&_pragma=cache_size(-16384)")
	if err != nil {
		return nil, fmt.Errorf("make the database: %w", err)
	}
	s := &sqliteSink{conn: conn, insert: map[*Table]driver.StmtExecContext{}}
	var ddl strings.Builder
	fmt.Fprintf(&ddl, "PRAGMA application_id = %d; PRAGMA user_version = %d;\n", applicationID, schemaNumber)
	for _, t := range AllTables() {
		ddl.WriteString(createTable(t, true) + " WITHOUT ROWID;\n")
	}
	ddl.WriteString("BEGIN;")
	if err := s.exec(ddl.String()); err != nil {
		return nil, errors.Join(fmt.Errorf("make the tables: %w", err), conn.Close())
	}
	return s, nil
}

func (s *sqliteSink) exec(text string) error {
	_, err := s.conn.(driver.ExecerContext).ExecContext(context.Background(), text, nil)
	return err
}

func uriPath(name string) string {
	return strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(name)
}

// sqlTypes are the types of columns in SQL.
var sqlTypes = map[Type]string{Text: "TEXT", Real: "DOUBLE PRECISION", Integer: "BIGINT", Flag: "INTEGER", Moment: "TEXT", Day: "TEXT"}

// createTable is the SQL of a table. Beyond keys and states no column is NOT NULL: a
// record that lint objects to, or of which only the id is known, is exported as it is.
func createTable(t *Table, references bool) string {
	var b strings.Builder
	fmt.Fprintf(&b, "CREATE TABLE %s (\n", t.Name)
	for i, c := range t.Columns {
		fmt.Fprintf(&b, "  %s %s", c.Name, sqlTypes[c.Type])
		if i < t.Key || c.Name == "record_state" {
			b.WriteString(" NOT NULL")
		}
		switch {
		case len(c.Enum) > 0:
			fmt.Fprintf(&b, " CHECK (%s IN ('%s'))", c.Name, strings.Join(c.Enum, "', '"))
		case c.Type == Flag:
			fmt.Fprintf(&b, " CHECK (%s IN (0, 1))", c.Name)
		}
		b.WriteString(",\n")
	}
	fmt.Fprintf(&b, "  PRIMARY KEY (%s)", strings.Join(keyOf(t), ", "))
	for _, f := range foreignKeys(t) {
		if references {
			b.WriteString(",\n  " + f.sql())
		}
	}
	b.WriteString("\n)")
	return b.String()
}

func keyOf(t *Table) []string {
	var names []string
	for _, c := range t.Columns[:t.Key] {
		names = append(names, c.Name)
	}
	return names
}

// foreignKey is a reference of columns to the key of a table.
type foreignKey struct {
	Columns []string
	Table   string
	To      []string
}

func (f foreignKey) sql() string {
	return fmt.Sprintf("FOREIGN KEY (%s) REFERENCES %s (%s)", strings.Join(f.Columns, ", "), f.Table, strings.Join(f.To, ", "))
}

// foreignKeys are the references of a table: to its journal, to the table that it is
// below, to every record and name that a column is of.
func foreignKeys(t *Table) []foreignKey {
	var out []foreignKey
	byName := map[string]*Table{}
	for _, other := range AllTables() {
		byName[other.Name] = other
	}
	shared := 0 // columns of the parent's key: what they refer to, the parent refers to
	if p := byName[t.Parent]; p != nil {
		out, shared = append(out, foreignKey{keyOf(t)[:p.Key], p.Name, keyOf(p)}), p.Key
	}
	for i, c := range t.Columns {
		p := byName[c.To]
		switch {
		case p == nil || p == t || i < shared || t.Parent == c.To && i < t.Key:
		case p.ownKey() && c.To != "journals":
			out = append(out, foreignKey{[]string{"journal_id", c.Name}, p.Name, keyOf(p)})
		case c.To != "journals" || t.Parent == "":
			out = append(out, foreignKey{[]string{c.Name}, p.Name, keyOf(p)})
		}
	}
	return out
}

func (s *sqliteSink) Write(e *Entry) error {
	for _, row := range e.Rows {
		stmt := s.insert[row.Table]
		if stmt == nil {
			prepared, err := s.conn.Prepare("INSERT INTO " + row.Table.Name + " VALUES (?" + strings.Repeat(", ?", len(row.Table.Columns)-1) + ")")
			if err != nil {
				return fmt.Errorf("fill %s: %w", row.Table.Name, err)
			}
			stmt = prepared.(driver.StmtExecContext)
			s.insert[row.Table] = stmt
		}
		s.values = s.values[:0]
		for i, v := range row.Values {
			s.values = append(s.values, driver.NamedValue{Ordinal: i + 1, Value: v})
		}
		if _, err := stmt.ExecContext(context.Background(), s.values); err != nil {
			return fmt.Errorf("fill %s with %v: %w", row.Table.Name, row.Values[:row.Table.Key], err)
		}
	}
	return nil
}

// Finish makes the indexes and views, and counts for the query planner: every key
// begins with one and the same journal, so that it would guess wrong.
func (s *sqliteSink) Finish() error {
	for _, stmt := range s.insert {
		if err := stmt.(driver.Stmt).Close(); err != nil {
			return fmt.Errorf("fill the database: %w", err)
		}
	}
	if err := s.exec("COMMIT"); err != nil {
		return fmt.Errorf("fill the database: %w", err)
	}
	if err := s.exec(indexSQL() + viewsSQL + "\nANALYZE;\n"); err != nil {
		return fmt.Errorf("make indexes and views: %w", err)
	}
	return s.conn.Close()
}

// indexSQL makes the indexes.
func indexSQL() string {
	var ddl strings.Builder
	for _, t := range AllTables() {
		if len(t.Index) > 0 {
			fmt.Fprintf(&ddl, "CREATE INDEX %s_by_%s ON %s (journal_id, %s);\n", t.Name, t.Index[0], t.Name, strings.Join(t.Index, ", "))
		}
		if t.Layer != Facts {
			continue
		}
		for i, c := range t.Columns {
			if _, isKind := theKinds[c.To]; isKind && (i >= t.Key || i > 2) {
				fmt.Fprintf(&ddl, "CREATE INDEX %s_by_%s ON %s (journal_id, %s);\n", t.Name, c.Name, t.Name, c.Name)
			}
		}
	}
	return ddl.String()
}
