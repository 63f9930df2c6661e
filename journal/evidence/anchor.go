package evidence

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/overlay"
)

// NewAnchor prepares an anchor of the commit that is checked out: a record that
// names the commit, a digest over all files of the journal at it, and the
// anchor before.
func NewAnchor(m *Mainline, j *journal.Journal, by string, on time.Time) (*journal.Anchor, []byte, error) {
	if !m.onLine {
		return nil, nil, fmt.Errorf("anchor %s: the checked-out commit is not on %s: %w", m.head.Hash.Short(), m.base, ErrBase)
	}
	digest, files, err := newTreeDigests(m.repo).of(m.head.Hash)
	if err != nil {
		return nil, nil, err
	}
	a := &journal.Anchor{By: by, On: on, Commit: m.head.Hash.String(), Journal: digest, Count: files, Before: map[string]string{}}
	quote := frontmatter.Quote
	entries := []journal.Entry{{Key: "by", Value: quote(by)}, {Key: "on", Value: journal.FormatTime(on)}, {Key: "commit", Value: quote(a.Commit)}, {Key: "journal", Value: digest}, {Key: "files", Value: strconv.Itoa(files)}}
	var before []journal.Entry
	for _, p := range lastAnchors(j) {
		if a.Before[p], err = journal.DigestFile(j.FS, p); err != nil {
			return nil, nil, err
		}
		before = append(before, journal.Entry{Key: p, Value: a.Before[p]})
	}
	if before != nil {
		entries = append(entries, journal.Entry{Key: "before", Below: before})
	}
	return a, journal.Compose(journal.KindAnchor, entries, ""), nil
}

// lastAnchors are the paths of the anchors that no other continues: several
// where people anchored in copies that were merged later.
func lastAnchors(j *journal.Journal) []string {
	var paths []string
	continued := map[string]bool{}
	for _, a := range j.Anchors.List {
		if a.Void != nil {
			continue
		}
		paths = append(paths, a.Path)
		for p := range a.Before {
			continued[recordKey(p)] = true
		}
	}
	paths = slices.DeleteFunc(paths, func(p string) bool { return continued[recordKey(p)] })
	slices.Sort(paths)
	return paths
}

// treeDigests are digests over all files of a journal at commits. Each content
// is read once.
type treeDigests struct {
	repo  Repository
	blobs map[history.Hash]string
}

func newTreeDigests(repo Repository) *treeDigests {
	return &treeDigests{repo: repo, blobs: map[history.Hash]string{}}
}

// of is the SHA-256 over the lines that sha256sum prints of all regular files,
// sorted by path, byte for byte; and how many they are.
func (d *treeDigests) of(commit history.Hash) (string, int, error) {
	list, err := d.repo.List(commit, "")
	if err != nil {
		return "", 0, fmt.Errorf("list the journal at %s: %w", commit.Short(), err)
	}
	sum := sha256.New()
	n := 0
	for _, e := range list {
		if !e.Mode.IsRegular() {
			continue
		}
		n++
		if d.blobs[e.Blob] == "" {
			content, err := d.repo.Blob(e.Blob)
			if err != nil {
				return "", 0, fmt.Errorf("read %s at %s: %w", e.Path, commit.Short(), err)
			}
			one := sha256.Sum256(content)
			d.blobs[e.Blob] = hex.EncodeToString(one[:])
		}
		fmt.Fprintf(sum, "%s  %s\n", d.blobs[e.Blob], e.Path)
	}
	return hex.EncodeToString(sum.Sum(nil)), n, nil
}

// anchors asks whether every anchor that can be found is part of this history,
// in one chain.
func (v *verifying) anchors(ctx context.Context) error {
	digests := newTreeDigests(v.m.repo)
	list := v.ownAnchors()
	if err := v.receipts(ctx, digests, list); err != nil {
		return err
	}
	for _, a := range list {
		if err := v.anchor(ctx, digests, a); err != nil {
			return err
		}
	}
	if err := v.chain(list); err != nil {
		return err
	}
	if err := v.strayAnchors(ctx); err != nil {
		return err
	}
	if err := v.remote(ctx); err != nil {
		return err
	}
	signed, err := v.tags(ctx)
	if err != nil {
		return err
	}
	if len(list)+signed+len(v.opt.Anchors) == 0 {
		v.Say("No anchor and no signed tag: earlier rewriting of history cannot be ruled out (wj anchor).")
	}
	return nil
}

