package dataset

import (
	"cmp"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
)

// Origin says where an export comes from.
type Origin struct {
	JournalID string
	Program   string    // version of wj
	Commit    string    // "" outside a repository
	Time      time.Time // of the commit
	Dirty     int       // files that differ from it; -1 where that is not known
	Since     string    // of an export of changes, the commit before them
}

// Options say what is exported.
type Options struct {
	Origin
	// Choose reports whether a record is exported, Names whether it is exported without
	// what is only its keeper's business: text, body, note, price, supplier, addresses.
	// nil: every record, whole.
	Choose, Names func(journal.File) bool
	Gone          []journal.File // of an export of changes: the records that are no longer there
	Measured      bool           // measured values alone
	OwnerFilter   string
	RowFilter     string
	Progress      func(done int) // called now and then; may be nil
}

// complete reports whether the whole journal is exported, as wj import needs it.
func (o *Options) complete() bool { return o.Choose == nil }

// Entry is a record with its rows, or rows of no record (Kind is NoKind).
type Entry struct {
	Kind    journal.Kind
	ID      string
	Meaning map[string]any
	Rows    []Row
	Session *journal.Session // of a session
	Values  []Value          // its values
}

// Sink writes entries in a format. Finish is called once, after the last.
type Sink interface {
	Write(*Entry) error
	Finish() error
}

// batch is how many records are worked on at once.
const batch = 256

// exporter holds what is known of the records that have been written.
type exporter struct {
	j       *journal.Journal
	opt     Options
	sink    Sink
	derived derivations
	missing map[journal.Kind]map[string]bool
	unknown map[string]map[string]bool // names of analytes and substances
	brews   *brews
	notes   []string
}

// Export writes a journal to a sink, one record after another: memory does not grow
// with the number of sessions. The journal needs no sessions loaded. notes say what
// could not be exported. The order is that of kinds and ids, regardless of the folders.
func Export(j *journal.Journal, opt Options, sink Sink) (notes []string, err error) {
	e := &exporter{j: j, opt: opt, sink: sink, derived: derivations{opt.JournalID, opt.Program, map[string][]any{}}, missing: map[journal.Kind]map[string]bool{},
		unknown: map[string]map[string]bool{"analytes": {}, "substances": {}}, brews: newBrews(j, opt.Choose)}
	if err := sink.Write(&Entry{Rows: append(e.head(), lists(nil)...)}); err != nil {
		return nil, err
	}
	if err := e.settings(); err != nil {
		return nil, err
	}
	files := slices.Clone(j.Files)
	slices.SortStableFunc(files, func(a, b journal.File) int { return cmp.Or(cmp.Compare(a.Kind, b.Kind), strings.Compare(a.ID, b.ID)) })
	kept := files[:0]
	for i, f := range files {
		switch {
		case i > 0 && len(kept) > 0 && kept[len(kept)-1].Kind == f.Kind && kept[len(kept)-1].ID == f.ID:
			e.notes = append(e.notes, f.Path+" is left out: "+kept[len(kept)-1].Path+" has the same id")
		case opt.Choose == nil || opt.Choose(f):
			kept = append(kept, f)
		}
	}
	found := make([]work, batch)
	for start := 0; start < len(kept); start += batch {
		now := kept[start:min(start+batch, len(kept))]
		e.together(len(now), func(worker *scratch, i int) { found[i] = e.record(worker, now[i]) })
		for i := range now {
			if err := e.take(&found[i]); err != nil {
				return nil, err
			}
			found[i] = work{}
		}
		if opt.Progress != nil {
			opt.Progress(start + len(now))
		}
	}
	if err := sink.Write(&Entry{Rows: e.tail()}); err != nil {
		return nil, err
	}
	return e.notes, sink.Finish()
}

// scratch is what a goroutine uses again.
type scratch struct{ analysis water.Analysis }

// together calls do for n things on every core.
func (e *exporter) together(n int, do func(s *scratch, i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wait.Go(func() {
			var s scratch
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(&s, i)
			}
		})
	}
	wait.Wait()
}

// work is what came of one record.
type work struct {
	entry  Entry
	year   string
	record journal.Any
	note   string
}

// head are the first rows: whose journal this is, and what was exported.
func (e *exporter) head() []Row {
	o, s := e.opt, e.j.Settings
	var dirty any
	if o.Dirty >= 0 {
		dirty = int64(o.Dirty)
	}
	return []Row{
		{Table: journalsTable, Values: []any{o.JournalID, textOrNil(s.Name), textOrNil(s.Timezone), int64(s.Format)}},
		{Table: exportsTable, Values: []any{o.JournalID, cmp.Or(o.Commit, "none"), utc(o.Time), dirty, textOrNil(o.Since), SchemaVersion, o.Program, textOrNil(o.OwnerFilter), textOrNil(o.RowFilter), flagValue(o.complete())}},
	}
}

