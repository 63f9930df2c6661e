// Package dataset is the one data model of every machine format: the tables that a
// journal becomes, and the way back to its records. The tables of facts are made from
// the schema of the journal (package journal), so that columns, descriptors, importer
// and documentation cannot drift apart. It reads one record after another and keeps
// none.
//
//	sink, err := dataset.NewSQLite("water.sqlite")
//	notes, err := dataset.Export(j, dataset.Options{}, sink)
//	head, err := dataset.Restore("water.sqlite", "", func(r dataset.Record) error {
//		fmt.Println(r.Path, len(r.Content)) // the file as it was, or made from edited columns
//		return nil
//	}, func(p *dataset.Problem) { fmt.Println(p) })
package dataset

import (
	"wj/journal"
)

// SchemaVersion is the version of the tables: the minor part rises where something is
// added, the major one where something is renamed or goes.
const (
	SchemaVersion = "1.0"
	schemaNumber  = 100 // the same as a number, for SQLite's user_version
)

// Type is what a column holds. Values are string, float64 or int64; nil where there is
// none. A Moment is UTC as 2026-03-04T07:15:00Z, a Day 2026-03-04, a Flag 0 or 1.
type Type uint8

// The types of columns.
const (
	Text Type = iota
	Real
	Integer
	Flag
	Moment
	Day
)

// Column is one column of a table.
type Column struct {
	Name     string
	Type     Type
	Doc      string
	Required bool     // never empty in a record that is held
	Enum     []string // the only values, where there are such
	Unit     string   // in UCUM, where it is the same in all rows
	To       string   // the table whose record it names by its id
}

// Layer says what a table depends on: facts are what the files state, results follow
// from facts, settings and program alone, judgements depend on a date and a history.
type Layer string

// The layers.
const (
	Facts   Layer = "fact"
	Results Layer = "result"
	Lists   Layer = "list" // the same in every journal
)

// Table is one table.
type Table struct {
	Name    string
	Doc     string
	Layer   Layer
	Columns []Column
	Key     int      // how many of the first columns together name a row
	Parent  string   // the table whose key begins this one's
	Index   []string // further columns that are looked up
	ByYear  bool     // parted by year of sampling in a Parquet folder
}

// At is the number of a column, -1 where there is none.
func (t *Table) At(name string) int {
	for i := range t.Columns {
		if t.Columns[i].Name == name {
			return i
		}
	}
	return -1
}

// Row is one row of a table.
type Row struct {
	Table  *Table
	Values []any
	Year   string // of sampling, for a table that is parted by it
}

// ownKey reports whether rows belong to one journal.
func (t *Table) ownKey() bool { return len(t.Columns) > 0 && t.Columns[0].Name == "journal_id" }

var journalColumn = Column{Name: "journal_id", Doc: "the journal", Required: true, To: "journals"}

func plain(name, doc string) Column      { return Column{Name: name, Doc: doc} }
func needed(c Column) Column             { c.Required = true; return c }
func real(name, unit, doc string) Column { return Column{Name: name, Type: Real, Unit: unit, Doc: doc} }
func number(name, doc string) Column     { return Column{Name: name, Type: Integer, Doc: doc} }
func flag(name, doc string) Column       { return Column{Name: name, Type: Flag, Doc: doc} }
func moment(name, doc string) Column     { return Column{Name: name, Type: Moment, Doc: doc} }
func day(name, doc string) Column        { return Column{Name: name, Type: Day, Doc: doc} }
func reference(name string, to journal.Kind, doc string) Column {
	return Column{Name: name, Doc: doc, To: to.Folder()}
}

// The tables that are not made from the schema.
var (
	journalsTable = &Table{Name: "journals", Layer: Facts, Key: 1, Doc: "the journals of this export", Columns: []Column{
		needed(Column{Name: "journal_id", Doc: "name of the journal among all journals: never changed, the same in every copy"}),
		plain("journal_name", "name of the brewery"), plain("timezone", "IANA name of the zone that local days are of"), number("format_version", "version of the journal's own format"),
	}}
	exportsTable = &Table{Name: "exports", Layer: Facts, Key: 2, Doc: "what was exported, from which commit, by which program", Columns: []Column{
		journalColumn, needed(plain("commit_sha", "commit that was exported; 'none' outside a Git repository")), moment("commit_utc", "time of that commit"),
		number("dirty_files", "files that differ from the commit; empty where that is not known"), plain("since_commit_sha", "of an export of changes: the commit before them"),
		plain("schema_version", "version of these tables"), plain("program_version", "version of wj"),
		plain("owner_filter", "owners whose water alone was exported"), plain("row_filter", "expression and period that chose the sessions"),
		flag("is_complete", "1: the whole journal, which wj import restores"),
	}}
	recordsTable = &Table{Name: "records", Layer: Facts, Key: 3, Doc: "every record: its file, its state, what has no column of its own", Columns: []Column{
		journalColumn, needed(plain("record_kind", "table of the record")), needed(plain("record_id", "its id: the file name without .md")), plain("path", "its file in the journal"),
		needed(Column{Name: "record_state", Enum: []string{"held", "void", "missing", "withheld"}, Doc: "missing: named by another record and not there; withheld: of another owner, or shared with others and only named"}),
		plain("file_text", "the file as it is"), plain("file_sha256", "SHA-256 of file_text"),
		plain("meaning_sha256", "SHA-256 of what the columns say of the record, as JSON with sorted keys"),
		flag("is_in_columns", "1: the columns hold all that the file says; 0: see file_text"),
		plain("body", "the Markdown below the front matter"), plain("note", "a remark in one line"),
		reference("void_person_id", journal.KindPerson, "who declared the record void"), plain("void_typed", "when, as typed"), moment("void_utc", "when"), plain("void_reason", "why"),
	}}
	linksTable = &Table{Name: "record_links", Layer: Facts, Key: 6, Index: []string{"to_kind", "to_id"}, Doc: "every reference of one record to another", Columns: []Column{
		journalColumn, needed(plain("from_kind", "table of the record that refers")), needed(plain("from_id", "its id")),
		needed(plain("link_role", "column that refers; covers: a path that a sign-off or report depends on; liquor: the newest water of a blend at brewing")),
		needed(plain("to_kind", "table of the record referred to")), needed(plain("to_id", "its id")), flag("is_computed", "1: not typed, but worked out"),
	}}
	tombstonesTable = &Table{Name: "tombstones", Layer: Facts, Key: 3, Doc: "records that are gone, in an export of changes", Columns: []Column{
		journalColumn, needed(plain("record_kind", "table of the record")), needed(plain("record_id", "its id")), plain("gone_at_commit", "the commit at which it is no longer there"),
	}}
	settingsTable = &Table{Name: "journal_settings", Layer: Facts, Key: 2, Doc: "wj.yaml, one row a value", Columns: []Column{
		journalColumn, needed(plain("key_path", "where it is: keys and positions, as a JSON pointer (RFC 6901)")), plain("typed", "the value as typed"),
	}}
)
