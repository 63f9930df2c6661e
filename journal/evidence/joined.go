package evidence

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
)

// A joined journal is judged by its own history: its acts came to this mainline at
// once, with one merge, but in it one after another, by its people and its policy.
// Positions in it are below all of this mainline, each joined journal in a range of
// its own.
const joinedRange = 1 << 24

type joined struct {
	journal.Joined
	line *Mainline
	base int // the position of its first commit
}

// readJoined reads the histories that settings name as joined: each must be part of
// this one, and is taken as the rules that hold now name it.
func (m *Mainline) readJoined(ctx context.Context, all bool) error {
	for i, j := range m.Rules().Journal.Settings.Joined {
		tip, err := m.repo.Resolve(j.Commit, nil)
		if err != nil {
			continue // its acts are judged as if they were of this journal: nobody here gave them
		}
		if held, err := m.repo.IsAncestor(ctx, tip.Hash, m.base.Commit.Hash); err != nil || !held {
			continue
		}
		line, err := readMainline(ctx, branchOf{m.repo, tip}, Base{Commit: tip}, all)
		if err != nil {
			return fmt.Errorf("read the history that was joined as %s: %w", j.Prefix, err)
		}
		line.brought = &m.Rules().Journal.Settings.Joined[i]
		if err := line.readRules(Unplaced); err != nil {
			return fmt.Errorf("read the history that was joined as %s: %w", j.Prefix, err)
		}
		one := joined{j, line, -(i + 2) * joinedRange}
		m.joined = append(m.joined, one)
		one.tracks(m)
		for id, a := range line.acts {
			if own := m.acts[id]; j.Has(id) && own != nil && a.at >= 0 && string(own.content) == string(a.content) {
				there := *a
				there.at, there.in, there.there = one.base+a.at, line, a
				m.acts[id] = &there
			}
		}
	}
	return nil
}

// joinedAt is the joined journal of a position, and the position in it.
func (m *Mainline) joinedAt(at int) (*joined, int) {
	for i := range m.joined {
		if j := &m.joined[i]; at >= j.base && at < j.base+joinedRange {
			return j, at - j.base
		}
	}
	return nil, 0
}

// tracks puts the versions that a record had in the joined journal before those that it
// had here.
func (j *joined) tracks(m *Mainline) {
	for key, t := range j.line.files {
		_, id, _ := strings.Cut(key, " ")
		own := m.files[key]
		if own == nil || !j.Has(id) || len(own.versions) == 0 || slices.ContainsFunc(t.versions, func(v fileVersion) bool { return v.at < 0 }) {
			continue
		}
		var all []fileVersion
		for _, v := range t.versions {
			all = append(all, fileVersion{at: j.base + v.at, path: v.path, blob: v.blob})
		}
		here := own.versions
		if here[0].blob == all[len(all)-1].blob { // what the merge brought
			here = here[1:]
		}
		own.versions = append(all, here...)
	}
}

// place is the position at which a commit of a walk came: on the mainline, or in the
// joined journal that it is of.
func (m *Mainline) place(step history.Step) int {
	if m.places == nil {
		m.places = map[history.Hash]int{}
		for i, c := range m.commits {
			m.places[c.hash] = i
		}
		for _, j := range m.joined {
			for _, s := range j.line.steps {
				m.places[s.Hash] = j.base + j.line.place(s)
			}
		}
	}
	if at, ok := m.places[step.Hash]; ok {
		return at
	}
	if at, ok := m.places[step.MergedBy]; ok {
		return at
	}
	return Pending
}

// founding reports whether a position is one at which a journal was founded.
func (m *Mainline) founding(at int) bool {
	if j, there := m.joinedAt(at); j != nil {
		return there <= j.line.founded
	}
	return at <= m.founded && at != Unplaced
}

// statement is what the signer of an act signed: of a joined one what it was in its
// own journal.
func (a *act) statement() []byte {
	if a.original != nil {
		return a.original
	}
	return a.content
}

// agreedByJoin reports whether who agreed to a join agreed to an entry of a file that
// decides: the settings that they signed name the commit of the other journal that holds
// it byte for byte. A person who has a role after that day is agreed to alone.
func (m *Mainline) agreedByJoin(rules *Rules, c candidate) bool {
	f, ok := journal.FileOf(c.path)
	if !ok || c.content == nil {
		return false
	}
	for _, j := range rules.Journal.Settings.Joined {
		if !j.Has(f.ID) {
			continue
		}
		if _, record := Read(f, c.content); f.Kind == journal.KindPerson {
			person, ok := record.(*journal.Person)
			if !ok || slices.ContainsFunc(person.Roles, func(r journal.Role) bool { return r.Until.IsZero() || !r.Until.Before(m.day(rules.after)) }) {
				continue
			}
		}
		tip, err := m.repo.Resolve(j.Commit, nil)
		if err != nil || tip.Hash.String() != j.Commit {
			continue
		}
		files, err := m.repo.FS(tip.Hash)
		if err != nil {
			continue
		}
		if there, err := readSmall(files, c.path); err == nil && string(lines(there)) == string(lines(c.content)) {
			return true
		}
	}
	return false
}

// signedDigests are the digests by which a file may be signed: its own, and of a record
// that came with a joined journal that of what it was there.
func signedDigests(list []journal.Joined, p string, content []byte) []string {
	out := []string{journal.Digest(content)}
	if f, ok := journal.FileOf(p); ok {
		for _, in := range list {
			if in.Has(f.ID) {
				out = append(out, journal.Digest(in.Original(f.Kind, content)))
			}
		}
	}
	return out
}

// names are the joined journals whose names the records of a line have.
func (m *Mainline) names() []journal.Joined {
	switch {
	case m.brought != nil:
		return []journal.Joined{*m.brought}
	case len(m.rules) > 0:
		return m.Rules().Journal.Settings.Joined
	}
	return nil
}
