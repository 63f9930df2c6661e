package evidence

import (
	"context"
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

// history looks at every commit: signatures, clocks, and whether what was
// recorded is still there as it was.
func (v *verifying) history(ctx context.Context) error {
	m := v.m
	v.Base = m.base.String()
	if v.opt.Since != "" {
		since, err := m.repo.Resolve(v.opt.Since, v.j.Settings.Zone)
		if err != nil {
			return err
		}
		v.fresh = map[history.Hash]bool{}
		if _, err := m.repo.Walk(ctx, m.head.Hash, history.WalkOptions{Exclude: since.Hash}, func(s history.Step) error {
			v.fresh[s.Hash] = true
			return nil
		}); err != nil {
			return fmt.Errorf("read what came after %s: %w", v.opt.Since, err)
		}
	}
	position := map[history.Hash]int{}
	for i, c := range m.commits {
		position[c.hash] = i
	}
	seen := map[string]int{} // by what a signature was found to be
	clocks := clockCheck{now: v.opt.Now}
	strangers, known, coauthors := map[string]bool{}, false, 0
	now := m.Rules()
	for _, step := range m.steps {
		at, ok := position[step.MergedBy]
		if !ok {
			at = Pending
		}
		v.signature(step, m.before(at), seen)
		clocks.step(step)
		if knownAddress(now.Journal, step.Author.Email) {
			known = true
		} else {
			strangers[step.Author.Email] = true
		}
	}
	for _, list := range m.origins {
		for _, o := range list {
			coauthors += len(o.Others)
		}
	}
	if m.stopped != "" {
		v.unknown("history", "", "%s: what came before was not looked at", m.stopped)
	}
	if m.cut || m.repo.Shallow() {
		v.unknown("history", "git fetch --unshallow", "this copy is shallow: what was deleted, rewritten or signed before its first commit cannot be told")
	}
	e := events{v: v, last: map[string]history.Hash{}, gone: map[string]history.Step{}, found: map[string]bool{}, versions: map[string][]Version{}, steps: map[string][]history.Hash{}}
	if err := e.run(); err != nil {
		return err
	}
	v.Say("%s checked: %s.", plural(len(m.steps), "commit"), orNone(signatureWords(seen)))
	clocks.report(v)
	switch {
	case len(strangers) > 0 && !known && len(now.Journal.People.List) > 0:
		v.Reason = fmt.Sprintf("nobody in people/ made any of the %s here; the authors are %s. Verify the repository in which the people of the journal commit", plural(len(m.steps), "commit"), strings.Join(slices.Sorted(maps.Keys(strangers)), ", "))
	case len(strangers) > 0:
		v.Say("Addresses of commits that are in no person's record: %s.", strings.Join(slices.Sorted(maps.Keys(strangers)), ", "))
	}
	if coauthors > 0 {
		v.Say("%s named by a Co-authored-by line of a message: such a line counts for nothing.", plural(coauthors, "person"))
	}
	return nil
}

func plural(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case what == "person":
		return fmt.Sprintf("%d people", n)
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func orNone(s string) string {
	if s == "" {
		return "none signed, so author names are unverified"
	}
	return s
}

func knownAddress(j *journal.Journal, email string) bool {
	for _, p := range j.People.List {
		for _, e := range p.Email {
			if strings.EqualFold(e, email) {
				return true
			}
		}
	}
	return false
}

// signature judges a commit's signature by the keys of its day; a bad one is
// wrong.
func (v *verifying) signature(step history.Step, rules *Rules, seen map[string]int) {
	if !step.Signed {
		seen["unsigned"]++
		return
	}
	found, err := v.m.repo.Verify(step.Hash, rules.Ring, time.Time{})
	if err != nil {
		v.wrongBy(step.Hash, "commit "+step.Hash.Short(), "git fsck", "its signature cannot be judged: %s", err)
		return
	}
	seen[found.Kind.String()]++
	switch found.Kind {
	case history.Bad, history.Malformed, history.WrongNamespace, history.Revoked:
		v.wrongBy(step.Hash, "commit "+step.Hash.Short(), "git show --show-signature "+step.Hash.Short(), "%s signature%s", found.Kind, inParentheses(found.Detail))
	}
}

func signatureWords(seen map[string]int) string {
	words := []struct{ kind, text string }{{"good", "signed with a key of people/"}, {"unknown key", "signed with a key that is in no person's record"}, {"expired key", "signed with an expired key"},
		{"key not yet valid", "signed with a key before its first day"}, {"unsigned", "unsigned, so their author names are unverified"}}
	var parts []string
	for _, w := range words {
		if n := seen[w.kind]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, w.text))
		}
	}
	if len(parts) == 1 && seen["unsigned"] > 0 {
		return ""
	}
	return strings.Join(parts, ", ")
}

// clockCheck looks for commits whose time cannot be: before a parent's, or in
// the future. Commit times are claims, and a clock can be wrong.
type clockCheck struct {
	now      time.Time
	children map[history.Hash]time.Time // parent → earliest time of a child
	before   []string
	future   []history.Hash
}

func (c *clockCheck) step(s history.Step) {
	if c.children == nil {
		c.children = map[history.Hash]time.Time{}
	}
	when := s.Committer.When
	if child, ok := c.children[s.Hash]; ok && when.After(child.Add(clockSlack)) {
		c.before = append(c.before, s.Hash.Short())
	}
	delete(c.children, s.Hash)
	if when.After(c.now.Add(clockSlack)) {
		c.future = append(c.future, s.Hash)
	}
	for _, p := range s.Parents {
		if earliest, ok := c.children[p]; !ok || when.Before(earliest) {
			c.children[p] = when
		}
	}
}

