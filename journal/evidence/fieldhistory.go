package evidence

import (
	"errors"
	"io/fs"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
)

// Version is what one commit made of a record file.
type Version struct {
	Commit   string // short name; "" for the working file
	Name     string // author's name
	Email    string
	When     time.Time
	Subject  string
	Reason   string   // the commit's trailer Reason, if any
	Content  []byte   // nil where the commit deleted the file
	Before   [][]byte // content in each parent, nil where the file was not there
	Boundary bool     // older history is not in this copy: this commit or an older one
	Path     string
	From     string // the path before, of a renamed file
	Proof    string // what the commit's signature proves; "" where there is none
}

// Setting is one time at which a field got its value.
type Setting struct {
	Path          string
	Before, After string // "" for absent
	Version       int    // index into the versions; -1 where only the file knows of it
	Sameness      Sameness
	First         bool               // the field came with the file
	Amendment     *journal.Amendment // what the file says of this change
	Silent        bool               // a recorded value was changed and the file does not say so
}

// Absent is what an amendment says "was" there where a field was added.
const Absent = "absent"

// History tells how every field of a record got its value: from the versions
// of its file, the newest first, and from the corrections that the file itself
// keeps, which outlive a squash. Settings are in the order of time, the oldest
// first. At a merge a field counts as set only where it differs from all
// parents.
func History(kind journal.Kind, versions []Version) []Setting {
	var out []Setting
	var amended []journal.Amendment
	for _, v := range versions {
		if v.Content != nil {
			amended = Amendments(kind, v.Content)
			break
		}
	}
	used := make([]bool, len(amended))
	for n := len(versions) - 1; n >= 0; n-- {
		v := versions[n]
		after := Fields(v.Content)
		parents := make([]map[string]string, 0, len(v.Before))
		exists := false
		for _, b := range v.Before {
			exists = exists || b != nil
		}
		for _, b := range v.Before {
			if b != nil || !exists {
				parents = append(parents, ByPath(Fields(b)))
			}
		}
		for _, f := range after {
			if set, before, was := setHere(parents, f.Path, f.Text, true); set {
				s := Setting{Path: f.Path, Before: before, After: f.Text, Version: n, First: !exists, Sameness: Different}
				if was {
					s.Sameness = Compare(f.Path, before, f.Text)
				}
				switch {
				case was && s.Sameness != SameSpelled:
					s.Amendment = MatchAmendment(amended, used, f.Path, before)
				case !was && exists:
					s.Amendment = MatchAmendment(amended, used, f.Path, Absent)
				}
				s.Silent = was && s.Amendment == nil && s.Sameness != SameSpelled && NeedsAmendment(kind, f.Path)
				out = append(out, s)
			}
		}
		now := ByPath(after)
		for _, p := range removed(parents, now) {
			before := parents[0][p]
			s := Setting{Path: p, Before: before, Version: n, Sameness: Different, Amendment: MatchAmendment(amended, used, p, before)}
			s.Silent = s.Amendment == nil && NeedsAmendment(kind, p) && v.Content != nil
			out = append(out, s)
		}
		out = append(out, erased(kind, v, n)...)
	}
	return withFileOnly(out, amended, used)
}

// setHere reports whether a value differs from all parents, and what it was in
// the first that has it.
func setHere(parents []map[string]string, p, text string, present bool) (set bool, before string, was bool) {
	for _, m := range parents {
		old, ok := m[p]
		if ok == present && old == text {
			return false, "", false
		}
		if ok && !was {
			before, was = old, true
		}
	}
	return true, before, was
}

// removed lists the fields that every parent had and that are gone.
func removed(parents []map[string]string, now map[string]string) []string {
	var out []string
	if len(parents) == 0 {
		return nil
	}
	for p := range parents[0] {
		if _, still := now[p]; still {
			continue
		}
		everywhere := true
		for _, m := range parents[1:] {
			if _, had := m[p]; !had {
				everywhere = false
			}
		}
		if everywhere {
			out = append(out, p)
		}
	}
	slices.Sort(out)
	return out
}

