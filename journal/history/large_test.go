package history

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"
)

// TestLargeHistory measures against the real git on one repository, in one
// run: HISTORY_LARGE=100000 go test -run LargeHistory -v. Each commit brings a
// session, every tenth amends an older one, every fiftieth is a merge of a side
// branch. HISTORY_LARGE_DIR keeps the repository for the next run.
func TestLargeHistory(t *testing.T) {
	commits, err := strconv.Atoi(os.Getenv("HISTORY_LARGE"))
	if err != nil {
		t.Skip("set HISTORY_LARGE to a number of commits")
	}
	var r *testRepository
	if dir := os.Getenv("HISTORY_LARGE_DIR"); dir != "" {
		isolate(t)
		r = &testRepository{t: t, dir: dir}
		if _, err := os.Stat(filepath.Join(dir, ".git")); err != nil {
			os.MkdirAll(dir, 0o777)
			r.git("init", "-q", "-b", "main")
			r.git("config", "user.name", "Ines")
			r.git("config", "user.email", "ines@quillmarsh.example")
			r.largeHistory(commits)
		}
	} else {
		r = newRepository(t)
		r.largeHistory(commits)
	}
	graph := filepath.Join(r.dir, ".git", "objects", "info", "commit-graph")
	for _, state := range []string{"none", "graph", "filters"} {
		os.RemoveAll(graph)
		os.RemoveAll(graph + "s")
		switch state {
		case "graph":
			r.git("commit-graph", "write", "--reachable")
		case "filters":
			r.git("commit-graph", "write", "--reachable", "--changed-paths")
		}
		compare := func(what string, limit float64, git func(), ours func(h *History, tip Hash)) {
			t.Helper()
			theirs, mine := time.Hour, time.Hour
			for range 3 {
				start := time.Now()
				git()
				theirs = min(theirs, time.Since(start))
				start = time.Now()
				h, err := Open(r.dir)
				if err != nil {
					t.Fatal(err)
				}
				head, err := h.Head()
				if err != nil {
					t.Fatal(err)
				}
				ours(h, head.Hash)
				h.Close()
				mine = min(mine, time.Since(start))
			}
			ratio := float64(mine) / float64(theirs)
			t.Logf("commit-graph %-8s %-28s git %7.0f ms, ours %7.0f ms, ratio %.2f (limit %.1f)", state, what, theirs.Seconds()*1000, mine.Seconds()*1000, ratio, limit)
			if ratio > limit {
				t.Errorf("%s is slower than %.1f times git", what, limit)
			}
		}
		for _, file := range []string{"sessions/2010/s10.md", fmt.Sprintf("sessions/%d/s%d.md", yearOf(commits/2, commits), commits/2)} {
			var want, got []string
			compare("log of "+file, 3, func() { want = r.lines("log", "--format=%H", "main", "--", file) }, func(h *History, tip Hash) {
				got = nil
				versions, _, err := h.FileLog(context.Background(), tip, file)
				if err != nil {
					t.Fatal(err)
				}
				for _, v := range versions {
					got = append(got, v.Hash.String())
				}
			})
			if !slices.Equal(got, want) {
				t.Errorf("%s: %d versions, git %d", file, len(got), len(want))
			}
		}
		compare("audit", 1, func() {
			r.lines("log", "--raw", "-z", "--no-renames", "--format=%H%x00%P%x00%an%x00%ae%x00%at%x00%B", "main")
		}, func(h *History, tip Hash) {
			changes := 0
			walked, err := h.Walk(context.Background(), tip, WalkOptions{}, func(s Step) error { changes += len(s.Changes); return nil })
			if err != nil || changes < commits {
				t.Fatal(walked, changes, err)
			}
		})
	}
	if os.Getenv("HISTORY_LARGE_WORKTREE") == "" {
		return
	}
	r.git("reset", "-q", "--hard")
	start := time.Now()
	changes, err := Dirty(r.dir, nil)
	t.Logf("uncommitted records: %d in %v, %v", len(changes), time.Since(start), err)
	for i := range 3 {
		file := "sessions/2010/s10.md"
		r.write(file, fmt.Sprint("first ", time.Now()))
		start = time.Now()
		r.git("commit", "-q", "--only", "-m", "x", "--", file)
		theirs := time.Since(start)
		r.write(file, fmt.Sprint("second ", time.Now()))
		start = time.Now()
		if _, err := Commit(context.Background(), r.dir, []string{file}, "x", nil); err != nil {
			t.Fatal(err)
		}
		mine := time.Since(start)
		name := fmt.Sprintf("sessions/2010/new%d-%d.md", i, time.Now().Unix())
		r.write(name, "x")
		start = time.Now()
		if _, err := Commit(context.Background(), r.dir, []string{name}, "x", nil); err != nil {
			t.Fatal(err)
		}
		t.Logf("one commit: git commit --only %v, ours %v (ratio %.2f); of a new file %v", theirs, mine, float64(mine)/float64(theirs), time.Since(start))
	}
}

