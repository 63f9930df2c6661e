// Package history is the one package that knows Git: where the journal's
// repository is, what a revision held, who wrote what and when, whether a
// signature holds, and how one record is committed safely.
//
// Reading happens in-process and starts no program, hook or filter, so that a
// journal received from somebody else can be looked at without running what
// its configuration names. Writing is done by the user's own git, so that
// hooks, identity, signing and locks are honoured; without a git program
// nothing is committed and [ErrNoGit] says so.
//
// Paths given to and returned by this package are slash-separated and relative
// to the journal, not to the repository, unless a comment says otherwise.
//
//	h, err := history.Open("brewery-water") // an error that is ErrNoRepository where there is none
//	defer h.Close()
//	head, err := h.Head()
//	versions, walked, err := h.FileLog(ctx, head.Hash, "sites/town-main.md")
//	for _, v := range versions {
//		content, err := h.Blob(v.Blob) // the record as that commit left it
//	}
package history
