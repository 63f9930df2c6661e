package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/water"
)

type newCmd struct {
	Kind     string   `arg:"" help:"The kind of record: session, lot, site, change, event …"`
	Name     string   `arg:"" help:"For a session the site; otherwise the record's id."`
	Fields   []string `arg:"" optional:"" help:"Fields as key=value, readings too: sulfate=\"84 mg/L\" sulfate.dilution=2 by=ines."`
	Note     string   `short:"m" placeholder:"TEXT" help:"The notes below the fields; - reads them from standard input."`
	NoCommit bool     `help:"Write the file and leave the commit to me."`
	DryRun   bool     `short:"n" help:"Print the file and write nothing."`
}

func (c *newCmd) Help() string {
	return "wj new session north-well pH=7.4 sulfate=\"168 mg/L\" sulfate.dilution=2 chloride=\"[21 mg/L, 22 mg/L]\" -m \"second strip\"\n\n" +
		"Current lots, the meter, the time and your name are filled in; give by=, instrument=, sampled= or lots (sulfate.lot=) to say otherwise. " +
		"wj explain lot, wj explain site … tell what can stand in a record, with an example. A record that cannot be read right is not written."
}

func (c *newCmd) Run(a *app) error {
	kind, ok := journal.KindNamed(c.Kind)
	if !ok {
		var names []string
		for _, k := range journal.Kinds() {
			names = append(names, k.String())
		}
		hint := "kinds: " + strings.Join(names, ", ")
		if near := water.Nearest(c.Kind, names); near != "" {
			hint = "did you mean " + near + "?"
		}
		return withHint(hint, "%q is no kind of record", c.Kind)
	}
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	fields, err := parseFields(c.Fields)
	if err != nil {
		return err
	}
	body := c.Note
	if body == "-" {
		src, err := io.ReadAll(io.LimitReader(a.stdin, frontmatter.MaxFile))
		if err != nil {
			return fmt.Errorf("read the notes: %w", err)
		}
		body = string(src)
	}
	draft := draft{a: a, j: j, root: root, kind: kind, fields: fields, body: body}
	if kind == journal.KindSession {
		err = draft.session(c.Name)
	} else {
		err = draft.record(c.Name)
	}
	if err != nil {
		return err
	}
	return draft.finish(c)
}

// field is one key=value of the command line; the key may have dots.
type field struct{ key, value string }

func parseFields(args []string) ([]field, error) {
	var out []field
	for _, arg := range args {
		key, value, ok := strings.Cut(arg, "=")
		if !ok || key == "" {
			return nil, withHint("write it as sulfate=\"84 mg/L\"", "%q is not key=value", arg)
		}
		out = append(out, field{strings.TrimSpace(key), strings.TrimSpace(value)})
	}
	return out, nil
}

// draft is a record on its way to a file.
type draft struct {
	a       *app
	j       *journal.Journal
	root    string
	kind    journal.Kind
	fields  []field
	body    string
	id      string
	stem    string // a session's id without -2
	path    string
	entries []journal.Entry
	subject string
}

// yamlValue writes a value as YAML: what is already a flow collection stays,
// everything else is quoted where it must be.
func yamlValue(s string) string {
	if strings.HasPrefix(s, "[") && strings.HasSuffix(s, "]") || strings.HasPrefix(s, "{") && strings.HasSuffix(s, "}") {
		return s
	}
	return frontmatter.Quote(s)
}

