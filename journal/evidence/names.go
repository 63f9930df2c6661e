package evidence

import (
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// names looks for records that one name could mean two of: what is judged of
// one would be believed of the other.
func (v *verifying) names() {
	for _, p := range v.j.SameNames() {
		v.wrongBy(v.newest(p.Path), p.Path, p.Help, "%s", p.Message)
	}
	for _, f := range v.j.Files {
		if !journal.ValidID(f.ID, f.Kind) {
			v.wrongBy(v.newest(f.Path), f.Path, "rename the file: lower-case letters, digits and hyphens", "%q cannot be a record id: letters of other scripts look like these", f.ID)
		}
	}
}

// typed holds the times that records state against the clock, and amendments
// against what they amend: nothing was done in the future, and nothing was
// corrected before it was there.
func (v *verifying) typed() {
	late := v.opt.Now.Add(clockSlack)
	v.j.Each(func(record journal.Any) {
		r := record.Base()
		future := func(what string, on time.Time) {
			if on.After(late) {
				v.wrongBy(v.newest(r.Path), r.Path, "write the time at which it was done", "%s is dated in the future: %s", what, journal.FormatTime(on))
			}
		}
		session, sampled := record.(*journal.Session)
		if sampled {
			future("the sample", session.Sampled)
		}
		if r.Void != nil {
			future("void", r.Void.On)
		}
		for _, a := range r.Amended {
			future("the amendment of "+a.Key, a.On)
			if sampled && journal.Day(a.On.In(v.j.Settings.Zone)).Before(journal.Day(session.Sampled.In(v.j.Settings.Zone))) {
				v.wrongBy(v.newest(r.Path), r.Path, "write the time at which it was done", "the amendment of %s is dated %s, before the sample", a.Key, journal.FormatTime(a.On))
			}
		}
		if b, ok := record.(*journal.Batch); ok && b.Void != nil && b.Change != "" && v.facts.VoidedByAnother(v.j, r, b.DosedBy) {
			v.Say("%s, brewed with %s, was declared void by %s, and a second person agrees: whether that was approved is not judged.", b.ID, b.Change, b.Void.By)
		}
		if lot, ok := record.(*journal.Lot); ok && lot.Recalled != nil {
			future("recalled", lot.Recalled.On)
		}
		if a, ok := record.(*journal.Anchor); ok {
			future("the anchor", a.On)
		}
	})
}

// strayRefusals looks for refusals on what was fetched from others whose record
// is here as it was refused: a refusal that was left out, or is not merged yet.
func (v *verifying) strayRefusals(ctx context.Context, ref history.Reference) error {
	if !strings.HasPrefix(ref.Name, "refs/remotes/") {
		return nil // one's own branches and tags are drafts and bookmarks
	}
	if v.m.behind { // what came after an old commit was not known then
		if later, err := v.m.repo.IsAncestor(ctx, v.m.head.Hash, ref.Commit); err != nil || later {
			return err
		}
	}
	list, err := v.m.repo.List(ref.Commit, journal.KindSignoff.Folder())
	if err != nil {
		return nil // another branch may hold anything
	}
	refusals, withdrawn := map[string]*journal.Signoff{}, map[string]string{}
	for _, e := range list {
		f, ok := journal.FileOf(e.Path)
		if !ok || !e.Mode.IsRegular() || v.m.acts[f.ID] != nil || slices.Contains(v.strays, f.ID) {
			continue
		}
		content, err := v.m.repo.Blob(e.Blob)
		if err != nil {
			continue
		}
		_, record := Read(f, content)
		s, ok := record.(*journal.Signoff)
		switch {
		case !ok:
		case s.Decision == journal.DecidedRefused:
			refusals[f.ID] = s
		case s.Decision == journal.DecidedWithdrawn:
			withdrawn[s.Of] = s.By
		}
	}
	for _, id := range slices.Sorted(maps.Keys(refusals)) {
		s := refusals[id]
		for _, of := range v.j.Find(s.Of) {
			digest, err := journal.DigestFile(v.j.FS, of.Path)
			if err == nil && coversKey(s, recordKey(of.Path), digest) && withdrawn[id] != s.By {
				v.strays = append(v.strays, id)
				v.unknown(of.Path, "git log "+ref.Name+" -- "+s.Path+"; merge it, or its signer withdraws it there", "%s by %s on %s refuses it as it is, and is not on the mainline: whether it was withdrawn or left out is unknown", id, s.By, ref.Name)
			}
		}
	}
	return nil
}
