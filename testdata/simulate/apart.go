package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// What people do apart from each other, on other computers.

// consult is the consultant's day: the client's bore, a letter to the client, now and then the brewery's main as well.
func (s *sim) consult() error {
	emil := s.person("emil")
	r := dice(s.seed, "consult", s.day)
	due := append(s.due("tarrow-lane"), s.due("hollow-mill")...)
	if len(due) > 0 || chance(r, 0.5) { // he needs the lots that are open
		if err := s.sync(emil, at(s.day, 8, 0)); err != nil {
			return err
		}
	}
	for _, st := range due {
		x := s.take(st, at(s.day, 11, r.IntN(30)), st.tests)
		s.slip(r, emil, []sample{x})
		x.slip = nil // a slip that moved numbers is left to the round: here they are right
		for i := range x.readings {
			x.readings[i].shown, x.readings[i].dilution = x.readings[i].right, x.readings[i].diluted
		}
		if err := s.typed(emil, &x, x.at.Add(10*time.Minute), nil); err != nil {
			return err
		}
		record := s.ledger.facts[len(s.ledger.facts)-1].record
		if err := s.letter(emil, record, st.owner); err != nil {
			return err
		}
	}
	if chance(r, 0.6) {
		return s.sync(emil, at(s.day, 17, 0))
	}
	return nil
}

// address is where an owner's letters go.
var address = map[string]string{"tarrow-lane": "tove@tarrow-lane.example", "hollow-mill": "bram@hollow-mill.example"}

// letter writes to a client, and holds what each owner gets against whose water it is.
func (s *sim) letter(who *person, record, client string) error {
	name := filepath.Join(s.dir, fmt.Sprintf("letter-%d.eml", s.ledger.letters))
	now := at(s.day, 12, 0)
	if _, err := s.must(who, now, "mail", record, "--to", address[client], "-o", name); err != nil {
		return err
	}
	s.ledger.letters++
	mail, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	type handed struct{ what, text, owner string }
	all := []handed{{"the letter", string(mail), client}}
	for _, owner := range []string{"tarrow-lane", "hollow-mill", "quillmarsh"} {
		if owner != client && s.ledger.letters%3 != 1 {
			continue
		}
		if !slices.ContainsFunc(s.ledger.facts, func(f *fact) bool {
			st := siteOf(f.site)
			return st != nil && st.owner == owner && (f.home == who.clone || f.here)
		}) {
			continue // nothing was tested for them yet
		}
		page, err := s.must(who, now, "summary", "--owner", owner)
		if err != nil {
			return err
		}
		all = append(all, handed{"the summary", page.Out, owner})
	}
	table := filepath.Join(s.dir, "handed.csv")
	if _, err := s.must(who, now, "export", "--owner", client, "-o", table); err != nil {
		return err
	}
	text, err := os.ReadFile(table)
	if err != nil {
		return err
	}
	os.Remove(table)
	for _, t := range append(all, handed{"the table", string(text), client}) {
		for _, st := range sites {
			if st.owner != t.owner && (strings.Contains(t.text, st.id) || strings.Contains(t.text, st.name)) {
				return s.fail("%s of %s holds %s, which is water of %s:\n%s", t.what, t.owner, st.id, st.owner, t.text)
			}
		}
	}
	for other, to := range address { // a letter to somebody else's address is refused
		if other == client {
			continue
		}
		for _, of := range []string{record, s.foreign(who)} {
			r, err := s.wj(who, now, "mail", of, "--to", to, "-o", name+".wrong")
			if err != nil {
				return err
			}
			if r.Status == 0 {
				return s.fail("results of %s were written to the address of %s: %s%s", of, other, r.Out, r.Talk)
			}
		}
	}
	return nil
}

// foreign is a session of the brewery's own water in a clone.
func (s *sim) foreign(who *person) string {
	for _, f := range s.ledger.facts {
		if f.site == "town-main" && (f.home == who.clone || f.here && f.day < s.day-30) {
			return f.record
		}
	}
	return "town-main"
}

// twice has the consultant take the same tap on the same day as the round: two samples, and both are kept.
func (s *sim) twice() error {
	emil := s.person("emil")
	if err := s.sync(emil, at(s.day, 8, 0)); err != nil {
		return err
	}
	x := s.take(siteOf("town-main"), at(s.day, 13, 7), []string{"chloride", "conductivity", "temperature"})
	return s.typed(emil, &x, x.at.Add(10*time.Minute), nil)
}

// committed finds a session of a clone, some time old, that no mistake is in.
func (s *sim) committed(c *clone, after int) *fact {
	for i := len(s.ledger.facts) - 1; i >= 0; i-- {
		f := s.ledger.facts[i]
		if f.pushed && !f.edited && f.day <= s.day-after && f.site != "bench" && f.key == "chloride" && !strings.HasPrefix(f.value, "<") && !s.slipped(f.record) && !f.amended {
			return f
		}
	}
	return nil
}

