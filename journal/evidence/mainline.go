package evidence

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// Positions of what is not on the mainline: after every commit of it.
const (
	Unplaced    = -1      // its place is unknown: beyond what this copy holds
	Pending     = 1 << 30 // on the branch that is checked out, not merged yet
	Uncommitted = Pending + 1
)

// Mainline is the first-parent line of the branch that judges, oldest commit
// first, with what each commit brought, and with the branch that is checked out
// where that is another one. A commit's position in it is its place in time.
type Mainline struct {
	repo     Repository
	base     Base
	head     history.Revision
	onLine   bool // the checked-out commit is on the mainline
	behind   bool // it is an older one
	commits  []lineCommit
	files    map[string]*track        // by recordKey
	origins  map[origin][]Origin      // of each content, newest commit first
	aside    map[string][]fileVersion // every content of a sign-off on any branch, newest first, by recordKey
	steps    []history.Step           // every commit, newest first, where they were asked for
	founded  int                      // the position of the commit that brought wj.yaml
	cut      bool                     // this copy does not reach back to the first commit
	stopped  string                   // why a walk ended early
	rules    []Rules
	sides    []side          // what merges took in beside the mainline
	brought  *journal.Joined // of the history of a joined journal: as what it was brought in
	joined   []joined
	places   map[history.Hash]int // see place
	acts     map[string]*act      // sign-offs as they were brought, by id
	others   map[string][]*act    // refusals and requests that a file of the same name held
	arrived  map[string]int       // sessions by recordKey, where somebody asked; see Arrived
	distinct map[string]int       // how many contents each file had, where somebody asked
	given    map[string]string    // the id under which each statement first came, by its digest
}

// lineCommit is one commit of the mainline.
type lineCommit struct {
	hash    history.Hash
	parents []history.Hash
	when    time.Time // of the committer: a claim
	floor   time.Time // not earlier than this, by the clocks of two commits before it
}

// track is the history of one file on the mainline: a record by its kind and
// id, wherever in its folder it lay; other files by their path.
type track struct {
	versions []fileVersion // oldest first
}

type fileVersion struct {
	at   int // position on the mainline, or Pending
	path string
	blob history.Hash // zero: taken out
}

type origin struct {
	key  string
	blob history.Hash
}

// recordKey names a file across folders and renames.
func recordKey(p string) string {
	if f, ok := journal.FileOf(p); ok {
		return f.Kind.Folder() + " " + f.ID
	}
	if f, ok := journal.FileOf(strings.TrimSuffix(strings.TrimSuffix(p, ".sig"), ".asc")); ok {
		return f.Kind.Folder() + " " + f.ID + p[strings.LastIndexByte(p, '.'):]
	}
	return p
}

// guardFolders hold what everything else is judged by, with wj.yaml.
var guardFolders = []string{"people", "owners", "sites"}

// inGuardFolder reports whether everything else is judged by a file (one of guardFolders or wj.yaml), which is named by its
// path or its recordKey.
func inGuardFolder(name string) bool {
	folder := name
	if i := strings.IndexAny(name, "/ "); i >= 0 {
		folder = name[:i]
	}
	return name == journal.SettingsFile || slices.Contains(guardFolders, folder)
}

// judgedFolders are what a judgement of sign-offs, and of what decides, looks at.
var judgedFolders = []string{"people", "owners", "sites", "targets", "instruments", "methods", "signoffs", "changes", "batches", "anchors", journal.SettingsFile}

// Judges reports whether a mainline that was read in part knows all of a file's
// history.
func Judges(path string) bool {
	folder, _, _ := strings.Cut(path, "/")
	return slices.Contains(judgedFolders, folder)
}

