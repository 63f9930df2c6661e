package look

import (
	"errors"
	"io/fs"
	"slices"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/diff"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/lint"
	"wj/lint/githistory"
)

// newer compares what is linted with an earlier revision: only what the files that
// differ touch is read of both.
type newer struct {
	r     *repository
	name  string // of the revision, as it was typed
	since history.Hash
	pairs []diff.FilePair
	once  sync.Once
	part  *lint.Part
	found chan struct{} // closed when the others are set
	err   error
}

// newer finds what differs while the journal is listed; nil where all findings are asked for.
func (q *Question) newer(r *repository, fsys fs.FS, staged history.Staged) *newer {
	n := &newer{r: r, name: q.Since, since: r.head.Hash, found: make(chan struct{})}
	switch {
	case q.Staged && r.committed():
		n.name = "HEAD"
	case q.Since == "":
		return nil
	}
	go func() {
		defer close(n.found)
		n.err = n.find(q, r, fsys, staged)
	}()
	return n
}

func (n *newer) find(q *Question, r *repository, fsys fs.FS, staged history.Staged) error {
	var err error
	if q.Staged {
		n.pairs, err = diff.StagedPairs(r.h, n.since, staged)
		return err
	}
	zone := time.UTC
	if settings, err := journal.ReadSettings(fsys); err == nil {
		zone = settings.Zone
	}
	rev, err := r.resolve(q.Since, zone)
	if err != nil {
		return err
	}
	n.since = rev.Hash
	if !r.h.Working() {
		n.pairs, err = diff.CommittedPairs(r.h, n.since, r.head.Hash)
		return err
	}
	dirty, err := r.h.DirtyNoted()
	if err != nil {
		return err
	}
	r.dirty = &dirty
	if n.pairs, err = diff.WorkingPairs(r.h, r.g.Root, n.since, dirty); err != nil || !q.Stdin {
		return err
	}
	at := slices.IndexFunc(n.pairs, func(p diff.FilePair) bool { return p.Path == q.StdinPath })
	if at < 0 {
		at = len(n.pairs)
		n.pairs = append(n.pairs, diff.FilePair{Path: q.StdinPath})
		if n.pairs[at].Before, err = r.h.BlobAt(n.since, q.StdinPath); errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
	}
	n.pairs[at].After = q.Text
	return err
}

// touched are the records that differ.
func (n *newer) touched() []lint.Touched {
	var out []lint.Touched
	for _, p := range n.pairs {
		if f, ok := journal.FileOf(p.Path); ok {
			t := lint.Touched{File: f}
			if p.From == "" && p.Before != nil {
				_, t.Before = evidence.Read(f, p.Before)
			}
			if p.After != nil {
				_, t.After = evidence.Read(f, p.After)
			}
			out = append(out, t)
		}
		if f, ok := journal.FileOf(p.From); ok {
			t := lint.Touched{File: f}
			_, t.Before = evidence.Read(f, p.Before)
			out = append(out, t)
		}
	}
	return out
}

// holds chooses the sessions that are read; it is the Only of [journal.Options].
func (n *newer) holds(j *journal.Journal, f journal.File) bool {
	n.once.Do(func() {
		if <-n.found; n.err == nil {
			n.part = lint.PartOf(j, n.touched())
		}
	})
	return n.part != nil && n.part.Holds(j, f)
}

// lint judges the earlier revision by the settings of now, so that only what
// changed in the records counts as new. A revision without the journal has no
// findings.
func (n *newer) lint(now *journal.Journal, opt lint.Options) (lint.Result, error) {
	before, added := map[string][]byte{}, []string{}
	for _, p := range n.pairs {
		switch {
		case p.From != "":
			before[p.From] = p.Before
			added = append(added, p.Path)
		case p.Before == nil:
			added = append(added, p.Path)
		default:
			before[p.Path] = p.Before
		}
	}
	if _, settings := before[journal.SettingsFile]; slices.Contains(added, journal.SettingsFile) && !settings {
		return lint.Result{}, nil // the journal begins after it
	}
	then, ok := n.part.Earlier(now, before, added)
	if !ok {
		var err error
		if then, err = n.r.journal(n.name, now.Settings.Zone, journal.Options{Check: true, Sessions: true, Only: n.holds}); err != nil {
			return lint.Result{}, err
		}
	}
	then.Settings = now.Settings
	if opt.Facts.Line != nil && n.since != n.r.head.Hash {
		n.r.judges(then, evidence.Options{Head: n.since.String()}, &opt)
	}
	if opt.History != nil {
		// What history tells after that revision is new, whatever it says before.
		opt.History = githistory.New(githistory.Request{Context: n.r.g.Context, History: n.r.h, Journal: then, Tip: n.since, Since: n.since, Now: n.r.g.Now})
	}
	return lint.Run(then, opt), nil
}
