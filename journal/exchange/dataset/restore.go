package dataset

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wj/journal"
)

// Record is a record that comes back from an export.
type Record struct {
	Kind    journal.Kind
	ID      string
	Path    string // its file in the journal
	Content []byte
	// Edited says that columns were changed after the export: the record is written from
	// them, in the canonical layout. Sign-offs of its bytes end.
	Edited bool
}

// Header is what an export says of itself.
type Header struct {
	Origin
	Complete bool // of a whole journal
	Schema   string
}

// A Problem is a record that cannot be restored, and why.
type Problem struct {
	Kind, ID string
	Err      error
}

func (p *Problem) Error() string { return fmt.Sprintf("%s %s: %v", p.Kind, p.ID, p.Err) }

// source gives the rows of an export: those of exports first, then those of each record.
type source interface {
	header() (rowsOf, error)
	records(journalID string, do func(kind, id string, rows rowsOf) error) error
	io.Closer
}

// Detect shows which complete format a file or folder is: sqlite, parquet, datapackage,
// jsonl; "" where it is none of them.
func Detect(name string) string {
	info, err := os.Stat(name)
	if err != nil {
		return ""
	}
	if info.IsDir() {
		if _, err := os.Stat(filepath.Join(name, "datapackage.json")); err == nil {
			return "datapackage"
		}
		if _, err := os.Stat(filepath.Join(name, recordsTable.Name)); err == nil {
			return "parquet"
		}
		return ""
	}
	f, err := os.Open(name)
	if err != nil || !info.Mode().IsRegular() {
		return ""
	}
	defer f.Close()
	head := make([]byte, 512)
	n, _ := io.ReadFull(f, head)
	head = head[:n]
	switch {
	case bytes.HasPrefix(head, []byte("SQLite format 3\x00")):
		return "sqlite"
	case filepath.Base(name) == "datapackage.json":
		return "datapackage"
	case bytes.HasPrefix(head, []byte("{")) && !bytes.HasPrefix(head, []byte(`{"type":"FeatureCollection"`)) && bytes.Contains(head, []byte(`"journal_id"`)):
		return "jsonl"
	}
	return ""
}

// ErrFormat says that a file is no export that can be restored.
var ErrFormat = errors.New("it is no complete export of wj")

// Restore reads the records of a complete export, one after another, in any of the
// complete formats. do gets each; bad gets those that cannot be restored, of any
// cause, and nothing else is lost. What the columns say counts: the file as it was is
// taken where nobody has changed them. Of an export of several journals journalID names
// the one whose records come; the error is a [Several] where it names none of them.
func Restore(name, journalID string, do func(Record) error, bad func(*Problem)) (Header, error) {
	s, err := open(name)
	if err != nil {
		return Header{}, err
	}
	defer s.Close()
	h, err := headerOf(s, journalID)
	if err != nil {
		return h, err
	}
	return h, s.records(h.JournalID, func(kind, id string, rows rowsOf) error {
		r, err := restored(kind, id, rows)
		switch {
		case err != nil:
			bad(&Problem{kind, id, err})
			return nil
		case r.Content == nil:
			return nil
		}
		return do(r)
	})
}

func open(name string) (source, error) {
	var s source
	var err error
	switch Detect(name) {
	case "sqlite":
		s, err = openSQLite(name)
	case "parquet":
		s, err = openParquet(name)
	case "datapackage":
		if filepath.Base(name) == "datapackage.json" {
			name = filepath.Dir(name)
		}
		s, err = openPackage(name)
	case "jsonl":
		s, err = openJSON(name)
	default:
		return nil, ErrFormat
	}
	return s, err
}

// Journals are the ids of the journals that an export holds.
func Journals(name string) ([]string, error) {
	s, err := open(name)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	rows, err := s.header()
	return idsOf(rows[exportsTable.Name]), err
}

func idsOf(exports [][]any) []string {
	var ids []string
	for _, row := range exports {
		ids = append(ids, asText(row[0]))
	}
	slices.Sort(ids)
	return ids
}

// Several says that an export holds several journals and that none of them was chosen.
type Several struct{ IDs []string }

func (e *Several) Error() string {
	return "it holds " + journal.Count(len(e.IDs), "journal") + ": " + strings.Join(e.IDs, ", ")
}