func yearOf(n, commits int) int { return 2010 + n*20/commits }

func (r *testRepository) lines(args ...string) []string {
	r.t.Helper()
	cmd := exec.Command("git", args...)
	cmd.Dir = r.dir
	out, err := cmd.StdoutPipe()
	if err != nil {
		r.t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	var lines []string
	scanner := bufio.NewScanner(out)
	scanner.Buffer(nil, 64<<20)
	for scanner.Scan() {
		lines = append(lines, scanner.Text())
	}
	if err := cmd.Wait(); err != nil {
		r.t.Fatal(err)
	}
	return lines
}

func (r *testRepository) largeHistory(commits int) {
	r.t.Helper()
	cmd := exec.Command("git", "fast-import", "--quiet", "--force")
	cmd.Dir = r.dir
	pipe, err := cmd.StdinPipe()
	if err != nil {
		r.t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	in := bufio.NewWriter(pipe)
	session := func(n, amended int) {
		content := fmt.Sprintf("---\nsite: well-%d\nsampled: %d-03-04T08:15+01:00\nby: ines\ninstrument: meter-2\nreadings:\n  pH:               {value: 7.%02d, lot: PH-25%02d}\n  alkalinity:       {value: %d mg/L CaCO3, lot: AL-25%02d}\n  calcium_hardness: {value: %d mg/L CaCO3, lot: CH-25%02d}\n  sulfate:          {value: %d mg/L, lot: SU-25%02d}\n---\n\nNothing unusual on day %d, revision %d.\n",
			n%12, yearOf(n, commits), n%100, n%12, 80+n%71, n%11, 60+n%53, n%13, 20+n%97, n%12, n, amended)
		fmt.Fprintf(in, "M 100644 inline sessions/%d/s%d.md\ndata %d\n%s\n", yearOf(n, commits), n, len(content), content)
	}
	side := 0
	for n := 1; n <= commits; n++ {
		fmt.Fprintf(in, "commit refs/heads/main\nmark :%d\ncommitter Ines <ines@quillmarsh.example> %d +0200\ndata 18\nRecord the session\n", n, firstDate-int64(commits-n)*1800)
		switch {
		case n%50 == 48: // a side branch of one commit
			fmt.Fprintf(in, "from :%d\n", n-2)
			side = n
		case n%50 == 49:
			fmt.Fprintf(in, "from :%d\n", n-2)
		case n%50 == 0:
			fmt.Fprintf(in, "from :%d\nmerge :%d\n", n-1, side)
		case n > 1:
			fmt.Fprintf(in, "from :%d\n", n-1)
		}
		if n%50 == 0 {
			session(side, 0)
			continue
		}
		session(n, 0)
		if n%10 == 5 {
			session(n/2, n)
		}
	}
	if err := in.Flush(); err != nil {
		r.t.Fatal(err)
	}
	pipe.Close()
	if err := cmd.Wait(); err != nil {
		r.t.Fatal(err)
	}
	r.git("repack", "-q", "-a", "-d", "-f", "--depth=50", "--window=10")
}
