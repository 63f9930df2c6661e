package main

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// A deed is something that somebody writes when a fault strikes: any command that writes, ready to be done in a copy of the journal.
type deed struct {
	name   string
	call   call
	output string // the file or folder that is written, "" where it is the journal
}

// deedKind makes a deed ready in a copy: what it needs is done before, unharmed. Without a call it cannot be done yet.
type deedKind struct {
	name  string
	ready func(s *sim, x *person, d *deed) error
}

var deeds = []deedKind{
	{"new", func(s *sim, x *person, d *deed) error { d.call = s.attempt(x, 1); return nil }},
	{"enter", func(s *sim, x *person, d *deed) error {
		d.call = s.asked(x, 6, "enter", "hot-liquor-tank", "--plain", "--by", "ines", "--tests", "chloride")
		d.call.Stdin = "\n44\nk\n\n\n\n"
		return nil
	}},
	{"round", func(s *sim, x *person, d *deed) error {
		d.call = s.asked(x, 6, "round", "--plain", "--by", "ines", "--sites", "hot-liquor-tank", "--tests", "conductivity")
		d.call.Stdin = "\n500\nk\n\n\n\n"
		return nil
	}},
	{"import bench", func(s *sim, x *person, d *deed) error {
		now := at(s.day, 21, 0)
		name := filepath.Join(s.dir, "sitting.txt")
		text := fmt.Sprintf("wj bench 1\nround: sites\nby: ines\ntap: hot-liquor-tank\nsampled: %s\nreading: conductivity; 500 µS/cm; at %s\nend\n", iso(now), iso(now))
		d.call = s.asked(x, 5, "import", "bench", name)
		return os.WriteFile(name, []byte(text), 0o644)
	}},
	{"amend", func(s *sim, x *person, d *deed) error {
		id, err := s.sampled(x)
		d.call = s.asked(x, 5, "amend", id, "chloride", "46 mg/L", "--reason", "misread")
		return err
	}},
	{"void", func(s *sim, x *person, d *deed) error {
		id, err := s.sampled(x)
		d.call = s.asked(x, 5, "void", id, "--reason", "the wrong tap")
		return err
	}},
	{"remark", func(s *sim, x *person, d *deed) error {
		id, err := s.sampled(x)
		d.call = s.asked(x, 5, "remark", id, "Was the cell rinsed?")
		return err
	}},
	{"treat", func(s *sim, x *person, d *deed) error {
		if s.brewing.change != "" {
			d.call = s.asked(x, 5, "treat", "--site", "town-main=60%", "--site", "ro-permeate=40%", "--add", "gypsum=100 g", "--volume", "1200 L", "--target", "pale-lager", "--write", "after-a-fault")
		}
		return nil
	}},
	{"sign", func(s *sim, x *person, d *deed) error {
		id, err := s.sampled(x)
		if err != nil {
			return err
		}
		x.key = s.person("ines").key
		r, err := s.done(s.asked(x, 4, "review", id))
		digest := ""
		for _, word := range strings.Fields(r.Out) {
			if word = strings.TrimRight(word, ".,;"); shortDigest(word) {
				digest = word
			}
		}
		d.call = s.asked(x, 5, "sign", id, "--digest", digest, "--meaning", "read again")
		return err
	}},
	{"resolve", (*sim).merging},
	{"split", func(s *sim, x *person, d *deed) error {
		d.output = filepath.Join(outside(x), "part")
		d.call = s.asked(x, 5, "split", d.output, "--owner", "quillmarsh")
		return nil
	}},
	{"join", func(s *sim, x *person, d *deed) error {
		part := filepath.Join(outside(x), "other")
		_, err := s.done(s.asked(x, 4, "split", part, "--owner", "quillmarsh"))
		d.call = s.asked(x, 5, "join", part, "--prefix", "other")
		return err
	}},
	{"mail", func(s *sim, x *person, d *deed) error {
		for _, f := range s.ledger.facts {
			st := siteOf(f.site)
			if st == nil {
				continue // a standard
			}
			if to := address[st.owner]; to != "" && f.here && !f.gone && d.output == "" {
				d.output = filepath.Join(outside(x), "letter.eml")
				d.call = s.asked(x, 5, "mail", f.record, "--to", to, "-o", d.output)
			}
		}
		return nil
	}},
	{"page", func(s *sim, x *person, d *deed) error {
		d.output = filepath.Join(outside(x), "bench.html")
		d.call = s.asked(x, 5, "page", "bench", "--site", "town-main", "-o", d.output)
		return nil
	}},
	{"export", func(s *sim, x *person, d *deed) error {
		d.output = filepath.Join(outside(x), "all.jsonl")
		d.call = s.asked(x, 5, "export", "--as", "jsonl", "--all-owners", "-o", d.output)
		return nil
	}},
	{"export sqlite", func(s *sim, x *person, d *deed) error {
		d.output = filepath.Join(outside(x), "all.db")
		d.call = s.asked(x, 5, "export", "--as", "sqlite", "--all-owners", "-o", d.output)
		return nil
	}},
	{"bundle", func(s *sim, x *person, d *deed) error {
		d.output = filepath.Join(outside(x), "audit.zip")
		d.call = s.asked(x, 5, "bundle", d.output)
		return nil
	}},
	{"hook install", func(s *sim, x *person, d *deed) error { d.call = s.asked(x, 5, "hook", "install"); return nil }},
	{"anchor", func(s *sim, x *person, d *deed) error { d.call = s.asked(x, 5, "anchor"); return nil }},
}