// session composes a session: what was not said is filled in.
func (d *draft) session(site string) error {
	now := d.a.now().In(d.j.Settings.Zone)
	if !d.j.Exists(journal.KindSite, site) {
		hint := "wj new site " + site + " owner=… stage=intake name=…"
		if near := water.Nearest(site, d.j.IDs(journal.KindSite)); near != "" {
			hint = "did you mean " + near + "?"
		}
		return withHint(hint, "there is no site %q", site)
	}
	said := map[string]string{}
	type reading struct {
		id    water.ID
		value string
		parts []journal.Entry
		lot   bool
	}
	var readings []*reading
	byID := map[water.ID]*reading{}
	get := func(id water.ID) *reading {
		if byID[id] == nil {
			byID[id] = &reading{id: id}
			readings = append(readings, byID[id])
		}
		return byID[id]
	}
	schema := journal.KindSession.Fields()
	for _, f := range d.fields {
		head, rest, dotted := strings.Cut(f.key, ".")
		if id, ok := water.LookupAnalyte(head); ok {
			r := get(id)
			switch {
			case !dotted && strings.HasPrefix(f.value, "{"):
				r.value = f.value
			case !dotted || rest == "value":
				r.value = f.value
			default:
				r.parts = append(r.parts, journal.Entry{Key: rest, Value: yamlValue(f.value)})
				r.lot = r.lot || rest == "lot"
			}
			continue
		}
		if !knownField(schema, head) || head == "readings" {
			known := water.AnalyteKeys()
			for _, s := range schema {
				known = append(known, s.Key)
			}
			hint := "an analyte or one of the session's fields"
			if near := water.Nearest(head, known); near != "" {
				hint = "did you mean " + near + "?"
			}
			return withHint(hint, "%q is neither an analyte nor a field of a session", head)
		}
		said[f.key] = f.value
	}
	if said["sample"] == "verification" && said["change"] == "" {
		return withHint("change=ID batch=ID; wj ls changes lists them", "a verification needs the change whose liquor it is")
	}
	sampled := now
	if s, ok := said["sampled"]; ok {
		t, err := journal.ParseTime(s)
		if today, wrong := bench.SamplingTime(s, now); err != nil && wrong == nil { // 08:15
			t, err = today, nil
			said["sampled"] = journal.FormatTime(t)
		}
		if err != nil {
			return withHint("today's time is enough: sampled=08:15", "sampled: %w", err)
		}
		sampled = t
	}
	add := func(key, value string) {
		d.entries = append(d.entries, journal.Entry{Key: key, Value: yamlValue(value)})
	}
	add("site", site)
	if _, ok := said["sampled"]; !ok {
		add("sampled", journal.FormatTime(sampled))
	}
	if _, ok := said["tested"]; !ok && said["source"] == "" {
		add("tested", journal.FormatTime(now))
	}
	tested := now
	if t, err := journal.ParseTime(said["tested"]); err == nil {
		tested = t
	}
	if _, ok := said["by"]; !ok {
		by, err := d.person(tested)
		if err != nil {
			return err
		}
		add("by", by)
	}
	var ids []water.ID
	for _, r := range readings {
		ids = append(ids, r.id)
	}
	bench := said["source"] == "" || said["source"] == "bench"
	instrument := said["instrument"]
	if instrument == "" && bench {
		if instrument = d.j.CurrentInstrument(site, ids, tested); instrument != "" {
			add("instrument", instrument)
		}
	}
	used := d.j.TestsUsed()
	var below []journal.Entry
	for _, r := range readings {
		if r.value == "" {
			return withHint("write "+r.id.String()+"=\"84 mg/L\" too", "%s has no value", r.id)
		}
		if strings.HasPrefix(r.value, "{") {
			below = append(below, journal.Entry{Key: r.id.String(), Value: r.value})
			continue
		}
		if bench && !r.lot && needsLot(r.id) {
			if l, ok := d.j.CurrentLot(r.id, tested, used); ok {
				r.parts = append([]journal.Entry{{Key: "lot", Value: l.ID}}, r.parts...)
			}
		}
		value := yamlValue(r.value)
		if len(r.parts) > 0 {
			value = "{value: " + value
			for _, p := range r.parts {
				value += ", " + p.Key + ": " + p.Value
			}
			value += "}"
		}
		below = append(below, journal.Entry{Key: r.id.String(), Value: value})
	}
	if len(below) == 0 {
		return withHint("wj new session "+site+" pH=7.4 sulfate=\"84 mg/L\" …", "a session needs readings")
	}
	for _, f := range d.fields {
		if v, ok := said[f.key]; ok {
			add(f.key, v)
		}
	}
	d.entries = append(d.entries, journal.Entry{Key: "readings", Below: below})
	d.stem = journal.FormatDate(sampled.In(d.j.Settings.Zone)) + "-" + site
	d.id = d.free(journal.KindSession, d.stem)
	d.path = fmt.Sprintf("sessions/%04d/%s.md", sampled.In(d.j.Settings.Zone).Year(), d.id)
	var parts []string
	for _, r := range readings {
		if !strings.HasPrefix(r.value, "{") {
			parts = append(parts, r.id.String()+" "+r.value)
		}
	}
	d.subject = shortened("Record "+d.id+": "+strings.Join(parts, ", "), 100)
	return nil
}

// needsLot reports whether a test of the analyte uses a reagent; a meter with
// a probe does not.
func needsLot(id water.ID) bool {
	return id != water.SampleTemperature && id != water.ElectricalConductivity && id != water.TurbidityValue
}

