package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wj/journal/merge"
)

// options say what is simulated.
type options struct {
	seed     uint64
	days     int
	binary   string
	server   string
	skip     map[string]bool // acts that are left out, by name
	only     []string        // where it is not nil, nothing but these acts is done
	also     []string        // misdeeds that are always done, as 40:lose
	sabotage int             // day on which a recorded value is changed behind the program's back, 0 never: the oracles must see it
	faults   bool            // machines break too, in copies
	share    int             // every share-th command is run by the built program too; 0 none
	strikes  bool            // at the end each fault strikes each deed
	keep     string          // folder that the run leaves its clones in
	verbose  bool
	planted  func(call, *reply) // a fault of the program that a test plants
}

// sim is one run.
type sim struct {
	options
	*program
	*plant
	*bench
	dir, path string
	clones    []*clone
	hub       string
	people    []*person
	day       int
	acts      []string // names, in order
	ledger    ledger
	heard     hash.Hash // of everything that was asked and answered
	touched   bool      // something was done today
	proof     bool
	theft     *theft          // a laptop was lost
	waiting   map[string]bool // misdeeds that wait for a change to sign
	brewing   brewing
	phone     []page
	deleted   []removed
	force     map[string]bool // changes with a sign-off in force, as wj verify says
	synced    bool
	written   map[string]bool // files that were written since the whole journal was linted
	shown     int             // how many facts were held against wj show
	trouble   troubles
	struck    string // the deed that a fault is to strike; "" one by chance
	timing    map[string]*timing
	processor time.Duration // of this process and all that it started
	growth    []growth      // by year
	bytes     int64         // of the journal with its history, at the end
}

// timing is how long commands of a name took.
type timing struct {
	N               int
	Spent, Own, Git time.Duration // by the clock; processor time of wj, and of the git that it starts
}

// failure is an oracle that does not hold.
type failure struct {
	day  int
	what string
}

func (f *failure) Error() string {
	return fmt.Sprintf("day %d, %s: %s", f.day, date(at(f.day, 12, 0)), f.what)
}

func (s *sim) fail(format string, args ...any) error {
	return &failure{s.day, fmt.Sprintf(format, args...)}
}

// simulate runs one seed. The error is a *failure where the program is at fault.
func simulate(o options) (s *sim, err error) {
	s = &sim{options: o, plant: newPlant(o.seed, o.days), bench: newBench(o.seed, o.days), heard: sha256.New(), waiting: map[string]bool{}, written: map[string]bool{}, timing: map[string]*timing{}}
	s.proof = o.seed%2 == 1
	begun := processorTime()
	defer func() { s.processor += processorTime() - begun }() // after the serving process has ended
	base := ""
	if info, err := os.Stat("/dev/shm"); err == nil && info.IsDir() {
		base = "/dev/shm" // flushing is free there
	}
	if s.dir, err = os.MkdirTemp(base, "wj-simulate-"); err != nil {
		return s, err
	}
	defer func() {
		if o.keep != "" {
			err = errors.Join(err, os.CopyFS(o.keep, os.DirFS(s.dir)))
		}
		os.RemoveAll(s.dir)
	}()
	s.path = filepath.Dir(o.binary) + string(filepath.ListSeparator) + os.Getenv("PATH")
	if s.program, err = start(o.binary, o.server); err != nil {
		return s, err
	}
	defer s.end()
	if err := s.found(); err != nil {
		return s, err
	}
	for s.day = 1; s.day < o.days; s.day++ {
		s.touched, s.synced = false, false
		if err := s.live(); err != nil {
			return s, err
		}
		if err := s.judge(); err != nil {
			return s, err
		}
	}
	if s.day--; o.strikes {
		if err := s.strike(); err != nil {
			return s, err
		}
	}
	s.bytes = size(filepath.Join(s.clones[0].dir))
	return s, nil
}

// size is how many bytes the files of a folder have.
func size(dir string) (n int64) {
	_ = filepath.WalkDir(dir, func(_ string, d os.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			if info, err := d.Info(); err == nil {
				n += info.Size()
			}
		}
		return nil
	})
	return n
}

