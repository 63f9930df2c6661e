package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/safefile"
	"wj/render"
	"wj/water"
)

type amendCmd struct {
	ID       string `arg:"" help:"The record's id, or its path."`
	Key      string `arg:"" help:"The field: sulfate, sulfate.lot, sampled, weighed.gypsum …"`
	Value    string `arg:"" optional:"" help:"What should have stood there; a list of replicates as [21 mg/L, 22 mg/L]."`
	Remove   bool   `help:"Take the field out, instead of giving it a value."`
	Reason   string `short:"r" placeholder:"TEXT" help:"Why: what was wrong, and how it is known."`
	By       string `placeholder:"ID" help:"Who corrects it; by default the person with your git address."`
	NoCommit bool   `help:"Write the file and leave the commit to me."`
	DryRun   bool   `short:"n" help:"Print the file as it would be and write nothing."`
}

func (c *amendCmd) Help() string {
	return "The line of the reading gets the right value, and the record keeps what was there, who changed it, when and why (amended). " +
		"Nothing is written if the result would be wrong. What rests on the old value is listed.\n\n" +
		"    wj amend 2026-03-04-north-well calcium_hardness \"205 mg/L CaCO3\" --reason \"meter shows as CaCO3; basis typed wrong\""
}

func (c *amendCmd) Run(a *app) error {
	if c.Remove == (c.Value != "") {
		return withHint("wj amend "+c.ID+" "+c.Key+" \"84 mg/L\" --reason …", "give the right value, or --remove")
	}
	e, err := a.startEdit(c.ID, c.By, c.Reason, c.NoCommit || c.DryRun)
	if err != nil {
		return err
	}
	path, err := e.fieldPath(c.Key)
	if err != nil {
		return err
	}
	was, edits, err := e.set(path, c.Value, c.Remove)
	if err != nil {
		return err
	}
	entry := fmt.Sprintf("{key: %s, was: %s, by: %s, on: %s", frontmatter.Quote(strings.Join(path, ".")), frontmatter.Quote(was), frontmatter.Quote(e.by), journal.FormatTime(e.now))
	if c.Reason != "" {
		entry += ", reason: " + frontmatter.Quote(c.Reason)
	}
	if err := e.make(edits...); err != nil {
		return err
	}
	edit, err := e.append("amended", entry+"}")
	if err != nil {
		return fmt.Errorf("edit %s: %w", e.file.Path, err)
	}
	if err := e.make(edit); err != nil {
		return err
	}
	after := orElse(c.Value, "(gone)")
	if err := e.check(path); err != nil {
		return err
	}
	key := shortField(strings.Join(path, "."))
	return e.finish(c.DryRun, c.NoCommit, shortened(fmt.Sprintf("Amend %s: %s %s → %s", e.file.ID, key, was, after), 100),
		history.Trailer{Key: "Amends", Value: e.file.ID + " " + strings.Join(path, ".")}, history.Trailer{Key: "Reason", Value: c.Reason})
}

// recordEdit is a correction on its way into a record file.
type recordEdit struct {
	a        *app
	j        *journal.Journal
	root     string
	file     journal.File
	by       string
	now      time.Time
	source   []byte
	problems []journal.Problem // in the source
	result   []byte            // the source with the edits so far
	d        frontmatter.Document
}

// startEdit finds the record and asks what must be known before it may be
// corrected: who does it, why, and that nothing else waits in the file.
func (a *app) startEdit(id, by, reason string, uncommitted bool) (*recordEdit, error) {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return nil, err
	}
	f, err := find(j, id)
	if err != nil {
		return nil, err
	}
	e := &recordEdit{a: a, j: j, root: root, file: f, by: by, now: a.now().In(j.Settings.Zone)}
	if strings.TrimSpace(reason) == "" && j.Settings.Policy.ReasonRequired {
		return nil, withHint("--reason \"meter shows as CaCO3; basis typed wrong\"", "the policy asks for a reason")
	}
	if e.by == "" {
		who := draft{a: a, j: j, root: root}
		if e.by, err = who.person(e.now); err != nil {
			return nil, err
		}
	} else if !j.Exists(journal.KindPerson, e.by) {
		return nil, withHint("people: "+strings.Join(j.IDs(journal.KindPerson), ", "), "there is no person %q", e.by)
	}
	if e.source, err = readWorking(root, f.Path); err != nil {
		return nil, err
	}
	e.d.Parse(e.source)
	if !e.d.OK() {
		return nil, withHint("wj lint "+f.ID, "%s has no front matter that can be read", f.Path)
	}
	e.problems = journal.Check(&e.d, f.Kind, f.Path, j)
	if !uncommitted {
		dirty, err := history.Dirty(root, nil)
		if err != nil && !errors.Is(err, history.ErrNoRepository) && !errors.Is(err, history.ErrUnsupported) {
			return nil, err
		}
		for _, change := range dirty {
			if change.Path == f.Path && change.Kind == history.Modified {
				return nil, withHint("commit or undo them first, or use --no-commit", "%s has changes that are not committed, and they would go into the same commit", f.Path)
			}
		}
	}
	return e, nil
}

