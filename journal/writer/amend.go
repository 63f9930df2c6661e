package writer

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/spelling"
)

// Amendment is one correction of a record: the right value of a field, or that the field goes.
type Amendment struct {
	Key, Value string
	Remove     bool
}

// Amended is a correction that was made: the field by its path, what was there and what does.
type Amended struct{ Path, Was, Is string }

// Edit is a record being corrected. The record keeps what was there, who changed it, when and
// why; nothing else in the file changes.
type Edit struct {
	Journal    *journal.Journal
	File       journal.File
	Source     []byte // the file as it is
	By, Reason string
	Now        time.Time

	doc    frontmatter.Document
	result []byte
	fields [][]string
}

// read parses the file as it is so far.
func (e *Edit) read() error {
	if e.result == nil {
		e.result = e.Source
	}
	if e.doc.Parse(e.result); !e.doc.OK() {
		return journal.Hint("wj lint "+e.File.ID, "%s has no front matter that can be read", e.File.Path)
	}
	return nil
}

// make makes edits and reads the result, so that a later edit finds its place.
func (e *Edit) make(edits ...frontmatter.Edit) error {
	result, err := frontmatter.Apply(e.result, edits)
	if err != nil {
		return fmt.Errorf("edit %s: %w", e.File.Path, err)
	}
	e.result = result
	return e.read()
}

// Amend makes corrections.
func (e *Edit) Amend(list ...Amendment) ([]Amended, error) {
	if err := e.read(); err != nil {
		return nil, err
	}
	var out []Amended
	for _, a := range list {
		done, err := e.amend(a)
		if err != nil {
			return nil, err
		}
		out = append(out, done)
	}
	return out, e.untouched()
}

func (e *Edit) amend(a Amendment) (Amended, error) {
	keys, err := e.keys(a.Key)
	if err != nil {
		return Amended{}, err
	}
	if a.Value, err = e.clock(keys, a.Value); err != nil {
		return Amended{}, err
	}
	was, edits, err := e.set(keys, a)
	if err != nil {
		return Amended{}, err
	}
	name := strings.Join(keys, ".")
	entry := fmt.Sprintf("{key: %s, was: %s, by: %s, on: %s", frontmatter.Quote(name), frontmatter.Quote(was), frontmatter.Quote(e.By), journal.FormatTime(e.Now))
	if e.Reason != "" {
		entry += ", reason: " + frontmatter.Quote(e.Reason)
	}
	if err := e.make(edits...); err != nil {
		return Amended{}, err
	}
	edit, err := e.append("amended", entry+"}")
	if err != nil {
		return Amended{}, fmt.Errorf("edit %s: %w", e.File.Path, err)
	}
	e.fields = append(e.fields, keys)
	is := a.Value
	if a.Remove {
		is = "(gone)"
	}
	return Amended{name, was, is}, e.make(edit)
}

// Void declares the record void.
func (e *Edit) Void() error {
	if err := e.read(); err != nil {
		return err
	}
	if _, there := e.doc.Child(0, "void"); there {
		return fmt.Errorf("%s is void already", e.File.ID)
	}
	mark := fmt.Sprintf("{by: %s, on: %s, reason: %s}", frontmatter.Quote(e.By), journal.FormatTime(e.Now), frontmatter.Quote(e.Reason))
	edit, err := frontmatter.AppendKey(&e.doc, 0, "void", mark)
	if err != nil {
		return fmt.Errorf("edit %s: %w", e.File.Path, err)
	}
	e.fields = append(e.fields, []string{"void"})
	if err := e.make(edit); err != nil {
		return err
	}
	return e.untouched()
}

// Result is the file to write.
func (e *Edit) Result() File {
	return File{Path: e.File.Path, Old: e.Source, New: e.result, Fields: e.fields}
}

// keys brings a key that a person typed to the keys that lead to it. Readings may be named
// alone.
func (e *Edit) keys(typed string) ([]string, error) {
	keys := strings.Split(typed, ".")
	if _, ok := water.LookupAnalyte(keys[0]); ok && e.File.Kind == journal.KindSession {
		keys = append([]string{"readings"}, keys...)
	} else if !hasField(e.File.Kind, keys[0]) {
		var known []string
		for _, f := range e.File.Kind.Fields() {
			known = append(known, f.Key)
		}
		if e.File.Kind == journal.KindSession {
			known = append(known, water.AnalyteKeys()...)
		}
		return nil, journal.Hint(spelling.HintOr(keys[0], known, "fields: "+strings.Join(known, ", ")), "a %s has no field %q", e.File.Kind, keys[0])
	}
	switch keys[0] {
	case "amended":
		return nil, journal.Hint("make a further amendment", "the corrections of a record are not corrected")
	case "void":
		return nil, journal.Hint("wj void "+e.File.ID+" --reason …", "a record is declared void by a command of its own")
	}
	if len(keys) == 3 && keys[0] == "readings" && keys[2] == "value" {
		keys = keys[:2]
	}
	return keys, nil
}

