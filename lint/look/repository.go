package look

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

// repository is that of the journal that is linted; h is nil where there is none that can be
// read.
type repository struct {
	g     *Ground
	h     *history.History
	head  history.Revision
	asked bool // history may be asked by rules
	seen  *history.Contents
	dirty *[]history.Change // the working files that differ from the last commit, where that is known
}

// errNotThere says that a revision does not hold the journal.
var errNotThere = errors.New("the journal is not in the revision")

// open opens the repository. What only rules would ask is done without where it cannot be
// had; what a person asked for is not.
func (g *Ground) open(q *Question) (*repository, error) {
	r := &repository{g: g, asked: q.History}
	if !q.History && q.Base == "" && q.Since == "" && !q.Staged {
		return r, nil
	}
	h, err := g.Repository(g.Root)
	if err == nil {
		r.h = h
		if r.head, err = h.Head(); errors.Is(err, history.ErrUnborn) {
			err = nil
			r.asked = false
		}
	}
	switch {
	case err == nil:
		return r, nil
	case q.Base != "" || q.Since != "":
		r.close()
		return nil, err
	case errors.Is(err, history.ErrNoRepository):
	default:
		g.Say("history is not looked at: %s", err)
	}
	r.close()
	r.h, r.asked = nil, false
	return r, nil
}

func (r *repository) close() {
	if r.h != nil {
		r.h.Close()
	}
}

// committed reports whether there is a last commit to compare with.
func (r *repository) committed() bool { return r.h != nil && !r.head.Hash.IsZero() }

// resolve finds a revision by a name that leads to one alone.
func (r *repository) resolve(name string, zone *time.Location) (history.Revision, error) {
	if err := evidence.Ambiguous(r.h, name); err != nil {
		return history.Revision{}, journal.Hint("name it in full, such as refs/heads/main", "%w", err)
	}
	return r.h.Resolve(name, zone)
}

// journal reads the journal as it was at a revision.
func (r *repository) journal(name string, zone *time.Location, opt journal.Options) (*journal.Journal, error) {
	rev, err := r.resolve(name, zone)
	if err != nil {
		return nil, err
	}
	if absent, err := r.h.Absent(r.g.Context, rev.Hash); err != nil {
		return nil, err
	} else if absent > 0 {
		return nil, history.CannotJudge(absent)
	}
	fsys, err := r.h.FS(rev.Hash)
	if err == nil {
		var j *journal.Journal
		if j, err = journal.Load(fsys, opt); err == nil {
			return j, nil
		}
	}
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, journal.ErrNoJournal) {
		return nil, journal.Hint("name a revision that has it", "read the journal at %s: %w", name, errNotThere)
	}
	return nil, fmt.Errorf("read the journal at %s: %w", name, err)
}

// judges reads the mainline by which the sign-offs of changes are judged, as wj
// review does. Where it cannot be read, nothing is known of them.
func (r *repository) judges(j *journal.Journal, by evidence.Options, opt *lint.Options) {
	if !r.asked || !r.committed() || len(j.Changes.List) == 0 {
		return
	}
	line, err := r.g.Mainline(r.h, j, by, false)
	if opt.Facts.Line = line; err != nil {
		opt.Facts.Unreadable = history.Reason(err)
	}
}

// Facts gives what history knows of the working files to the rules, for one who has them
// compared with the last commit already.
func (g *Ground) Facts(h *history.History, head history.Revision, j *journal.Journal, working []history.Change) *githistory.Facts {
	r := &repository{g: g, h: h, head: head, asked: true, dirty: &working}
	return r.facts(j, history.Hash{}, nil, false)
}

// facts gives what history knows up to the last commit, after since where that is
// named, and what j has that is not committed: the files named, or, with staged
// false, the working files that differ. Nil where there is no history to ask.
func (r *repository) facts(j *journal.Journal, since history.Hash, changed []string, staged bool) *githistory.Facts {
	if r.h == nil || !r.asked {
		return nil
	}
	ask := githistory.Request{Context: r.g.Context, History: r.h, Journal: j, Tip: r.head.Hash, Since: since, Now: r.g.Now}
	if !r.h.Working() {
		return githistory.New(ask)
	}
	ask.Pending = func() ([]string, error) {
		if staged {
			return changed, nil
		}
		var dirty []history.Change
		var err error
		if r.dirty != nil {
			dirty = *r.dirty
		} else {
			dirty, err = r.h.Dirty(r.seen)
		}
		var out []string
		for _, c := range dirty {
			if out = append(out, c.Path); c.From != "" {
				out = append(out, c.From)
			}
		}
		return out, err
	}
	return githistory.New(ask)
}
