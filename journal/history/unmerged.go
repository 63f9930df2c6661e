package history

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Unmerged is a file that a merge, rebase or cherry-pick could not decide, with
// what each side has; nil where a side does not have it.
type Unmerged struct {
	Path               string // in the journal
	Base, Ours, Theirs []byte
}

// ReadUnmerged gives the journal's files with conflicts, as the index holds
// them, in the order of their paths.
func ReadUnmerged(ctx context.Context, dir string) ([]Unmerged, error) {
	g, place, err := gitAt(dir, "read what is not merged")
	if err != nil {
		return nil, err
	}
	list, err := g.ask(ctx, "", "ls-files", "-t", "--unmerged", "--full-name", "-z")
	if err != nil {
		return nil, err
	}
	var out []Unmerged
	err = parseIndex([]byte(list), func(e indexed) error {
		name, inside := within(place.Prefix, e.name)
		if !inside || e.stage < 1 || e.stage > 3 {
			return nil
		}
		content, err := g.ask(ctx, "", "cat-file", "blob", e.hash.String())
		if err != nil {
			return err
		}
		if len(out) == 0 || out[len(out)-1].Path != name {
			out = append(out, Unmerged{Path: name})
		}
		u := &out[len(out)-1]
		*[]*[]byte{&u.Base, &u.Ours, &u.Theirs}[e.stage-1] = []byte(content)
		return nil
	})
	return out, err
}

// Brought lists the journal's files that one side of a merge under way added or
// changed since the two parted: of HEAD, or with theirs of what is merged.
func Brought(ctx context.Context, dir string, theirs bool) ([]string, error) {
	g, place, err := gitAt(dir, "read what is merged")
	if err != nil {
		return nil, err
	}
	other := ""
	for _, name := range []string{"MERGE_HEAD", "REBASE_HEAD", "CHERRY_PICK_HEAD"} {
		if _, err := g.ask(ctx, "", "rev-parse", "--quiet", "--verify", name+"^{commit}"); err == nil {
			other = name
			break
		}
	}
	if other == "" {
		return nil, &Trouble{Reason: ErrRevision, Doing: "read what is merged", Hint: "no merge is under way"}
	}
	spec := "HEAD..." + other // what the second brings since the two parted
	if !theirs {
		spec = other + "...HEAD"
	}
	list, err := g.ask(ctx, "", "diff", "--name-only", "--no-renames", "--no-ext-diff", "--no-textconv", "--diff-filter=AM", "-z", spec)
	if err != nil {
		return nil, err
	}
	var out []string
	for full := range strings.SplitSeq(list, "\x00") {
		if name, inside := within(place.Prefix, full); inside {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out, nil
}

// MarkResolved puts files of the working tree into the index, as git add does.
func MarkResolved(ctx context.Context, dir string, paths []string) error {
	g, place, err := gitAt(dir, "mark as resolved")
	if err != nil || len(paths) == 0 {
		return err
	}
	specs, err := pathspecs(place, paths)
	if err != nil {
		return err
	}
	_, err = g.run(ctx, "", append([]string{"add", "--"}, specs...))
	return err
}

// SetMergeDriver names a program that merges the journal's records, in the
// configuration and the attributes of this copy alone: neither is a file of the
// journal. command has git's placeholders %O %A %B %P.
func SetMergeDriver(ctx context.Context, dir, name, title, command string, patterns []string) error {
	g, place, err := gitAt(dir, "set the merge driver")
	if err != nil {
		return err
	}
	for key, value := range map[string]string{"name": title, "driver": command} {
		if _, err := g.run(ctx, "", []string{"config", "--local", "merge." + name + "." + key, value}); err != nil {
			return err
		}
	}
	folder := filepath.Join(place.CommonDir, "info")
	file := filepath.Join(folder, "attributes")
	old, err := os.ReadFile(file)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("set the merge driver: %w", err)
	}
	text := string(old)
	if text != "" && !strings.HasSuffix(text, "\n") {
		text += "\n"
	}
	for _, p := range patterns {
		if place.Prefix != "" {
			p = place.Prefix + "/" + p
		}
		line := strings.ReplaceAll(p, " ", "?") + " merge=" + name + "\n"
		if !strings.Contains("\n"+text, "\n"+line) {
			text += line
		}
	}
	if text == string(old) {
		return nil
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return fmt.Errorf("set the merge driver: %w", err)
	}
	if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
		return fmt.Errorf("set the merge driver: %w", err)
	}
	return nil
}

// gitAt is the user's git in the repository of a journal.
func gitAt(dir, doing string) (gitCommand, Place, error) {
	place, err := Find(dir)
	if err != nil {
		return gitCommand{}, place, err
	}
	program, err := gitProgram(doing, "install git")
	return gitCommand{program: program, place: place}, place, err
}