// ownAnchors are the anchors that the mainline ever had, in the order of their
// coming.
func (v *verifying) ownAnchors() []*act {
	var list []*act
	for key, t := range v.m.files {
		id, ok := strings.CutPrefix(key, journal.KindAnchor.Folder()+" ")
		if !ok || strings.HasSuffix(id, ".sig") || strings.HasSuffix(id, ".asc") {
			continue
		}
		i := slices.IndexFunc(t.versions, func(x fileVersion) bool { return !x.blob.IsZero() })
		if i < 0 {
			continue
		}
		x := t.versions[i]
		content, err := v.m.repo.Blob(x.blob)
		if err != nil {
			v.unknown(x.path, "", "the anchor is not in this copy of the repository")
			continue
		}
		a := &act{path: x.path, content: content, at: x.at, files: map[string][]byte{}}
		for _, name := range SignatureFiles(x.path) {
			if beside := v.m.files[recordKey(name)]; beside != nil && !beside.versions[0].blob.IsZero() {
				if signature, err := v.m.repo.Blob(beside.versions[0].blob); err == nil {
					a.files[name] = signature
				}
			}
		}
		list = append(list, a)
		if is, err := readSmall(v.j.FS, x.path); err != nil || string(lines(is)) != string(lines(content)) {
			v.wrong(x.path, "git checkout "+v.shortAt(x.at)+" -- "+x.path, "the anchor was changed or removed after it was set")
		}
	}
	slices.SortFunc(list, func(a, b *act) int {
		if a.at != b.at {
			return a.at - b.at
		}
		return strings.Compare(a.path, b.path)
	})
	return list
}

func (v *verifying) shortAt(at int) string {
	if c, ok := v.m.commit(at); ok {
		return c.hash.Short()
	}
	return "COMMIT"
}

func anchorOf(a *act) *journal.Anchor {
	f, ok := journal.FileOf(a.path)
	if !ok {
		return nil
	}
	_, record := Read(f, a.content)
	anchor, _ := record.(*journal.Anchor)
	return anchor
}

// anchor checks one anchor: its commit, its digest and its signature.
func (v *verifying) anchor(ctx context.Context, digests *treeDigests, a *act) error {
	anchor := anchorOf(a)
	if anchor == nil {
		v.wrong(a.path, "", "the anchor cannot be read")
		return nil
	}
	c, at, ok, err := v.m.holds(ctx, anchor.Commit, a.at)
	switch {
	case err != nil:
		return err
	case !ok && v.m.cut:
		v.unknown(a.path, "git fetch --unshallow", "its commit %.10s is not in this shallow copy", anchor.Commit)
		return nil
	case !ok:
		v.wrong(a.path, "compare with another copy of the repository", "its commit %.10s is not on the mainline: history was rewritten after it was set", anchor.Commit)
		return nil
	case at > a.at:
		v.wrong(a.path, "", "it marks a commit that came after it")
	}
	digest, files, err := digests.of(c.hash)
	if err != nil {
		return v.missingAnchor(a.path, err)
	}
	if digest != anchor.Journal {
		v.wrong(a.path, "", "the journal at %s does not have the digest that the anchor gives", c.hash.Short())
	} else if files != anchor.Count {
		v.wrong(a.path, "", "the journal at %s has %s, and the anchor says %d", c.hash.Short(), journal.Count(files, "file"), anchor.Count)
	}
	if on := anchor.On.Add(clockSlack); c.when.After(on) && c.floor.After(on.Add(-clockSlack)) {
		v.wrong(a.path, "", "it is dated %s, before the commit that it marks (%s)", journal.FormatTime(anchor.On), journal.FormatTime(c.when.In(v.j.Settings.Zone)))
	}
	who := "signer not verified"
	rules := v.m.before(a.at)
	found, file := signatureBeside(overlay.New(nil, a.files), a.path, a.content, rules.Ring, anchor.On)
	switch {
	case file != "" && found.Kind == history.Good && found.Principal == anchor.By:
		who = "signed by " + anchor.By
	case file != "" && found.Kind == history.Good:
		v.wrong(a.path, "", "it says %s, but was signed with a key of %s", anchor.By, found.Principal)
	case file != "" && (found.Kind == history.Bad || found.Kind == history.Malformed || found.Kind == history.WrongNamespace):
		v.wrong(a.path, "", "its signature does not hold: %s%s", found.Kind, inParentheses(found.Detail))
	case rules.Policy().Proof:
		v.wrong(a.path, "wj anchor, with your key", "policy asks for a signature, and there is none that counts")
	}
	counter := ""
	for _, s := range v.facts.Signoffs(v.j) {
		if s.Of != anchor.ID || s.Decision != journal.DecidedAccepted && s.Decision != journal.DecidedRefused {
			continue
		}
		switch verdict := Judge(v.j, s, v.facts); {
		case verdict.Standing != InForce:
		case verdict.Refused():
			v.wrong(a.path, "compare with another copy of the repository", "%s refused it on %s: the journal was not what it says", s.By, journal.FormatDate(s.On))
		case s.By != anchor.By: // one's own word twice is once
			counter += ", countersigned by " + s.By
		}
	}
	v.Say("Anchor %s: %s files at %s, %s%s; it is part of this history.", anchor.ID, strconv.Itoa(files), c.hash.Short(), who, counter)
	return nil
}

