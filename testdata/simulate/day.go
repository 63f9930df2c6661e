package main

import (
	"fmt"
	"slices"
)

// live is what happens on a day: to the plant, and by people. The first day is a Monday.
func (s *sim) live() error {
	s.weather()
	monday, tuesday, wednesday := s.day%7 == 0, s.day%7 == 1, s.day%7 == 2
	waits := false
	for _, p := range s.phone {
		waits = waits || p.day <= s.day
	}
	b := &s.brewing
	r := dice(s.seed, "day", s.day)
	now := func(a year) bool { return chance(r, float64(a)/365) } // as often a year
	dirty := s.seed%3 == 0                                        // in a third of the seeds people also do what nobody may
	does := map[string]bool{}
	for _, x := range misdeeds {
		does[x.name] = now(x.often) && (dirty || !x.dirty) && s.day > 30 || slices.Contains(s.also, fmt.Sprintf("%d:%s", s.day, x.name))
	}
	unsigned := b.change != "" && !b.signed
	for _, name := range []string{"forge", "self", "blind"} { // they wait until there is something to sign
		s.waiting[name] = s.waiting[name] || does[name]
	}
	for _, a := range []struct {
		name string
		when bool
		do   func() error
	}{
		{"stock", s.day == 1, s.stock},
		{"supplies", s.day == 1 || monday || s.day%28 == 3, s.supplies},
		{"standards", s.day%28 == 3, s.standards},
		{"round", monday, s.round},
		{"online", waits, s.online},
		{"approve", b.asked && wednesday && chance(dice(s.seed, "there", s.day), 0.7), s.approve},
		{"brew", wednesday && s.day/7%2 == 0, s.brew},
		{"propose", tuesday && s.day/7%4 == 0, s.propose},
		{"mend", s.mending(), s.mend},
		{"restore", len(s.deleted) > 0, s.restore},
		{"revoke", s.theft != nil && s.theft.revoked == 0, s.revoke},
		{"misuse", unsigned && dirty && s.proof && s.theft != nil && s.theft.revoked > 0 && s.day > s.theft.revoked+1 && !s.theft.used, s.misuse},
		{"consult", s.day%7 == 3, s.consult},
		{"twice", does["twice"], s.twice},
		{"edit", does["edit"], s.edit},
		{"remove", does["remove"], s.remove},
		{"forge", unsigned && s.waiting["forge"], s.forge},
		{"self", unsigned && s.waiting["self"], s.self},
		{"blind", unsigned && s.waiting["blind"], s.blind},
		{"behind", does["behind"], s.behind},
		{"ahead", does["ahead"], s.ahead},
	} {
		if !a.when {
			continue
		}
		if a.name == "approve" { // the change must be on the hub
			if err := s.act("sync", func() error { return s.sync(s.person("ines"), at(s.day, 7, 50)) }); err != nil {
				return err
			}
		}
		delete(s.waiting, a.name)
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
	if does["lose"] {
		if err := s.act("lose", s.lose); err != nil {
			return err
		}
	}
	if does["push"] {
		if err := s.act("push", s.push); err != nil {
			return err
		}
	}
	if s.sabotage > 0 && s.day == s.sabotage {
		if err := s.act("sabotage", s.harm); err != nil {
			return err
		}
	}
	if s.touched && (dirty || chance(r, 0.5)) {
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

// year is how often a year.
type year float64

// misdeeds are what people do wrong beside their numbers; dirty ones make a journal that wj verify must find wrong.
var misdeeds = []struct {
	name  string
	often year
	dirty bool
}{{"twice", 8, false}, {"edit", 1, true}, {"remove", 1, true}, {"forge", 1.5, true}, {"self", 4, false}, {"blind", 4, false}, {"behind", 1, false}, {"ahead", 1, false}, {"lose", 0.7, false}, {"push", 1, false}}
