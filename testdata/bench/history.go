package main

import (
	"bufio"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

// commit makes a repository of the journal: the first commit holds all but the sessions, and each session is a commit of
// its own, in the order of sampling, made ten minutes after the test. git fast-import reads the stream.
func commit(dir string) error {
	var first, sessions []string
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if name = filepath.ToSlash(name); strings.HasPrefix(name, "sessions/") {
			sessions = append(sessions, name)
		} else {
			first = append(first, name)
		}
		return err
	})
	if err != nil {
		return err
	}
	sort.Slice(sessions, func(a, b int) bool { return filepath.Base(sessions[a]) < filepath.Base(sessions[b]) })
	if err := git(dir, nil, "init", "-q", "-b", "main"); err != nil {
		return err
	}
	read, write := io.Pipe()
	go func() {
		b := bufio.NewWriterSize(write, 1<<20)
		at := time.Date(2016, 1, 1, 8, 0, 0, 0, time.UTC)
		err := stream(b, dir, "Begin the journal", at, first)
		for i := 0; err == nil && i < len(sessions); i++ {
			var tested time.Time
			if tested, err = testedAt(filepath.Join(dir, filepath.FromSlash(sessions[i]))); err != nil {
				break
			}
			if at = at.Add(time.Second); at.Before(tested.Add(10 * time.Minute)) {
				at = tested.Add(10 * time.Minute)
			}
			err = stream(b, dir, "Record "+strings.TrimSuffix(filepath.Base(sessions[i]), ".md"), at, sessions[i:i+1])
		}
		if err == nil {
			err = b.Flush()
		}
		write.CloseWithError(err)
	}()
	if err := git(dir, read, "fast-import", "--quiet"); err != nil {
		return err
	}
	if err := git(dir, nil, "reset", "-q"); err != nil {
		return err
	}
	return git(dir, nil, "commit-graph", "write", "--reachable")
}

// testedAt reads when a session was tested.
func testedAt(path string) (time.Time, error) {
	src, err := os.ReadFile(path)
	if err != nil {
		return time.Time{}, err
	}
	_, after, _ := strings.Cut(string(src), "\ntested: ")
	text, _, _ := strings.Cut(after, "\n")
	return time.Parse("2006-01-02T15:04-07:00", text)
}

func stream(w io.Writer, dir, message string, at time.Time, names []string) error {
	who := fmt.Sprintf("Ines Kaldre <ines@quillmarsh.example> %d +0200", at.Unix())
	fmt.Fprintf(w, "commit refs/heads/main\nauthor %s\ncommitter %s\ndata %d\n%s\n", who, who, len(message), message)
	for _, name := range names {
		content, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(w, "M 100644 inline %s\ndata %d\n%s\n", name, len(content), content); err != nil {
			return err
		}
	}
	return nil
}

func git(dir string, in io.Reader, args ...string) error {
	c := exec.Command("git", append([]string{"-C", dir}, args...)...)
	c.Stdin = in
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("git %s: %w: %s", args[0], err, out)
	}
	return nil
}
