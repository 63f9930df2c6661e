package exchange

import (
	"cmp"
	"crypto/sha1"
	"encoding/hex"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"
	"unicode/utf8"

	"wj/journal"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

// Calendar says what of a journal a calendar is made of.
type Calendar struct {
	Of   *journal.Journal
	As   string // what the journal is called among several; "" for one alone
	Due  []judge.DueTest
	Lots []*journal.Lot // whose last days are entered
	Now  time.Time
}

// NewCalendar is a calendar of due tests, of the owners that are named or of all; the last days
// of lots are in it where the brewery's own affairs are among them and lots are asked for.
func NewCalendar(j *journal.Journal, due []judge.DueTest, now time.Time, owners []string, lots bool) Calendar {
	c := Calendar{Of: j, Now: now}
	for _, d := range due {
		if len(owners) == 0 || slices.Contains(owners, d.Site.Owner) {
			c.Due = append(c.Due, d)
		}
	}
	if !lots || len(owners) > 0 && !slices.ContainsFunc(owners, func(id string) bool { o, ok := j.Owners.Get(id); return ok && o.Self }) {
		return c
	}
	today := journal.Day(now.In(j.Settings.Zone))
	for _, l := range j.Lots.List {
		if !l.Expires.Before(today) {
			c.Lots = append(c.Lots, l)
		}
	}
	return c
}

// CalendarsApart is [Apart] for the calendars of several journals: whoever has one id in
// two of them must be one owner.
func CalendarsApart(list []Calendar, named []string, all bool) error {
	owners, theirs := map[string]string{}, map[string]bool{}
	for _, c := range list {
		for _, d := range c.Due {
			id, name := d.Site.Owner, ""
			if o, ok := c.Of.Owners.Get(id); ok {
				name = o.Name
			}
			if was, there := owners[id]; there && was != name && !all {
				return OneID(id, was, name)
			}
			owners[id], theirs[id] = name, true
		}
	}
	return Apart("calendar", theirs, named, all)
}

// OneID refuses to put waters together whose owners have one id in two journals.
func OneID(id, one, other string) error {
	return journal.Hint("export one journal after another with -C, or say --all-owners", "the journals call two owners %s: %s and %s", id, one, other)
}

// ICalendar writes due tests as to-dos and the last days of lots as all-day
// events (RFC 5545). An entry's UID is the same from one export to the next, so
// that a calendar that reads the file again moves the entry instead of adding
// another one. In a calendar of several journals each entry names its journal.
func ICalendar(list ...Calendar) []byte {
	var w calendarWriter
	w.line("BEGIN", "VCALENDAR")
	w.line("VERSION", "2.0")
	w.line("PRODID", "-//wj//water journal//EN")
	w.line("CALSCALE", "GREGORIAN")
	w.line("METHOD", "PUBLISH")
	switch {
	case len(list) > 1:
		w.text("X-WR-CALNAME", fmt.Sprintf("%d journals: water tests", len(list)))
	case len(list) == 1 && list[0].Of.Settings.Name != "":
		w.text("X-WR-CALNAME", list[0].Of.Settings.Name+": water tests")
	}
	spaces := map[string]bool{}
	for _, c := range list {
		space := cmp.Or(c.Of.Settings.Journal, c.Of.Settings.Name)
		if spaces[space] { // two copies of one journal, or two of one name
			space += "\x00" + c.As
		}
		spaces[space] = true
		w.entries(c, space)
	}
	w.line("END", "VCALENDAR")
	return []byte(w.String())
}

// entries writes what a journal has in a calendar, with identifiers in its space.
func (w *calendarWriter) entries(c Calendar, space string) {
	j, label := c.Of, ""
	if c.As != "" {
		label = c.As + ": "
	}
	stamp := c.Now.UTC().Format("20060102T150405Z")
	seen := map[string]bool{}
	for _, d := range c.Due {
		id := entryID(space, "due", d.Site.ID, analyteKeys(d.Names()))
		if seen[id] {
			continue // two plans for the same tests: the earlier one counts
		}
		seen[id] = true
		names := analyteTitles(d.Names())
		w.line("BEGIN", "VTODO")
		w.line("UID", id)
		w.line("DTSTAMP", stamp)
		w.text("SUMMARY", label+"Test "+d.Site.Name+": "+strings.Join(names, ", "))
		w.line("DUE;VALUE=DATE", d.On.Format("20060102"))
		last := "never tested"
		if at := d.Last(); !at.IsZero() {
			last = "last sampled " + at.In(j.Settings.Zone).Format("2006-01-02 15:04")
		}
		w.text("DESCRIPTION", fmt.Sprintf("every %s; %s", inDays(d.Every), last))
		w.text("LOCATION", d.Site.Name)
		if p := d.Site.Place; p.Set {
			w.line("GEO", fmt.Sprintf("%s;%s", degrees(p.Latitude), degrees(p.Longitude))) // latitude first (3.8.1.6)
		}
		w.text("CATEGORIES", "water test")
		w.line("STATUS", "NEEDS-ACTION")
		w.line("END", "VTODO")
	}
	lots := append([]*journal.Lot(nil), c.Lots...)
	sort.SliceStable(lots, func(a, b int) bool { return lots[a].Expires.Before(lots[b].Expires) })
	for _, l := range lots {
		if l.Expires.IsZero() || l.Void != nil || l.Recalled != nil || !l.Finished.IsZero() {
			continue
		}
		what := l.Substance
		if len(l.Analytes) > 0 {
			what = strings.Join(analyteTitles(l.Analytes), ", ")
		} else if what == "" {
			what = "check standard"
		}
		w.line("BEGIN", "VEVENT")
		w.line("UID", entryID(space, "expiry", l.ID))
		w.line("DTSTAMP", stamp)
		w.text("SUMMARY", label+"Last day of lot "+l.ID+" ("+what+")")
		w.line("DTSTART;VALUE=DATE", l.Expires.Format("20060102"))
		w.line("DTEND;VALUE=DATE", l.Expires.AddDate(0, 0, 1).Format("20060102")) // not included (3.6.1)
		w.line("TRANSP", "TRANSPARENT")
		w.text("CATEGORIES", "lot expiry")
		w.line("END", "VEVENT")
	}
}

func analyteTitles(ids []water.ID) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id.Info().Title
	}
	return out
}

