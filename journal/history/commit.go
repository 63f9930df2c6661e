package history

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"strings"
	"time"
	"unicode"
)

// Trailer is one "Key: value" line at the end of a commit message.
type Trailer struct {
	Key   string // letters, digits and hyphens
	Value string // one line; inner line breaks become spaces
}

const (
	// lockPatience is how long one and the same lock is waited for: it is either
	// a hook that takes its time or a lock that a crashed program left behind.
	lockPatience = 10 * time.Second
	// lockTotal bounds the whole wait where many programs take turns.
	lockTotal = 2 * time.Minute
)

// killDelay is what git gets to remove its locks after being asked to stop; tests do not
// wait as long.
var killDelay = 5 * time.Second

// Commit records the files paths (relative to dir, slash-separated, or
// absolute; a deleted file is recorded as deleted) in one commit on the
// checked-out branch and gives the commit's full hash. Other changes, staged or
// not, stay as they are. It is made by the user's own git: hooks, identity,
// signing, attributes and locks are honoured, and while another program holds a
// lock the commit is tried again.
//
// The error is a [*Trouble] whose reason is ErrNoGit, ErrNoRepository,
// ErrMidway, ErrIdentity, ErrHook, ErrSigning, ErrLocked, ErrForeignOwner,
// ErrIgnored or ErrUnchanged; the files themselves are never touched.
func Commit(ctx context.Context, dir string, paths []string, message string, trailers []Trailer) (string, error) {
	return commitBy(ctx, dir, paths, message, trailers, func(g gitCommand, specs []string, text string) (string, error) {
		return g.record(ctx, specs, text)
	})
}

// readyPlace is the place of dir in a repository in which nothing is left half done.
func readyPlace(dir string) (Place, error) {
	place, err := Find(dir)
	if err == nil && place.State != "" {
		err = midway(place.State)
	}
	return place, err
}

// commitBy takes its turn and makes attempts until one is not stopped by a lock.
func commitBy(ctx context.Context, dir string, paths []string, message string, trailers []Trailer, attempt func(g gitCommand, specs []string, text string) (string, error)) (string, error) {
	text, err := commitMessage(message, trailers)
	if err != nil {
		return "", err
	}
	place, err := readyPlace(dir)
	if err != nil {
		return "", err
	}
	specs, err := pathspecs(place, paths)
	if err != nil {
		return "", err
	}
	program, err := gitProgram("commit "+strings.Join(paths, ", "), "the file is written; install git, or commit it by other means")
	if err != nil {
		return "", err
	}
	g := gitCommand{program: program, place: place}

	started, pause := time.Now(), 4*time.Millisecond
	waiting, stopWaiting := context.WithTimeout(ctx, lockTotal)
	defer stopWaiting()
	endTurn, err := takeTurn(waiting, place)
	if err != nil {
		return "", err
	}
	defer endTurn()
	var held os.FileInfo
	heldSince := started
	for {
		hash, err := attempt(g, specs, text)
		if !errors.Is(err, ErrLocked) && !errors.Is(err, errForgotten) || time.Since(started) > lockTotal {
			return hash, err
		}
		var trouble *Trouble
		if errors.As(err, &trouble) {
			lock, statErr := os.Lstat(lockNamed(trouble.Output))
			if statErr != nil || held == nil || !os.SameFile(lock, held) || !lock.ModTime().Equal(held.ModTime()) {
				held, heldSince = lock, time.Now()
			}
			if statErr == nil && time.Since(heldSince) > patience(lock) {
				return "", stillLocked(trouble, specs)
			}
		}
		// Jitter keeps programs that wait for each other out of step.
		select {
		case <-ctx.Done():
			return "", fmt.Errorf("commit while the repository is locked: %w", errors.Join(ctx.Err(), err))
		case <-time.After(pause/2 + rand.N(pause)):
		}
		pause = min(pause*3/2, 100*time.Millisecond)
	}
}

