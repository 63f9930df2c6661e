package diff

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// States are two states of a journal, and the files that differ between them.
type States struct {
	From, To      history.Revision // To is zero where the working files are meant
	Before, After fs.FS
	Pairs         []FilePair
	Shortened     []string // sites of whose long series [States.Load] read a part, in alphabetical order
	Parted        bool     // of A..B: A holds commits that B does not, so what A alone has looks taken out
}

// ErrRange says why a range names no two states.
var ErrRange = errors.New("no such range")

// IsRange reports whether a text names two revisions, and not one.
func IsRange(text string) bool { return strings.Contains(text, "..") }

// Open finds the two states that a range names. A..B are two revisions; A...B
// is what B brings since it parted from A: their merge base and B; A alone is
// compared with the working files of root, or where there are none with HEAD. A revision that is left out is HEAD;
// dates are read in zone.
func Open(ctx context.Context, h *history.History, root, text string, zone *time.Location) (*States, error) {
	from, to, closed := strings.Cut(text, "..")
	to, parting := strings.CutPrefix(to, ".")
	if IsRange(to) || strings.HasPrefix(to, ".") {
		return nil, fmt.Errorf("%q: %w: write A..B or A...B", text, ErrRange)
	}
	closed = closed || !h.Working()
	s := &States{}
	var err error
	if s.From, err = h.Resolve(orHead(from), zone); err != nil {
		return nil, err
	}
	if closed {
		if s.To, err = h.Resolve(orHead(to), zone); err != nil {
			return nil, err
		}
		base, found, err := h.MergeBase(ctx, s.From.Hash, s.To.Hash)
		switch {
		case err != nil:
			return nil, err
		case parting && !found:
			return nil, fmt.Errorf("%q: %w: the two have no commit in common in this copy", text, ErrRange)
		case parting:
			if s.From, err = h.Revision(base); err != nil {
				return nil, err
			}
		default:
			s.Parted = found && base != s.From.Hash && base != s.To.Hash
		}
		if s.After, err = stateAt(h, s.To, orHead(to)); err != nil {
			return nil, err
		}
		s.Pairs, err = CommittedPairs(h, s.From.Hash, s.To.Hash)
		if err != nil {
			return nil, err
		}
	} else {
		s.After = journal.Dir(root)
		dirty, err := h.DirtyNoted()
		if err != nil {
			return nil, err
		}
		if s.Pairs, err = WorkingPairs(h, root, s.From.Hash, dirty); err != nil {
			return nil, err
		}
	}
	s.Before, err = stateAt(h, s.From, orHead(from))
	return s, err
}

// Commits are the commits of the two states in full, "" for the working files.
func (s *States) Commits() [2]string {
	out := [2]string{s.From.Hash.String(), ""}
	if !s.To.Hash.IsZero() {
		out[1] = s.To.Hash.String()
	}
	return out
}

// Compare gives the differences of the two states, with the later state; see
// [CompareStates].
func (s *States) Compare() ([]RecordChange, *journal.Journal, error) {
	return CompareStates(s.Before, s.After, s.Pairs)
}

func orHead(rev string) string {
	if rev == "" {
		return "HEAD"
	}
	return rev
}

// stateAt gives the journal's files as they were in a commit.
func stateAt(h *history.History, r history.Revision, name string) (fs.FS, error) {
	fsys, err := h.FS(r.Hash)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w: the journal was not there at %s; choose a later one", ErrRange, name)
	}
	return fsys, err
}