// clock completes a time by the day that the field, or the session's sampling, has.
func (e *Edit) clock(keys []string, value string) (string, error) {
	on := e.Now
	for _, at := range [][]string{{"sampled"}, keys} {
		if node, ok := e.doc.FindPath(at...); ok {
			if t, err := journal.ParseTime(e.doc.Text(node)); err == nil {
				on = t.In(e.Now.Location())
			}
		}
	}
	f, err := clock(e.File.Kind, Field{strings.Join(keys, "."), value}, on)
	return f.Value, err
}

// set makes the edit that gives a field its value or takes it out, and gives what was there.
func (e *Edit) set(keys []string, a Amendment) (was string, edits []frontmatter.Edit, err error) {
	d := &e.doc
	name := ShortPath(strings.Join(keys, "."))
	node, ok := d.FindPath(keys...)
	if !ok {
		if a.Remove {
			return "", nil, fmt.Errorf("%s has no %s", e.File.ID, name)
		}
		return e.add(keys, a.Value)
	}
	if d.Nodes[node].Kind == frontmatter.Mapping && !a.Remove {
		for _, k := range []string{"value", "amount"} {
			if c, ok := d.Child(node, k); ok {
				node = c
				break
			}
		}
	}
	was = strings.TrimSpace(string(d.Source[d.Nodes[node].Start:d.Nodes[node].End]))
	if d.Nodes[node].Kind == frontmatter.Scalar {
		was = d.Text(node)
	}
	oneLine := strings.Join(strings.Fields(was), " ")
	switch {
	case a.Remove:
		edit, err := frontmatter.RemoveNode(d, node)
		return oneLine, []frontmatter.Edit{edit}, err
	case d.Nodes[node].Kind == frontmatter.Mapping && !strings.HasPrefix(a.Value, "{"):
		return "", nil, journal.Hint("name one field of it: "+name+"."+d.Key(d.Nodes[node].First), "%s is more than one value", name)
	case was == a.Value:
		return "", nil, fmt.Errorf("%s of %s is %s already", name, e.File.ID, a.Value)
	}
	edit := frontmatter.SetScalar(d, node, a.Value)
	if yaml := YAML(a.Value); yaml == a.Value && yaml != frontmatter.Quote(a.Value) { // a list or mapping goes in as it is
		edit.New = strings.Replace(edit.New, frontmatter.Quote(a.Value), yaml, 1)
	}
	return oneLine, []frontmatter.Edit{edit}, nil
}

// add makes the edit for a field that was not there.
func (e *Edit) add(keys []string, value string) (string, []frontmatter.Edit, error) {
	d, last := &e.doc, len(keys)-1
	parent, ok := d.FindPath(keys[:last]...)
	if !ok {
		above := strings.Join(keys[:last], ".")
		return "", nil, journal.Hint("add "+above+" first", "%s has no %s", e.File.ID, above)
	}
	if n := d.Nodes[parent]; n.Kind == frontmatter.Scalar || n.Kind == frontmatter.Sequence {
		// sulfate: 84 mg/L becomes sulfate: {value: 84 mg/L, lot: SU-2511}.
		short := "value"
		if keys[0] != "readings" {
			short = "amount"
		}
		text := fmt.Sprintf("{%s: %s, %s: %s}", short, d.Source[n.Start:n.End], frontmatter.Quote(keys[last]), YAML(value))
		return evidence.Absent, []frontmatter.Edit{{Start: int(n.Start), End: int(n.End), New: text}}, nil
	}
	edit, err := frontmatter.AppendKey(d, parent, keys[last], YAML(value))
	return evidence.Absent, []frontmatter.Edit{edit}, err
}

// append makes the edit that adds an entry to a list of the record, or begins the list.
func (e *Edit) append(key, entry string) (frontmatter.Edit, error) {
	if node, ok := e.doc.Child(0, key); ok && e.doc.Nodes[node].Kind == frontmatter.Sequence {
		return frontmatter.AppendItem(&e.doc, node, entry)
	}
	if e.doc.Nodes[0].Style == frontmatter.Flow {
		return frontmatter.AppendKey(&e.doc, 0, key, "["+entry+"]")
	}
	return frontmatter.AppendKey(&e.doc, 0, key, "\n  - "+entry)
}

// untouched makes sure that no field changed but those that were to.
func (e *Edit) untouched() error {
	before, after := map[string]string{}, map[string]string{}
	for _, f := range evidence.Fields(e.Source) {
		before[f.Path] = f.Text
	}
	for _, f := range evidence.Fields(e.result) {
		after[f.Path] = f.Text
	}
	for _, m := range []map[string]string{before, after} {
		for p := range m {
			meant := slices.ContainsFunc(e.fields, func(keys []string) bool {
				name := strings.Join(keys, ".")
				return p == name || strings.HasPrefix(p, name+".")
			})
			if before[p] != after[p] && !meant {
				return journal.Hint("edit the file by hand; wj log shows the rest", "nothing was written: the edit would change %s too", p)
			}
		}
	}
	return nil
}

// ShortPath is a field as people name it: a reading alone.
func ShortPath(p string) string { return strings.TrimPrefix(p, "readings.") }
