package judge

import (
	"slices"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/water"
)

// Use is what the sessions of a journal took from a lot. Void sessions used their
// strips all the same.
type Use struct {
	Tests       int // of reagents, [journal.Reading.Taken]; of a check standard one a session
	First, Last *journal.Session
	FirstAt     time.Time
	LastAt      time.Time
	AfterRecall int // how often it was used on a later day than that of its recall
}

// Uses counts what was taken from each lot by a moment; the zero time is for
// ever.
func Uses(j *journal.Journal, by time.Time) map[string]*Use {
	out := map[string]*Use{}
	note := func(id string, s *journal.Session, at time.Time, tests int) {
		if id == "" || !by.IsZero() && at.After(by) {
			return
		}
		u := out[id]
		if u == nil {
			u = &Use{}
			out[id] = u
		}
		u.Tests += tests
		if u.First == nil || at.Before(u.FirstAt) {
			u.First, u.FirstAt = s, at
		}
		if u.Last == nil || at.After(u.LastAt) {
			u.Last, u.LastAt = s, at
		}
		if l, ok := j.Lots.Get(id); ok && l.Recalled != nil && dayOf(j, at).After(dayOf(j, l.Recalled.On)) {
			u.AfterRecall++
		}
	}
	for _, s := range j.Sessions.List {
		for i := range s.Readings {
			r := &s.Readings[i]
			note(r.Lot, s, TestedAt(s, r), r.Taken())
		}
		note(s.StandardLot, s, TestedAt(s, nil), 1)
	}
	return out
}

// Gone says why a lot is no longer to be taken.
type Gone uint8

// What became of lots.
const (
	InStock Gone = iota
	UsedUp
	Expired
	Finished
	Recalled
)

// String is what became of a lot, in words.
func (g Gone) String() string {
	return [...]string{"in stock", "used up", "expired", "finished", "recalled"}[min(g, Recalled)]
}

// Holding is one lot in stock.
type Holding struct {
	Lot   *journal.Lot
	Use   Use
	Known bool       // how much is left is known
	Left  float64    // tests, or the lot's own unit; negative where more was taken than there was
	Of    float64    // how much there was
	Unit  water.Unit // none for tests
	// OtherUnit: batches weighed it in a unit that does not go with its own.
	OtherUnit bool
	Gone      Gone
	GoneOn    time.Time // the day of a recall, of being finished, the last day of an expired lot
	PerDay    float64   // how much is used of such lots in a day
	Until     time.Time // the day on which it ends; zero: not known
	Short     bool      // its last day comes before it is used up
}

// Group are lots that stand in for each other, in the order in which they will
// be used: the open one first, then the one that expires first.
type Group struct {
	Name string // the analytes, the substance, or "check standard: …"
	Lots []*Holding
}

// RunsOut is the day on which the last lot in stock ends, at the rate of use;
// known is false where nothing is used, or it is unknown.
func (g *Group) RunsOut() (end time.Time, known bool) {
	for _, h := range g.Lots {
		switch {
		case h.Gone != InStock:
		case h.Until.IsZero():
			return time.Time{}, false
		case h.PerDay > 0:
			known = true
			if h.Until.After(end) {
				end = h.Until
			}
		}
	}
	return end, known
}

// Spare is another lot of the group that is in stock and in date beyond a day.
func (g *Group) Spare(of *Holding, beyond time.Time) (*Holding, bool) {
	for _, h := range g.Lots {
		if h != of && h.Gone == InStock && (h.Lot.Expires.IsZero() || h.Lot.Expires.After(beyond)) {
			return h, true
		}
	}
	return nil, false
}

// Ending says how a lot in stock comes to its end within a time.
type Ending uint8

// The endings.
const (
	NotEnding  Ending = iota
	EndsByDate        // its last day comes
	EndsByUse         // its tests are used up, at the present use
)

// Ends tells how a lot in stock ends within a time of a day.
func (h *Holding) Ends(day time.Time, within time.Duration) Ending {
	switch x := h.Lot.Expires; {
	case h.Gone != InStock:
	case !x.IsZero() && x.Sub(day) <= within:
		return EndsByDate
	case h.Known && h.PerDay > 0 && h.Use.Tests > 0 && h.Left/h.PerDay*24 < within.Hours():
		return EndsByUse
	}
	return NotEnding
}

// Resting reports whether nobody has used a lot for so long that its end is no
// matter: 90 days since its last use, or of one that was never used since its
// last day (common practice, no source).
func (h *Holding) Resting(now time.Time) bool {
	last := h.Use.LastAt
	if h.Use.Tests == 0 && h.Lot.Substance == "" {
		last = h.Lot.Expires
	}
	return !last.IsZero() && now.Sub(last) > inUse
}

// UsedBefore reports whether what is to do about lots may depend on their uses
// before a day, of a journal with all its sessions from that day on.
func UsedBefore(j *journal.Journal, from, now time.Time) bool {
	uses, today := Uses(j, now), dayOf(j, now)
	return slices.ContainsFunc(j.Lots.List, func(l *journal.Lot) bool {
		begun := l.Received
		if begun.IsZero() {
			begun = l.Opened
		}
		u := uses[l.ID]
		switch {
		case l.Void != nil || l.Substance != "" || !begun.IsZero() && !begun.Before(from):
			return false
		case l.Recalled != nil:
			return u != nil && u.AfterRecall > 0 && l.Recalled.On.Before(from)
		case !l.Finished.IsZero():
			return false
		case u == nil: // it may rest, or it was never used
			return !l.Expires.IsZero() && now.Sub(l.Expires) <= inUse && l.Expires.Sub(today) <= lotLead
		}
		return l.Tests > 0 && now.Sub(u.LastAt) <= inUse && u.FirstAt.Before(from.Add(inUse))
	})
}

