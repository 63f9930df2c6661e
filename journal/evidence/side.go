package evidence

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
)

// side is what a merge of the mainline took in beside its first parent, where both
// changed what decides or what was decided. Which of the two was the mainline
// before them nobody can know: a merge shows it by the order of its parents, which
// whoever makes it chooses, and which git pull swaps. What came on the mainline
// since they parted must hold by the people, keys and policy of the other too.
type side struct {
	at   int // position of the merge
	from int // position of the last commit that both have; Unplaced where there is none
	line *Mainline
}

// readSides reads the other sides of merges.
func (m *Mainline) readSides(ctx context.Context, steps []history.Step, position map[history.Hash]int) error {
	decided := map[int]bool{}
	from := map[int]int{}
	for _, s := range steps {
		at := position[s.MergedBy]
		if s.FirstParent || at < 1 {
			continue
		}
		for _, c := range s.Changes {
			decided[at] = decided[at] || inGuardFolder(c.Path)
		}
		for _, p := range s.Parents {
			if n, on := position[p]; on {
				from[at] = max(from[at], n+1)
			}
		}
	}
	for _, at := range slices.Sorted(maps.Keys(decided)) {
		if !decided[at] {
			continue
		}
		since := from[at] - 1
		for _, parent := range m.commits[at].parents[1:] {
			if m.joins(at, parent) || !m.decided(since, at) && !m.leftOut(parent, at) {
				continue
			}
			tip, err := m.repo.Revision(parent)
			if errors.Is(err, history.ErrMissing) {
				continue // where a shallow copy begins, which is found
			}
			if err != nil {
				return fmt.Errorf("read the other side of merge %s: %w", m.commits[at].hash.Short(), err)
			}
			line, err := readMainline(ctx, branchOf{m.repo, tip}, Base{Commit: tip}, false)
			if err == nil {
				err = line.readRules(Unplaced)
			}
			if err != nil {
				return fmt.Errorf("read the other side of merge %s: %w", m.commits[at].hash.Short(), err)
			}
			if line.files[journal.SettingsFile] != nil {
				m.sides = append(m.sides, side{at, since, line})
			}
		}
	}
	return nil
}

// decided reports whether a sign-off or a file that decides came to the mainline
// between two positions.
func (m *Mainline) decided(from, to int) bool {
	for key, t := range m.files {
		if !inGuardFolder(key) && !strings.HasPrefix(key, journal.KindSignoff.Folder()+" ") {
			continue
		}
		if slices.ContainsFunc(t.versions, func(v fileVersion) bool { return v.at > from && v.at < to }) {
			return true
		}
	}
	return false
}

// leftOut reports whether a merge has a file that decides otherwise than its other
// side.
func (m *Mainline) leftOut(parent history.Hash, at int) bool {
	changes, err := m.repo.Diff(parent, m.commits[at].hash)
	return err == nil && slices.ContainsFunc(changes, func(c history.Change) bool { return inGuardFolder(c.Path) })
}

// joins reports whether a merge is that of wj join: it is what names the other
// journal in the settings.
func (m *Mainline) joins(at int, parent history.Hash) bool {
	before, brought := false, false
	for _, v := range m.files[journal.SettingsFile].versions {
		if v.at > at || v.at < 0 || v.blob.IsZero() {
			continue
		}
		content, err := m.repo.Blob(v.blob)
		named := err == nil && slices.ContainsFunc(settingsIn(content).Joined, func(j journal.Joined) bool { return j.Commit == parent.String() })
		if v.at < at {
			before = named
		} else {
			brought = named
		}
	}
	return brought && !before
}

// sidesOver are the other sides of the merges behind a position, which do not have it.
func (m *Mainline) sidesOver(at int) []side {
	if m == nil {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(m.sides), func(s side) bool { return at <= s.from || at >= s.at })
}

// sides asks whether a sign-off in force counts by the rules of the other side of a
// merge as well.
func (v *judging) sides() {
	if v.Standing != InForce || !v.Accepts() && v.Signoff.Decision != journal.DecidedProposed {
		return
	}
	for _, s := range v.facts.Line.sidesOver(v.At) {
		other := judgeBy(v.j, v.Signoff, v.facts, s.line.Rules())
		why := ""
		switch {
		case other.Standing == ClaimOnly, other.Standing == NotAllowed:
			why = other.Why[0]
		case most(other.Demands) > most(v.Demands) && v.facts.Line.signers(v.Signoff.Of) < most(other.Demands):
			why = journal.Count(most(other.Demands), "reviewer") + " must sign"
		default:
			continue
		}
		c, _ := v.facts.Line.commit(s.at)
		v.worse(CannotTell, "merge %s brought other people, keys or policy, and whether this or they came first is unknown; by them: %s (sign it again)", c.hash.Short(), why)
		return
	}
}

// signers counts the people who ever accepted a record.
func (m *Mainline) signers(of string) int {
	by := map[string]bool{}
	for _, a := range m.acts {
		if a.signoff.Of == of && a.signoff.Decision == journal.DecidedAccepted {
			by[a.signoff.By] = true
		}
	}
	return len(by)
}

