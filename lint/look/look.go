// Package look has the linter look once at a journal in Git: at all of it, at what is new
// since a revision, at what is about to be committed or at an editor's text, by the settings
// and the mainline that count.
//
//	g := look.Ground{Source: s, Root: root, Loaded: func(*journal.Journal) error { return nil }}
//	found, err := g.Look(look.Question{History: true, Since: "HEAD~1"})
package look

import (
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/overlay"
	"wj/journal/source"
	"wj/lint"
	"wj/lint/githistory"
	"wj/lint/report"
)

// Question is what is asked of the linter.
type Question struct {
	Only, Skip []string // rules or families
	Base       string   // a revision whose settings and baseline judge
	Since      string   // a revision: only what is new since then
	Staged     bool     // what git is about to commit
	Stdin      bool     // Text is what the record at StdinPath may become
	StdinPath  string
	Text       []byte
	History    bool                                       // rules may ask Git
	Paths      func(j *journal.Journal) ([]string, error) // files and folders; none: all
	Baseline   string                                     // a file of known findings
	Write      bool                                       // it is about to be written
}

// Ground is where the linter looks, and what it may ask.
type Ground struct {
	*source.Source
	Root   string
	Loaded func(j *journal.Journal) error // the journal was read, before it is judged
}

// Found is what came of one look.
type Found struct {
	lint.Result
	Journal *journal.Journal
	Prefix  string // of the journal in its repository
	Path    string // of the record at StdinPath, in the journal
	Known   int    // findings that the baseline knows
	Gone    int    // findings that only the baseline knows
	Older   int    // findings that are not new
}

// Look lints the journal and leaves out what is known or not new.
func (g *Ground) Look(q Question) (Found, error) {
	out := Found{}
	var fsys fs.FS
	var err error
	if !q.Staged {
		if fsys, err = g.WholeFiles(g.Root); err != nil {
			return out, err
		}
	}
	r, err := g.open(&q)
	if err != nil {
		return out, err
	}
	defer r.close()
	if r.h != nil {
		out.Prefix = r.h.Place().Prefix
	}
	var staged history.Staged
	if q.Staged {
		if staged, err = history.ReadStaged(g.Context, g.Root); err != nil {
			return out, err
		}
		defer staged.Close()
		fsys = staged
	}
	if q.Stdin {
		if fsys, err = q.over(fsys, g.Root); err != nil {
			return out, err
		}
		out.Path = q.StdinPath
	}
	load := journal.Options{Check: true, Sessions: true}
	n := q.newer(r, fsys, staged)
	if n != nil {
		defer func() { <-n.found }()
		load.Only = n.holds
	} else if r.committed() && !q.Staged && !g.Committed() {
		r.seen = history.NewContents(g.Root)
		load.Saw = r.seen.Saw
	}
	j, err := journal.Load(fsys, load)
	if n != nil {
		if <-n.found; n.err != nil {
			return out, n.err
		}
	}
	switch {
	case q.Staged && errors.Is(err, journal.ErrNoJournal):
		return out, journal.Hint("git add "+path.Join(out.Prefix, journal.SettingsFile), "%s is not staged and not committed", journal.SettingsFile)
	case err != nil:
		return out, err
	case j.Settings.Format > journal.Format:
		return out, journal.Hint("use a newer wj", "this journal has format %d, and this program reads format %d", j.Settings.Format, journal.Format)
	}
	out.Journal = j
	if r.committed() && !g.Committed() {
		githistory.AsCheckedOut(j, r.h, r.head.Hash)
	}
	if err := g.Loaded(j); err != nil {
		return out, err
	}
	for _, name := range append(slices.Clone(q.Only), q.Skip...) {
		if !lint.Known(j, name) {
			return out, journal.Hint("wj explain lists the rules", "there is no rule or family %q", name)
		}
	}
	opt := lint.Options{Now: g.Now(), Only: q.Only, Skip: q.Skip}
	if opt.Paths, err = q.paths(j); err != nil {
		return out, err
	}
	baseline, err := q.baseline(g.Root)
	if err != nil {
		return out, err
	}
	if q.Base != "" {
		base, err := r.journal(q.Base, j.Settings.Zone, journal.Options{})
		if err != nil {
			return out, err
		}
		opt.Base = &lint.Base{Name: q.Base, Journal: base, Signed: g.GuardSigned(j, g.Root, q.Base)}
		if rel, inside, err := journal.Inside(g.Root, q.Baseline); err == nil && inside && q.Baseline != "" {
			// A branch cannot make its own findings known ones.
			opt.Base.Files = []string{rel}
			if baseline, err = report.OpenBaseline(base.FS, rel); err != nil {
				return out, err
			}
		}
	}
	r.judges(j, evidence.Options{Base: q.Base}, &opt)
	var since history.Hash // what only tells of new findings need not look at older history
	if n != nil {
		since, opt.Part = n.since, n.part
		opt.Memory = lint.MemoryOf(j, n.touched())
	}
	facts := r.facts(j, since, staged.Changed, q.Staged)
	if facts != nil {
		opt.History = facts
	}
	out.Result = lint.Run(j, opt)
	if facts != nil && facts.Err() != nil {
		g.Say("history was not looked at to its end: %s", facts.Err())
	}
	if n != nil && (!q.Staged || slices.ContainsFunc(out.Diagnostics, func(d lint.Diagnostic) bool { return d.Bars || !slices.Contains(staged.Changed, d.Path) })) {
		old, err := n.lint(j, opt)
		if errors.Is(err, errNotThere) {
			err = nil // the journal begins after it
		}
		if err != nil {
			return out, err
		}
		out.Result, out.Older = report.Fresh(out.Result, old, staged.Changed)
	}
	if baseline != nil && !q.Write {
		before := len(out.Diagnostics)
		out.Result, out.Gone = baseline.Filter(out.Result)
		out.Known = before - len(out.Diagnostics)
		if len(opt.Paths)+len(q.Only)+len(q.Skip) > 0 || q.Since != "" || q.Staged {
			out.Gone = 0 // only a whole look can tell
		}
	}
	return out, nil
}