func (v *verifying) missingAnchor(p string, err error) error {
	if errors.Is(err, history.ErrMissing) {
		v.unknown(p, "git fetch --refetch", "the journal at its commit is not all in this copy of the repository")
		return nil
	}
	return err
}

// holds finds a commit of the mainline by its name, or one that the mainline
// commit at a position has from a merge, which then is its place. A history with
// another beginning, merged in, is not this one.
func (m *Mainline) holds(ctx context.Context, name string, by int) (lineCommit, int, bool, error) {
	if at, ok := m.contains(name); ok {
		return m.commits[at], at, true, nil
	}
	r, err := m.repo.Resolve(name, time.UTC)
	tip, placed := m.commit(by)
	if err != nil || !placed || m.cut || r.Hash.String() != strings.ToLower(name) {
		return lineCommit{}, 0, false, nil // a commit that is not here is not held
	}
	for _, pair := range [][2]history.Hash{{m.commits[0].hash, r.Hash}, {r.Hash, tip.hash}} {
		if held, err := m.repo.IsAncestor(ctx, pair[0], pair[1]); err != nil || !held {
			return lineCommit{}, 0, false, err
		}
	}
	return lineCommit{hash: r.Hash, parents: r.Parents, when: r.Committer.When, floor: r.Committer.When}, by, true, nil
}

// chain checks that each anchor names those before it. Two that were set in copies
// of which neither had the other's are two ends, until one names both.
func (v *verifying) chain(list []*act) error {
	var ends []*act // continued by none so far
	for _, a := range list {
		anchor := anchorOf(a)
		if anchor == nil {
			continue
		}
		named := func(older *act) bool {
			for p, sum := range anchor.Before {
				if recordKey(p) == recordKey(older.path) && strings.EqualFold(journal.Digest(older.content), sum) {
					return true
				}
			}
			return false
		}
		for _, p := range slices.Sorted(maps.Keys(anchor.Before)) {
			if !slices.ContainsFunc(list, func(older *act) bool {
				return older != a && older.at <= a.at && recordKey(older.path) == recordKey(p) && named(older)
			}) {
				v.wrong(a.path, "", "the anchor before it, %s, is not here as it was", p)
			}
		}
		had, err := v.anchorsAt(anchor.Commit)
		if err != nil {
			return err
		}
		ends = slices.DeleteFunc(ends, func(older *act) bool {
			if !named(older) && had[recordKey(older.path)] {
				v.wrong(a.path, "", "it does not name the anchor before it, %s: there are two chains of anchors", older.path)
				return true
			}
			return named(older)
		})
		ends = append(ends, a)
	}
	for i := 1; i < len(ends); i++ {
		v.unknown(ends[i].path, "wj anchor, which continues both", "it and %s were set in two copies, and no anchor continues both", ends[i-1].path)
	}
	return nil
}

// anchorsAt are the anchors of the journal at a commit, none where it is not here.
func (v *verifying) anchorsAt(commit string) (map[string]bool, error) {
	r, err := v.m.repo.Resolve(commit, v.j.Settings.Zone)
	if err != nil {
		return nil, nil // found with the anchor
	}
	list, err := v.m.repo.List(r.Hash, journal.KindAnchor.Folder())
	if err != nil {
		return nil, fmt.Errorf("list the anchors at %s: %w", r.Hash.Short(), err)
	}
	had := map[string]bool{}
	for _, e := range list {
		had[recordKey(e.Path)] = true
	}
	return had, nil
}

// AnchorPath is where an anchor of a person and day goes: a free name.
func AnchorPath(fsys fs.FS, by string, on time.Time) string {
	stem := path.Join(journal.KindAnchor.Folder(), journal.FormatDate(on)+"-"+by)
	for n := 1; ; n++ {
		name := stem + ".md"
		if n > 1 {
			name = fmt.Sprintf("%s-%d.md", stem, n)
		}
		if _, err := fs.Stat(fsys, name); errors.Is(err, fs.ErrNotExist) {
			return name
		}
	}
}
