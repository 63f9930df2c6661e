package history

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Person is who an author or committer line claims to be: any string can be
// put there, only a signature proves anything.
type Person struct {
	Name  string
	Email string
	When  time.Time // in the zone that the line states; zero where it states none
}

// Revision is one commit.
type Revision struct {
	Hash      Hash
	Tree      Hash
	Parents   []Hash
	Author    Person
	Committer Person
	Message   string // valid UTF-8
	Signed    bool   // carries a signature header; whether it holds is for Verify
}

// Subject is the first paragraph of the message on one line, as git shows it.
func (r Revision) Subject() string {
	first, _, _ := strings.Cut(strings.TrimLeft(r.Message, "\n"), "\n\n")
	return strings.Join(strings.Fields(first), " ")
}

// Named is what a person is shown: the short hash and the day, in a zone.
func (r Revision) Named(zone *time.Location) string {
	return r.Hash.Short() + " of " + r.Committer.When.In(zone).Format(time.DateOnly)
}

var trailerLine = pattern(`^([A-Za-z0-9][A-Za-z0-9-]*): *(.*)$`)

// Trailers gives the "Key: value" lines of the last paragraph, folded lines
// joined, where every line of it is one; the subject is never a trailer.
func (r Revision) Trailers() []Trailer {
	message := strings.TrimSpace(r.Message)
	at := strings.LastIndex(message, "\n\n")
	if at < 0 {
		return nil
	}
	var trailers []Trailer
	for line := range strings.Lines(message[at+2:]) {
		line = strings.TrimRight(line, "\r\n")
		if m := trailerLine().FindStringSubmatch(line); m != nil {
			trailers = append(trailers, Trailer{m[1], strings.TrimSpace(m[2])})
		} else if folded := strings.TrimSpace(line); folded != "" && (line[0] == ' ' || line[0] == '\t') && len(trailers) > 0 {
			trailers[len(trailers)-1].Value += " " + folded
		} else {
			return nil
		}
	}
	return trailers
}

// header is one line of a commit or tag object with its continuation lines:
// raw[start:end], line ends included.
type header struct {
	key        string
	start, end int
	folded     bool
}

// splitHeaders finds the header lines of a raw commit or tag and where the
// message begins. A NUL in the headers, a line without a key or a continuation
// of nothing is an error.
func splitHeaders(raw []byte) (headers []header, message int, err error) {
	at := 0
	for at < len(raw) {
		if raw[at] == '\n' {
			return headers, at + 1, nil
		}
		end := len(raw)
		if i := bytes.IndexByte(raw[at:], '\n'); i >= 0 {
			end = at + i + 1
		}
		line := raw[at:end]
		if bytes.IndexByte(line, 0) >= 0 {
			return nil, 0, errors.New("NUL byte in a header")
		}
		if line[0] == ' ' {
			if len(headers) == 0 {
				return nil, 0, errors.New("first header line is a continuation")
			}
			headers[len(headers)-1].end, headers[len(headers)-1].folded = end, true
		} else {
			key, _, ok := bytes.Cut(line, []byte(" "))
			if !ok || len(key) == 0 {
				return nil, 0, fmt.Errorf("header line %q has no value", cut(line))
			}
			headers = append(headers, header{key: string(key), start: at, end: end})
		}
		at = end
	}
	return headers, len(raw), nil
}

func cut(b []byte) []byte { return b[:min(len(b), 40)] }

// value is the text of a header without key, line end and the space that marks
// continuation lines.
func (h header) value(raw []byte) string {
	text := strings.TrimSuffix(string(raw[h.start+len(h.key)+1:h.end]), "\n")
	return strings.ReplaceAll(text, "\n ", "\n")
}

