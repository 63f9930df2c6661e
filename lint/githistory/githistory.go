// Package githistory gives the linter what Git knows of a journal: who brought a
// record, what it said before, and what was taken out.
//
//	facts := githistory.New(githistory.Request{Context: ctx, History: h, Journal: j, Tip: head.Hash, Now: time.Now})
//	result := lint.Run(j, lint.Options{Now: time.Now(), History: facts})
//	if err := facts.Err(); err != nil {
//		return err // history could not be read to its end: rules that need it judged in part
//	}
package githistory

import (
	"cmp"
	"context"
	"errors"
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

// Request says what is asked of which history.
type Request struct {
	Context context.Context
	History *history.History
	Journal *journal.Journal
	Tip     history.Hash
	// Since leaves out what this commit and its ancestors did: what only they can
	// tell is told of the records named alone. Zero is everything.
	Since history.Hash
	// Pending gives the files that differ from the tip; nil: none are asked for.
	Pending func() ([]string, error)
	Now     func() time.Time
}

// New gives the facts of a history. Nothing is read until a rule asks.
func New(r Request) *Facts { return &Facts{Request: r} }

// Facts is what Git knows of a journal, as the linter asks for it. One walk over
// the commits, made when the first rule asks, finds all of it; contents are
// read as they are asked for. Of a hundred thousand commits little is kept.
type Facts struct {
	Request

	lock     sync.Mutex
	earlier  map[string]lint.Commit // see broughtBefore
	standing map[string]lint.Commit // see commitOf
	before   map[string]string      // path → the one that a commit after Since moved it from
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
	who               int32 // index in Facts.people
	signed            bool
	authored, written int64 // Unix seconds
}

// broughtBy is the index of a commit in Facts.commits; not ok where it does not
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

func (p *Facts) commit(n int32) lint.Commit {
	c := p.commits[n]
	who := p.people[c.who]
	return lint.Commit{ID: c.hash.Short(), Name: who.Name, Email: who.Email, Authored: time.Unix(c.authored, 0), Written: time.Unix(c.written, 0), Signed: c.signed}
}

// manySessions is how many sessions nobody tests in a day: a commit that brings
// more is an import or a move, and says who copied them, not who tested.
// Common practice, no source.
const manySessions = 20

// Err says why history could not be read to its end.
func (p *Facts) Err() error { return p.err }

// walk gathers the facts.
func (p *Facts) walk() {
	p.once.Do(func() {
		p.differ = map[string]bool{}
		if p.fsys, p.err = p.History.FS(p.Tip); p.err != nil {
			if errors.Is(p.err, fs.ErrNotExist) {
				p.err = nil // not committed yet
			}
			return
		}
		if p.Pending != nil {
			var names []string
			if names, p.err = p.Pending(); p.err != nil {
				return
			}
			for _, name := range names {
				p.differ[name] = true
			}
		}
		p.brought, p.versions = make(map[string]broughtBy, len(p.Journal.Files)), map[string][]recordVersion{}
		w := walker{p: p, people: map[history.Person]int32{}, paths: make(map[string]string, len(p.Journal.Files)), names: map[string]string{}, ended: map[string]bool{}}
		for _, f := range p.Journal.Files {
			w.paths[f.Path] = f.Path
		}
		if _, p.err = p.History.Walk(p.Context, p.Tip, history.WalkOptions{Exclude: p.Since}, w.step); p.err != nil {
			p.brought, p.versions, p.gone = nil, nil, nil
			return
		}
		p.History.Forget()
		for name := range p.differ {
			if f, ok := journal.FileOf(name); ok && !p.Journal.Exists(f.Kind, f.ID) && p.inTip(name) {
				p.gone = append(p.gone, lint.Gone{Path: name})
			}
		}
		slices.SortFunc(p.gone, func(a, b lint.Gone) int { return slices.Compare([]string{a.Path}, []string{b.Path}) })
	})
}

func (p *Facts) inTip(name string) bool {
	_, err := fs.Stat(p.fsys, name)
	return err == nil
}

// walker follows records back through their names.
type walker struct {
	p      *Facts
	people map[history.Person]int32
	paths  map[string]string       // the journal's own strings, so that none is kept twice
	names  map[string]string       // path at this point of the walk → path now
	ended  map[string]bool         // what came before belongs to an earlier record of the path
	moved  map[history.Hash]string // content that a merge keeps under another name → path now
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
		now := cmp.Or(w.names[change.Path], change.Path)
		if own, ok := w.paths[now]; ok {
			now = own
		}
		if w.apart(change, now, commit, len(s.Parents) > 1, sessions <= manySessions && !s.Boundary) {
			continue
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
			if w.p.before == nil {
				w.p.before = map[string]string{}
			}
			w.p.before[change.Path] = change.From
			w.names[change.From] = now
		}
	}
	return nil
}

// apart follows a session whose name two people took on one day: the merge that kept
// the later sample under another name did not record it. It reports whether the
// change is one of that sample, and not of the record that has the name now.
func (w *walker) apart(change history.Change, now string, commit int32, merge, known bool) bool {
	if f, _ := journal.FileOf(change.Path); f.Kind != journal.KindSession {
		return false
	}
	if merge && change.Kind == history.Added {
		if w.moved == nil {
			w.moved = map[history.Hash]string{}
		}
		w.moved[change.After] = now
		return false // where no parent has it, the merge brought it
	}
	sample, ok := w.moved[change.After]
	if !ok || sample == now {
		return false
	}
	delete(w.moved, change.After)
	if change.Kind == history.Added {
		w.p.brought[sample] = broughtBy{commit, known}
		return true
	}
	w.p.versions[sample] = append(w.p.versions[sample], recordVersion{commit, change.Before, change.After})
	w.moved[change.Before] = sample
	return true
}

