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
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// gitStore reads through the git program: plumbing alone, in a quarantine. It
// is given where the repository's objects and references lie by a folder of our
// own, with a configuration of our own. The repository's configuration,
// attributes, hooks and grafts are never read, so nothing that they name can
// run, of any kind; the user's and the system's do not change an answer
// either.
type gitStore struct {
	program string
	dir     string // the quarantine
	env     []string
	refs    string // where branches are files, "" where git alone reads them
	stop    context.CancelFunc
	ctx     context.Context

	mu    sync.Mutex
	batch *batch // for single objects

	graph sync.Mutex
	held  map[string]bool // see graphHolds
}

// openStores are those that are not closed yet.
var openStores struct {
	mu  sync.Mutex
	all map[*gitStore]bool
}

// CloseAll closes what is still open: a program calls it at its end.
func CloseAll() {
	openStores.mu.Lock()
	all := slices.Collect(maps.Keys(openStores.all))
	openStores.mu.Unlock()
	for _, s := range all {
		s.close()
	}
}

// newGitStore makes the quarantine. What is not as Git leaves it, such as a
// pipe in the place of a file, is refused: git would wait for it.
func newGitStore(program string, place Place) (s *gitStore, err error) {
	if err := plainRepository(place); err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "wj-git-")
	if err != nil {
		return nil, fmt.Errorf("read history through git: %w", err)
	}
	s = &gitStore{program: program, dir: dir}
	s.ctx, s.stop = context.WithCancel(context.Background())
	openStores.mu.Lock()
	if openStores.all == nil {
		openStores.all = map[*gitStore]bool{}
	}
	openStores.all[s] = true
	openStores.mu.Unlock()
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	common := dir
	if place.Linked {
		common = filepath.Join(dir, "common")
		if err := errors.Join(os.Mkdir(common, 0o700), os.WriteFile(filepath.Join(dir, "commondir"), []byte("common\n"), 0o600)); err != nil {
			return nil, fmt.Errorf("read history through git: %w", err)
		}
	}
	config := "[core]\n\trepositoryFormatVersion = 1\n\tbare = true\n[extensions]\n\tobjectFormat = " + place.Format + "\n"
	if place.RefFormat != "files" {
		config += "\trefStorage = " + place.RefFormat + "\n"
	}
	if err := os.WriteFile(filepath.Join(common, "config"), []byte(config), 0o600); err != nil {
		return nil, fmt.Errorf("read history through git: %w", err)
	}
	head, err := readRegular(filepath.Join(place.GitDir, "HEAD"))
	if err != nil {
		return nil, fmt.Errorf("read history through git: %w", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "HEAD"), head, 0o600); err != nil {
		return nil, fmt.Errorf("read history through git: %w", err)
	}
	if !place.needsGit() {
		s.refs = place.CommonDir
	}
	links := [][3]string{{place.CommonDir, common, "refs"}, {place.CommonDir, common, "packed-refs"}, {place.CommonDir, common, "shallow"}, {place.CommonDir, common, "reftable"}}
	if place.Linked {
		links = append(links, [3]string{place.GitDir, dir, "reftable"})
		if err := os.WriteFile(filepath.Join(common, "HEAD"), head, 0o600); err != nil {
			return nil, fmt.Errorf("read history through git: %w", err)
		}
	}
	shared, _ := filepath.Glob(filepath.Join(globEscape(place.GitDir), "sharedindex.*"))
	for _, name := range shared {
		links = append(links, [3]string{place.GitDir, dir, filepath.Base(name)})
	}
	for _, l := range links {
		target := filepath.Join(l[0], l[2])
		if _, err := os.Stat(target); err != nil {
			continue
		}
		if err := os.Symlink(target, filepath.Join(l[1], l[2])); err != nil {
			return nil, fmt.Errorf("read history through git: %w", err)
		}
	}
	s.env = append(quietEnvironment(os.Environ()),
		"GIT_DIR="+dir, "GIT_OBJECT_DIRECTORY="+filepath.Join(place.CommonDir, "objects"),
		"HOME="+dir, "XDG_CONFIG_HOME="+dir)
	return s, nil
}

