package evidence

import (
	"io/fs"
	"maps"
	"slices"
	"strings"

	"wj/journal"
)

// content compares every covered file with its digest, and what is covered with
// what must be.
func (v *judging) content() {
	s := v.Signoff
	if v.refusesStill() {
		return // whatever else was edited since
	}
	if v.record == nil && v.Record.Kind != journal.KindSettings {
		v.worse(Void, "%s, which it signs, is not there or cannot be read", s.Of)
	}
	covered := map[string]bool{}
	for _, p := range slices.Sorted(maps.Keys(s.Covers)) {
		covered[recordKey(p)] = true
		if !fs.ValidPath(p) {
			v.worse(Void, "it covers %q, which is no path of a journal", p)
			continue
		}
		switch now, same := Same(v.j, p, s.Covers[p]); {
		case same && now != p:
			v.note("%s is now %s, with the same content", p, now)
		case same:
		case remarks(s):
			v.note("%s is another since", p)
		case now == "":
			v.worse(Void, "%s is gone", p)
		default:
			v.worse(Void, "%s changed after it was signed", p)
		}
	}
	if s.Decision == journal.DecidedWithdrawn || remarks(s) {
		return
	}
	if v.Record.Kind == journal.KindSettings {
		if !covered[journal.SettingsFile] {
			v.worse(Void, "it does not cover %s", journal.SettingsFile)
		}
		return
	}
	if v.record == nil {
		return
	}
	needed, wrong := Covers(v.j, v.record)
	for _, n := range needed {
		if !covered[recordKey(n.Path)] {
			v.worse(Void, "it does not cover %s", n.Path)
		}
	}
	if wrong != nil && v.Accepts() {
		v.worse(Void, "%s", wrong)
	}
	if _, ok := v.record.(*journal.Change); ok && v.Accepts() {
		switch is := SettingsDigest(v.j.FS); {
		case s.Settings == "" && v.rules.Policy().Proof:
			v.worse(Void, "it does not name the settings that the computation used")
		case s.Settings == "":
			v.note("it does not name the settings that the computation used")
		case !strings.EqualFold(s.Settings, is):
			v.worse(Void, "the settings that the computation used (limits, restricted substances, scale, dose rules) changed after it was signed")
		}
	}
	// Of another record that is void a sign-off may agree to just that.
	if void := v.record.Base().Void; void != nil && v.record.Base().Kind == journal.KindChange {
		v.worse(Void, "%s was declared void by %s: %s", s.Of, void.By, void.Reason)
	}
}

// refusesStill reports whether what a refusal is of decides what it decided then.
func (v *judging) refusesStill() bool {
	if !v.Refused() || v.facts.Line == nil || v.Record.Path == "" {
		return false
	}
	content, err := readSmall(v.j.FS, v.Record.Path)
	return err == nil && v.facts.Line.refuses(v.Signoff, recordKey(v.Record.Path), candidate{v.Record.Path, lines(content)})
}

// dose are the keys of a change that say what is poured into which water.
var dose = []string{"for", "basis", "volume", "temperature", "tank", "open", "add"}

// refuses reports whether a refusal covers what a file decides: this content, or
// another one that the file ever had and that decides the same. Who edits a note
// or a spelling of what was refused has not answered the refusal.
func (m *Mainline) refuses(s *journal.Signoff, key string, c candidate) bool {
	if _, id, _ := strings.Cut(key, " "); s.Of != id && s.Of != key {
		return false // it covers the file besides
	}
	if coversKey(s, key, signedDigests(m.names(), c.path, c.content)...) {
		return true
	}
	keys := dose
	if f, ok := journal.FileOf(c.path); !ok {
		keys = GuardSettings
	} else if f.Kind != journal.KindChange {
		if keys = guardKeysOf(f.Kind); keys == nil {
			return false
		}
	}
	now := leavesOf(c.content, c.path, keys)
	if len(now) == 0 {
		return false
	}
	for o := range m.origins {
		if o.key != key {
			continue
		}
		was, err := m.repo.Blob(o.blob)
		if err != nil || !coversKey(s, key, signedDigests(m.names(), c.path, lines(was))...) {
			continue
		}
		then := leavesOf(was, c.path, keys)
		if len(then) == len(now) && !slices.ContainsFunc(slices.Collect(maps.Keys(then)), func(name string) bool {
			value, set := now[name]
			return !set || Compare(name, then[name], value) == Different
		}) {
			return true
		}
	}
	return false
}

// Same reports whether a file that was signed or sent is what it was then: now is
// the path at which it lies, "" where it is gone. A record that was moved into
// another folder with the same content is the same, and so is one that came with a
// joined journal, but for the names that it got there.
func Same(j *journal.Journal, p, digest string) (now string, same bool) {
	content, err := fs.ReadFile(j.FS, p)
	if moved, ok := MovedTo(j, p); err != nil && ok {
		p = moved
		content, err = fs.ReadFile(j.FS, p)
	}
	if err != nil {
		return "", false
	}
	return p, slices.Contains(signedDigests(j.Settings.Joined, p, content), strings.ToLower(digest))
}

// MovedTo finds a record that lies in another folder now.
func MovedTo(j *journal.Journal, p string) (string, bool) {
	f, ok := journal.FileOf(p)
	if !ok {
		return "", false
	}
	for _, found := range j.Find(f.ID) {
		if found.Kind == f.Kind {
			return found.Path, true
		}
	}
	return "", false
}