// Stock counts what is left of every lot that had come by now, and how long it
// lasts at the rate of use of the last days. Reagents and check standards count
// tests; salts and acids what batches weighed.
func Stock(j *journal.Journal, now time.Time, days int) []*Group {
	uses, since, today := Uses(j, now), now.AddDate(0, 0, -days), dayOf(j, now)
	recent := map[string]float64{} // tests of each lot
	for _, s := range j.Sessions.List {
		at := TestedAt(s, nil)
		if at.Before(since) || at.After(now) {
			continue
		}
		for i := range s.Readings {
			recent[s.Readings[i].Lot] += float64(s.Readings[i].Taken())
		}
		if s.StandardLot != "" {
			recent[s.StandardLot]++
		}
	}
	var out []*Group
	by, rate := map[string]*Group{}, map[string]float64{}
	for _, lot := range j.Lots.List {
		name := groupName(lot)
		if lot.Void != nil || name == "" || !lot.Received.IsZero() && lot.Received.After(today) {
			continue
		}
		h := &Holding{Lot: lot}
		if u := uses[lot.ID]; u != nil {
			h.Use = *u
		}
		if lot.Substance != "" && len(lot.Analytes) == 0 {
			rate[name] += h.weighed(j, since, now) / float64(days)
		} else {
			rate[name] += recent[lot.ID] / float64(days)
			if lot.Tests > 0 {
				h.Known, h.Of, h.Left = true, float64(lot.Tests), float64(lot.Tests-h.Use.Tests-lot.Losses)
			}
		}
		switch {
		case lot.Recalled != nil && !dayOf(j, lot.Recalled.On).After(today):
			h.Gone, h.GoneOn = Recalled, lot.Recalled.On
		case !lot.Finished.IsZero() && !lot.Finished.After(today):
			h.Gone, h.GoneOn = Finished, lot.Finished
		case lot.ExpiredOn(now.In(zoneOf(j))):
			h.Gone, h.GoneOn = Expired, lot.Expires
		case h.Known && h.Left <= 0:
			h.Gone = UsedUp
		}
		if by[name] == nil {
			by[name] = &Group{Name: name}
			out = append(out, by[name])
		}
		by[name].Lots = append(by[name].Lots, h)
	}
	for _, g := range out {
		g.spend(rate[g.Name], today)
	}
	return out
}

// groupName reports which lots stand in for each other; "" for a lot that is none
// of the three.
func groupName(lot *journal.Lot) string {
	keys := func(ids []water.ID) string {
		out := make([]string, len(ids))
		for i, id := range ids {
			out[i] = id.String()
		}
		return strings.Join(out, ", ")
	}
	switch {
	case len(lot.Analytes) > 0:
		return keys(lot.Analytes)
	case lot.Substance != "":
		return strings.ReplaceAll(lot.Substance, "_", " ")
	case len(lot.Standard) > 0:
		var ids []water.ID
		for id := range lot.Standard {
			ids = append(ids, id)
		}
		slices.Sort(ids)
		return "check standard: " + keys(ids)
	}
	return ""
}

// weighed sets what is left of an additive, and gives what was weighed of it
// since a moment, in its own unit.
func (h *Holding) weighed(j *journal.Journal, since, now time.Time) (lately float64) {
	h.Unit = h.Lot.Amount.Unit
	total := 0.0
	for _, b := range j.Batches.List {
		if b.Void != nil || b.Brewed.After(now) {
			continue
		}
		for _, w := range b.Weighed {
			if w.Lot != h.Lot.ID {
				continue
			}
			v, err := w.Amount.In(h.Unit)
			if err != nil {
				h.OtherUnit = true
				continue
			}
			total += v
			if !b.Brewed.Before(since) {
				lately += v
			}
		}
	}
	if h.Unit.IsNone() || h.OtherUnit {
		return 0
	}
	h.Known, h.Of, h.Left = true, h.Lot.Amount.Value, h.Lot.Amount.Value-total
	return lately
}

// spend sets when each lot ends: they are used one after another.
func (g *Group) spend(perDay float64, today time.Time) {
	sort.SliceStable(g.Lots, func(a, b int) bool {
		x, y := g.Lots[a].Lot, g.Lots[b].Lot
		if ox, oy := isOpen(x, today), isOpen(y, today); ox != oy {
			return ox
		}
		return !x.Expires.IsZero() && (y.Expires.IsZero() || x.Expires.Before(y.Expires))
	})
	at := today
	for _, h := range g.Lots {
		if h.Gone != InStock {
			continue
		}
		h.PerDay = perDay
		if perDay <= 0 || !h.Known {
			h.Until = h.Lot.Expires
			continue
		}
		end := at.Add(time.Duration(min(h.Left/perDay, 36500) * 24 * float64(time.Hour)))
		if x := h.Lot.Expires; !x.IsZero() && x.Before(end) {
			end, h.Short = x, true
		}
		h.Until = journal.Day(end)
		if end.After(at) {
			at = end
		}
	}
}
