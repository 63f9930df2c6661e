package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/evidence"
	"wj/render"
)

// Log is what commits tell of a record, or of all that was recorded at a site; the newest comes first.
type Log struct {
	Schema  string     `json:"schema"`
	Entries []LogEntry `json:"entries"`

	paths bool // the entries are of several records
}

// LogEntry is one commit's word on one record; of what is not committed the commit is "".
type LogEntry struct {
	Path      string    `json:"path"`
	What      string    `json:"what"`
	Commit    string    `json:"commit"`
	Author    string    `json:"author"`
	Email     string    `json:"email"`
	When      Moment    `json:"when,omitzero"`
	Signature string    `json:"signature"` // what it proves; "" where there is none
	Subject   string    `json:"subject"`
	Reason    string    `json:"reason"`
	Boundary  bool      `json:"boundary"` // older history is not in this copy
	Changes   []Setting `json:"changes"`
}

// Setting is one change of a field; null stands for a field that was or is not there.
type Setting struct {
	Field  string  `json:"field"`
	Before *string `json:"before"`
	After  *string `json:"after"`
	// BeforeAmount and AfterAmount are the two as numbers; null where they are none.
	BeforeAmount *Amount  `json:"before_amount"`
	AfterAmount  *Amount  `json:"after_amount"`
	SameWater    bool     `json:"same_water"` // spelled differently, or in another unit
	Amendment    *Amended `json:"amendment,omitempty"`
	Unamended    bool     `json:"unamended"` // a recorded value changed, and the file does not say so

	is evidence.Setting
}

func settingOf(s evidence.Setting) Setting {
	text := func(s string) *string {
		if s == "" {
			return nil
		}
		return &s
	}
	out := Setting{Field: s.Path, Before: text(s.Before), After: text(s.After), BeforeAmount: amountOf(s.Before), AfterAmount: amountOf(s.After), SameWater: s.Sameness < evidence.Different, Unamended: s.Silent, is: s}
	if m := s.Amendment; m != nil {
		out.Amendment = &Amended{On: Moment{m.On}, By: m.By, Key: m.Key, Was: m.Was, Reason: m.Reason}
	}
	return out
}

// NewLog makes the log of entries, the newest first, at most limit of them where it is positive. With paths each entry names its
// record.
func NewLog(entries []evidence.Entry, limit int, paths bool) *Log {
	if limit > 0 && len(entries) > limit {
		entries = entries[:limit]
	}
	l := &Log{Schema: schema.ID("log"), Entries: []LogEntry{}, paths: paths}
	for _, e := range entries {
		one := LogEntry{Path: e.Path, What: e.What, Commit: e.Commit, Author: e.Name, Email: e.Email, When: Moment{e.When}, Signature: e.Proof, Subject: e.Subject, Reason: e.Reason,
			Boundary: e.Boundary, Changes: []Setting{}}
		for _, s := range e.Settings {
			one.Changes = append(one.Changes, settingOf(s))
		}
		l.Entries = append(l.Entries, one)
	}
	return l
}

// Text writes the log for a terminal.
func (l *Log) Text(out render.Output) string {
	var b strings.Builder
	var who, days []string
	for _, e := range l.Entries {
		if e.Commit == "" {
			who = append(who, "you")
			continue
		}
		who, days = append(who, e.Author), append(days, e.When.Format("2006-01-02"))
	}
	b.WriteString(render.Wrap(render.Line(byWhom(len(l.Entries), "entry", who, days)), out.Width) + "\n")
	for _, e := range l.Entries {
		who := render.Line(e.Author)
		if e.Commit == "" {
			who = "you, not committed"
		}
		head := cmp.Or(shortCommit(e.Commit), strings.Repeat("-", 10)) + "  "
		if !e.When.IsZero() {
			head += e.When.Format("2006-01-02 15:04 -07:00") + "  "
		}
		if who != "" {
			who += "  "
		}
		fmt.Fprintf(&b, "%s%s%s%s\n", out.Paint(render.Bold, head), who, e.What, render.Line(behind(", ", e.Signature)))
		if l.paths {
			fmt.Fprintf(&b, "    %s\n", render.Line(e.Path))
		}
		if e.Subject != "" {
			fmt.Fprintf(&b, "    %s\n", out.Paint(render.Dim, render.Line(e.Subject)))
		}
		if e.Boundary {
			b.WriteString("    older history is not in this copy: this commit or an older one wrote it\n")
		}
		for _, s := range e.Changes {
			fmt.Fprintf(&b, "    %s\n", render.Line(s.text()))
			s.remarks(&b, out, "        ")
		}
	}
	proofs := map[string]string{}
	for _, e := range l.Entries {
		proofs[e.Commit] = e.Signature
	}
	b.WriteString(signersNote(proofs, out))
	return b.String()
}

// shortCommit is a commit as a screen shows it; a program gets it in full.
func shortCommit(commit string) string {
	if len(commit) >= 40 {
		return commit[:10]
	}
	return commit
}

