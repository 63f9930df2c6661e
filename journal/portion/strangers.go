package portion

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"wj/journal"
)

// Strangers knows what must not be read in one owner's portion: names, ids and
// addresses of the other owners, of their sites, people and records.
type Strangers struct {
	ids     map[string]bool // whole words that are an id and nothing else
	refs    map[string]bool // ids that are words of the language too: strangers where a reference stands
	phrases *regexp.Regexp
	own     []string // texts that may hold such words: addresses of whoever is in the portion
}

var idWord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[A-Za-z0-9][A-Za-z0-9-]*`) })

// strangersTo gathers them for the records that are kept.
func strangersTo(j *journal.Journal, owner string, keeps func(journal.File) bool) *Strangers {
	s := &Strangers{ids: map[string]bool{}, refs: map[string]bool{}}
	var phrases []string
	phrase := func(text string) {
		if text = strings.TrimSpace(text); text != "" {
			phrases = append(phrases, regexp.QuoteMeta(text))
		}
	}
	// An id of one plain word, such as well, is a word of any note. The name of an
	// owner is one wherever it stands.
	id := func(id string, always bool) {
		if s.refs[id] = true; always || strings.ContainsAny(id, "-0123456789") {
			s.ids[strings.ToLower(id)] = true
		}
	}
	mine := map[string]bool{} // domains of whoever is kept, and of who keeps the journal
	domain := func(address string) string { return strings.ToLower(address[strings.LastIndexByte(address, '@')+1:]) }
	for _, p := range j.People.List {
		if keeps(journal.File{Kind: p.Kind, ID: p.ID, Path: p.Path}) {
			for _, e := range p.Email {
				s.own, mine[domain(e)] = append(s.own, e), true
			}
		}
	}
	theirs := map[string]bool{}
	for _, o := range j.Owners.List {
		switch {
		case o.ID == owner:
			s.own = append(s.own, o.Email...)
			s.own = append(s.own, o.Name)
			for _, e := range o.Email {
				mine[domain(e)] = true
			}
		case o.Self:
			id(o.ID, false)
			if strings.Contains(strings.TrimSpace(o.Name), " ") {
				phrase(o.Name)
			}
			for _, e := range o.Email {
				mine[domain(e)] = true
			}
		default:
			id(o.ID, true)
			phrase(o.Name)
			for _, e := range o.Email {
				phrase(e)
				theirs[domain(e)] = true
			}
		}
	}
	for _, site := range j.Sites.List {
		if site.OwnedBy(owner) {
			s.own = append(s.own, site.Name)
			continue
		}
		id(site.ID, false)
		if strings.Contains(strings.TrimSpace(site.Name), " ") {
			phrase(site.Name)
		}
	}
	for _, p := range j.People.List {
		if keeps(journal.File{Kind: p.Kind, ID: p.ID, Path: p.Path}) {
			continue
		}
		for _, e := range p.Email {
			if theirs[domain(e)] && !mine[domain(e)] || limitedTo(p, owner) {
				id(p.ID, false)
				phrase(p.Name)
				phrase(e)
			}
		}
	}
	for _, f := range j.Files {
		switch f.Kind {
		case journal.KindOwner, journal.KindSite, journal.KindPerson, journal.KindLot, journal.KindInstrument, journal.KindMethod:
		default:
			if !keeps(f) {
				id(f.ID, false)
			}
		}
	}
	slices.SortFunc(phrases, func(a, b string) int { return len(b) - len(a) })
	if len(phrases) > 0 {
		s.phrases = regexp.MustCompile(`(?i)(?:^|[^\pL\pN])(` + strings.Join(phrases, "|") + `)(?:$|[^\pL\pN])`)
	}
	slices.SortFunc(s.own, func(a, b string) int { return len(b) - len(a) })
	return s
}

// limitedTo reports whether all that a person may do is for the water of others.
func limitedTo(p *journal.Person, owner string) bool {
	return len(p.Roles) > 0 && !slices.ContainsFunc(p.Roles, func(r journal.Role) bool { return len(r.Owners) == 0 || slices.Contains(r.Owners, owner) })
}

// In is what of strangers a text names, "" where it names none.
func (s *Strangers) In(text string) string {
	for _, own := range s.own {
		if own != "" && strings.Contains(text, own) {
			text = strings.ReplaceAll(text, own, " ")
		}
	}
	for _, word := range idWord().FindAllString(text, -1) {
		if s.ids[strings.ToLower(word)] || s.dated(word) {
			return word
		}
	}
	if s.phrases != nil {
		if m := s.phrases.FindStringSubmatch(text); m != nil {
			return m[1]
		}
	}
	return ""
}

// dated reports whether a word is a stranger's id behind a day, as those of
// sessions that are no longer there.
func (s *Strangers) dated(word string) bool {
	if len(word) < 12 || word[4] != '-' || word[7] != '-' || word[10] != '-' {
		return false
	}
	rest := strings.ToLower(word[11:])
	if cut := strings.LastIndexByte(rest, '-'); cut > 0 && strings.Trim(rest[cut+1:], "0123456789") == "" && s.refs[rest[:cut]] {
		return true
	}
	return s.refs[rest]
}

// Is reports whether a value is the id of a stranger.
func (s *Strangers) Is(value string) bool { return s.refs[strings.TrimSpace(value)] }
