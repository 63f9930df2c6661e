package writer

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
)

// Field is one field as it is typed; dots in the key lead into mappings.
type Field struct{ Key, Value string }

// ParseFields reads key=value arguments.
func ParseFields(args []string) ([]Field, error) {
	var out []Field
	for _, arg := range args {
		key, value, ok := strings.Cut(arg, "=")
		if !ok || key == "" {
			return nil, journal.Hint("write it as sulfate=\"84 mg/L\"", "%q is not key=value", arg)
		}
		out = append(out, Field{strings.TrimSpace(key), strings.TrimSpace(value)})
	}
	return out, nil
}

// Draft is a record being composed. Session and Other fill it in.
type Draft struct {
	Journal *journal.Journal
	Now     time.Time // in the journal's zone
	By      string    // who records, where the person is named; "": whoever git's address is
	Email   string    // git's address
	Kind    journal.Kind
	Fields  []Field
	Body    string

	ID, Stem, Path string
	Entries        []journal.Entry
	Subject        string
	Notes          []string // what the person should know of what was filled in
}

// Source is the record as its file will be.
func (d *Draft) Source() []byte { return journal.Compose(d.Kind, d.Entries, d.Body) }

// File is the file to write.
func (d *Draft) File() File { return File{Path: d.Path, New: d.Source(), Stem: d.Stem} }

// Person is who records, on a day.
func (d *Draft) Person(on time.Time) (string, error) { return Person(d.Journal, d.By, d.Email, on) }

// Free is the id, or where it is taken the first of id-2, id-3 … that is not.
func Free(j *journal.Journal, kind journal.Kind, id string) string {
	free := id
	for n := 2; j.Exists(kind, free); n++ {
		free = fmt.Sprintf("%s-%d", id, n)
	}
	return free
}

// YAML writes a value as it goes into a file: what is a flow collection already stays, all
// else is quoted where it must be.
func YAML(s string) string {
	flow := strings.HasPrefix(s, "[") && strings.HasSuffix(s, "]") || strings.HasPrefix(s, "{") && strings.HasSuffix(s, "}")
	if flow && !strings.ContainsAny(s, "\r\n") {
		return s
	}
	return frontmatter.Quote(s)
}

// fieldAt is the schema's field that the keys lead to.
func fieldAt(fields []journal.Field, keys []string) (journal.Field, bool) {
	for _, f := range fields {
		if f.Key != keys[0] {
			continue
		}
		if len(keys) == 1 {
			return f, true
		}
		return fieldAt(f.Fields, keys[1:])
	}
	return journal.Field{}, false
}

func hasField(kind journal.Kind, key string) bool {
	_, ok := fieldAt(kind.Fields(), []string{key})
	return ok
}

// clock brings a time that was typed without its day or offset to what files have, by the
// journal's zone. Everything else stays as it is.
func clock(kind journal.Kind, f Field, on time.Time) (Field, error) {
	field, ok := fieldAt(kind.Fields(), strings.Split(f.Key, "."))
	if !ok || field.Type != journal.TypeTime && field.Type != journal.TypeDateOrTime || strings.HasPrefix(f.Value, "{") {
		return f, nil
	}
	if _, err := journal.ParseDate(f.Value); err == nil && field.Type == journal.TypeDateOrTime {
		return f, nil
	}
	t, err := journal.ParseClock(f.Value, on)
	if err != nil {
		var wrong *journal.TimeError
		if errors.As(err, &wrong) {
			return f, journal.Hint(wrong.Help, "%s: %s", f.Key, wrong.Message)
		}
		return f, fmt.Errorf("%s: %w", f.Key, err)
	}
	if _, err := journal.ParseTime(f.Value); err != nil {
		f.Value = journal.FormatTime(t)
	}
	return f, nil
}

// Name gives a record of a dated kind the next free id of today.
func (d *Draft) Name(what string) {
	d.Stem = journal.FormatDate(d.Now) + "-" + what
	d.ID = Free(d.Journal, d.Kind, d.Stem)
	d.Path = d.Kind.Folder() + "/" + d.ID + ".md"
}

// Other names a record of any kind but a session, and reads its times.
func (d *Draft) Other(name string) error {
	id := strings.TrimSuffix(name, ".md")
	if !journal.ValidID(id, d.Kind) {
		return journal.Hint("lower-case letters, digits and hyphens", "%q cannot be a record id", name)
	}
	day := d.Now
	for i, f := range d.Fields {
		f, err := clock(d.Kind, f, d.Now)
		if err != nil {
			return err
		}
		d.Fields[i] = f
		if key := dayField(d.Kind); key != "" && f.Key == key && len(f.Value) >= 10 {
			if t, err := journal.ParseDate(f.Value[:10]); err == nil {
				day = t
			}
		}
	}
	if dayField(d.Kind) != "" {
		if len(id) < 10 {
			id = journal.FormatDate(day) + "-" + id
		} else if _, err := journal.ParseDate(id[:10]); err != nil {
			id = journal.FormatDate(day) + "-" + id
		}
	}
	if d.Journal.Exists(d.Kind, id) {
		return journal.Hint("choose another id, or edit the file", "the %s %q is there already", d.Kind, id)
	}
	d.ID, d.Path = id, d.Kind.Folder()+"/"+id+".md"
	d.Subject = fmt.Sprintf("Add %s %s", d.Kind, d.ID)
	return nil
}

// dayField is the field whose day begins the ids of a kind; "" where they have none.
func dayField(k journal.Kind) string {
	switch k {
	case journal.KindChange:
		return "proposed"
	case journal.KindSignoff, journal.KindEvent:
		return "on"
	case journal.KindAction:
		return "opened"
	case journal.KindReport:
		return "sent"
	}
	return ""
}

// Fill takes the fields as the record's entries and adds who and when where they were not
// given.
func (d *Draft) Fill() error {
	for _, f := range d.Fields {
		d.Entries = insert(d.Entries, strings.Split(f.Key, "."), YAML(f.Value))
	}
	today := func() (string, error) { return journal.FormatDate(d.Now), nil }
	who := func() (string, error) { return d.Person(d.Now) }
	fill := map[journal.Kind]map[string]func() (string, error){
		journal.KindChange: {"author": who, "proposed": today},
		journal.KindEvent:  {"by": who, "on": today},
		journal.KindAction: {"by": who, "opened": today},
		journal.KindLot:    {"received": today},
	}[d.Kind]
	for key, value := range fill {
		if d.has(key) {
			continue
		}
		v, err := value()
		if err != nil {
			return err
		}
		d.Entries = append(d.Entries, journal.Entry{Key: key, Value: v})
	}
	return nil
}

func (d *Draft) has(key string) bool {
	for _, e := range d.Entries {
		if e.Key == key {
			return true
		}
	}
	return false
}

// insert puts a value under keys that lead into mappings.
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