// checkHeaders says why the headers of a commit are not exactly what git
// writes: tree, parents, author, committer, each in its place and, parents and
// merge tags aside, once. Two programs that read different ones of two equal
// headers would see different contents under one signature.
func checkHeaders(headers []header) error {
	want := []string{"tree", "parent", "author", "committer"}
	at := 0
	count := map[string]int{}
	for _, h := range headers {
		count[h.key]++
		for at < len(want) && h.key != want[at] && (want[at] == "parent" || count[want[at]] > 0) {
			at++
		}
		switch {
		case h.folded && slices.Contains(want, h.key):
			return fmt.Errorf("header %q goes on in another line", h.key)
		case at < len(want) && h.key != want[at]:
			return fmt.Errorf("header %q where %q belongs", h.key, want[at])
		case h.key == "parent" && at == len(want), count[h.key] > 1 && h.key != "parent" && h.key != "mergetag":
			return fmt.Errorf("header %q is repeated or out of place", h.key)
		}
	}
	for _, key := range []string{"tree", "author", "committer"} {
		if count[key] != 1 {
			return fmt.Errorf("header %q is missing", key)
		}
	}
	return nil
}

// parseRevision reads a raw commit object. It takes the first of repeated
// headers and the first line of a folded one, as git does: an audit must be able to show a strange commit. What it
// cannot do without is a tree.
func parseRevision(h Hash, raw []byte) (Revision, error) {
	r := Revision{Hash: h}
	headers, message, err := splitHeaders(raw)
	if err != nil {
		return r, fmt.Errorf("commit %s: %w: %w", h, ErrCorrupt, err)
	}
	encoding := ""
	seen := map[string]bool{}
	for i, head := range headers {
		if head.key == "parent" {
			if i > 0 && headers[i-1].key != "tree" && headers[i-1].key != "parent" {
				continue // git reads parents right behind the tree
			}
		} else if seen[head.key] {
			continue
		}
		seen[head.key] = true
		switch head.key {
		case "tree", "parent":
			line, _, _ := strings.Cut(head.value(raw), "\n")
			name, err := ParseHash(line)
			if err != nil {
				return r, fmt.Errorf("commit %s: %w: %w", h, ErrCorrupt, err)
			}
			if head.key == "tree" {
				r.Tree = name
			} else {
				r.Parents = append(r.Parents, name)
			}
		case "author":
			r.Author = parsePerson(head.value(raw))
		case "committer":
			r.Committer = parsePerson(head.value(raw))
		case "encoding":
			encoding = strings.ToLower(head.value(raw))
		case "gpgsig", "gpgsig-sha256":
			r.Signed = true
		}
	}
	if !seen["tree"] {
		return r, fmt.Errorf("commit %s: %w: no tree", h, ErrCorrupt)
	}
	r.Message = text(raw[message:], encoding)
	if encoding != "" {
		for _, p := range []*Person{&r.Author, &r.Committer} {
			p.Name, p.Email = text([]byte(p.Name), encoding), text([]byte(p.Email), encoding)
		}
	}
	return r, nil
}

// text gives bytes as valid UTF-8. Latin-1, whose bytes are the first code
// points of Unicode, is converted; of others the bytes that are not UTF-8
// become U+FFFD.
func text(raw []byte, encoding string) string {
	switch encoding {
	case "iso-8859-1", "iso8859-1", "latin1", "latin-1":
		runes := make([]rune, len(raw))
		for i, b := range raw {
			runes[i] = rune(b)
		}
		return string(runes)
	}
	return strings.ToValidUTF8(string(raw), "\uFFFD")
}

// parsePerson reads "Name <email> seconds ±hhmm". What is missing stays
// empty, as git prints such commits.
func parsePerson(line string) Person { return new(words).person([]byte(line)) }

// words keeps the names, addresses and zones that commit after commit repeats.
type words struct {
	known map[string]string
	zones map[int]*time.Location
}

const (
	maxWords = 10_000
	maxTime  = 1 << 40 // seconds
)

func (w *words) word(b []byte) string {
	if s, ok := w.known[string(b)]; ok {
		return s
	}
	if w.known == nil || len(w.known) > maxWords {
		w.known = map[string]string{}
	}
	s := string(b)
	w.known[s] = s
	return s
}

func (w *words) zone(offset int) *time.Location {
	if z := w.zones[offset]; z != nil {
		return z
	}
	if w.zones == nil {
		w.zones = map[int]*time.Location{}
	}
	w.zones[offset] = time.FixedZone("", offset)
	return w.zones[offset]
}

