package history

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"
	"unicode"
)

var (
	fullName  = pattern(`^(?:[0-9a-fA-F]{40}|[0-9a-fA-F]{64})$`)
	shortName = pattern(`^[0-9a-fA-F]{4,63}$`)
	dateName  = pattern(`^\d{4}-\d{2}-\d{2}([T ].*)?$`)
	stepsBack = pattern(`^(.*?)((?:~\d*|\^\d*|\^\{commit\}|\^\{\})*)$`)
	oneStep   = pattern(`~\d*|\^\{commit\}|\^\{\}|\^\d*`)
)

// maxSteps bounds REV~n: nobody counts further by hand.
const maxSteps = 10_000_000

// Resolve finds a commit by what a person types: HEAD or @, a branch, a tag, a
// remote branch, a full or unambiguous short object name, each with ~n and ^n
// after it as git understands them, or a date.
//
// A date (2026-08-01, to the end of that day in zone; or with a time, to that
// moment, RFC 3339 with or without offset) means the last commit on the first
// parents of HEAD that was there by then: by its committer time, and by ancestry
// where one clock is wrong. A nil zone is UTC.
// Nothing that is typed is ever taken as an option. The error satisfies
// errors.Is with ErrRevision, ErrAmbiguous, ErrUnborn or ErrMissing.
func (h *History) Resolve(rev string, zone *time.Location) (Revision, error) {
	fail := func(reason error, hint string) (Revision, error) {
		return Revision{}, &Trouble{Reason: reason, Doing: "find revision " + strconv.Quote(rev), Hint: hint}
	}
	if rev == "" || strings.HasPrefix(rev, "-") || strings.ContainsFunc(rev, unicode.IsControl) || len(rev) > 1024 {
		return fail(ErrRevision, "a branch, a tag, a commit or a date (2026-08-01)")
	}
	m := stepsBack().FindStringSubmatch(rev)
	name, steps := m[1], m[2]
	r, err := h.named(name, zone)
	if errors.Is(err, ErrAmbiguous) {
		return fail(ErrAmbiguous, "type more of its digits")
	}
	var explained *Trouble
	if errors.Is(err, ErrRevision) && !errors.As(err, &explained) {
		hint := "a branch, a tag, a commit or a date (2026-08-01)"
		if h.Shallow() {
			hint += "; this copy is shallow and may lack it"
		}
		return fail(ErrRevision, hint)
	}
	if err != nil {
		return r, err
	}
	for _, step := range oneStep().FindAllString(steps, -1) {
		n := 1
		if digits := strings.Trim(step, "~^"); digits != "" && !strings.HasPrefix(digits, "{") {
			if n, err = strconv.Atoi(digits); err != nil || n > maxSteps {
				return fail(ErrRevision, "so far back there is nothing")
			}
		}
		switch {
		case strings.HasPrefix(step, "^{"), n == 0:
		case step[0] == '^':
			parents := h.parents(r)
			if n > len(parents) {
				return fail(ErrRevision, r.Hash.Short()+" has "+strconv.Itoa(len(parents))+" parents here")
			}
			if r, err = h.Revision(parents[n-1]); err != nil {
				return r, err
			}
		default:
			var last *commit
			count := 0
			err := h.store.log(context.Background(), logQuery{tip: r.Hash, firstParent: true, limit: n + 1}, func(c *commit) error {
				last = c
				count++
				return nil
			})
			if err != nil {
				return r, h.explainMissing(err)
			}
			if count <= n {
				return fail(ErrRevision, "history begins at "+last.name.Short()+h.shallowNote())
			}
			if r, err = h.Revision(last.name); err != nil {
				return r, err
			}
		}
	}
	return r, nil
}

func (h *History) shallowNote() string {
	if h.Shallow() {
		return " in this shallow copy"
	}
	return ""
}

