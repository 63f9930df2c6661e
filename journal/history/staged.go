package history

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Staged is what the next commit would hold.
type Staged struct {
	fs.FS            // the journal's text files (.md, .yaml, .json); those that the working tree holds as they were added are read there
	Changed []string // files that differ from the last commit, deleted ones too, sorted
}

// Close ends what reading the files began.
func (s Staged) Close() {
	if files, ok := s.FS.(*stagedFiles); ok {
		files.close()
	}
}

// emptyBlobs are how an index holds a file that was only announced (git add
// -N), with SHA-1 and with SHA-256: git hash-object of an empty file.
var emptyBlobs = []string{"e69de29bb2d1d6434b8b29ae775ad8c2e48c5391", "473a0f4c3be8a93681a267e3b1e9a7dcda1185436fe141f7749120a303721813"}

// ReadStaged gives the journal's files as they are in Git's index. It is for
// a pre-commit hook and asks the user's git, since only git knows every form
// of an index and which one the hook is run for (GIT_INDEX_FILE; git-commit
// with paths uses one of its own). No hook or filter is run.
//
// The error is a [*Trouble] whose reason is ErrNoGit, ErrNoRepository,
// ErrMidway (files with conflicts) or ErrForeignOwner.
func ReadStaged(ctx context.Context, dir string) (Staged, error) {
	var s Staged
	g, place, err := gitAt(dir, "read what is staged")
	if err != nil {
		return s, err
	}
	spec := literally + place.Prefix
	if place.Prefix == "" {
		spec = ":(top)"
	}
	var changedNames string
	var errChanged error
	var comparing sync.WaitGroup
	comparing.Go(func() {
		changedNames, errChanged = g.ask(ctx, "", "diff-index", "--cached", "--ita-invisible-in-index", "--name-only", "--no-renames", "-z", "HEAD", "--", spec)
	})
	defer comparing.Wait()
	list, err := g.ask(ctx, "", "ls-files", "-t", "--stage", "--debug", "--full-name", "-z", "--", spec)
	if err != nil {
		return s, err
	}
	var entries []indexed
	err = parseIndex([]byte(list), func(e indexed) error {
		name, inside := within(place.Prefix, e.name)
		switch {
		case inside && e.stage != 0:
			return &Trouble{Reason: ErrMidway, Doing: "read what is staged", Hint: name + " has conflicts: correct it, then git add it"}
		case inside && e.isFile() && textFile(name):
			e.name = name
			entries = append(entries, e)
		}
		return nil
	})
	if err != nil {
		return s, err
	}
	_, err = g.ask(ctx, "", "rev-parse", "--quiet", "--verify", "--end-of-options", "HEAD^{commit}")
	comparing.Wait()
	if unborn := err != nil; unborn {
		for _, e := range entries {
			s.Changed = append(s.Changed, e.name)
		}
	} else {
		if errChanged != nil {
			return s, errChanged
		}
		for full := range strings.SplitSeq(changedNames, "\x00") {
			if name, inside := within(place.Prefix, full); inside {
				s.Changed = append(s.Changed, name)
			}
		}
	}
	slices.Sort(s.Changed)
	changed := func(name string) bool { _, found := slices.BinarySearch(s.Changed, name); return found }
	entries = slices.DeleteFunc(entries, func(e indexed) bool { // announced, not staged
		return slices.Contains(emptyBlobs, e.hash.String()) && !changed(e.name)
	})
	files := newStagedFiles(place.Journal, g.noted(), entries)
	s.FS = files
	return s, files.read(ctx, s.Changed, g.ask)
}

// noted is when the index that a command is run for was written.
func (g gitCommand) noted() time.Time {
	index := filepath.Join(g.place.GitDir, "index")
	if !g.place.explicit {
		index = cmp.Or(g.ownIndex(os.Getenv("GIT_INDEX_FILE")), index)
	}
	info, err := os.Stat(index)
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}

// eachBatched takes what git cat-file --batch printed apart, the objects in the order of names.
func eachBatched(out []byte, names []string, do func(name string, content []byte)) error {
	for _, name := range names {
		head, after, ok := bytes.Cut(out, []byte("\n")) // "<object> blob <size>"
		fields := strings.Fields(string(head))
		size, err := strconv.Atoi(fields[max(0, len(fields)-1)])
		if !ok || len(fields) != 3 || err != nil || size < 0 || size >= len(after) {
			return fmt.Errorf("read what is staged of %s: git gave %q", name, head)
		}
		do(name, after[:size:size])
		out = after[size+1:]
	}
	return nil
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
