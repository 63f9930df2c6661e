package main

import (
	"errors"
	"fmt"
	"io/fs"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/lint"
	"wj/lint/githistory"
)

// lintGit is the repository of the journal that is linted; h is nil where there
// is none that can be read.
type lintGit struct {
	a     *app
	root  string
	h     *history.History
	head  history.Revision
	asked bool // history may be asked by rules
	seen  *history.Contents
	dirty *[]history.Change // the working files that differ from the last commit, where that is known
}

// errNotThere says that a revision does not hold the journal.
var errNotThere = errors.New("the journal is not in the revision")

// git opens the repository. What only rules would ask is done without where
// it cannot be had; what the command line asks for is not.
func (c *lintCmd) git(a *app, root string) (*lintGit, error) {
	g := &lintGit{a: a, root: root, asked: c.History}
	if !c.History && c.Base == "" && c.Since == "" && !c.Staged {
		return g, nil
	}
	h, err := a.repository(root)
	if err == nil {
		g.h = h
		if g.head, err = h.Head(); errors.Is(err, history.ErrUnborn) {
			err = nil
			g.asked = false
		}
	}
	switch {
	case err == nil:
		return g, nil
	case c.Base != "" || c.Since != "":
		g.close()
		return nil, err
	case errors.Is(err, history.ErrNoRepository):
	default:
		a.say("history is not looked at: %s", err)
	}
	g.close()
	g.h, g.asked = nil, false
	return g, nil
}

func (g *lintGit) close() {
	if g.h != nil {
		g.h.Close()
	}
}

// committed reports whether there is a last commit to compare with.
func (g *lintGit) committed() bool { return g.h != nil && !g.head.Hash.IsZero() }

// resolve finds a revision by a name that leads to one alone.
func (g *lintGit) resolve(name string, zone *time.Location) (history.Revision, error) {
	if err := evidence.Ambiguous(g.h, name); err != nil {
		return history.Revision{}, withHint("name it in full, such as refs/heads/main", "%w", err)
	}
	return g.h.Resolve(name, zone)
}

// journal reads the journal as it was at a revision.
func (g *lintGit) journal(name string, zone *time.Location, opt journal.Options) (*journal.Journal, error) {
	rev, err := g.resolve(name, zone)
	if err != nil {
		return nil, err
	}
	if absent, err := g.h.Absent(g.a.ctx, rev.Hash); err != nil {
		return nil, err
	} else if absent > 0 {
		return nil, errAbsent(absent)
	}
	fsys, err := g.h.FS(rev.Hash)
	if err == nil {
		var j *journal.Journal
		if j, err = journal.Load(fsys, opt); err == nil {
			return j, nil
		}
	}
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, journal.ErrNoJournal) {
		return nil, withHint("name a revision that has it", "read the journal at %s: %w", name, errNotThere)
	}
	return nil, fmt.Errorf("read the journal at %s: %w", name, err)
}

// judges reads the mainline by which the sign-offs of changes are judged, as wj
// review does. Where it cannot be read, nothing can be told of them.
func (g *lintGit) judges(j *journal.Journal, by evidence.Options, opt *lint.Options) {
	if !g.asked || !g.committed() || len(j.Changes.List) == 0 {
		return
	}
	line, err := g.a.mainline(g.h, j, by, false)
	if opt.Facts.Line = line; err != nil {
		opt.Facts.Unreadable = reasonOf(err)
	}
}

// facts gives what history knows up to the last commit, after since where that is
// named, and what j has that is not committed: the files named, or, with staged
// false, the working files that differ. Nil where there is no history to ask.
func (g *lintGit) facts(j *journal.Journal, since history.Hash, changed []string, staged bool) *githistory.Facts {
	if g.h == nil || !g.asked {
		return nil
	}
	r := githistory.Request{Context: g.a.ctx, History: g.h, Journal: j, Tip: g.head.Hash, Since: since, Now: g.a.now}
	if !g.h.Working() {
		return githistory.New(r)
	}
	r.Pending = func() ([]string, error) {
		if staged {
			return changed, nil
		}
		var dirty []history.Change
		var err error
		if g.dirty != nil {
			dirty = *g.dirty
		} else {
			dirty, err = g.h.Dirty(g.seen)
		}
		var out []string
		for _, c := range dirty {
			if out = append(out, c.Path); c.From != "" {
				out = append(out, c.From)
			}
		}
		return out, err
	}
	return githistory.New(r)
}
