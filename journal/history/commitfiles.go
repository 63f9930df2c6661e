package history

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// CommitFiles records the files, whose content is given by their paths relative to dir, in one
// commit, as [Commit] does. What is committed is exactly that content: a file that another
// program changed in the meantime is an error that wraps [ErrElsewhere], and nothing is
// committed. Line ends and filters follow the repository's attributes.
func CommitFiles(ctx context.Context, dir string, files map[string][]byte, message string, trailers []Trailer) (string, error) {
	return commitBy(ctx, dir, slices.Sorted(maps.Keys(files)), message, trailers, func(g gitCommand, specs []string, text string) (string, error) {
		contents := map[string][]byte{}
		for name, content := range files {
			contents[path.Join(g.place.Prefix, name)] = content
		}
		return g.recordExactly(ctx, specs, contents, text)
	})
}

// ErrElsewhere says that a file does not hold what was to be committed.
var ErrElsewhere = errors.New("another program changed the file")

// recordExactly makes one attempt. It works as git commit --only does: git's index stays
// locked, the commit is made from a second index that differs from HEAD in these files
// alone, and afterwards the files are entered in git's index.
func (g gitCommand) recordExactly(ctx context.Context, specs []string, contents map[string][]byte, text string) (string, error) {
	index := filepath.Join(g.place.GitDir, "index")
	lock, err := os.OpenFile(index+".lock", os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return "", &Trouble{Reason: ErrLocked, Doing: "git commit", Output: "Unable to create '" + index + ".lock': File exists.",
			Hint: "if no other git is running, remove " + cleanOutput(index+".lock")}
	}
	if err != nil {
		return "", fmt.Errorf("lock the index of git: %w", err)
	}
	keep := false
	defer func() {
		lock.Close()
		if !keep {
			os.Remove(lock.Name())
		}
	}()
	forCommit, after := index+".wj-commit", index+".wj-after"
	for _, name := range []string{forCommit, after} {
		defer os.Remove(name)
		defer os.Remove(name + ".lock")
		if err := copyFile(index, name); err != nil {
			return "", fmt.Errorf("copy the index of git: %w", err)
		}
	}
	c := gitCommand{program: g.program, place: g.place, index: forCommit}
	if _, err := g.run(ctx, "", []string{"rev-parse", "--quiet", "--verify", "--end-of-options", "HEAD^{commit}"}); err != nil {
		if err := os.Remove(forCommit); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
	} else if _, err := c.run(ctx, "", []string{"read-tree", "--reset", "HEAD"}); err != nil {
		return "", err
	}
	entries, err := c.entries(ctx, specs, contents)
	if err != nil {
		return "", err
	}
	for _, name := range []string{forCommit, after} {
		at := gitCommand{program: g.program, place: g.place, index: name}
		if _, err := at.run(ctx, entries, []string{"update-index", "--add", "-z", "--index-info"}); err != nil {
			return "", err
		}
	}
	out, err := c.run(ctx, text, []string{"-c", "core.abbrev=" + g.hashLength(), "commit", "--cleanup=whitespace", "--file=-"})
	if err != nil {
		return "", err
	}
	if new, err := os.Open(after); err == nil {
		_, err = io.Copy(lock, new)
		new.Close()
		if err == nil && lock.Close() == nil && os.Rename(lock.Name(), index) == nil {
			keep = true
		}
	}
	if m := committed().FindStringSubmatch(out); m != nil {
		return m[1], nil
	}
	out, err = g.run(ctx, "", []string{"rev-parse", "--verify", "--end-of-options", "HEAD"})
	return strings.TrimSpace(out), err
}

// entries are the lines of git update-index --index-info for the files, once they are objects
// of the repository and hold what they should.
func (g gitCommand) entries(ctx context.Context, specs []string, contents map[string][]byte) (string, error) {
	var names, unknown []string
	for _, spec := range specs {
		names = append(names, strings.TrimPrefix(spec, literally))
	}
	listed, err := g.run(ctx, "", append([]string{"ls-files", "--stage", "-z", "--full-name", "--"}, specs...))
	if err != nil {
		return "", err
	}
	mode := map[string]string{}
	for line := range strings.SplitSeq(listed, "\x00") {
		if head, name, ok := strings.Cut(line, "\t"); ok {
			mode[name], _, _ = strings.Cut(head, " ")
		}
	}
	for _, name := range names {
		if mode[name] == "" {
			unknown = append(unknown, name)
		}
	}
	if len(unknown) > 0 {
		if ignored, err := g.run(ctx, strings.Join(unknown, "\x00")+"\x00", []string{"check-ignore", "-z", "--stdin"}); err == nil && ignored != "" {
			first, _, _ := strings.Cut(ignored, "\x00")
			return "", &Trouble{Reason: ErrIgnored, Doing: "git add " + first, Hint: "git check-ignore -v FILE says which line ignores it"}
		}
	}
	hashes, err := g.run(ctx, strings.Join(names, "\n")+"\n", []string{"hash-object", "-w", "--stdin-paths"})
	if err != nil {
		return "", err
	}
	ids := strings.Fields(hashes)
	if len(ids) != len(names) {
		return "", fmt.Errorf("git hash-object gave %d objects for %d files", len(ids), len(names))
	}
	stored, err := g.run(ctx, hashes, []string{"cat-file", "--batch"})
	if err != nil {
		return "", err
	}
	rest := []byte(stored)
	var b strings.Builder
	for i, name := range names {
		head, after, ok := bytes.Cut(rest, []byte("\n")) // "<object> blob <size>"
		fields := strings.Fields(string(head))
		size, err := strconv.Atoi(fields[max(0, len(fields)-1)])
		if !ok || len(fields) != 3 || err != nil || size < 0 || size >= len(after) {
			return "", fmt.Errorf("read what git stored of %s: git gave %q", name, head)
		}
		if !bytes.Equal(unixLines(after[:size]), unixLines(contents[name])) {
			return "", &Trouble{Reason: ErrElsewhere, Doing: "commit " + name, Hint: "look at the file: it does not hold what was checked"}
		}
		rest = after[size+1:]
		fmt.Fprintf(&b, "%s %s\t%s\x00", orRegular(mode[name]), ids[i], name)
	}
	return b.String(), nil
}

func orRegular(mode string) string {
	if mode == "100755" {
		return mode
	}
	return "100644"
}

func unixLines(b []byte) []byte { return bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n")) }

func copyFile(from, to string) error {
	content, err := os.ReadFile(from)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return os.WriteFile(to, content, 0o666)
}
