package writer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"wj/journal"
	"wj/journal/history"
	"wj/journal/merge"
	"wj/journal/safefile"
)

// hooks are the hooks that check what is about to be committed: by a commit,
// and by a merge that had no conflict (githooks(5)).
var hooks = []string{"pre-commit", "pre-merge-commit"}

// hookMark is the line by which a hook is known as ours.
const hookMark = "# Set by wj hook install; wj hook remove takes it away."

// hookText is the pre-commit hook. git runs hooks from the top of the working
// tree (githooks(5)), so the journal's folder is said from there. A program
// that is not on the path of whatever runs git is looked for where it was.
func hookText(name, prefix, program string) string {
	if prefix == "" {
		prefix = "."
	}
	return "#!/bin/sh\n" + hookMark + "\n" +
		"# The records that are about to be committed must have no errors; git commit --no-verify goes round it.\n" +
		"wj=wj\n" +
		"command -v wj >/dev/null 2>&1 || wj=" + ShellQuote(program) + "\n" +
		"command -v \"$wj\" >/dev/null 2>&1 || {\n" +
		"\techo '" + name + ": there is no wj program here, so the records were not checked' >&2\n" +
		"\texit 1\n" +
		"}\n" +
		"exec \"$wj\" -C " + ShellQuote(prefix) + " lint --staged\n"
}

// ShellQuote writes a text as one word of a POSIX shell.
func ShellQuote(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// InstallHook sets the hooks and the merge driver of the journal's repository. A
// hook that somebody else set is left alone. program is this program's file, for where it is not on the path; say
// gets what was done.
func InstallHook(ctx context.Context, root, program string, say func(format string, args ...any)) error {
	place, err := history.Find(root)
	if err != nil {
		return err
	}
	for i, name := range hooks {
		file, own, err := history.HookFile(ctx, root, name)
		if err != nil {
			return err
		}
		text := []byte(hookText(name, place.Prefix, filepath.ToSlash(program)))
		line := "wj -C " + ShellQuote(cmp.Or(place.Prefix, ".")) + " lint --staged || exit 1"
		if !own {
			return journal.Hint("add this line to it yourself: "+line, "%s is shared with other repositories (core.hooksPath)", file)
		}
		old, err := readHook(file)
		switch {
		case err != nil:
			return err
		case old != nil && !strings.Contains(string(old), hookMark):
			return journal.Hint("add this line to it: "+line, "there is a %s hook already, and wj did not set it: %s", name, file)
		case string(old) != string(text):
			if err := safefile.Write(file, old, text); err != nil {
				return fmt.Errorf("set the %s hook: %w", name, err)
			}
		}
		if err := os.Chmod(file, 0o755); err != nil {
			return fmt.Errorf("set the %s hook: %w", name, err)
		}
		if i == 0 {
			say("the hook is set: from now on git checks the records of each commit and merge")
		}
	}
	driver := "wj"
	if _, err := exec.LookPath("wj"); err != nil {
		driver = ShellQuote(filepath.ToSlash(program))
	}
	if err := history.SetMergeDriver(ctx, root, "wj", "water journal records", driver+" merge-driver %O %A %B %P", merge.Patterns()); err != nil {
		return err
	}
	say("the merge driver is set: edits of one record made apart are united where they can be")
	return nil
}

// readHook reads the hook; nil where there is none.
func readHook(file string) ([]byte, error) {
	src, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read the pre-commit hook: %w", err)
	}
	return append([]byte{}, src...), nil
}

// RemoveHook takes the hooks away that InstallHook set.
func RemoveHook(ctx context.Context, root string, say func(format string, args ...any)) error {
	found := false
	for _, name := range hooks {
		file, _, err := history.HookFile(ctx, root, name)
		if err != nil {
			return err
		}
		old, err := readHook(file)
		switch {
		case err != nil:
			return err
		case old == nil:
			continue
		case !strings.Contains(string(old), hookMark):
			return journal.Hint("take out its line with wj lint yourself", "wj did not set the %s hook %s", name, file)
		}
		if err := os.Remove(file); err != nil {
			return fmt.Errorf("remove the %s hook: %w", name, err)
		}
		found = true
		say("the hook is removed (%s)", file)
	}
	if !found {
		say("there is no pre-commit hook")
	}
	return nil
}
