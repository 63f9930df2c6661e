package history

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// log runs one git log and, for the bytes of the commits, one git cat-file
// beside it.
func (s *gitStore) log(ctx context.Context, q logQuery, f func(*commit) error) error {
	switch {
	case q.links:
		return s.links(ctx, q, f)
	case !q.simplify && !q.dense:
		return s.logBy(ctx, q, false, f)
	}
	found, err := byGraph(ctx, s, func(graph bool) (all []*commit, err error) {
		err = s.logBy(ctx, q, graph, func(c *commit) error {
			all = append(all, c)
			return nil
		})
		return all, err
	})
	for _, c := range found {
		if err := f(c); err != nil {
			return err
		}
	}
	return err
}

func (s *gitStore) logBy(ctx context.Context, q logQuery, graph bool, f func(*commit) error) error {
	args := []string{}
	if graph {
		// Paths are compared all the same: filters of changed paths are not believed.
		args = append(args, "-c", "core.commitGraph=true", "-c", "commitGraph.readChangedPaths=false", "-c", "commitGraph.changedPathsVersion=0")
	}
	args = append(args, "log", "-z", "--format=%H %T %ct %P", "--no-decorate", "--no-show-signature", "--no-color")
	switch {
	case q.firstParent:
		args = append(args, "--first-parent")
	default:
		args = append(args, "--date-order")
	}
	if q.limit > 0 {
		args = append(args, "--max-count="+strconv.Itoa(q.limit))
	}
	switch {
	case q.changes && q.firstParent:
		args = append(args, "--diff-merges=first-parent", "--raw", "--root", "--no-renames", "--no-abbrev", "--no-ext-diff", "--no-textconv", "--ignore-submodules=none")
	case q.changes:
		args = append(args, "-c", "--raw", "--root", "--no-renames", "--no-abbrev", "--no-ext-diff", "--no-textconv", "--ignore-submodules=none")
	default:
		args = append(args, "--no-patch")
	}
	if len(q.below) > 0 && !q.simplify {
		args = append(args, "--full-history")
		if !q.dense {
			args = append(args, "--sparse")
		}
	}
	args = append(args, "--end-of-options", q.tip.String())
	if !q.exclude.IsZero() {
		args = append(args, "^"+q.exclude.String())
	}
	args = append(append(args, "--"), q.below...)
	if q.named != "" {
		args = append(args, ":(glob)**/"+q.named)
	}

	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stop := context.AfterFunc(s.ctx, cancel)
	defer stop()
	cmd := s.command(ctx, args...)
	if q.named != "" {
		cmd.Env = append(slices.Clone(s.env), "GIT_LITERAL_PATHSPECS=0")
	}
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return fmt.Errorf("run git log: %w", err)
	}
	var contents *batch
	if q.raw {
		if contents, err = s.startBatch(ctx, "--buffer"); err != nil {
			return err
		}
		defer contents.cmd.Wait()
		defer cancel()
	}
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("run git log: %w", err)
	}
	// So many commits are parsed ahead that cat-file never waits for its input
	// while we wait for its output.
	ahead := make(chan *commit, 8192)
	parsed := make(chan error, 1)
	go func() {
		defer close(ahead)
		var names *bufio.Writer
		if contents != nil {
			defer contents.in.Close()
			names = bufio.NewWriterSize(contents.in, 4<<10)
			defer names.Flush()
		}
		parsed <- parseLog(bufio.NewReaderSize(out, 64<<10), func(c *commit) error {
			if names != nil {
				if _, err := names.WriteString(c.name.String() + "\n"); err != nil {
					return err
				}
			}
			select {
			case ahead <- c:
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		})
	}()
	for c := range ahead {
		if contents != nil {
			k, raw, _, err := contents.next(c.name, nil, maxObject)
			if ctx.Err() != nil {
				break
			}
			if err == nil && k != commitKind {
				err = fmt.Errorf("commit %s: is a %s: %w", c.name, k, ErrCorrupt)
			}
			if err != nil {
				return err
			}
			c.raw = raw
		}
		if err := f(c); err != nil {
			cancel()
			<-parsed
			cmd.Wait()
			return err
		}
	}
	err = <-parsed
	waited := cmd.Wait()
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case waited != nil:
		return s.failed(ctx, "log", waited, stderr.String())
	}
	return err
}

