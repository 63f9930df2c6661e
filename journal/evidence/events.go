package evidence

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// events follows every record through its commits.
type events struct {
	v        *verifying
	head     fs.FS                   // the files of the checked-out commit; nil where it holds none
	last     map[string]history.Hash // content before a record was taken out
	gone     map[string]taken
	found    map[string]bool // what was reported already
	versions map[string][]Version
	steps    map[string][]history.Hash // the commits of versions
	inOthers int                       // acts that name another person than their commit
	order    []string
}

// taken is how a record was taken out of the journal.
type taken struct {
	step history.Step
	path string
}

func newEvents(v *verifying) *events {
	return &events{v: v, last: map[string]history.Hash{}, gone: map[string]taken{}, found: map[string]bool{}, versions: map[string][]Version{}, steps: map[string][]history.Hash{}}
}

func (e *events) run() error {
	for _, step := range slices.Backward(e.v.m.steps) {
		if len(step.Parents) > 1 {
			if err := e.merge(step); err != nil {
				return err
			}
			continue
		}
		for _, c := range step.Changes {
			if err := e.change(step, c); err != nil {
				return err
			}
		}
	}
	head, err := e.v.m.repo.FS(e.v.m.head.Hash)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	default:
		e.head = head
		if err := e.working(); err != nil {
			return err
		}
	}
	e.judge()
	if e.inOthers > 0 {
		e.v.Say("%s in the name of another person than that of the commit: signer not verified.", journal.Count(e.inOthers, "amendment"))
	}
	for _, key := range slices.Sorted(maps.Keys(e.gone)) {
		t := e.gone[key]
		folder, id, _ := strings.Cut(key, " ")
		kind, ok := kindOf(folder)
		if !ok || strings.HasSuffix(id, ".sig") || strings.HasSuffix(id, ".asc") || e.committed(key) != "" {
			continue
		}
		rest := "; a wrong record is voided, never deleted"
		if e.v.j.Exists(kind, id) {
			rest += "; a file of that name is in the working files and not committed"
		}
		e.v.wrongFor(t.step.Hash, t.path, "bring it back: git checkout "+t.step.Hash.Short()+"~1 -- "+t.path+"; if it is wrong: wj void "+id+" --reason …",
			"deleted", doneBy(t.step.Author.Name, t.step.Author.When, t.step.Hash.Short()), rest)
	}
	return nil
}

func kindOf(folder string) (journal.Kind, bool) {
	k, ok := journal.KindNamed(folder)
	return k, ok && k.Folder() == folder
}

// committed is where a record is in the checked-out commit, "" where it is not
// in it.
func (e *events) committed(key string) string {
	t := e.v.m.files[key]
	if t == nil || e.head == nil {
		return ""
	}
	tried := ""
	for _, v := range slices.Backward(t.versions) {
		if v.path == tried {
			continue
		}
		tried = v.path
		if info, err := fs.Stat(e.head, v.path); err == nil && info.Mode().IsRegular() {
			return v.path
		}
	}
	return ""
}

// change takes one change of a commit that is no merge. Taking a record out,
// also by giving its file another name, and bringing it again continues its
// history.
func (e *events) change(step history.Step, c history.Change) error {
	key, before := recordKey(c.Path), c.Before
	switch c.Kind {
	case history.Deleted:
		e.takeOut(step, c.Path, c.Before)
		return nil
	case history.Renamed:
		if recordKey(c.From) == key {
			break
		}
		e.takeOut(step, c.From, c.Before)
		fallthrough
	case history.Added:
		before = e.last[key]
		delete(e.gone, key)
	}
	if _, ok := journal.FileOf(c.Path); !ok || before.IsZero() || before == c.After {
		return nil
	}
	return e.add(step, key, c.Path, before, c.After)
}

// takeOut notes that a commit has a record no longer.
func (e *events) takeOut(step history.Step, p string, before history.Hash) {
	if _, ok := journal.FileOf(p); ok {
		e.last[recordKey(p)], e.gone[recordKey(p)] = before, taken{step, p}
	}
}

