package round

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/history"
	"wj/journal/safefile"
	"wj/water"
)

// KeptPrefix begins the names of the files in which a sitting is kept.
const KeptPrefix = ".wj-enter-"

// keptLimit is how large such a file can be: two hundred tests with all that b goes back to.
const keptLimit = 4 << 20

// Keeper holds a sitting in a file beside the journal's settings, so that a closed lid or a lost
// terminal costs nothing. Its name begins with a dot, which the journal passes over.
type Keeper struct {
	root, Name, path string
	old              []byte
}

// NewKeeper keeps the session of a site, or with an @ before its name a round.
func NewKeeper(root, name string) *Keeper {
	return &Keeper{root: root, Name: name, path: filepath.Join(root, KeptPrefix+name+".json")}
}

// Kept lists the names of the sittings that are kept in a journal.
func Kept(root string) []string {
	var out []string
	names, _ := fs.Glob(os.DirFS(root), KeptPrefix+"*.json") // the pattern is a good one, whatever the folder is called
	for _, name := range names {
		name = strings.TrimSuffix(strings.TrimPrefix(name, KeptPrefix), ".json")
		if !strings.Contains(name, "-put-aside-") {
			out = append(out, name)
		}
	}
	return out
}

// Load reads a kept sitting; ok is false where there is none. A file that Git tracks, that
// belongs to somebody else or that does not fit the journal is refused: what is in it would be
// recorded as measured here.
func (k *Keeper) Load(ctx context.Context, j *journal.Journal) (s bench.State, ok bool, err error) {
	const aside = "look into the file; --new puts it aside and begins anew"
	refuse := func(format string, args ...any) (bench.State, bool, error) {
		return s, false, journal.Hint(aside, "the sitting kept in %s "+format, append([]any{k.path}, args...)...)
	}
	info, err := os.Lstat(k.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return s, false, nil
	case err != nil:
		return s, false, fmt.Errorf("read the sitting that was kept: %w", err)
	case !info.Mode().IsRegular():
		return refuse("is not a regular file")
	case info.Size() > keptLimit:
		return refuse("is larger than wj writes one")
	case !history.OwnedByUser(k.path):
		return refuse("belongs to another user")
	case history.Tracked(ctx, k.root, filepath.Base(k.path)):
		return s, false, journal.Hint("git rm --cached "+filepath.Base(k.path)+" if it is yours; --new puts it aside", "the sitting kept in %s is tracked by Git, and was not typed here", k.path)
	}
	src, err := os.ReadFile(k.path)
	if err != nil {
		return s, false, fmt.Errorf("read the sitting that was kept: %w", err)
	}
	if err := json.Unmarshal(src, &s); err != nil {
		return refuse("cannot be read: %v", err)
	}
	if s.Version != bench.Version {
		return refuse("is of another version of wj")
	}
	if err := fits(j, &s, k.Name); err != nil {
		return refuse("does not fit the journal: %w", err)
	}
	k.old = src
	return s, true, nil
}

// fits makes sure that what a kept sitting says can go into records.
func fits(j *journal.Journal, s *bench.State, name string) error {
	exists := func(kind journal.Kind, id string, may bool) error {
		if may && id == "" || j.Exists(kind, id) {
			return nil
		}
		return fmt.Errorf("there is no %s %q", kind, id)
	}
	err := exists(journal.KindPerson, s.By, false)
	if s.Name != name || len(s.Taps) == 0 || s.Current < 0 || s.Current > len(s.Tests) || s.Step < 0 {
		err = errors.Join(err, errors.New("its parts do not fit each other"))
	}
	for _, now := range append([]bench.Now{s.Now}, s.Past...) {
		if len(now.Sampled) != len(s.Taps) || len(now.Notes) != len(s.Taps) || len(now.Tests) != len(s.Tests) {
			return errors.New("its parts do not fit each other")
		}
		for _, e := range now.Tests {
			if _, ok := water.LookupAnalyte(e.Analyte); !ok {
				err = errors.Join(err, fmt.Errorf("%q is no analyte", e.Analyte))
			}
			for _, v := range e.Values {
				if _, wrong := water.ParseQuantity(v); wrong != nil {
					err = errors.Join(err, fmt.Errorf("%q is no reading", v))
				}
			}
			if e.Dilution < 0 || e.Dilution > 1000 {
				err = errors.Join(err, fmt.Errorf("%v is no dilution", e.Dilution))
			}
			err = errors.Join(err, exists(journal.KindSite, e.Site, false), exists(journal.KindLot, e.Lot, true))
		}
	}
	for _, t := range s.Taps {
		err = errors.Join(err, exists(journal.KindSite, t.Site, false), exists(journal.KindInstrument, t.Instrument, true))
		if t.Place != "" {
			for _, part := range strings.SplitN(t.Place, ",", 2) {
				if _, wrong := strconv.ParseFloat(strings.TrimSpace(part), 64); wrong != nil {
					err = errors.Join(err, fmt.Errorf("%q is no place", t.Place))
				}
			}
		}
	}
	return err
}

// Save keeps the sitting as it is now.
func (k *Keeper) Save(s *bench.State) error {
	s.Name = k.Name
	src, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		return fmt.Errorf("keep the sitting: %w", err)
	}
	src = append(src, '\n')
	if string(src) == string(k.old) {
		return nil
	}
	err = safefile.Write(k.path, k.old, src)
	if errors.Is(err, safefile.ErrChanged) || errors.Is(err, safefile.ErrExists) {
		return journal.Hint("go on in the other window, or close it and give the command again", "another wj holds this sitting")
	}
	if err != nil {
		return fmt.Errorf("keep the sitting: %w", err)
	}
	k.old = src
	return nil
}

// Drop takes the kept sitting away once it is recorded.
func (k *Keeper) Drop() error {
	if err := os.Remove(k.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("take away the kept sitting: %w", err)
	}
	k.old = nil
	safefile.Clean(k.root)
	return nil
}

// Aside puts the kept sitting away under another name, and gives that; "" where there is none.
func (k *Keeper) Aside(now time.Time) (string, error) {
	to := strings.TrimSuffix(k.path, ".json") + "-put-aside-" + now.Format("20060102T150405") + ".json"
	err := os.Rename(k.path, to)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("put the kept sitting aside: %w", err)
	}
	return to, nil
}
