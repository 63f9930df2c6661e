package evidence

import (
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"wj/journal"
)

// The parts of the settings and of a person that decide what is found and who
// may agree to it.
var (
	GuardSettings = []string{"format", "name", "timezone", "units", "jurisdictions", "restricted", "limits", "policy", "scale", "lint", "lint_for", "rules", "joined"}
	GuardPerson   = []string{"email", "roles", "keys", "since", "until", "void", "ignore"}
)

// guarded are the parts of records that decide, beside people and settings.
var guarded = map[journal.Kind][]string{
	journal.KindOwner:      {"self", "since", "until", "void"},
	journal.KindSite:       {"owner", "stage", "limits", "since", "until", "void"},
	journal.KindTarget:     {"ranges", "owner", "void"},
	journal.KindInstrument: {"measures", "resolution", "until", "void"},
	journal.KindMethod:     {"measures", "stale_after", "void"},
}

// GuardChange is one value that decides and is not as at the base.
type GuardChange struct {
	Path string
	Keys []string // that lead to it; none: the file as a whole
	Text string
}

// Guards lists what a journal changes of what it is judged by: people, keys,
// roles, policy, limits, targets, units, the scale, the accuracy of meters and
// methods, severities, and the silencing in records of rules for which isError
// is true. at is the name of the base.
func Guards(base, j *journal.Journal, at string, isError func(rule string) bool) []GuardChange {
	g := &guards{base: base, j: j, at: at}
	g.file(journal.SettingsFile, GuardSettings)
	for _, person := range base.People.List {
		if !j.Exists(journal.KindPerson, person.ID) {
			g.add(person.Path, nil, "%s is in people/ at %s and not here", person.ID, at)
		}
	}
	for _, f := range j.Files {
		if guarded[f.Kind] == nil && f.Kind != journal.KindPerson {
			continue
		}
		there := f.Path
		if !base.Exists(f.Kind, f.ID) {
			if f.Kind == journal.KindPerson {
				g.add(f.Path, nil, "%s is in people/ here and not at %s", f.ID, at)
			}
			there = ""
		} else if _, err := fs.Stat(base.FS, f.Path); err != nil {
			there = fileOf(base, f.Kind, f.ID).Path
		}
		if there != "" {
			if keys := guarded[f.Kind]; keys != nil {
				g.moved(f.Path, there, keys)
			} else if f.Kind == journal.KindPerson {
				g.moved(f.Path, there, GuardPerson)
			}
		}
	}
	g.silences(isError)
	slices.SortStableFunc(g.out, func(a, b GuardChange) int { return strings.Compare(a.Path, b.Path) })
	return g.out
}

type guards struct {
	base, j *journal.Journal
	at      string
	out     []GuardChange
}

func (g *guards) add(path string, keys []string, format string, args ...any) {
	g.out = append(g.out, GuardChange{path, keys, fmt.Sprintf(format, args...)})
}

func (g *guards) file(path string, keys []string) { g.moved(path, path, keys) }

// moved compares the guarded keys of a file with the base's, value by value.
func (g *guards) moved(path, there string, keys []string) {
	if a, err := journal.DigestFile(g.j.FS, path); err == nil {
		if b, err := journal.DigestFile(g.base.FS, there); err == nil && a == b {
			return
		}
	}
	here, was := Leaves(g.j.FS, path, keys), Leaves(g.base.FS, there, keys)
	names := maps.Clone(was)
	maps.Copy(names, here)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		is, now := here[name]
		old, before := was[name]
		parts := strings.Split(name, "\x00")
		if is == old && now == before {
			continue
		}
		g.add(path, parts, "%s", moveText(parts, old, is, before, now, g.at, "here"))
	}
}

// moveText says that a value is another one than at some state: was and now
// are whether it was and is set, at and here name the states.
func moveText(keys []string, old, is string, was, now bool, at, here string) string {
	dotted := strings.Join(keys, ".")
	at, here = stateText(at), stateText(here)
	switch {
	case !was:
		return fmt.Sprintf("%s is %s %s and not set %s", dotted, is, here, at)
	case !now:
		return fmt.Sprintf("%s is %s %s and not set %s", dotted, old, at, here)
	}
	return fmt.Sprintf("%s is %s %s and %s %s", dotted, old, at, is, here)
}