// named resolves a name without steps, in the order of gitrevisions(7): a full
// object name, a reference, then a short object name; last a date.
func (h *History) named(name string, zone *time.Location) (Revision, error) {
	if fullName().MatchString(name) {
		hash, err := ParseHash(strings.ToLower(name))
		if err != nil {
			return Revision{}, err
		}
		r, err := h.peel(hash)
		if errors.Is(err, ErrMissing) {
			return Revision{}, ErrRevision
		}
		return r, err
	}
	if name == "HEAD" || name == "@" {
		return h.Head()
	}
	if hash, ok, err := h.reference(name); err != nil || ok {
		if err != nil {
			return Revision{}, err
		}
		return h.peel(hash)
	}
	if shortName().MatchString(name) {
		return h.abbreviated(strings.ToLower(name))
	}
	if dateName().MatchString(name) {
		return h.asOf(name, zone)
	}
	return Revision{}, ErrRevision
}

// abbreviated finds the one commit whose name begins so; other objects do not
// count, as with git rev-parse NAME^{commit}.
func (h *History) abbreviated(prefix string) (Revision, error) {
	var found []Revision
	names, err := h.store.startingWith(prefix)
	if err != nil {
		return Revision{}, err
	}
	for _, hash := range names {
		k, _, err := h.store.object(hash, maxObject)
		if err != nil {
			return Revision{}, err
		}
		if k == commitKind || k == tagKind {
			if r, err := h.peel(hash); err == nil {
				found = append(found, r)
			}
		}
	}
	switch len(found) {
	case 0:
		return Revision{}, ErrRevision
	case 1:
		return found[0], nil
	}
	return Revision{}, ErrAmbiguous
}

// reference looks a name up where git looks (gitrevisions(7), "refname").
func (h *History) reference(name string) (Hash, bool, error) {
	if !isReferenceName(name) {
		return Hash{}, false, nil
	}
	if strings.HasSuffix(name, "_HEAD") && strings.ToUpper(name) == name {
		// MERGE_HEAD and its like begin with the object's name.
		if raw, err := readRegular(filepath.Join(h.place.GitDir, name)); err == nil {
			word, _, _ := strings.Cut(lineOf(raw), "\t")
			if hash, err := ParseHash(word); err == nil {
				return hash, true, nil
			}
		}
	}
	found, err := h.Candidates(name)
	if err != nil || len(found) == 0 {
		return Hash{}, false, err
	}
	return found[0].Object, true, nil
}

// isReferenceName applies the rules of git-check-ref-format(1), so that a name
// can never lead out of the folder of references.
func isReferenceName(name string) bool {
	if name == "" || strings.HasPrefix(name, "/") || strings.HasSuffix(name, "/") || strings.HasSuffix(name, ".") ||
		strings.Contains(name, "..") || strings.Contains(name, "//") || strings.Contains(name, "@{") || strings.ContainsAny(name, " ~^:?*[\\\x7f") ||
		strings.ContainsFunc(name, unicode.IsControl) {
		return false
	}
	for part := range strings.SplitSeq(name, "/") {
		if strings.HasPrefix(part, ".") || strings.HasSuffix(part, ".lock") || strings.HasPrefix(part, "-") {
			return false
		}
	}
	return true
}

// peel follows annotated tags to the commit that they name.
func (h *History) peel(hash Hash) (Revision, error) {
	for range 16 {
		k, raw, err := h.store.object(hash, maxObject)
		if err != nil {
			return Revision{}, h.explainMissing(err)
		}
		switch k {
		case commitKind:
			return parseRevision(hash, raw)
		case tagKind:
			headers, _, err := splitHeaders(raw)
			if err != nil || len(headers) == 0 || headers[0].key != "object" {
				return Revision{}, fmt.Errorf("tag %s: %w", hash, ErrCorrupt)
			}
			target, err := ParseHash(headers[0].value(raw))
			if err != nil {
				return Revision{}, fmt.Errorf("tag %s: %w: %w", hash, ErrCorrupt, err)
			}
			hash = target
		default:
			return Revision{}, ErrRevision
		}
	}
	return Revision{}, ErrRevision
}