// headerOf is what an export says of the journal with this id, or of its only one.
func headerOf(s source, journalID string) (Header, error) {
	rows, err := s.header()
	if err != nil {
		return Header{}, err
	}
	list := rows[exportsTable.Name]
	ids := idsOf(list)
	if one := len(slices.Compact(slices.Clone(ids))); one == 0 || one < len(ids) {
		return Header{}, fmt.Errorf("%w: its table exports has %d rows for %s", ErrFormat, len(ids), journal.Count(one, "journal"))
	}
	at := slices.IndexFunc(list, func(row []any) bool { return asText(row[0]) == journalID })
	if at < 0 && len(list) > 1 {
		return Header{}, &Several{ids}
	}
	row := list[max(0, at)]
	h := Header{Origin: Origin{JournalID: asText(row[0]), Commit: asText(row[1]), Program: asText(row[6]), Since: asText(row[4])}, Complete: asText(row[9]) == "1", Schema: asText(row[5])}
	if major, _, _ := strings.Cut(h.Schema, "."); major != "1" {
		return h, fmt.Errorf("its schema version is %q, and this wj reads %s", h.Schema, SchemaVersion)
	}
	return h, nil
}

// restored is a record from its rows; without content where there never was a file.
func restored(kindName, id string, rows rowsOf) (Record, error) {
	row := rows[recordsTable.Name][0]
	kind, known := theKinds[kindName]
	if kindName == "settings" {
		kind, known = journal.KindSettings, true
	}
	switch state := asText(row[4]); {
	case state == "missing" || state == "withheld":
		return Record{}, nil
	case !known:
		return Record{}, fmt.Errorf("%q is no kind of record", kindName)
	}
	r := Record{Kind: kind, ID: id, Path: asText(row[3])}
	if f, ok := journal.FileOf(r.Path); !fs.ValidPath(r.Path) || kind == journal.KindSettings && r.Path != journal.SettingsFile || kind != journal.KindSettings && (!ok || f.Kind != kind || f.ID != id) {
		return r, fmt.Errorf("the path %q is not that of such a record", r.Path)
	}
	m, body := rows.meaning(kind), asText(row[9])
	text := asText(row[5])
	sound := text != "" && journal.Digest([]byte(text)) == asText(row[6])
	whole := asText(row[8]) == "1"
	switch unchanged := digest(kind, id, m, body) == asText(row[7]); {
	case unchanged && sound:
		r.Content = []byte(text)
		return r, nil
	case !whole && sound:
		return r, errors.New("its columns were changed, and its file says more than they hold: change the record itself, with wj amend")
	case !whole:
		return r, errors.New("its file_text is not what was exported, and its columns do not hold all of it")
	}
	content, err := compose(kind, m, body)
	if err != nil {
		return r, err
	}
	r.Content, r.Edited = content, true
	return r, nil
}

// tablesOf are the tables that have rows of a kind of record.
func tablesOf(kindName string) []*Table {
	out := []*Table{recordsTable}
	if kindName == "settings" {
		for _, t := range theModel().tables {
			if t == settingsTable || t.Name == "limits" {
				out = append(out, t)
			}
		}
		return out
	}
	kind, ok := theKinds[kindName]
	if !ok {
		return out
	}
	kb := theModel().kinds[kind]
	byName := map[string]*Table{}
	for _, t := range theModel().tables {
		byName[t.Name] = t
	}
	out = append(out, kb.table)
	var walk func(bindings []binding)
	walk = func(bindings []binding) {
		for _, s := range bindings {
			if s.child != nil {
				if t := byName[s.child.table.Name]; !slices.Contains(out, t) {
					out = append(out, t)
				}
				walk([]binding{s.child.entry})
			}
			walk(s.fields)
		}
	}
	walk(kb.bindings)
	walk(kb.common)
	return out
}

// idAt is the column of a table that holds the id of the record, and of the kind of it,
// 0 where the table is of one kind.
func idAt(t *Table) (id, kind int) {
	if t.At("record_id") >= 0 && t.At("record_id") < t.Key {
		return t.At("record_id"), t.At("record_kind")
	}
	return 1, 0
}

// jsonSource reads JSON Lines.
type jsonSource struct {
	name string
	file *os.File
}

func openJSON(name string) (source, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	return &jsonSource{name, f}, nil
}

func (s *jsonSource) Close() error { return s.file.Close() }

