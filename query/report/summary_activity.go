package report

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/judge"
	"wj/render"
)

// happened gathers events at the owner's sites, deviations about nothing but
// the owner's own affairs, and corrections.
func (g *gatherer) happened(s *Summary) []Dated {
	out := []Dated{}
	add := func(on time.Time, text string) { out = append(out, Dated{Day{on}, text}) }
	for _, e := range g.j.Events.List {
		own := len(e.Sites) > 0
		for _, id := range e.Sites {
			site, ok := g.j.Sites.Get(id)
			own = own && ok && site.OwnerAt(e.On) == g.owner.ID
		}
		if own && e.Void == nil && g.inDay(e.On) {
			add(e.On, g.siteNames(e.Sites)+": "+g.text(e.What, "something was done to the plant"))
		}
	}
	concerned := 0
	for _, act := range g.j.Actions.List {
		if act.Void != nil || !g.inDay(act.Opened) {
			continue
		}
		mine, others := g.concerns(act)
		switch {
		case mine && others:
			concerned++
		case mine:
			text := "deviation: " + g.text(act.Deviation, "see the brewery's records")
			for _, part := range []struct{ name, text string }{{"cause", act.Cause}, {"done", act.Correction}, {"effect", act.Effect}} {
				if part.text != "" {
					text += "; " + part.name + ": " + g.text(part.text, "not shown")
				}
			}
			if act.Closed != nil {
				text += fmt.Sprintf("; closed %s by %s", journal.FormatDate(act.Closed.On), g.j.PersonName(act.Closed.By))
			} else {
				text += "; still open"
			}
			add(act.Opened, text)
		}
	}
	if concerned > 0 {
		s.LeftOut = append(s.LeftOut, journal.Count(concerned, "deviation")+" that concerns other people's water too: ask for what touches yours")
	}
	for _, session := range g.j.Sessions.List {
		if g.ownerOf(session) != g.owner.ID {
			continue
		}
		for _, am := range session.Amended {
			if g.in(am.On) {
				add(am.On, fmt.Sprintf("corrected: %s of %s was %s (%s; %s)", strings.TrimPrefix(am.Key, "readings."), session.ID, render.Line(am.Was),
					g.text(am.Reason, "reason not shown"), g.j.PersonName(am.By)))
			}
		}
		if session.Void != nil && g.in(session.Void.On) {
			add(session.Void.On, fmt.Sprintf("session %s was declared void (%s; %s)", session.ID, g.text(session.Void.Reason, "reason not shown"), g.j.PersonName(session.Void.By)))
		}
	}
	byDay(out)
	return out
}

func byDay(list []Dated) {
	sort.SliceStable(list, func(a, b int) bool { return list[a].On.Before(list[b].On.Time) })
}

func (g *gatherer) siteNames(ids []string) string {
	var out []string
	for _, id := range ids {
		name := id
		if site, ok := g.j.Sites.Get(id); ok {
			name = g.text(site.Name, id)
		}
		out = append(out, name)
	}
	return strings.Join(out, ", ")
}

func (g *gatherer) ownerOf(s *journal.Session) string {
	return g.j.OwnerOf(s)
}

// concerns tells whose water an action is about: only what is about this
// owner's alone may be shown.
func (g *gatherer) concerns(act *journal.Action) (mine, others bool) {
	note := func(owner string) {
		if owner == g.owner.ID {
			mine = true
		} else if owner != "" {
			others = true
		}
	}
	for _, id := range act.About {
		for _, f := range g.j.Find(id) {
			switch f.Kind {
			case journal.KindSite:
				if r, ok := g.j.Sites.Get(id); ok {
					note(r.Owner)
				}
			case journal.KindSession:
				if r, ok := g.j.Sessions.Get(id); ok && judge.SampleOf(r).Water {
					note(g.ownerOf(r))
				}
			case journal.KindReport:
				if r, ok := g.j.Reports.Get(id); ok {
					note(r.Owner)
				}
			case journal.KindBatch:
				if r, ok := g.j.Batches.Get(id); ok {
					note(g.batchOwner(r))
				}
			case journal.KindChange:
				if r, ok := g.j.Changes.Get(id); ok {
					note(g.changeOwner(r))
				}
			case journal.KindLot, journal.KindInstrument, journal.KindMethod: // the brewery's own means
				if g.owner.Self {
					mine = true
				}
			}
		}
	}
	return mine, others
}