// found founds the journal, the hub and the clones.
func (s *sim) found() error {
	s.hub = filepath.Join(s.dir, "hub.git")
	for _, name := range []string{"bench", "office", "consultant"} {
		s.clones = append(s.clones, &clone{name: name, dir: filepath.Join(s.dir, name)})
	}
	s.people = newPeople(s.clones)
	if err := makeKeys(s.seed, filepath.Join(s.dir, "keys"), s.people); err != nil {
		return err
	}
	first := s.clones[0].dir
	for name, text := range founding(s.plant, s.people, s.proof) {
		full := filepath.Join(first, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			return err
		}
	}
	ines := s.people[0]
	now := at(0, 8, 0)
	for _, args := range [][]string{{"init", "-q", "-b", "main", "."}, {"add", "-A"}, {"commit", "-qm", "Start the water journal"}, {"clone", "-q", "--bare", ".", s.hub},
		{"remote", "add", "origin", s.hub}, {"push", "-q", "-u", "origin", "main"}, {"clone", "-q", s.hub, s.clones[1].dir}, {"clone", "-q", s.hub, s.clones[2].dir}} {
		if _, err := s.git(ines, now, args...); err != nil {
			return err
		}
	}
	for _, c := range s.clones {
		if err := s.driver(c); err != nil {
			return err
		}
	}
	return nil
}

// driver sets the merge driver in a clone. The hook that lints each commit is left out: the oracles lint.
func (s *sim) driver(c *clone) error {
	x := *s.people[0]
	x.clone = c
	for _, args := range [][]string{{"config", "merge.wj.driver", "wj merge-driver %O %A %B %P"}, {"config", "merge.wj.name", "water journal records"}} {
		if _, err := s.git(&x, at(s.day, 8, 0), args...); err != nil {
			return err
		}
	}
	var attributes strings.Builder
	for _, pattern := range merge.Patterns() {
		fmt.Fprintf(&attributes, "%s merge=wj\n", pattern)
	}
	return os.WriteFile(filepath.Join(c.dir, ".git", "info", "attributes"), []byte(attributes.String()), 0o644)
}

// act does one thing under a name, unless the run leaves it out.
func (s *sim) act(name string, do func() error) error {
	name = fmt.Sprintf("%d:%s", s.day, name)
	if s.skip[name] || s.only != nil && !slices.Contains(s.only, name) {
		return nil
	}
	s.acts = append(s.acts, name)
	s.touched = true
	if s.verbose {
		fmt.Fprintln(os.Stderr, date(at(s.day, 0, 0)), name)
	}
	if err := do(); err != nil {
		var f *failure
		if errors.As(err, &f) {
			return err
		}
		return fmt.Errorf("day %d, %s: %w", s.day, name, err)
	}
	return nil
}

// wj runs a command as a person types it.
func (s *sim) wj(x *person, now time.Time, args ...string) (reply, error) {
	return s.wjWith(x, now, call{Args: args})
}

func (s *sim) wjWith(x *person, now time.Time, c call) (reply, error) {
	c.Dir, c.Env = x.clone.dir, s.env(x, now)
	began := time.Now()
	run := s.run
	if s.share > 0 && !c.Ask && !reads[c.Args[0]] && s.calls%s.share == s.share/2 { // a share of the acts by the built program alone
		run = func(c call) (reply, error) { s.calls++; return process(s.binary, c, 0) }
	}
	r, err := run(c)
	if err != nil {
		return r, err
	}
	if s.planted != nil {
		s.planted(c, &r)
	}
	t := s.timing[c.Args[0]]
	if t == nil {
		t = &timing{}
		s.timing[c.Args[0]] = t
	}
	t.N, t.Spent = t.N+1, t.Spent+time.Since(began)
	t.Own, t.Git = t.Own+r.Own, t.Git+r.Git
	s.hear(c.Args, r)
	if strings.Contains(r.Talk, "this is a fault in wj itself") {
		return r, s.fail("wj %s: %s", strings.Join(c.Args, " "), r.Talk)
	}
	if !reads[c.Args[0]] && x.clone == s.clones[0] {
		s.wrote(lines(r.Out)...)
	}
	if reads[c.Args[0]] && s.share > 0 && s.calls%s.share == 0 {
		again, err := process(s.binary, c, 0)
		if err != nil {
			return r, err
		}
		if again.Status != r.Status || again.Out != r.Out || again.Talk != r.Talk {
			return r, s.fail("wj %s: the built program answers otherwise than the one in process:\n%s%s\n%s%s", strings.Join(c.Args, " "), again.Out, again.Talk, r.Out, r.Talk)
		}
	}
	return r, nil
}

// wrote notes records that today's lint looks at.
func (s *sim) wrote(paths ...string) {
	for _, p := range paths {
		if strings.HasSuffix(p, ".md") && !strings.ContainsAny(p, " :") {
			s.written[p] = true
		}
	}
}

