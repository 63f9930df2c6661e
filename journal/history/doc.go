// Package history is the one room that knows Git: where the journal's
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
package history
