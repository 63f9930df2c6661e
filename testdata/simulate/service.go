package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// The plant: what happens to it by itself, and what people do about it.

// plantMistake notes what the plant does that a finding is to name.
func (s *sim) plantMistake(m mistake) *mistake {
	m.day, m.by, m.gross = s.day, "the plant", true
	s.ledger.mistakes = append(s.ledger.mistakes, &m)
	return s.ledger.mistakes[len(s.ledger.mistakes)-1]
}

// weather lets the plant live a day: supplies switch, carbon breaks through, resin is spent, a lamp fails.
func (s *sim) weather() {
	for i, day := range s.switches {
		if day == s.day { // waters move: an approval that rests on the old one ends, and a batch of it misses
			s.ledger.mistakes = append(s.ledger.mistakes, &mistake{kind: "supply switched", day: day, until: day + 60, found: day, mended: true, by: "the plant",
				follow: []string{"change/lapsed", "change/basis-old", "change/verification-miss", "action/"}})
		}
		if day == s.day && !s.told[i] {
			s.trouble.supply = s.plantMistake(mistake{kind: "supply switched, not reported", site: "town-main", rules: namesSupply, follow: []string{"cause/supply", "cause/change"}, within: 45})
		}
	}
	if t := s.at("carbon-outlet", s.day); t.free > 0.15 && s.trouble.carbon == nil {
		s.trouble.carbon = s.plantMistake(mistake{kind: "carbon broke through", site: "carbon-outlet", rules: namesCarbon, within: 30})
	}
	if s.day == s.fails {
		s.trouble.lamp = s.plantMistake(mistake{kind: "the photometer's lamp fails", rules: namesMeter, within: 90})
	}
	if s.drift > 8 && s.day == 1 {
		s.plantMistake(mistake{kind: "the well drifts", site: "north-well", rules: namesTrend, within: 1000})
	}
	if s.day-s.membrane == 400 && s.ages > 0.3 {
		s.trouble.membrane = s.plantMistake(mistake{kind: "the membrane ages", site: "ro-permeate", rules: namesMembrane, within: 250})
	}
	if s.day-s.softened >= 10 && !chance(dice(s.seed, "regenerate", s.day), 0.1) {
		s.softened = s.day // the timer does it
	}
}

// badLot notes a lot that reads wrong by far.
func (s *sim) badLot(l *lot) {
	if s.trouble.lots == nil {
		s.trouble.lots = map[string]*mistake{}
	}
	s.trouble.lots[l.id] = s.plantMistake(mistake{kind: "a lot reads wrong", lot: l.id, keys: []string{l.key}, rules: namesLot, follow: []string{"instrument/check-due", "chemistry/"}, within: 45})
}

// troubles are what the plant has on at the moment.
type troubles struct {
	supply, carbon, lamp, membrane *mistake
	lots                           map[string]*mistake
}

// service is what people do when they know: a supply is declared, carbon and membranes are changed, a lamp and a lot replaced.
func (s *sim) service() error {
	who, now := s.person("ines"), at(s.day, 15, 0)
	event := func(name, site, what, sort string) error {
		_, err := s.must(who, now, "new", "event", date(now)+"-"+name, "site="+site, "on="+date(now), "what="+what, "sort="+sort, "by=ines")
		return err
	}
	for i, day := range s.switches {
		declare := day == s.day && s.told[i]
		if t := s.trouble.supply; t != nil && day == t.day && t.found > 0 && t.found < s.day {
			declare, t.until, s.trouble.supply = true, s.day, nil
		}
		if declare {
			if err := s.act("declare", func() error { return s.declare(who, day) }); err != nil {
				return err
			}
		}
	}
	if t := s.trouble.carbon; t != nil && t.found > 0 && t.found < s.day {
		t.until, s.trouble.carbon, s.carbon = s.day+1, nil, s.day
		if err := s.act("carbon", func() error {
			return event("carbon", "carbon-outlet", "carbon replaced, rinsed for an hour", "replacement")
		}); err != nil {
			return err
		}
	}
	if t := s.trouble.membrane; t != nil && (t.found > 0 && t.found < s.day || s.day-s.membrane > 650) {
		t.until, s.trouble.membrane, s.membrane = s.day+1, nil, s.day
		if err := s.act("membrane", func() error { return event("membrane", "ro-permeate", "membrane replaced", "replacement") }); err != nil {
			return err
		}
	}
	if t := s.trouble.lamp; t != nil && t.found > 0 && t.found < s.day {
		t.until, s.trouble.lamp, s.fails = s.day+60, nil, math.MaxInt
		if err := s.act("lamp", func() error { return event("lamp", "bench", "lamp of meter-1 replaced", "maintenance") }); err != nil {
			return err
		}
	}
	for _, list := range s.lots {
		l := list[len(list)-1]
		if t := s.trouble.lots[l.id]; t != nil && t.found > 0 && t.found < s.day && !l.known {
			l.known = true
			delete(s.trouble.lots, l.id)
			err := s.act("recall-"+l.id, func() error {
				_, err := s.must(who, now, "amend", l.id, "recalled", "{on: "+date(now)+", reason: reads wrong against the standard}", "--reason", "check standard failed")
				return err
			})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// declare writes the supply period into the record of the town's tap, in an editor, and commits it by git.
func (s *sim) declare(who *person, day int) error {
	name := filepath.Join(who.clone.dir, "sites", "town-main.md")
	src, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	regime := "reservoir"
	if s.wells(day) {
		regime = "wellfield"
	}
	text := string(src)
	last := strings.LastIndex(text, ", regime: ")
	text = text[:last] + ", until: " + date(at(day-1, 12, 0)) + text[last:]
	text = strings.Replace(text, "since: 2024-01-01\n---", fmt.Sprintf("  - {since: %s, regime: %s, evidence: \"waterworks' notice\"}\nsince: 2024-01-01\n---", date(at(day, 12, 0)), regime), 1)
	text = strings.Replace(text, "since: 2024-01-01\n  - {", "  - {", 1)
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		return err
	}
	s.wrote("sites/town-main.md")
	_, err = s.git(who, at(s.day, 15, 0), "commit", "-qam", "Supply since "+date(at(day, 12, 0)))
	return err
}