// stateText puts a state into a sentence: "" is what was before a file.
func stateText(s string) string {
	switch s {
	case "":
		return "before"
	case "here":
		return s
	case "the working files", "the branch":
		return "in " + s
	}
	return "at " + s
}

// silenceText says that a record silences a rule for errors.
func silenceText(rule, at, here string) string {
	return fmt.Sprintf("%s, whose findings are errors, is silenced %s and not %s", rule, stateText(here), stateText(at))
}

// silences finds rules for errors that a record silences and did not at the
// base.
func (g *guards) silences(isError func(string) bool) {
	g.j.Each(func(record journal.Any) {
		r := record.Base()
		if len(r.Ignore) == 0 || r.Kind == journal.KindPerson {
			return
		}
		var was map[string]string
		for _, rule := range slices.Sorted(maps.Keys(r.Ignore)) {
			if !isError(rule) {
				continue
			}
			if was == nil {
				was = map[string]string{}
				if f := fileOf(g.base, r.Kind, r.ID); f.Path != "" {
					was = Leaves(g.base.FS, f.Path, []string{"ignore"})
				}
			}
			if was["ignore\x00"+rule] != r.Ignore[rule] {
				g.add(r.Path, []string{"ignore", rule}, "%s", silenceText(rule, g.at, "here"))
			}
		}
	})
}

// GuardSigned reports whether enough authorised people signed a file as it is
// now: as many as the policy for guards asks for, other than who made it. why
// says what is missing.
func (f Facts) GuardSigned(j *journal.Journal, path string) (ok bool, why string) {
	base := f.BaseOf(j)
	content, err := readSmall(j.FS, path)
	if err != nil {
		return false, "the file is gone, and what is gone cannot be signed"
	}
	content = lines(content)
	digest := journal.Digest(content)
	makers := f.Makers(j, path)
	key := recordKey(path)
	// The sign-off may be of another record and cover this one: who may sign is
	// asked of what is covered.
	of, known := journal.FileOf(path)
	if !known {
		of = journal.File{Kind: journal.KindSettings, Path: path}
	}
	s := subjectOf(base, j, recordOf(j, of))
	s.kind, s.path = of.Kind, path
	demands := (&Rules{Journal: base}).guardDemands(s, f.Now)
	signed, others := map[string]bool{}, map[string]bool{}
	for _, given := range f.Signoffs(j) {
		refuses := given.Decision == journal.DecidedRefused && f.Line != nil && f.Line.refuses(given, key, candidate{path, content})
		if !refuses && !coversKey(given, key, digest) {
			continue
		}
		v := Judge(j, given, f)
		if !refuses && !signsGuard(v, key, digest) {
			continue
		}
		if v.Standing != InForce || mayReview(base, s, given.By, given.On) != "" {
			continue
		}
		if v.Asks() {
			return false, given.By + " asks for changes"
		}
		if remarks(given) {
			continue
		}
		if v.Refused() {
			return false, given.By + " refused it"
		}
		signed[given.By] = true
		if !v.Accepts() {
			continue
		}
		person, known := base.People.Get(given.By)
		own := known && slices.ContainsFunc(makers, func(o Origin) bool { return o.By(person) })
		if !own {
			others[given.By] = true
		}
	}
	switch {
	case !met(demands, others):
		return false, lacks(demands, others)
	case base.Settings.Policy.Proof && len(signed) <= most(demands):
		return false, "who proposes it has not signed (wj sign --propose)"
	}
	return true, ""
}

func recordOf(j *journal.Journal, f journal.File) journal.Any {
	if f.Path == "" || f.Kind == journal.KindSettings {
		return nil
	}
	_, record, err := j.ReadRecord(f)
	if err != nil || record == nil {
		return nil
	}
	return record
}
