package evidence

import (
	"context"
	"errors"
	"io/fs"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// Entry is one commit's word on one record.
type Entry struct {
	Path     string
	What     string // recorded, changed, amended, moved, deleted, was there
	Commit   string // in full; "" for what is not committed
	Name     string // the author's, as the commit claims it
	Email    string
	When     time.Time
	Proof    string // what the signature proves; "" where there is none
	Subject  string
	Reason   string // the commit's trailer Reason, if any
	Boundary bool   // older history is not in this copy: this commit or an older one
	Settings []Setting
}

// InFile is the commit of an entry that only the file itself tells of.
const InFile = "(the file)"

// logTime is how long the versions of one record are looked for.
const logTime = time.Minute

// errEnough ends a walk that has found what it looked for.
var errEnough = errors.New("enough")

// FindEver finds a record by id or path, also one that is gone from the files
// and that history still has.
func FindEver(ctx context.Context, h *history.History, j *journal.Journal, id string) (journal.File, error) {
	f, err := j.Record(id)
	name := strings.TrimSuffix(id, ".md")
	if err == nil && (f.ID == name || f.Path == strings.TrimPrefix(id, "./")) {
		return f, nil // a part of an id stands behind a record of that id that is gone
	}
	head, headErr := h.Head()
	if headErr != nil {
		return f, err
	}
	ever, everErr := Ever(ctx, h, head.Hash)
	if everErr != nil {
		return f, err
	}
	_, walkErr := ever.Walk(ctx, head.Hash, history.WalkOptions{}, func(step history.Step) error {
		for _, c := range step.Changes {
			if g, ok := journal.FileOf(c.Path); ok && c.Kind == history.Deleted && (g.ID == name || g.Path == id) {
				f = g
				return errEnough
			}
		}
		return nil
	})
	if errors.Is(walkErr, errEnough) {
		return f, nil
	}
	return f, err
}

// Versions reads every version of a record, the newest first; what is not yet
// committed of the journal's files comes as a version without a commit. The walk
// says whether history was read to its end.
func Versions(ctx context.Context, h *history.History, j *journal.Journal, f journal.File) ([]Version, history.Walked, error) {
	var out []Version
	var walked history.Walked
	head, err := h.Head()
	switch {
	case err == nil:
		if out, walked, err = committed(ctx, h, head.Hash, f.Path, Keyring(j)); err != nil {
			return nil, walked, err
		}
	case !errors.Is(err, history.ErrUnborn):
		return nil, walked, err
	}
	working, err := fs.ReadFile(j.FS, f.Path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, walked, err
	}
	var last []byte
	if len(out) > 0 {
		last = out[0].Content
	}
	if working != nil && (last == nil || journal.Digest(working) != journal.Digest(last)) {
		out = append([]Version{{Content: working, Before: [][]byte{last}, Path: f.Path}}, out...)
	}
	return out, walked, nil
}

func committed(ctx context.Context, h *history.History, head history.Hash, path string, ring *history.Keyring) ([]Version, history.Walked, error) {
	ctx, cancel := context.WithTimeout(ctx, logTime)
	defer cancel()
	log, walked, err := h.FileLog(ctx, head, path)
	if err != nil {
		return nil, walked, err
	}
	// A journal that was moved as a whole is followed into the folder where it lay.
	for old := h; len(log) > 0; {
		oldest := &log[len(log)-1]
		older, parent, err := old.MovedFrom(oldest.Hash)
		if err != nil {
			return nil, walked, err
		}
		if older == nil {
			break
		}
		earlier, _, err := older.FileLog(ctx, parent, path)
		if err != nil {
			return nil, walked, err
		}
		if old = older; len(earlier) == 0 || earlier[0].Blob.IsZero() {
			break
		}
		oldest.Kind, oldest.From, oldest.Before = history.Renamed, older.Place().Prefix+"/"+path, []history.Hash{earlier[0].Blob}
		log = append(log, earlier...)
	}
	read := func(blob history.Hash) ([]byte, error) {
		if blob.IsZero() {
			return nil, nil
		}
		return h.Blob(blob)
	}
	var out []Version
	for _, v := range log {
		version := Version{Commit: v.Hash.String(), Name: v.Author.Name, Email: v.Author.Email, When: v.Author.When, Subject: v.Subject(),
			Reason: reasonIn(v.Revision), Boundary: v.Boundary, Path: v.Path, From: v.From, Proof: proof(h, ring, v.Revision)}
		if version.Content, err = read(v.Blob); err != nil {
			return nil, walked, err
		}
		for _, blob := range v.Before {
			before, err := read(blob)
			if err != nil {
				return nil, walked, err
			}
			version.Before = append(version.Before, before)
		}
		out = append(out, version)
	}
	return out, walked, nil
}

func reasonIn(r history.Revision) string {
	for _, t := range r.Trailers() {
		if strings.EqualFold(t.Key, "Reason") {
			return t.Value
		}
	}
	return ""
}

// RecordLog is the log of one record, the newest first, with what is not yet
// committed on top, and last what only the file's own amendments tell.
func RecordLog(ctx context.Context, h *history.History, j *journal.Journal, f journal.File) ([]Entry, history.Walked, error) {
	versions, walked, err := Versions(ctx, h, j, f)
	if err != nil {
		return nil, walked, err
	}
	of := map[int][]Setting{} // by version
	for _, s := range History(f.Kind, versions) {
		if s.Version < 0 || !s.First {
			of[max(s.Version, -1)] = append(of[max(s.Version, -1)], s)
		}
	}
	var out []Entry
	for n, v := range versions {
		e := Entry{Path: v.Path, What: v.what(), Commit: v.Commit, Name: v.Name, Email: v.Email, When: v.When, Subject: v.Subject, Reason: v.Reason, Boundary: v.Boundary, Settings: of[n], Proof: v.Proof}
		for _, s := range e.Settings {
			if e.What == "changed" && s.Amendment != nil {
				e.What = "amended"
			}
		}
		out = append(out, e)
	}
	if len(of[-1]) > 0 {
		out = append(out, Entry{Path: f.Path, What: "amended, as the file says; no commit shows it", Commit: InFile, Settings: of[-1]})
	}
	return out, walked, nil
}

// what says what a version did to the record.
func (v *Version) what() string {
	before := false
	for _, b := range v.Before {
		before = before || b != nil
	}
	switch {
	case v.Content == nil:
		return "deleted"
	case !before && v.Boundary:
		return "was there"
	case !before:
		return "recorded"
	case v.From != "" && v.From != v.Path:
		return "moved from " + v.From
	}
	return "changed"
}

// proof says what a commit's signature proves: nothing for an unsigned one.
func proof(h *history.History, ring *history.Keyring, r history.Revision) string {
	if !r.Signed {
		return ""
	}
	v, err := h.Verify(r.Hash, ring, time.Time{})
	switch {
	case err != nil:
		return "signature: " + err.Error()
	case v.Kind == history.Good:
		return "signed by " + v.Principal
	}
	return "signature: " + v.Kind.String()
}

// AllLog is the log of every record of the journal that commits tell of, by its path of now, the newest first. No content is
// looked at.
func AllLog(ctx context.Context, h *history.History) (map[string][]Entry, history.Walked, error) {
	head, err := h.Head()
	if err != nil {
		return nil, history.Walked{}, err
	}
	ever, err := Ever(ctx, h, head.Hash)
	if err != nil {
		return nil, history.Walked{}, err
	}
	out, now := map[string][]Entry{}, map[string]string{} // now: where a file went that was moved
	walked, err := ever.Walk(ctx, head.Hash, history.WalkOptions{}, func(step history.Step) error {
		for _, c := range step.Changes {
			p := c.Path
			if later, moved := now[p]; moved {
				p = later
			}
			if c.Kind == history.Renamed {
				now[c.From] = p
			}
			out[p] = append(out[p], Entry{Path: p, What: changeWords[c.Kind], Commit: step.Hash.Short(), Name: step.Author.Name, When: step.Author.When, Subject: step.Subject(), Boundary: step.Boundary})
		}
		return nil
	})
	return out, walked, err
}

// changeWords say what a commit did to a file.
var changeWords = map[history.ChangeKind]string{history.Added: "recorded", history.Modified: "changed", history.Deleted: "deleted", history.Renamed: "moved"}
