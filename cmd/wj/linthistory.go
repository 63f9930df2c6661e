package main

import (
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"slices"
	"sync"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/lint"
)

// lintGit is the repository of the journal that is linted; h is nil where there
// is none that can be read.
type lintGit struct {
	a     *app
	root  string
	h     *history.History
	head  history.Revision
	asked bool             // history may be asked by rules
	tip   history.Revision // what is linted: the last commit with what is not committed, or, over, only itself
	over  bool
	seen  *history.Contents
}

// errNotThere says that a revision does not hold the journal.
var errNotThere = errors.New("the journal is not in the revision")

// git opens the repository. What only rules would ask is done without where
// it cannot be had; what the command line asks for is not.
func (c *lintCmd) git(a *app, root string) (*lintGit, error) {
	g := &lintGit{a: a, root: root, asked: c.History}
	if !c.History && c.Base == "" && c.Since == "" && c.At == "" && !c.Staged {
		return g, nil
	}
	h, err := history.Open(root)
	if err == nil {
		g.h = h
		if g.head, err = h.Head(); errors.Is(err, history.ErrUnborn) {
			err = nil
			g.asked = false
		}
		g.tip = g.head
	}
	switch {
	case err == nil:
		return g, nil
	case c.Base != "" || c.Since != "" || c.At != "":
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

// journal reads the journal as it was at a revision.
func (g *lintGit) journal(name string, zone *time.Location, opt journal.Options) (*journal.Journal, error) {
	if err := evidence.Ambiguous(g.h, name); err != nil {
		return nil, withHint("name it in full, such as refs/heads/main", "%w", err)
	}
	rev, err := g.h.Resolve(name, zone)
	if err != nil {
		return nil, err
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

// at reads the journal as it was at a revision or date, which is what is linted
// then, as of the moment of that commit.
func (g *lintGit) at(name string, opt journal.Options) (*journal.Journal, error) {
	now, err := journal.Load(journal.Dir(g.root), journal.Options{})
	if err != nil {
		return nil, err
	}
	j, rev, err := g.a.journalAt(g.h, name, now.Settings.Zone, opt)
	g.tip, g.over = rev, true
	if err == nil {
		g.a.say("as of %s", revisionName(rev, now.Settings.Zone))
		g.a.now = func() time.Time { return rev.Committer.When }
	}
	return j, err
}

// lint judges an earlier revision by the settings of now, so that only what
// changed in the records counts as new. A revision without the journal has no
// findings.
func (g *lintGit) lint(name string, now *journal.Journal, opt lint.Options) (lint.Result, error) {
	old, err := g.journal(name, now.Settings.Zone, journal.Options{Check: true, Sessions: true})
	if errors.Is(err, errNotThere) {
		return lint.Result{}, nil
	}
	if err != nil {
		return lint.Result{}, err
	}
	rev, err := g.h.Resolve(name, now.Settings.Zone)
	if err != nil {
		return lint.Result{}, err
	}
	old.Settings = now.Settings
	if opt.History != nil {
		opt.History = &past{g: g, j: old, tip: rev.Hash}
	}
	return lint.Run(old, opt), nil
}

// past gives the facts of history up to the last commit, and what j has that
// is not committed: the files named, or, with staged false, the working files
// that differ.
func (g *lintGit) past(j *journal.Journal, changed []string, staged bool) *past {
	if g.h == nil || !g.asked {
		return nil
	}
	p := &past{g: g, j: j, tip: g.tip.Hash}
	if g.over {
		return p
	}
	p.pending = func() ([]string, error) {
		if staged {
			return changed, nil
		}
		dirty, err := history.Dirty(g.root, g.seen)
		var out []string
		for _, c := range dirty {
			if out = append(out, c.Path); c.From != "" {
				out = append(out, c.From)
			}
		}
		return out, err
	}
	return p
}

// past is what Git knows of a journal, as the linter asks for it. One walk over
// the commits, made when the first rule asks, finds all of it; contents are
// read as they are asked for. Of a hundred thousand commits little is kept.
type past struct {
	g       *lintGit
	j       *journal.Journal
	tip     history.Hash
	pending func() ([]string, error) // files that differ from the tip; nil: none

	once     sync.Once
	err      error
	fsys     fs.FS
	commits  []commitFacts
	people   []history.Person
	brought  map[string]broughtBy       // by the path of now: the commit that added it
	versions map[string][]recordVersion // by the path of now, the newest first; not of those that were only added
	gone     []lint.Gone
	differ   map[string]bool
}

// commitFacts is what is kept of a commit.
type commitFacts struct {
	hash              history.Hash
	who               int32 // index in past.people
	signed            bool
	authored, written int64 // Unix seconds
}

// broughtBy is the index of a commit in past.commits; not ok where it does not
// tell who tested, see manySessions.
type broughtBy struct {
	commit int32
	ok     bool
}

// recordVersion is one commit's content of a record.
type recordVersion struct {
	commit        int32
	before, after history.Hash
}

func (p *past) commit(n int32) lint.Commit {
	c := p.commits[n]
	who := p.people[c.who]
	return lint.Commit{ID: c.hash.Short(), Name: who.Name, Email: who.Email, Authored: time.Unix(c.authored, 0), Written: time.Unix(c.written, 0), Signed: c.signed}
}

// manySessions is how many sessions nobody tests in a day: a commit that brings
// more is an import or a move, and says who copied them, not who tested.
// Common practice, no source.
const manySessions = 20

// facts is what the linter asks, nil where there is no history.
func (p *past) facts() lint.GitHistory {
	if p == nil {
		return nil
	}
	return p
}

// complain says that history could not be read, once the linter is done.
func (p *past) complain() {
	if p != nil && p.err != nil {
		p.g.a.say("history was not looked at to its end: %s", p.err)
	}
}

// walk gathers the facts.
func (p *past) walk() {
	p.once.Do(func() {
		p.differ = map[string]bool{}
		if p.fsys, p.err = p.g.h.FS(p.tip); p.err != nil {
			if errors.Is(p.err, fs.ErrNotExist) {
				p.err = nil // not committed yet
			}
			return
		}
		if p.pending != nil {
			var names []string
			if names, p.err = p.pending(); p.err != nil {
				return
			}
			for _, name := range names {
				p.differ[name] = true
			}
		}
		p.brought, p.versions = make(map[string]broughtBy, len(p.j.Files)), map[string][]recordVersion{}
		w := walker{p: p, people: map[history.Person]int32{}, paths: make(map[string]string, len(p.j.Files)), names: map[string]string{}, ended: map[string]bool{}}
		for _, f := range p.j.Files {
			w.paths[f.Path] = f.Path
		}
		if _, p.err = p.g.h.Walk(p.g.a.ctx, p.tip, history.WalkOptions{}, w.step); p.err != nil {
			p.brought, p.versions, p.gone = nil, nil, nil
			return
		}
		p.g.h.Forget()
		for name := range p.differ {
			if f, ok := journal.FileOf(name); ok && !p.j.Exists(f.Kind, f.ID) && p.inTip(name) {
				p.gone = append(p.gone, lint.Gone{Path: name})
			}
		}
		slices.SortFunc(p.gone, func(a, b lint.Gone) int { return slices.Compare([]string{a.Path}, []string{b.Path}) })
	})
}

func (p *past) inTip(name string) bool {
	_, err := fs.Stat(p.fsys, name)
	return err == nil
}

// walker follows records back through their names.
type walker struct {
	p      *past
	people map[history.Person]int32
	paths  map[string]string // the journal's own strings, so that none is kept twice
	names  map[string]string // path at this point of the walk → path now
	ended  map[string]bool   // what came before belongs to an earlier record of the path
}

func (w *walker) step(s history.Step) error {
	person := history.Person{Name: s.Author.Name, Email: s.Author.Email}
	who, known := w.people[person]
	if !known {
		who = int32(len(w.p.people))
		w.people[person], w.p.people = who, append(w.p.people, person)
	}
	commit := int32(len(w.p.commits))
	w.p.commits = append(w.p.commits, commitFacts{hash: s.Hash, who: who, signed: s.Signed, authored: s.Author.When.Unix(), written: s.Committer.When.Unix()})
	sessions := 0
	for _, change := range s.Changes {
		if f, ok := journal.FileOf(change.Path); ok && f.Kind == journal.KindSession && change.Kind == history.Added {
			sessions++
		}
	}
	for _, change := range s.Changes {
		if _, ok := journal.FileOf(change.Path); !ok || w.ended[change.Path] {
			continue
		}
		now := orElse(w.names[change.Path], change.Path)
		if own, ok := w.paths[now]; ok {
			now = own
		}
		if _, ended := w.p.brought[now]; ended && now == change.Path {
			continue
		}
		if change.Kind == history.Deleted {
			if now == change.Path && len(w.p.versions[now]) == 0 && !w.p.inTip(now) {
				w.p.gone = append(w.p.gone, lint.Gone{Path: now, By: w.p.commit(commit)})
				w.ended[change.Path] = true
			}
			continue
		}
		if change.Kind != history.Added || len(w.p.versions[now]) > 0 {
			w.p.versions[now] = append(w.p.versions[now], recordVersion{commit, change.Before, change.After})
		}
		switch change.Kind {
		case history.Added:
			w.p.brought[now] = broughtBy{commit, sessions <= manySessions && !s.Boundary}
			if now != change.Path {
				w.ended[change.Path] = true
			}
		case history.Renamed:
			w.ended[change.Path] = true
			delete(w.ended, change.From)
			w.names[change.From] = now
		}
	}
	return nil
}

// Added is the commit that brought a file.
func (p *past) Added(path string) (lint.Commit, bool) {
	p.walk()
	if by := p.brought[path]; by.ok {
		return p.commit(by.commit), true
	}
	return lint.Commit{}, false
}

// Changed lists the records that have more than one version.
func (p *past) Changed() []string {
	p.walk()
	var out []string
	for path, list := range p.versions {
		if len(list) > 1 || p.differ[path] {
			out = append(out, path)
		}
	}
	for path := range p.differ {
		if _, ok := p.brought[path]; ok && len(p.versions[path]) == 0 {
			out = append(out, path)
		}
	}
	slices.Sort(out)
	return out
}

// Versions are the contents of a file that led to the present one, the oldest
// first: from each version to the one that its commit changed, so that what
// happened on two branches at once is not taken for a change of mind. What is
// not committed comes last.
func (p *past) Versions(path string) iter.Seq2[lint.Commit, []byte] {
	p.walk()
	return func(yield func(lint.Commit, []byte) bool) {
		var last lint.Commit
		chain := p.chain(path)
		for _, v := range slices.Backward(chain) {
			content, err := p.g.h.Blob(v.after)
			if err != nil {
				continue
			}
			if last = p.commit(v.commit); !yield(last, content) {
				return
			}
		}
		if len(chain) == 0 || !p.differ[path] {
			return
		}
		if content, err := fs.ReadFile(p.j.FS, path); err == nil {
			// Who is about to commit is not known: it may be the one before.
			yield(lint.Commit{ID: "not made yet", Name: "somebody", Email: last.Email, Authored: p.g.a.now(), Written: p.g.a.now()}, content)
		}
	}
}

func (p *past) chain(path string) []recordVersion {
	info, err := fs.Stat(p.fsys, path)
	if err != nil {
		return nil
	}
	want, _ := info.Sys().(history.Hash)
	var chain []recordVersion
	if by, ok := p.brought[path]; ok && len(p.versions[path]) == 0 {
		return []recordVersion{{commit: by.commit, after: want}}
	}
	for _, v := range p.versions[path] {
		if v.after == want {
			if v.before != v.after { // a mere renaming is no version
				chain = append(chain, v)
			}
			if want = v.before; want.IsZero() {
				break
			}
		}
	}
	return chain
}

// Gone lists the records that were taken out.
func (p *past) Gone() []lint.Gone {
	p.walk()
	return p.gone
}

// Lost is the newest signed tag of a known person where the branch does not
// hold its commit. A tag further on than the checked-out commit loses nothing.
func (p *past) Lost() []lint.Lost {
	p.walk()
	if p.err != nil || p.pending == nil {
		return nil
	}
	tags, err := p.g.h.Tags()
	if err != nil {
		p.err = err
		return nil
	}
	ring := keyring(p.j)
	var last *history.Tag
	for i := range tags {
		tag := &tags[i]
		if !tag.Signed || last != nil && !tag.Tagger.When.After(last.Tagger.When) {
			continue
		}
		if v, err := p.g.h.VerifyTag(*tag, ring, time.Time{}); err == nil && (v.Kind == history.Good || v.Kind == history.Expired && v.ValidThen) {
			last = tag
		}
	}
	if last == nil {
		return nil
	}
	for _, pair := range [][2]history.Hash{{last.Commit, p.tip}, {p.tip, last.Commit}} {
		if held, err := p.g.h.IsAncestor(p.g.a.ctx, pair[0], pair[1]); err != nil || held {
			return nil
		}
	}
	return []lint.Lost{{Anchor: last.Commit.Short() + " (tag " + last.Name + ")"}}
}

// Shallow reports whether this copy lacks older commits.
func (p *past) Shallow() bool { return p.g.h.Shallow() }