// parseLog reads "name tree time parents\0" and, of what a commit changed,
// ":modes names status\0path\0", with as many colons as there are parents.
func parseLog(in *bufio.Reader, f func(*commit) error) error {
	var c *commit
	for {
		token, err := in.ReadSlice(0)
		if errors.Is(err, bufio.ErrBufferFull) {
			rest, err2 := in.ReadBytes(0)
			token, err = append(bytes.Clone(token), rest...), err2
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("read git log: %w", err)
		}
		end := err != nil
		token = bytes.TrimLeft(bytes.TrimSuffix(token, []byte{0}), "\n")
		switch {
		case len(token) == 0:
		case token[0] == ':':
			change, err := parseChange(token)
			if err != nil {
				return err
			}
			path, err := in.ReadString(0)
			if err != nil || c == nil {
				return fmt.Errorf("read git log: cut off: %w", ErrCorrupt)
			}
			change.path = strings.TrimSuffix(path, "\x00")
			if len(c.changes) == maxChanges {
				return fmt.Errorf("more than %d files in one commit: %w", maxChanges, ErrCorrupt)
			}
			c.changes = append(c.changes, change)
		default:
			if c != nil {
				if err := f(c); err != nil {
					return err
				}
			}
			if c, err = parseLogLine(token); err != nil {
				return err
			}
		}
		if end {
			if c != nil {
				return f(c)
			}
			return nil
		}
	}
}

// links runs one git rev-list, which gives "time name parents\n" of each commit; f is
// given the same commit each time.
func (s *gitStore) links(ctx context.Context, q logQuery, f func(*commit) error) error {
	out, err := byGraph(ctx, s, func(graph bool) ([]byte, error) {
		args := []string{"-c", "core.commitGraph=" + strconv.FormatBool(graph), "rev-list", "--parents", "--timestamp", "--date-order", "--end-of-options", q.tip.String()}
		if !q.exclude.IsZero() {
			args = append(args, "^"+q.exclude.String())
		}
		return s.run(ctx, nil, append(args, "--")...)
	})
	if err != nil {
		return err
	}
	var c commit
	for line := range bytes.Lines(out) {
		c.parents = c.parents[:0]
		for i := 0; len(line) > 1; i++ {
			word, rest, _ := bytes.Cut(line, []byte(" "))
			word, line = bytes.TrimSuffix(word, []byte("\n")), rest
			hash, ok := Hash{}, true
			if i == 0 {
				c.when, err = strconv.ParseInt(string(word), 10, 64)
				ok = err == nil
			} else {
				hash, ok = hexHash(word)
			}
			switch {
			case !ok:
				return fmt.Errorf("read git rev-list: %q: %w", cut(word), ErrCorrupt)
			case i == 1:
				c.name = hash
			case i > 1:
				c.parents = append(c.parents, hash)
			}
		}
		if err := f(&c); err != nil {
			return err
		}
	}
	return nil
}

func parseLogLine(line []byte) (*commit, error) {
	c := &commit{}
	for i := 0; len(line) > 0; i++ {
		word, rest, _ := bytes.Cut(line, []byte(" "))
		line = rest
		hash, ok := Hash{}, true
		if i != 2 {
			hash, ok = hexHash(word)
		}
		switch {
		case !ok:
			return nil, fmt.Errorf("read git log: %q: %w", cut(word), ErrCorrupt)
		case i == 0:
			c.name = hash
		case i == 1:
			c.tree = hash
		case i == 2:
			c.when, _ = strconv.ParseInt(string(word), 10, 64)
		default:
			c.parents = append(c.parents, hash)
		}
	}
	return c, nil
}

// parseChange reads ":100644 100644 <name> <name> M": a mode and a name for each
// parent, then those of the commit.
func parseChange(token []byte) (pathChange, error) {
	var c pathChange
	colons := 0
	for colons < len(token) && token[colons] == ':' {
		colons++
	}
	fields := strings.Fields(string(token[colons:]))
	if len(fields) != 2*colons+3 {
		return c, fmt.Errorf("read git log: %q: %w", cut(token), ErrCorrupt)
	}
	entry := func(i int) (treeEntry, error) {
		mode, err := strconv.ParseUint(fields[i], 8, 32)
		hash, ok := hexHash([]byte(fields[colons+1+i]))
		if err != nil || !ok {
			return treeEntry{}, fmt.Errorf("read git log: %q: %w", cut(token), ErrCorrupt)
		}
		return treeEntry{mode: uint32(mode), hash: hash}, nil
	}
	c.before = make([]treeEntry, colons)
	var err error
	for i := range c.before {
		if c.before[i], err = entry(i); err != nil {
			return c, err
		}
	}
	c.after, err = entry(colons)
	return c, err
}
