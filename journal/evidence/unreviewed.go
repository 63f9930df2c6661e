package evidence

import (
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
)

// Missing is a record that policy.required wants signed, and that is not.
type Missing struct {
	journal.File
	Day   time.Time // of the record; zero where it bears none
	Lacks string    // whose signatures
	For   []string  // who may give them
}

// Unreviewed lists the records that an entry of policy.required is about and
// that lack its signatures, by the policy of now. Changes and what decides are
// judged with their approval and are not among them; nor are records from
// outside of the entry's days, and those that are void.
func Unreviewed(j *journal.Journal, f Facts) []Missing {
	base := f.BaseOf(j)
	policy := base.Settings.Policy.Required
	if len(policy) == 0 {
		return nil
	}
	given := map[string][]*journal.Signoff{}
	for _, s := range f.Signoffs(j) {
		given[s.Of] = append(given[s.Of], s)
	}
	var out []Missing
	j.Each(func(record journal.Any) {
		r := record.Base()
		if r.Void != nil || decides(r.Kind) || r.Kind == journal.KindSignoff || r.Kind == journal.KindAnchor {
			return
		}
		day := DayOf(record)
		if !slices.ContainsFunc(policy, func(p journal.Required) bool {
			return subject{kind: r.Kind, path: r.Path}.named(p.Scope) && (day.IsZero() || p.Covers(day))
		}) {
			return
		}
		demands := Demands(base, j, record, day)
		if len(demands) == 0 {
			return
		}
		var by []string
		for _, s := range given[r.ID] {
			if v := Judge(j, s, f); v.Standing == InForce && v.Accepts() && !slices.Contains(by, s.By) {
				by = append(by, s.By)
			}
		}
		m := Missing{File: journal.File{Kind: r.Kind, ID: r.ID, Path: r.Path}, Day: day}
		var lacks []string
		for _, d := range Unmet(demands, by) {
			lacks = append(lacks, d.Text())
			for _, id := range d.Who {
				if !slices.Contains(by, id) && !slices.Contains(m.For, id) && absent(base, id, f.Now) == "" {
					m.For = append(m.For, id)
				}
			}
		}
		if m.Lacks = strings.Join(lacks, "; "); m.Lacks != "" {
			out = append(out, m)
		}
	})
	return out
}

// DayOf is the day that a record bears; zero where it bears none.
func DayOf(record journal.Any) time.Time {
	switch r := record.(type) {
	case *journal.Session:
		return r.Sampled
	case *journal.Change:
		return r.Proposed
	case *journal.Batch:
		return r.Brewed
	case *journal.Lot:
		return r.Received
	case *journal.Event:
		return r.On
	case *journal.Action:
		return r.Opened
	case *journal.Report:
		return r.Sent
	}
	return time.Time{}
}

// GuardReviewers are those who may agree to a file that decides as it is now:
// whoever may sign it and did not make it.
func (f Facts) GuardReviewers(j *journal.Journal, path string) []string {
	base := f.BaseOf(j)
	of, known := journal.FileOf(path)
	s := subject{kind: journal.KindSettings, path: path}
	if known {
		s = subjectOf(base, j, recordOf(j, of))
		s.kind, s.path = of.Kind, path
	}
	makers := f.Makers(j, path)
	return holders(base, func(id string) bool {
		person, _ := base.People.Get(id)
		return mayReview(base, s, id, f.Now) == "" && !slices.ContainsFunc(makers, func(o Origin) bool { return o.By(person) })
	})
}

// guardFile is a file that decides as a record.
func guardFile(path string) journal.File {
	if f, ok := journal.FileOf(path); ok {
		return f
	}
	return journal.File{Kind: journal.KindSettings, ID: path, Path: path}
}

// UnsignedGuards lists the files that decide and were changed, on the mainline,
// the branch that is checked out or in the working files, without the signatures
// that the policy of that day asks for, each once.
func (f Facts) UnsignedGuards(j *journal.Journal, isError func(j *journal.Journal, rule string) bool) ([]Missing, error) {
	if f.Line == nil {
		return nil, nil
	}
	v := &verifying{Report: &Report{}, j: j, m: f.Line, opt: Options{Now: f.Now, IsError: isError}, facts: f}
	v.signoffs(nil)
	if err := v.changedGuards(); err != nil {
		return nil, err
	}
	for _, path := range slices.Sorted(maps.Keys(f.Line.Rules().held)) {
		v.unsigned = append(v.unsigned, Missing{File: guardFile(path), Lacks: "its newest entry has no effect until others sign it"})
	}
	var out []Missing
	for _, m := range v.unsigned {
		if slices.ContainsFunc(out, func(o Missing) bool { return o.Path == m.Path }) {
			continue
		}
		m.For = f.GuardReviewers(j, m.Path)
		out = append(out, m)
	}
	return out, nil
}
