package server

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/judge"
	"wj/water"
)

// briefly says in a few words what a record is.
func briefly(j *journal.Journal, k journal.Kind, id string) string {
	switch k {
	case journal.KindPerson:
		return j.PersonName(id)
	case journal.KindSite:
		if r, ok := j.Sites.Get(id); ok {
			return r.Name + ", " + r.Stage
		}
	case journal.KindOwner:
		if r, ok := j.Owners.Get(id); ok {
			return r.Name
		}
	case journal.KindInstrument:
		if r, ok := j.Instruments.Get(id); ok {
			return r.Name
		}
	case journal.KindMethod:
		if r, ok := j.Methods.Get(id); ok {
			return r.Name
		}
	case journal.KindTarget:
		if r, ok := j.Targets.Get(id); ok {
			return r.Name
		}
	case journal.KindLot:
		if r, ok := j.Lots.Get(id); ok {
			text := lotContent(r)
			if !r.Expires.IsZero() {
				text += ", until " + journal.FormatDate(r.Expires)
			}
			if r.Recalled != nil {
				text += ", recalled"
			}
			return text
		}
	case journal.KindSession:
		if r, ok := j.Sessions.Get(id); ok {
			return r.Site + ", " + journal.FormatTime(r.Sampled)
		}
	case journal.KindChange:
		if r, ok := j.Changes.Get(id); ok {
			return "for " + r.For + ", by " + r.Author
		}
	}
	return k.String()
}

func lotContent(l *journal.Lot) string {
	var parts []string
	for _, id := range l.Analytes {
		parts = append(parts, id.String())
	}
	if l.Substance != "" {
		parts = append(parts, l.Substance)
	}
	if len(l.Standard) > 0 {
		parts = append(parts, "check standard")
	}
	return strings.Join(parts, ", ")
}

// describe says what a record is, in Markdown.
func describe(j *journal.Journal, f journal.File, now time.Time) string {
	var b strings.Builder
	fmt.Fprintf(&b, "**%s** (%s `%s`)", plain(briefly(j, f.Kind, f.ID)), f.Kind, strings.ReplaceAll(f.ID, "`", ""))
	line := func(format string, args ...any) {
		fmt.Fprintf(&b, "\n- %s", plain(fmt.Sprintf(format, args...)))
	}
	day := func(what string, t time.Time) {
		if !t.IsZero() {
			line("%s %s", what, journal.FormatDate(t))
		}
	}
	switch f.Kind {
	case journal.KindLot:
		if l, ok := j.Lots.Get(f.ID); ok {
			lotLines(j, l, now, line, day)
		}
	case journal.KindSite:
		if s, ok := j.Sites.Get(f.ID); ok {
			siteLines(j, s, line)
		}
	case journal.KindPerson:
		if p, ok := j.People.Get(f.ID); ok {
			for _, r := range p.Roles {
				line("%s%s", r.Role, spanText(r.Span))
			}
			day("since", p.Since)
			day("until", p.Until)
		}
	case journal.KindInstrument:
		if in, ok := j.Instruments.Get(f.ID); ok {
			measuresLines(in.Measures, line)
		}
	case journal.KindMethod:
		if m, ok := j.Methods.Get(f.ID); ok {
			measuresLines(m.Measures, line)
			for i, s := range m.Steps {
				line("%d. %s", i+1, s.Do)
			}
		}
	case journal.KindSession:
		if s, ok := j.Sessions.Get(f.ID); ok {
			line("sampled %s at %s by %s", journal.FormatTime(s.Sampled), s.Site, j.PersonName(s.By))
			for _, r := range typedReadings(s) {
				line("%s", r)
			}
			if s.Void != nil {
				line("void: %s", s.Void.Reason)
			}
		}
	default:
		generalLines(j, f, line)
	}
	return b.String()
}

func spanText(s journal.Span) string {
	text := ""
	if !s.Since.IsZero() {
		text += " from " + journal.FormatDate(s.Since)
	}
	if !s.Until.IsZero() {
		text += " until " + journal.FormatDate(s.Until)
	}
	return text
}

func lotLines(j *journal.Journal, l *journal.Lot, now time.Time, line func(string, ...any), day func(string, time.Time)) {
	if l.Recalled != nil {
		line("recalled on %s: %s", journal.FormatDate(l.Recalled.On), l.Recalled.Reason)
	}
	if !l.Expires.IsZero() {
		word := "good until"
		if l.ExpiredOn(now) {
			word = "expired on"
		}
		day(word, l.Expires)
	}
	day("received", l.Received)
	day("opened", l.Opened)
	day("finished", l.Finished)
	if used := judge.TestsUsed(j)[l.ID] + l.Losses; l.Tests > 0 {
		line("%d of %d tests used", used, l.Tests)
	} else if used > 0 {
		line("%s used", journal.Count(used, "test"))
	}
	for id := range water.NumAnalytes {
		if q, ok := l.Standard[id]; ok {
			line("%s: %s", id, q)
		}
	}
	if l.Strength != "" {
		line("strength %s", l.Strength)
	}
	if l.Grade != "" {
		line("grade: %s", l.Grade)
	}
}

func siteLines(j *journal.Journal, s *journal.Site, line func(string, ...any)) {
	owner := s.Owner
	if o, ok := j.Owners.Get(owner); ok {
		owner = o.Name
	}
	line("%s, water of %s", s.Stage, owner)
	if len(s.FedBy) > 0 {
		line("fed by %s", strings.Join(s.FedBy, ", "))
	}
	var last *journal.Session
	n := 0
	for _, session := range j.Sessions.List {
		if session.Site == s.ID && session.Void == nil {
			n++
			if last == nil || session.Sampled.After(last.Sampled) {
				last = session
			}
		}
	}
	if last == nil {
		line("no session yet")
		return
	}
	line("sessions: %d, the last %s: %s", n, last.ID, strings.Join(typedReadings(last), "; "))
}

// typedReadings are the readings of a session as they were typed, those that
// cannot be read left out.
func typedReadings(s *journal.Session) []string {
	var out []string
	for i := range s.Readings {
		if r := &s.Readings[i]; !r.Faulty {
			out = append(out, r.Analyte.String()+" "+journal.TypedReading(r))
		}
	}
	return out
}

func measuresLines(measures map[water.ID]*journal.Measures, line func(string, ...any)) {
	for id := range water.NumAnalytes {
		m, ok := measures[id]
		if !ok {
			continue
		}
		text := id.String()
		if m.Low.Set && m.High.Set {
			text += fmt.Sprintf(": %s to %s", m.Low, m.High)
		}
		line("%s", text)
	}
}

// generalLines shows the single values at the top of a record.
func generalLines(j *journal.Journal, f journal.File, line func(string, ...any)) {
	d, _, err := j.ReadRecord(f)
	if err != nil || !d.OK() {
		return
	}
	shown := 0
	for c := range d.Children(0) {
		n := d.Nodes[c]
		if n.Kind == frontmatter.Scalar && shown < 8 {
			line("%s: %s", d.Key(c), d.Text(c))
			shown++
		}
	}
}
