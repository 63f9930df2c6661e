package dataset

import (
	"io/fs"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
)

// linksOf are the references of a record, from its rows: every column that names a
// record, and every covered path.
func linksOf(journalID string, from journal.File, rows []Row) []Row {
	var out []Row
	seen := map[[3]string]bool{}
	add := func(role, kind, id string) {
		key := [3]string{role, kind, id}
		if !seen[key] && !(kind == from.Kind.Folder() && id == from.ID) {
			seen[key] = true
			out = append(out, Row{Table: linksTable, Values: []any{journalID, from.Kind.Folder(), from.ID, role, kind, id, int64(0)}})
		}
	}
	for _, row := range rows {
		t := row.Table
		for i, c := range t.Columns {
			text, ok := row.Values[i].(string)
			if !ok || i < t.Key && i < 2 { // the record's own key
				continue
			}
			switch _, isKind := journal.KindNamed(c.To); {
			case isKind:
				add(c.Name, c.To, text)
			case i > 0 && c.To == "" && strings.HasSuffix(c.Name, "_id") && t.Columns[i-1].Name == strings.TrimSuffix(c.Name, "_id")+"_kind" && t != recordsTable && i >= t.Key:
				kind, _ := row.Values[i-1].(string)
				if kind == "" {
					kind = "unknown"
				}
				add(c.Name, kind, text)
			case c.Name == "path" && (t.Name == "signoff_covers" || t.Name == "report_covers" || t.Name == "anchor_before"):
				if text == journal.SettingsFile {
					add("covers", "settings", text)
				} else if f, ok := journal.FileOf(text); ok {
					add("covers", f.Kind.Folder(), f.ID)
				}
			}
		}
	}
	return out
}

func knownSubstance(name string) bool {
	s, ok := substance.ByKey(name)
	return ok && s.Key == name
}

func readText(j *journal.Journal, name string) (string, error) {
	src, err := fs.ReadFile(j.FS, name)
	return string(src), err
}

// brews finds the water that a batch was brewed with: for each water of its change the
// newest routine session of that site, on the day of brewing, for each of the values
// that decide. It keeps a line a session of the sites that changes are based on.
type brews struct {
	j      *journal.Journal
	sites  map[string]string // of the sessions that changes name
	wanted map[string]bool   // those sites
	tests  map[string][]test // by site
}

type test struct {
	id   string
	at   int64
	have [4]bool
}

// deciding are the values by whose newest sessions the water of a brew is known.
var deciding = [4]water.ID{water.Calcium, water.Sulfate, water.Chloride, water.Alkalinity}

// Of an export of a part it knows the sessions too that are not in it.
func newBrews(j *journal.Journal, chosen func(journal.File) bool) *brews {
	b := &brews{j: j, sites: map[string]string{}, wanted: map[string]bool{}, tests: map[string][]test{}}
	files := map[string]journal.File{}
	for _, c := range j.Changes.List {
		for _, w := range c.Basis {
			files[w.Session] = journal.File{}
		}
	}
	if len(files) == 0 {
		return b
	}
	for _, f := range j.SessionFiles() {
		if _, ok := files[f.ID]; ok {
			if _, record, err := j.ReadRecord(f); err == nil && record != nil {
				b.sites[f.ID] = record.(*journal.Session).Site
				b.wanted[b.sites[f.ID]] = true
			}
		}
	}
	if chosen != nil {
		all := j.SessionFiles()
		left := make([]bool, len(all))
		j.EachSessionHead(func(_, i int, _ journal.File, h *journal.SessionHead) {
			left[i] = h != nil && b.wanted[h.Site] && !chosen(all[i])
		})
		for i, f := range all {
			if left[i] {
				if _, record, err := j.ReadRecord(f); err == nil && record != nil {
					b.session(record.(*journal.Session))
				}
			}
		}
	}
	return b
}

func (b *brews) session(s *journal.Session) {
	if !b.wanted[s.Site] || s.Void != nil || s.Sample != journal.SampleRoutine || s.Sampled.IsZero() {
		return
	}
	t := test{id: s.ID, at: s.Sampled.Unix()}
	for n, id := range deciding {
		r, ok := s.Reading(id)
		t.have[n] = ok && !r.Faulty
	}
	b.tests[s.Site] = append(b.tests[s.Site], t)
}

// liquor are the sessions, sorted.
func (b *brews) liquor(batch *journal.Batch) []string {
	c, ok := b.j.Changes.Get(batch.Change)
	if !ok || batch.Brewed.IsZero() {
		return nil
	}
	end := batch.Brewed
	if h, m, s := end.Clock(); h+m+s == 0 {
		end = end.AddDate(0, 0, 1).Add(-time.Second)
	}
	var ids []string
	for _, w := range c.Basis {
		for n := range deciding {
			var newest *test
			list := b.tests[b.sites[w.Session]]
			for i := range list {
				if t := &list[i]; t.have[n] && t.at <= end.Unix() && (newest == nil || t.at > newest.at || t.at == newest.at && t.id > newest.id) {
					newest = t
				}
			}
			if newest != nil && !slices.Contains(ids, newest.id) {
				ids = append(ids, newest.id)
			}
		}
	}
	slices.Sort(ids)
	return ids
}

// bareMeaning is a record without what is only its keeper's business.
func bareMeaning(m meaning) meaning {
	out := meaning{}
	for key, v := range m {
		switch key {
		case "note", "price", "supplier", "email", "keys", "ignore", "attachments", "amended", "void":
		default:
			out[key] = v
		}
	}
	return out
}
