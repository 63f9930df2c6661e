package history

import (
	"context"
	"os/exec"
)

// Tracked reports whether git's index knows a file of the folder. Without a repository or
// without git nothing is tracked.
func Tracked(ctx context.Context, dir, name string) bool {
	place, err := Find(dir)
	if err != nil {
		return false
	}
	program, err := exec.LookPath("git")
	if err != nil {
		return false
	}
	specs, err := pathspecs(place, []string{name})
	if err != nil {
		return false
	}
	out, err := gitCommand{program: program, place: place}.ask(ctx, "", append([]string{"ls-files", "-z", "--"}, specs...)...)
	return err == nil && out != ""
}

// OwnedByUser reports whether the file belongs to the user who runs the program.
func OwnedByUser(name string) bool { return ownedByUser(name) }