// settings writes wj.yaml: whole, or its limits alone where the export is of a part.
func (e *exporter) settings() error {
	if e.opt.Since != "" { // unchanged, or changes alone would not do
		return nil
	}
	d, text, err := readSettings(e.j)
	if err != nil {
		return err
	}
	m, whole := settingsMeaning(d)
	w := e.flattener()
	id := journal.SettingsFile
	row := w.row(recordsTable, e.opt.JournalID, "settings", id, id, "held")
	w.settings(m)
	if e.opt.Names != nil {
		w.rows = slices.DeleteFunc(w.rows, func(r Row) bool { return r.Table == settingsTable })
		row[4] = "withheld"
		m = meaning{}
	} else {
		e.recordRow(row, text, whole, digest(journal.KindSettings, id, m, ""), "")
	}
	return e.sink.Write(&Entry{Kind: journal.KindSettings, ID: id, Meaning: m, Rows: w.rows})
}

func (e *exporter) flattener() *flattener {
	return &flattener{journalID: e.opt.JournalID, zone: e.j.Settings.Zone, kindOf: func(id string) string {
		if id == journal.SettingsFile {
			return "settings"
		}
		if found := e.j.Find(id); len(found) > 0 {
			return found[0].Kind.Folder()
		}
		return ""
	}}
}

// recordRow fills what records has of a file.
func (e *exporter) recordRow(row []any, text string, whole bool, meaning, body string) {
	if holdable(strings.ReplaceAll(text, "\r", "")) {
		row[5], row[6] = text, journal.Digest([]byte(text))
	} else {
		whole = false
	}
	row[7], row[8], row[9] = meaning, flagValue(whole), textOrNil(body)
}

// record reads one record and makes its rows. Several run at once.
func (e *exporter) record(s *scratch, f journal.File) work {
	w := work{entry: Entry{Kind: f.Kind, ID: f.ID}}
	kb := theModel().kinds[f.Kind]
	d, record, err := e.j.ReadRecord(f)
	if err != nil {
		w.note = err.Error()
		d = &frontmatter.Document{}
	}
	m, whole := meaningOf(d, f.Kind)
	text := string(d.Source)
	body := ""
	if d.OK() {
		body = strings.ReplaceAll(text[min(d.Body, len(text)):], "\r\n", "\n")
	}
	if body != "" && !holdable(body) {
		body, whole = "", false
	}
	bare := e.opt.Names != nil && e.opt.Names(f)
	if bare {
		text, body, m = "", "", bareMeaning(m)
	}
	if !bare && w.note == "" && !holdable(strings.ReplaceAll(text, "\r", "")) {
		w.note = f.Path + " is no UTF-8 text: only what could be read of it is exported"
	}
	state := "held"
	if _, void := m["void"]; void {
		state = "void"
	}
	if bare {
		state = "withheld"
	}
	if session, ok := record.(*journal.Session); ok {
		w.entry.Session, w.year = session, year(session, e.j)
		if !bare {
			Values(e.j, session, &s.analysis, !e.opt.Measured, func(v Value) { w.entry.Values = append(w.entry.Values, v) })
		}
	}
	w.record = record
	fl := e.flattener()
	row := fl.row(recordsTable, e.opt.JournalID, f.Kind.Folder(), f.ID, f.Path, state)
	if !bare {
		e.recordRow(row, text, whole && err == nil, digest(f.Kind, f.ID, m, body), body)
	}
	row[10] = m["note"]
	if void, ok := m["void"].(meaning); ok {
		row[11], row[12], row[14] = void["by"], void["on"], void["reason"]
		if t, err := journal.ParseTime(asText(void["on"])); err == nil {
			row[13] = utc(t)
		}
	}
	fl.facts(kb, f.ID, state, w.year, m)
	fl.rows = append(fl.rows, linksOf(e.opt.JournalID, f, fl.rows)...)
	w.entry.Meaning, w.entry.Rows = m, fl.rows
	return w
}

// year is the one in which a session was sampled, in the journal's zone.
func year(s *journal.Session, j *journal.Journal) string {
	if s.Sampled.IsZero() {
		return "__HIVE_DEFAULT_PARTITION__"
	}
	return s.Sampled.In(j.Settings.Zone).Format("2006")
}

