package exchange

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"wj/journal"
	"wj/water"
)

// RowState is what became of a row.
type RowState uint8

// The verdicts on a row.
const (
	Taken   RowState = iota // it is in a record of the plan
	Already                 // the journal has it
	Skipped                 // the map leaves it out, or it holds no result
	Refused                 // it cannot be taken
)

// String names the verdict.
func (v RowState) String() string {
	return [...]string{"taken", "already there", "skipped", "refused"}[v]
}

// RowReport says what became of a row and why. Column counts from 1; 0 where the
// whole row is meant.
type RowReport struct {
	Sheet         string // "" in the first one
	Row, Column   int
	RowState      RowState
	Session       string
	Message, Help string
}

// Planned is a record to be written.
type Planned struct {
	Kind     journal.Kind
	ID, Path string
	Source   []byte
}

// Plan is what an import would do. Nothing is written by making it.
type Plan struct {
	Records  []Planned // new sites first
	Rows     []RowReport
	NotTaken []string // heads of columns that the map does not speak of
}

// Count counts the rows with a verdict.
func (p *Plan) Count(v RowState) int {
	n := 0
	for _, r := range p.Rows {
		if r.RowState == v {
			n++
		}
	}
	return n
}

// Lines say what becomes of every row of a file, the refused ones last.
func (p *Plan) Lines(file string) []string {
	var out, refused []string
	for _, r := range p.Rows {
		text := fmt.Sprintf("%s:%d", file, r.Row)
		if r.Sheet != "" {
			text = fmt.Sprintf("%s, %s:%d", file, r.Sheet, r.Row)
		}
		if r.Column > 0 {
			text += fmt.Sprintf(":%d", r.Column)
		}
		text += ": " + r.RowState.String()
		if r.Message != "" {
			text += ": " + r.Message
		} else if r.Session != "" {
			text += ": " + r.Session
		}
		if r.Help != "" {
			text += "; " + r.Help
		}
		if r.RowState == Refused {
			refused = append(refused, text)
		} else {
			out = append(out, text)
		}
	}
	return append(out, refused...)
}

// ImportOptions say what an import knows beside the map.
type ImportOptions struct {
	File    string // the file's name, for the record
	By      string // who imports, where the map does not say
	Partial bool   // plan the good sessions although rows are refused
}

