package main

import (
	"regexp"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
)

// ownerExtract says which records may be handed to one owner: those of the
// owner's sites; what is made of them and of nobody else's water (changes,
// batches, sign-offs, reports, actions, events); and what they rest on that is
// no water: lots, instruments, methods, targets and people.
func ownerExtract(j *journal.Journal, owner string) (func(journal.File) bool, error) {
	if _, ok := j.Owners.Get(owner); !ok {
		return nil, withHint("owners: "+strings.Join(ownersOf(j), ", "), "there is no owner %q", owner)
	}
	kept := map[string]bool{}
	add := func(r *journal.Record) { kept[r.Path] = true }
	for _, o := range j.Owners.List {
		if o.ID == owner {
			add(&o.Record)
		}
	}
	for _, s := range j.Sites.List {
		if s.Owner == owner {
			add(&s.Record)
		}
	}
	graph := audit.NewGraph(j)
	shared := map[journal.Kind]bool{journal.KindLot: true, journal.KindInstrument: true, journal.KindMethod: true, journal.KindTarget: true, journal.KindPerson: true}
	// own reports whether a record rests on water, and on the owner's only.
	own := func(r *journal.Record) bool {
		water := false
		for _, l := range graph.Up(journal.File{Kind: r.Kind, ID: r.ID, Path: r.Path}) {
			switch {
			case l.To.Path != "" && kept[l.To.Path] && !shared[l.To.Kind]:
				water = true
			case !shared[l.To.Kind] && (!l.Side || l.To.Kind == journal.KindSite):
				return false
			}
		}
		return water
	}
	// Each kind rests on those before it; actions and sign-offs may be of one
	// another, so they are asked again while something is found.
	for found := -1; found != len(kept); {
		found = len(kept)
		j.Each(func(record journal.Any) {
			r := record.Base()
			switch r.Kind {
			case journal.KindSession, journal.KindChange, journal.KindBatch, journal.KindEvent, journal.KindSignoff, journal.KindReport, journal.KindAction:
				if !kept[r.Path] && own(r) {
					add(r)
				}
			}
		})
	}
	for _, f := range j.Files {
		if !kept[f.Path] {
			continue
		}
		for _, l := range graph.Up(f) {
			if shared[l.To.Kind] && l.To.Path != "" {
				kept[l.To.Path] = true
			}
		}
	}
	for _, f := range j.Files {
		if kept[f.Path] && f.Kind != journal.KindPerson {
			if err := addPeople(j, f, kept); err != nil {
				return nil, err
			}
		}
	}
	return func(f journal.File) bool { return kept[f.Path] }, nil
}

// addPeople keeps the people whom a record names in any of its fields.
func addPeople(j *journal.Journal, f journal.File, kept map[string]bool) error {
	d, _, err := j.ReadRecord(f)
	if err != nil {
		return err
	}
	for n := range d.Nodes {
		if p, ok := j.People.Get(strings.TrimSpace(d.Text(int32(n)))); ok {
			kept[p.Path] = true
		}
	}
	return nil
}

func countKept(j *journal.Journal, keep func(journal.File) bool) int {
	n := 0
	for _, f := range j.Files {
		if keep(f) {
			n++
		}
	}
	return n
}

// only leaves of a report what is about the records that are kept. What was
// looked at besides (commits, addresses, tags) is of the whole journal and told
// to nobody else.
func (t *trust) only(owner string, keep func(journal.File) bool) {
	t.verdicts = slices.DeleteFunc(t.verdicts, func(v evidence.Verdict) bool {
		return !keep(journal.File{Kind: journal.KindSignoff, ID: v.Signoff.ID, Path: v.Signoff.Path})
	})
	t.findings = slices.DeleteFunc(t.findings, func(f trustFinding) bool {
		file, ok := journal.FileOf(f.subject)
		return !ok || !keep(file)
	})
	t.facts = []string{"an extract: only the records of " + owner + " and what they rest on; the rest of the journal and its history is not told"}
}

// sayStrangers names the files of an extract that speak of other owners or
// their sites: settings and notes are handed out as they are.
func (a *app) sayStrangers(j *journal.Journal, owner string, payload []evidence.BagFile) {
	var names []string
	for _, o := range j.Owners.List {
		if o.ID != owner && !o.Self {
			names = append(names, regexp.QuoteMeta(o.ID))
		}
	}
	for _, s := range j.Sites.List {
		if s.Owner != owner {
			names = append(names, regexp.QuoteMeta(s.ID))
		}
	}
	if len(names) == 0 {
		return
	}
	stranger := regexp.MustCompile(`(?:^|[^a-z0-9-])(` + strings.Join(names, "|") + `)(?:[^a-z0-9-]|$)`)
	for _, f := range payload {
		if m := stranger.FindSubmatch(f.Content); m != nil && len(f.Content) <= frontmatter.MaxFile {
			a.say("look at %s before you hand this out: it names %s", f.Name, m[1])
		}
	}
}