// take adds what depends on other records, in order, and hands the record on.
func (e *exporter) take(w *work) error {
	if len(w.entry.Values) > 0 {
		shared := sharedColumns(e.j, e.opt.JournalID, w.entry.Session)
		for _, v := range w.entry.Values {
			w.entry.Rows = append(w.entry.Rows, Row{resultsTable, resultRow(shared, e.derived.id(v), v), w.year})
		}
	}
	if w.note != "" {
		e.notes = append(e.notes, w.note)
	}
	if w.entry.Session != nil {
		e.brews.session(w.entry.Session)
	} else if b, ok := w.record.(*journal.Batch); ok {
		for _, id := range e.brews.liquor(b) {
			w.entry.Rows = append(w.entry.Rows, Row{Table: linksTable, Values: []any{e.opt.JournalID, "batches", b.ID, "liquor", "sessions", id, int64(1)}})
		}
	}
	if e.opt.Names != nil {
		e.withhold(&w.entry)
	}
	for _, row := range w.entry.Rows {
		e.look(row)
	}
	return e.sink.Write(&w.entry)
}

// look remembers which records and names a row refers to that are not there.
func (e *exporter) look(row Row) {
	for i, c := range row.Table.Columns {
		name, ok := row.Values[i].(string)
		if !ok || c.To == "" || c.To == "journals" || c.To == "derivations" {
			continue
		}
		switch c.To {
		case "analytes":
			if id, ok := water.Lookup(name); !ok || id.Info().Key != name {
				e.unknown[c.To][name] = true
			}
		case "substances":
			if !knownSubstance(name) {
				e.unknown[c.To][name] = true
			}
		default:
			if k, ok := journal.KindNamed(c.To); ok && !e.exported(k, name) {
				if e.missing[k] == nil {
					e.missing[k] = map[string]bool{}
				}
				e.missing[k][name] = true
			}
		}
	}
	if row.Table == linksTable {
		kind, id := row.Values[4].(string), row.Values[5].(string)
		if k, ok := journal.KindNamed(kind); !ok && kind != "settings" || ok && !e.exported(k, id) {
			if e.missing[k] == nil {
				e.missing[k] = map[string]bool{}
			}
			e.missing[k][id] = true
		}
	}
}

func (e *exporter) exported(k journal.Kind, id string) bool {
	return e.j.Exists(k, id) && (e.opt.Choose == nil || e.opt.Choose(journal.File{Kind: k, ID: id}))
}

// tail are the last rows: records that are named and not there, so that every reference
// has its row; what derived values came from; what is gone.
func (e *exporter) tail() []Row {
	var rows []Row
	for _, k := range slices.Sorted(maps.Keys(e.missing)) {
		for _, id := range slices.Sorted(maps.Keys(e.missing[k])) {
			state := "missing"
			if e.j.Exists(k, id) || id == withheld && e.opt.Names != nil {
				if e.opt.Since != "" { // it is in the export before
					continue
				}
				state = "withheld"
			}
			folder := "unknown"
			if kb := theModel().kinds[k]; kb != nil {
				folder = k.Folder()
				values := make([]any, len(kb.table.Columns))
				copy(values, []any{e.opt.JournalID, id, state})
				rows = append(rows, Row{Table: kb.table, Values: values, Year: "__HIVE_DEFAULT_PARTITION__"})
			}
			values := make([]any, len(recordsTable.Columns))
			copy(values, []any{e.opt.JournalID, folder, id, nil, state})
			rows = append(rows, Row{Table: recordsTable, Values: values})
		}
	}
	rows = append(rows, e.derived.all()...)
	for _, r := range lists(e.unknown) {
		if n := r.Table.At("is_known"); n >= 0 && r.Values[n] == int64(0) {
			rows = append(rows, r)
		}
	}
	for _, f := range e.opt.Gone {
		rows = append(rows, Row{Table: tombstonesTable, Values: []any{e.opt.JournalID, f.Kind.Folder(), f.ID, textOrNil(e.opt.Commit)}})
	}
	return rows
}

// readSettings reads wj.yaml.
func readSettings(j *journal.Journal) (*frontmatter.Document, string, error) {
	text, err := readText(j, journal.SettingsFile)
	if err != nil {
		return nil, "", fmt.Errorf("read %s: %w", journal.SettingsFile, err)
	}
	d := &frontmatter.Document{}
	d.ParseYAML([]byte(text))
	return d, text, nil
}
