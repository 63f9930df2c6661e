package lint

import (
	"fmt"
	"math"

	"wj/journal"
)

var samplePlace = &Rule{
	Name: "sample/place", Severity: Warning, Scope: Session, Reach: OfRecord, Check: checkSamplePlace,
	Title:    "the sample was taken somewhere else than at its site",
	Settings: []Threshold{{"radius", "250 m", "m", "how far from the site a sample may be taken, where the site does not say"}},
}

func checkSamplePlace(p *Pass) {
	s := p.Session
	site, ok := p.Journal.Sites.Get(s.Site)
	if !ok || !s.Place.Set || !site.Place.Set {
		return
	}
	radius := site.Radius
	if radius == 0 {
		radius = p.Setting("radius")
	}
	off := journal.Distance(s.Place, site.Place)
	if off <= radius {
		return
	}
	f := p.Report(s.Path, []string{"place"}, "taken %s from %s, and a sample of it is taken within %s", metres(off), site.ID, metres(radius)).
		Blame(site.Path, []string{"place"}, "the samples of %s were taken elsewhere", site.ID).
		Most(func() int { return p.count(func(o *journal.Session) bool { return o.Site == site.ID && o.Place.Set }) })
	nearest, best := "", math.Inf(1)
	for _, other := range p.Journal.Sites.List {
		if other.ID == site.ID || !other.Place.Set {
			continue
		}
		if d := journal.Distance(s.Place, other.Place); d < best {
			nearest, best = other.ID, d
		}
	}
	if best < radius {
		f.d.Message += fmt.Sprintf("; %s is %s away", nearest, metres(best))
		f.Help("was this a sample of %s? if so, void this record and write it under the right site; if the tap moved, move the site's place", nearest)
		return
	}
	f.Help("check the position and the site; indoors a receiver can be off by a street")
}

func metres(d float64) string {
	if d >= 1000 {
		return fmt.Sprintf("%.1f km", d/1000)
	}
	return fmt.Sprintf("%.0f m", d)
}