func (e *events) add(step history.Step, key, p string, before, after history.Hash) error {
	old, err := e.v.m.repo.Blob(before)
	if err != nil {
		return e.missing(p, err)
	}
	content, err := e.v.m.repo.Blob(after)
	if err != nil {
		return e.missing(p, err)
	}
	e.actors(step, p, [][]byte{old}, content)
	e.keep(key, step.Hash, Version{Commit: step.Hash.Short(), Name: step.Author.Name, When: step.Author.When, Content: content, Before: [][]byte{old}, Path: p})
	return nil
}

func (e *events) keep(key string, commit history.Hash, v Version) {
	if len(e.versions[key]) == 0 {
		e.order = append(e.order, key)
	}
	e.versions[key] = append(e.versions[key], v)
	e.steps[key] = append(e.steps[key], commit)
}

// missing says that a content is not in this copy, as in a partial clone.
func (e *events) missing(p string, err error) error {
	if errors.Is(err, history.ErrMissing) {
		if !e.found["missing "+p] {
			e.found["missing "+p] = true
			e.v.unknown(p, "git fetch --refetch", "an earlier content is not in this copy of the repository")
		}
		return nil
	}
	return fmt.Errorf("read %s: %w", p, err)
}

// merge judges a merge by its result against each parent.
func (e *events) merge(step history.Step) error {
	added := map[string]int{} // by how many parents a record was not there
	for n, parent := range step.Parents {
		changes, err := e.v.m.repo.Diff(parent, step.Hash)
		if errors.Is(err, history.ErrMissing) { // where a shallow clone begins
			e.v.unknown("merge "+step.Hash.Short(), "git fetch --unshallow", "one of its parents is not in this copy of the repository: what the merge made of it is unknown")
			continue
		}
		if err != nil {
			return fmt.Errorf("compare merge %s with its parents: %w", step.Hash.Short(), err)
		}
		for _, c := range changes {
			key := recordKey(c.Path)
			if c.Kind == history.Deleted || c.Kind == history.Renamed && recordKey(c.From) != key {
				from := c.Path
				if c.Kind == history.Renamed {
					from = c.From
				}
				if _, known := e.gone[recordKey(from)]; !known {
					e.takeOut(step, from, c.Before)
				}
			}
			f, ok := journal.FileOf(c.Path)
			switch {
			case !ok, c.Kind == history.Deleted:
			case c.Kind == history.Added, c.Kind == history.Renamed && recordKey(c.From) != key:
				added[key]++
				if n == 0 {
					delete(e.gone, key)
				}
				if before := e.last[key]; added[key] == len(step.Parents) && !before.IsZero() && before != c.After {
					if err := e.add(step, key, c.Path, before, c.After); err != nil {
						return err
					}
				}
			case f.Kind == journal.KindSession && besides(changes, c.Before):
				// Two samples of one name: this side's is kept under another one.
			case c.Before != c.After:
				if err := e.mergedFile(step, n, f, c); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// besides reports whether a content is there under another name too.
func besides(changes []history.Change, content history.Hash) bool {
	return slices.ContainsFunc(changes, func(c history.Change) bool { return c.Kind == history.Added && c.After == content })
}

// mergedFile compares a record of a merge with one parent: what that parent had
// must be there, or an amendment must say what became of it.
func (e *events) mergedFile(step history.Step, n int, f journal.File, c history.Change) error {
	old, err := e.v.m.repo.Blob(c.Before)
	if err != nil {
		return e.missing(c.Path, err)
	}
	content, err := e.v.m.repo.Blob(c.After)
	if err != nil {
		return e.missing(c.Path, err)
	}
	for _, s := range History(f.Kind, []Version{{Commit: step.Hash.Short(), Content: content, Before: [][]byte{old}}}) {
		if s.Version != 0 || !s.Silent || e.explained(c.Path, s) {
			continue
		}
		e.v.wrongFor(step.Hash, c.Path, "compare: git diff "+step.Parents[n].Short()+" "+step.Hash.Short()+" -- "+c.Path,
			"a value was lost or changed in the merge", doneBy(step.Author.Name, step.Author.When, step.Hash.Short()), ": "+settingWords(s))
	}
	return nil
}

// explained reports whether a commit of a branch made this change already: then
// it is found there.
func (e *events) explained(p string, s Setting) bool {
	for _, v := range e.versions[recordKey(p)] {
		before, after := ByPath(Fields(v.Before[0])), ByPath(Fields(v.Content))
		if before[s.Path] == s.Before && after[s.Path] == s.After && before[s.Path] != after[s.Path] {
			return true
		}
	}
	return false
}

// working judges the files that are not committed as they are: each record
// against what the checked-out commit has of it, wherever it lies, or against
// what was there before it was taken out.
func (e *events) working() error {
	edited, added := 0, 0
	done := map[string]bool{}
	for _, c := range e.v.opt.Working {
		f, ok := journal.FileOf(c.Path)
		switch {
		case !ok && c.Kind != history.Added:
			edited++
		case !ok:
		case c.Kind == history.Deleted && !e.v.j.Exists(f.Kind, f.ID):
			e.v.wrongFor(history.Hash{}, c.Path, "bring it back: git checkout -- "+c.Path+"; if it is wrong: wj void "+f.ID+" --reason …", "deleted in the working files", "", ", which is not committed; a wrong record is voided, never deleted")
		case done[recordKey(c.Path)]:
		default:
			done[recordKey(c.Path)] = true
			if known, err := e.compare(f); err != nil {
				return err
			} else if known {
				edited++
			} else {
				added++
			}
		}
	}
	// What git is told to overlook, or keeps as another repository, is not in the
	// list of differences.
	for _, key := range slices.Sorted(maps.Keys(e.gone)) {
		if f, ok := journal.FileOf(e.gone[key].path); ok && !done[key] && e.committed(key) == "" && e.v.j.Exists(f.Kind, f.ID) {
			if _, err := e.compare(f); err != nil {
				return err
			}
		}
	}
	if err := e.staged(); err != nil {
		return err
	}
	if edited+added > 0 {
		e.v.Say("Not committed: %s changed, %s new. They were judged as they are.", journal.Count(edited, "file"), journal.Count(added, "file"))
	}
	return nil
}

// staged judges what the next commit would hold where the working file does not
// show it.
func (e *events) staged() error {
	n := 0
	for _, c := range e.v.opt.Staged {
		f, ok := journal.FileOf(strings.TrimSuffix(strings.TrimSuffix(c.Path, ".sig"), ".asc"))
		if !ok && c.Path != journal.SettingsFile || c.Kind == history.Added {
			continue
		}
		working, err := readSmall(e.v.j.FS, c.Path)
		there := err == nil
		if c.Kind == history.Deleted {
			if there {
				e.v.wrongFor(history.Hash{}, c.Path, "git restore --staged -- "+c.Path, "deleted in what is staged", "", ", which the next commit takes, while the working file is there")
			}
			continue
		}
		content, err := e.v.m.repo.Blob(c.After)
		if err != nil {
			if err := e.missing(c.Path, err); err != nil {
				return err
			}
			continue
		}
		if there && string(lines(working)) == string(lines(content)) {
			continue // judged with the working files
		}
		n++
		if _, guards := guardKind(recordKey(c.Path)); guards || f.Kind == journal.KindSignoff || f.Kind == journal.KindAnchor || f.Path != c.Path {
			e.v.wrongFor(history.Hash{}, c.Path, "git diff --cached -- "+c.Path+"; then git restore --staged -- "+c.Path, "what is staged is another content than the working file", "", ": the next commit would change what is judged by")
			continue
		}
		old, err := e.v.m.repo.Blob(c.Before)
		if err != nil {
			return e.missing(c.Path, err)
		}
		e.keep(recordKey(c.Path), history.Hash{}, Version{Name: stagedName, When: e.v.opt.Now, Content: content, Before: [][]byte{old}, Path: c.Path})
	}
	if n > 0 {
		e.v.Say("Staged: %s with another content than in the working files.", journal.Count(n, "file"))
	}
	return nil
}

// stagedName marks a version that is in the index alone.
const stagedName = "the index"

// compare takes note of a record's working file beside what was committed of it
// last; known is false where nothing was.
func (e *events) compare(f journal.File) (known bool, err error) {
	key := recordKey(f.Path)
	var old []byte
	if p := e.committed(key); p != "" {
		old, err = fs.ReadFile(e.head, p)
	} else if last := e.last[key]; !last.IsZero() {
		old, err = e.v.m.repo.Blob(last)
	} else {
		return false, nil
	}
	if err != nil {
		return true, e.missing(f.Path, err)
	}
	p := e.present(f)
	content, err := readSmall(e.v.j.FS, p)
	if err != nil {
		e.v.wrong(p, "wj lint "+f.ID, "the working file cannot be read: %s", err)
		return true, nil
	}
	e.keep(key, history.Hash{}, Version{Name: "somebody", When: e.v.opt.Now, Content: content, Before: [][]byte{old}, Path: p})
	return true, nil
}

// judge reports values that were changed without saying so.
func (e *events) judge() {
	for _, key := range e.order {
		list := slices.Clone(e.versions[key])
		f, ok := journal.FileOf(list[len(list)-1].Path)
		if !ok || f.Kind == journal.KindSignoff {
			continue // a sign-off that was changed is reported as such
		}
		slices.Reverse(list)
		// What the newest content says of a change counts, and what the content that
		// made it says: on a branch that is still all there is.
		shift := 0
		if content, err := readSmall(e.v.j.FS, e.present(f)); err == nil {
			list, shift = append([]Version{{Content: content, Before: [][]byte{content}}}, list...), 1
		}
		for _, s := range History(f.Kind, list) {
			if s.Version -= shift; !s.Silent || s.Version < 0 || !silentAlone(f.Kind, list[s.Version+shift], s) {
				continue
			}
			n := len(list) - 1 - shift - s.Version
			version := list[s.Version+shift]
			if version.Name == stagedName && version.Commit == "" {
				e.v.wrongFor(history.Hash{}, version.Path, "git diff --cached -- "+version.Path+"; then git restore --staged -- "+version.Path, "changed in what is staged without an amendment", "", ": "+settingWords(s))
				continue
			}
			if version.Commit == "" {
				e.v.wrongFor(history.Hash{}, version.Path, "wj diff; then amend the record instead: wj amend "+f.ID+" …", "changed in the working files without an amendment", "", ": "+settingWords(s))
				continue
			}
			e.v.wrongFor(e.steps[key][n], version.Path, "wj blame "+f.ID, "rewritten without an amendment", doneBy(version.Name, version.When, version.Commit), ": "+settingWords(s))
		}
	}
}

// present is where a record lies now.
func (e *events) present(f journal.File) string {
	if moved, ok := MovedTo(e.v.j, f.Path); ok {
		return moved
	}
	return f.Path
}

// silentAlone reports whether the content that made a change does not say so
// either.
func silentAlone(kind journal.Kind, v Version, s Setting) bool {
	for _, own := range History(kind, []Version{v}) {
		if own.Path == s.Path && own.Before == s.Before && own.After == s.After {
			return own.Silent
		}
	}
	return true
}

// doneBy names a commit in words: who, when, and which.
func doneBy(name string, when time.Time, commit string) string {
	return fmt.Sprintf(" by %s on %s (commit %s)", name, when.Format("2006-01-02"), commit)
}

func settingWords(s Setting) string {
	field := strings.TrimSuffix(strings.TrimPrefix(s.Path, "readings."), ".value")
	switch {
	case s.After == "":
		return fmt.Sprintf("%s was %s and is gone", field, s.Before)
	case s.Before == "":
		return fmt.Sprintf("%s: set to %s", field, s.After)
	}
	return fmt.Sprintf("%s: %s → %s", field, s.Before, s.After)
}