// reads are the commands that write nothing.
var reads = map[string]bool{"lint": true, "verify": true, "status": true, "query": true, "show": true, "review": true, "ls": true, "due": true, "stock": true, "sheet": true, "summary": true, "stats": true}

// must runs a command that has to succeed.
func (s *sim) must(x *person, now time.Time, args ...string) (reply, error) {
	r, err := s.wj(x, now, args...)
	if err == nil && r.Status != 0 {
		err = s.fail("wj %s ended with %d:\n%s%s", strings.Join(args, " "), r.Status, r.Out, r.Talk)
	}
	return r, err
}

func (s *sim) hear(args []string, r reply) {
	text := fmt.Sprintf("%q\n%d\n%s\n%s\n", args, r.Status, r.Out, r.Talk)
	s.heard.Write([]byte(strings.ReplaceAll(text, s.dir, "DIR")))
	if trace := os.Getenv("WJ_SIMULATE_TRACE"); trace != "" {
		f, err := os.OpenFile(trace, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
		if err == nil {
			fmt.Fprintf(f, "%d ", s.day)
			f.WriteString(strings.ReplaceAll(text, s.dir, "DIR"))
			f.Close()
		}
	}
}

// digest is the same for two runs of a seed.
func (s *sim) digest() string { return hex.EncodeToString(s.heard.Sum(nil))[:16] }

// git runs the user's git, as a person would.
func (s *sim) git(x *person, now time.Time, args ...string) (reply, error) {
	r, err := s.gitMay(x, now, args...)
	if err == nil && r.Status != 0 {
		err = fmt.Errorf("git %s in %s ended with %d: %s%s", strings.Join(args, " "), x.clone.name, r.Status, r.Out, r.Talk)
	}
	return r, err
}

func (s *sim) gitMay(x *person, now time.Time, args ...string) (reply, error) {
	return process("git", call{Dir: x.clone.dir, Args: args, Env: s.env(x, now)}, 0)
}

// sync brings a clone and the hub together: fetch, merge, push.
func (s *sim) sync(x *person, now time.Time) error {
	c := x.clone
	hub, here := ref(s.hub, "heads/main"), ref(filepath.Join(c.dir, ".git"), "heads/main")
	if hub != ref(filepath.Join(c.dir, ".git"), "remotes/origin/main") {
		if _, err := s.git(x, now, "fetch", "-q", "origin"); err != nil {
			return err
		}
	}
	if hub == here {
		return s.synchronised(c, "0\t0\n")
	}
	heads, err := s.git(x, now, "rev-list", "--left-right", "--count", "HEAD...origin/main")
	if err != nil {
		return err
	}
	ours, theirs := 0, 0
	fmt.Sscan(heads.Out, &ours, &theirs)
	if theirs > 0 {
		if r, err := s.gitMay(x, now, "merge", "-q", "--no-edit", "origin/main"); err != nil {
			return err
		} else if r.Status != 0 {
			if err := s.resolve(x, now, r); err != nil {
				return err
			}
		}
		ours++
	}
	if ours > 0 {
		if _, err := s.git(x, now, "push", "-q", "origin", "HEAD:main"); err != nil {
			return err
		}
	}
	return s.synchronised(c, heads.Out)
}

// ref is what a ref of a repository names, as its file says.
func ref(dir, name string) string {
	text, err := os.ReadFile(filepath.Join(dir, "refs", filepath.FromSlash(name)))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(text))
}

// synchronised notes what came and went.
func (s *sim) synchronised(c *clone, heads string) error {
	s.hear([]string{"sync", c.name}, reply{Out: heads})
	s.synced = s.synced || c == s.clones[0]
	for _, f := range s.ledger.facts {
		f.pushed = f.pushed || f.home == c
		f.here = f.here || c == s.clones[0] && f.pushed
	}
	return nil
}

// resolve finishes a merge that git left to a person.
func (s *sim) resolve(x *person, now time.Time, merge reply) error {
	r, err := s.wj(x, now, "resolve")
	if err != nil {
		return err
	}
	s.ledger.merges++
	if r.Status != 0 {
		return s.fail("a merge could not be finished: %s%s\nwj resolve: %s%s", merge.Out, merge.Talk, r.Out, r.Talk)
	}
	_, err = s.git(x, now, "commit", "-q", "--no-edit")
	return err
}

// person gives somebody by name.
func (s *sim) person(id string) *person {
	return s.people[slices.IndexFunc(s.people, func(x *person) bool { return x.id == id })]
}
