package portion

import (
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
)

// Transfer gives a site to another owner from a day on, in the bytes of its record:
// whose it was before stays there, and so do that owner's results.
func Transfer(j *journal.Journal, site *journal.Site, to string, from time.Time) ([]byte, error) {
	if len(site.Owners) > 0 && !site.Owners[len(site.Owners)-1].Since.Before(from) {
		return nil, journal.Hint("give a later day", "%s went to %s on %s already", site.ID, site.Owner, journal.FormatDate(site.Owners[len(site.Owners)-1].Since))
	}
	switch owner, ok := j.Owners.Get(to); {
	case site.Owner == to:
		return nil, journal.Hint("wj show "+site.ID, "%s is %s's already", site.ID, to)
	case ok && owner.Void != nil:
		return nil, journal.Hint("wj ls owners", "the record of %s is void: %s", to, owner.Void.Reason)
	case !site.Since.IsZero() && from.Before(site.Since):
		return nil, journal.Hint("its first day is "+journal.FormatDate(site.Since), "%s was not there on %s", site.ID, journal.FormatDate(from))
	case !site.Until.IsZero() && from.After(site.Until):
		return nil, journal.Hint("its last day is "+journal.FormatDate(site.Until), "%s is not there on %s", site.ID, journal.FormatDate(from))
	}
	d, _, err := j.ReadRecord(journal.File{Kind: site.Kind, ID: site.ID, Path: site.Path})
	if err != nil {
		return nil, err
	}
	n, ok := d.FindPath("owner")
	if !ok {
		return nil, journal.Hint("wj lint "+site.Path, "%s names no owner", site.ID)
	}
	next := "{owner: " + to + ", since: " + journal.FormatDate(from) + "}"
	if d.Nodes[n].Kind == frontmatter.Sequence {
		edit, err := frontmatter.AppendItem(d, n, next)
		if err != nil {
			return nil, err
		}
		return frontmatter.Apply(d.Source, []frontmatter.Edit{edit})
	}
	node := d.Nodes[n]
	end := strings.TrimRight(string(d.Source[node.Start:node.End]), " ")
	return frontmatter.Apply(d.Source, []frontmatter.Edit{{Start: int(node.Start), End: int(node.End), New: "[{owner: " + end + "}, " + next + "]"}})
}

// Moved are the sessions of a site whose results are the new owner's after a
// transfer: those from that day on.
func Moved(j *journal.Journal, site string, from time.Time) (n int) {
	for _, s := range j.Sessions.List {
		if s.Site == site && !journal.Day(s.Sampled.In(j.Settings.Zone)).Before(from) {
			n++
		}
	}
	return n
}

// Waits reports whether a transfer that was written has no effect until others sign
// the site's record.
func Waits(j *journal.Journal, site *journal.Site, facts evidence.Facts) (bool, error) {
	list, err := waiting(j, facts)
	return slices.Contains(list, site.Path), err
}