// fieldPath brings a key that a person typed to the keys that lead to it.
// Readings may be named alone.
func (e *recordEdit) fieldPath(typed string) ([]string, error) {
	head, rest, dotted := strings.Cut(typed, ".")
	path := strings.Split(typed, ".")
	if _, ok := water.LookupAnalyte(head); ok && e.file.Kind == journal.KindSession {
		path = append([]string{"readings"}, path...)
	} else if !knownField(e.file.Kind.Fields(), head) {
		known := []string{}
		for _, f := range e.file.Kind.Fields() {
			known = append(known, f.Key)
		}
		if e.file.Kind == journal.KindSession {
			known = append(known, water.AnalyteKeys()...)
		}
		hint := "fields: " + strings.Join(known, ", ")
		if near := water.Nearest(head, known); near != "" {
			hint = "did you mean " + near + "?"
		}
		return nil, withHint(hint, "a %s has no field %q", e.file.Kind, head)
	}
	switch path[0] {
	case "amended":
		return nil, withHint("make a further amendment", "the corrections of a record are not corrected")
	case "void":
		return nil, withHint("wj void "+e.file.ID+" --reason …", "a record is declared void by a command of its own")
	}
	_, _ = rest, dotted
	if len(path) == 3 && path[0] == "readings" && path[2] == "value" {
		path = path[:2]
	}
	return path, nil
}

