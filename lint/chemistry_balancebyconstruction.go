package lint

import "wj/water"

var chemistryBalanceByConstruction = &Rule{
	Name: "chemistry/balance-by-construction", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkBalanceByConstruction,
	Title: "a change cites a charge balance whose sodium was computed to make it zero",
}

func checkBalanceByConstruction(p *Pass) {
	for _, c := range p.Journal.Changes.List {
		if c.Void != nil {
			continue
		}
		cited, value := false, ""
		for _, e := range c.Expect {
			if e.Name == water.ChargeBalance {
				cited, value = true, e.Value.String()
			}
		}
		if !cited {
			continue
		}
		for _, b := range c.Basis {
			s, ok := p.Journal.Sessions.Get(b.Session)
			if !ok {
				continue
			}
			if _, measured := s.Reading(water.Sodium); !measured {
				p.Report(c.Path, []string{"expect", "charge_balance"}, "charge_balance of %s is cited, but %s has no measured sodium: the balance is zero by construction and proves nothing", value, s.ID).
					Help("remove the line, and call sodium derived; a measured sodium or a conductivity would be a check")
				break
			}
		}
	}
}
