package main

import (
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/history"
)

// history walks every commit once.
func (t *trust) history(a *app, w *witness) error {
	type track struct {
		file     journal.File
		versions []audit.Version
	}
	tracks := map[string]*track{} // by the path that the record has now
	current := map[string]string{}
	gone := map[string]bool{}
	var order []string
	strangers, addresses := map[string]int{}, map[string]bool{}
	clocks := clockCheck{now: a.now()}
	// Who signed is found on the same way.
	var origins *originSearch
	w.once.Do(func() { origins, w.walkErr = w.startOrigins() })
	walked, err := w.h.Walk(a.ctx, w.head.Hash, history.WalkOptions{}, func(step history.Step) error {
		if origins != nil {
			origins.see(step)
		}
		t.signature(w, step)
		clocks.step(step)
		known, asked := addresses[step.Author.Email]
		if !asked {
			known = knownAddress(w.base, step.Author.Email)
			addresses[step.Author.Email] = known
		}
		if !known {
			strangers[step.Author.Email]++
		}
		for _, c := range step.Changes {
			f, ok := journal.FileOf(c.Path)
			if !ok {
				continue
			}
			now := orElse(current[c.Path], c.Path)
			switch {
			case c.Kind == history.Deleted:
				if _, err := fs.Stat(w.j.FS, now); err != nil && !gone[now] && len(w.j.Find(f.ID)) == 0 {
					gone[now] = true
					t.find(c.Path, "restore it (git checkout "+step.Hash.Short()+"~1 -- "+c.Path+"), and void it if it is wrong: wj void "+f.ID+" --reason …",
						"deleted by %s on %s (commit %s); a wrong record is voided, never deleted", step.Author.Name, step.Author.When.Format("2006-01-02"), step.Hash.Short())
				}
				continue
			case c.Kind == history.Added:
				continue
			case c.Kind == history.Renamed:
				current[c.From] = now
				if c.Before == c.After {
					continue
				}
			}
			before, err := w.h.Blob(c.Before)
			if err != nil {
				return err
			}
			after, err := w.h.Blob(c.After)
			if err != nil {
				return err
			}
			if tracks[now] == nil {
				file, _ := journal.FileOf(now)
				tracks[now] = &track{file: file}
				order = append(order, now)
			}
			tracks[now].versions = append(tracks[now].versions, audit.Version{Commit: step.Hash.Short(), Name: step.Author.Name, When: step.Author.When, Content: after, Before: [][]byte{before}})
		}
		return nil
	})
	if err != nil {
		return err
	}
	if walked.Stopped != "" {
		t.say("%s: what came before was not looked at", walked.Stopped)
	}
	if walked.Shallow {
		t.say("this copy is shallow: what was deleted or rewritten before its first commit cannot be told (git fetch --unshallow)")
	}
	for _, now := range order {
		tr := tracks[now]
		for _, s := range audit.History(tr.file.Kind, tr.versions) {
			if s.Silent && s.Version >= 0 {
				v := tr.versions[s.Version]
				t.find(now, "wj blame "+tr.file.ID, "rewritten without an amendment by %s on %s (commit %s): %s", v.Name, v.When.Format("2006-01-02"), v.Commit, settingText(s))
			}
		}
	}
	t.say("%s walked: %s", count(walked.Commits, "commit"), t.signatures())
	clocks.say(t)
	if len(strangers) > 0 {
		t.say("addresses of commits that are in no person's record: %s", strings.Join(slices.Sorted(maps.Keys(strangers)), ", "))
	}
	return t.anchors(a, w)
}

// clockCheck looks for commits whose time cannot be: before a parent's, or in
// the future. Commit times are claims, and a clock can be wrong.
type clockCheck struct {
	now            time.Time
	children       map[history.Hash]time.Time // parent → earliest time of a child
	before, future []string
}

const clockSlack = time.Hour

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
		c.future = append(c.future, s.Hash.Short())
	}
	for _, p := range s.Parents {
		if earliest, ok := c.children[p]; !ok || when.Before(earliest) {
			c.children[p] = when
		}
	}
}