// deed makes one of them ready, by chance or the one that was asked for; where that cannot be done, a new session.
func (s *sim) deed(x *person, r *rand.Rand) (deed, error) {
	i := r.IntN(len(deeds))
	if s.struck != "" {
		i = slices.IndexFunc(deeds, func(d deedKind) bool { return d.name == s.struck })
	}
	d := deed{name: deeds[i].name}
	if err := os.MkdirAll(outside(x), 0o755); err != nil {
		return d, err
	}
	if err := deeds[i].ready(s, x, &d); err != nil {
		return d, fmt.Errorf("make %s ready: %w", d.name, err)
	}
	if d.call.Args == nil {
		d = deed{name: "new", call: s.attempt(x, 1)}
	}
	s.ledger.faults["… as wj "+d.name+" wrote"]++
	return d, nil
}

// outside is a folder beside a copy, for what is written out of the journal.
func outside(x *person) string { return x.clone.dir + "-out" }

// asked is a command in the evening.
func (s *sim) asked(x *person, minute int, args ...string) call {
	return call{Dir: x.clone.dir, Env: s.env(x, at(s.day, 21, minute)), Args: args}
}

// done runs what a deed needs, which has to go well.
func (s *sim) done(c call) (reply, error) {
	r, err := process(s.binary, c, 0)
	if err == nil && r.Status != 0 {
		err = fmt.Errorf("wj %s: %s%s", strings.Join(c.Args, " "), r.Out, r.Talk)
	}
	return r, err
}

// sampled records a session for a deed to be about.
func (s *sim) sampled(x *person) (id string, err error) {
	r, err := s.done(s.attempt(x, 0))
	for _, line := range lines(r.Out) {
		if strings.HasPrefix(line, "sessions/") {
			id = strings.TrimSuffix(filepath.Base(line), ".md")
		}
	}
	return id, err
}

// merging leaves the copy amid a merge of two sessions of one name.
func (s *sim) merging(x *person, d *deed) error {
	now := at(s.day, 21, 0)
	git := func(args ...string) error { _, err := s.git(x, now, args...); return err }
	if err := git("checkout", "-q", "-b", "aside"); err != nil {
		return err
	}
	if _, err := s.done(s.attempt(x, 0)); err != nil {
		return err
	}
	if err := git("checkout", "-q", "main"); err != nil {
		return err
	}
	other := s.attempt(x, 2)
	other.Args = append(slices.Clone(other.Args[:len(other.Args)-1]), "chloride=51 mg/L")
	if _, err := s.done(other); err != nil {
		return err
	}
	if r, err := s.gitMay(x, now, "merge", "-q", "--no-edit", "aside"); err != nil || r.Status == 0 {
		return err // the driver has done it: resolve has nothing to do
	}
	d.call = s.asked(x, 5, "resolve")
	return nil
}

// after holds a copy to the ledger once a deed in it was struck, does the deed again, and one more: it goes well now, or what is in
// its way is said.
func (s *sim) after(x *person, d deed) error {
	_ = filepath.WalkDir(filepath.Join(x.clone.dir, ".git"), func(name string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() && strings.HasSuffix(name, ".lock") { // of git that was killed: taken away by hand, as git says
			_ = os.Remove(name)
		}
		return nil
	})
	if d.name != "resolve" { // amid a merge the records have marks of conflict
		if err := s.whole(x); err != nil {
			return err
		}
	}
	left, err := snapshot(d.output)
	if err == nil {
		err = os.RemoveAll(d.output)
	}
	if err != nil {
		return err
	}
	r, err := process(s.binary, d.call, 0)
	if err != nil {
		return err
	}
	if r.Status != 0 && !strings.Contains(r.Talk, "error:") || strings.Contains(r.Talk, "fault in wj itself") {
		return fmt.Errorf("after it was struck wj %s ends with %d and says no reason: %s%s", strings.Join(d.call.Args, " "), r.Status, r.Out, r.Talk)
	}
	if r.Status != 0 && !s.seenTo(x) {
		return fmt.Errorf("after it was struck wj %s cannot be done: %s%s", strings.Join(d.call.Args, " "), r.Out, r.Talk)
	}
	if r.Status == 0 && d.output != "" && left != nil && d.name != "split" {
		full, err := snapshot(d.output)
		if err != nil {
			return err
		}
		for name, text := range left {
			if len(text) < len(full[name])*9/10 {
				return fmt.Errorf("wj %s was struck and left a part of what it writes: %d bytes of %d", strings.Join(d.call.Args, " "), len(text), len(full[name]))
			}
		}
	}
	for _, args := range [][]string{{"add", "-A"}, {"commit", "-q", "--allow-empty", "--no-verify", "-m", "What was left"}} {
		if _, err := s.git(x, at(s.day, 21, 30), args...); err != nil {
			return err
		}
	}
	return s.again(x)
}

// seenTo reports whether a deed may be refused: it was done before the fault struck, or what it left has to be seen to first.
func (s *sim) seenTo(x *person) bool {
	status, err := s.gitMay(x, at(s.day, 22, 0), "status", "--porcelain")
	if err != nil || status.Out != "" {
		return true
	}
	last, err := s.gitMay(x, at(s.day, 22, 0), "log", "-1", "--format=%ct")
	var when int64
	fmt.Sscan(last.Out, &when)
	return err == nil && when >= at(s.day, 21, 5).Add(x.clock).Unix()
}

// snapshot is what a file, or each file of a folder, holds; nil where it is absent.
func snapshot(name string) (map[string]string, error) {
	if _, err := os.Stat(name); name == "" || os.IsNotExist(err) {
		return nil, nil
	}
	out := map[string]string{}
	err := filepath.WalkDir(name, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.Contains(path, "/.git/") {
			return err
		}
		text, err := os.ReadFile(path)
		out[strings.TrimPrefix(path, name)] = string(text)
		return err
	})
	return out, err
}
