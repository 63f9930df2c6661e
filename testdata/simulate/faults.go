package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

// What machines and disks do. Each fault strikes a copy of the bench's clone, with the built program, so that the run itself stays the
// same to the byte: after it the copy must hold every acknowledged fact, and work goes on.

// faultKind is one of them.
type faultKind struct {
	name string
	do   func(s *sim, x *person, r *rand.Rand) error
}

var faults = []faultKind{
	{"killed at a system call that writes", (*sim).killed},
	{"full disk", (*sim).full},
	{"read-only folder", (*sim).readOnly},
	{"half a clone", (*sim).shallow},
	{"git is too old", (*sim).oldGit},
	{"no git", (*sim).noGit},
	{"a colleague rewrites the history", (*sim).rewritten},
}

// fault lets something break, in a copy.
func (s *sim) fault() error {
	r := dice(s.seed, "fault", s.day)
	return s.breaks(faults[r.IntN(len(faults))].name, r)
}

// strike lets each fault strike each deed, at the end of a run.
func (s *sim) strike() error {
	for _, f := range faults {
		if f.name == "half a clone" || f.name == "a colleague rewrites the history" {
			continue // nothing is written then
		}
		for _, d := range deeds {
			s.struck = d.name
			if err := s.breaks(f.name, dice(s.seed, "strike "+f.name+d.name, s.day)); err != nil {
				return err
			}
		}
	}
	s.struck = ""
	return nil
}

// breaks lets a fault strike, in a copy.
func (s *sim) breaks(name string, r *rand.Rand) error {
	f := faults[slices.IndexFunc(faults, func(f faultKind) bool { return f.name == name })]
	where := filepath.Join(s.dir, "copy")
	defer os.RemoveAll(where)
	defer os.RemoveAll(where + "-out")
	if out, err := exec.Command("cp", "-a", s.clones[0].dir, where).CombinedOutput(); err != nil {
		return fmt.Errorf("copy the clone: %w: %s", err, out)
	}
	x := *s.person("ines")
	x.clone = &clone{name: "copy", dir: where}
	if s.ledger.faults == nil {
		s.ledger.faults = map[string]int{}
	}
	s.ledger.faults[f.name]++
	if err := f.do(s, &x, r); err != nil {
		return s.fail("%s: %v", f.name, err)
	}
	return nil
}

// attempt is a session that somebody tries to record.
func (s *sim) attempt(x *person, minute int) call {
	now := at(s.day, 21, minute)
	return call{Dir: x.clone.dir, Env: s.env(x, now), Args: []string{"new", "session", "hot-liquor-tank", "sampled=" + iso(now), "by=ines", "instrument=meter-1", "chloride=44 mg/L"}}
}

// whole holds a copy to the ledger: every fact that the bench knows is there, no record is half, git finds nothing broken, and the
// program reads it.
func (s *sim) whole(x *person) error {
	sessions, err := s.sessions(x.clone)
	if err != nil {
		return err
	}
	for _, f := range s.ledger.facts {
		if !f.gone && (f.home == s.clones[0] || f.here) {
			if err := s.holds(x.clone, sessions[f.site+" "+f.sampled], f); err != nil {
				return err
			}
		}
	}
	for _, list := range sessions {
		for _, y := range list {
			if y.site == "" || len(y.values) == 0 {
				return fmt.Errorf("%s is half a record", y.id)
			}
		}
	}
	if r, err := s.gitMay(x, at(s.day, 22, 0), "fsck", "--no-dangling", "--no-progress"); err != nil || r.Status != 0 {
		return fmt.Errorf("git fsck: %v %s%s", err, r.Out, r.Talk)
	}
	r, err := process(s.binary, call{Dir: x.clone.dir, Env: s.env(x, at(s.day, 22, 0)), Args: []string{"lint", "--format", "json"}}, 0)
	if err != nil {
		return err
	}
	var doc struct{ Findings []finding }
	if err := json.Unmarshal([]byte(r.Out), &doc); err != nil {
		return fmt.Errorf("wj lint: %w: %s%s", err, r.Out, r.Talk)
	}
	return nil
}

// again records once more after a fault: nothing left behind may stop it.
func (s *sim) again(x *person) error {
	r, err := process(s.binary, s.attempt(x, 50), 0)
	if err != nil {
		return err
	}
	if r.Status != 0 || !strings.Contains(r.Talk, "committed as") {
		return fmt.Errorf("afterwards nothing can be recorded: %s%s", r.Out, r.Talk)
	}
	return s.whole(x)
}

