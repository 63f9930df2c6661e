package history

import (
	"context"
	"os/exec"
	"strings"
	"time"
)

var identLine = pattern(`^(.*) <([^<>]*)> \d+ [+-]\d{4}$`)

// Identity is the name and e-mail address that a commit made in dir would
// carry. It asks git itself, since only git knows all the files and variables
// that decide it; ok is false without git or where git does not know either.
// It is for commands that are about to commit; reading needs no identity.
func Identity(dir string) (name, email string, ok bool) {
	program, err := gitProgram("ask git who you are", "")
	if err != nil {
		return "", "", false
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, "var", "GIT_AUTHOR_IDENT")
	cmd.Dir = dir
	out, err := cmd.Output()
	if err != nil {
		return "", "", false
	}
	m := identLine().FindStringSubmatch(strings.TrimSpace(string(out)))
	if m == nil {
		return "", "", false
	}
	return m[1], m[2], true
}
