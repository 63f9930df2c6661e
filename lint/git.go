package lint

import (
	"iter"
	"time"
)

// GitHistory is what rules ask of Git. The linter does not know Git: whoever
// runs it fills this in, or leaves it nil where there is no repository. Paths
// are relative to the journal's root, with forward slashes.
type GitHistory interface {
	// Added is the commit that first brought the file; ok is false for a file
	// that is not committed.
	Added(path string) (c Commit, ok bool)
	// Changed lists the record files that more than one commit touched.
	Changed() []string
	// Versions are the contents of a file in the order of their commits, the
	// oldest first.
	Versions(path string) iter.Seq2[Commit, []byte]
	// Gone lists record files that a commit took out and that were not renamed.
	Gone() []Gone
	// Lost lists commits that somebody signed or noted as an anchor and that
	// the present branch no longer holds.
	Lost() []Lost
	// Shallow reports whether the clone lacks older commits, so that Lost
	// cannot be known.
	Shallow() bool
}

// Commit is who committed, and when.
type Commit struct {
	ID                string // short
	Name, Email       string // of the author
	Authored, Written time.Time
	Signed            bool
}

// Gone is a record file that is no longer there. By has no ID where that is
// not committed yet.
type Gone struct {
	Path string
	By   Commit
}

// Lost is an anchor that history no longer holds.
type Lost struct {
	Anchor string // the commit's name
	Noted  string // where it was noted: a record's path or a tag
}