// mark is the commit as a screen shows it, marked as git blame marks what a
// shallow copy does not know.
func (p *BlamedPart) mark() string {
	short := shortCommit(p.Commit)
	if p.Boundary {
		short = "^" + short[:len(short)-1]
	}
	return short
}

// behind is a text with what goes before it; "" where there is no text.
func behind(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text
}

// text writes a change of a field: "sulfate: 84 mg/L → 86 mg/L".
func (s *Setting) text() string {
	return s.Field + ": " + cmp.Or(s.is.Before, "(absent)") + " → " + cmp.Or(s.is.After, "(gone)") + samenessText(s.is.Sameness)
}

// samenessText says after a change that it changes no water; "" where it does.
func samenessText(s evidence.Sameness) string {
	switch s {
	case evidence.SameSpelled:
		return " (only spelled differently)"
	case evidence.SameWater:
		return " (the same water in another unit)"
	}
	return ""
}

// remarks says who amended a field and why, or that nobody did.
func (s *Setting) remarks(b *strings.Builder, out render.Output, indent string) {
	if m := s.Amendment; m != nil {
		b.WriteString(indent + render.Line("amended by "+m.By+" on "+journal.FormatTime(m.On.Time)+": "+cmp.Or(m.Reason, "no reason given")) + "\n")
	}
	if s.Unamended {
		b.WriteString(indent + out.Paint(render.Warning, "! changed without an amendment in the file") + "\n")
	}
}

// Lines is the log in a few lines, one a commit, for a reviewer; older counts those that are left out.
func (l *Log) Lines(most int) (lines []string, older int) {
	for i, e := range l.Entries {
		if i == most {
			return lines, len(l.Entries) - i
		}
		who := e.Author
		if e.Commit == "" {
			who = "NOT COMMITTED"
		}
		text := e.What + " " + who + behind(", ", e.Signature)
		if !e.When.IsZero() {
			text = e.When.Format("2006-01-02 15:04") + " " + text
		}
		if e.Commit != "" {
			text += " (" + shortCommit(e.Commit) + ")"
		}
		for _, s := range e.Changes {
			text += "; " + s.text()
			if s.Amendment != nil {
				text += ": " + s.Amendment.Reason
			}
			if s.Unamended {
				text += " WITHOUT AN AMENDMENT"
			}
		}
		lines = append(lines, text)
	}
	return lines, 0
}

// Blame tells of every field of a record how it got its value, the oldest setting first.
type Blame struct {
	Schema   string       `json:"schema"`
	ID       string       `json:"id"`
	Settings []BlamedPart `json:"settings"`

	field   string           // the one asked for; "" for all
	current []evidence.Field // of the newest version
}

// BlamedPart is one setting of a field with who did it.
type BlamedPart struct {
	Setting
	SetBy  string `json:"set_by"`
	Commit string `json:"commit"` // "(the file)" where only an amendment tells of it, "(not yet)" where it is not committed
	// Boundary: older history is not in this copy, and this commit or an older one set it.
	Boundary  bool   `json:"boundary"`
	Email     string `json:"email,omitempty"`
	When      Moment `json:"when,omitzero"`
	Signature string `json:"signature"` // what that of the commit proves; "" where there is none
	Reason    string `json:"commit_reason,omitempty"`

	day string
}

// NewBlame works out who set what, from the versions of a record, the newest first, of which there is at least one. A field limits it
// to one: its path, or a reading's name. The error has the known fields as its hint.
func NewBlame(f journal.File, versions []evidence.Version, field string) (*Blame, error) {
	b := &Blame{Schema: schema.ID("blame"), ID: f.ID, Settings: []BlamedPart{}, field: field, current: evidence.Fields(versions[0].Content)}
	for _, s := range evidence.History(f.Kind, versions) {
		if field != "" && !within(s.Path, field) && !within(shortField(s.Path), field) {
			continue
		}
		p := BlamedPart{Setting: settingOf(s)}
		switch {
		case s.Version < 0:
			p.SetBy, p.day, p.Commit = s.Amendment.By, s.Amendment.On.Format("2006-01-02"), evidence.InFile
		case versions[s.Version].Commit == "":
			p.SetBy, p.day, p.Commit = "you", "now", "(not yet)"
		default:
			v := versions[s.Version]
			p.SetBy, p.day, p.Commit, p.Email, p.When, p.Reason, p.Signature = v.Name, v.When.Format("2006-01-02"), v.Commit, v.Email, Moment{v.When}, v.Reason, v.Proof
			p.Boundary = v.Boundary
		}
		b.Settings = append(b.Settings, p)
	}
	if field != "" && len(b.Settings) == 0 {
		var known []string
		for _, c := range b.current {
			known = append(known, shortField(c.Path))
		}
		return nil, journal.Hint("fields: "+strings.Join(known, ", "), "%s has no field %q", f.ID, field)
	}
	return b, nil
}