// readMainline walks the branch that judges, and what the checked-out commit
// has beside it. With all, every file is followed and every commit is kept.
func readMainline(ctx context.Context, repo Repository, base Base, all bool) (*Mainline, error) {
	m := &Mainline{repo: repo, base: base, files: map[string]*track{}, origins: map[origin][]Origin{}, aside: map[string][]fileVersion{}, founded: -1}
	var err error
	if m.head, err = repo.Head(); err != nil {
		return nil, err
	}
	tip := base.Commit.Hash
	// An older commit that is checked out is judged as it was then: its mainline
	// ends with it.
	if m.head.Hash != tip {
		if held, err := repo.IsAncestor(ctx, m.head.Hash, tip); err != nil {
			return nil, err
		} else if held {
			tip, m.base.Commit, m.behind = m.head.Hash, m.head, true
		}
	}
	options := history.WalkOptions{Folders: judgedFolders}
	if all {
		options.Folders = nil
	}
	var steps []history.Step
	walked, err := repo.Walk(ctx, tip, options, func(s history.Step) error {
		if all && s.FirstParent {
			m.extend(history.Link{Hash: s.Hash, Parents: s.Parents, When: s.Committer.When, Boundary: s.Boundary})
		}
		if !strings.Contains(s.Message, "uthored-") {
			s.Message = "" // nothing else of it is asked for
		}
		steps = append(steps, s)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read history: %w", err)
	}
	if !all { // the walk leaves commits of the mainline out
		line, err := repo.Mainline(ctx, tip)
		if err != nil {
			return nil, fmt.Errorf("read the mainline: %w", err)
		}
		for _, l := range line {
			m.extend(l)
		}
	}
	m.settle()
	m.stopped = walked.Stopped
	position := map[history.Hash]int{m.head.Hash: Unplaced} // of the commits that are asked for
	for _, s := range steps {
		position[s.MergedBy] = Unplaced
		if !s.FirstParent {
			for _, p := range s.Parents {
				position[p] = Unplaced
			}
		}
	}
	merges := false
	for i := range m.commits {
		c := &m.commits[i]
		if _, asked := position[c.hash]; asked {
			position[c.hash] = i
		}
		merges = merges || len(c.parents) > 1
	}
	m.onLine = position[m.head.Hash] != Unplaced
	brought := make([][]history.Change, len(m.commits))
	for _, s := range steps {
		at := position[s.MergedBy]
		if at == Unplaced {
			return nil, fmt.Errorf("read history: commit %s: it is on no branch of the mainline", s.Hash.Short())
		}
		m.saw(s, at, all)
		if s.FirstParent && len(s.Parents) < 2 {
			brought[at] = s.Changes
		}
	}
	switch {
	case all:
		m.steps = steps
		for at, c := range m.commits {
			if len(c.parents) > 1 {
				if brought[at], err = repo.Diff(c.parents[0], c.hash); err != nil {
					return nil, fmt.Errorf("read history: %w", err)
				}
			}
		}
	case merges: // what a merge brings it may have from any side, or of its own
		i := len(m.commits)
		if err := repo.Brought(ctx, tip, judgedFolders, func(commit history.Hash, changes []history.Change) error {
			for i--; i > 0 && m.commits[i].hash != commit; i-- { // the newest come first
			}
			brought[i] = changes
			return nil
		}); err != nil {
			return nil, fmt.Errorf("read history: %w", err)
		}
	}
	for at, changes := range brought {
		if at == 0 && m.cut {
			if err := m.beyond(); err != nil {
				return nil, err
			}
			continue
		}
		m.bring(at, changes, all)
	}
	if m.head.Hash != tip {
		var pending [][]history.Change
		if _, err := repo.Walk(ctx, m.head.Hash, history.WalkOptions{Exclude: tip, Folders: options.Folders}, func(s history.Step) error {
			m.saw(s, Pending, all)
			if all {
				s.Message = ""
				m.steps = append(m.steps, s)
			}
			pending = append(pending, s.Changes)
			return nil
		}); err != nil {
			return nil, fmt.Errorf("read history: %w", err)
		}
		for _, changes := range slices.Backward(pending) {
			m.bring(Pending, changes, all)
		}
	}
	if m.founded < 0 {
		m.founded = 0
	} else if c, ok := m.commit(m.settled()); ok {
		if whole, wasMoved, err := follow(repo, c.hash); err != nil {
			return nil, fmt.Errorf("read where the journal lay before: %w", err)
		} else if wasMoved {
			return readMainline(ctx, whole, base, all)
		}
	}
	return m, m.readSides(ctx, steps, position)
}

// settled is the position from which the journal lies where it does without a
// break.
func (m *Mainline) settled() int {
	at, there := m.founded, false
	for _, v := range m.files[journal.SettingsFile].versions {
		if !v.blob.IsZero() && !there {
			at = v.at
		}
		there = !v.blob.IsZero()
	}
	return at
}

// extend adds the next older commit of the mainline.
func (m *Mainline) extend(l history.Link) {
	c := lineCommit{hash: l.Hash, parents: l.Parents, when: l.When}
	if l.Boundary {
		c.parents, m.cut = nil, true
	}
	m.commits = append(m.commits, c)
}

// settle puts the commits in the order of their coming and finds their floors.
func (m *Mainline) settle() {
	slices.Reverse(m.commits)
	// The floor is the second latest time of the commits before: one wrong clock
	// does not move the others.
	var latest, second time.Time
	for i := range m.commits {
		c := &m.commits[i]
		c.floor = second
		switch {
		case c.when.After(latest):
			latest, second = c.when, latest
		case c.when.After(second):
			second = c.when
		}
	}
}

// saw keeps who made each content, and every content of each sign-off. Steps come
// newest first.
func (m *Mainline) saw(s history.Step, at int, all bool) {
	o := originOf(s.Revision)
	for _, c := range s.Changes {
		if c.Kind == history.Deleted {
			continue
		}
		folder, _, _ := strings.Cut(c.Path, "/")
		if !all && !Judges(c.Path) || c.Kind == history.Renamed && c.Before == c.After {
			continue
		}
		k := origin{recordKey(c.Path), c.After}
		if folder == journal.KindSignoff.Folder() {
			m.aside[k.key] = append(m.aside[k.key], fileVersion{at: at, path: c.Path, blob: c.After})
		}
		m.origins[k] = append(m.origins[k], o)
	}
}

// bring takes note of what a commit of the mainline changed.
func (m *Mainline) bring(at int, changes []history.Change, all bool) {
	for _, c := range changes {
		if c.Path == journal.SettingsFile && m.founded < 0 {
			m.founded = at
		}
		key := recordKey(c.Path)
		if c.Kind == history.Renamed && recordKey(c.From) != key && (all || Judges(c.From)) {
			m.add(recordKey(c.From), fileVersion{at: at, path: c.From})
		}
		if all || Judges(c.Path) {
			m.add(key, fileVersion{at: at, path: c.Path, blob: c.After})
		}
	}
}

func (m *Mainline) add(key string, v fileVersion) {
	t := m.files[key]
	if t == nil {
		t = &track{}
		m.files[key] = t
	}
	t.versions = append(t.versions, v)
}

// beyond notes what was there already in the oldest commit of a shallow copy:
// how it came is not known.
func (m *Mainline) beyond() error {
	list, err := m.repo.List(m.commits[0].hash, "")
	if err != nil {
		return fmt.Errorf("read the oldest commit of this copy: %w", err)
	}
	for _, e := range list {
		m.add(recordKey(e.Path), fileVersion{at: Unplaced, path: e.Path, blob: e.Blob})
	}
	return nil
}

// Behind reports whether the branch that judges goes on after the checked-out
// commit: what was decided since is not looked at.
func (m *Mainline) Behind() bool { return m != nil && m.behind }

// At gives the position at which a record's file first came to the mainline.
func (m *Mainline) At(path string) (int, bool) {
	if m == nil {
		return 0, false
	}
	t := m.files[recordKey(path)]
	if t == nil || len(t.versions) == 0 {
		return Uncommitted, true
	}
	return t.versions[0].at, t.versions[0].at != Unplaced
}

// Arrived gives the position at which a session first came to the mainline. Where
// sessions were not followed they are read when first asked for.
func (m *Mainline) Arrived(path string) (int, bool) {
	if m == nil {
		return 0, false
	}
	key := recordKey(path)
	for _, j := range m.joined {
		if f, ok := journal.FileOf(path); ok && j.Has(f.ID) {
			if at, known := j.line.Arrived(path); known && at >= 0 && at < joinedRange {
				return j.base + at, true
			}
		}
	}
	if m.files[key] != nil {
		return m.At(path)
	}
	if m.arrived == nil {
		m.arrived = map[string]int{}
		position := make(map[history.Hash]int, len(m.commits))
		for i, c := range m.commits {
			position[c.hash] = i
		}
		folder := journal.KindSession.Folder()
		if _, err := m.repo.Walk(context.Background(), m.base.Commit.Hash, history.WalkOptions{Folders: []string{folder}}, func(s history.Step) error {
			at, ok := position[s.MergedBy]
			if !ok || at == 0 && m.cut {
				at = Unplaced
			}
			for _, c := range s.Changes { // the newest first: the oldest stays
				if c.Kind != history.Deleted && strings.HasPrefix(c.Path, folder+"/") {
					m.arrived[recordKey(c.Path)] = at
				}
			}
			return nil
		}); err != nil {
			clear(m.arrived)
		}
	}
	at, ok := m.arrived[key]
	return at, ok && at != Unplaced
}

// originsOf are the commits that made this content of a file.
func (m *Mainline) originsOf(path string, blob history.Hash) []Origin {
	return m.origins[origin{recordKey(path), blob}]
}

// commit is the commit at a position of the mainline; ok is false where there is none.
func (m *Mainline) commit(at int) (c lineCommit, ok bool) {
	if m == nil {
		return c, false
	}
	if j, there := m.joinedAt(at); j != nil {
		return j.line.commit(there)
	}
	if at < 0 || at >= len(m.commits) {
		return lineCommit{}, false
	}
	return m.commits[at], true
}

// day is the time of a position of the mainline, or of its newest commit.
func (m *Mainline) day(at int) time.Time {
	if c, ok := m.commit(min(at, len(m.commits)-1)); ok {
		return c.when.In(m.Rules().Journal.Settings.Zone)
	}
	return time.Time{}
}

// contains reports whether a commit, named in full or abbreviated, is on the
// mainline, and where.
func (m *Mainline) contains(name string) (int, bool) {
	for i, c := range m.commits {
		if len(name) >= 7 && strings.HasPrefix(c.hash.String(), strings.ToLower(name)) {
			return i, true
		}
	}
	return 0, false
}

// originOf judges what a commit claims of its author.
func originOf(r history.Revision) Origin {
	o := Origin{Commit: r.Hash.Short(), hash: r.Hash, Name: r.Author.Name, Email: r.Author.Email, Committed: r.Committer.When, signed: r.Signed}
	for _, t := range r.Trailers() {
		if _, address, ok := strings.Cut(strings.TrimSuffix(t.Value, ">"), "<"); ok && strings.EqualFold(t.Key, "Co-authored-by") {
			o.Others = append(o.Others, address)
		}
	}
	return o
}
