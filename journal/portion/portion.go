package portion

import (
	"io/fs"
	"path"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/trace"
)

// Portion is what of a journal concerns one owner, as trace.Extract chooses it.
type Portion struct {
	Owner     *journal.Owner
	Strangers *Strangers
	// LeftOut are records that concern the owner and name somebody else's water in
	// what they must say, such as an event at the sites of two owners.
	LeftOut []string
	// Reduced are records from which something was left out, as they are now.
	Reduced []string

	journal string // the id of the new journal
	// since is, of a site that went to another owner, what its record was when it went.
	since map[string][]byte
	kept  map[string]bool // records by kind and id, other files by path
	// settings says that wj.yaml keeps its bytes, since somebody signed them.
	settings bool
}

func keyOf(f journal.File) string { return f.Kind.Folder() + "/" + f.ID }

// New chooses an owner's portion of a journal that was loaded with its sessions, with
// the records of the people named besides.
func New(j *journal.Journal, owner string, people ...string) (*Portion, error) {
	keep, err := trace.Extract(j, owner)
	if err != nil {
		return nil, err
	}
	p := &Portion{kept: map[string]bool{}, since: map[string][]byte{}, journal: journal.NewJournalID(owner)}
	p.Owner, _ = j.Owners.Get(owner)
	for _, f := range j.Files {
		p.kept[keyOf(f)] = keep(f) || f.Kind == journal.KindPerson && slices.Contains(people, f.ID)
	}
	for _, s := range j.Signoffs.List {
		if _, covers := s.Covers[journal.SettingsFile]; covers && p.kept[keyOf(journal.File{Kind: journal.KindSignoff, ID: s.ID})] {
			p.settings = true
		}
	}
	p.Strangers = strangersTo(j, owner, p.Keeps)
	payload, err := evidence.Payload(j, p.Keeps)
	if err != nil {
		return nil, err
	}
	for _, f := range payload {
		out, ok := p.Reduce(f.Name, f.Content)
		switch record, is := journal.FileOf(f.Name); {
		case ok && string(out) != string(f.Content):
			p.Reduced = append(p.Reduced, f.Name)
		case !ok && is:
			p.kept[keyOf(record)] = false
			p.LeftOut = append(p.LeftOut, f.Name)
		case !is:
			p.kept[f.Name] = true // an attachment
		}
	}
	for _, f := range j.Files {
		if p.Keeps(f) || slices.Contains(p.LeftOut, f.Path) {
			continue
		}
		if s, ok := j.Signoffs.Get(f.ID); ok && f.Kind == journal.KindSignoff {
			for path := range s.Covers {
				if of, ok := journal.FileOf(path); ok && p.Keeps(of) && (of.Kind == journal.KindSession || evidence.Judges(path)) {
					p.LeftOut = append(p.LeftOut, f.Path)
					break
				}
			}
		}
		if f.Kind != journal.KindEvent && f.Kind != journal.KindAction && f.Kind != journal.KindReport {
			continue
		}
		if src, err := fs.ReadFile(j.FS, f.Path); err == nil && p.concerns(j, string(src)) {
			p.LeftOut = append(p.LeftOut, f.Path)
		}
	}
	slices.Sort(p.LeftOut)
	return p, nil
}

// concerns reports whether a record that stays behind names a site of the owner.
func (p *Portion) concerns(j *journal.Journal, content string) bool {
	words := idWord().FindAllString(content, -1)
	return slices.ContainsFunc(j.Sites.List, func(s *journal.Site) bool { return s.OwnedBy(p.Owner.ID) && slices.Contains(words, s.ID) })
}

// Keeps reports whether a record goes along.
func (p *Portion) Keeps(f journal.File) bool { return p.kept[keyOf(f)] }

// Path is [Portion.Keeps] for any file, as history has it: settings, records in
// whatever folder they lay, their signatures and attachments.
func (p *Portion) Path(file string) bool {
	if file == journal.SettingsFile {
		return true
	}
	for _, end := range []string{".sig", ".asc"} {
		file = strings.TrimSuffix(file, end)
	}
	if f, ok := journal.FileOf(file); ok {
		return p.Keeps(f)
	}
	return p.kept[path.Clean(file)]
}
