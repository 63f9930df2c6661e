package history

import (
	"bufio"
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
	"time"
	"unicode"
)

// ImportStep is one commit of a history that Import writes.
type ImportStep struct {
	When    time.Time // author and committer date, with its offset
	Name    string    // author and committer
	Email   string
	Branch  string            // "" is the main branch; a new branch starts at the main branch
	Merge   string            // the branch that this commit merges into Branch, or ""
	Message string            // subject, blank line, body or trailers
	Write   map[string][]byte // slash paths from the top of the repository, with their content
	Delete  []string
}

// mainBranch is the branch of steps that name none, and the one checked out.
const mainBranch = "main"

// Import makes a new repository in dir, which must not exist or be empty, and
// writes the steps into it in their order, as dated commits of the people
// named. The user's git does it: init, one fast-import, and a checkout of the
// main branch; no hook runs and nothing is signed. A merge brings what its
// branch changed; where both sides changed a file, the step must write it.
//
// Every step is judged before anything is written. The error is ErrNoGit as a
// [*Trouble], or says which step (from 1) cannot be imported; what git began is
// taken away again.
func Import(ctx context.Context, dir string, steps []ImportStep) (err error) {
	var stream bytes.Buffer
	out := bufio.NewWriter(&stream)
	im := importer{out: out, branches: map[string]*importBranch{}}
	for i := range steps {
		if err := im.step(&steps[i]); err != nil {
			return fmt.Errorf("import step %d: %w", i+1, err)
		}
	}
	if im.branches[mainBranch] == nil {
		return errors.New("import a history: it has no commit on the main branch")
	}
	out.WriteString("done\n")
	if err := out.Flush(); err != nil {
		return fmt.Errorf("import a history: %w", err)
	}
	program, err := gitProgram("make a repository in "+dir, "install git")
	if err != nil {
		return err
	}
	made, err := emptyFolder(dir)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.RemoveAll(filepath.Join(dir, ".git"))
			if made {
				os.Remove(dir)
			}
		}
	}()
	if err := makeRepository(ctx, program, dir); err != nil {
		return err
	}
	if err := importGit(ctx, program, dir, &stream, []string{"fast-import", "--quiet", "--done"}); err != nil {
		return err
	}
	return importGit(ctx, program, dir, nil, []string{"reset", "-q", "--hard"})
}

// makeRepository makes the folder an empty repository of the kind that this
// package reads, on the main branch.
func makeRepository(ctx context.Context, program, dir string) error {
	for _, args := range [][]string{
		{"init", "-q"},
		{"symbolic-ref", "HEAD", "refs/heads/" + mainBranch},
		// Sign-offs cover bytes with LF line ends, so the working files have them too.
		{"config", "core.autocrlf", "false"},
	} {
		if err := importGit(ctx, program, dir, nil, args); err != nil {
			return err
		}
	}
	return nil
}

// Begin makes a folder an empty Git repository. Where it lies in one already
// it does nothing, and made is false. The error is a [*Trouble].
func Begin(ctx context.Context, dir string) (made bool, err error) {
	if _, err = Find(dir); err == nil {
		return false, nil
	}
	if !errors.Is(err, ErrNoRepository) {
		return false, err
	}
	program, err := gitProgram("make a repository in "+dir, "install git")
	if err != nil {
		return false, err
	}
	return true, makeRepository(ctx, program, dir)
}

// emptyFolder makes dir where it is missing and refuses one that holds
// anything.
func emptyFolder(dir string) (made bool, err error) {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		if err := os.MkdirAll(dir, 0o777); err != nil {
			return false, fmt.Errorf("make a repository: %w", err)
		}
		return true, nil
	case err != nil:
		return false, fmt.Errorf("make a repository in %s: %w", dir, err)
	case len(entries) > 0:
		return false, fmt.Errorf("make a repository in %s: the folder is not empty (it holds %s); name a new one", dir, entries[0].Name())
	}
	return false, nil
}