// killed kills the program or the git that it started at one of the system calls that write, by strace; without it at a random moment.
func (s *sim) killed(x *person, r *rand.Rand) error {
	d, err := s.deed(x, r)
	if err != nil {
		return err
	}
	c := d.call
	got := reply{}
	if strace, missing := exec.LookPath("strace"); missing == nil {
		inject := fmt.Sprintf("inject=write,pwrite64,renameat,rename,renameat2,linkat,link,unlinkat,unlink,mkdirat,mkdir,fsync,ftruncate:signal=KILL:when=%d", 1+r.IntN(60))
		c.Args = append([]string{"-f", "-qq", "-o", "/dev/null", "-e", inject, s.binary}, c.Args...)
		got, err = process(strace, c, 0)
	} else {
		got, err = process(s.binary, c, time.Duration(1+r.IntN(80))*time.Millisecond)
	}
	if err != nil {
		return err
	}
	if strings.Contains(got.Talk, "committed as") {
		head, err := s.gitMay(x, at(s.day, 22, 0), "log", "-1", "--format=%H")
		_, hash, _ := strings.Cut(got.Talk, "committed as ")
		if err != nil || !strings.HasPrefix(head.Out, strings.Fields(hash)[0]) {
			return fmt.Errorf("it said %q, and the newest commit is %s (%v)", got.Talk, head.Out, err)
		}
	}
	return s.after(x, d)
}

// full puts the copy on a disk that has no room left.
func (s *sim) full(x *person, r *rand.Rand) error {
	disk := filepath.Join(s.dir, "disk")
	if err := os.MkdirAll(disk, 0o755); err != nil {
		return err
	}
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=64m"); err != nil {
		s.ledger.faults["full disk, left out (no right to mount)"]++
		return nil
	}
	defer syscall.Unmount(disk, 0)
	where := filepath.Join(disk, "copy")
	if out, err := exec.Command("cp", "-a", x.clone.dir, where).CombinedOutput(); err != nil {
		return fmt.Errorf("copy the clone: %w: %s", err, out)
	}
	x.clone = &clone{name: "copy on a full disk", dir: where}
	d, err := s.deed(x, r)
	if err != nil {
		return err
	}
	filler := filepath.Join(disk, "filler")
	f, err := os.Create(filler)
	if err != nil {
		return err
	}
	block := make([]byte, 4096)
	for {
		if _, err := f.Write(block); err != nil {
			break
		}
	}
	f.Close()
	room := int64(r.IntN(12)) * 4096 // from nothing to enough for a part of the work
	if info, err := os.Stat(filler); err == nil {
		_ = os.Truncate(filler, info.Size()-room)
	}
	got, err := process(s.binary, d.call, 0)
	if err != nil {
		return err
	}
	if got.Status != 0 && !strings.Contains(got.Talk, "error:") {
		return fmt.Errorf("a full disk is not reported by wj %s: %s%s", d.name, got.Out, got.Talk)
	}
	if d.name == "new" && got.Status == 0 && !strings.Contains(got.Talk, "committed as") {
		return fmt.Errorf("it ended well and has not committed: %s%s", got.Out, got.Talk)
	}
	if err := os.Remove(filler); err != nil {
		return err
	}
	return s.after(x, d)
}

// readOnly takes the right to write into the journal away.
func (s *sim) readOnly(x *person, r *rand.Rand) error {
	const nobody = 65534
	if os.Geteuid() != 0 {
		s.ledger.faults["read-only folder, left out (not root)"]++
		return nil
	}
	d, err := s.deed(x, r)
	if err != nil {
		return err
	}
	may := func(list ...[]string) error {
		for _, args := range list {
			if out, err := exec.Command(args[0], args[1:]...).CombinedOutput(); err != nil {
				return fmt.Errorf("%v: %w: %s", args, err, out)
			}
		}
		return nil
	}
	if err := may([]string{"chown", "-R", "nobody", x.clone.dir, outside(x)}, []string{"chmod", "-R", "a-w", x.clone.dir, outside(x)}, []string{"chmod", "a+rwx", s.dir}); err != nil {
		return err
	}
	cmd := exec.Command(s.binary, d.call.Args...)
	cmd.Dir, cmd.Env, cmd.Stdin = d.call.Dir, d.call.Env, strings.NewReader(d.call.Stdin)
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	out, err := cmd.CombinedOutput()
	if err == nil || cmd.ProcessState == nil {
		return fmt.Errorf("wj %s wrote into a read-only folder, or did not start: %v: %s", d.name, err, out)
	}
	if !strings.Contains(string(out), "error:") {
		return fmt.Errorf("a read-only folder is not reported by wj %s: %s", d.name, out)
	}
	if err := may([]string{"chown", "-R", "root", x.clone.dir, outside(x)}, []string{"chmod", "-R", "u+w", x.clone.dir, outside(x)}); err != nil {
		return err
	}
	return s.after(x, d)
}

