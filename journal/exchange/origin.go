package exchange

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/exchange/dataset"
	"wj/journal/history"
)

// OriginOf says where an export of a journal comes from, whose history open opens.
// note is what the user should know of it; it may be empty. A journal without an
// id gets one from its first commit, so that all copies agree, or outside a
// repository from its settings.
func OriginOf(ctx context.Context, open func() (*history.History, error), j *journal.Journal, program string, seen *history.Contents) (o dataset.Origin, note string, err error) {
	o = dataset.Origin{JournalID: j.Settings.Journal, Program: program, Dirty: -1}
	h, err := open()
	if err != nil {
		if !errors.Is(err, history.ErrNoRepository) {
			note = "the export names no commit: " + err.Error()
		}
		if o.JournalID == "" {
			text, err := fs.ReadFile(j.FS, journal.SettingsFile)
			if err != nil {
				return o, "", fmt.Errorf("read %s: %w", journal.SettingsFile, err)
			}
			sum := sha256.Sum256(text)
			o.JournalID = "settings-" + journal.IDCode(sum[:])
		}
		return o, note, nil
	}
	defer h.Close()
	head, err := h.Head()
	switch {
	case errors.Is(err, history.ErrUnborn):
	case err != nil:
		return o, "", err
	default:
		o.Commit, o.Time = head.Hash.String(), head.Committer.When
		if dirty, err := h.Dirty(seen); err == nil {
			o.Dirty = len(dirty)
		}
	}
	if o.JournalID == "" && o.Commit != "" {
		line, err := h.Mainline(ctx, head.Hash)
		if err != nil {
			return o, "", err
		}
		first := line[len(line)-1].Hash.String()
		o.JournalID = "commit-" + first[:min(10, len(first))]
		if h.Shallow() {
			note = "this copy does not reach back to the journal's first commit, so that its id may differ from that of another copy: write journal: into wj.yaml"
		}
	}
	if o.JournalID == "" {
		o.JournalID = "unborn"
	}
	return o, note, nil
}

// Changes is what an export of changes holds.
type Changes struct {
	Since  string // the commit
	Keep   map[string]bool
	Gone   []journal.File
	Direct int // records whose files changed
}

// ErrFullExport says that changes alone are not enough.
var ErrFullExport = errors.New("changed settings change the results of every record")

// ChangesSince finds the records that changed after a commit, and every record
// that refers to one of them, directly or through others: one line in an
// instrument changes the results of all sessions that used it. Records in the
// working tree that are not committed count as changed.
func ChangesSince(h *history.History, since string, j *journal.Journal) (c Changes, err error) {
	from, err := h.Resolve(since, j.Settings.Zone)
	if err != nil {
		return c, err
	}
	head, err := h.Head()
	if err != nil {
		return c, err
	}
	c.Since = from.Hash.String()
	changed, err := h.Diff(from.Hash, head.Hash)
	if err != nil {
		return c, err
	}
	dirty, err := h.Dirty(nil)
	if err != nil {
		return c, err
	}
	roots := map[string]bool{}
	gone := map[string]bool{}
	for _, change := range append(changed, dirty...) {
		for _, path := range []string{change.Path, change.From} {
			if path == journal.SettingsFile {
				return c, ErrFullExport
			}
			f, ok := journal.FileOf(path)
			switch {
			case !ok:
			case j.Exists(f.Kind, f.ID):
				roots[recordKey(f.Kind, f.ID)] = true
			case !gone[recordKey(f.Kind, f.ID)]:
				gone[recordKey(f.Kind, f.ID)] = true
				c.Gone = append(c.Gone, journal.File{Kind: f.Kind, ID: f.ID})
				roots[recordKey(f.Kind, f.ID)] = true
			}
		}
	}
	c.Direct = len(roots)
	brewsAfter(j, changed, dirty, roots)
	links := &reverseLinks{back: map[string][]string{}}
	if len(roots) > 0 {
		if _, err := dataset.Export(j, dataset.Options{Measured: true}, links); err != nil {
			return c, err
		}
	}
	c.Keep = links.reached(roots)
	return c, nil
}

// brewsAfter adds the batches whose water may be another one now: the newest sample of a
// site on the day of brewing is no reference that a file has. Those are the batches
// brewed since the earliest session that changed, or all where a change did.
func brewsAfter(j *journal.Journal, changed, dirty []history.Change, roots map[string]bool) {
	from, any := time.Time{}, false
	for _, change := range append(changed, dirty...) {
		for _, path := range []string{change.Path, change.From} {
			f, ok := journal.FileOf(path)
			if !ok || f.Kind != journal.KindSession && f.Kind != journal.KindChange {
				continue
			}
			day, err := time.Parse(time.DateOnly, f.ID[:min(len(f.ID), len(time.DateOnly))])
			if f.Kind == journal.KindChange || err != nil {
				day = time.Time{}
			}
			if !any || day.Before(from) {
				from, any = day.AddDate(0, 0, -1), true // a day in another zone
			}
		}
	}
	for _, b := range j.Batches.List {
		if any && b.Brewed.After(from) {
			roots[recordKey(journal.KindBatch, b.ID)] = true
		}
	}
}

func recordKey(k journal.Kind, id string) string { return k.Folder() + "/" + id }

// reverseLinks keeps which records refer to which.
type reverseLinks struct{ back map[string][]string }

func (l *reverseLinks) Write(e *dataset.Entry) error {
	for _, row := range e.Rows {
		if row.Table.Name == "record_links" {
			from, to := row.Values[1].(string)+"/"+row.Values[2].(string), row.Values[4].(string)+"/"+row.Values[5].(string)
			l.back[to] = append(l.back[to], from)
		}
	}
	return nil
}

func (l *reverseLinks) Finish() error { return nil }

func (l *reverseLinks) reached(roots map[string]bool) map[string]bool {
	out := map[string]bool{}
	var next []string
	for key := range roots {
		next = append(next, key)
	}
	for len(next) > 0 {
		key := next[len(next)-1]
		next = next[:len(next)-1]
		if !out[key] {
			out[key] = true
			next = append(next, l.back[key]...)
		}
	}
	return out
}

// Sessions chooses sessions by their ids; every other record is kept.
func Sessions(ids map[string]bool) func(journal.File) bool {
	return func(f journal.File) bool { return f.Kind != journal.KindSession || ids[f.ID] }
}

// Kept chooses the records of an export of changes.
func (c Changes) Kept(f journal.File) bool { return c.Keep[recordKey(f.Kind, f.ID)] }

// safeName reports whether an id can be the name of a folder.
func safeName(id string) bool {
	return id != "" && !strings.ContainsAny(id, "/\\:*?\"<>|=\x00 ") && !strings.HasPrefix(id, ".")
}