func (c *clockCheck) report(v *verifying) {
	if n := len(c.before); n > 0 {
		v.Say("Clocks: %s dated later than a commit that came after, such as %s.", plural(n, "commit"), c.before[0])
	}
	if n := len(c.future); n > 0 {
		v.Say("Clocks: %s dated in the future, such as %s.", plural(n, "commit"), c.future[0].Short())
	}
}

// events follows every record through its commits.
type events struct {
	v        *verifying
	last     map[string]history.Hash // content before a record was taken out
	gone     map[string]history.Step
	found    map[string]bool // what was reported already
	versions map[string][]Version
	steps    map[string][]history.Hash // the commits of versions
	order    []string
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
	if err := e.working(); err != nil {
		return err
	}
	e.judge()
	for _, key := range slices.Sorted(maps.Keys(e.gone)) {
		step := e.gone[key]
		kind, id, _ := strings.Cut(key, " ")
		f, ok := kindOf(kind)
		if !ok || strings.HasSuffix(id, ".sig") || strings.HasSuffix(id, ".asc") || e.v.j.Exists(f, id) {
			continue
		}
		p := e.path(key)
		e.v.wrongFor(step.Hash, p, "bring it back: git checkout "+step.Hash.Short()+"~1 -- "+p+"; if it is wrong: wj void "+id+" --reason …",
			"deleted", doneBy(step.Author.Name, step.Author.When, step.Hash.Short()), "; a wrong record is voided, never deleted")
	}
	return nil
}

func kindOf(folder string) (journal.Kind, bool) {
	k, ok := journal.KindNamed(folder)
	return k, ok && k.Folder() == folder
}

// path is where a record lay last.
func (e *events) path(key string) string {
	if t := e.v.m.files[key]; t != nil {
		for _, v := range slices.Backward(t.versions) {
			if !v.blob.IsZero() {
				return v.path
			}
		}
	}
	return key
}

// change takes one change of a commit that is no merge. Taking a record out and
// bringing it again continues its history.
func (e *events) change(step history.Step, c history.Change) error {
	if _, ok := journal.FileOf(c.Path); !ok {
		return nil
	}
	key := recordKey(c.Path)
	before := c.Before
	switch c.Kind {
	case history.Deleted:
		e.last[key], e.gone[key] = c.Before, step
		return nil
	case history.Renamed:
		if from := recordKey(c.From); from != key {
			e.last[from], e.gone[from] = c.Before, step
		}
	case history.Added:
		before = e.last[key]
		delete(e.gone, key)
		if before.IsZero() {
			return nil
		}
	}
	if before == c.After {
		return nil
	}
	return e.add(step, key, c.Path, before, c.After)
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
	if len(e.versions[key]) == 0 {
		e.order = append(e.order, key)
	}
	e.versions[key] = append(e.versions[key], Version{Commit: step.Hash.Short(), Name: step.Author.Name, When: step.Author.When, Content: content, Before: [][]byte{old}, Path: p})
	e.steps[key] = append(e.steps[key], step.Hash)
	return nil
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
	for n, parent := range step.Parents {
		changes, err := e.v.m.repo.Diff(parent, step.Hash)
		if err != nil {
			return fmt.Errorf("compare merge %s with its parents: %w", step.Hash.Short(), err)
		}
		for _, c := range changes {
			f, ok := journal.FileOf(c.Path)
			if !ok {
				continue
			}
			key := recordKey(c.Path)
			switch {
			case c.Kind == history.Deleted:
				if _, known := e.gone[key]; !known {
					e.last[key], e.gone[key] = c.Before, step
				}
			case c.Kind == history.Added && n == 0:
				delete(e.gone, key)
			case c.Kind == history.Added, c.Before == c.After:
			case f.Kind == journal.KindSession && besides(changes, c.Before):
				// Two samples of one name: this side's is kept under another one.
			default:
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

// working judges the files that are not committed as they are.
func (e *events) working() error {
	m, j := e.v.m, e.v.j
	edited, added := 0, 0
	head, err := m.repo.FS(m.head.Hash)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, c := range e.v.opt.Working {
		f, ok := journal.FileOf(c.Path)
		if !ok {
			if c.Kind != history.Added {
				edited++
			}
			continue
		}
		if c.Kind == history.Deleted && !j.Exists(f.Kind, f.ID) {
			e.v.wrongFor(history.Hash{}, c.Path, "bring it back: git checkout -- "+c.Path+"; if it is wrong: wj void "+f.ID+" --reason …", "deleted in the working files", "", ", which is not committed; a wrong record is voided, never deleted")
			continue
		}
		if c.Kind == history.Added {
			added++
			continue
		}
		edited++
		from := c.Path
		if c.From != "" {
			from = c.From
		}
		old, err1 := fs.ReadFile(head, from)
		content, err2 := readSmall(j.FS, c.Path)
		if err1 != nil || err2 != nil {
			continue
		}
		key := recordKey(c.Path)
		if len(e.versions[key]) == 0 {
			e.order = append(e.order, key)
		}
		e.versions[key] = append(e.versions[key], Version{Name: "somebody", When: e.v.opt.Now, Content: content, Before: [][]byte{old}, Path: c.Path})
		e.steps[key] = append(e.steps[key], history.Hash{})
	}
	if edited+added > 0 {
		e.v.Say("Not committed: %s changed, %s new. They were judged as they are.", plural(edited, "file"), plural(added, "file"))
	}
	return nil
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
