package lint

import (
	"maps"
	"slices"
	"strconv"
	"time"

	"wj/journal"
	"wj/journal/judge"
)

var recordDates = &Rule{
	Name: "record/dates", Severity: Error, Scope: Whole, Reach: OfBench, Check: checkRecordDates, Bars: true,
	Title: "the dates of a record contradict each other, or those of what it names",
}

// checkRecordDates compares days that can follow each other in one order only: what was done
// lies not in the future, nothing ends before it begins, nothing is decided of a record before
// it is there. A sample's own times are sample/order's.
func checkRecordDates(p *Pass) {
	j := p.Journal
	for _, l := range j.Lots.List {
		if l.Void != nil {
			continue
		}
		p.after(l.Path, "finished", l.Finished, "opened", l.Opened)
		opened := p.after(l.Path, "opened", l.Opened, "received", l.Received)
		expires := p.after(l.Path, "expires", l.Expires, "received", l.Received)
		if expires != nil { // old packs are sold, and found on shelves
			expires.d.Bars = false
			p.as(expires, Warning)
		}
		if opened == nil && expires == nil {
			p.usedBefore(l)
		}
		if !p.notYet(l.Path, "received", l.Received) {
			p.notYet(l.Path, "opened", l.Opened)
		}
	}
	for _, a := range j.Actions.List {
		if a.Void == nil && a.Closed != nil {
			p.after(a.Path, "closed", a.Closed.On, "opened", a.Opened)
		}
		if a.Void == nil {
			p.after(a.Path, "due", a.Due, "opened", a.Opened)
			p.notYet(a.Path, "opened", a.Opened)
		}
	}
	for _, e := range j.Events.List {
		if e.Void == nil {
			p.notYet(e.Path, "on", e.On)
		}
	}
	for _, b := range j.Batches.List {
		if b.Void == nil && !p.notYet(b.Path, "brewed", b.Brewed) {
			p.brewedBefore(b)
		}
	}
	for _, c := range j.Changes.List {
		if c.Void == nil {
			p.proposed(c)
		}
	}
	for _, s := range j.Signoffs.List {
		if s.Void == nil {
			p.signed(s)
		}
	}
	for _, r := range j.Reports.List {
		if r.Void == nil && !p.notYet(r.Path, "sent", r.Sent) && !r.Sent.IsZero() {
			p.sentBefore(r)
		}
	}
	p.spans()
}

// sentBefore holds a report against the samples that it rests on.
func (p *Pass) sentBefore(r *journal.Report) {
	for _, path := range slices.Sorted(maps.Keys(r.RestsOn)) {
		f, _ := journal.FileOf(path)
		if s, ok := p.Journal.Sessions.Get(f.ID); ok && f.Kind == journal.KindSession && !s.Sampled.IsZero() && s.Sampled.After(r.Sent) {
			p.Report(r.Path, []string{"sent"}, "sent on %s with a sample that was taken on %s", p.date(r.Sent), p.date(s.Sampled)).
				See(s.Path, []string{"sampled"}, "the sample").
				Help("correct the day on which it was sent, or what it depends on")
			return
		}
	}
}

// after reports a day that lies before the one that it must follow.
func (p *Pass) after(path, key string, later time.Time, other string, earlier time.Time) *Finding {
	if later.IsZero() || earlier.IsZero() || !p.dayOf(later).Before(p.dayOf(earlier)) {
		return nil
	}
	return p.Report(path, []string{key}, "%s %s lies before %s %s", key, p.date(later), other, p.date(earlier)).
		See(path, []string{other}, "what it contradicts").
		Help("one of the two days is mistyped: correct it")
}

// notYet reports a day of something done that is still to come.
func (p *Pass) notYet(path, key string, at time.Time) bool {
	if at.IsZero() || p.Now.IsZero() || !p.dayOf(at).After(p.day(p.Now)) {
		return false
	}
	p.Report(path, []string{key}, "%s %s lies in the future: today is %s", key, p.date(at), p.date(p.Now)).
		Help("check day, month and year; what is only planned is not recorded as done")
	return true
}

// usedBefore reports tests made with a lot that nobody had yet, or had not opened.
func (p *Pass) usedBefore(l *journal.Lot) {
	key, had, did := "received", l.Received, "came"
	if l.Opened.After(had) {
		key, had, did = "opened", l.Opened, "was opened"
	}
	if had.IsZero() || had.After(p.Now) {
		return
	}
	for _, s := range p.Journal.Sessions.List {
		if s.Void != nil {
			continue
		}
		for i := range s.Readings {
			r := &s.Readings[i]
			if at := judge.TestedAt(s, r); r.Lot == l.ID && !at.IsZero() && p.day(at).Before(p.dayOf(had)) {
				f := p.ReportReading(s, r, "lot", "lot %s %s on %s, and this %s was tested with it on %s", l.ID, did, p.date(had), r.Analyte, p.date(at)).
					See(l.Path, []string{key}, "the lot").
					Blame(l.Path, []string{key}, "lot %s was used before it %s on %s", l.ID, did, p.date(had)).
					Help("which pack was it? correct the lot of the reading, or the day of the pack")
				f.d.Bars = false // the test was made; its lot is in doubt
				p.as(f, Warning)
			}
		}
	}
}

