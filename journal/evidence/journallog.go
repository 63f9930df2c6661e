package evidence

import (
	"context"
	"errors"
	"slices"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// Period is from when to when entries of a log are shown. A bound is a moment,
// which the author's time is held against, or a revision: then what its commit
// does not yet have, or already has, is shown.
type Period struct {
	Since, Until time.Time    // zero: no bound
	From         history.Hash // shown is what this commit does not reach; zero: all
	To           history.Hash // the newest commit; zero: that of HEAD
}

// Bound reads one bound of a period: a revision, or a date, whose day begins a
// period or ends it. A name that is both is a revision, as git has it.
func (p *Period) Bound(h *history.History, text string, zone *time.Location, until bool) error {
	if text == "" {
		return nil
	}
	if moment, dated := history.ParseMoment(text, zone); dated {
		if names, err := h.Candidates(text); err == nil && len(names) == 0 {
			if until {
				p.Until = moment
			} else if p.Since = moment; len(text) == len(time.DateOnly) {
				p.Since = journal.Day(moment.In(zone))
				p.Since = time.Date(p.Since.Year(), p.Since.Month(), p.Since.Day(), 0, 0, 0, 0, zone)
			}
			return nil
		}
	}
	r, err := h.Resolve(text, zone)
	if err != nil {
		return err
	}
	if until {
		p.To = r.Hash
	} else {
		p.From = r.Hash
	}
	return nil
}

// Keep reports of each entry whether it is in the period.
func (p *Period) Keep(ctx context.Context, h *history.History, entries []Entry) ([]Entry, error) {
	before, err := reached(ctx, h, p.From)
	if err != nil {
		return nil, err
	}
	after, err := reached(ctx, h, p.To)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(entries, func(e Entry) bool { return !p.holds(e, before, after) }), nil
}

func (p *Period) holds(e Entry, before, after map[string]bool) bool {
	committed := e.Commit != "" && e.Commit != InFile
	switch {
	case p.Since.IsZero() && p.Until.IsZero() && before == nil && after == nil:
		return true
	case !committed: // of now; of what the file alone tells no time is known
		return e.Commit == "" && p.Until.IsZero() && after == nil
	case !p.Since.IsZero() && e.When.Before(p.Since), !p.Until.IsZero() && e.When.After(p.Until):
		return false
	}
	return !before[e.Commit] && (after == nil || after[e.Commit])
}

// reached are the commits that a commit has before it, with itself; nil of none.
func reached(ctx context.Context, h *history.History, tip history.Hash) (map[string]bool, error) {
	if tip.IsZero() {
		return nil, nil
	}
	out := map[string]bool{}
	_, err := h.Walk(ctx, tip, history.WalkOptions{}, func(s history.Step) error {
		out[s.Hash.String()] = true
		return nil
	})
	return out, err
}

// Chosen says which records a log is about; all fields empty: every record.
type Chosen struct {
	Site  journal.File // what was recorded there
	Owner string       // whose water, as on the day of the record
	Limit int          // at most so many entries; 0: all
	Period
}

// JournalLog is what was recorded, the newest first: of a site its own record,
// its sessions and events; of an owner all about that owner's water; or all of
// the journal. The journal was loaded with its sessions.
func JournalLog(ctx context.Context, h *history.History, j *journal.Journal, c Chosen) ([]Entry, history.Walked, error) {
	head, err := h.Head()
	if err != nil {
		return nil, history.Walked{}, err
	}
	before, err := reached(ctx, h, c.From)
	if err != nil {
		return nil, history.Walked{}, err
	}
	tip := c.To
	if tip.IsZero() {
		tip = head.Hash
	}
	ever, err := Ever(ctx, h, tip)
	if err != nil {
		return nil, history.Walked{}, err
	}
	ring := Keyring(j)
	about := c.about(j)
	known := map[string]bool{}
	var out []Entry
	walked, err := ever.Walk(ctx, tip, history.WalkOptions{}, func(step history.Step) error {
		e := Entry{Commit: step.Hash.String(), Name: step.Author.Name, Email: step.Author.Email, When: step.Author.When, Subject: step.Subject(), Reason: reasonIn(step.Revision)}
		if !c.holds(e, before, nil) {
			return nil
		}
		for _, change := range step.Changes {
			here, seen := known[change.Path]
			if !seen {
				here = about(change, h)
				known[change.Path] = here
			}
			if !here {
				continue
			}
			e.Path, e.Proof = change.Path, proof(h, ring, step.Revision)
			e.What = changeWords[change.Kind]
			if out = append(out, e); c.Limit > 0 && len(out) == c.Limit {
				return errEnough
			}
		}
		return nil
	})
	if errors.Is(err, errEnough) {
		err = nil
	}
	return out, walked, err
}

// about decides of a file whether the log is about it: by the record that the
// journal has, else by the last one that history has.
func (c *Chosen) about(j *journal.Journal) func(history.Change, *history.History) bool {
	records := map[string]journal.Any{}
	j.Each(func(record journal.Any) { records[record.Base().Path] = record })
	return func(change history.Change, h *history.History) bool {
		f, ok := journal.FileOf(change.Path)
		if !ok {
			return change.Path == journal.SettingsFile && c.Site.ID == "" && c.Owner == ""
		}
		if c.Site.ID == "" && c.Owner == "" {
			return true
		}
		record := records[change.Path]
		if record == nil {
			blob := change.After
			if blob.IsZero() {
				blob = change.Before
			}
			src, err := h.Blob(blob)
			if err != nil {
				return false
			}
			_, record = Read(f, src)
		}
		if signoff, ok := record.(*journal.Signoff); ok && c.Owner != "" {
			for _, of := range j.Find(signoff.Of) {
				record = recordOf(j, of)
			}
		}
		if c.Owner != "" {
			return record != nil && slices.Contains(OwnersOf(j, record), c.Owner)
		}
		switch r := record.(type) {
		case *journal.Site:
			return r.ID == c.Site.ID
		case *journal.Session:
			return r.Site == c.Site.ID
		case *journal.Event:
			return slices.Contains(r.Sites, c.Site.ID)
		}
		return false
	}
}
