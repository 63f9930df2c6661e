package journal

import (
	"maps"
	"slices"
	"strings"

	"wj/journal/frontmatter"
	"wj/journal/overlay"
)

// With is the journal as it would be with the files, by their paths, laid over it. The journal
// itself stays as it is, and nothing but the files is read. Problems are those of the files
// alone, references among them included.
func (j *Journal) With(files map[string][]byte) *Journal {
	w := *j
	w.FS, w.index, w.Problems = overlay.New(j.FS, files), &idIndex{}, nil
	paths := slices.Sorted(maps.Keys(files))
	known := map[string]bool{}
	for _, f := range j.Files {
		if _, laid := files[f.Path]; laid {
			known[f.Path] = true
		}
	}
	var laid []File
	w.Files = slices.Clone(j.Files)
	for _, p := range paths {
		f, ok := FileOf(p)
		if !ok {
			continue
		}
		laid = append(laid, f)
		if !known[p] {
			w.Files = append(w.Files, f)
		}
	}
	slices.SortStableFunc(w.Files, func(a, b File) int { return strings.Compare(a.Path, b.Path) })
	other := w.otherIDs(laid)
	own := map[Kind]bool{}
	var d frontmatter.Document
	if src, ok := files[SettingsFile]; ok {
		d.ParseYAML(src)
		w.Settings = DecodeSettings(&d)
		w.Problems = checkSettings(&d, Check(&d, KindSettings, SettingsFile, &w))
	}
	for _, f := range laid {
		src := files[f.Path]
		if !ValidID(f.ID, f.Kind) {
			w.Problems = append(w.Problems, Problem{Rule: RuleID, Path: f.Path, Line: 1, Column: 1, Message: "the file name is no record id", Help: "lower-case letters, digits and hyphens" + upperHint(f.Kind)})
		}
		if p := other[f.Path]; p != "" {
			w.Problems = append(w.Problems, Problem{Rule: RuleID, Path: f.Path, Line: 1, Column: 1, Message: "has the same id as " + p, Help: "choose another id"})
		}
		if len(src) > frontmatter.MaxFile {
			w.Problems = append(w.Problems, Problem{Rule: frontmatter.RuleFrontMatter, Path: f.Path, Line: 1, Column: 1, Message: "is larger than a record may be",
				Help: "keep what is large in a file beside it, named under attachments"})
			continue
		}
		d.Parse(src)
		problems := Check(&d, f.Kind, f.Path, &w)
		if f.Kind == KindSession {
			problems = checkStandard(&d, f, problems)
			problems = checkSessionID(&d, f, w.Settings, problems)
		}
		w.Problems = append(w.Problems, problems...)
		if _, record, err := w.ReadRecord(f); err == nil && record != nil {
			w.put(record, !own[f.Kind])
			own[f.Kind] = true
		}
	}
	return &w
}

// otherIDs gives, by path, another file of the same kind whose id is the same.
func (j *Journal) otherIDs(files []File) map[string]string {
	type key struct {
		kind Kind
		id   string
	}
	of := func(f File) key {
		if f.Kind == KindLot {
			return key{f.Kind, strings.ToLower(f.ID)}
		}
		return key{f.Kind, f.ID}
	}
	wanted, other := map[key][]string{}, map[string]string{}
	for _, f := range files {
		wanted[of(f)] = append(wanted[of(f)], f.Path)
	}
	for _, f := range j.Files {
		for _, p := range wanted[of(f)] {
			if p != f.Path {
				other[p] = f.Path
			}
		}
	}
	return other
}