func analyteKeys(ids []water.ID) string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id.String()
	}
	sort.Strings(out)
	return strings.Join(out, " ")
}

func inDays(d time.Duration) string {
	if d%(24*time.Hour) == 0 {
		return fmt.Sprintf("%d d", d/(24*time.Hour))
	}
	return d.String()
}

// calendarSpace is the name space of our identifiers: a random UUID, drawn once.
var calendarSpace = [16]byte{0x8e, 0x1d, 0x4c, 0x0b, 0x3a, 0x57, 0x4d, 0x92, 0xa6, 0x0f, 0x5b, 0x2e, 0x71, 0xc4, 0x9d, 0x38}

// entryID is a name-based UUID (RFC 9562, section 5.5) of what the entry is
// about, in this journal. RFC 7986, section 5.3, asks for a UUID.
func entryID(space string, parts ...string) string {
	h := sha1.New()
	h.Write(calendarSpace[:])
	h.Write([]byte(strings.Join(append([]string{space}, parts...), "\x00")))
	sum := h.Sum(nil)[:16]
	sum[6] = sum[6]&0x0f | 0x50
	sum[8] = sum[8]&0x3f | 0x80
	x := hex.EncodeToString(sum)
	return x[:8] + "-" + x[8:12] + "-" + x[12:16] + "-" + x[16:20] + "-" + x[20:]
}

// calendarWriter writes content lines.
type calendarWriter struct{ strings.Builder }

// text writes a property of type TEXT (3.3.11): backslash, semicolon, comma and
// line feed are escaped; other controls cannot be there and are replaced.
func (w *calendarWriter) text(name, value string) {
	value = render.Clean(value)
	w.line(name, strings.NewReplacer("\\", "\\\\", ";", "\\;", ",", "\\,", "\n", "\\n", "\t", " ").Replace(value))
}

// line writes a content line, folded so that no line is longer than 75 octets
// without its line break, and never inside a character (3.1).
func (w *calendarWriter) line(name, value string) {
	rest, room := name+":"+value, 75
	for len(rest) > room {
		at := room
		for at > 0 && !utf8.RuneStart(rest[at]) {
			at--
		}
		w.WriteString(rest[:at] + "\r\n ")
		rest, room = rest[at:], 74
	}
	w.WriteString(rest + "\r\n")
}