// quietEnvironment is what of the user's environment git is started with, and
// what keeps it from asking, fetching, paging, tracing and replacing.
func quietEnvironment(inherited []string) []string {
	var env []string
	for _, pair := range inherited {
		name, _, _ := strings.Cut(pair, "=")
		if strings.HasPrefix(name, "GIT_") && name != "GIT_EXEC_PATH" || name == "HOME" || name == "XDG_CONFIG_HOME" || strings.HasPrefix(name, "LC_") || name == "LANG" || name == "LANGUAGE" {
			continue
		}
		env = append(env, pair)
	}
	return append(env, "LC_ALL=C", "GIT_CONFIG_NOSYSTEM=1", "GIT_CONFIG_SYSTEM="+os.DevNull, "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_ATTR_NOSYSTEM=1",
		"GIT_NO_REPLACE_OBJECTS=1", "GIT_GRAFT_FILE="+os.DevNull, "GIT_NO_LAZY_FETCH=1", "GIT_ALLOW_PROTOCOL=none", "GIT_OPTIONAL_LOCKS=0",
		"GIT_TERMINAL_PROMPT=0", "GIT_LITERAL_PATHSPECS=1", "GIT_PAGER=cat", "GIT_ADVICE=0")
}

// hardened are the settings with which every git is started, though the
// quarantine has no others: a commit-graph file is not believed.
var hardened = []string{"--no-pager", "--no-replace-objects", "-c", "core.commitGraph=false", "-c", "core.fsmonitor=false", "-c", "core.hooksPath=" + os.DevNull,
	"-c", "core.quotePath=false", "-c", "log.showSignature=false", "-c", "log.mailmap=false", "-c", "diff.renames=false", "-c", "protocol.allow=never",
	"-c", "advice.graftFileDeprecated=false"}

func (s *gitStore) command(ctx context.Context, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, s.program, append(append([]string{}, hardened...), args...)...)
	cmd.Dir, cmd.Env, cmd.WaitDelay = s.dir, s.env, killDelay
	return cmd
}

