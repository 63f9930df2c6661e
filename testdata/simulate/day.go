package main

// live is what happens on a day: to the plant, and by people. The first day is a Monday.
func (s *sim) live() error {
	s.weather()
	monday, tuesday, wednesday := s.day%7 == 0, s.day%7 == 1, s.day%7 == 2
	waits := false
	for _, p := range s.phone {
		waits = waits || p.day <= s.day
	}
	b := &s.brewing
	for _, a := range []struct {
		name string
		when bool
		do   func() error
	}{
		{"stock", s.day == 1, s.stock},
		{"supplies", s.day == 1 || monday || s.day%30 == 3, s.supplies},
		{"standards", s.day%30 == 3, s.standards},
		{"round", monday, s.round},
		{"online", waits, s.online},
		{"approve", b.asked && wednesday, s.approve},
		{"brew", wednesday && s.day/7%2 == 0, s.brew},
		{"propose", tuesday && s.day/7%4 == 0, s.propose},
		{"mend", s.mending(), s.mend},
	} {
		if !a.when {
			continue
		}
		if a.name == "approve" { // the change must be on the hub
			if err := s.act("sync", func() error { return s.sync(s.person("ines"), at(s.day, 7, 50)) }); err != nil {
				return err
			}
		}
		if err := s.act(a.name, a.do); err != nil {
			return err
		}
		if a.name == "approve" {
			if err := s.act("pull", func() error { return s.sync(s.person("ines"), at(s.day, 8, 30)) }); err != nil {
				return err
			}
		}
	}
	if err := s.service(); err != nil {
		return err
	}
	if s.touched {
		return s.act("sync", func() error { return s.sync(s.person("ines"), at(s.day, 18, 0)) })
	}
	return nil
}

// mending reports whether something was found that is to be corrected.
func (s *sim) mending() bool {
	for _, m := range s.ledger.mistakes {
		if m.found > 0 && m.found < s.day && !m.mended && !m.caught && m.record != "" && len(m.keys) > 0 {
			return true
		}
	}
	return false
}
