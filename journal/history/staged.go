package history

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Staged is what the next commit would hold.
type Staged struct {
	Files   map[string][]byte // the journal's text files (.md, .yaml, .json), whole
	Changed []string          // files that differ from the last commit, deleted ones too, sorted
}

// emptyBlobs are how an index holds a file that was only announced (git add
// -N), with SHA-1 and with SHA-256: git hash-object of an empty file.
var emptyBlobs = []string{"e69de29bb2d1d6434b8b29ae775ad8c2e48c5391", "473a0f4c3be8a93681a267e3b1e9a7dcda1185436fe141f7749120a303721813"}

// ReadStaged gives the journal's files as they stand in Git's index. It is for
// a pre-commit hook and asks the user's git, since only git knows every form
// of an index and which one the hook is run for (GIT_INDEX_FILE; git-commit
// with paths uses one of its own). No hook or filter is run.
//
// The error is a [*Trouble] whose reason is ErrNoGit, ErrNoRepository,
// ErrMidway (files with conflicts) or ErrForeignOwner.
func ReadStaged(ctx context.Context, dir string) (Staged, error) {
	s := Staged{Files: map[string][]byte{}}
	g, place, err := gitAt(dir, "read what is staged")
	if err != nil {
		return s, err
	}
	spec := literally + place.Prefix
	if place.Prefix == "" {
		spec = ":(top)"
	}
	list, err := g.ask(ctx, "", "ls-files", "--stage", "--full-name", "-z", "--", spec)
	if err != nil {
		return s, err
	}
	var entries []indexEntry
	for _, e := range indexEntries(list, place.Prefix) {
		if e.stage != "0" {
			return s, &Trouble{Reason: ErrMidway, Doing: "read what is staged", Hint: e.name + " has conflicts: mend it, then git add it"}
		}
		if ext := path.Ext(e.name); strings.HasPrefix(e.mode, "100") && (ext == ".md" || ext == ".yaml" || ext == ".json") {
			entries = append(entries, e)
		}
	}
	_, err = g.ask(ctx, "", "rev-parse", "--quiet", "--verify", "--end-of-options", "HEAD^{commit}")
	if unborn := err != nil; unborn {
		for _, e := range entries {
			s.Changed = append(s.Changed, e.name)
		}
	} else {
		changed, err := g.ask(ctx, "", "diff-index", "--cached", "--ita-invisible-in-index", "--name-only", "--no-renames", "-z", "HEAD", "--", spec)
		if err != nil {
			return s, err
		}
		for full := range strings.SplitSeq(changed, "\x00") {
			if name, inside := within(place.Prefix, full); inside {
				s.Changed = append(s.Changed, name)
			}
		}
	}
	slices.Sort(s.Changed)
	var wanted strings.Builder
	var names []string
	for _, e := range entries {
		if _, changed := slices.BinarySearch(s.Changed, e.name); !changed && slices.Contains(emptyBlobs, e.object) {
			continue // announced, not staged
		}
		wanted.WriteString(e.object + "\n")
		names = append(names, e.name)
	}
	contents, err := g.ask(ctx, wanted.String(), "cat-file", "--batch")
	if err != nil {
		return s, err
	}
	rest := []byte(contents)
	for _, name := range names {
		head, after, ok := bytes.Cut(rest, []byte("\n")) // "<object> blob <size>"
		fields := strings.Fields(string(head))
		size, err := strconv.Atoi(fields[max(0, len(fields)-1)])
		if !ok || len(fields) != 3 || err != nil || size < 0 || size >= len(after) {
			return s, fmt.Errorf("read what is staged of %s: git gave %q", name, head)
		}
		s.Files[name], rest = after[:size:size], after[size+1:]
	}
	return s, nil
}

// within gives a path from the top of the working tree as one in the journal.
func within(prefix, full string) (string, bool) {
	if prefix == "" {
		return full, full != ""
	}
	return strings.CutPrefix(full, prefix+"/")
}

// ask runs a git command that only reads, with the index that a hook of this
// repository was given.
func (g gitCommand) ask(ctx context.Context, stdin string, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, g.program, append([]string{"-c", "core.fsmonitor=", "-c", "core.quotePath=false"}, args...)...)
	cmd.Dir = g.place.Top
	cmd.Env = append(environment(os.Environ(), g.place.explicit), "GIT_OPTIONAL_LOCKS=0")
	if g.place.explicit {
		cmd.Env = append(cmd.Env, "GIT_DIR="+g.place.GitDir, "GIT_WORK_TREE="+g.place.Top)
	} else if index := g.ownIndex(os.Getenv("GIT_INDEX_FILE")); index != "" {
		cmd.Env = append(cmd.Env, "GIT_INDEX_FILE="+index)
	}
	cmd.Stdin = strings.NewReader(stdin)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	cmd.WaitDelay = killDelay
	if err := cmd.Run(); err != nil && !errors.Is(err, exec.ErrWaitDelay) {
		var exit *exec.ExitError
		if ctx.Err() != nil || !errors.As(err, &exit) {
			return "", fmt.Errorf("run git %s: %w", args[0], err)
		}
		return "", g.explain(ctx, args, stdout.String(), stderr.String(), exit.ExitCode())
	}
	return stdout.String(), nil
}

// ownIndex is the index file that the environment names where it is one of
// this repository: a hook of one repository may run a command on the journal
// of another, whose index it is not.
func (g gitCommand) ownIndex(name string) string {
	if name == "" {
		return ""
	}
	if !filepath.IsAbs(name) {
		name = filepath.Join(g.place.Top, name)
	}
	real, err := realPath(filepath.Dir(name))
	if err != nil || real != g.place.GitDir && !strings.HasPrefix(real, g.place.GitDir+string(filepath.Separator)) {
		return ""
	}
	return name
}

// HookFile is where Git looks for a hook of the repository that holds dir, as
// an absolute path, and whether that place is the repository's own: with
// core.hooksPath it can be a folder that other repositories share.
func HookFile(ctx context.Context, dir, name string) (file string, own bool, err error) {
	place, err := Find(dir)
	if err != nil {
		return "", false, err
	}
	program, err := gitProgram("find the "+name+" hook", "install git")
	if err != nil {
		return "", false, err
	}
	g := gitCommand{program: program, place: place}
	out, err := g.ask(ctx, "", "rev-parse", "--git-path", "hooks")
	if err != nil {
		return "", false, err
	}
	folder := strings.TrimRight(out, "\r\n")
	if !filepath.IsAbs(folder) {
		folder = filepath.Join(place.Top, folder)
	}
	folder = filepath.Clean(folder)
	if real, err := realPath(folder); err == nil {
		folder = real
	}
	for _, home := range []string{place.CommonDir, place.Top} {
		if rel, err := filepath.Rel(home, folder); err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			own = true
		}
	}
	return filepath.Join(folder, name), own, nil
}

// indexEntry is a file as the index holds it.
type indexEntry struct{ mode, object, stage, name string }

// indexEntries reads what git ls-files --stage -z printed: the entries in a folder
// of the repository, by their names in it.
func indexEntries(list, folder string) []indexEntry {
	var out []indexEntry
	for line := range strings.SplitSeq(list, "\x00") {
		head, full, ok := strings.Cut(line, "\t")
		fields := strings.Fields(head)
		if name, inside := within(folder, full); ok && len(fields) == 3 && inside {
			out = append(out, indexEntry{fields[0], fields[1], fields[2], name})
		}
	}
	return out
}
