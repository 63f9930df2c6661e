package history

import (
	"errors"
	"strings"
	"unicode"

	"wj/journal"
)

// The reasons for which history cannot be read or written. Every error of this
// package that has one of these reasons satisfies errors.Is with it.
var (
	ErrNoGit        = errors.New("no git program found")
	ErrUntrusted    = errors.New("no program is run")
	ErrNoRepository = errors.New("not inside a Git repository")
	ErrUnsupported  = errors.New("this kind of repository cannot be read")
	ErrForeignOwner = errors.New("the repository belongs to another user")
	ErrMidway       = errors.New("another Git operation is under way")
	ErrIdentity     = errors.New("git does not know who is committing")
	ErrHook         = errors.New("a hook refused the commit")
	ErrSigning      = errors.New("the commit could not be signed")
	ErrLocked       = errors.New("the repository is locked by another program")
	ErrUnchanged    = errors.New("nothing to commit")
	ErrIgnored      = errors.New("the file is ignored by Git")
	ErrUnborn       = errors.New("the branch has no commit yet")
	ErrRevision     = errors.New("no such revision")
	ErrAmbiguous    = errors.New("more than one object has this short name")
	ErrMissing      = errors.New("the object is not in this copy of the repository")
	ErrCorrupt      = errors.New("the object is damaged")
	ErrTooLarge     = errors.New("the object is too large to be read")
	errGit          = errors.New("git could not do it")
	errForgotten    = errors.New("git does not know the file any more")
)

// Trouble is an error with the reason, what was attempted, what git or a hook
// said (cleaned of control characters; lines separated by \n) and the next
// step. Output and Hint may be empty.
type Trouble struct {
	Reason error
	Doing  string
	Output string
	Hint   string
}

// Error gives what was attempted and why it failed, without output and hint.
func (t *Trouble) Error() string { return t.Doing + ": " + t.Reason.Error() }

// CannotJudge refuses a verdict over records of which so many are not in this copy.
func CannotJudge(absent int) error {
	return journal.Hint("git clone without --filter", "cannot judge: %s not in this copy of the repository (a partial clone)", journal.Count(absent, "record"))
}

// Reason is an error with what the repository's kind explains of it, on one line.
func Reason(err error) string {
	var t *Trouble
	if errors.As(err, &t) && t.Hint != "" {
		return err.Error() + "; " + t.Hint
	}
	return err.Error()
}

// Unwrap gives the reason, one of the Err values of this package.
func (t *Trouble) Unwrap() error { return t.Reason }

// cleanOutput makes what another program printed harmless for a terminal:
// escape sequences are taken out, control and invisible format characters
// become U+FFFD, and a flood is cut at 64 KiB.
func cleanOutput(s string) string {
	const most = 64 << 10
	if len(s) > most {
		s = s[:most] + "\n[output cut]"
	}
	s = strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\r\n", "\n")
	s = escapeSequence().ReplaceAllString(s, "")
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n', r == '\t':
			return r
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Bidi_Control, r):
			return unicode.ReplacementChar
		}
		return r
	}, s)
	return strings.TrimSpace(s)
}

// escapeSequence matches CSI and OSC sequences of ECMA-48, 5.4 and 8.3.89.
var escapeSequence = pattern(`\x1b(?:\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(?:\x07|\x1b\\)?)`)
