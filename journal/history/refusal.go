package history

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
)

// refusals distinguishes git's reasons by its messages (in the C locale; git
// 2.30 to 2.50). Order matters: the first match wins.
var refusals = []struct {
	message func() *regexp.Regexp
	reason  error
	hint    string
}{
	{pattern(`detected dubious ownership`), ErrForeignOwner, "if you trust it, name it in your own configuration: git config --global --add safe.directory FOLDER"},
	{pattern(`[Uu]nable to create '[^']*\.lock'|cannot lock ref|[Uu]nable to lock|could not lock|Unable to write new index file`), ErrLocked, "if no other git is running, remove the lock file"},
	{pattern(`Please tell me who you are|identity unknown|empty ident name|unable to auto-detect email|no email was given|no name was given`), ErrIdentity, `git config --global user.name "YOUR NAME" and git config --global user.email YOU@EXAMPLE`},
	{pattern(`cannot do a partial commit during a|You have not concluded your merge|Committing is not possible because you have unmerged files`), ErrMidway, "finish or abort it first"},
	{pattern(`failed to sign the data|failed to write commit object|gpg: signing failed|Load key .* |No private key found|user\.signing[Kk]ey needs to be set`), ErrSigning, "git config --get-regexp 'gpg|signing' shows how commits are signed"},
	{pattern(`ignored by one of your \.gitignore files`), ErrIgnored, "git check-ignore -v FILE says which line ignores it"},
	{pattern(`not a git repository`), ErrNoRepository, "git init"},
	{pattern(`nothing to commit|nothing added to commit|no changes added to commit`), ErrUnchanged, ""},
}

// pattern compiles a regular expression when it is first asked for.
func pattern(source string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(source) })
}

// hooksThatRefuse are the hooks whose failure stops a commit (githooks(5)).
var hooksThatRefuse = []string{"pre-commit", "prepare-commit-msg", "commit-msg"}

// explain turns a failed run of git into an error with a reason. git says
// nothing of its own when a hook refuses: it exits with 1 and leaves the word
// to the hook, so a hook is blamed where one exists and git gave no reason.
func (g gitCommand) explain(ctx context.Context, args []string, stdout, stderr string, code int) error {
	trouble := &Trouble{Doing: "git " + verb(args), Output: cleanOutput(stderr)}
	for _, r := range refusals {
		if r.message().MatchString(stderr) || r.reason == ErrUnchanged && r.message().MatchString(stdout) {
			trouble.Reason, trouble.Hint = r.reason, r.hint
			if r.reason == ErrLocked {
				if lock := lockNamed(stderr); lock != "" {
					trouble.Hint = "if no other git is running, remove " + cleanOutput(lock)
				}
			}
			return trouble
		}
	}
	if verb(args) == "commit" && code == 1 && !strings.Contains(stderr, "fatal: ") {
		if hooks := g.hooks(ctx); len(hooks) > 0 {
			trouble.Reason = ErrHook
			trouble.Hint = "the file is written but not committed; " + strings.Join(hooks, " or ") + " said no"
			return trouble
		}
	}
	trouble.Reason = errGit
	if verb(args) == "commit" && strings.Contains(stderr, "did not match any file(s) known to git") {
		trouble.Reason = errForgotten
	}
	return trouble
}

// hooks gives the hooks present that can refuse a commit.
func (g gitCommand) hooks(ctx context.Context) []string {
	out, err := g.run(ctx, "", []string{"rev-parse", "--git-path", "hooks"})
	if err != nil {
		return nil
	}
	dir := strings.TrimRight(out, "\r\n")
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(g.place.Top, dir)
	}
	var present []string
	for _, name := range hooksThatRefuse {
		if info, err := os.Stat(filepath.Join(dir, name)); err == nil && info.Mode().IsRegular() {
			present = append(present, name)
		}
	}
	return present
}

// verb is the git command among args, after "-c key=value".
func verb(args []string) string {
	for len(args) > 2 && args[0] == "-c" {
		args = args[2:]
	}
	return args[0]
}

var lockName = pattern(`'([^']*\.lock)'`)

// lockNamed gives the lock file that git's message names, "" where none.
func lockNamed(output string) string {
	if m := lockName().FindStringSubmatch(output); m != nil {
		return m[1]
	}
	return ""
}

func midway(state string) error {
	return &Trouble{Reason: ErrMidway, Doing: "commit in the middle of a " + state,
		Hint: "finish or abort the " + state + " first (git status says how); the file itself is written"}
}