// commitMessage joins message and trailers as git-interpret-trailers(1) reads
// them: the trailers are the last paragraph.
func commitMessage(message string, trailers []Trailer) (string, error) {
	message = strings.TrimSpace(strings.ReplaceAll(message, "\r\n", "\n"))
	if message == "" {
		return "", errors.New("commit: the message is empty")
	}
	if strings.ContainsRune(message, 0) {
		return "", errors.New("commit: the message holds a NUL byte")
	}
	var b strings.Builder
	b.WriteString(message)
	b.WriteByte('\n')
	for i, t := range trailers {
		if !trailerKey().MatchString(t.Key) {
			return "", fmt.Errorf("commit: trailer key %q is not made of letters, digits and hyphens", t.Key)
		}
		value := strings.Join(strings.FieldsFunc(t.Value, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
		if value == "" {
			return "", fmt.Errorf("commit: trailer %s has no value", t.Key)
		}
		if i == 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s: %s\n", t.Key, value)
	}
	return b.String(), nil
}

var trailerKey = pattern(`^[A-Za-z0-9][A-Za-z0-9-]*$`)

// literally makes a pathspec mean exactly one file from the top of the working
// tree: neither a leading "-" nor "*" nor ":" then has a meaning.
// (GIT_LITERAL_PATHSPECS would do the same, but hooks inherit it.)
const literally = ":(top,literal)"

// pathspecs turns paths into pathspecs of files inside the journal.
func pathspecs(place Place, paths []string) ([]string, error) {
	if len(paths) == 0 {
		return nil, errors.New("commit: no file is named")
	}
	var specs []string
	for _, name := range paths {
		full := filepath.FromSlash(name)
		if !filepath.IsAbs(full) {
			full = filepath.Join(place.Journal, full)
		} else if real, err := realPath(filepath.Dir(full)); err == nil {
			full = filepath.Join(real, filepath.Base(full))
		}
		rel, err := filepath.Rel(place.Journal, full)
		rel = path.Clean(filepath.ToSlash(rel))
		if err != nil || rel == "." || rel == ".." || strings.HasPrefix(rel, "../") {
			return nil, fmt.Errorf("commit %s: not a file inside the journal %s", name, place.Journal)
		}
		if info, err := os.Lstat(full); err == nil && info.IsDir() {
			return nil, fmt.Errorf("commit %s: is a folder, name its files", name)
		}
		specs = append(specs, literally+path.Join(place.Prefix, rel))
	}
	return specs, nil
}

// gitCommand runs the user's git in one repository.
type gitCommand struct {
	program string
	place   Place
	index   string // where it is not git's own
}

// record makes one attempt. Untracked files are made known first (git commit
// --only refuses them otherwise); tracked ones must not be, since git add -N
// would forget what is staged for them.
func (g gitCommand) record(ctx context.Context, specs []string, text string) (string, error) {
	known, err := g.run(ctx, "", append([]string{"ls-files", "-z", "--full-name", "--"}, specs...))
	if err != nil {
		return "", err
	}
	var unknown []string
	tracked := map[string]bool{}
	for name := range strings.SplitSeq(known, "\x00") {
		tracked[name] = true
	}
	for _, spec := range specs {
		name := strings.TrimPrefix(spec, literally)
		if tracked[name] {
			continue
		}
		if _, err := os.Lstat(filepath.Join(g.place.Top, filepath.FromSlash(name))); err != nil {
			return "", fmt.Errorf("commit %s: neither a file nor one that git knows: %w", name, fs.ErrNotExist)
		}
		unknown = append(unknown, spec)
	}
	if len(unknown) > 0 {
		if _, err := g.run(ctx, "", append([]string{"add", "-N", "--"}, unknown...)); err != nil {
			return "", err
		}
	}
	// The summary line is the only answer that names this commit and not one that
	// another program added a moment later; abbrev makes it name it in full.
	// Should another git have forgotten the file meanwhile (see takeTurn), it is
	// made known again.
	out, err := g.run(ctx, text, append([]string{"-c", "core.abbrev=" + g.hashLength(), "commit", "--only", "--cleanup=whitespace", "--file=-", "--"}, specs...))
	if err != nil {
		return "", err
	}
	if m := committed().FindStringSubmatch(out); m != nil {
		return m[1], nil
	}
	out, err = g.run(ctx, "", []string{"rev-parse", "--verify", "--end-of-options", "HEAD"})
	return strings.TrimSpace(out), err
}

// committed matches "[main 1f2e…] subject", "[main (root-commit) 1f2e…] …" and
// "[detached HEAD 1f2e…] …" (git-commit, print_commit_summary).
var committed = pattern(`(?m)^\[(?:detached HEAD|\S+)(?: \(root-commit\))? ([0-9a-f]{40}|[0-9a-f]{64})\] `)

func (g gitCommand) hashLength() string {
	if g.place.Format == "sha256" {
		return "64"
	}
	return "40"
}

// run starts git once and gives its standard output.
func (g gitCommand) run(ctx context.Context, stdin string, args []string) (string, error) {
	cmd := exec.CommandContext(ctx, g.program, args...)
	cmd.Dir = g.place.Top
	cmd.Env = environment(os.Environ(), g.place.explicit)
	if g.place.explicit {
		cmd.Env = append(cmd.Env, "GIT_DIR="+g.place.GitDir, "GIT_WORK_TREE="+g.place.Top)
	}
	if g.index != "" {
		cmd.Env = append(cmd.Env, "GIT_INDEX_FILE="+g.index)
	}
	cmd.Stdin = strings.NewReader(stdin)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	// A killed git leaves its lock behind; an interrupted one removes it.
	cmd.Cancel = func() error {
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			return cmd.Process.Kill()
		}
		return nil
	}
	cmd.WaitDelay = killDelay
	// A hook may leave a program behind that holds the output open: git itself
	// has then ended well.
	if err := cmd.Run(); err != nil && !errors.Is(err, exec.ErrWaitDelay) {
		if ctx.Err() != nil {
			return "", fmt.Errorf("git was stopped: %w", ctx.Err())
		}
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			return "", fmt.Errorf("run git: %w", err)
		}
		return "", g.explain(ctx, args, stdout.String(), stderr.String(), exit.ExitCode())
	}
	return stdout.String(), nil
}