// edit changes a value in an editor and commits it, without an amendment.
func (s *sim) edit() error {
	jonas := s.person("jonas")
	if err := s.sync(jonas, at(s.day, 9, 0)); err != nil {
		return err
	}
	f := s.committed(jonas.clone, 3)
	if f == nil {
		return nil
	}
	path, err := s.find(jonas.clone, f.record)
	if err != nil {
		return err
	}
	src, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	value := show(f.reading.test, number(f.value)+3)
	if err := os.WriteFile(path, []byte(strings.Replace(string(src), "value: "+f.value, "value: "+value, 1)), 0o644); err != nil {
		return err
	}
	if _, err := s.git(jonas, at(s.day, 9, 10), "commit", "-qam", "Tidy up"); err != nil {
		return err
	}
	f.value, f.reading, f.edited = value, nil, true
	s.tamper("edited without amendment", f.record, "jonas", "record/amended-without-reason", "record/signed-then-changed", "record/report-stale")
	return s.sync(jonas, at(s.day, 9, 20))
}

// find is the file of a session.
func (s *sim) find(c *clone, record string) (string, error) {
	found, err := filepath.Glob(filepath.Join(c.dir, "sessions", "*", record+".md"))
	if err == nil && len(found) != 1 {
		err = fmt.Errorf("%d files of %s in %s", len(found), record, c.name)
	}
	if err != nil {
		return "", err
	}
	return found[0], nil
}

func (s *sim) tamper(kind, record, by string, rules ...string) {
	s.ledger.mistakes = append(s.ledger.mistakes, &mistake{kind: kind, record: record, rules: rules, day: s.day, within: 1, gross: true, by: by, tamper: true})
}

// remove deletes a record. Ines brings it back when it is found.
func (s *sim) remove() error {
	jonas := s.person("jonas")
	if err := s.sync(jonas, at(s.day, 9, 0)); err != nil {
		return err
	}
	f := s.committed(jonas.clone, 10)
	if f == nil {
		return nil
	}
	path, err := s.find(jonas.clone, f.record)
	if err != nil {
		return err
	}
	rel, err := filepath.Rel(jonas.clone.dir, path)
	if err != nil {
		return err
	}
	for _, args := range [][]string{{"rm", "-q", rel}, {"commit", "-qm", "Not needed"}} {
		if _, err := s.git(jonas, at(s.day, 9, 10), args...); err != nil {
			return err
		}
	}
	s.deleted = append(s.deleted, removed{rel, f.record})
	for _, x := range s.ledger.facts {
		x.gone = x.gone || x.record == f.record
	}
	s.tamper("record deleted", f.record, "jonas", "record/deleted")
	return s.sync(jonas, at(s.day, 9, 20))
}

// removed is a file that somebody took away.
type removed struct{ path, record string }

// restore brings records back as the finding says.
func (s *sim) restore() error {
	ines, now := s.person("ines"), at(s.day, 9, 30)
	for _, d := range s.deleted {
		r, err := s.git(ines, now, "log", "-1", "--format=%H", "--diff-filter=D", "--", d.path)
		if err != nil {
			return err
		}
		commit := strings.TrimSpace(r.Out)
		if commit == "" {
			return nil // it has not come here yet
		}
		for _, args := range [][]string{{"checkout", "-q", commit + "^", "--", d.path}, {"commit", "-qm", "Bring " + d.record + " back"}} {
			if _, err := s.git(ines, now, args...); err != nil {
				return err
			}
		}
		for _, x := range s.ledger.facts {
			if x.record == d.record {
				x.gone = false
			}
		}
		for _, m := range s.ledger.mistakes { // nothing is wrong any more
			if m.kind == "record deleted" && m.record == d.record {
				m.tamper = false
			}
		}
	}
	s.deleted = nil
	return nil
}

// push is a forced push of an old state: what the hub had since is in the other clones alone.
func (s *sim) push() error {
	jonas := s.person("jonas")
	if _, err := s.git(jonas, at(s.day, 19, 0), "push", "-q", "--force", "origin", "HEAD:main"); err != nil {
		return err
	}
	left, err := s.sessions(jonas.clone)
	for _, f := range s.ledger.facts { // what is gone from the hub is in its own clone until that is pushed again
		f.pushed = f.pushed && (f.here || len(left[f.site+" "+f.sampled]) > 0)
	}
	return err
}