// maxJSONLine bounds a line: a record has at most MaxFile bytes, and its results a
// few hundred more each.
const maxJSONLine = 8 << 20

// lines calls do for each line that has a text in it.
func (s *jsonSource) lines(text string, do func(o object) error) error {
	if _, err := s.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	in := bufio.NewScanner(s.file)
	in.Buffer(make([]byte, 0, 64<<10), maxJSONLine)
	for n := 1; in.Scan(); n++ {
		if !bytes.Contains(in.Bytes(), []byte(text)) {
			continue
		}
		d := json.NewDecoder(bytes.NewReader(in.Bytes()))
		d.UseNumber()
		var o object
		if err := d.Decode(&o); err != nil {
			return fmt.Errorf("%s, line %d: %w", s.name, n, err)
		}
		if err := do(o); err != nil {
			return err
		}
	}
	if err := in.Err(); err != nil {
		return fmt.Errorf("%s: %w", s.name, err)
	}
	return nil
}

func rowOf(t *Table, o object) []any {
	row := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		switch v := o[c.Name].(type) {
		case json.Number:
			row[i] = v.String()
		case string:
			row[i] = v
		}
	}
	return row
}

func (s *jsonSource) header() (rowsOf, error) {
	rows := rowsOf{}
	err := s.lines(`"`+exportsTable.Name+`"`, func(o object) error {
		if o["table"] == exportsTable.Name {
			rows[exportsTable.Name] = append(rows[exportsTable.Name], rowOf(exportsTable, o))
		}
		return nil
	})
	return rows, err
}

func (s *jsonSource) records(journalID string, do func(kind, id string, rows rowsOf) error) error {
	return s.lines(`"`+recordsTable.Name+`"`, func(o object) error {
		if o["table"] != recordsTable.Name || o["fields"] == nil || o["journal_id"] != journalID {
			return nil
		}
		kind, id := asText(o["record_kind"]), asText(o["record_id"])
		rows := rowsOf{recordsTable.Name: {rowOf(recordsTable, o)}}
		fields, _ := o["fields"].(meaning)
		w := flattener{journalID: asText(o["journal_id"]), zone: time.UTC, kindOf: func(string) string { return "" }}
		if k, ok := theKinds[kind]; ok {
			record := rows[recordsTable.Name][0]
			record[10] = fields["note"]
			if void, ok := fields["void"].(meaning); ok {
				record[11], record[12], record[14] = void["by"], void["on"], void["reason"]
			}
			if !sane(fields, &journal.Field{Type: journal.TypeMap, Fields: k.Fields()}) {
				return fmt.Errorf("%s: %s %s: fields is not as the schema of %s has it", s.name, kind, id, kind)
			}
			w.facts(theModel().kinds[k], id, asText(o["record_state"]), "", fields)
		} else if kind == "settings" {
			w.settingsRows(fields)
		}
		for _, r := range w.rows {
			rows[r.Table.Name] = append(rows[r.Table.Name], r.Values)
		}
		return do(kind, id, rows)
	})
}

// sane reports whether a meaning has the shape that its field wants.
func sane(v any, f *journal.Field) bool {
	switch v := v.(type) {
	case string:
		return f.Type != journal.TypeMap && f.Type != journal.TypeDict && f.Type != journal.TypeList && f.Type != journal.TypeOneOrList && f.Type != journal.TypePlace && f.Fields == nil && !(f.Type == journal.TypeReading && f.Key == "value")
	case meaning:
		for key, one := range v {
			of := f.Of
			if f.Type != journal.TypeDict {
				at := slices.IndexFunc(f.Fields, func(x journal.Field) bool { return x.Key == key })
				if at < 0 {
					return false
				}
				of = &f.Fields[at]
			}
			if !sane(one, of) {
				return false
			}
		}
		return f.Type == journal.TypeDict || f.Fields != nil
	case []any:
		of := f.Of
		switch {
		case f.Type == journal.TypePlace && len(v) == 2:
			of = &journal.Field{Type: journal.TypeText}
		case f.Type == journal.TypeReading && f.Key == "value" && len(v) > 0:
			of = &journal.Field{Type: journal.TypeReading}
		case f.Type != journal.TypeList && f.Type != journal.TypeOneOrList, of.Type == journal.TypeReading && len(v) != 2:
			return false
		}
		for _, one := range v {
			if !sane(one, of) {
				return false
			}
		}
		return true
	}
	return false
}