// Added is the commit that brought a file.
func (p *Facts) Added(path string) (lint.Commit, bool) {
	p.walk()
	by, ok := p.brought[path]
	switch {
	case by.ok:
		return p.commit(by.commit), true
	case !ok && !p.Since.IsZero() && (len(p.versions[path]) > 0 || p.differ[path]):
		return p.broughtBefore(path)
	}
	return lint.Commit{}, false
}

// broughtBefore is the commit before Since that brought a record which changed
// after it: only of these can it matter.
func (p *Facts) broughtBefore(path string) (lint.Commit, bool) {
	p.lock.Lock()
	defer p.lock.Unlock()
	if c, known := p.earlier[path]; known {
		return c, c.ID != ""
	}
	if p.earlier == nil {
		p.earlier = map[string]lint.Commit{}
	}
	p.earlier[path] = lint.Commit{}
	versions, _, err := p.History.FileLog(p.Context, p.Tip, path)
	if err != nil || len(versions) == 0 {
		return lint.Commit{}, false
	}
	first := versions[len(versions)-1]
	changes, err := p.History.ParentChanges(first.Hash)
	sessions := 0
	for _, c := range slices.Concat(changes...) {
		if f, ok := journal.FileOf(c.Path); ok && f.Kind == journal.KindSession && c.Kind == history.Added {
			sessions++
		}
	}
	if err != nil || sessions > manySessions || first.Boundary {
		return lint.Commit{}, false
	}
	p.earlier[path] = commitFrom(first.Revision)
	return p.earlier[path], true
}

// Changed lists the records that have more than one version.
func (p *Facts) Changed() []string {
	p.walk()
	var out []string
	for path, list := range p.versions {
		if len(list) > 1 || p.differ[path] || !p.Since.IsZero() && !list[len(list)-1].before.IsZero() {
			out = append(out, path)
		}
	}
	for path := range p.differ {
		if _, ok := p.brought[path]; (ok || !p.Since.IsZero() && p.inTip(path)) && len(p.versions[path]) == 0 {
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
func (p *Facts) Versions(path string) iter.Seq2[lint.Commit, []byte] {
	p.walk()
	return func(yield func(lint.Commit, []byte) bool) {
		var last lint.Commit
		chain := p.chain(path)
		for _, v := range slices.Backward(chain) {
			content, err := p.History.Blob(v.after)
			if err != nil {
				continue
			}
			if last = p.commitOf(path, v); !yield(last, content) {
				return
			}
		}
		if len(chain) == 0 || !p.differ[path] {
			return
		}
		if content, err := fs.ReadFile(p.Journal.FS, path); err == nil {
			// Who is about to commit is not known: it may be the one before.
			yield(lint.Commit{ID: "not made yet", Name: "somebody", Email: last.Email, Authored: p.Now(), Written: p.Now()}, content)
		}
	}
}

// commitOf is the commit of a version; of the one that was at Since it has to be
// looked for.
func (p *Facts) commitOf(path string, v recordVersion) lint.Commit {
	if v.commit >= 0 {
		return p.commit(v.commit)
	}
	p.lock.Lock()
	defer p.lock.Unlock()
	if c, known := p.standing[path]; known {
		return c
	}
	if p.standing == nil {
		p.standing = map[string]lint.Commit{}
	}
	c := lint.Commit{ID: p.Since.Short()}
	before := path
	for before != "" { // the name that it had then
		versions, _, err := p.History.FileLog(p.Context, p.Since, before)
		if err == nil && len(versions) > 0 {
			c = commitFrom(versions[0].Revision)
			break
		}
		before = p.before[before]
	}
	p.standing[path] = c
	return c
}

func commitFrom(r history.Revision) lint.Commit {
	return lint.Commit{ID: r.Hash.Short(), Name: r.Author.Name, Email: r.Author.Email, Authored: r.Author.When, Written: r.Committer.When, Signed: r.Signed}
}

func (p *Facts) chain(path string) []recordVersion {
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
	if !p.Since.IsZero() && !want.IsZero() {
		chain = append(chain, recordVersion{commit: -1, after: want})
	}
	return chain
}

// Gone lists the records that were taken out.
func (p *Facts) Gone() []lint.Gone {
	p.walk()
	return p.gone
}

// Lost is the newest signed tag of a known person where the branch does not
// hold its commit. A tag further on than the checked-out commit loses nothing.
func (p *Facts) Lost() []lint.Lost {
	p.walk()
	if p.err != nil || p.Pending == nil {
		return nil
	}
	tags, err := p.History.Tags()
	if err != nil {
		p.err = err
		return nil
	}
	ring := evidence.Keyring(p.Journal)
	var last *history.Tag
	for i := range tags {
		tag := &tags[i]
		if !tag.Signed || last != nil && !tag.Tagger.When.After(last.Tagger.When) {
			continue
		}
		if v, err := p.History.VerifyTag(*tag, ring, time.Time{}); err == nil && (v.Kind == history.Good || v.Kind == history.Expired && v.ValidThen) {
			last = tag
		}
	}
	if last == nil {
		return nil
	}
	for _, pair := range [][2]history.Hash{{last.Commit, p.Tip}, {p.Tip, last.Commit}} {
		if held, err := p.History.IsAncestor(p.Context, pair[0], pair[1]); err != nil || held {
			return nil
		}
	}
	return []lint.Lost{{Anchor: last.Commit.Short() + " (tag " + last.Name + ")"}}
}

// Shallow reports whether this copy lacks older commits.
func (p *Facts) Shallow() bool { return p.History.Shallow() }