// importMark is kept in the note of an imported record: what the sample is, so
// that the same sample is never imported twice, though its values are amended.
var importMark = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\bimport ([0-9a-f]{24})\b`) })

// incoming is a session in the making.
type incoming struct {
	rows                                 []rowAt
	site, by, source, laboratory, sample string
	sampled                              time.Time
	place                                journal.Place
	group, id                            string
	readings                             []incomingReading
	notes                                []string
	refused                              bool
	mark                                 string
}

// rowAt is a row of the file, and of a reshaped sheet the column, counted from 1.
type rowAt struct {
	sheet       string
	row, column int
}

func (l *Line) at() rowAt {
	if l.kept == nil {
		return rowAt{l.Sheet, l.Number, 0}
	}
	return rowAt{l.Sheet, l.Number, l.origin + 1}
}

type incomingReading struct {
	analyte               water.ID
	value                 string
	more                  []string // replicates
	lot, dilution, remark string
	instrument            string
	tested                time.Time
	row                   int
}

// importer makes a plan.
type importer struct {
	j       *journal.Journal
	m       *Mapping
	opt     ImportOptions
	plan    *Plan
	byKey   map[string]*incoming
	order   []*incoming
	fresh   map[string]*journal.Site // sites to be made
	named   map[string]string        // id of such a site → the text that it was made of
	marks   map[string]*journal.Session
	samples map[string][]*journal.Session // by site and time
	names   map[string]string             // site name → id
	bad     map[rowAt]bool                // rows that are refused already
}

// Import plans how the rows of a sheet become sessions. The journal must hold its
// sessions. Rows of the same sample (site, time, source, laboratory, kind of
// sample, and the columns of group) are one session. A session is taken whole or
// not at all; while any row is refused the plan has no records, unless
// opt.Partial. The error says which column of the map the sheet does not have.
func Import(j *journal.Journal, m *Mapping, s *Sheet, opt ImportOptions) (*Plan, *ColumnError) {
	im := &importer{j: j, m: m, opt: opt, plan: &Plan{}, byKey: map[string]*incoming{}, fresh: map[string]*journal.Site{}, named: map[string]string{},
		marks: map[string]*journal.Session{}, samples: map[string][]*journal.Session{}, names: map[string]string{}, bad: map[rowAt]bool{}}
	s, first, notTaken, err := m.resolve(s)
	if err != nil {
		return nil, err
	}
	im.plan.NotTaken = notTaken
	for _, e := range j.Sessions.List {
		if e.Void != nil {
			continue // a void record is as if it had not been imported
		}
		if found := importMark().FindStringSubmatch(e.Note); found != nil {
			im.marks[found[1]] = e
		}
		key := sampleKey(e.Site, e.Sampled)
		im.samples[key] = append(im.samples[key], e)
	}
	for _, site := range j.Sites.List {
		im.names[strings.ToLower(site.Name)] = site.ID
	}
	lines := im.statistics(s.Lines[first:])
	for i := range lines {
		switch l := &lines[i]; {
		case l.blank():
		case m.Across == nil && s.headsAgain(l, m.Header):
			im.report(l, -1, Skipped, "the heads again", "")
		default:
			im.row(l)
		}
	}
	im.finish()
	return im.plan, nil
}

func sampleKey(site string, at time.Time) string {
	return site + "\n" + at.UTC().Format(time.RFC3339)
}

// report says what became of a line; column counts from 0, and is -1 where the whole row is meant.
func (im *importer) report(l *Line, column int, v RowState, message, help string) {
	im.bad[l.at()] = im.bad[l.at()] || v == Refused
	im.plan.Rows = append(im.plan.Rows, RowReport{Sheet: l.Sheet, Row: l.Number, Column: l.place(column) + 1, RowState: v, Message: message, Help: help})
}

// row reads one row into its session.
func (im *importer) row(l *Line) {
	for _, rule := range im.m.Skip {
		text := l.cell(rule.column.n).Text
		if rule.empty && text == "" || rule.is != nil && listed(rule.is, text) || rule.not != nil && !listed(rule.not, text) {
			im.report(l, rule.column.n, Skipped, fmt.Sprintf("the map leaves out rows where %s is %q", rule.column.name, text), "")
			return
		}
	}
	readings, faults, skipped := im.readings(l)
	if skipped != "" && len(faults) == 0 {
		im.report(l, -1, Skipped, skipped, "")
		return
	}
	if len(readings) == 0 && len(faults) == 0 {
		im.report(l, -1, Skipped, "it holds no result", "")
		return
	}
	in, more, skipped := im.session(l)
	if skipped != "" {
		im.report(l, -1, Skipped, skipped, "")
		return
	}
	faults = append(faults, more...)
	var target *incoming
	if in != nil {
		key := strings.Join([]string{sampleKey(in.site, in.sampled), in.source, in.laboratory, in.sample, in.group + in.id}, "\n")
		target = im.byKey[key]
		if target == nil {
			target = in
			sum := sha256.Sum256([]byte(key))
			target.mark = hex.EncodeToString(sum[:12])
			im.byKey[key] = target
			im.order = append(im.order, target)
		} else if again := target.again(readings); again >= 0 && len(faults) == 0 {
			im.report(l, -1, Skipped, fmt.Sprintf("the same as in row %d", again), "")
			return
		} else if im.m.Long == nil {
			faults = append(faults, located{0, faultf("if it is another sample, name the column that distinguishes them under group", "the same site and time as in row %d", target.rows[0].row)})
		}
		target.rows = append(target.rows, l.at())
		if target != in {
			target.notes = appendNew(target.notes, in.notes)
		}
		for _, r := range readings {
			for _, old := range target.readings {
				if old.analyte == r.analyte && im.m.Long != nil {
					faults = append(faults, located{0, faultf("leave one out, or name the column that distinguishes the samples under group", "the sample has %s in row %d already", r.analyte, old.row)})
				}
			}
			target.readings = append(target.readings, r)
		}
	}
	for _, f := range faults {
		im.report(l, f.column-1, Refused, f.message, f.help)
	}
	if len(faults) > 0 && target != nil {
		target.refused = true
	}
}

// again is the row that has the same results already, -1 where none has.
func (in *incoming) again(readings []incomingReading) int {
	row := -1
	for _, r := range readings {
		i := slices.IndexFunc(in.readings, func(old incomingReading) bool { return old.analyte == r.analyte && old.value == r.value })
		if i < 0 {
			return -1
		}
		row = in.readings[i].row
	}
	return row
}

func appendNew(list, more []string) []string {
	for _, s := range more {
		if !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	return list
}

// located is a fault with its column, counted from 1.
type located struct {
	column int
	*fault
}

// readings reads the results of a row. skipped says why it is left out whole.
func (im *importer) readings(l *Line) (out []incomingReading, faults []located, skipped string) {
	text := func(c column) string {
		if !c.set() {
			return ""
		}
		return l.cell(c.n).Text
	}
	take := func(c cellValue, at column) {
		q, f := im.m.quantity(c)
		if f != nil {
			faults = append(faults, located{at.n + 1, faultf(f.help, "column %q: %s", at.name, f.message)})
			return
		}
		if q == "" {
			return
		}
		dilution := ""
		if c.dilution != "" {
			d, f := im.m.numeral(c.dilution)
			if f != nil {
				faults = append(faults, located{at.n + 1, faultf(f.help, "dilution of %s: %s", c.analyte, f.message)})
				return
			}
			if d != "1" {
				dilution = d
			}
		}
		out = append(out, incomingReading{analyte: c.analyte, value: q, lot: c.lot, dilution: dilution, remark: c.remark, row: l.Number})
	}
	if long := im.m.Long; long != nil {
		name := text(long.analyte)
		if long.fixed != "" {
			name = long.fixed
		}
		named, known := long.analytes[name]
		if !known {
			if id, ok := water.LookupAnalyte(name); ok {
				named.analyte = id
			} else if long.others {
				return nil, nil, fmt.Sprintf("the map leaves out %q", name)
			} else {
				help := "say what it is under result, analyte, values, or others: skip"
				return nil, []located{{long.analyte.n + 1, faultf(help, "%q is not explained in the map", name)}}, ""
			}
		}
		if named.ignore {
			return nil, nil, fmt.Sprintf("the map leaves out %q", name)
		}
		if long.written {
			r := incomingReading{analyte: named.analyte, lot: text(long.lot), row: l.Number}
			values, dilution, f := asWritten(r.analyte, text(long.value))
			if f != nil {
				return nil, []located{{long.value.n + 1, f}}, ""
			}
			r.value, r.more, r.dilution = values[0], values[1:], dilution
			return im.made(l, []incomingReading{r}, faults)
		}
		unitText := long.unit.text
		if long.unit.column.set() {
			unitText = text(long.unit.column)
		}
		if unitText == "" && text(long.value) == "" { // a limit is all that there is
			unitText = text(long.limitUnit)
		}
		basis := long.basis.text
		if long.basis.column.set() {
			basis = text(long.basis.column)
		}
		unit, f := long.longUnit(named, unitText, basis, named.analyte)
		if f != nil {
			return nil, []located{{max(long.unit.column.n, 0) + 1, f}}, ""
		}
		take(cellValue{named.analyte, unit, text(long.value), text(long.qualifier), text(long.limit), text(long.lot), text(long.dilution), text(long.uncertainty), firstNonEmpty(text(long.remark), l.remark), long.flags, long.basisOf(named, basis)}, long.value)
		return im.made(l, out, faults)
	}
	for _, w := range im.m.Wide {
		take(cellValue{w.analyte, w.unit, text(w.column), text(w.qualifier), text(w.limit), text(w.lot), text(w.dilution), text(w.uncertainty), firstNonEmpty(text(w.remark), rangeNote("", text(w.lowest), text(w.highest))), w.flags, ""}, w.column)
	}
	return im.made(l, out, faults)
}

// made adds to the results of a row with what and when they were measured.
func (im *importer) made(l *Line, out []incomingReading, faults []located) ([]incomingReading, []located, string) {
	var tested time.Time
	meter, ok := im.m.Instrument.of(l)
	if meter != "" && (!ok || !im.j.Exists(journal.KindInstrument, meter)) {
		faults = append(faults, located{im.m.Instrument.column.n + 1, faultf("explain it under values, or make a record in instruments/", "there is no instrument %q", meter)})
	}
	if c := im.m.Tested.columns; len(c) > 0 && l.cell(c[0].n).Text != "" || !im.m.Tested.fixed.IsZero() {
		at, _, where, f := im.m.Tested.moment(l)
		if f != nil {
			faults = append(faults, located{where + 1, f})
		}
		tested = at
	}
	for i := range out {
		out[i].instrument, out[i].tested = meter, tested
	}
	return out, faults, ""
}

// Refuse takes a record out of the plan and refuses its rows: the record could not be right.
func (p *Plan) Refuse(path, message, help string) {
	id := ""
	p.Records = slices.DeleteFunc(p.Records, func(r Planned) bool {
		if r.Path == path {
			id = r.ID
		}
		return r.Path == path
	})
	for i := range p.Rows {
		if r := &p.Rows[i]; r.Session == id && id != "" && r.RowState == Taken {
			r.RowState, r.Message, r.Help = Refused, message, help
			message, help = "another row of its sample is refused", ""
		}
	}
}