// NeedsAmendment reports whether a value of a kind may only change with an
// amendment: what was measured, weighed, signed or sent, that a record was
// declared void, and of a lot until when it is good and that it was recalled.
// Other master data (people, sites) is kept up to date by editing, and a change
// is guarded by its sign-offs.
func NeedsAmendment(kind journal.Kind, p string) bool {
	head, _, _ := strings.Cut(p, ".")
	switch head {
	case "void":
		return true
	case "ignore", "attachments", "note":
		return false
	}
	switch kind {
	case journal.KindSession, journal.KindSignoff, journal.KindBatch, journal.KindReport, journal.KindEvent, journal.KindAnchor:
		return true
	case journal.KindLot:
		return head == "recalled" || head == "expires"
	}
	return false
}

// MatchAmendment finds the amendment that speaks of a change of a field. The key of an
// amendment may name the reading instead of its value.
func MatchAmendment(amended []journal.Amendment, used []bool, p, before string) *journal.Amendment {
	for i := range amended {
		if !used[i] && speaksOf(amended[i].Key, p) && Compare(p, amended[i].Was, before) <= SameSpelled {
			used[i] = true
			return &amended[i]
		}
	}
	return nil
}

func speaksOf(key, p string) bool {
	if key == p {
		return true
	}
	head, _, _ := strings.Cut(p, ".")
	short, ok := shortForms[head]
	return ok && key+"."+short == p
}

// withFileOnly adds the corrections that no commit shows, as after a squash or
// where they were made before the first commit, at the front: each is older
// than or part of the first version.
func withFileOnly(settings []Setting, amended []journal.Amendment, used []bool) []Setting {
	current := map[string]string{}
	for _, s := range settings {
		current[s.Path] = s.After
	}
	var extra []Setting
	for i := range amended {
		if used[i] {
			continue
		}
		p := amended[i].Key
		for _, s := range settings {
			if speaksOf(amended[i].Key, s.Path) {
				p = s.Path
			}
		}
		after := current[p]
		for k := i + 1; k < len(amended); k++ { // a later correction knows what came between
			if amended[k].Key == amended[i].Key {
				after = amended[k].Was
				break
			}
		}
		extra = append(extra, Setting{Path: p, Before: amended[i].Was, After: after, Version: -1, Sameness: Compare(p, amended[i].Was, after), Amendment: &amended[i]})
	}
	return append(extra, settings...)
}

// erased lists the corrections that a version took out of the file: the trace
// itself was removed.
func erased(kind journal.Kind, v Version, n int) []Setting {
	if v.Content == nil || len(v.Before) == 0 || v.Before[0] == nil {
		return nil
	}
	var out []Setting
	now := Amendments(kind, v.Content)
	for _, old := range Amendments(kind, v.Before[0]) {
		kept := slices.ContainsFunc(now, func(a journal.Amendment) bool {
			return a.Key == old.Key && a.Was == old.Was && a.By == old.By && a.On.Equal(old.On)
		})
		if !kept {
			out = append(out, Setting{Path: "amended." + old.Key, Before: old.Was, Version: n, Sameness: Different, Silent: true})
		}
	}
	return out
}

// Amendments are the corrections that a record of the kind keeps.
func Amendments(kind journal.Kind, src []byte) []journal.Amendment {
	if src == nil {
		return nil
	}
	if _, record := Read(journal.File{Kind: kind, ID: "x", Path: "x.md"}, src); record != nil {
		return record.Base().Amended
	}
	return nil
}

// Read reads a record from bytes that are not in a journal's folder, such as
// an older version of it. The record is nil where there is no front matter.
func Read(f journal.File, src []byte) (*frontmatter.Document, journal.Any) {
	j := journal.Journal{FS: content(src)}
	d, record, err := j.ReadRecord(f)
	if err != nil {
		return &frontmatter.Document{}, nil
	}
	return d, record
}

// content is a file system in which every name is one file.
type content []byte

func (c content) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
}

// ReadInto gives a copy of the content, no longer than a record may be.
func (c content) ReadInto(_ string, buf []byte) ([]byte, error) {
	if len(c) > frontmatter.MaxFile {
		return nil, errors.New("it is larger than a record may be")
	}
	return append(buf[:0], c...), nil
}
