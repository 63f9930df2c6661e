package history

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// JoinRef is where the history of a journal lies while it is brought in.
const JoinRef = "refs/wj/join"

// CommitTo adds a commit to a reference that no files are checked out of: the files,
// by their paths in the journal, whose folder in the repository is given. Who does it
// is whom git would name.
func CommitTo(ctx context.Context, dir, ref, message, folder string, files map[string][]byte) (Hash, error) {
	program, err := gitProgram("commit to "+ref, "install git")
	if err != nil {
		return Hash{}, err
	}
	author, err := gitText(ctx, program, dir, "var", "GIT_AUTHOR_IDENT")
	if err != nil {
		return Hash{}, err
	}
	committer, err := gitText(ctx, program, dir, "var", "GIT_COMMITTER_IDENT")
	if err != nil {
		return Hash{}, err
	}
	var stream bytes.Buffer
	fmt.Fprintf(&stream, "commit %s\nauthor %s\ncommitter %s\ndata %d\n%s\nfrom %s^0\n", ref, author, committer, len(message)+1, message+"\n", ref)
	for _, p := range slices.Sorted(maps.Keys(files)) {
		fmt.Fprintf(&stream, "M 100644 inline %s\ndata %d\n%s\n", quotedPath(path.Join(folder, p)), len(files[p]), files[p])
	}
	stream.WriteString("\ndone\n")
	if err := importGit(ctx, program, dir, &stream, []string{"fast-import", "--quiet", "--done"}); err != nil {
		return Hash{}, err
	}
	name, err := gitText(ctx, program, dir, "rev-parse", ref)
	if err != nil {
		return Hash{}, err
	}
	return ParseHash(name)
}

// gitText is the one line that a git command prints.
func gitText(ctx context.Context, program, dir string, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Dir = dir
	out, err := cmd.Output()
	if err != nil {
		return "", &Trouble{Reason: errGit, Doing: "run git " + args[0] + " in " + dir}
	}
	return strings.TrimSpace(string(out)), nil
}

// MergeAside merges a commit of another history into the branch that is checked out:
// the files of this one stay, and those named are written beside them, by their paths in
// the journal at dir. Hooks, identity and signing are the user's. Where it fails,
// everything is as before. It gives the commit's full name.
func MergeAside(ctx context.Context, dir string, commit Hash, files map[string][]byte, message string) (name string, err error) {
	program, err := gitProgram("merge "+commit.Short(), "install git")
	if err != nil {
		return "", err
	}
	_, err = readyPlace(dir)
	if err != nil {
		return "", err
	}
	run := func(input io.Reader, args ...string) error { return importGit(ctx, program, dir, input, args) }
	old := map[string][]byte{} // of what is there already
	defer func() {
		_ = run(nil, "update-ref", "-d", JoinRef)
		if err == nil {
			return
		}
		_ = importGit(context.WithoutCancel(ctx), program, dir, nil, []string{"merge", "--abort"})
		for p := range files {
			name := filepath.Join(dir, filepath.FromSlash(p))
			if was, there := old[p]; there {
				_ = os.WriteFile(name, was, 0o666)
			} else {
				_ = os.Remove(name)
			}
		}
	}()
	if err := run(nil, "merge", "-q", "-s", "ours", "--no-ff", "--no-commit", "--allow-unrelated-histories", commit.String()); err != nil {
		return "", err
	}
	var paths []string
	for _, p := range slices.Sorted(maps.Keys(files)) {
		name := filepath.Join(dir, filepath.FromSlash(p))
		was, err := os.ReadFile(name)
		if err == nil {
			old[p] = was
		} else if !errors.Is(err, os.ErrNotExist) {
			return "", fmt.Errorf("write %s: %w", p, err)
		}
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			return "", fmt.Errorf("write %s: %w", p, err)
		}
		if err := os.WriteFile(name, files[p], 0o666); err != nil {
			return "", fmt.Errorf("write %s: %w", p, err)
		}
		paths = append(paths, p)
	}
	if err := run(strings.NewReader(strings.Join(paths, "\x00")), "add", "-f", "--pathspec-from-file=-", "--pathspec-file-nul"); err != nil {
		return "", err
	}
	if err := run(strings.NewReader(message), "commit", "-q", "-F", "-"); err != nil {
		return "", err
	}
	return gitText(ctx, program, dir, "rev-parse", "HEAD")
}
