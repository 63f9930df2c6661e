package lint

import (
	"io/fs"
	"regexp"
	"slices"
	"sync"

	"wj/journal"
)

var recordPrivacy = &Rule{
	Name: "record/privacy", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkPrivacy,
	Title: "a report shows one owner another's results, or a record holds a private address",
}

var address = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[A-Za-z0-9._%+-]+@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+`) })

func checkPrivacy(p *Pass) {
	if len(p.Journal.Owners.List) > 1 {
		for _, r := range p.Journal.Reports.List {
			if r.Void == nil {
				p.foreign(r)
			}
		}
	}
	for _, f := range p.Journal.Files {
		switch f.Kind {
		case journal.KindPerson, journal.KindOwner, journal.KindReport, journal.KindSession:
			continue // where addresses belong, or too many to read again
		}
		if !p.run.wanted(f.Path) {
			continue
		}
		src, err := fs.ReadFile(p.Journal.FS, f.Path)
		if err != nil {
			continue
		}
		if at := address().FindIndex(src); at != nil {
			p.private(f.Path, src, at)
		}
	}
	for _, s := range p.Journal.Sessions.List {
		if address().MatchString(s.Note) {
			p.Report(s.Path, []string{"note"}, "an e-mail address is in the record").Help("people's addresses belong in people/ and owners/ alone: name the person's id")
		}
	}
}

func (p *Pass) private(path string, src []byte, at []int) {
	f := p.Report(path, nil, "the e-mail address %s is in the record", src[at[0]:at[1]]).
		Help("people's addresses belong in people/ and owners/ alone: name the person's id")
	f.at, f.d.Start, f.d.End = true, at[0], at[1]
	f.d.Line, f.d.Column = position(src, at[0])
}

func (p *Pass) foreign(r *journal.Report) {
	paths := make([]string, 0, len(r.RestsOn))
	for path := range r.RestsOn {
		paths = append(paths, path)
	}
	slices.Sort(paths)
	for _, path := range paths {
		f, ok := journal.FileOf(path)
		if !ok || f.Kind != journal.KindSession {
			continue
		}
		s, ok := p.Journal.Sessions.Get(f.ID)
		if !ok {
			continue
		}
		if owner := p.Journal.OwnerOf(s); owner != "" && owner != r.Owner {
			if _, known := p.Journal.Owners.Get(owner); !known {
				continue // ref/missing says so
			}
			p.Report(r.Path, []string{"rests_on", path}, "the report for %s depends on %s, which is water of %s", r.Owner, s.ID, owner).
				Help("make reports with the owner named, so that nobody is sent another's results; inform %s if it was sent", owner)
		}
	}
}