// meet lets the rules after a merge be no weaker than those of its other side:
// where that asks for proof, what it has of people, keys, roles, policy and owners
// holds until enough others signed what is there now; where it asks for none, what
// it holds back is held back.
func (m *Mainline) meet(now *Rules, newest, effective, agreed map[string]candidate, at int) (changed bool) {
	for _, s := range m.sides {
		if s.at != at {
			continue
		}
		other := s.line.Rules()
		for key, there := range other.entries {
			c, ok := newest[key]
			switch {
			case ok && same(c, there):
			case other.Policy().Proof && !m.signedUnder(other, key, c, at):
				effective[key], changed = there, true
				now.held[there.path] = true
			case !other.Policy().Proof && !m.agreedBetween(key, s):
				agreed[key] = there
			}
		}
		for key, c := range newest {
			if _, known := other.entries[key]; !known && c.content != nil && other.Policy().Proof && strings.HasPrefix(key, journal.KindPerson.Folder()+" ") && !m.signedUnder(other, key, c, at) {
				delete(effective, key)
				changed, now.held[c.path] = true, true
			}
		}
	}
	return changed
}

// agreedBetween reports whether enough others signed what a file became since the
// sides of a merge parted.
func (m *Mainline) agreedBetween(key string, s side) bool {
	t := m.files[key]
	return t != nil && slices.ContainsFunc(t.versions, func(v fileVersion) bool {
		content, err := m.repo.Blob(v.blob)
		return v.at > s.from && v.at < s.at && !v.blob.IsZero() && err == nil && m.agreedTo(key, candidate{v.path, content}, s.at)
	})
}

// changedBySides reports what of the files that decide a merge has otherwise than
// its other side, and gives more room by it, without the signatures that that side
// asks for.
func (v *verifying) changedBySides() error {
	for _, s := range v.m.sides {
		rules := s.line.Rules()
		for _, key := range slices.Sorted(maps.Keys(s.line.files)) {
			kind, ok := guardKind(key)
			t := v.m.files[key]
			if !ok || t == nil {
				continue
			}
			theirs, err := v.newestOf(s.line, key, len(s.line.commits))
			if err != nil {
				return err
			}
			c, err := v.newestOf(v.m, key, s.at)
			if err != nil {
				return err
			}
			if theirs.content == nil || c.content == nil || string(theirs.content) == string(c.content) || v.m.Rules().held[c.path] {
				continue
			}
			if _, asked := rules.asks(guardSubject(c), v.m.day(s.at)); !asked {
				continue
			}
			old, now := leavesOf(theirs.content, theirs.path, guardKeysOf(kind)), leavesOf(c.content, c.path, guardKeysOf(kind))
			names := maps.Clone(old)
			maps.Copy(names, now)
			l := loosening{kind: kind, before: theirs, now: c, rules: rules, isError: v.isError(rules)}
			loose := l.of(old, now, slices.Sorted(maps.Keys(names)))
			present := leavesOf(v.presentOf(key, c), c.path, guardKeysOf(kind))
			var texts []string
			for _, name := range slices.Sorted(maps.Keys(names)) {
				was, had := old[name]
				is, set := now[name]
				if back, there := present[name]; loose[name] && !(back == was && there == had) && !v.signedSince(key, s, name, is, set, rules) {
					texts = append(texts, moveText(strings.Split(name, "\x00"), was, is, had, set, s.line.base.Commit.Hash.Short(), v.nameAt(s.at)))
				}
			}
			if len(texts) > 0 {
				v.guardWrong(c.path, v.hashAt(s.at), strings.Join(texts, "; "), "merge "+v.nameAt(s.at)+" left out what its other side has, and no others signed it")
			}
		}
	}
	return nil
}

// newestOf is what a file was after a position of a line; its content is nil where
// it was not there.
func (v *verifying) newestOf(m *Mainline, key string, at int) (candidate, error) {
	var newest fileVersion
	for _, version := range m.files[key].versions {
		if version.at <= at && version.at != Unplaced {
			newest = version
		}
	}
	content, err := v.contentOf(newest)
	return candidate{newest.path, content}, err
}

// presentOf is a file as it is now.
func (v *verifying) presentOf(key string, c candidate) []byte {
	if content, err := readSmall(v.j.FS, v.whereIs(key, c.path)); err == nil {
		return content
	}
	return c.content
}

// signedSince reports whether enough others signed a content of a file with the
// value that it has after a merge: one of since the sides parted, or a later one.
func (v *verifying) signedSince(key string, s side, name, value string, set bool, rules *Rules) bool {
	kind, _ := guardKind(key)
	for _, version := range v.m.files[key].versions {
		content, err := v.contentOf(version)
		if err != nil || content == nil {
			continue
		}
		if is, there := leavesOf(content, version.path, guardKeysOf(kind))[name]; is != value || there != set {
			continue
		}
		if ok, _ := v.signedBy(key, candidate{version.path, content}, s.at, rules, v.m.originsOf(version.path, version.blob)); ok {
			return true
		}
	}
	return false
}