// put adds a record, or puts it in the place of the one that its file held. The first one of a
// kind gets a set of its own: that of the other journal stays as it is.
func (j *Journal) put(r Any, first bool) {
	switch r := r.(type) {
	case *Person:
		j.People.put(&r.Record, r, first)
	case *Owner:
		j.Owners.put(&r.Record, r, first)
	case *Site:
		j.Sites.put(&r.Record, r, first)
	case *Lot:
		j.Lots.put(&r.Record, r, first)
	case *Instrument:
		j.Instruments.put(&r.Record, r, first)
	case *Method:
		j.Methods.put(&r.Record, r, first)
	case *Session:
		j.Sessions.put(&r.Record, r, first)
	case *Target:
		j.Targets.put(&r.Record, r, first)
	case *Change:
		j.Changes.put(&r.Record, r, first)
	case *Signoff:
		j.Signoffs.put(&r.Record, r, first)
	case *Batch:
		j.Batches.put(&r.Record, r, first)
	case *Event:
		j.Events.put(&r.Record, r, first)
	case *Action:
		j.Actions.put(&r.Record, r, first)
	case *Report:
		j.Reports.put(&r.Record, r, first)
	case *Anchor:
		j.Anchors.put(&r.Record, r, first)
	}
}

func (s *Set[T]) put(base *Record, r *T, first bool) {
	of := func(r *T) *Record { return any(r).(Any).Base() }
	if first {
		s.List, s.byID = slices.Clone(s.List), maps.Clone(s.byID)
	}
	at, there := slices.BinarySearchFunc(s.List, base.Path, func(r *T, p string) int { return strings.Compare(of(r).Path, p) })
	if there {
		s.List[at] = r
	} else {
		s.List = slices.Insert(s.List, at, r)
	}
	if old, taken := s.byID[base.ID]; !taken || of(old).Path == base.Path {
		if s.byID == nil {
			s.byID = map[string]*T{}
		}
		s.byID[base.ID] = r
	}
}

// Without is the journal as it would be without the files, by their paths. Problems are not
// looked for anew.
func (j *Journal) Without(paths []string) *Journal {
	if len(paths) == 0 {
		return j
	}
	gone := map[string]bool{}
	for _, p := range paths {
		gone[p] = true
	}
	w := *j
	w.index = &idIndex{}
	w.Files = slices.DeleteFunc(slices.Clone(j.Files), func(f File) bool { return gone[f.Path] })
	w.Problems = slices.DeleteFunc(slices.Clone(j.Problems), func(p Problem) bool { return gone[p.Path] })
	w.People.drop(gone)
	w.Owners.drop(gone)
	w.Sites.drop(gone)
	w.Lots.drop(gone)
	w.Instruments.drop(gone)
	w.Methods.drop(gone)
	w.Sessions.drop(gone)
	w.Targets.drop(gone)
	w.Changes.drop(gone)
	w.Signoffs.drop(gone)
	w.Batches.drop(gone)
	w.Events.drop(gone)
	w.Actions.drop(gone)
	w.Reports.drop(gone)
	w.Anchors.drop(gone)
	return &w
}

// WithoutSessions is the journal as if the sessions in some files had not been loaded.
func (j *Journal) WithoutSessions(paths []string) *Journal {
	gone := map[string]bool{}
	for _, p := range paths {
		gone[p] = true
	}
	w := *j
	w.Sessions.drop(gone)
	return &w
}

// drop leaves out the records of some files; the set of another journal stays as it is.
func (s *Set[T]) drop(gone map[string]bool) {
	of := func(r *T) *Record { return any(r).(Any).Base() }
	if !slices.ContainsFunc(s.List, func(r *T) bool { return gone[of(r).Path] }) {
		return
	}
	kept := Set[T]{}
	for _, r := range s.List {
		if !gone[of(r).Path] {
			kept.add(of(r).ID, r)
		}
	}
	*s = kept
}

// WithSessions is a journal that was loaded without sessions, with those of its sessions that
// are wanted.
func (j *Journal) WithSessions(wanted func(File) bool) *Journal {
	w := *j
	if len(w.Sessions.List) > 0 {
		return &w
	}
	var files []File
	for _, f := range j.Files {
		if f.Kind == KindSession && wanted(f) {
			files = append(files, f)
		}
	}
	w.load(files, Options{})
	return &w
}
