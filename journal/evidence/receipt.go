package evidence

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/history"
)

// receiptWord begins a receipt and says its version.
const receiptWord = "wj-anchor-1"

// Receipt is the one line of an anchor that is kept elsewhere.
type Receipt struct {
	Date, By, Commit, Journal string
	Files                     int
	Anchor                    string // SHA-256 of the anchor's file
}

// ReceiptOf makes the line of an anchor.
func ReceiptOf(a *journal.Anchor, file []byte) Receipt {
	return Receipt{Date: journal.FormatDate(a.On), By: a.By, Commit: a.Commit, Journal: a.Journal, Files: a.Count, Anchor: journal.Digest(file)}
}

func (r Receipt) String() string {
	return strings.Join([]string{receiptWord, r.Date, r.By, r.Commit, r.Journal, strconv.Itoa(r.Files), r.Anchor}, " ")
}

// ParseReceipt reads the line, or finds it in a text that holds one.
func ParseReceipt(text string) (Receipt, error) {
	fields := strings.Fields(text)
	i := slices.Index(fields, receiptWord)
	if i < 0 || len(fields) < i+7 {
		return Receipt{}, fmt.Errorf("read the receipt of an anchor: there is no line %s DATE PERSON COMMIT DIGEST FILES DIGEST", receiptWord)
	}
	f := fields[i+1:]
	n, err := strconv.Atoi(f[4])
	if err != nil || n < 0 || !isHex(f[2], 40) && !isHex(f[2], 64) || !isHex(f[3], 64) || !isHex(f[5], 64) {
		return Receipt{}, errors.New("read the receipt of an anchor: a part of it is missing or cut off")
	}
	return Receipt{Date: f[0], By: f[1], Commit: strings.ToLower(f[2]), Journal: strings.ToLower(f[3]), Files: n, Anchor: strings.ToLower(f[5])}, nil
}

func isHex(s string, digits int) bool {
	return len(s) == digits && strings.Trim(s, "0123456789abcdefABCDEF") == ""
}

// receipts checks the lines that the reader kept elsewhere.
func (v *verifying) receipts(ctx context.Context, digests *treeDigests, list []*act) error {
	for _, line := range v.opt.Anchors {
		r, err := ParseReceipt(line)
		if err != nil {
			return err
		}
		c, _, ok, err := v.m.holds(ctx, r.Commit, len(v.m.commits)-1)
		if err != nil {
			return err
		}
		if !ok && v.m.cut {
			v.unknown("receipt of "+r.Date, "git fetch --unshallow", "its commit %.10s is not in this shallow copy", r.Commit)
			continue
		}
		if !ok {
			v.wrong("receipt of "+r.Date, "ask for the repository as it was on "+r.Date, "its commit %.10s is not on the mainline: history was rewritten after the receipt was given", r.Commit)
			continue
		}
		digest, files, err := digests.of(c.hash)
		if err != nil {
			if err := v.missingAnchor("receipt of "+r.Date, err); err != nil {
				return err
			}
			continue
		}
		if digest != r.Journal || files != r.Files {
			v.wrong("receipt of "+r.Date, "", "the journal at %s does not have the digest of the receipt", c.hash.Short())
			continue
		}
		is := func(p string) bool { sum, err := journal.DigestFile(v.j.FS, p); return err == nil && sum == r.Anchor }
		if !slices.ContainsFunc(list, func(a *act) bool { return journal.Digest(a.content) == r.Anchor }) && !slices.ContainsFunc(v.j.Anchors.List, func(a *journal.Anchor) bool { return is(a.Path) }) {
			if c.hash == v.m.head.Hash {
				v.unknown("receipt of "+r.Date, "git fetch; or ask for the repository as it was on "+r.Date, "its anchor is not here: the journal at %s is what it was, and this copy ends with that commit", c.hash.Short())
				continue
			}
			v.wrong("receipt of "+r.Date, "ask for the repository as it was on "+r.Date, "its anchor is not in this history: the journal at %s is what it was, but what came after it was rewritten or left out", c.hash.Short())
			continue
		}
		v.Say("Receipt of %s by %s: the journal at %s is what it was, and is part of this history.", r.Date, r.By, c.hash.Short())
	}
	return nil
}

// NewReceipt is the receipt of a journal as it is at a commit: of its files there, and
// with the digest of its last anchor, "" where it has none.
func NewReceipt(repo Repository, commit history.Hash, j *journal.Journal) (Receipt, error) {
	digest, files, err := newTreeDigests(repo).of(commit)
	r := Receipt{Commit: commit.String(), Journal: digest, Files: files}
	for _, a := range j.Anchors.List {
		if err == nil && a.Void == nil && journal.FormatDate(a.On) >= r.Date {
			r.Date, r.By = journal.FormatDate(a.On), a.By
			r.Anchor, err = journal.DigestFile(j.FS, a.Path)
		}
	}
	return r, err
}
