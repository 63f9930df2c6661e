package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/query"
	"wj/render"
	"wj/water"
)

// Record is one record with what follows from it. A session has its readings, what is derived from them and the checks of the
// analysis; a site its newest results; any other record its fields as written.
type Record struct {
	Schema string   `json:"schema"`
	Kind   string   `json:"kind"`
	ID     string   `json:"id"`
	Path   string   `json:"path"`
	Answer []string `json:"answer"`
	Void   *Void    `json:"void"`

	*SessionPart
	*SitePart
	Fields Fields `json:"fields,omitempty"`
	// Treatment is a change's dose worked out on its basis, in the form of wj treat.
	Treatment *plan.Answer `json:"treatment,omitempty"`
	// Approval is the state of a change and why, whether the change of a batch was approved when it was brewed, or what a sign-off is worth.
	Approval string    `json:"approval,omitempty"`
	Findings []Finding `json:"findings"`
	// JudgedBy is how much of a very long history was read for the findings; null where all that may bear on them was.
	JudgedBy *JudgedBy `json:"judged_by"`
	// Attachments are the files that the record names.
	Attachments []Attached `json:"attachments"`

	note     string           // the body
	batch    *render.Document // what else is known of a batch
	zone     *time.Location
	now      time.Time
	lot      string // what is left of a lot
	problems []lint.Diagnostic
}

// Void says that a record must not be used, and why.
type Void struct {
	On     Moment `json:"on"`
	By     string `json:"by"`
	Reason string `json:"reason"`
	name   string
}

// Attached is a file that a record names: where it is, how large, and whether it has the digest that the record gives.
type Attached struct {
	Path   string `json:"path"`
	Bytes  int    `json:"bytes"`
	SHA256 string `json:"sha256"` // as the record gives it
	State  string `json:"state"`  // attached, missing or changed
}

// attached are the files that a record names, in the order of their names.
func attached(j *journal.Journal, b *journal.Record) []Attached {
	out := []Attached{}
	for _, name := range slices.Sorted(maps.Keys(b.Attachments)) {
		one := Attached{Path: name, SHA256: b.Attachments[name], State: "missing"}
		if a, err := j.Attachment(b, name); err == nil {
			one.Path, one.Bytes, one.State = a.Path, a.Size, "changed"
			if a.Holds(b) {
				one.State = "attached"
			}
		}
		out = append(out, one)
	}
	return out
}