// set makes the edit that gives a field its value and tells what was there.
func (e *recordEdit) set(path []string, value string, remove bool) (was string, edits []frontmatter.Edit, err error) {
	d := &e.d
	node, ok := d.FindPath(path...)
	name := shortField(strings.Join(path, "."))
	if !ok {
		if remove {
			return "", nil, fmt.Errorf("%s has no %s", e.file.ID, name)
		}
		return e.add(path, value)
	}
	if d.Nodes[node].Kind == frontmatter.Mapping && !remove {
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
	if remove {
		edit, err := frontmatter.RemoveNode(d, node)
		return oneLine(was), []frontmatter.Edit{edit}, err
	}
	if d.Nodes[node].Kind == frontmatter.Mapping && !strings.HasPrefix(value, "{") {
		return "", nil, withHint("name one field of it: "+name+"."+d.Key(d.Nodes[node].First), "%s is more than one value", name)
	}
	if was == value {
		return "", nil, fmt.Errorf("%s of %s is %s already", name, e.file.ID, value)
	}
	edit := frontmatter.SetScalar(d, node, value)
	if yaml := yamlValue(value); yaml == value && yaml != frontmatter.Quote(value) { // a list or mapping goes in as it is
		edit.New = strings.Replace(edit.New, frontmatter.Quote(value), yaml, 1)
	}
	return oneLine(was), []frontmatter.Edit{edit}, nil
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// add makes the edit for a field that was not there.
func (e *recordEdit) add(path []string, value string) (string, []frontmatter.Edit, error) {
	d := &e.d
	parent, ok := d.FindPath(path[:len(path)-1]...)
	if !ok {
		return "", nil, withHint("add "+strings.Join(path[:len(path)-1], ".")+" first", "%s has no %s", e.file.ID, strings.Join(path[:len(path)-1], "."))
	}
	if d.Nodes[parent].Kind == frontmatter.Scalar || d.Nodes[parent].Kind == frontmatter.Sequence {
		// sulfate: 84 mg/L becomes sulfate: {value: 84 mg/L, lot: SU-2511}.
		short := "value"
		if path[0] != "readings" {
			short = "amount"
		}
		n := d.Nodes[parent]
		text := fmt.Sprintf("{%s: %s, %s: %s}", short, d.Source[n.Start:n.End], frontmatter.Quote(path[len(path)-1]), yamlValue(value))
		return audit.Absent, []frontmatter.Edit{{Start: int(n.Start), End: int(n.End), New: text}}, nil
	}
	edit, err := frontmatter.AppendKey(d, parent, path[len(path)-1], yamlValue(value))
	return audit.Absent, []frontmatter.Edit{edit}, err
}

// append makes the edit that adds an entry to a list of the record, or begins
// the list.
func (e *recordEdit) append(key, entry string) (frontmatter.Edit, error) {
	if node, ok := e.d.Child(0, key); ok && e.d.Nodes[node].Kind == frontmatter.Sequence {
		return frontmatter.AppendItem(&e.d, node, entry)
	}
	if e.d.Nodes[0].Style == frontmatter.Flow {
		return frontmatter.AppendKey(&e.d, 0, key, "["+entry+"]")
	}
	return frontmatter.AppendKey(&e.d, 0, key, "\n  - "+entry)
}

// make makes edits of the record as it stands so far and reads it anew, so
// that a later edit finds its place.
func (e *recordEdit) make(edits ...frontmatter.Edit) error {
	from := e.result
	if from == nil {
		from = e.source
	}
	result, err := frontmatter.Apply(from, edits)
	if err != nil {
		return fmt.Errorf("edit %s: %w", e.file.Path, err)
	}
	e.result = result
	e.d.Parse(result)
	return nil
}

// check looks at the result before it is written: no error that was not there
// before, none in what was written, and no other field touched.
func (e *recordEdit) check(path []string) error {
	d, result := &e.d, e.result
	old := map[string]int{}
	for _, p := range e.problems {
		old[p.Rule+p.Message]++
	}
	from, to := 0, 0
	if node, ok := d.FindPath(path...); ok {
		from, to = int(d.Nodes[node].Start), int(d.Nodes[node].End)
	}
	failed := false
	lines := strings.Split(string(result), "\n")
	for _, p := range journal.Check(d, e.file.Kind, e.file.Path, e.j) {
		known := old[p.Rule+p.Message] > 0
		old[p.Rule+p.Message]--
		written := p.Start >= from && p.Start < to
		if p.Warning || known && !written {
			continue
		}
		failed = true
		if err := e.a.printTalk(e.a.talk.Finding(problemFinding(p, e.file.Path, lines))); err != nil {
			return err
		}
	}
	if failed {
		return withHint("mend the command and run it again", "nothing was written: the %s would be wrong", e.file.Kind)
	}
	name := strings.Join(path, ".")
	before, after := map[string]string{}, map[string]string{}
	for _, f := range audit.Fields(e.source) {
		before[f.Path] = f.Text
	}
	for _, f := range audit.Fields(result) {
		after[f.Path] = f.Text
	}
	for _, m := range []map[string]string{before, after} {
		for p := range m {
			if before[p] != after[p] && p != name && !strings.HasPrefix(p, name+".") {
				return withHint("edit the file by hand; wj log shows the rest", "nothing was written: the edit would change %s too", p)
			}
		}
	}
	return nil
}

// finish writes the file, commits it and lists what rests on it.
func (e *recordEdit) finish(dry, noCommit bool, subject string, trailers ...history.Trailer) error {
	if dry {
		return e.a.print(render.Clean(string(e.result)))
	}
	full := filepath.Join(e.root, filepath.FromSlash(e.file.Path))
	if err := safefile.Write(full, e.source, e.result); err != nil {
		return fmt.Errorf("write %s: %w", e.file.Path, err)
	}
	if err := e.a.print(e.a.relative(e.root, e.file.Path) + "\n"); err != nil {
		return err
	}
	var kept []history.Trailer
	for _, t := range trailers {
		if strings.TrimSpace(t.Value) != "" {
			kept = append(kept, t)
		}
	}
	var commitErr error
	if !noCommit {
		commitErr = e.a.commit(e.root, []string{e.file.Path}, subject, kept...)
	}
	return errors.Join(commitErr, e.a.restingOn(e.j, e.file))
}

// restingOn lists what rests on a record whose content has just changed.
func (a *app) restingOn(j *journal.Journal, f journal.File) error {
	tree := audit.NewGraph(j).Walk(f, true)
	reached := tree.Reached()
	if len(reached) == 0 {
		a.say("nothing else rests on it")
		return nil
	}
	why := map[string]string{}
	var note func(t audit.Tree)
	note = func(t audit.Tree) {
		for _, b := range t.Below {
			if k := b.File.Kind.String() + " " + b.File.ID; why[k] == "" {
				why[k] = b.Why
			}
			note(b)
		}
	}
	note(tree)
	a.say("rests on it:")
	for _, r := range reached {
		line := "  " + r.Kind.String() + " " + r.ID + ": " + why[r.Kind.String()+" "+r.ID]
		if next := consequence(r.Kind); next != "" {
			line += "; " + next
		}
		a.say("%s", line)
	}
	return nil
}

// consequence says what a correction means for a record that rests on it.
func consequence(k journal.Kind) string {
	switch k {
	case journal.KindSignoff:
		return "void: sign again"
	case journal.KindChange:
		return "compute and review again"
	case journal.KindReport:
		return "its reader holds the old value"
	case journal.KindBatch:
		return "compare its liquor with the target"
	case journal.KindSession:
		return "look at it again"
	}
	return ""
}
