package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"wj/testdata/raced"
)

var update = flag.Bool("update", false, "rewrite the expected output in the scripts")

// briefExit keeps the race detector from waiting a second at the end of each of
// the hundreds of processes that the scripts start.
const briefExit = "atexit_sleep_ms=0"

// seldom is how often those short processes collect garbage.
const seldom = "400"

func TestMain(m *testing.M) {
	if os.Getenv("GORACE") == "" {
		os.Setenv("GORACE", briefExit)
	}
	if len(os.Args) > 1 && strings.HasPrefix(os.Args[1], "-test.") { // the scripts wait for disks more than they compute
		os.Args = slices.Insert(os.Args, 1, fmt.Sprintf("-test.parallel=%d", 2*runtime.GOMAXPROCS(0)))
	}
	serveIfAsked()
	testscript.Main(m, map[string]func(){
		"wj": func() {
			forbidNetwork() // whatever a command does, it opens no connection
			os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Getenv))
		},
	})
}

// TestScripts runs the command scripts in testdata/script: the real program in
// a process of its own, one script a behaviour. Conditions: [git], [exec:…].
//
// Under the race detector a process takes eight times as long. What runs at the
// same time is tested in the packages; here the program is then one without the
// detector, the same test binary built again.
func TestScripts(t *testing.T) {
	t.Parallel()
	path := os.Getenv("PATH")
	if raced.On() {
		plain := t.TempDir()
		if out, err := exec.Command("go", "test", "-c", "-o", filepath.Join(plain, "wj"), ".").CombinedOutput(); err != nil {
			t.Fatalf("the program without the race detector: %v\n%s", err, out)
		}
		path = plain + string(filepath.ListSeparator) + path
	}
	demo := filepath.Join(t.TempDir(), "demo")
	if out, err := exec.Command("wj", "demo", demo).CombinedOutput(); err != nil {
		t.Fatalf("the demo cannot be built: %v\n%s", err, out)
	}
	example, err := filepath.Abs("../../example-journal")
	if err != nil {
		t.Fatal(err)
	}
	untidy, err := filepath.Abs("../../testdata/untidy-journal")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			for name, value := range map[string]string{
				"EXAMPLE": example, "UNTIDY": untidy, "HOME": e.WorkDir, "XDG_CONFIG_HOME": filepath.Join(e.WorkDir, ".config"), "TZ": "Europe/Vilnius",
				"GIT_AUTHOR_NAME": "Ines Kaldre", "GIT_AUTHOR_EMAIL": "ines@quillmarsh.example", "GIT_COMMITTER_NAME": "Ines Kaldre", "GIT_COMMITTER_EMAIL": "ines@quillmarsh.example",
				"GIT_CONFIG_NOSYSTEM": "1", "NO_COLOR": "1", "COLUMNS": "80", "LC_ALL": "C.UTF-8", "GORACE": briefExit, "GOGC": seldom,
			} {
				e.Setenv(name, value)
			}
			if path != os.Getenv("PATH") {
				e.Setenv("PATH", path)
			}
			return os.WriteFile(filepath.Join(e.WorkDir, ".gitconfig"), []byte("[init]\n\tdefaultBranch = main\n[core]\n\tautocrlf = false\n\tfsync = none\n"), 0o644)
		},
		Condition: func(cond string) (bool, error) {
			if cond == "git" {
				_, err := exec.LookPath("git")
				return err == nil, nil
			}
			return false, fmt.Errorf("unknown condition %q", cond)
		},
		Cmds: withCommands(evidenceCommands, map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"validate": validate,
			"same":     same,
			// demo FOLDER: what wj demo FOLDER makes, built once for all scripts.
			"demo": func(ts *testscript.TestScript, neg bool, args []string) {
				ts.Check(os.CopyFS(ts.MkAbs(args[0]), os.DirFS(demo)))
			},
			// replace FILE OLD NEW: edits a file as a person's editor would.
			"replace": func(ts *testscript.TestScript, neg bool, args []string) {
				if len(args) != 3 {
					ts.Fatalf("usage: replace file old new")
				}
				for i := range args {
					args[i] = strings.ReplaceAll(args[i], `\n`, "\n")
				}
				name := ts.MkAbs(args[0])
				src, err := os.ReadFile(name)
				ts.Check(err)
				if !strings.Contains(string(src), args[1]) {
					ts.Fatalf("%s does not hold %q", args[0], args[1])
				}
				ts.Check(os.WriteFile(name, []byte(strings.Replace(string(src), args[1], args[2], 1)), 0o644))
			},
		}),
	})
}

// same [both] COMMAND ARG...: the command gives the same answer of the journal at
// the commit that is checked out in then, with both also of the bare repository at
// that commit, and in then itself when that commit was made.
func same(ts *testscript.TestScript, neg bool, args []string) {
	places := []string{"journal"}
	if args[0] == "both" {
		places, args = append(places, "bare.git"), args[1:]
	}
	head, err := exec.Command("git", "-C", ts.MkAbs("then"), "show", "-s", "--format=%H %cI", "HEAD").Output()
	ts.Check(err)
	commit, when, _ := strings.Cut(strings.TrimSpace(string(head)), " ")
	answer := func(dir, now string, more ...string) string {
		var out, talk strings.Builder
		status := run(append(append([]string{"-C", ts.MkAbs(dir)}, args...), more...), strings.NewReader(""), &out, &talk, func(name string) string {
			if name == "WJ_NOW" {
				return now
			}
			return ts.Getenv(name)
		})
		if status == statusFailed {
			ts.Fatalf("%s: %s", dir, &talk)
		}
		return fmt.Sprintf("%s\nstatus %d", strings.ReplaceAll(out.String(), ts.MkAbs(dir), "journal"), status)
	}
	want := answer("then", when)
	for _, dir := range places {
		if got := answer(dir, ts.Getenv("WJ_NOW"), "--at", commit); got != want {
			ts.Fatalf("%s at %s:\n%s\nwant\n%s", dir, commit, got, want)
		}
	}
}
