package writer

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"wj/journal"
	"wj/journal/history"
	"wj/journal/merge"
	"wj/journal/safefile"
)

// Resolve finishes what a merge, rebase or cherry-pick left of the records under
// root: what can be united is united, two sessions of one site and day become two
// records. tell gets a line for each file, say what somebody must look at. left is
// how many conflicts remain; found is false where nothing had any.
func Resolve(ctx context.Context, root string, tell func(line string) error, say func(format string, args ...any)) (left int, found bool, err error) {
	list, err := history.ReadUnmerged(ctx, root)
	if err != nil || len(list) == 0 {
		return 0, false, err
	}
	r := resolving{ctx: ctx, root: root, tell: tell, say: say}
	for _, u := range list {
		if err := r.one(u); err != nil {
			return 0, true, err
		}
	}
	return r.left, true, history.MarkResolved(ctx, root, r.done)
}

// resolving is a merge that is being finished.
type resolving struct {
	ctx  context.Context
	root string
	tell func(line string) error
	say  func(format string, args ...any)
	done []string
	left int
}

func (r *resolving) one(u history.Unmerged) error {
	if u.Ours == nil || u.Theirs == nil {
		r.left++
		return r.tell(u.Path + ": one side took it out and the other edited it; a record is voided, not deleted\n")
	}
	if u.Base == nil {
		if two, ok := merge.Part(u.Path, u.Ours, u.Theirs, r.taken); ok {
			return r.keepBoth(two)
		}
	}
	merged, conflicts := merge.Record(u.Path, u.Base, u.Ours, u.Theirs)
	if err := r.write(u.Path, merged); err != nil {
		return err
	}
	if len(conflicts) > 0 {
		r.left++
		return r.tell(fmt.Sprintf("%s: both sides have their own %s\n", u.Path, strings.Join(conflicts, ", ")))
	}
	r.done = append(r.done, u.Path)
	return r.tell(u.Path + ": united\n")
}

func (r *resolving) taken(p string) bool {
	_, err := os.Lstat(filepath.Join(r.root, filepath.FromSlash(p)))
	return !errors.Is(err, fs.ErrNotExist)
}

// keepBoth writes two sessions and leads what refers to the later one to its
// new name: the files that its own side brought.
func (r *resolving) keepBoth(two merge.Two) error {
	if err := errors.Join(r.write(two.Path, two.Earlier), r.write(two.Other, two.Later)); err != nil {
		return err
	}
	r.done = append(r.done, two.Path, two.Other)
	if err := r.tell(fmt.Sprintf("%s: two samples; the later one is %s now\n", two.Path, two.OtherID)); err != nil {
		return err
	}
	brought, err := history.Brought(r.ctx, r.root, two.LaterIsTheirs)
	if err != nil {
		return err
	}
	other, err := history.Brought(r.ctx, r.root, !two.LaterIsTheirs)
	if err != nil {
		return err
	}
	for _, p := range brought {
		src, err := os.ReadFile(filepath.Join(r.root, filepath.FromSlash(p)))
		if err != nil || p == two.Path {
			continue
		}
		if f, ok := journal.FileOf(p); ok && f.Kind == journal.KindSignoff {
			if merge.Names(src, two.ID) {
				r.say("%s signed it under its old name: sign again (wj review)", p)
			}
			continue
		}
		repaired, changed := merge.Repair(p, src, two.ID, two.OtherID)
		switch {
		case !changed:
			continue
		case slices.Contains(other, p):
			r.say("%s refers to %s, and both sides edited it: look which of the two is meant", p, two.ID)
			continue
		}
		if err := r.write(p, repaired); err != nil {
			return err
		}
		r.done = append(r.done, p)
		if err := r.tell(fmt.Sprintf("%s: refers to %s now\n", p, two.OtherID)); err != nil {
			return err
		}
	}
	return nil
}

func (r *resolving) write(p string, content []byte) error {
	full := filepath.Join(r.root, filepath.FromSlash(p))
	old, err := os.ReadFile(full)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err != nil {
		old = nil
	}
	return safefile.Write(full, old, content)
}
