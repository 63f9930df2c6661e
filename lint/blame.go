package lint

import (
	"cmp"
	"fmt"
	"slices"

	"wj/journal"
	"wj/journal/judge"
)

// A line that is wrong in one record is wrong for all that name it: the last day of a lot, the
// range of a meter, the place of a site. It is one finding at that line, with a count.

// manyBlame is from how many findings on the line that they blame is the one that is reported.
const manyBlame = 3

// blame is the line of another record that may be what is wrong.
type blame struct {
	path, key string // key is what is reported there: keys in one word
	keys      []string
	says      string     // what the line is to all the records
	of        func() int // how many records the line decides; nil: it is blamed regardless of their number
}

// Blame names the line of another record that may be what is wrong, and what to say there of all
// the records.
func (f *Finding) Blame(path string, keys []string, format string, args ...any) *Finding {
	if path == "" {
		return f
	}
	f.blame = &blame{path: path, keys: keys, key: fmt.Sprint(keys), says: fmt.Sprintf(format, args...)}
	return f
}

// Most keeps the finding at the records unless half of those that the line decides have it.
func (f *Finding) Most(of func() int) *Finding {
	f.blame.of = of
	return f
}

// gatherBlamed makes one finding of the many that one line of another record would explain. A
// record that has silenced the rule counts for itself. Where two states are compared, a line
// is blamed only in a record that differs.
func (r *run) gatherBlamed() {
	if len(r.files) > 0 {
		return
	}
	type group struct{ rule, path, key string }
	groups := map[group][]*Finding{}
	for _, f := range r.found {
		if f.blame == nil || f.d.Severity == Off || r.opt.Part != nil && !r.opt.Part.touched[f.blame.path] || r.silenced(f) {
			continue
		}
		g := group{f.d.Rule, f.blame.path, f.blame.key}
		groups[g] = append(groups[g], f)
	}
	drop := map[*Finding]bool{}
	for _, list := range groups {
		records := map[string]bool{}
		for _, f := range list {
			records[f.d.Path] = true
		}
		b := list[0].blame
		if len(records) < manyBlame || b.of != nil && 2*len(records) < b.of() {
			continue
		}
		slices.SortStableFunc(list, func(a, b *Finding) int { return cmp.Compare(a.d.Path, b.d.Path) })
		first, last := list[0], list[len(list)-1]
		one := &Finding{keys: b.keys, set: first.set, d: first.d}
		one.d.Path = b.path
		one.d.Message = fmt.Sprintf("%s: %d records, from %s to %s", b.says, len(records), idOf(first.d.Path), idOf(last.d.Path))
		one.d.Help = "if this line is wrong, correct it; if it is right: " + first.d.Help
		for _, f := range list {
			one.d.Severity, one.d.Bars = max(one.d.Severity, f.d.Severity), one.d.Bars || f.d.Bars
			one.See(f.d.Path, f.keys, "one of them")
			one.also = append(one.also, f.also...)
			drop[f] = true
		}
		for path := range records {
			one.also = append(one.also, path)
		}
		slices.Sort(one.also)
		r.found = append(r.found, one)
	}
	if len(drop) > 0 {
		r.found = slices.DeleteFunc(r.found, func(f *Finding) bool { return drop[f] })
	}
}

// sessionAt is the session of a file; nil where it is none.
func (r *run) sessionAt(path string) *journal.Session {
	f, _ := journal.FileOf(path)
	if s, ok := r.j.Sessions.Get(f.ID); ok && f.Kind == journal.KindSession && s.Path == path {
		return s
	}
	return nil
}

// silenced reports whether a finding's record silences its rule.
func (r *run) silenced(f *Finding) bool {
	b, ok := r.silencing()[f.d.Path]
	if !ok || FamilyOf(f.d.Rule) == FamilyFormat {
		return false
	}
	_, ignored := b.Ignore[f.d.Rule]
	return ignored
}

// count counts sessions.
func (p *Pass) count(of func(s *journal.Session) bool) int {
	n := 0
	for _, s := range p.Journal.Sessions.List {
		if s.Void == nil && of(s) {
			n++
		}
	}
	return n
}

// blameRange blames what a meter or a method declares of an analyte, where most of its readings
// contradict it.
func (p *Pass) blameRange(f *Finding, r *journal.Reading, key, says string) {
	j, path, same := p.Journal, "", func(_ *journal.Session, o *journal.Reading) bool { return o.Method == r.Method }
	if m, ok := j.Methods.Get(r.Method); ok {
		path = m.Path
	} else if in, ok := j.Instruments.Get(judge.MeterOf(p.Session, r)); ok {
		path, same = in.Path, func(s *journal.Session, o *journal.Reading) bool {
			return o.Method == "" && judge.MeterOf(s, o) == in.ID
		}
	}
	if path == "" || len(f.keys) == 0 {
		return
	}
	f.Blame(path, []string{"measures", r.Analyte.String(), key}, "%s: %s", r.Analyte, says).Most(func() int {
		return p.count(func(s *journal.Session) bool {
			o, ok := s.Reading(r.Analyte)
			return ok && same(s, o)
		})
	})
}