// byWhom counts what was done, by whom and in which days.
func byWhom(n int, what string, who, days []string) string {
	slices.Sort(who)
	if who = slices.Compact(who); len(who) > 3 {
		who = []string{journal.Count(len(who), "person")}
	}
	slices.Sort(days)
	text := strings.TrimSuffix(journal.Count(n, what)+" by "+strings.Join(who, ", "), " by ")
	if len(days) > 0 {
		text += ", " + days[0]
		if last := days[len(days)-1]; last != days[0] {
			text += " to " + last
		}
	}
	return text + "."
}

// Silent counts the recorded values that changed without an amendment in the file.
func (b *Blame) Silent() int {
	n := 0
	for _, s := range b.Settings {
		if s.Unamended {
			n++
		}
	}
	return n
}

func within(path, field string) bool { return path == field || strings.HasPrefix(path, field+".") }

// shown are the settings that a terminal shows: of each field the last one and what was taken away, or all of the field asked for, the
// newest first.
func (b *Blame) shown() []BlamedPart {
	newest := slices.Clone(b.Settings)
	slices.Reverse(newest)
	if b.field != "" {
		return newest
	}
	var out []BlamedPart
	for _, f := range b.current {
		if i := slices.IndexFunc(newest, func(s BlamedPart) bool { return s.Field == f.Path }); i >= 0 {
			out = append(out, newest[i])
		}
	}
	for _, s := range b.Settings {
		if s.After == nil && (s.Unamended || s.Amendment != nil) {
			out = append(out, s)
		}
	}
	return out
}

// Text writes a line for each setting that is shown, and beneath it what the field was before and why. The parts of a reading share a
// line while they have one origin.
func (b *Blame) Text(out render.Output) string {
	shown := b.shown()
	names := 0
	for _, s := range shown {
		names = max(names, render.Width(render.Line(s.SetBy)))
	}
	var w strings.Builder
	var who, days []string
	for _, s := range shown {
		who = append(who, s.SetBy)
		if s.Commit != "(not yet)" {
			days = append(days, s.day)
		}
	}
	head := b.ID + ": " + byWhom(len(shown), "setting", who, days)
	if n := b.Silent(); n > 0 {
		head = strings.TrimSuffix(head, ".") + fmt.Sprintf("; %d changed without an amendment.", n)
	}
	w.WriteString(render.Wrap(render.Line(head), out.Width) + "\n")
	for i := 0; i < len(shown); i++ {
		s := shown[i]
		text := shortField(s.Field) + ": " + cmp.Or(s.is.After, "(gone)")
		for ; b.field == "" && i+1 < len(shown) && s.Before == nil && shown[i+1].Before == nil && shown[i+1].is.Version == s.is.Version && sameReading(s.Field, shown[i+1].Field); i++ {
			next := shown[i+1]
			text += ", " + next.Field[strings.LastIndexByte(next.Field, '.')+1:] + " " + next.is.After
		}
		who := render.Line(s.SetBy)
		head := fmt.Sprintf("%s %-10s %s", out.Paint(render.Dim, fmt.Sprintf("%-10s", s.mark())), s.day, who)
		indent := strings.Repeat(" ", 24+names)
		text = render.Line(text)
		switch {
		case out.Person && out.Width < 60: // below the head
			indent = "    "
			text = "\n" + indent + text
		case out.Person:
			text = strings.ReplaceAll(render.Wrap(text, out.Width-len(indent)), "\n", "\n"+indent)
			fallthrough
		default:
			head += strings.Repeat(" ", names-render.Width(who)) + "  "
		}
		w.WriteString(head + text + "\n")
		if s.Before != nil {
			before := "was " + *s.Before
			if s.is.Sameness == evidence.SameWater {
				before += " (the same water in another unit)"
			}
			w.WriteString(indent + render.Line(before) + "\n")
		}
		s.remarks(&w, out, indent)
	}
	proofs := map[string]string{}
	for _, s := range shown {
		proofs[s.Commit+s.SetBy] = s.Signature
	}
	w.WriteString(signersNote(proofs, out))
	return w.String()
}

// signersNote says of how many of the names no signature shows that they are
// right. proofs is what shows each; "" is nothing.
func signersNote(proofs map[string]string, out render.Output) string {
	n := 0
	for _, proof := range proofs {
		if !strings.HasPrefix(proof, "signed by ") {
			n++
		}
	}
	switch {
	case n == 0:
		return ""
	case n == len(proofs):
		return out.Paint(render.Dim, "Signer not verified: names are as the commits and amendments state them.") + "\n"
	}
	return out.Paint(render.Dim, fmt.Sprintf("Signer not verified: %d of %d, of which no signature shows the name.", n, len(proofs))) + "\n"
}

// sameReading reports whether two fields are parts of one reading.
func sameReading(a, b string) bool {
	x, y := strings.Split(a, "."), strings.Split(b, ".")
	return len(x) == 3 && len(y) == 3 && x[0] == y[0] && x[1] == y[1] && (x[2] == "value" || x[2] == "amount")
}
