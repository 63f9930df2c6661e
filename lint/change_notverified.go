package lint

var changeNotVerified = &Rule{
	Name: "change/not-verified", Severity: Warning, Scope: Whole, Check: checkNotVerified,
	Title: "a change was used, and nobody tested the liquor that came out",
	Settings: []Threshold{
		{"within", "7 d", "d", "how soon after the brew the liquor must have been tested"},
		{"every", "10", "", "which batches after the first are tested again"},
	},
}

func checkNotVerified(p *Pass) {
	within, every := days(p.Setting("within")), int(max(p.Setting("every"), 1))
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		for i, b := range p.batchesOf(c.ID) {
			if i%every != 0 || p.Now.IsZero() || p.Now.Before(p.brewEnd(b).Add(within)) {
				continue
			}
			verified := false
			for _, s := range p.run.facts.verifications()[c.ID] {
				gap := s.Sampled.Sub(b.Brewed)
				verified = verified || s.Batch == b.ID || gap > -days(2) && gap < within
			}
			if !verified {
				p.Report(b.Path, []string{"change"}, "no verification of %s within %s of this batch, its %s with the change", c.ID, span(within), ordinal(i+1)).
					Help("sample the mixed liquor of the next batch, after 15 min of recirculation, as sample: verification with change: %s", c.ID)
			}
		}
	}
}

func ordinal(n int) string {
	switch n {
	case 1:
		return "first"
	case 11:
		return "eleventh"
	}
	return plain(float64(n)) + "th"
}
