package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// A laptop that is lost, the key on it, and who found it.

// theft is a key in wrong hands: until it is revoked nothing shows that.
type theft struct {
	key     string // file of the stolen key
	revoked int    // day, 0: not yet
	used    bool
}

// lose is a laptop that is lost with all that was not pushed; its owner clones anew.
func (s *sim) lose() error {
	emil := s.person("emil")
	if err := os.RemoveAll(emil.clone.dir); err != nil {
		return err
	}
	var left []*fact
	for _, f := range s.ledger.facts {
		if f.home != emil.clone || f.pushed {
			left = append(left, f)
		} else {
			s.ledger.lost++
		}
	}
	s.shown -= len(s.ledger.facts) - len(left)
	s.ledger.facts = left
	ines := s.person("ines")
	if err := s.sync(ines, at(s.day, 12, 0)); err != nil {
		return err
	}
	if _, err := s.git(ines, at(s.day, 19, 30), "clone", "-q", s.hub, emil.clone.dir); err != nil {
		return err
	}
	if err := s.driver(emil.clone); err != nil {
		return err
	}
	if s.theft == nil {
		s.theft = &theft{key: emil.key}
	}
	return nil
}

// revoke ends the key of the lost laptop and lists the new one. Somebody else signs that, since a new key could be anybody's.
func (s *sim) revoke() error {
	ines, jonas, emil, now := s.person("ines"), s.person("jonas"), s.person("emil"), at(s.day, 9, 0)
	if err := s.sync(ines, now); err != nil {
		return err
	}
	name := filepath.Join(ines.clone.dir, "people", "emil.md")
	src, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	old := "{key: " + emil.public + ", since: 2024-01-01}"
	if !strings.Contains(string(src), old) {
		return fmt.Errorf("the key of emil is not in %s as it was written", name)
	}
	if err := makeKey(s.seed, filepath.Dir(emil.key), emil, "emil-2"); err != nil {
		return err
	}
	text := strings.Replace(string(src), old, fmt.Sprintf("%s, revoked: {on: %s, reason: laptop lost}}\n  - {key: %s, since: %s}", strings.TrimSuffix(old, "}"), date(now), emil.public, date(now)), 1)
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		return err
	}
	s.wrote("people/emil.md")
	if _, err := s.git(ines, now, "commit", "-qam", "Revoke the key of a lost laptop"); err != nil {
		return err
	}
	s.theft.revoked = s.day
	if err := s.sign(ines, now.Add(5*time.Minute), "emil", "--propose"); err != nil {
		return err
	}
	if err := s.sync(ines, now.Add(15*time.Minute)); err != nil {
		return err
	}
	if err := s.sync(jonas, now.Add(20*time.Minute)); err != nil {
		return err
	}
	if err := s.sign(jonas, now.Add(25*time.Minute), "emil"); err != nil {
		return err
	}
	if err := s.sync(jonas, now.Add(35*time.Minute)); err != nil {
		return err
	}
	return s.sync(ines, now.Add(40*time.Minute))
}

// misuse is a sign-off made with the stolen key after it was revoked, dated before that.
func (s *sim) misuse() error {
	b, t := &s.brewing, s.theft
	if b.change == "" || b.signed {
		return nil
	}
	where := filepath.Join(s.dir, "stolen")
	defer os.RemoveAll(where)
	thief := *s.person("emil")
	thief.key, thief.clone = t.key, &clone{name: "stolen", dir: where}
	before := at(t.revoked-1, 9, 0)
	ines := s.person("ines")
	if _, err := s.git(ines, at(s.day, 19, 30), "clone", "-q", s.hub, where); err != nil {
		return err
	}
	src, err := os.ReadFile(filepath.Join(where, "changes", b.change+".md"))
	if os.IsNotExist(err) {
		return nil // it has not come to the hub yet
	}
	if err != nil {
		return err
	}
	name := date(before) + "-" + b.change[11:] + "-emil"
	text := fmt.Sprintf("---\nof: %s\nby: emil\non: %s\ndecision: accepted\ncovers:\n  changes/%s.md: %x\n---\n", b.change, iso(before), b.change, digest(src))
	file := filepath.Join(where, "signoffs", name+".md")
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		return err
	}
	if out, err := exec.Command("ssh-keygen", "-q", "-Y", "sign", "-n", "water-journal", "-f", t.key, file).CombinedOutput(); err != nil {
		return fmt.Errorf("ssh-keygen: %w: %s", err, out)
	}
	for _, args := range [][]string{{"add", "signoffs"}, {"commit", "-q", "-S", "-m", "Sign"}, {"push", "-q", "origin", "HEAD:main"}} {
		if _, err := s.git(&thief, before, args...); err != nil {
			return err
		}
	}
	t.used = true
	s.tamper("signed with a stolen key", name, "the thief", "record/author", "record/authority", "change/self-signed", "record/signed-then-changed", "change/unsigned-use")
	return s.sync(ines, at(s.day, 19, 45))
}