func (w *words) person(line []byte) Person {
	var p Person
	line, _, _ = bytes.Cut(line, []byte("\n")) // git reads no folded person
	open, shut := bytes.IndexByte(line, '<'), bytes.LastIndexByte(line, '>')
	if open < 0 || shut < open {
		p.Name = w.word(bytes.TrimSpace(line))
		return p
	}
	p.Name, p.Email = w.word(bytes.TrimSpace(line[:open])), w.word(bytes.TrimSpace(line[open+1:shut]))
	seconds, zone, _ := bytes.Cut(bytes.TrimSpace(line[shut+1:]), []byte(" "))
	unix, err := strconv.ParseInt(string(seconds), 10, 64)
	if err != nil || unix < 0 || unix > maxTime {
		return p
	}
	p.When = time.Unix(unix, 0).UTC()
	if n, err := strconv.Atoi(string(zone)); err == nil && len(zone) == 5 && n > -2400 && n < 2400 {
		if offset := (n/100)*3600 + n%100*60; offset != 0 {
			p.When = p.When.In(w.zone(offset))
		}
	}
	return p
}

// parse reads a commit of a log.
func (w *words) parse(c *commit) (Revision, error) {
	if r, ok := w.revision(c.name, c.raw); ok {
		return r, nil
	}
	return parseRevision(c.name, c.raw)
}

// revision reads a commit that has only the four headers that all have, in
// git's order; false where it is not so plain.
func (w *words) revision(h Hash, raw []byte) (Revision, bool) {
	r := Revision{Hash: h}
	name := func(key string, to *Hash) (ok bool) {
		*to, raw, ok = nameLine(raw, key)
		return ok
	}
	line := func(key string) ([]byte, bool) {
		end := bytes.IndexByte(raw, '\n')
		if end < len(key) || string(raw[:len(key)]) != key {
			return nil, false
		}
		value := raw[len(key):end]
		raw = raw[end+1:]
		return value, bytes.IndexByte(value, 0) < 0
	}
	if !name("tree ", &r.Tree) {
		return r, false
	}
	for bytes.HasPrefix(raw, []byte("parent ")) {
		var parent Hash
		if !name("parent ", &parent) {
			return r, false
		}
		r.Parents = append(r.Parents, parent)
	}
	author, ok1 := line("author ")
	committer, ok2 := line("committer ")
	if !ok1 || !ok2 || len(raw) == 0 || raw[0] != '\n' {
		return r, false
	}
	r.Author, r.Committer = w.person(author), w.person(committer)
	r.Message = text(raw[1:], "")
	return r, true
}

// links reads only what a walk needs of a raw commit: tree, parents and
// committer time in Unix seconds.
func links(raw []byte) (tree Hash, parents []Hash, when int64, err error) {
	broken := fmt.Errorf("%w: commit headers", ErrCorrupt)
	tree, rest, ok := nameLine(raw, "tree ")
	if !ok {
		return tree, nil, 0, broken
	}
	for bytes.HasPrefix(rest, []byte("parent ")) {
		var parent Hash
		if parent, rest, ok = nameLine(rest, "parent "); !ok {
			return tree, nil, 0, broken
		}
		parents = append(parents, parent)
	}
	for len(rest) > 0 && rest[0] != '\n' {
		line, after, _ := bytes.Cut(rest, []byte("\n"))
		if person, ok := bytes.CutPrefix(line, []byte("committer ")); ok {
			if when := parsePerson(string(person)).When; !when.IsZero() {
				return tree, parents, when.Unix(), nil
			}
			break
		}
		rest = after
	}
	return tree, parents, 0, nil
}

// nameLine cuts a line of a key and an object name off a commit's headers.
func nameLine(raw []byte, key string) (name Hash, rest []byte, ok bool) {
	line, rest, _ := bytes.Cut(raw, []byte("\n"))
	digits, ok := bytes.CutPrefix(line, []byte(key))
	if !ok {
		return Hash{}, raw, false
	}
	name, ok = hexHash(digits)
	return name, rest, ok
}
