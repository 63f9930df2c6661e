package lint

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"wj/journal"
)

// A record that is not there and that many name (a lot that was removed, a site that was
// renamed) is one finding, with a count. What the rules see of its absence is left out: limits
// that are no longer the site's own, silences that match nothing, people whom nobody knows.

// manyMissing is from how many places on a missing record is one finding.
const manyMissing = 5

// missingRecord is what reading the journal says of a reference to nothing.
var missingRecord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^there is no ([a-z]+) "([^"]+)"$`) })

// missing are the ids that records name and that no record has, by the kind that was meant.
type missing map[string]map[string]bool

func (m missing) has(kind, id string) bool { return id != "" && m[kind][id] }

// gatherMissing leaves out what follows from records that are not there, and makes one finding
// of each that many name. Where only some files are looked at each has its own.
func (r *run) gatherMissing() {
	gone, by := missing{}, map[string][]*Finding{}
	for _, f := range r.found {
		if m := missingRecord().FindStringSubmatch(f.d.Message); f.d.Rule == refMissing.Name && m != nil {
			if gone[m[1]] == nil {
				gone[m[1]] = map[string]bool{}
			}
			gone[m[1]][m[2]] = true
			by[m[2]] = append(by[m[2]], f)
		}
	}
	if len(by) == 0 {
		return
	}
	r.found = slices.DeleteFunc(r.found, r.ofMissing(gone))
	if len(r.files) > 0 {
		return
	}
	drop := map[*Finding]bool{}
	for id, list := range by {
		if len(list) < manyMissing {
			continue
		}
		slices.SortStableFunc(list, func(a, b *Finding) int {
			return cmp.Or(cmp.Compare(a.d.Path, b.d.Path), cmp.Compare(a.d.Start, b.d.Start))
		})
		files := map[string]bool{}
		for _, f := range list {
			files[f.d.Path], drop[f] = true, true
		}
		first, last := list[0], list[len(list)-1]
		if i := slices.IndexFunc(r.found, func(f *Finding) bool { return f.d.Rule == recordDeleted.Name && idOf(f.d.Path) == id }); i >= 0 {
			r.found[i].d.Message += fmt.Sprintf(", and %d records name it", len(files))
			continue
		}
		delete(drop, first)
		first.d.Fixes = nil
		first.d.Message += fmt.Sprintf(", and %d records name it", len(files))
		first.d.Help = strings.TrimPrefix(first.d.Help+"; if it was renamed or removed, put it back: git log --diff-filter=DR --summary shows when", "; ")
		see := *last
		see.d.Message = "the last record that names it"
		first.see = append(first.see, &see)
	}
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool { return drop[f] })
}

func idOf(path string) string { f, _ := journal.FileOf(path); return f.ID }

// ofMissing reports whether a finding only follows from a record that is not there.
func (r *run) ofMissing(gone missing) func(*Finding) bool {
	sessions := map[string]*journal.Session{}
	for _, s := range r.j.Sessions.List {
		sessions[s.Path] = s
	}
	deleted := map[string]bool{}
	for _, f := range r.found {
		if f.d.Rule == recordDeleted.Name {
			deleted[f.d.Path] = true
		}
	}
	return func(f *Finding) bool {
		if f.d.Rule == recordSignedThenChanged.Name && len(f.keys) == 2 && deleted[f.keys[1]] {
			return true
		}
		s := sessions[f.d.Path]
		if s == nil {
			return false
		}
		site := gone.has("site", s.Site)
		lot := slices.ContainsFunc(s.Readings, func(r journal.Reading) bool { return gone.has("lot", r.Lot) })
		switch family, _, _ := strings.Cut(f.d.Rule, "/"); {
		case f.d.Rule == recordSilenced.Name:
			return site || lot
		case f.d.Rule == recordAuthor.Name:
			return gone.has("person", s.By) || gone.has("person", s.RecordedBy)
		case f.d.Rule == limitHealth.Name:
			return false
		case f.d.Rule == siteControl.Name:
			return site || lot
		case family == "limit" || family == "cause" || family == "site":
			return site
		}
		return false
	}
}