func (g *gatherer) batchOwner(b *journal.Batch) string {
	if b.Owner != "" {
		return b.Owner
	}
	if t, ok := g.j.Targets.Get(b.Beer); ok {
		return t.Owner
	}
	return ""
}

// changeOwner is whose beer a change is for; "?" where it mixes the waters of
// several owners, which is nobody's alone.
func (g *gatherer) changeOwner(c *journal.Change) string {
	owner := ""
	if t, ok := g.j.Targets.Get(c.For); ok {
		owner = t.Owner
	}
	for _, b := range c.Basis {
		if s, ok := g.j.Sessions.Get(b.Session); ok {
			switch o := g.ownerOf(s); {
			case owner == "":
				owner = o
			case owner != o:
				return "?"
			}
		}
	}
	return owner
}

// decided gathers the owner's water changes and who signed them.
func (g *gatherer) decided(s *Summary) []Dated {
	out := []Dated{}
	policy := g.j.Settings.Policy
	for _, c := range g.j.Changes.List {
		if c.Void != nil || !g.inDay(c.Proposed) || g.changeOwner(c) != g.owner.ID {
			continue
		}
		judged := g.Changes.Change(c)
		beer := c.For
		if t, ok := g.j.Targets.Get(c.For); ok {
			beer = t.Name
		}
		text := fmt.Sprintf("%s, proposed by %s: %s", g.text(beer, c.For), g.j.PersonName(c.Author), judged.Words())
		for _, v := range judged.Verdicts {
			word := v.Signoff.Decision
			if v.Signoff.Meaning != "" {
				word += " (" + g.text(v.Signoff.Meaning, "meaning not shown") + ")"
			}
			text += fmt.Sprintf("; %s by %s on %s", word, g.j.PersonName(v.Signoff.By), v.Signoff.On.In(g.j.Settings.Zone).Format("2006-01-02 15:04"))
			if v.Standing != evidence.InForce {
				text += ", " + v.Standing.String()
			}
			if v.Claim {
				text += " (signer not verified)"
			}
		}
		out = append(out, Dated{Day{c.Proposed}, text})
	}
	byDay(out)
	switch {
	case len(out) == 0:
	case policy.Reviewers == 0:
		s.Policy = "The brewery's policy asks for no second person: what nobody else signed is self-approved."
	case policy.OtherThanAuthor:
		s.Policy = fmt.Sprintf("The brewery's policy asks for %s other than the author.", journal.Count(policy.Reviewers, "reviewer"))
	default:
		s.Policy = fmt.Sprintf("The brewery's policy asks for %s.", journal.Count(policy.Reviewers, "reviewer"))
	}
	return out
}

// sent gathers the reports that the owner was sent, and whether they still hold.
func (g *gatherer) sent() []Dated {
	out := []Dated{}
	for _, r := range judge.Reports(g.j) {
		if r.Owner != g.owner.ID || !g.in(r.Sent) {
			continue
		}
		text := fmt.Sprintf("%s, sent by %s", g.text(r.Subject, r.ID), g.j.PersonName(r.By))
		switch {
		case r.ReplacedBy != "":
			text += "; replaced by a later one (" + r.ReplacedBy + ")"
		case r.Stale():
			text += "; corrected since: ask for it anew"
		default:
			text += "; still as it was sent"
		}
		out = append(out, Dated{Day{r.Sent}, text})
	}
	byDay(out)
	return out
}