// importGit runs one git command in dir. Variables that point git to another
// repository are left out, since a hook of that one may have started us; the
// kinds of repository that this package cannot read are turned off.
func importGit(ctx context.Context, program, dir string, input io.Reader, args []string) error {
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Dir, cmd.Stdin = dir, input
	for _, v := range os.Environ() {
		name, _, _ := strings.Cut(v, "=")
		switch name {
		case "GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_OBJECT_DIRECTORY", "GIT_ALTERNATE_OBJECT_DIRECTORIES", "GIT_COMMON_DIR", "GIT_NAMESPACE", "GIT_PREFIX":
		default:
			cmd.Env = append(cmd.Env, v)
		}
	}
	cmd.Env = append(cmd.Env, "GIT_DEFAULT_HASH=sha1", "GIT_DEFAULT_REF_FORMAT=files", "LC_ALL=C")
	var output bytes.Buffer
	cmd.Stdout, cmd.Stderr = &output, &output
	if err := cmd.Run(); err != nil {
		if ctx.Err() != nil {
			err = ctx.Err()
		} else {
			err = errGit
		}
		return &Trouble{Reason: err, Doing: "run git " + args[0] + " in " + dir, Output: cleanOutput(output.String())}
	}
	return nil
}

// importBranch is a branch while its history is written.
type importBranch struct {
	mark int               // its last commit
	tree map[string]string // path → content
	base map[string]string // the tree that it and the main branch last had in common
}

// importer turns steps into the stream that git-fast-import(1) reads.
type importer struct {
	out      *bufio.Writer
	branches map[string]*importBranch
	marks    int
}

func (im *importer) step(s *ImportStep) error {
	if err := s.check(); err != nil {
		return err
	}
	name := s.Branch
	if name == "" {
		name = mainBranch
	}
	b, from := im.branches[name], 0
	switch main := im.branches[mainBranch]; {
	case b != nil:
		from = b.mark
	case name == mainBranch:
		b = &importBranch{tree: map[string]string{}}
		im.branches[name] = b
	case main == nil:
		return fmt.Errorf("branch %s would start before the main branch has a commit", name)
	default:
		b = &importBranch{tree: maps.Clone(main.tree), base: maps.Clone(main.tree)}
		im.branches[name], from = b, main.mark
	}
	after := maps.Clone(b.tree)
	merged, err := im.merge(s, name, b, after)
	if err != nil {
		return err
	}
	for p, content := range s.Write {
		after[p] = string(content)
	}
	for _, p := range s.Delete {
		if _, ok := after[p]; !ok {
			return fmt.Errorf("delete %s: it is not there", p)
		}
		delete(after, p)
	}
	if err := noFileInFile(after); err != nil {
		return err
	}
	im.marks++
	im.commit(s, name, from, merged, b.tree, after)
	b.mark, b.tree = im.marks, after
	return nil
}

// merge applies to after what the merged branch changed since the two last had
// a tree in common, and gives its last commit.
func (im *importer) merge(s *ImportStep, name string, b *importBranch, after map[string]string) (mark int, err error) {
	if s.Merge == "" {
		return 0, nil
	}
	other := im.branches[s.Merge]
	switch {
	case other == nil:
		return 0, fmt.Errorf("merge %s: there is no such branch yet", s.Merge)
	case s.Merge == name:
		return 0, fmt.Errorf("merge %s: it cannot be merged into itself", s.Merge)
	case name != mainBranch && s.Merge != mainBranch:
		return 0, fmt.Errorf("merge %s into %s: one of the two must be %s", s.Merge, name, mainBranch)
	}
	side := other
	if s.Merge == mainBranch {
		side = b
	}
	changed := map[string]bool{}
	for p, content := range other.tree {
		if was, ok := side.base[p]; !ok || was != content {
			changed[p] = true
		}
	}
	for p := range side.base {
		if _, ok := other.tree[p]; !ok {
			changed[p] = true
		}
	}
	for p := range changed {
		theirs, isTheirs := other.tree[p]
		ours, isOurs := b.tree[p]
		was, wasThere := side.base[p]
		_, settled := s.Write[p]
		if (isOurs != wasThere || ours != was) && (isOurs != isTheirs || ours != theirs) && !settled && !slices.Contains(s.Delete, p) {
			return 0, fmt.Errorf("merge %s: both sides changed %s, so the merge must write it", s.Merge, p)
		}
		switch {
		case isTheirs:
			after[p] = theirs
		case isOurs && !slices.Contains(s.Delete, p):
			delete(after, p)
		}
	}
	side.base = maps.Clone(other.tree)
	return other.mark, nil
}