// run gives the output of a git command.
func (s *gitStore) run(ctx context.Context, stdin io.Reader, args ...string) ([]byte, error) {
	var stdout, stderr bytes.Buffer
	cmd := s.command(ctx, args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = stdin, &stdout, &stderr
	if err := cmd.Run(); err != nil {
		return stdout.Bytes(), s.failed(ctx, args[0], err, stderr.String())
	}
	return stdout.Bytes(), nil
}

// failed is the error of a git command that ended with err.
func (s *gitStore) failed(ctx context.Context, verb string, err error, said string) error {
	var exit *exec.ExitError
	switch {
	case ctx.Err() != nil:
		return fmt.Errorf("git %s was stopped: %w", verb, ctx.Err())
	case !errors.As(err, &exit):
		return fmt.Errorf("run git %s: %w", verb, err)
	}
	said = cleanOutput(said)
	reason, hint := errGit, ""
	switch {
	case strings.Contains(said, "unknown repository extension") || strings.Contains(said, "unknown ref storage") || strings.Contains(said, "Expected git repo version"):
		reason, hint = ErrUnsupported, "this git is too old for the kind of the repository: install a newer one"
	case strings.Contains(said, "corrupt") || strings.Contains(said, "inflate") || strings.Contains(said, "hash mismatch") || strings.Contains(said, "bad tree") || strings.Contains(said, "bogus") || strings.Contains(said, "bad object header"):
		reason = ErrCorrupt
	case strings.Contains(said, "unable to read") || strings.Contains(said, "missing") || strings.Contains(said, "bad object") || strings.Contains(said, "Could not read") || strings.Contains(said, "could not be read") || strings.Contains(said, "Failed to traverse") || strings.Contains(said, "not a valid"):
		reason = ErrMissing
	}
	return &Trouble{Reason: reason, Doing: "git " + verb, Output: said, Hint: hint}
}

func (s *gitStore) close() error {
	s.stop()
	openStores.mu.Lock()
	delete(openStores.all, s)
	openStores.mu.Unlock()
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.batch != nil {
		s.batch.end()
		s.batch = nil
	}
	return os.RemoveAll(s.dir)
}

func (s *gitStore) references() ([]Reference, error) {
	out, err := s.run(s.ctx, nil, "for-each-ref", "--format=%(objectname) %(refname)")
	if err != nil {
		return nil, err
	}
	var list []Reference
	for line := range strings.Lines(string(out)) {
		object, name, _ := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
		hash, err := ParseHash(object)
		if err != nil {
			return nil, fmt.Errorf("git for-each-ref: %w", err)
		}
		if !hash.IsZero() {
			list = append(list, Reference{Name: name, Object: hash})
		}
	}
	return list, nil
}

// plainHead is the commit that is checked out where its branch is a file of one name, as after any
// commit: each command asks for it, some several times, and to start git takes longer than most. What
// else there is, packed or symbolic or broken, git reads.
func (s *gitStore) plainHead() (h Hash, ok bool) {
	if s.refs == "" {
		return h, false
	}
	raw, err := readRegular(filepath.Join(s.dir, "HEAD"))
	branch, symbolic := strings.CutPrefix(strings.TrimSuffix(string(raw), "\n"), "ref: ")
	if err != nil || !symbolic || !strings.HasPrefix(branch, "refs/heads/") || !isReferenceName(branch) {
		return h, false
	}
	raw, err = readRegular(filepath.Join(s.refs, filepath.FromSlash(branch)))
	if err != nil || len(raw) != 2*sha1Size+1 {
		return h, false
	}
	h, err = ParseHash(strings.TrimSuffix(string(raw), "\n"))
	return h, err == nil && !h.IsZero()
}

func (s *gitStore) head() (Hash, error) {
	if h, ok := s.plainHead(); ok {
		return h, nil
	}
	out, err := s.run(s.ctx, nil, "rev-parse", "--verify", "--quiet", "--end-of-options", "HEAD")
	if err != nil {
		var trouble *Trouble
		if errors.As(err, &trouble) && trouble.Output == "" {
			return Hash{}, nil // --quiet: there is none
		}
		return Hash{}, err
	}
	return ParseHash(strings.TrimSpace(string(out)))
}

func (s *gitStore) startingWith(digits string) ([]Hash, error) {
	out, err := s.run(s.ctx, nil, "rev-parse", "--disambiguate="+digits)
	if err != nil {
		return nil, err
	}
	var found []Hash
	for word := range strings.FieldsSeq(string(out)) {
		hash, err := ParseHash(word)
		if err != nil {
			return nil, err
		}
		found = append(found, hash)
	}
	return found, nil
}

func (s *gitStore) mergeBases(ctx context.Context, a, b Hash) ([]Hash, error) {
	out, err := s.run(ctx, nil, "merge-base", "--all", a.String(), b.String())
	if err != nil {
		var exit *Trouble
		if errors.Is(err, errGit) && errors.As(err, &exit) && exit.Output == "" {
			return nil, nil // status 1: none
		}
		return nil, err
	}
	var found []Hash
	for word := range strings.FieldsSeq(string(out)) {
		hash, err := ParseHash(word)
		if err != nil {
			return nil, err
		}
		found = append(found, hash)
	}
	return found, nil
}

// batch is one git cat-file --batch.
type batch struct {
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *bufio.Reader
	stderr bytes.Buffer
}

func (s *gitStore) startBatch(ctx context.Context, options ...string) (*batch, error) {
	b := &batch{cmd: s.command(ctx, append([]string{"cat-file", "--batch"}, options...)...)}
	b.cmd.Stderr = &b.stderr
	var err error
	if b.in, err = b.cmd.StdinPipe(); err != nil {
		return nil, fmt.Errorf("run git cat-file: %w", err)
	}
	out, err := b.cmd.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("run git cat-file: %w", err)
	}
	b.out = bufio.NewReaderSize(out, 64<<10)
	if err := b.cmd.Start(); err != nil {
		return nil, fmt.Errorf("run git cat-file: %w", err)
	}
	return b, nil
}

// end closes the process's input and waits for it.
func (b *batch) end() error {
	b.in.Close()
	io.Copy(io.Discard, b.out)
	return b.cmd.Wait()
}

// why is why the process ended before it had answered: at an object that is
// damaged it says so, and where it was killed it says nothing.
func (b *batch) why() error {
	b.in.Close()
	ended := b.cmd.Wait()
	said := cleanOutput(b.stderr.String())
	if said == "" && ended != nil {
		return &Trouble{Reason: errGit, Doing: "git cat-file", Output: ended.Error()}
	}
	return fmt.Errorf("git cat-file ended: %w", errors.Join(ErrCorrupt, errors.New(said)))
}

