package history

import (
	"bytes"
	"compress/zlib"
	"crypto/ed25519"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/ProtonMail/go-crypto/openpgp"
	"github.com/ProtonMail/go-crypto/openpgp/armor"
	"github.com/ProtonMail/go-crypto/openpgp/packet"
	"github.com/hiddeco/sshsig"
	"golang.org/x/crypto/ssh"
)

// signers makes two keys from nothing that changes, and gives what each signs.
func signers(f *testing.F) (keys []Key, sign []func(payload string) string) {
	key := ed25519.NewKeyFromSeed(bytes.Repeat([]byte{7}, ed25519.SeedSize))
	signer, err := ssh.NewSignerFromSigner(key)
	if err != nil {
		f.Fatal(err)
	}
	person, err := openpgp.NewEntity("Jonas", "", "jonas@quillmarsh.example", &packet.Config{Algorithm: packet.PubKeyAlgoEdDSA, Time: func() time.Time { return time.Unix(firstDate, 0) }})
	if err != nil {
		f.Fatal(err)
	}
	var public bytes.Buffer
	w, err := armor.Encode(&public, openpgp.PublicKeyType, nil)
	if err == nil {
		err = errors.Join(person.Serialize(w), w.Close())
	}
	if err != nil {
		f.Fatal(err)
	}
	keys = []Key{{Principal: "ines", SSH: string(ssh.MarshalAuthorizedKey(signer.PublicKey()))}, {Principal: "jonas", OpenPGP: public.String()}}
	return keys, []func(string) string{
		func(payload string) string {
			sig, err := sshsig.Sign(strings.NewReader(payload), signer, sshsig.HashSHA512, signatureNamespace)
			if err != nil {
				f.Fatal(err)
			}
			return string(sshsig.Armor(sig))
		},
		func(payload string) string {
			var b bytes.Buffer
			if err := openpgp.ArmoredDetachSign(&b, person, strings.NewReader(payload), nil); err != nil {
				f.Fatal(err)
			}
			return b.String()
		},
	}
}

// FuzzSignature changes signed commits: whatever comes out, a signature is good
// only over the very bytes that were signed.
func FuzzSignature(f *testing.F) {
	keys, sign := signers(f)
	ring, err := NewKeyring(keys)
	if err != nil {
		f.Fatal(err)
	}
	const payload = plainCommit + "\nRecord a session\n\nWj-Reason: none\n"
	for i, s := range sign {
		head, message, _ := strings.Cut(payload, "\n\n")
		signed := head + "\ngpgsig " + strings.ReplaceAll(strings.TrimSpace(s(payload)), "\n", "\n ") + "\n\n" + message
		if v := ring.VerifyCommit([]byte(signed), time.Time{}); v.Kind != Good || v.Principal != keys[i].Principal {
			f.Fatalf("%+v", v)
		}
		f.Add([]byte(signed))
		f.Add([]byte(strings.Replace(signed, "gpgsig", "gpgsig-sha256 x\ngpgsig", 1)))
		f.Add([]byte(strings.Replace(signed, "\n\n", "\ngpgsig \n x\n\n", 1)))
		f.Add([]byte(strings.Replace(signed, "author", "author \n", 1)))
	}
	header := regexp.MustCompile(`(?m)^gpgsig(?:-sha256)? .*\n(?: .*\n)*`)
	f.Fuzz(func(t *testing.T, raw []byte) {
		if len(raw) > 1<<14 {
			return
		}
		if v := ring.VerifyCommit(raw, time.Time{}); v.Kind != Good {
			return
		}
		head, message, _ := strings.Cut(string(raw), "\n\n")
		if got := header.ReplaceAllString(head+"\n", "") + "\n" + message; got != payload {
			t.Errorf("a good signature over %q", got)
		}
	})
}

