package evidence

import (
	"context"
	"fmt"
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
	v.Base, v.BaseCommit = m.base.String(), m.base.Commit.Hash.String()
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
	if m.behind {
		v.Say("%s goes on after this commit: the journal is judged as it was then.", m.base.Ref)
	}
	seen := map[string]int{} // by what a signature was found to be
	clocks := clockCheck{now: v.opt.Now}
	strangers, known, coauthors := map[string]bool{}, false, 0
	now := m.Rules()
	for _, step := range m.steps {
		v.signature(step, m.before(m.place(step)), seen)
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
		v.unknown("history", "git fetch --unshallow", "this copy is shallow: what was deleted, rewritten or signed before its first commit is unknown")
	}
	v.strangers = !known && len(now.Journal.People.List) > 0
	if err := newEvents(v).run(); err != nil {
		return err
	}
	v.Say("%s checked: %s.", journal.Count(len(m.steps), "commit"), orNone(signatureWords(seen)))
	clocks.report(v)
	switch {
	case len(strangers) > 0 && v.strangers:
		v.Reason = fmt.Sprintf("nobody in people/ made any of the %s here; the authors are %s. Verify the repository in which the people of the journal commit", journal.Count(len(m.steps), "commit"), strings.Join(slices.Sorted(maps.Keys(strangers)), ", "))
	case len(strangers) > 0:
		v.Say("Addresses of commits that are in no person's record: %s.", strings.Join(slices.Sorted(maps.Keys(strangers)), ", "))
	}
	if o := v.j.Settings.Origin; o != nil {
		v.Say("Split off by %s on %s from a journal of %s at its commit %.10s, which is not here: that the commits before were made so is the word of %s.", o.By, journal.FormatDate(o.On), journal.Count(o.Files, "file"), o.Commit, o.By)
	}
	if coauthors > 0 {
		v.Say("%s named by a Co-authored-by line of a message: such a line counts for nothing.", journal.Count(coauthors, "person"))
	}
	return nil
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
	case history.Bad, history.Malformed, history.WrongNamespace:
		v.wrongBy(step.Hash, "commit "+step.Hash.Short(), "git show --show-signature "+step.Hash.Short(), "%s signature%s", found.Kind, inParentheses(found.Detail))
	}
}

func signatureWords(seen map[string]int) string {
	words := []struct{ kind, text string }{{"good", "signed with a key of people/"}, {"unknown key", "signed with a key that is in no person's record"}, {"expired key", "signed with an expired key"}, {"revoked key", "signed with a key that had been revoked before they came, so that their author names are unverified"},
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
		v.Say("Clocks: %s dated later than a commit that came after, such as %s.", journal.Count(n, "commit"), c.before[0])
	}
	if n := len(c.future); n > 0 {
		v.Say("Clocks: %s dated in the future, such as %s.", journal.Count(n, "commit"), c.future[0].Short())
	}
}