// environment makes git's messages English, so that they can be distinguished,
// without changing the character set that hooks work in. Variables that would
// lead git to another repository or change what a pathspec means are dropped.
func environment(inherited []string, explicit bool) []string {
	drop := map[string]bool{
		"LC_ALL": true, "LC_MESSAGES": true, "LANGUAGE": true, "GIT_DIR": true, "GIT_WORK_TREE": true,
		"GIT_LITERAL_PATHSPECS": true, "GIT_GLOB_PATHSPECS": true, "GIT_NOGLOB_PATHSPECS": true, "GIT_ICASE_PATHSPECS": true,
	}
	if !explicit {
		// The other variables local to a repository: git rev-parse --local-env-vars.
		for _, name := range []string{"GIT_COMMON_DIR", "GIT_INDEX_FILE", "GIT_OBJECT_DIRECTORY", "GIT_ALTERNATE_OBJECT_DIRECTORIES", "GIT_PREFIX", "GIT_SHALLOW_FILE", "GIT_NAMESPACE", "GIT_GRAFT_FILE", "GIT_IMPLICIT_WORK_TREE", "GIT_INTERNAL_SUPER_PREFIX"} {
			drop[name] = true
		}
	}
	var env []string
	for _, pair := range inherited {
		name, value, _ := strings.Cut(pair, "=")
		if name == "LC_ALL" && value != "" {
			env = append(env, "LC_CTYPE="+value)
		}
		if !drop[name] {
			env = append(env, pair)
		}
	}
	return append(env, "LC_MESSAGES=C")
}