// proposed holds a change against the waters that it is computed from.
func (p *Pass) proposed(c *journal.Change) {
	if p.notYet(c.Path, "proposed", c.Proposed) || c.Proposed.IsZero() {
		return
	}
	for i, b := range c.Basis {
		s, ok := p.Journal.Sessions.Get(b.Session)
		if ok && !s.Sampled.IsZero() && p.day(s.Sampled).After(p.dayOf(c.Proposed)) {
			p.Report(c.Path, []string{"proposed"}, "proposed on %s on a sample that was taken on %s", p.date(c.Proposed), p.date(s.Sampled)).
				See(c.Path, []string{"basis", strconv.Itoa(i), "session"}, "the sample").
				Help("correct the day of the proposal, or name the session that it was computed from")
			return
		}
	}
}

// brewedBefore holds a batch against its change. It may be so, and is then no slip: the dose was
// given first and written down later.
func (p *Pass) brewedBefore(b *journal.Batch) {
	c, ok := p.Journal.Changes.Get(b.Change)
	if !ok || c.Proposed.IsZero() || b.Brewed.IsZero() || c.Emergency != nil || !p.dayOf(judge.BrewEnd(p.Journal, b)).Before(p.dayOf(c.Proposed)) {
		return
	}
	f := p.Report(b.Path, []string{"brewed"}, "brewed on %s with %s, which was proposed on %s", p.date(b.Brewed), c.ID, p.date(c.Proposed)).
		See(c.Path, []string{"proposed"}, "the proposal").
		Help("correct the day; if the dose was really given before anybody proposed it, open an action record for the batch")
	f.d.Bars = false
}

// signed holds a sign-off against what it decides on.
func (p *Pass) signed(s *journal.Signoff) {
	if p.notYet(s.Path, "on", s.On) || s.On.IsZero() {
		return
	}
	c, ok := p.Journal.Changes.Get(s.Of)
	if ok && !c.Proposed.IsZero() && p.day(s.On).Before(p.dayOf(c.Proposed)) {
		f := p.Report(s.Path, []string{"on"}, "signed on %s, and %s was proposed on %s", p.date(s.On), c.ID, p.date(c.Proposed)).
			See(c.Path, []string{"proposed"}, "the proposal").
			Help("one of the two days is mistyped: correct the proposal's, or have it signed again")
		f.also = p.brewedWith(c)
	}
}

// brewedWith are the paths of a change and of the batches brewed with it.
func (p *Pass) brewedWith(c *journal.Change) []string {
	out := []string{c.Path}
	for _, b := range p.Journal.Batches.List {
		if b.Change == c.ID {
			out = append(out, b.Path)
		}
	}
	return out
}

// spans reports times that end before they begin, and supply periods that overlap.
func (p *Pass) spans() {
	j := p.Journal
	span := func(path string, keys []string, s journal.Span) {
		if !s.Until.IsZero() && s.Until.Before(s.Since) {
			p.Report(path, append(slices.Clone(keys), "until"), "until %s lies before since %s", journal.FormatDate(s.Until), journal.FormatDate(s.Since)).
				Help("one of the two days is mistyped: correct it")
		}
	}
	for _, x := range j.People.List {
		span(x.Path, nil, x.Span)
		for i, role := range x.Roles {
			span(x.Path, []string{"roles", strconv.Itoa(i)}, role.Span)
		}
	}
	for _, x := range j.Instruments.List {
		span(x.Path, nil, x.Span)
	}
	for _, x := range j.Targets.List {
		span(x.Path, nil, x.Span)
	}
	for _, x := range j.Sites.List {
		span(x.Path, nil, x.Span)
		for i, a := range x.Supply {
			at := []string{"supply", strconv.Itoa(i)}
			span(x.Path, at, a.Span)
			for k, b := range x.Supply[:i] {
				if (b.Until.IsZero() || !a.Since.After(b.Until)) && (a.Until.IsZero() || !b.Since.After(a.Until)) && b.Since.Before(a.Since) && !b.Until.IsZero() {
					p.Report(x.Path, append(at, "since"), "%s begins on %s, and %s ends on %s: the periods overlap", a.Regime, journal.FormatDate(a.Since), b.Regime, journal.FormatDate(b.Until)).
						See(x.Path, []string{"supply", strconv.Itoa(k), "until"}, "the other period").
						Help("a tap has one supply at a time: end a period on the day before the next begins; for days of mixing name a third one")
					break
				}
			}
		}
	}
}
