package githistory

import (
	"io/fs"
	"slices"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
)

// AsCheckedOut takes the warning of CR LF line ends away from files that are
// committed with LF: git made them so at checkout (core.autocrlf), and there is
// nothing in them to fix.
func AsCheckedOut(j *journal.Journal, h *history.History, commit history.Hash) {
	j.Problems = slices.DeleteFunc(j.Problems, func(p journal.Problem) bool {
		if p.Rule != frontmatter.RuleEncoding || !p.Warning || p.End != p.Start+1 {
			return false
		}
		content, err := fs.ReadFile(j.FS, p.Path)
		return err == nil && h.LineEndsAlone(commit, p.Path, content)
	})
}
