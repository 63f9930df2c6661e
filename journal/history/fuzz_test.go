package history

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

const plainCommit = "tree 4b825dc642cb6eb9a060e54bf8d69288fbee4904\nparent 1111111111111111111111111111111111111111\nauthor Ines Tarrow <ines@quillmarsh.example> 1772604900 +0200\ncommitter Jonas <jonas@quillmarsh.example> 1772604901 -0330\n"

var strangeCommits = []string{
	"", "\n", " \n", "tree", "tree \n", "tree x\n", "\x00", "gpgsig x\n gpgsig y\n", "tree 4b825dc642cb6eb9a060e54bf8d69288fbee4904",
	"author <>\n\n", "tree 4b825dc642cb6eb9a060e54bf8d69288fbee4904\nauthor > < 9 +9999\ncommitter a <b> 99999999999999999999 +\n\n",
	plainCommit + "encoding latin1\n\n\xe9\n", plainCommit + "gpgsig -----BEGIN SSH SIGNATURE-----\n U1NIU0lH\n -----END SSH SIGNATURE-----\n\nx",
	plainCommit + "gpgsig -----BEGIN PGP SIGNATURE-----\n \n wsB=\n =AAAA\n -----END PGP SIGNATURE-----\n\nx",
	plainCommit + "mergetag object 1\n type commit\n \n gpgsig\nmergetag x\n\nMerge\n\nKey: value\n folded\nOther: x\n",
	plainCommit + plainCommit + "\n",
	strings.Replace(plainCommit, "author", " author x\nauthor", 1) + "\n", strings.Replace(plainCommit, "parent", " parent x\nparent", 1) + "\n",
	"tree 0000000000000000000000000000000000000000\nauthor \ncommitter <\n >1",
}

// FuzzCommit feeds raw commits to every reader of them: none may panic, and
// those that succeed must agree.
func FuzzCommit(f *testing.F) {
	f.Add([]byte(plainCommit + "\nRecord a session\n"))
	for _, s := range strangeCommits {
		f.Add([]byte(s))
	}
	ring, err := NewKeyring([]Key{{Principal: "a", SSH: "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"}})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		if len(raw) > 1<<16 {
			return
		}
		original := bytes.Clone(raw)
		r, revisionErr := parseRevision(hashOf([]byte("12345678901234567890")), raw)
		tree, parents, when, linksErr := links(raw)
		if revisionErr == nil {
			r.Subject()
			r.Trailers()
			if !utf8.ValidString(r.Message) {
				t.Errorf("message %q is not valid UTF-8", r.Message)
			}
		}
		headers, message, headersErr := splitHeaders(raw)
		if headersErr == nil {
			if err := checkHeaders(headers); err == nil && len(raw) > 0 {
				// A well-formed commit means the same to both readers.
				if (revisionErr == nil) != (linksErr == nil) || linksErr == nil && (r.Tree != tree || !slices.Equal(r.Parents, parents)) {
					t.Errorf("tree %v and %v, parents %v and %v, %v and %v", r.Tree, tree, r.Parents, parents, revisionErr, linksErr)
				}
				if got := r.Committer.When; linksErr == nil && !got.IsZero() && got.Unix() != when {
					t.Errorf("committer time %d and %d", got.Unix(), when)
				}
			}
			// The headers and the message are all there is.
			at := 0
			for _, h := range headers {
				if h.start != at {
					t.Errorf("header %q begins at %d, the one before ended at %d", h.key, h.start, at)
				}
				at = h.end
			}
			if message != at && message != at+1 {
				t.Errorf("message at %d, headers end at %d", message, at)
			}
		}
		if v := ring.VerifyCommit(raw, time.Time{}); v.Kind == Good {
			t.Errorf("a good signature by the key of zeros: %+v", v)
		}
		splitTag(raw)
		if !bytes.Equal(raw, original) {
			t.Error("the input was changed")
		}
	})
}

// FuzzTree compares the ways of reading tree objects.
func FuzzTree(f *testing.F) {
	entry := func(mode, name string, b byte) string {
		return mode + " " + name + "\x00" + strings.Repeat(string(rune(b)), 20)
	}
	f.Add([]byte(entry("100644", "a.md", 1)+entry("40000", "b", 2)), []byte(entry("100644", "a.md", 1)+entry("40000", "b", 3)))
	f.Add([]byte(entry("100644", "a", 1)+entry("40000", "a", 2)), []byte(entry("40000", "a", 2)))
	f.Add([]byte("100644 x\x00 100644 a.md\x00aaaaaaa"), []byte(""))
	f.Add([]byte("1"), []byte("100644 "))
	f.Fuzz(func(t *testing.T, a, b []byte) {
		x, errA := parseTree(a, sha1Size)
		y, errB := parseTree(b, sha1Size)
		var before, after []treeEntry
		err := compareEntries(a, b, sha1Size, func(p, q rawEntry) error {
			if !p.absent() {
				before = append(before, p.entry())
			}
			if !q.absent() {
				after = append(after, q.entry())
			}
			return nil
		})
		if errA != nil || errB != nil || err != nil {
			return
		}
		// What one has and the other has not is reported, nothing else is lost:
		// taking the one away and adding the other leads from a to b.
		count := map[treeEntry]int{}
		for _, e := range x {
			count[e]++
		}
		for _, e := range before {
			count[e]--
		}
		for _, e := range after {
			count[e]++
		}
		for _, e := range y {
			count[e]--
		}
		for e, n := range count {
			if n != 0 {
				t.Errorf("%+v: %d", e, n)
			}
		}
	})
}

// FuzzAllowedSigners feeds lists of signers; what is read must be usable.
func FuzzAllowedSigners(f *testing.F) {
	const key = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
	f.Add("a@x.example " + key + " comment\n# more\n")
	f.Add("\"b c\" namespaces=\"git,file\",valid-after=\"20260101Z\" " + key)
	f.Add("\"\n* x\nc cert-authority " + key)
	f.Fuzz(func(t *testing.T, list string) {
		keys, _ := parseAllowedSigners(list, time.UTC)
		for _, k := range keys {
			if k.Principal == "" || k.SSH == "" || strings.ContainsAny(k.SSH, "\n") {
				t.Errorf("%+v", k)
			}
			matchesList(k.Namespaces, "git")
		}
		NewKeyring(keys)
	})
}