// size is a number of bytes as people write it.
func size(n int) string {
	switch {
	case n >= 1_000_000:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	case n >= 1000:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return journal.Count(n, "byte")
}

// Finding is what a lint rule found in the record.
type Finding struct {
	Line     int    `json:"line"`
	Column   int    `json:"column"`
	Severity string `json:"severity"`
	Rule     string `json:"rule"`
	Message  string `json:"message"`
	Help     string `json:"help"`
}

// JudgedBy is how many sessions a session was judged by, of those that may bear on it.
type JudgedBy struct {
	Sessions int `json:"sessions"`
	Of       int `json:"of"`
}

// Fields are the fields of a record as written, in their order: texts, lists and fields.
type Fields []Field

// Field is a name with a string, a []any or Fields.
type Field struct {
	Name  string
	Value any
}

// MarshalJSON writes an object in the order of the file.
func (f Fields) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, x := range f {
		if i > 0 {
			b.WriteByte(',')
		}
		name, err := json.Marshal(x.Name)
		if err != nil {
			return nil, err
		}
		value, err := json.Marshal(x.Value)
		if err != nil {
			return nil, err
		}
		b.Write(name)
		b.WriteByte(':')
		b.Write(value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// RecordRequest says by which day the record is judged.
type RecordRequest struct {
	Now   time.Time
	Facts evidence.Facts // of sign-offs, for what the linter finds
	// Found are the linter's findings by path, where it was asked about the whole journal; nil: it is asked about the record.
	Found map[string][]lint.Diagnostic
	// Before are the results at a session's site in the year before it, in its owner's units; nil: they are looked for.
	Before map[water.ID]*query.Series
	Limits *judge.Limits // of the journal, where they were asked for already
	Around *lint.Present // what was loaded to judge a session by; nil: all that it touches
}

// NewRecord shows one record. The error is for a file that cannot be read; one without front matter gives a Record with findings
// and nothing else, for which Readable is false.
func NewRecord(j *journal.Journal, f journal.File, q RecordRequest) (*Record, error) {
	d, record, err := j.ReadRecord(f)
	if err != nil {
		return nil, err
	}
	r := &Record{Schema: schema.ID("show"), Kind: f.Kind.String(), ID: f.ID, Path: f.Path, Answer: []string{}, Findings: []Finding{}, Attachments: []Attached{}, zone: j.Settings.Zone, now: q.Now.In(j.Settings.Zone)}
	if r.problems = q.Found[f.Path]; q.Found == nil {
		r.problems = q.Around.Judge(j, lint.Options{Paths: []string{f.Path}, Now: q.Now, Facts: q.Facts})
		if !q.Around.Whole() {
			r.JudgedBy = new(JudgedBy)
			r.JudgedBy.Sessions, r.JudgedBy.Of = q.Around.Read()
		}
	}
	for _, p := range r.problems {
		r.Findings = append(r.Findings, Finding{p.Line, p.Column, p.Severity.String(), p.Rule, p.Message, p.Help})
	}
	if record == nil {
		r.Kind = ""
		return r, nil
	}
	if v := record.Base().Void; v != nil {
		r.Void = &Void{Moment{v.On}, v.By, v.Reason, j.PersonName(v.By)}
	}
	r.Attachments = attached(j, record.Base())
	r.note = strings.TrimSpace(string(d.Source[d.Body:]))
	switch one := record.(type) {
	case *journal.Session:
		if q.Limits == nil {
			q.Limits = judge.NewLimits(j)
		}
		r.SessionPart = newSessionPart(j, one, q)
		r.Answer = r.SessionPart.answer
	case *journal.Site:
		if r.SitePart, err = newSitePart(j, one, r.now); err != nil {
			return nil, err
		}
		r.Answer = r.SitePart.answer
		r.Fields = fieldsOf(d)
	default:
		r.Fields = fieldsOf(d)
		if l, ok := record.(*journal.Lot); ok && l.Tests > 0 {
			r.lot = lotText(j, l)
		}
		if c, ok := record.(*journal.Change); ok && r.Void == nil {
			book := plan.Open(j)
			if w, err := book.OnBasis(c); err == nil {
				r.Treatment = book.Judged(w, r.now, lint.DoseLimits(j))
				if brief := r.Treatment.Brief(); brief != "" {
					r.Answer = append(r.Answer, "With the waters of its basis, "+brief+".")
				}
			}
		}
		r.Approval = approvalOf(j, record, q.Facts)
		if b, ok := record.(*journal.Batch); ok {
			r.batch = &render.Document{}
			batchDocument(r.batch, j, b)
		}
	}
	return r, nil
}

// approvalOf says what the sign-offs of a change come to, or what one is worth.
func approvalOf(j *journal.Journal, record journal.Any, facts evidence.Facts) string {
	switch one := record.(type) {
	case *journal.Change:
		c := judge.NewChanges(j, facts).Change(one)
		return strings.Join(append([]string{c.Words()}, c.Why...), " · ")
	case *journal.Signoff:
		v := evidence.Judge(j, one, facts)
		return strings.Join(append(append([]string{v.Standing.String()}, v.Why...), v.Describe()), " · ")
	case *journal.Batch:
		if c, ok := j.Changes.Get(one.Change); ok {
			for _, b := range judge.NewChanges(j, facts).Change(c).Brews {
				if b.Batch.ID == one.ID {
					return b.Approval()
				}
			}
		}
	}
	return ""
}

// Readable reports whether the file has front matter; its findings say what is wrong where it has not.
func (r *Record) Readable() bool { return r.Kind != "" }

// Problems are the lint findings with the text that they point at.
func (r *Record) Problems() []lint.Diagnostic { return r.problems }

func lotText(j *journal.Journal, l *journal.Lot) string {
	used := judge.TestsUsed(j)[l.ID]
	text := fmt.Sprintf("%d of %d tests used", used+l.Losses, l.Tests)
	if l.Losses > 0 {
		text += fmt.Sprintf(", %d of them lost", l.Losses)
	}
	return text
}

func fieldsOf(d *frontmatter.Document) Fields {
	out := Fields{}
	for c := range d.Children(0) {
		out = append(out, Field{d.Key(c), nodeValue(d, c)})
	}
	return out
}

func nodeValue(d *frontmatter.Document, node int32) any {
	switch d.Nodes[node].Kind {
	case frontmatter.Sequence:
		items := []any{}
		for c := range d.Children(node) {
			items = append(items, nodeValue(d, c))
		}
		return items
	case frontmatter.Mapping:
		o := Fields{}
		for c := range d.Children(node) {
			o = append(o, Field{d.Key(c), nodeValue(d, c)})
		}
		return o
	}
	return d.Text(node)
}

// flat writes a value of a field on one line: "sulfate 180 mg/L · chloride 40 mg/L".
func flat(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case []any:
		var parts []string
		for _, x := range v {
			parts = append(parts, flat(x))
		}
		return strings.Join(parts, ", ")
	case Fields:
		var parts []string
		for _, f := range v {
			parts = append(parts, f.Name+" "+flat(f.Value))
		}
		return strings.Join(parts, " · ")
	}
	return ""
}

// rows are the fields as lines of a table: one for a value or a short list, one for each entry of what is nested.
func (f Fields) rows(prefix string) [][]render.Cell {
	var out [][]render.Cell
	add := func(name string, v any) { out = append(out, []render.Cell{{Text: name}, {Text: flat(v)}}) }
	for _, x := range f {
		name := strings.TrimSpace(prefix + " " + x.Name)
		switch v := x.Value.(type) {
		case Fields:
			if nested(v) {
				out = append(out, v.rows(name)...)
			} else {
				add(name, v)
			}
		case []any:
			for _, item := range v {
				if _, ok := item.(Fields); ok {
					add(name, item)
				}
			}
			if len(v) == 0 || !isFields(v[0]) {
				add(name, v)
			}
		default:
			add(name, v)
		}
	}
	return out
}

func isFields(v any) bool {
	_, ok := v.(Fields)
	return ok
}

// nested reports whether fields hold fields, so that one line would hold too much.
func nested(f Fields) bool {
	for _, x := range f {
		if isFields(x.Value) {
			return true
		}
	}
	return false
}