func (c *clockCheck) say(t *trust) {
	if n := len(c.before); n > 0 {
		t.say("clocks: %s dated later than a commit that came after, such as %s", count(n, "commit"), c.before[0])
	}
	if n := len(c.future); n > 0 {
		t.say("clocks: %s dated in the future, such as %s", count(n, "commit"), c.future[0])
	}
}

// rulesChanged lists what decides who may sign and differs from the base.
func rulesChanged(base, j *journal.Journal) []string {
	paths := map[string]bool{journal.SettingsFile: true}
	for _, side := range []*journal.Journal{base, j} {
		for _, f := range side.Files {
			if f.Kind == journal.KindPerson {
				paths[f.Path] = true
			}
		}
	}
	var changed []string
	for _, p := range slices.Sorted(maps.Keys(paths)) {
		a, err1 := journal.DigestFile(base.FS, p)
		b, err2 := journal.DigestFile(j.FS, p)
		if a != b || (err1 == nil) != (err2 == nil) {
			changed = append(changed, p)
		}
	}
	return changed
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

// signature judges a commit's signature; a bad one is a finding.
func (t *trust) signature(w *witness, step history.Step) {
	if !step.Signed {
		t.committed["unsigned"]++
		return
	}
	v, err := w.h.Verify(step.Hash, w.ring, time.Time{})
	if err != nil {
		t.find("commit "+step.Hash.Short(), "", "its signature cannot be judged: %s", err)
		return
	}
	t.committed[v.Kind.String()]++
	switch v.Kind {
	case history.Bad, history.Malformed, history.WrongNamespace, history.Revoked:
		t.find("commit "+step.Hash.Short(), "git show --show-signature "+step.Hash.Short(), "%s signature%s", v.Kind, detail(v.Detail))
	}
}

func detail(s string) string {
	if s == "" {
		return ""
	}
	return " (" + s + ")"
}

func (t *trust) signatures() string {
	words := []struct{ kind, text string }{{"good", "signed with a key of people/"}, {"unknown key", "signed with a key that is in no person's record"}, {"expired key", "signed with an expired key"},
		{"key not yet valid", "signed with a key before its first day"}, {"unsigned", "unsigned (their names are claims)"}}
	var parts []string
	for _, w := range words {
		if n := t.committed[w.kind]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, w.text))
		}
	}
	return strings.Join(parts, ", ")
}

// anchors asks whether the last signed tag is still part of this history: if
// not, history was rewritten after it was set.
func (t *trust) anchors(a *app, w *witness) error {
	tags, err := w.h.Tags()
	if err != nil {
		return err
	}
	var last *history.Tag
	var verdict history.Verdict
	for i := range tags {
		tag := &tags[i]
		if !tag.Signed {
			continue
		}
		v, err := w.h.VerifyTag(*tag, w.ring, time.Time{})
		if err != nil {
			return err
		}
		if v.Kind == history.Bad || v.Kind == history.Malformed || v.Kind == history.WrongNamespace {
			t.find("tag "+tag.Name, "git tag -v "+tag.Name, "%s signature%s", v.Kind, detail(v.Detail))
			continue
		}
		if last == nil || tag.Tagger.When.After(last.Tagger.When) {
			last, verdict = tag, v
		}
	}
	if last == nil {
		t.say("there is no signed tag: that history was rewritten before it came here cannot be told (git tag -s)")
		return nil
	}
	ancestor, err := w.h.IsAncestor(a.ctx, last.Commit, w.head.Hash)
	if err != nil {
		return err
	}
	who := verdict.Kind.String()
	if verdict.Kind == history.Good {
		who = "signed by " + verdict.Principal
	}
	if !ancestor {
		t.find("tag "+last.Name, "compare: git log "+last.Name+" --not HEAD", "the last signed anchor (%s, %s) is not part of this history: history was rewritten, or this branch left it", last.Tagger.When.Format("2006-01-02"), who)
		return nil
	}
	t.say("last signed anchor: tag %s of %s, %s, is part of this history", last.Name, last.Tagger.When.Format("2006-01-02"), who)
	return nil
}
