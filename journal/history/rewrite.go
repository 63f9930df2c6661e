package history

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Rewriting says how one history is made of another.
type Rewriting struct {
	// Path says which files of the journal go along, and under which path.
	Path func(path string) (to string, ok bool)
	// Content makes the new content of a version of a file that goes along; false
	// leaves this version out, and what was there before stands.
	Content func(path string, content []byte) ([]byte, bool)
	// Commit says who made a commit, and its message. changed are the new paths of
	// what it changed; others says that it changed files that do not go along.
	Commit func(r Revision, changed []string, others bool) (author, committer Person, message string)
	// Extra are files that the first commit has besides.
	Extra map[string][]byte
}

// MakeEmpty makes a new, empty repository in dir, which must not exist or be empty.
// undo takes away what was made.
func MakeEmpty(ctx context.Context, dir string) (undo func(), err error) {
	program, err := gitProgram("make a repository in "+dir, "install git")
	if err != nil {
		return nil, err
	}
	made, err := emptyFolder(dir)
	if err != nil {
		return nil, err
	}
	undo = func() {
		entries, _ := os.ReadDir(dir)
		for _, e := range entries {
			_ = os.RemoveAll(filepath.Join(dir, e.Name()))
		}
		if made {
			_ = os.Remove(dir)
		}
	}
	if err = makeRepository(ctx, program, dir); err != nil {
		undo()
	}
	return undo, err
}

// Rewrite writes the history of a commit anew, with other contents, into the
// repository of the folder into, under the reference ref. Each commit keeps its
// dates, and its parents as they become; one that changed nothing that goes along is
// left out. Signatures of commits do not hold for other contents and are left out. It
// gives the new commit of each old one: of one that was left out, that of its first
// parent, and none where nothing was there yet. The user's git writes, in one
// fast-import.
func (h *History) Rewrite(ctx context.Context, tip Hash, into, ref string, rw Rewriting) (map[Hash]Hash, error) {
	program, err := gitProgram("write a history in "+into, "install git")
	if err != nil {
		return nil, err
	}
	var steps []Step
	walked, err := h.Walk(ctx, tip, WalkOptions{}, func(s Step) error { steps = append(steps, s); return nil })
	switch {
	case err != nil:
		return nil, fmt.Errorf("read the history: %w", err)
	case walked.Stopped != "":
		return nil, fmt.Errorf("read the history: %s", walked.Stopped)
	case walked.Shallow:
		return nil, &Trouble{Reason: errors.New("this copy is shallow"), Doing: "read the history", Hint: "git fetch --unshallow"}
	}
	slices.Reverse(steps)
	marks, err := os.CreateTemp("", "wj-marks-*")
	if err != nil {
		return nil, fmt.Errorf("write a history: %w", err)
	}
	defer os.Remove(marks.Name())
	if err := marks.Close(); err != nil {
		return nil, fmt.Errorf("write a history: %w", err)
	}
	r := &rewriter{h: h, rw: rw, ref: ref, marks: map[Hash]int{}, parents: [][]int{nil}}
	from, to := io.Pipe()
	written := make(chan error, 1)
	go func() {
		r.out = bufio.NewWriterSize(to, 64<<10)
		err := r.all(steps, tip)
		if err == nil {
			r.out.WriteString("done\n")
			err = r.out.Flush()
		}
		_ = to.CloseWithError(err)
		written <- err
	}()
	imported := importGit(ctx, program, into, from, []string{"fast-import", "--quiet", "--done", "--export-marks=" + marks.Name()})
	_ = from.CloseWithError(errors.New("git has stopped reading"))
	if err := <-written; err != nil && imported == nil || err != nil && !errors.Is(err, io.ErrClosedPipe) && !strings.Contains(err.Error(), "git has stopped") {
		return nil, err
	}
	if imported != nil {
		return nil, imported
	}
	return r.names(marks.Name())
}

// names reads which mark became which commit.
func (r *rewriter) names(file string) (map[Hash]Hash, error) {
	marks, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("read what git wrote: %w", err)
	}
	list := map[int]Hash{}
	for line := range strings.Lines(string(marks)) {
		mark, name, _ := strings.Cut(strings.TrimPrefix(strings.TrimSpace(line), ":"), " ")
		n, err := strconv.Atoi(mark)
		if err != nil {
			return nil, fmt.Errorf("read what git wrote: %w", err)
		}
		if list[n], err = ParseHash(name); err != nil {
			return nil, err
		}
	}
	out := map[Hash]Hash{}
	for old, mark := range r.marks {
		if mark > 0 {
			out[old] = list[mark]
		}
	}
	return out, nil
}

type rewriter struct {
	h       *History
	rw      Rewriting
	ref     string
	out     *bufio.Writer
	marks   map[Hash]int // the new commit of each old one; 0: nothing yet
	parents [][]int      // by mark
}

func (r *rewriter) all(steps []Step, tip Hash) error {
	for i := range steps {
		if err := r.step(&steps[i]); err != nil {
			return err
		}
		steps[i] = Step{} // its memory is not needed any more
	}
	if r.marks[tip] == 0 {
		return errors.New("write a history: no commit of it has anything that goes along")
	}
	_, err := fmt.Fprintf(r.out, "reset %s\nfrom :%d\n\n", r.ref, r.marks[tip])
	return err
}

