package lint

import (
	"slices"

	"wj/journal"
	"wj/journal/judge"
)

var sampleTravel = &Rule{
	Name: "sample/travel", Severity: Warning, Scope: Whole, Reach: OfBench, Check: checkSampleTravel,
	Title: "one person took two samples farther apart than anyone drives in the time between",
	Settings: []Threshold{
		{"speed", "130", "", "the fastest journey that is believed, km/h"},
		{"distance", "1 km", "km", "shorter distances say nothing"},
	},
}

func checkSampleTravel(p *Pass) {
	byPerson := map[string][]*journal.Session{}
	for _, s := range p.Journal.Sessions.List {
		if s.Void == nil && judge.Bench(s) && s.Place.Set && !s.Sampled.IsZero() {
			byPerson[s.By] = append(byPerson[s.By], s)
		}
	}
	for _, list := range byPerson {
		slices.SortStableFunc(list, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
		for i := 1; i < len(list); i++ {
			before, s := list[i-1], list[i]
			km := journal.Distance(before.Place, s.Place) / 1000
			took := s.Sampled.Sub(before.Sampled)
			if km < p.Setting("distance") || km <= p.Setting("speed")*took.Hours() {
				continue
			}
			p.Report(s.Path, []string{"sampled"}, "%s took this sample %s after %s, %.1f km away", s.By, span(took), before.ID, km).
				Help("one of the two times, places or names is wrong: compare with the notebook")
		}
	}
}