func shortened(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

func knownField(fields []journal.Field, key string) bool {
	for _, f := range fields {
		if f.Key == key {
			return true
		}
	}
	return false
}

// person finds out who is recording: $WJ_BY, the person with git's e-mail
// address, or the only person there is.
func (d *draft) person(on time.Time) (string, error) {
	if by := d.a.env("WJ_BY"); by != "" {
		return by, nil
	}
	if _, email, ok := history.Identity(d.root); ok {
		for _, p := range d.j.People.List {
			for _, e := range p.Email {
				if strings.EqualFold(e, email) && p.Covers(on) {
					return p.ID, nil
				}
			}
		}
	}
	var active []string
	for _, p := range d.j.People.List {
		if p.Covers(on) && p.Void == nil {
			active = append(active, p.ID)
		}
	}
	if len(active) == 1 {
		return active[0], nil
	}
	return "", withHint("set WJ_BY to "+strings.Join(active, " or ")+" (wj new takes by=ID too); your git address is in no record of people/", "who is recording?")
}

// free finds an id that is not taken: the second of a day ends in -2.
func (d *draft) free(kind journal.Kind, id string) string {
	free := id
	for n := 2; d.j.Exists(kind, free); n++ {
		free = fmt.Sprintf("%s-%d", id, n)
	}
	return free
}

// record composes a record of any other kind from key=value fields; dots lead
// into mappings.
func (d *draft) record(name string) error {
	id := strings.TrimSuffix(name, ".md")
	if !journal.ValidID(id, d.kind) {
		return withHint("lower-case letters, digits and hyphens", "%q cannot be a record id", name)
	}
	now := d.a.now().In(d.j.Settings.Zone)
	if datedKind(d.kind) {
		if len(id) < 10 {
			id = journal.FormatDate(now) + "-" + id
		} else if _, err := journal.ParseDate(id[:10]); err != nil {
			id = journal.FormatDate(now) + "-" + id
		}
	}
	if d.j.Exists(d.kind, id) {
		return withHint("choose another id, or edit the file", "the %s %q is there already", d.kind, id)
	}
	d.id, d.path = id, d.kind.Folder()+"/"+id+".md"
	if d.kind == journal.KindBatch {
		if err := d.batch(); err != nil {
			return err
		}
	}
	for _, f := range d.fields {
		d.entries = insert(d.entries, strings.Split(f.key, "."), yamlValue(f.value))
	}
	has := func(key string) bool {
		for _, e := range d.entries {
			if e.Key == key {
				return true
			}
		}
		return false
	}
	fill := func(key string, value func() (string, error)) error {
		if !knownField(d.kind.Fields(), key) || has(key) {
			return nil
		}
		v, err := value()
		if err == nil {
			d.entries = append(d.entries, journal.Entry{Key: key, Value: v})
		}
		return err
	}
	today := func() (string, error) { return journal.FormatDate(now), nil }
	who := func() (string, error) { return d.person(now) }
	switch d.kind {
	case journal.KindChange:
		if err := errors.Join(fill("author", who), fill("proposed", today)); err != nil {
			return err
		}
	case journal.KindEvent:
		if err := errors.Join(fill("by", who), fill("on", today)); err != nil {
			return err
		}
	case journal.KindAction:
		if err := errors.Join(fill("by", who), fill("opened", today)); err != nil {
			return err
		}
	case journal.KindLot:
		if err := fill("received", today); err != nil {
			return err
		}
	}
	d.subject = fmt.Sprintf("Add %s %s", d.kind, d.id)
	return nil
}

func datedKind(k journal.Kind) bool {
	switch k {
	case journal.KindChange, journal.KindSignoff, journal.KindEvent, journal.KindAction, journal.KindReport:
		return true
	}
	return false
}

// insert puts a value under a dotted key.
func insert(entries []journal.Entry, keys []string, value string) []journal.Entry {
	for i := range entries {
		if entries[i].Key == keys[0] {
			if len(keys) > 1 {
				entries[i].Below = insert(entries[i].Below, keys[1:], value)
			} else {
				entries[i].Value = value
			}
			return entries
		}
	}
	if len(keys) == 1 {
		return append(entries, journal.Entry{Key: keys[0], Value: value})
	}
	return append(entries, journal.Entry{Key: keys[0], Below: insert(nil, keys[1:], value)})
}