// forge is a sign-off that somebody writes in another's name.
func (s *sim) forge() error {
	b := &s.brewing
	if b.change == "" || b.signed {
		return nil
	}
	pia, now := s.person("pia"), at(s.day, 11, 0)
	if r, err := s.wj(pia, now, "review", b.change); err != nil || r.Status == 2 {
		return err
	}
	before, err := os.ReadFile(filepath.Join(pia.clone.dir, "changes", b.change+".md"))
	if err != nil {
		return err
	}
	name := date(now) + "-" + strings.TrimPrefix(b.change, b.change[:11]) + "-emil"
	text := fmt.Sprintf("---\nof: %s\nby: emil\non: %s\ndecision: accepted\ncovers:\n  changes/%s.md: %x\n---\n", b.change, iso(now), b.change, digest(before))
	if err := os.MkdirAll(filepath.Join(pia.clone.dir, "signoffs"), 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(pia.clone.dir, "signoffs", name+".md"), []byte(text), 0o644); err != nil {
		return err
	}
	for _, args := range [][]string{{"add", "signoffs"}, {"commit", "-qm", "Sign"}} {
		if _, err := s.git(pia, now, args...); err != nil {
			return err
		}
	}
	s.tamper("forged sign-off", name, "pia", "record/author", "record/authority", "change/self-signed", "record/signed-then-changed")
	return nil
}

// self is a sign-off of the own change: it must be refused.
func (s *sim) self() error {
	b := &s.brewing
	if b.change == "" || b.signed {
		return nil
	}
	pia, now := s.person("pia"), at(s.day, 11, 20)
	r, err := s.wj(pia, now, "sign", b.change, "--digest", "0000-0000-0000")
	if err == nil && r.Status == 0 {
		return s.fail("pia signed her own change %s:\n%s%s", b.change, r.Out, r.Talk)
	}
	return err
}

// blind is a sign-off by somebody who has not looked: without a digest, or with that of another state, it must be refused.
func (s *sim) blind() error {
	jonas, now := s.person("jonas"), at(s.day, 11, 40)
	for i, more := range [][]string{nil, {"--digest", "0000-0000-0000"}, {"--digest", "ffff-ffff-ffff"}} {
		r, err := s.wj(jonas, now.Add(time.Duration(i)*time.Minute), append([]string{"sign", s.brewing.change, "--meaning", "reviewed calculation and limits"}, more...)...)
		if err != nil {
			return err
		}
		if r.Status == 0 {
			return s.fail("jonas signed %s without looking (%q):\n%s%s", s.brewing.change, more, r.Out, r.Talk)
		}
	}
	return nil
}

// behind is a clock that is a day behind: what was sampled today lies in its future and is refused; then it is put right.
func (s *sim) behind() error {
	emil := s.person("emil")
	if err := s.sync(emil, at(s.day, 8, 0)); err != nil {
		return err
	}
	emil.clock = -24 * time.Hour
	x := s.take(siteOf("tarrow-bore"), at(s.day, 15, 0), []string{"pH", "chloride", "conductivity"})
	args := []string{"new", "session", "tarrow-bore", "sampled=" + iso(x.at), "chloride=" + x.readings[1].shown}
	r, err := s.wj(emil, x.at.Add(5*time.Minute), args...)
	emil.clock = 0
	if err != nil {
		return err
	}
	if r.Status == 0 {
		return s.fail("a sample of the future was recorded: %s%s", r.Out, r.Talk)
	}
	return s.typed(emil, &x, x.at.Add(10*time.Minute), nil)
}

// ahead is a clock that is two days ahead: the session is committed long after the test.
func (s *sim) ahead() error {
	emil := s.person("emil")
	if err := s.sync(emil, at(s.day, 8, 0)); err != nil {
		return err
	}
	emil.clock = 48 * time.Hour
	x := s.take(siteOf("tarrow-bore"), at(s.day, 15, 0), []string{"pH", "chloride", "conductivity"})
	err := s.typed(emil, &x, x.at.Add(10*time.Minute), nil)
	emil.clock = 0
	if err != nil {
		return err
	}
	s.ledger.mistakes = append(s.ledger.mistakes, &mistake{kind: "clock ahead", site: "tarrow-bore", record: s.ledger.facts[len(s.ledger.facts)-1].record, rules: []string{"sample/late-entry", "sample/order"}, day: s.day, within: 14, gross: true, by: "emil"})
	return nil
}

// harm changes a recorded value as a fault of the program would: nobody did it, and nothing says so.
func (s *sim) harm() error {
	for _, f := range s.ledger.facts {
		if f.key != "conductivity" || f.home != s.clones[0] || f.site == "bench" {
			continue
		}
		path, err := s.find(f.home, f.record)
		if err != nil {
			return err
		}
		src, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		return os.WriteFile(path, []byte(strings.Replace(string(src), "value: "+f.value, "value: 1 uS/cm", 1)), 0o644)
	}
	return nil
}
