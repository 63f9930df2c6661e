package main

import (
	"fmt"
	"strings"
	"time"
)

// reading is one line of a session as the display showed it.
type reading struct {
	key        string
	shown      []string // "118 mg/L CaCO3"; several are replicates
	dilution   int
	lot        string
	instrument string
	bare       bool
}

type pair struct{ key, value string }

// session is a test session before it is written.
type session struct {
	id, site        string
	sampled, tested time.Time
	entered         time.Time // when it was committed
	by, recordedBy  string
	instrument      string
	place           string
	source          string
	laboratory      string
	sample          string
	standard        []pair
	standardLot     string
	duplicateOf     string
	change, batch   string
	liquor          string // the change whose liquor is in the tank; not written
	readings        []reading
	amended, void   string
	ignore          []pair
	body            string
}

func (s *session) path() string { return fmt.Sprintf("sessions/%s/%s.md", s.id[:4], s.id) }

func (s *session) reading(key string) *reading {
	for i := range s.readings {
		if s.readings[i].key == key {
			return &s.readings[i]
		}
	}
	return nil
}

func moment(t time.Time) string { return t.In(vilnius).Format("2006-01-02T15:04-07:00") }

// String writes the session in the form that the program itself writes: keys
// in the order of the schema, readings as aligned lines.
func (s *session) String() string {
	var b strings.Builder
	field := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%s: %s\n", key, value)
		}
	}
	b.WriteString("---\n")
	field("site", s.site)
	field("sampled", moment(s.sampled))
	if !s.tested.IsZero() {
		field("tested", moment(s.tested))
	}
	field("by", s.by)
	field("recorded_by", s.recordedBy)
	field("instrument", s.instrument)
	field("place", s.place)
	field("source", s.source)
	field("laboratory", s.laboratory)
	field("sample", s.sample)
	if len(s.standard) > 0 {
		b.WriteString("standard: {")
		for i, p := range s.standard {
			if i > 0 {
				b.WriteString(", ")
			}
			b.WriteString(p.key + ": " + p.value)
		}
		b.WriteString("}\n")
	}
	field("standard_lot", s.standardLot)
	field("duplicate_of", s.duplicateOf)
	field("change", s.change)
	field("batch", s.batch)
	b.WriteString("readings:\n")
	width := 0
	for _, r := range s.readings {
		width = max(width, len(r.key))
	}
	for _, r := range s.readings {
		fmt.Fprintf(&b, "  %-*s %s\n", width+1, r.key+":", r.String())
	}
	b.WriteString(s.amended)
	b.WriteString(s.void)
	ignored(&b, s.ignore)
	b.WriteString("---\n")
	if s.body != "" {
		b.WriteString("\n" + strings.TrimSpace(s.body) + "\n")
	}
	return b.String()
}

func ignored(b *strings.Builder, rules []pair) {
	switch len(rules) {
	case 0:
	case 1:
		fmt.Fprintf(b, "ignore: {%s: %q}\n", rules[0].key, rules[0].value)
	default:
		b.WriteString("ignore:\n")
		for _, p := range rules {
			fmt.Fprintf(b, "  %s: %q\n", p.key, p.value)
		}
	}
}

// String is the reading in one line.
func (r reading) String() string {
	value := r.shown[0]
	if len(r.shown) > 1 {
		value = "[" + strings.Join(r.shown, ", ") + "]"
	}
	if r.bare {
		return value
	}
	parts := []string{"value: " + value}
	if r.dilution > 1 {
		parts = append(parts, fmt.Sprintf("dilution: %d", r.dilution))
	}
	if r.lot != "" {
		parts = append(parts, "lot: "+r.lot)
	}
	if r.instrument != "" {
		parts = append(parts, "instrument: "+r.instrument)
	}
	return "{" + strings.Join(parts, ", ") + "}"
}
