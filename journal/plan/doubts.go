package plan

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
	"wj/water/treat"
)

// freshBasis is how old a session may be that a change is drafted on; the rule
// change/basis-old has the same figure as a setting.
const freshBasis = 30 * 24 * time.Hour

// Doubts says what speaks against drafting a change on its basis: sessions that
// are void, old or not to be relied on, a reverse osmosis above its limit or fed
// with chlorine, lots of additives that are past, and newer water that would make
// the approval lapse at once.
func (b *Book) Doubts(w *Work, at time.Time) []string {
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	checks, limits := judge.NewChecks(b.j), judge.NewLimits(b.j)
	for i := range w.Sources {
		s := w.Sources[i].Basis
		if s.Void != nil {
			add("%s is void: %s", s.ID, s.Void.Reason)
			continue
		}
		if age := at.Sub(s.Sampled); age > freshBasis {
			add("%s is %.0f days old: sample %s again", s.ID, age.Hours()/24, s.Site)
		}
		if why := judge.Doubt(b.j, checks, s); why != "" {
			add("%s is doubtful: %s", s.ID, why)
		}
		if why := b.passageDoubt(s.Site, s.Sampled, at); why != "" {
			add("%s", why)
		}
		site, ok := b.j.Sites.Get(s.Site)
		if !ok || site.Stage != journal.StagePermeate {
			continue
		}
		newest := s
		if n, ok := b.Newest(s.Site, at); ok {
			newest = n
		}
		var a water.Analysis
		b.j.Analysis(newest, &a)
		for _, x := range limits.Session(newest, &a) {
			if x.Conformity.Outside() {
				add("%s: %s is %s, %s", newest.ID, x.Limit.ID, Text(x.Value), x.Limit.Words())
			}
		}
		b.chlorinatedFeed(site, at, add)
	}
	for _, x := range w.Change.Add {
		lot, ok := b.j.Lots.Get(x.Lot)
		switch {
		case !ok:
		case lot.Recalled != nil:
			add("lot %s of %s is recalled: %s", lot.ID, x.Substance, lot.Recalled.Reason)
		case lot.ExpiredOn(at):
			add("lot %s of %s expired on %s", lot.ID, x.Substance, journal.FormatDate(lot.Expires))
		}
	}
	if now, err := b.OnDay(w.Change, at); err == nil {
		for _, m := range b.moves(w, now) {
			add("it would expire at once: with the newest water %s", strings.ReplaceAll(m.Words, "when signed", "on its basis"))
		}
	}
	return out
}

// chlorinatedFeed looks at the water that feeds a reverse osmosis: chlorine ruins
// its membranes, and then it rejects less.
func (b *Book) chlorinatedFeed(site *journal.Site, at time.Time, add func(string, ...any)) {
	for _, id := range site.FedBy {
		s, _, ok := b.NewestWith(id, at, water.TotalChlorine)
		if !ok {
			continue
		}
		var a water.Analysis
		b.j.Analysis(s, &a)
		if v := a.Number(water.TotalChlorine); v >= treat.LeastChlorine {
			add("%s is fed with %s mg/L of chlorine (%s), which ruins its membranes: test the permeate again", site.ID, water.Round(v, 2), s.ID)
		}
	}
}