// dateLayouts are the forms of a date that Resolve reads; true: to the end of
// the day, not to a moment.
var dateLayouts = []struct {
	layout string
	day    bool
}{
	{"2006-01-02", true},
	{time.RFC3339, false},
	{"2006-01-02T15:04Z07:00", false},
	{"2006-01-02T15:04:05", false},
	{"2006-01-02T15:04", false},
}

// asOf finds the last first-parent commit at or before a date.
func (h *History) asOf(date string, zone *time.Location) (Revision, error) {
	until, ok := ParseMoment(date, zone)
	if !ok {
		return Revision{}, ErrRevision
	}
	head, err := h.Head()
	if err != nil {
		return head, err
	}
	found, begin, err := h.lastBy(head.Hash, until)
	switch {
	case err != nil:
		return Revision{}, h.explainMissing(err)
	case !found.IsZero():
		return h.Revision(found)
	}
	return Revision{}, &Trouble{Reason: ErrRevision, Doing: "find the last commit at or before " + date,
		Hint: "history begins on " + begin.In(orUTC(zone)).Format("2006-01-02") + h.shallowNote()}
}

// ParseMoment reads a date as [History.Resolve] does: a day to its end, or a
// moment. A nil zone is UTC.
func ParseMoment(date string, zone *time.Location) (time.Time, bool) {
	for _, l := range dateLayouts {
		if t, err := time.ParseInLocation(l.layout, strings.Replace(date, " ", "T", 1), orUTC(zone)); err == nil {
			if l.day {
				t = t.AddDate(0, 0, 1).Add(-time.Nanosecond)
			}
			return t, true
		}
	}
	return time.Time{}, false
}

func orUTC(zone *time.Location) *time.Location {
	if zone == nil {
		return time.UTC
	}
	return zone
}

// clockReach is over how many commits before it a commit's clock is checked.
const clockReach = 1000

// lastBy finds the newest commit on the first parents of tip that was there at a
// moment, and the time of the oldest. Clocks are claims, and order is that of
// ancestry: a commit came no earlier than the second latest clock of those
// before it, so that one wrong clock moves only its own commit.
func (h *History) lastBy(tip Hash, until time.Time) (found Hash, begin time.Time, err error) {
	type seen struct {
		name Hash
		when int64
	}
	limit := until.Unix()
	var line []seen // from the commit that may be the one, newest first
	later := 0      // of those after it in line, clocks beyond the moment
	enough := errors.New("found")
	err = h.store.log(context.Background(), logQuery{tip: tip, firstParent: true}, func(c *commit) error {
		begin = time.Unix(c.when, 0)
		if len(line) == 0 {
			if c.when <= limit {
				line = append(line, seen{c.name, c.when})
			}
			return nil
		}
		line = append(line, seen{c.name, c.when})
		if c.when > limit {
			later++
		}
		for later >= 2 { // its own clock is the wrong one: the next that may be it
			line = line[1:]
			for len(line) > 0 && line[0].when > limit {
				line, later = line[1:], later-1
			}
		}
		if len(line) > clockReach {
			return enough
		}
		return nil
	})
	if err == enough {
		err = nil
	}
	if err == nil && len(line) > 0 {
		found = line[0].name
	}
	return found, begin, err
}

// Moment is when a commit came: its committer time, but no earlier than the
// second latest clock of the commits before it.
func (h *History) Moment(r Revision) (time.Time, error) {
	var latest, second int64
	first := true
	err := h.store.log(context.Background(), logQuery{tip: r.Hash, firstParent: true, limit: clockReach}, func(c *commit) error {
		switch {
		case first:
			first = false
		case c.when > latest:
			latest, second = c.when, latest
		case c.when > second:
			second = c.when
		}
		return nil
	})
	if when := time.Unix(second, 0); second > 0 && when.After(r.Committer.When) {
		return when, h.explainMissing(err)
	}
	return r.Committer.When, h.explainMissing(err)
}
