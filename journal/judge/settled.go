package judge

import (
	"maps"

	"wj/journal"
	"wj/journal/evidence"
)

// Settled says of verdicts on sign-offs why their standing no longer matters, by
// the id of the sign-off: a newer one in force says the same, or the change
// itself is over. One that was not allowed matters until its signer gave it again.
func (g *Changes) Settled(verdicts []evidence.Verdict) map[string]string {
	settled, inForce := map[string]string{}, map[string]*journal.Signoff{}
	for _, v := range verdicts {
		if v.Standing == evidence.InForce && (v.Accepts() || v.Refused()) {
			if old := inForce[v.Signoff.Of]; old == nil || v.Signoff.On.After(old.On) {
				inForce[v.Signoff.Of] = v.Signoff
			}
		}
	}
	for _, v := range verdicts {
		if v.Standing == evidence.NotAllowed && !v.Altered {
			if again := givenAgain(v.Signoff, verdicts); again != "" {
				settled[v.Signoff.ID] = "its signer gave it again: " + again
			}
		}
		if v.Standing == evidence.NotAllowed || v.Altered {
			continue
		}
		if newer := inForce[v.Signoff.Of]; newer != nil && newer.On.After(v.Signoff.On) {
			settled[v.Signoff.ID] = "taken over by " + newer.ID
			continue
		}
		c, ok := g.j.Changes.Get(v.Signoff.Of)
		if !ok {
			continue
		}
		if state := g.Change(c).State; state == Superseded || c.Void != nil {
			settled[v.Signoff.ID] = "the change is " + state.String()
		} else if newer := g.newerChange(c); newer != "" {
			settled[v.Signoff.ID] = newer + " is newer, and signed"
		}
	}
	return settled
}

// givenAgain is a later sign-off by the same person that counted when it was
// given and says the same of the same content: one that did not count, since a
// squash put another name on its commit, harms nobody then.
func givenAgain(s *journal.Signoff, verdicts []evidence.Verdict) string {
	for _, v := range verdicts {
		if x := v.Signoff; counted(v) && x.By == s.By && x.Of == s.Of && x.Decision == s.Decision && x.On.After(s.On) && maps.Equal(x.Covers, s.Covers) {
			return x.ID
		}
	}
	return ""
}

// newerChange is a later change for the same target that somebody accepted.
func (g *Changes) newerChange(c *journal.Change) string {
	for _, other := range g.j.Changes.List {
		if other.For != c.For || !other.Proposed.After(c.Proposed) || other.Void != nil {
			continue
		}
		for _, v := range g.Change(other).Verdicts {
			if v.Accepts() && v.Standing != evidence.NotAllowed {
				return other.ID
			}
		}
	}
	return ""
}
