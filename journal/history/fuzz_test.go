package history

import (
	"bytes"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/go-git/go-git/v5/plumbing/format/packfile"
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
		r, revisionErr := parseRevision(Hash{1}, raw)
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
	f.Add([]byte(entry("100644", "a.md", 1)+entry("40000", "b", 2)), []byte(entry("100644", "a.md", 1)+entry("40000", "b", 3)), "a.md")
	f.Add([]byte(entry("100644", "a", 1)+entry("40000", "a", 2)), []byte(entry("40000", "a", 2)), "a")
	f.Add([]byte("100644 x\x00 100644 a.md\x00aaaaaaa"), []byte(""), "a.md")
	f.Add([]byte("1"), []byte("100644 "), "")
	f.Fuzz(func(t *testing.T, a, b []byte, name string) {
		x, errA := parseTree(a)
		y, errB := parseTree(b)
		if errA == nil && name != "" && !strings.Contains(name, "\x00") {
			got, ok, err := entryNamed(a, name)
			i := slices.IndexFunc(x, func(e treeEntry) bool { return e.name == name })
			if err != nil || ok != (i >= 0) || ok && got != x[i] {
				t.Errorf("entryNamed(%q) = %+v, %v, %v; want index %d of %+v", name, got, ok, err, i, x)
			}
		}
		var before, after []treeEntry
		whole := func(e rawEntry) treeEntry { return treeEntry{e.mode, string(e.name), e.object()} }
		first, second := &treeItem{data: a}, &treeItem{data: b}
		marked := 0
		err := compareItems(first, second, func(p, q rawEntry) error { marked++; return nil })
		// Once more, by the marks that were set.
		again := compareItems(first, second, func(p, q rawEntry) error {
			marked--
			if !p.absent() {
				before = append(before, whole(p))
			}
			if !q.absent() {
				after = append(after, whole(q))
			}
			return nil
		})
		if (err == nil) != (again == nil) || marked != 0 {
			t.Errorf("marks change the comparison: %v, %v, %d", err, again, marked)
		}
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

// FuzzDelta feeds deltas, which must be refused or applied as go-git applies
// them.
func FuzzDelta(f *testing.F) {
	f.Add([]byte("base"), []byte("\x04\x04\x90\x04"))
	f.Add([]byte("base"), []byte("\x04\x03\x03abc"))
	f.Add([]byte(""), []byte("\x00\x80\x80\x04\xb0\x00\x00"))
	f.Fuzz(func(t *testing.T, base, delta []byte) {
		if len(delta) > 1<<12 {
			return
		}
		result, err := applyDelta(base, delta, fresh)
		if err != nil || len(base) == 0 {
			return
		}
		if want, err := packfile.PatchDelta(base, delta); err == nil && !bytes.Equal(result, want) {
			t.Errorf("%q with %q gives %q, go-git says %q", base, delta, result, want)
		}
	})
}

// FuzzCommitGraph feeds commit-graph files.
func FuzzCommitGraph(f *testing.F) {
	f.Add([]byte("CGPH\x01\x01\x00\x00"))
	f.Add([]byte("CGPH\x01\x01\x03\x00OIDF\x00\x00\x00\x00\x00\x00\x00\x44"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		g := &commitGraph{}
		if !g.add(raw) {
			return
		}
		for p := range g.layers[0].count {
			_, parents, _, ok := g.links(p, nil)
			for _, parent := range parents {
				if int(parent) < 0 || int(parent) >= g.size() {
					t.Errorf("%d is a parent of %d, %v, and not in the file", parent, p, ok)
				}
			}
			g.mayChange(p, keyOf("sessions/a.md"))
			if at, ok := g.find(Hash(g.layers[0].names[p*20:])); ok && at >= g.layers[0].count {
				t.Errorf("found at %d of %d", at, g.layers[0].count)
			}
		}
		g.find(Hash{})
	})
}

// FuzzPackEntry reads an entry, and a loose object, from arbitrary bytes.
func FuzzPackEntry(f *testing.F) {
	f.Add([]byte("PACK\x00\x00\x00\x02\x00\x00\x00\x01\x33\x78\x9c\x4b\x4c\x4a\x06\x00\x02\x4d\x01\x27"))
	f.Add([]byte("PACK\x00\x00\x00\x02\x00\x00\x00\x01\x63\x05\x78\x9c"))
	f.Add([]byte("PACK\x00\x00\x00\x02\x00\x00\x00\x01\xff\xff\xff\xff\xff\xff\xff\xff"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, raw []byte) {
		file, err := os.CreateTemp(dir, "pack")
		if err != nil {
			t.Fatal(err)
		}
		defer os.Remove(file.Name())
		defer file.Close()
		if _, err := file.Write(raw); err != nil {
			t.Fatal(err)
		}
		p := &pack{file: file, fanout: make([]byte, 1024)}
		all := &objects{cache: cache{limit: 1 << 20}, packs: []*pack{p}}
		if _, _, err := p.read(12, all); err != nil && !errors.Is(err, ErrCorrupt) {
			t.Error(err)
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
		keys, _ := ParseAllowedSigners(list, time.UTC)
		for _, k := range keys {
			if k.Principal == "" || k.SSH == "" || strings.ContainsAny(k.SSH, "\n") {
				t.Errorf("%+v", k)
			}
			matchesList(k.Namespaces, "git")
		}
		NewKeyring(keys)
	})
}