func (r *rewriter) step(s *Step) error {
	var parents []int
	var first Hash // the old parent that the new first parent is of
	for _, p := range s.Parents {
		if m := r.marks[p]; m > 0 && !slices.ContainsFunc(parents, func(n int) bool { return r.reaches(n, m) }) {
			if parents = append(parents, m); len(parents) == 1 {
				first = p
			}
		}
	}
	changes := s.Changes
	if len(s.Parents) > 1 {
		if first.IsZero() {
			first = s.Parents[0]
		}
		var err error
		if changes, err = r.h.Diff(first, s.Hash); err != nil {
			return fmt.Errorf("read commit %s: %w", s.Hash.Short(), err)
		}
	}
	var body strings.Builder
	var changed []string
	others := false
	remove := func(p string) {
		if to, ok := r.rw.Path(p); ok {
			fmt.Fprintf(&body, "D %s\n", quotedPath(to))
			changed = append(changed, to)
		} else {
			others = true
		}
	}
	for _, c := range changes {
		if c.Kind == Deleted {
			remove(c.Path)
			continue
		}
		if c.Kind == Renamed {
			remove(c.From)
		}
		to, ok := r.rw.Path(c.Path)
		if !ok {
			others = true
			continue
		}
		content, same, ok, err := r.content(c)
		if err != nil {
			return err
		}
		if !ok || same {
			others = true
			continue
		}
		changed = append(changed, to)
		fmt.Fprintf(&body, "M 100644 inline %s\ndata %d\n%s\n", quotedPath(to), len(content), content)
	}
	if len(changed) == 0 && len(parents) < 2 {
		r.marks[s.Hash] = 0
		if len(parents) == 1 {
			r.marks[s.Hash] = parents[0]
		}
		return nil
	}
	if len(parents) == 0 && r.rw.Extra != nil {
		for to, content := range r.rw.Extra {
			fmt.Fprintf(&body, "M 100644 inline %s\ndata %d\n%s\n", quotedPath(to), len(content), content)
		}
	}
	author, committer, message := r.rw.Commit(s.Revision, changed, others)
	mark := len(r.parents)
	r.parents, r.marks[s.Hash] = append(r.parents, parents), mark
	message = strings.TrimSpace(strings.ReplaceAll(message, "\x00", "")) + "\n"
	if len(parents) == 0 { // else git takes the commit before as its parent
		fmt.Fprintf(r.out, "reset %s\n\n", r.ref)
	}
	fmt.Fprintf(r.out, "commit %s\nmark :%d\nauthor %s\ncommitter %s\ndata %d\n%s\n", r.ref, mark, identLineOf(author), identLineOf(committer), len(message), message)
	for i, p := range parents {
		fmt.Fprintf(r.out, "%s :%d\n", map[bool]string{true: "from", false: "merge"}[i == 0], p)
	}
	r.out.WriteString(body.String())
	return r.out.WriteByte('\n')
}

// content is what becomes of a version, and whether it is as it was before.
func (r *rewriter) content(c Change) (content []byte, same, ok bool, err error) {
	src, err := r.h.Blob(c.After)
	if err != nil {
		return nil, false, false, fmt.Errorf("read %s: %w", c.Path, err)
	}
	content, ok = r.rw.Content(c.Path, src)
	if !ok || c.Kind != Modified || c.Before.IsZero() {
		return content, false, ok, nil
	}
	if src, err = r.h.Blob(c.Before); err != nil {
		return nil, false, false, fmt.Errorf("read %s: %w", c.Path, err)
	}
	before, had := r.rw.Content(c.Path, src)
	return content, had && string(before) == string(content), true, nil
}

// reaches reports whether a new commit is another one or descends from it. A
// parent's mark is smaller than its child's.
func (r *rewriter) reaches(from, to int) bool {
	seen := map[int]bool{}
	for list := []int{from}; len(list) > 0; {
		n := list[len(list)-1]
		list = list[:len(list)-1]
		if n == to {
			return true
		}
		if n > to && !seen[n] {
			seen[n] = true
			list = append(list, r.parents[n]...)
		}
	}
	return false
}

// identLineOf is a person as fast-import reads one.
func identLineOf(p Person) string {
	clean := func(s string) string {
		return strings.TrimSpace(strings.Map(func(c rune) rune {
			if c == '<' || c == '>' || c < ' ' {
				return -1
			}
			return c
		}, s))
	}
	name := clean(p.Name)
	if name != "" {
		name += " "
	}
	return fmt.Sprintf("%s<%s> %d %s", name, clean(p.Email), max(0, p.When.Unix()), p.When.Format("-0700"))
}

// CheckOut fills the folder of a repository with the files of its branch.
func CheckOut(ctx context.Context, dir string) error {
	program, err := gitProgram("check out "+dir, "install git")
	if err != nil {
		return err
	}
	return importGit(ctx, program, dir, nil, []string{"reset", "-q", "--hard"})
}