// check refuses what git would not take, or would take for something else.
func (s *ImportStep) check() error {
	for _, text := range []struct{ what, value string }{{"name", s.Name}, {"e-mail address", s.Email}} {
		if strings.TrimSpace(text.value) == "" || strings.ContainsAny(text.value, "<>") || strings.ContainsFunc(text.value, unicode.IsControl) {
			return fmt.Errorf("%q is no %s of a committer", text.value, text.what)
		}
	}
	for _, branch := range []string{s.Branch, s.Merge} {
		if !plainBranch(branch) {
			return fmt.Errorf("%q is no name of a branch", branch)
		}
	}
	if s.When.Unix() <= 0 {
		return fmt.Errorf("the date %s is before 1970", s.When.Format(time.RFC3339))
	}
	if strings.TrimSpace(s.Message) == "" || strings.ContainsRune(s.Message, 0) {
		return errors.New("the message is empty or holds a NUL byte")
	}
	for _, p := range append(slices.Collect(maps.Keys(s.Write)), s.Delete...) {
		if p == "." || path.Clean(p) != p || path.IsAbs(p) || strings.HasPrefix(p, "../") || p == ".." || strings.ContainsFunc(p, unicode.IsControl) || strings.ContainsAny(p, `\:`) {
			return fmt.Errorf("%q is no path inside the repository", p)
		}
		for _, part := range strings.Split(p, "/") {
			if strings.EqualFold(part, ".git") {
				return fmt.Errorf("%q lies in the repository's own folder", p)
			}
		}
	}
	return nil
}

// plainBranch is narrower than git-check-ref-format(1): letters, digits and
// -_/. in parts that neither begin nor end with a dot. "" is allowed.
func plainBranch(name string) bool {
	if name == "" {
		return true
	}
	for _, part := range strings.Split(name, "/") {
		if part == "" || part[0] == '.' || part[0] == '-' || strings.HasSuffix(part, ".") || strings.HasSuffix(part, ".lock") || strings.Contains(part, "..") {
			return false
		}
		for _, r := range part {
			if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-_.", r) {
				return false
			}
		}
	}
	return name != "HEAD"
}

// noFileInFile refuses a path that needs a folder where a file is: git would
// drop the file without a word.
func noFileInFile(tree map[string]string) error {
	for p := range tree {
		for up := path.Dir(p); up != "."; up = path.Dir(up) {
			if _, ok := tree[up]; ok {
				return fmt.Errorf("%s needs a folder where the file %s is", p, up)
			}
		}
	}
	return nil
}

func (im *importer) commit(s *ImportStep, branch string, from, merged int, before, after map[string]string) {
	w := im.out
	who := fmt.Sprintf("%s <%s> %d %s", s.Name, s.Email, s.When.Unix(), s.When.Format("-0700"))
	message := strings.TrimSpace(strings.ReplaceAll(s.Message, "\r\n", "\n")) + "\n"
	fmt.Fprintf(w, "commit refs/heads/%s\nmark :%d\nauthor %s\ncommitter %s\ndata %d\n%s\n", branch, im.marks, who, who, len(message), message)
	if from > 0 {
		fmt.Fprintf(w, "from :%d\n", from)
	}
	if merged > 0 {
		fmt.Fprintf(w, "merge :%d\n", merged)
	}
	for _, p := range slices.Sorted(maps.Keys(before)) {
		if _, ok := after[p]; !ok {
			fmt.Fprintf(w, "D %s\n", quotedPath(p))
		}
	}
	for _, p := range slices.Sorted(maps.Keys(after)) {
		if was, ok := before[p]; ok && was == after[p] {
			continue
		}
		fmt.Fprintf(w, "M 100644 inline %s\ndata %d\n", quotedPath(p), len(after[p]))
		w.WriteString(after[p])
		w.WriteByte('\n')
	}
	w.WriteByte('\n')
}

func quotedPath(p string) string { return `"` + strings.ReplaceAll(p, `"`, `\"`) + `"` }