// over lays the text of Stdin over the files.
func (q *Question) over(fsys fs.FS, root string) (fs.FS, error) {
	rel, inside, err := journal.Inside(root, q.StdinPath)
	if err != nil {
		return nil, err
	}
	if _, record := journal.FileOf(rel); !inside || !record && rel != journal.SettingsFile {
		return nil, journal.Hint("name a record, such as sessions/2026/2026-03-04-tap.md", "%s is no record of the journal %s", q.StdinPath, root)
	}
	if len(q.Text) > frontmatter.MaxFile {
		return nil, journal.Hint("keep what is large in a file beside it, named under attachments", "the text is larger than a record may be")
	}
	q.StdinPath = rel
	return overlay.New(fsys, map[string][]byte{rel: q.Text}), nil
}

func (q *Question) paths(j *journal.Journal) ([]string, error) {
	switch {
	case q.Stdin:
		return []string{q.StdinPath}, nil
	case q.Paths == nil:
		return nil, nil
	}
	return q.Paths(j)
}

// baseline reads that of the working files; nil where none is asked for, or where it is
// about to be written.
func (q *Question) baseline(root string) (*report.Baseline, error) {
	if q.Baseline == "" || q.Write {
		return nil, nil
	}
	if _, inside, _ := journal.Inside(root, q.Baseline); inside && q.Base != "" {
		return nil, nil // read at the base
	}
	b, err := report.OpenBaseline(os.DirFS(filepath.Dir(q.Baseline)), filepath.Base(q.Baseline))
	if b == nil && err == nil {
		return nil, journal.Hint("wj lint --baseline "+q.Baseline+" --write-baseline", "there is no baseline %s", q.Baseline)
	}
	return b, err
}
