package judge

import (
	"cmp"
	"slices"
	"time"

	"wj/journal"
)

// Rivals are the groups of two or more changes that may all be brewed with for
// one target, though nobody decided which: each was proposed before another one
// was approved, or on that day, so that none was made in the knowledge of the
// others. The newest of a group comes first. A group ends when all but one are
// superseded, void, refused or expired.
func (g *Changes) Rivals() [][]*Change { return g.rivalsFor("") }

// rivalsFor are the groups of one target; of all where it is "".
func (g *Changes) rivalsFor(target string) [][]*Change {
	byTarget := map[string][]*Change{}
	var targets []string
	for _, c := range g.j.Changes.List {
		if target != "" && c.For != target {
			continue
		}
		if r := g.Change(c); r.State.Approved() {
			if byTarget[c.For] == nil {
				targets = append(targets, c.For)
			}
			byTarget[c.For] = append(byTarget[c.For], r)
		}
	}
	var out [][]*Change
	for _, t := range targets {
		list := byTarget[t]
		slices.SortStableFunc(list, func(a, b *Change) int {
			return cmp.Or(b.Proposed.Compare(a.Proposed), cmp.Compare(b.ID, a.ID))
		})
		for len(list) > 1 {
			group, rest := []*Change{list[0]}, list[1:]
			for grown := true; grown; {
				grown = false
				rest = slices.DeleteFunc(slices.Clone(rest), func(r *Change) bool {
					joins := slices.ContainsFunc(group, func(x *Change) bool { return g.rival(x, r) })
					if joins {
						group, grown = append(group, r), true
					}
					return joins
				})
			}
			if len(group) > 1 {
				out = append(out, group)
			}
			list = rest
		}
	}
	return out
}

// RivalsOf are the changes that rival one, by their ids.
func (g *Changes) RivalsOf(c *journal.Change) []string {
	for _, group := range g.rivalsFor(c.For) {
		if ids := IDs(group); slices.Contains(ids, c.ID) {
			return slices.DeleteFunc(ids, func(id string) bool { return id == c.ID })
		}
	}
	return nil
}

// rival reports whether two approved changes for one target are for the same
// liquor, and each was proposed by the day on which the other was approved.
func (g *Changes) rival(a, b *Change) bool {
	if a.Tank != b.Tank && !wholeLiquor(a.Tank) && !wholeLiquor(b.Tank) {
		return false
	}
	by := func(proposed, approved *Change) bool {
		return !dayOf(g.j, proposed.Proposed).After(dayOf(g.j, approved.approvedOn()))
	}
	return by(a, b) && by(b, a)
}

func wholeLiquor(tank string) bool { return tank == "" || tank == "all" }

// approvedOn is when enough had signed; where nobody has to, when it was proposed.
func (r *Change) approvedOn() time.Time {
	if r.Approval.On.IsZero() {
		return r.Proposed
	}
	return r.Approval.On
}

// IDs are the ids of changes.
func IDs(list []*Change) []string {
	out := make([]string, len(list))
	for i, r := range list {
		out[i] = r.ID
	}
	return out
}
