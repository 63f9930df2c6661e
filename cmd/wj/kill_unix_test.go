//go:build unix

package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/safefile"
)

// TestPulledPlug lets eight writers record, amend, fix and sign in one journal while their processes are killed at random
// moments, half of the times together with the git that they started. Whatever a process said it had written is there
// whole, whatever it said it had committed is in the history, no record is half written, and git fsck finds nothing.
// WJ_KILLS sets how many are killed; the release runs 200.
func TestPulledPlug(t *testing.T) {
	t.Parallel()
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git here")
	}
	kills := 24
	if n, err := strconv.Atoi(os.Getenv("WJ_KILLS")); err == nil {
		kills = n
	} else if testing.Short() {
		t.Skip("short")
	}
	p := plug{t: t, dir: filepath.Join(t.TempDir(), "journal"), binary: filepath.Join(t.TempDir(), "wj")}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(self, p.binary); err != nil { // the test binary is wj when it is called so
		t.Fatal(err)
	}
	p.env = append(os.Environ(), "HOME="+t.TempDir(), "GIT_CONFIG_NOSYSTEM=1", "GIT_AUTHOR_NAME=Ines", "GIT_AUTHOR_EMAIL=ines@quillmarsh.example", "GIT_COMMITTER_NAME=Ines",
		"GIT_COMMITTER_EMAIL=ines@quillmarsh.example", "WJ_NOW=2026-06-10T12:00+03:00", "TZ=Europe/Vilnius")
	p.prepare()
	const writers = 8
	var wait sync.WaitGroup
	for w := range writers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			random := rand.New(rand.NewPCG(uint64(w), 2026))
			for i := 0; i*writers < kills*2; i++ { // every second process is killed
				p.write(random, w, i)
			}
		}()
	}
	stop := make(chan struct{})
	go p.sweep(stop)
	wait.Wait()
	close(stop)
	p.check()
}

// plug is what the writers share.
type plug struct {
	t           *testing.T
	dir, binary string
	env         []string

	lock      sync.Mutex
	written   map[string]string // token → path that a process said it had written
	committed map[string]string // token → what the process said of its commit
	killed    int
}

func (p *plug) prepare() {
	p.written, p.committed = map[string]string{}, map[string]string{}
	files := map[string]string{
		"wj.yaml":        "format: 1\nname: Quillmarsh Brewery\ntimezone: Europe/Vilnius\n",
		"people/ines.md": "---\nname: Ines\nemail: ines@quillmarsh.example\nroles:\n  - {since: 2020-01-01, role: tester}\n  - {since: 2020-01-01, role: reviewer}\nsince: 2020-01-01\n---\n",
		"owners/own.md":  "---\nname: Quillmarsh\nself: true\n---\n",
	}
	for w := range 8 {
		files[fmt.Sprintf("sites/tap-%d.md", w)] = "---\nname: Tap\nowner: own\nstage: intake\n---\n"
		files[fmt.Sprintf("sessions/2026/2026-06-01-tap-%d.md", w)] = fmt.Sprintf("---\nsite: tap-%d\nsampled: 2026-06-01T08:15+03:00\nby: ines\nreadings:\n  sulfate:  {value: 40 mg/L}\n  chloride: {value: 7 mg/l}\n---\n\nbefore\n", w)
	}
	for name, content := range files {
		full := filepath.Join(p.dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
			p.t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(content), 0o666); err != nil {
			p.t.Fatal(err)
		}
	}
	p.git("init", "-q", "-b", "main")
	p.git("add", ".")
	p.git("commit", "-q", "-m", "Begin")
}

func (p *plug) git(args ...string) string {
	p.t.Helper()
	c := exec.Command("git", append([]string{"-C", p.dir}, args...)...)
	c.Env = p.env
	out, err := c.CombinedOutput()
	if err != nil {
		p.t.Fatalf("git %v: %v\n%s", args, err, out)
	}
	return string(out)
}