// next reads the answer to one name: "<name> <kind> <size>\n<content>\n" or
// "<name> missing\n". The content is read into buffer where that is large
// enough. fatal says that the process is of no more use.
func (b *batch) next(name Hash, buffer []byte, limit int64) (k kind, content []byte, fatal bool, err error) {
	line, err := b.out.ReadString('\n')
	if err != nil {
		return "", nil, true, fmt.Errorf("object %s: %w", name, b.why())
	}
	fields := strings.Fields(line)
	if len(fields) == 2 && fields[1] == "missing" {
		return "", nil, false, fmt.Errorf("object %s: %w", name, ErrMissing)
	}
	size, err := strconv.ParseInt(fields[len(fields)-1], 10, 64)
	if len(fields) != 3 || err != nil || fields[0] != name.String() || size < 0 {
		return "", nil, true, fmt.Errorf("object %s: git cat-file said %q: %w", name, cleanOutput(line), ErrCorrupt)
	}
	k = kind(fields[1])
	if size > limit {
		if _, err := io.CopyN(io.Discard, b.out, size+1); err != nil {
			return k, nil, true, fmt.Errorf("object %s: %w", name, err)
		}
		return k, nil, false, tooLarge(name, size, limit)
	}
	if int(size)+1 > cap(buffer) {
		buffer = make([]byte, size+1)
	}
	buffer = buffer[:size+1]
	if _, err := io.ReadFull(b.out, buffer); err != nil {
		return k, nil, true, fmt.Errorf("object %s: %w", name, b.why())
	}
	return k, buffer[:size], false, checkName(name, k, buffer[:size])
}

func (s *gitStore) object(name Hash, limit int64) (kind, []byte, error) {
	if name.IsZero() {
		return "", nil, fmt.Errorf("object %s: %w", name, ErrMissing)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.ctx.Err(); err != nil {
		return "", nil, err
	}
	if s.batch == nil {
		b, err := s.startBatch(s.ctx)
		if err != nil {
			return "", nil, err
		}
		s.batch = b
	}
	_, err := io.WriteString(s.batch.in, name.String()+"\n")
	fatal := err != nil
	var k kind
	var content []byte
	if err == nil {
		k, content, fatal, err = s.batch.next(name, nil, limit)
	}
	if fatal {
		// git ends at an object that is damaged: the next question gets a new one.
		s.batch.cmd.Cancel()
		s.batch.end()
		s.batch = nil
	}
	return k, content, err
}

// objects asks one process of its own for all of them, ahead of the answers.
func (s *gitStore) objects(ctx context.Context, names []Hash, f func(i int, k kind, content []byte, err error) error) error {
	if len(names) == 0 {
		return nil
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stop := context.AfterFunc(s.ctx, cancel)
	defer stop()
	var buffer []byte
	for i := 0; i < len(names); {
		b, err := s.startBatch(ctx, "--buffer")
		if err != nil {
			return err
		}
		go func(rest []Hash) {
			defer b.in.Close()
			w := bufio.NewWriter(b.in)
			for _, name := range rest {
				if _, err := w.WriteString(name.String() + "\n"); err != nil {
					return
				}
			}
			w.Flush()
		}(names[i:])
		for ; i < len(names); i++ {
			k, content, fatal, err := b.next(names[i], buffer, maxObject)
			if ctx.Err() != nil {
				b.cmd.Wait()
				return ctx.Err()
			}
			if cap(content) > cap(buffer) {
				buffer = content
			}
			if err := f(i, k, content, err); err != nil {
				cancel()
				b.cmd.Wait()
				return err
			}
			if fatal { // go on after it with a new process
				i++
				break
			}
		}
		b.cmd.Cancel()
		b.cmd.Wait()
	}
	return nil
}

func (s *gitStore) index(file string, f func(indexed) error) error {
	var stdout, stderr bytes.Buffer
	cmd := s.command(s.ctx, "ls-files", "-t", "--stage", "--debug", "-z")
	cmd.Env = append(slices.Clone(s.env), "GIT_INDEX_FILE="+file)
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if err := cmd.Run(); err != nil {
		return s.failed(s.ctx, "ls-files", err, stderr.String())
	}
	return parseIndex(stdout.Bytes(), f)
}
