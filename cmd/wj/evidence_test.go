package main

import (
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"wj/journal"
	"wj/journal/evidence"
)

// evidenceCommands are what scripts about sign-offs and history need beside the
// program: a small brewery, people with keys, and what a reviewer reads.
var evidenceCommands = map[string]func(ts *testscript.TestScript, neg bool, args []string){
	// brewery makes the small brewery's journal in a folder j: the first commit by
	// Ines holds everything but the change, the second, by Pia, proposes it. With
	// the argument keys each person has a key in $WORK/keys, listed in people/;
	// with proof the policy asks for signatures from the first commit on.
	"brewery": func(ts *testscript.TestScript, neg bool, args []string) {
		source, err := filepath.Abs("../../testdata/small-brewery")
		ts.Check(err)
		dir := ts.MkAbs("j")
		ts.Check(os.CopyFS(dir, os.DirFS(source)))
		if len(args) > 0 {
			for _, id := range []string{"ines", "jonas", "pia", "tove"} {
				public := makeKey(ts, id)
				edit(ts, filepath.Join(dir, "people", id+".md"), "since: 2026-01-01\n---", "keys:\n  - {key: "+public+", since: 2026-01-01}\nsince: 2026-01-01\n---")
			}
			makeKey(ts, "mallory")
		}
		if len(args) > 0 && args[0] == "proof" {
			edit(ts, filepath.Join(dir, "wj.yaml"), "proof: none", "proof: signature")
		}
		change := filepath.Join(dir, "changes/2026-06-02-bitter.md")
		content, err := os.ReadFile(change)
		ts.Check(err)
		ts.Check(os.Remove(change))
		as(ts, "ines", "2026-06-01T12:00+03:00")
		git(ts, dir, "init", "-q", "-b", "main", ".")
		git(ts, dir, "add", "-A")
		git(ts, dir, "commit", "-qm", "Start the water journal")
		as(ts, "pia", "2026-06-02T09:00+03:00")
		ts.Check(os.WriteFile(change, content, 0o644))
		git(ts, dir, "add", "-A")
		git(ts, dir, "commit", "-qm", "Propose 2026-06-02-bitter")
	},
	// as PERSON TIME: who types from now on, at what time.
	"as": func(ts *testscript.TestScript, neg bool, args []string) { as(ts, args[0], args[1]) },
	// digest ID: sets DIGEST to what wj review prints of a record.
	"digest": func(ts *testscript.TestScript, neg bool, args []string) {
		j, err := journal.Load(journal.Dir(ts.MkAbs(".")), journal.Options{Sessions: true})
		ts.Check(err)
		f := journal.File{Kind: journal.KindSettings, ID: journal.SettingsFile, Path: journal.SettingsFile}
		var record journal.Any
		if args[0] != f.ID {
			f = j.Find(args[0])[0]
			_, record, err = j.ReadRecord(f)
			ts.Check(err)
		}
		var with []string
		for _, id := range args[1:] {
			with = append(with, j.Find(id)[0].Path)
		}
		statement, err := evidence.Prepare(j, f, record, with)
		ts.Check(err)
		ts.Setenv("DIGEST", statement.Short())
	},
	// grab NAME: sets a variable to the last line of the standard output of the
	// command before.
	"grab": func(ts *testscript.TestScript, neg bool, args []string) {
		lines := strings.Split(strings.TrimSpace(ts.ReadFile("stdout")), "\n")
		ts.Setenv(args[0], lines[len(lines)-1])
	},
}

// withCommands joins the commands of scripts.
func withCommands(sets ...map[string]func(*testscript.TestScript, bool, []string)) map[string]func(*testscript.TestScript, bool, []string) {
	all := map[string]func(*testscript.TestScript, bool, []string){}
	for _, set := range sets {
		maps.Copy(all, set)
	}
	return all
}

var fullNames = map[string]string{"ines": "Ines Kaldre", "jonas": "Jonas Welk", "pia": "Pia Ormand", "tove": "Tove Harrick", "mallory": "Mallory Quist"}

func as(ts *testscript.TestScript, id, when string) {
	for _, who := range []string{"AUTHOR", "COMMITTER"} {
		ts.Setenv("GIT_"+who+"_NAME", fullNames[id])
		ts.Setenv("GIT_"+who+"_EMAIL", id+"@quillmarsh.example")
		ts.Setenv("GIT_"+who+"_DATE", when)
	}
	ts.Setenv("WJ_NOW", when)
	ts.Setenv("GIT_CONFIG_COUNT", "0")
	if key := filepath.Join(ts.Getenv("WORK"), "keys", id); exists(key) {
		ts.Setenv("GIT_CONFIG_COUNT", "2")
		ts.Setenv("GIT_CONFIG_KEY_0", "gpg.format")
		ts.Setenv("GIT_CONFIG_VALUE_0", "ssh")
		ts.Setenv("GIT_CONFIG_KEY_1", "user.signingkey")
		ts.Setenv("GIT_CONFIG_VALUE_1", key)
	}
}

func exists(name string) bool {
	_, err := os.Stat(name)
	return err == nil
}

func makeKey(ts *testscript.TestScript, id string) string {
	key := filepath.Join(ts.Getenv("WORK"), "keys", id)
	ts.Check(os.MkdirAll(filepath.Dir(key), 0o700))
	ts.Check(exec.Command("ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", id, "-f", key).Run())
	public, err := os.ReadFile(key + ".pub")
	ts.Check(err)
	return strings.TrimSpace(string(public))
}

func edit(ts *testscript.TestScript, name, old, new string) {
	src, err := os.ReadFile(name)
	ts.Check(err)
	if !strings.Contains(string(src), old) {
		ts.Fatalf("%s does not hold %q", name, old)
	}
	ts.Check(os.WriteFile(name, []byte(strings.Replace(string(src), old, new, 1)), 0o644))
}

func git(ts *testscript.TestScript, dir string, args ...string) {
	ts.Check(ts.Exec("git", append([]string{"-C", dir}, args...)...))
}