// write runs one command and notes what it acknowledged.
func (p *plug) write(random *rand.Rand, writer, i int) {
	token := fmt.Sprintf("token-%d-%d", writer, i)
	tap, old := fmt.Sprintf("tap-%d", writer), fmt.Sprintf("2026-06-01-tap-%d", random.IntN(3)) // several writers change one record
	var args []string
	switch random.IntN(8) {
	case 0, 1:
		args = []string{"amend", old, "sulfate", fmt.Sprintf("%d mg/L", 50+i), "-r", token, "--by", "ines"}
	case 2:
		args = []string{"lint", "--fix", "sessions/2026/" + old + ".md"}
	case 3:
		args = []string{"sign", "2026-06-01-tap-7", "--refuse", "--by", "ines", "-m", token}
	default:
		args = []string{"new", "session", tap, "sampled=2026-06-10T08:15+03:00", "by=ines", fmt.Sprintf("sulfate=%d mg/L", 10+i), "-m", token}
	}
	c := exec.CommandContext(context.Background(), p.binary, append([]string{"-C", p.dir}, args...)...)
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr, c.Env, c.Dir = &out, &errs, p.env, p.dir
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	c.WaitDelay = 10 * time.Second // git may go on after its wj is gone, and holds the pipes
	if err := c.Start(); err != nil {
		p.t.Error(err)
		return
	}
	if random.IntN(2) == 0 {
		whole := random.IntN(2) == 0
		time.AfterFunc(time.Duration(random.IntN(250))*time.Millisecond, func() {
			if whole {
				_ = syscall.Kill(-c.Process.Pid, syscall.SIGKILL)
			} else {
				_ = c.Process.Kill()
			}
		})
	}
	err := c.Wait()
	p.lock.Lock()
	defer p.lock.Unlock()
	if state := c.ProcessState; state != nil && !state.Exited() {
		p.killed++
	} else if err != nil && !strings.Contains(errs.String(), "lock") && !strings.Contains(errs.String(), "not committed") && args[0] != "lint" && !strings.Contains(errs.String(), "changed in the meantime") {
		p.t.Logf("%v: %v: %s", args, err, errs.String())
	}
	if args[0] == "lint" {
		return
	}
	if path := strings.TrimSpace(out.String()); strings.HasSuffix(path, ".md") && !strings.Contains(path, "\n") {
		p.written[token] = path
	}
	if regexp.MustCompile(`(?m)^committed as [0-9a-f]`).MatchString(errs.String()) {
		p.committed[token] = fmt.Sprintf("%q: %s", args, errs.String())
	}
}

// sweep does what a person does whose git was killed: a lock that nobody can hold any more is removed. Git itself never
// does (its message says how); here a lock of three seconds is stale, for a commit takes a few hundredths of one.
func (p *plug) sweep(stop chan struct{}) {
	for {
		select {
		case <-stop:
			return
		case <-time.After(100 * time.Millisecond):
		}
		for _, name := range []string{"index.lock", "HEAD.lock", "refs/heads/main.lock"} {
			full := filepath.Join(p.dir, ".git", filepath.FromSlash(name))
			if info, err := os.Stat(full); err == nil && time.Since(info.ModTime()) > 3*time.Second {
				_ = os.Remove(full)
			}
		}
	}
}

func (p *plug) check() {
	p.t.Logf("%d processes killed, %d writes and %d commits acknowledged", p.killed, len(p.written), len(p.committed))
	if len(p.written) == 0 {
		p.t.Fatal("nothing was acknowledged")
	}
	// A git that was killed leaves its lock, as git says itself; everybody has stopped, so it is stale.
	for _, name := range []string{"index.lock", "HEAD.lock", "refs/heads/main.lock"} {
		_ = os.Remove(filepath.Join(p.dir, ".git", filepath.FromSlash(name)))
	}
	for token, path := range p.written {
		src, err := os.ReadFile(filepath.Join(p.dir, filepath.FromSlash(path)))
		if err != nil || !bytes.Contains(src, []byte(token)) {
			p.t.Errorf("%s was said to be written to %s and is not there: %v", token, path, err)
		}
	}
	history := p.git("log", "-p", "--format=", "--no-renames")
	for token, said := range p.committed {
		if !regexp.MustCompile(`(?m)^\+.*` + token + `\b`).MatchString(history) {
			p.t.Errorf("not in the history although acknowledged: %s", said)
		}
	}
	if out := p.git("fsck", "--strict", "--no-dangling"); strings.Contains(out, "error") || strings.Contains(out, "missing") || strings.Contains(out, "corrupt") {
		p.t.Errorf("git fsck: %s", out)
	}
	j, err := journal.Load(journal.Dir(p.dir), journal.Options{Check: true, Sessions: true})
	if err != nil {
		p.t.Fatal(err)
	}
	for _, problem := range j.Problems {
		if !problem.Warning {
			p.t.Errorf("half written? %s:%d %s", problem.Path, problem.Line, problem.Message)
		}
	}
	for _, f := range j.Files {
		d, _, err := j.ReadRecord(f)
		if err != nil || !d.OK() || !bytes.HasSuffix(d.Source, []byte("\n")) || len(d.Source) > frontmatter.MaxFile {
			p.t.Errorf("%s is not whole: %v", f.Path, err)
		}
	}
	left, _ := filepath.Glob(filepath.Join(p.dir, "*", "*", safefile.TempPrefix+"*"))
	p.t.Logf("%d temporary files left by killed processes, which nothing reads", len(left))
	// The journal still takes records after all that.
	c := exec.Command(p.binary, "-C", p.dir, "new", "session", "tap-0", "sampled=2026-06-10T11:50+03:00", "by=ines", "sulfate=9 mg/L")
	c.Env = p.env
	if out, err := c.CombinedOutput(); err != nil || !bytes.Contains(out, []byte("committed as")) {
		p.t.Errorf("after the kills nothing can be recorded: %v\n%s", err, out)
	}
}