// shallow is half a clone: what history would show cannot be told, and nothing is called proven.
func (s *sim) shallow(x *person, r *rand.Rand) error {
	if _, err := s.gitMay(x, at(s.day, 21, 0), "config", "uploadpack.allowFilter", "true"); err != nil {
		return err
	}
	half := filepath.Join(s.dir, "half")
	defer os.RemoveAll(half)
	how := []string{"--depth=1", "--depth=5", "--filter=blob:none", "--filter=tree:0"}[r.IntN(4)]
	if out, err := process("git", call{Dir: s.dir, Env: s.env(x, at(s.day, 21, 0)), Args: []string{"clone", "-q", how, "--no-local", "file://" + x.clone.dir, half}}, 0); err != nil || out.Status != 0 {
		return fmt.Errorf("git clone %s: %v %s", how, err, out.Talk)
	}
	x.clone = &clone{name: "half", dir: half}
	verify, err := process(s.binary, call{Dir: half, Env: s.env(x, at(s.day, 22, 0)), Args: []string{"verify", "--format", "json"}}, 0)
	if err != nil {
		return err
	}
	var doc struct{ Verdict string }
	if err := json.Unmarshal([]byte(verify.Out), &doc); err != nil {
		return fmt.Errorf("wj verify (%s): %w: %s%s", how, err, verify.Out, verify.Talk)
	}
	if doc.Verdict == "proven" && s.signoffs(half) {
		return fmt.Errorf("wj verify calls half a clone (%s) proven: %s", how, verify.Out)
	}
	for _, command := range [][]string{{"lint"}, {"status"}, {"due"}, {"query", "sulfate > 0"}, {"log"}} {
		got, err := process(s.binary, call{Dir: half, Env: s.env(x, at(s.day, 22, 0)), Args: command}, 0)
		if err != nil || strings.Contains(got.Talk, "fault in wj itself") {
			return fmt.Errorf("wj %s in half a clone (%s): %v %s%s", command[0], how, err, got.Out, got.Talk)
		}
	}
	return nil
}

func (s *sim) signoffs(dir string) bool {
	found, _ := filepath.Glob(filepath.Join(dir, "signoffs", "*.md"))
	return len(found) > 0
}

// oldGit is a git of 2010, which knows little of what is asked.
func (s *sim) oldGit(x *person, r *rand.Rand) error {
	return s.otherGit(x, r, "#!/bin/sh\n[ \"$1\" = --version ] && { echo git version 1.7.0; exit 0; }\necho \"git: '$1' is not a git command. See 'git --help'.\" >&2\nexit 129\n")
}

// noGit is a computer without one.
func (s *sim) noGit(x *person, r *rand.Rand) error { return s.otherGit(x, r, "") }

func (s *sim) otherGit(x *person, r *rand.Rand, script string) error {
	d, err := s.deed(x, r)
	if err != nil {
		return err
	}
	folder := filepath.Join(s.dir, "othergit")
	defer os.RemoveAll(folder)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	if script != "" {
		if err := os.WriteFile(filepath.Join(folder, "git"), []byte(script), 0o755); err != nil {
			return err
		}
	}
	c := d.call
	c.Env = slices.Clone(c.Env)
	c.Env[slices.IndexFunc(c.Env, func(pair string) bool { return strings.HasPrefix(pair, "PATH=") })] = "PATH=" + folder
	got, err := process(s.binary, c, 0)
	if err != nil {
		return err
	}
	if strings.Contains(got.Talk, "committed as") {
		return fmt.Errorf("wj %s says that it committed without git: %s%s", d.name, got.Out, got.Talk)
	}
	if got.Status != 0 && !strings.Contains(got.Talk, "error:") || strings.Contains(got.Talk, "fault in wj itself") {
		return fmt.Errorf("wj %s ended with %d without git and says no reason: %s%s", d.name, got.Status, got.Out, got.Talk)
	}
	if d.name == "bundle" { // it says that the history is not in it
		if err := os.RemoveAll(d.output); err != nil {
			return err
		}
	}
	if d.name == "new" {
		written := false
		for _, line := range lines(got.Out) {
			_, missing := os.Stat(filepath.Join(x.clone.dir, filepath.FromSlash(line)))
			written = written || missing == nil
		}
		if (got.Status == 0) != written {
			return fmt.Errorf("it ended with %d, and the record is there: %t: %s%s", got.Status, written, got.Out, got.Talk)
		}
	}
	return s.after(x, d)
}

// rewritten squashes the last commits behind an anchor: wj verify must find it.
func (s *sim) rewritten(x *person, r *rand.Rand) error {
	now := at(s.day, 21, 0)
	anchor, err := process(s.binary, call{Dir: x.clone.dir, Env: s.env(x, now), Args: []string{"anchor"}}, 0)
	if err != nil || anchor.Status != 0 {
		return fmt.Errorf("wj anchor: %v %s%s", err, anchor.Out, anchor.Talk)
	}
	all := lines(anchor.Out)
	receipt := all[len(all)-1]
	for _, args := range [][]string{{"reset", "-q", "--soft", fmt.Sprintf("HEAD~%d", 2+r.IntN(2))}, {"commit", "-q", "-m", "Tidy up the history"}} {
		if got, err := s.gitMay(x, now.Add(time.Minute), args...); err != nil || got.Status != 0 {
			return fmt.Errorf("git %v: %v %s%s", args, err, got.Out, got.Talk)
		}
	}
	for _, args := range [][]string{{"verify"}, {"verify", "--anchor", receipt}} {
		got, err := process(s.binary, call{Dir: x.clone.dir, Env: s.env(x, at(s.day, 22, 0)), Args: args}, 0)
		if err != nil {
			return err
		}
		if got.Status != 1 {
			return fmt.Errorf("a rewritten history behind an anchor is not found by wj %v (%d): %s%s", args[0], got.Status, got.Out, got.Talk)
		}
	}
	return nil
}