// FuzzRepository writes what a stranger may have written into a repository's
// files, beside two sound commits: it is read or refused, and a revision is one of
// those commits.
func FuzzRepository(f *testing.F) {
	dir, err := filepath.EvalSymlinks(f.TempDir())
	if err != nil {
		f.Fatal(err)
	}
	f.Setenv("GIT_DIR", "")
	git := filepath.Join(dir, ".git")
	for _, folder := range []string{"objects/pack", "refs/heads"} {
		if err := os.MkdirAll(filepath.Join(git, filepath.FromSlash(folder)), 0o777); err != nil {
			f.Fatal(err)
		}
	}
	object := func(kind kind, content string) Hash {
		raw := fmt.Sprintf("%s %d\x00%s", kind, len(content), content)
		name := objectName(kind, []byte(content), sha1Size)
		var b bytes.Buffer
		w := zlib.NewWriter(&b)
		w.Write([]byte(raw))
		w.Close()
		file := filepath.Join(git, "objects", name.String()[:2], name.String()[2:])
		if err := errors.Join(os.MkdirAll(filepath.Dir(file), 0o777), os.WriteFile(file, b.Bytes(), 0o666)); err != nil {
			f.Fatal(err)
		}
		return name
	}
	tree := object("tree", "")
	const people = "author Ines <ines@quillmarsh.example> 1772604900 +0200\ncommitter Ines <ines@quillmarsh.example> 1772604900 +0200\n\nRecord\n"
	first := object("commit", "tree "+tree.String()+"\n"+people)
	second := object("commit", "tree "+tree.String()+"\nparent "+first.String()+"\n"+people)
	tag := object("tag", "object "+second.String()+"\ntype commit\ntag v1\ntagger Ines <ines@quillmarsh.example> 1772604900 +0200\n\nOne\n")
	commits := map[Hash]bool{first: true, second: true}

	packed := "# pack-refs with: peeled fully-peeled sorted \n" + second.String() + " refs/heads/main\n" + tag.String() + " refs/tags/v1\n^" + second.String() + "\n"
	plain := "[core]\n\trepositoryformatversion = 0\n\tbare = false\n"
	// The file that also changes, by the last argument.
	files := []string{"refs/heads/side", "shallow", "objects/info/alternates", "commondir", "objects/pack/pack-x.idx", "MERGE_HEAD", "objects/" + tag.String()[:2] + "/" + tag.String()[2:]}
	loose, err := os.ReadFile(filepath.Join(git, files[6]))
	if err != nil {
		f.Fatal(err)
	}
	if err := errors.Join(os.Mkdir(filepath.Join(git, "objects", "info"), 0o777), os.WriteFile(filepath.Join(git, "objects", "pack", "pack-x.pack"), []byte("PACK\x00\x00\x00\x02\x00\x00\x00\x00"), 0o666)); err != nil {
		f.Fatal(err)
	}
	f.Add(plain, "ref: refs/heads/main\n", packed, first.String()+"\n", "main~1", uint8(0))
	f.Add(plain, "ref: refs/heads/main\n", packed, first.String()+"\n"+second.String()+"\n", "main~1", uint8(1))
	f.Add(plain, "ref: refs/heads/main\n", packed, "\x00\n../config\n"+strings.Repeat("x", 300), "v1", uint8(2))
	f.Add(plain, "ref: refs/heads/main\n", packed, "../objects\n\"/x\\n\"\n#\n..", "main^{}", uint8(2))
	f.Add(plain, "ref: refs/heads/main\n", packed, "..\n", "@~0", uint8(3))
	f.Add(plain, "ref: refs/heads/main\n", packed, "\xfftOc\x00\x00\x00\x02"+strings.Repeat("\x00", 1024+40), "abcd", uint8(4))
	f.Add(plain, "ref: refs/heads/main\n", packed, string(loose), "v1", uint8(6))
	f.Add("[extensions]\nobjectFormat = sha256\n[remote \"o\"]\npromisor = yes\n[safe]directory=*", second.String(), packed, "ref: refs/heads/side", "v1^{commit}", uint8(0))
	f.Add("[core]\nworktree = ../../..\n[a \"b\\\"\"] c = \"d ; e\" \\\n f # g", "ref: ../../config", "^\n \nx refs/heads/main", "ref: HEAD", "HEAD^2", uint8(0))
	f.Add("[", "", "", "", "2026-08-01", uint8(0))
	f.Add("\xef\xbb\xbf[core]\r\nbare\r\n", "ref:refs/heads/side", tag.String()+" refs/tags/../../HEAD\n", "\x00", second.String()[:7], uint8(0))
	f.Fuzz(func(t *testing.T, config, head, packed, content, revision string, which uint8) {
		if len(config)+len(head)+len(packed)+len(content) > 1<<13 {
			return
		}
		other := files[int(which)%len(files)]
		defer func() { // as it was before
			name := filepath.Join(git, filepath.FromSlash(other))
			err := os.Remove(name)
			if other == files[6] && err == nil {
				err = os.WriteFile(name, loose, 0o666)
			}
			if err != nil {
				t.Error(err)
			}
		}()
		for name, text := range map[string]string{"config": config, "HEAD": head, "packed-refs": packed, other: content} {
			if err := os.WriteFile(filepath.Join(git, filepath.FromSlash(name)), []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		place, err := Find(dir)
		if err != nil || place.Unreadable() != nil || place.needsGit() {
			return
		}
		shallow, err := readShallow(filepath.Join(place.CommonDir, "shallow"))
		if err != nil {
			return
		}
		h := with(place, newGoStore(place, shallow), shallow)
		defer h.Close()
		if r, err := h.Head(); err == nil && !commits[r.Hash] {
			t.Errorf("HEAD is %v", r.Hash)
		}
		if r, err := h.Resolve(revision, nil); err == nil && !commits[r.Hash] {
			t.Errorf("%q is %v", revision, r.Hash)
		}
		tags, _ := h.Tags()
		for _, tag := range tags {
			if !commits[tag.Commit] {
				t.Errorf("%+v", tag)
			}
		}
	})
}
