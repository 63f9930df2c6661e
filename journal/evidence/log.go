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

// LogEntry is one commit's word on one record. Commit is empty of what is not
// committed yet; Proof is what its signature proves, nothing of an unsigned one.
type LogEntry struct {
	Path, What, Commit, Name, Email, Proof, Subject, Reason string
	When                                                    time.Time
	Boundary                                                bool // it or an older commit wrote it: older ones are not in this copy
	Settings                                                []Setting
}

// RecordLog is the log of one record, the newest first, with what is not yet
// committed on top.
func RecordLog(ctx context.Context, h *history.History, ring *history.Keyring, root string, f journal.File, limit int) ([]LogEntry, history.Walked, error) {
	versions, walked, err := Versions(ctx, h, root, f)
	if err != nil {
		return nil, walked, err
	}
	settings := History(f.Kind, versions)
	var entries []LogEntry
	for n, v := range versions {
		e := LogEntry{Path: v.Path, Commit: v.Commit, Name: v.Name, Email: v.Email, When: v.When, Subject: v.Subject, Reason: v.Reason, Boundary: v.Boundary, What: whatHappened(v)}
		if v.Commit != "" {
			e.Proof = proof(h, ring, v.Commit)
		}
		for _, s := range settings {
			if s.Version == n && !s.First {
				e.Settings = append(e.Settings, s)
			}
		}
		if e.What == "changed" && amendedHere(e.Settings) {
			e.What = "amended"
		}
		entries = append(entries, e)
	}
	var fromFile []Setting
	for _, s := range settings {
		if s.Version < 0 {
			fromFile = append(fromFile, s)
		}
	}
	if len(fromFile) > 0 {
		entries = append(entries, LogEntry{Path: f.Path, What: "amended, as the file tells it; no commit shows it", Commit: "(the file) ", Name: "", Settings: fromFile})
	}
	if limit > 0 && len(entries) > limit {
		entries = entries[:limit]
	}
	return entries, walked, nil
}

func amendedHere(settings []Setting) bool {
	for _, s := range settings {
		if s.Amendment != nil {
			return true
		}
	}
	return false
}

func whatHappened(v Version) string {
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

// SiteLog is what was recorded at a site: its own record, its sessions and
// events, each with the commits that touched it.
func SiteLog(ctx context.Context, h *history.History, j *journal.Journal, site journal.File, limit int) ([]LogEntry, history.Walked, error) {
	at := map[string]bool{site.Path: true}
	for _, s := range j.Sessions.List {
		at[s.Path] = s.Site == site.ID
	}
	for _, e := range j.Events.List {
		for _, id := range e.Sites {
			at[e.Path] = at[e.Path] || id == site.ID
		}
	}
	head, err := h.Head()
	if err != nil {
		return nil, history.Walked{}, err
	}
	var entries []LogEntry
	walked, err := h.Walk(ctx, head.Hash, history.WalkOptions{}, func(step history.Step) error {
		for _, c := range step.Changes {
			here, known := at[c.Path]
			if !known {
				here = wasAt(h, c, site.ID)
				at[c.Path] = here
			}
			if !here {
				continue
			}
			what := map[history.ChangeKind]string{history.Added: "recorded", history.Modified: "changed", history.Deleted: "deleted", history.Renamed: "moved"}[c.Kind]
			entries = append(entries, LogEntry{Path: c.Path, What: what, Commit: step.Hash.Short(), Name: step.Author.Name, Email: step.Author.Email,
				When: step.Author.When, Subject: step.Subject(), Reason: trailer(step.Revision, "Reason")})
			if limit > 0 && len(entries) == limit {
				return errEnough
			}
		}
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, walked, err
	}
	return entries, walked, nil
}

// errEnough ends a walk that has found what it looked for.
var errEnough = errors.New("enough")

// wasAt reports whether a session that is no longer there, or lay elsewhere,
// was of a site.
func wasAt(h *history.History, c history.Change, site string) bool {
	f, ok := journal.FileOf(c.Path)
	if !ok || f.Kind != journal.KindSession {
		return false
	}
	blob := c.After
	if blob.IsZero() {
		blob = c.Before
	}
	src, err := h.Blob(blob)
	if err != nil {
		return false
	}
	_, record := Read(f, src)
	s, ok := record.(*journal.Session)
	return ok && s.Site == site
}

func trailer(r history.Revision, key string) string {
	for _, t := range r.Trailers() {
		if strings.EqualFold(t.Key, key) {
			return t.Value
		}
	}
	return ""
}

// FindGone finds a record by id or path that is gone from the files and that
// history still has.
func FindGone(ctx context.Context, h *history.History, id string) (f journal.File, ok bool) {
	head, err := h.Head()
	if err != nil {
		return f, false
	}
	_, err = h.Walk(ctx, head.Hash, history.WalkOptions{}, func(step history.Step) error {
		for _, c := range step.Changes {
			if g, ok := journal.FileOf(c.Path); ok && c.Kind == history.Deleted && (g.ID == strings.TrimSuffix(id, ".md") || g.Path == id) {
				f = g
				return errEnough
			}
		}
		return nil
	})
	return f, errors.Is(err, errEnough)
}

// Versions reads every version of a record, the newest first; what is not yet
// committed comes as a version without a commit.
func Versions(ctx context.Context, h *history.History, root string, f journal.File) ([]Version, history.Walked, error) {
	var out []Version
	var walked history.Walked
	head, err := h.Head()
	if err != nil && !errors.Is(err, history.ErrUnborn) {
		return nil, walked, err
	}
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	if err == nil {
		var log []history.Version
		log, walked, err = h.FileLog(ctx, head.Hash, f.Path)
		if err != nil {
			return nil, walked, err
		}
		for _, v := range log {
			version := Version{Commit: v.Hash.Short(), Name: v.Author.Name, Email: v.Author.Email, When: v.Author.When, Subject: v.Subject(),
				Reason: trailer(v.Revision, "Reason"), Boundary: v.Boundary, Path: v.Path, From: v.From}
			read := func(blob history.Hash) ([]byte, error) {
				if blob.IsZero() {
					return nil, nil
				}
				return h.Blob(blob)
			}
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
	}
	working, err := journal.Dir(root).ReadFile(f.Path)
	if errors.Is(err, fs.ErrNotExist) {
		working, err = nil, nil
	}
	if err != nil {
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

// proof says after a name what its commit's signature proves: nothing for an
// unsigned one.
func proof(h *history.History, ring *history.Keyring, commit string) string {
	r, err := h.Resolve(commit, nil)
	if err != nil || !r.Signed {
		return ""
	}
	v, err := h.Verify(r.Hash, ring, time.Time{})
	switch {
	case err != nil:
		return ", signature: " + err.Error()
	case v.Kind == history.Good:
		return ", signed by " + v.Principal
	}
	return ", signature: " + v.Kind.String()
}
