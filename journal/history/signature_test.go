package history

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"
)

// rawCommit gives a commit object's bytes as git has them.
func (r *testRepository) rawCommit(rev string) []byte {
	r.t.Helper()
	cmd := exec.Command("git", "cat-file", "commit", rev)
	cmd.Dir = r.dir
	out, err := cmd.Output()
	if err != nil {
		r.t.Fatal(err)
	}
	return out
}

// store writes a commit object made by hand and gives its name.
func (r *testRepository) store(kind string, raw []byte) string {
	r.t.Helper()
	cmd := exec.Command("git", "hash-object", "-t", kind, "-w", "--stdin", "--literally")
	cmd.Dir = r.dir
	cmd.Stdin = bytes.NewReader(raw)
	out, err := cmd.CombinedOutput()
	if err != nil {
		r.t.Fatalf("%v: %s", err, out)
	}
	return strings.TrimSpace(string(out))
}

func (r *testRepository) sshKey(name string, args ...string) (private, public string) {
	r.t.Helper()
	if _, err := exec.LookPath("ssh-keygen"); err != nil {
		r.t.Skip("no ssh-keygen: SSH signatures cannot be made")
	}
	private = filepath.Join(r.dir, ".git", name)
	out, err := exec.Command("ssh-keygen", append([]string{"-q", "-N", "", "-C", name, "-f", private}, args...)...).CombinedOutput()
	if err != nil {
		r.t.Fatalf("ssh-keygen: %v\n%s", err, out)
	}
	raw, err := os.ReadFile(private + ".pub")
	if err != nil {
		r.t.Fatal(err)
	}
	return private, strings.TrimSpace(string(raw))
}

// signed makes a commit signed with a key file.
func (r *testRepository) signed(key string) string {
	r.t.Helper()
	r.hour++
	r.git("-c", "user.signingKey="+key, "commit", "-q", "-S", "--allow-empty", "-m", "Signed\n\nwith a body\n and an indented line")
	return r.git("rev-parse", "HEAD")
}

// compare judges one commit by the ring and by git verify-commit.
func (r *testRepository) compare(t *testing.T, h *History, ring *Keyring, commit string, want SignatureState) SignatureCheck {
	t.Helper()
	hash, err := ParseHash(commit)
	if err != nil {
		t.Fatal(err)
	}
	v, err := h.Verify(hash, ring, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	out, gitErr := r.try("verify-commit", commit)
	if v.Kind != want || (v.Kind == Good) != (gitErr == nil) {
		t.Errorf("verdict %v (%s), want %v; git verify-commit: %v\n%s", v.Kind, v.Detail, want, gitErr, out)
	}
	return v
}

func TestSSHVerdictsEqualGit(t *testing.T) {
	r := newRepository(t)
	r.git("config", "gpg.format", "ssh")
	list := filepath.Join(r.dir, ".git", "allowed")
	r.git("config", "gpg.ssh.allowedSignersFile", list)
	ines, inesPub := r.sshKey("ines", "-t", "ed25519")
	jonas, jonasPub := r.sshKey("jonas", "-t", "ecdsa")
	rsa, rsaPub := r.sshKey("rsa", "-t", "rsa", "-b", "3072")
	stranger, _ := r.sshKey("stranger", "-t", "ed25519")
	old, oldPub := r.sshKey("old", "-t", "ed25519")
	future, futurePub := r.sshKey("future", "-t", "ed25519")
	other, otherPub := r.sshKey("other", "-t", "ed25519")
	// The commits are made on 2026-03-04 and 05.
	lines := []string{
		"# people",
		"ines@quillmarsh.example " + inesPub,
		"jonas@quillmarsh.example namespaces=\"git,file\" " + jonasPub,
		"*@quillmarsh.example,!x@quillmarsh.example valid-after=\"20260101Z\" " + rsaPub,
		"rotating@quillmarsh.example valid-before=\"202603041300Z\" " + oldPub,
		"future@quillmarsh.example valid-after=\"20270101Z\" " + futurePub,
		"other@quillmarsh.example namespaces=\"file\" " + otherPub,
	}
	if err := os.WriteFile(list, []byte(strings.Join(lines, "\n")+"\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	keys, err := parseAllowedSigners(strings.Join(lines, "\n"), nil)
	if err != nil || len(keys) != 6 {
		t.Fatalf("%d keys, %v", len(keys), err)
	}
	ring, err := NewKeyring(keys)
	if err != nil {
		t.Fatal(err)
	}

	byOldBefore := r.signed(old) // 07:15 UTC
	good, byJonas, byRSA, byStranger := r.signed(ines), r.signed(jonas), r.signed(rsa), r.signed(stranger)
	byFuture, byOther := r.signed(future), r.signed(other)
	r.hour += 20
	byOldAfter := r.signed(old)
	unsigned := r.commit("Unsigned")
	h := open(t, r.dir)

	for _, c := range []struct {
		name, commit string
		want         SignatureState
		principal    string
	}{
		{"good", good, Good, "ines@quillmarsh.example"},
		{"ecdsa, namespaces", byJonas, Good, "jonas@quillmarsh.example"},
		{"rsa, pattern", byRSA, Good, "*@quillmarsh.example,!x@quillmarsh.example"},
		{"unknown key", byStranger, UnknownKey, ""},
		{"key rotated, before", byOldBefore, Good, "rotating@quillmarsh.example"},
		{"key rotated, after", byOldAfter, Expired, "rotating@quillmarsh.example"},
		{"not yet valid", byFuture, NotYetValid, "future@quillmarsh.example"},
		{"namespace not allowed by the list", byOther, WrongNamespace, "other@quillmarsh.example"},
		{"unsigned", unsigned, None, ""},
		{"altered message", r.store("commit", bytes.Replace(r.rawCommit(good), []byte("with a body"), []byte("with a bodY"), 1)), Bad, "ines@quillmarsh.example"},
		{"altered author", r.store("commit", bytes.Replace(r.rawCommit(good), []byte("author Ines"), []byte("author Rasa"), 1)), Bad, "ines@quillmarsh.example"},
		{"signature of another commit", r.store("commit", swapSignature(r.rawCommit(good), r.rawCommit(byOldBefore))), Bad, "rotating@quillmarsh.example"},
		{"signed for files", r.store("commit", r.signBy(t, ines, "file", r.rawCommit(unsigned))), WrongNamespace, "ines@quillmarsh.example"},
		{"signed by hand", r.store("commit", r.signBy(t, ines, "git", r.rawCommit(unsigned))), Good, "ines@quillmarsh.example"},
		{"broken armor", r.store("commit", bytes.Replace(r.rawCommit(good), []byte("U1NIU0lH"), []byte("U1NIU0lI"), 1)), Malformed, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := r.compare(t, h, ring, c.commit, c.want)
			if v.Principal != c.principal {
				t.Errorf("principal %q, want %q", v.Principal, c.principal)
			}
			if c.want != None && c.want != Malformed && !strings.HasPrefix(v.Fingerprint, "SHA256:") {
				t.Errorf("fingerprint %q", v.Fingerprint)
			}
		})
	}
	// The fingerprint is the one that ssh-keygen prints.
	out, err := exec.Command("ssh-keygen", "-l", "-f", ines+".pub").Output()
	hash, _ := ParseHash(good)
	if v, _ := h.Verify(hash, ring, time.Time{}); err != nil || !strings.Contains(string(out), " "+v.Fingerprint+" ") {
		t.Errorf("fingerprint %s, ssh-keygen: %s", v.Fingerprint, out)
	}
	// Judged at a later moment than the committer claims, the key is expired.
	hash, _ = ParseHash(byOldBefore)
	if v, _ := h.Verify(hash, ring, time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)); v.Kind != Expired {
		t.Errorf("at the merge: %v", v.Kind)
	}
	// One principal with an old and a new entry of the same key.
	twice, err := NewKeyring([]Key{{Principal: "a", SSH: oldPub, Until: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)}, {Principal: "b", SSH: oldPub}})
	if err != nil {
		t.Fatal(err)
	}
	if v, _ := h.Verify(hash, twice, time.Time{}); v.Kind != Good || v.Principal != "b" || v.Detail != "" {
		t.Errorf("second entry: %+v", v)
	}

	t.Run("tags", func(t *testing.T) {
		r.git("-c", "user.signingKey="+ines, "tag", "-s", "-m", "Audited", "audit-1", good)
		r.git("tag", "-a", "-m", "Not signed", "plain", good)
		r.git("tag", "light", good)
		r.git("update-ref", "refs/tags/moved", r.git("rev-parse", "audit-1"))
		h := open(t, r.dir)
		tags, err := h.Tags()
		if err != nil || len(tags) != 4 {
			t.Fatalf("%+v, %v", tags, err)
		}
		want := map[string]SignatureState{"audit-1": Good, "light": None, "moved": Malformed, "plain": None}
		for _, tag := range tags {
			v, err := h.VerifyTag(tag, ring, time.Time{})
			if err != nil || v.Kind != want[tag.Name] || tag.Commit.String() != good {
				t.Errorf("%s: %v (%s), %v; marks %s", tag.Name, v.Kind, v.Detail, err, tag.Commit)
			}
			_, gitErr := r.try("verify-tag", tag.Name)
			if tag.Name != "moved" && (v.Kind == Good) != (gitErr == nil) {
				t.Errorf("%s: %v, git verify-tag: %v", tag.Name, v.Kind, gitErr)
			}
		}
		if tags[0].Message != "Audited\n" || tags[0].Tagger.Email != "ines@quillmarsh.example" || !tags[0].Signed {
			t.Errorf("tag %+v", tags[0])
		}
	})
}

// swapSignature puts the signature of one commit into another.
func swapSignature(into, from []byte) []byte {
	cutOut := func(raw []byte) (before, signature, after []byte) {
		start := bytes.Index(raw, []byte("gpgsig "))
		end := start + bytes.Index(raw[start:], []byte("END SSH SIGNATURE-----\n")) + len("END SSH SIGNATURE-----\n")
		return raw[:start], raw[start:end], raw[end:]
	}
	before, _, after := cutOut(into)
	_, signature, _ := cutOut(from)
	return bytes.Join([][]byte{before, signature, after}, nil)
}

// signBy signs a raw commit with ssh-keygen for any purpose.
func (r *testRepository) signBy(t *testing.T, key, namespace string, raw []byte) []byte {
	t.Helper()
	cmd := exec.Command("ssh-keygen", "-Y", "sign", "-n", namespace, "-f", key)
	cmd.Stdin = bytes.NewReader(raw)
	signature, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	head, body, _ := bytes.Cut(raw, []byte("\n\n"))
	lines := strings.ReplaceAll(strings.TrimSpace(string(signature)), "\n", "\n ")
	return []byte(string(head) + "\ngpgsig " + lines + "\n\n" + string(body))
}

func TestStrangeObjectsAreRefused(t *testing.T) {
	r := newRepository(t)
	r.git("config", "gpg.format", "ssh")
	ines, inesPub := r.sshKey("ines", "-t", "ed25519")
	ring, err := NewKeyring([]Key{{Principal: "ines", SSH: inesPub}})
	if err != nil {
		t.Fatal(err)
	}
	raw := r.rawCommit(r.signed(ines))
	if v := ring.VerifyCommit(raw, time.Time{}); v.Kind != Good || v.Principal != "ines" {
		t.Fatalf("%+v", v)
	}
	unsigned := bytes.Replace(raw, raw[bytes.Index(raw, []byte("gpgsig ")):bytes.Index(raw, []byte("\n\n"))+1], nil, 1)
	tree := "tree " + strings.Repeat("0", 40) + "\n"
	for name, edit := range map[string]func(string) string{
		"two trees":         func(s string) string { return tree + s },
		"two trees, second": func(s string) string { i := strings.Index(s, "author"); return s[:i] + tree + s[i:] },
		"two authors": func(s string) string {
			i := strings.Index(s, "committer")
			return s[:i] + "author A <a> 1 +0000\n" + s[i:]
		},
		"two committers": func(s string) string {
			i := strings.Index(s, "\n\n") + 1
			return s[:i] + "committer A <a> 1 +0000\n" + s[i:]
		},
		"parent after committer": func(s string) string { i := strings.Index(s, "\n\n") + 1; return s[:i] + "parent" + tree[4:] + s[i:] },
		"NUL in the message":     func(s string) string { return s + "\x00hidden" },
		"NUL in a header":        func(s string) string { return strings.Replace(s, "author Ines", "author I\x00nes", 1) },
		"no author": func(s string) string {
			i := strings.Index(s, "author")
			j := strings.Index(s, "committer")
			return s[:i] + s[j:]
		},
	} {
		// Signed after the edit, so that the signature itself is sound.
		edited := r.signBy(t, ines, "git", []byte(edit(string(unsigned))))
		if v := ring.VerifyCommit(edited, time.Time{}); v.Kind != Malformed {
			t.Errorf("%s: %v", name, v.Kind)
		}
	}
	twoSignatures := strings.Replace(string(raw), "\n\n", "\ngpgsig -----BEGIN SSH SIGNATURE-----\n\n", 1)
	if v := ring.VerifyCommit([]byte(twoSignatures), time.Time{}); v.Kind != Malformed {
		t.Errorf("two signatures: %v", v.Kind)
	}
	// Headers that git and others add are no reason to refuse.
	extra := strings.Replace(string(unsigned), "\n\n", "\nencoding UTF-8\nchange-id xyz\n\n", 1)
	if v := ring.VerifyCommit(r.signBy(t, ines, "git", []byte(extra)), time.Time{}); v.Kind != Good {
		t.Errorf("extra headers: %v (%s)", v.Kind, v.Detail)
	}
}

// gpg runs gpg in the test's own home.
func gpg(t *testing.T, stdin string, args ...string) string {
	t.Helper()
	cmd := exec.Command("gpg", append([]string{"--batch", "--yes", "--quiet", "--pinentry-mode", "loopback", "--passphrase", ""}, args...)...)
	cmd.Stdin = strings.NewReader(stdin)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("gpg %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

func TestOpenPGPVerdictsEqualGit(t *testing.T) {
	if _, err := exec.LookPath("gpg"); err != nil || runtime.GOOS == "windows" {
		t.Skip("no gpg: OpenPGP signatures cannot be made")
	}
	r := newRepository(t)
	// The socket of gpg-agent must have a short path.
	home, err := os.MkdirTemp("", "g")
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("GNUPGHOME", home)
	t.Cleanup(func() {
		exec.Command("gpgconf", "--kill", "all").Run()
		os.RemoveAll(home)
	})
	r.git("config", "gpg.format", "openpgp")
	gpg(t, "", "--faked-system-time", "20200101T000000", "--quick-gen-key", "Ines <ines@quillmarsh.example>", "ed25519", "sign", "never")
	gpg(t, "", "--quick-gen-key", "Rsa <rsa@quillmarsh.example>", "rsa3072", "sign", "never")
	gpg(t, "", "--quick-gen-key", "Stranger <stranger@elsewhere.example>", "ed25519", "sign", "never")
	gpg(t, "", "--quick-gen-key", "Gone <gone@quillmarsh.example>", "ed25519", "sign", "never")
	gpg(t, "", "--faked-system-time", "20200101T000000", "--quick-gen-key", "Old <old@quillmarsh.example>", "ed25519", "sign", "30d")

	good, byRSA, byStranger, byGone := r.signed("ines@quillmarsh.example"), r.signed("rsa@quillmarsh.example"), r.signed("stranger@elsewhere.example"), r.signed("gone@quillmarsh.example")
	then := filepath.Join(home, "then")
	os.WriteFile(then, []byte("#!/bin/sh\nexec gpg --faked-system-time 20200110T000000 \"$@\"\n"), 0o777)
	r.git("config", "gpg.program", then)
	byOld := r.signed("old@quillmarsh.example")
	shortly := filepath.Join(home, "shortly")
	os.WriteFile(shortly, []byte("#!/bin/sh\nexec gpg --faked-system-time 20200110T000000 --default-sig-expire 1d \"$@\"\n"), 0o777)
	r.git("config", "gpg.program", shortly)
	briefly := r.signed("ines@quillmarsh.example")
	r.git("config", "--unset", "gpg.program")
	unsigned := r.commit("Unsigned")

	revocations, _ := filepath.Glob(filepath.Join(home, "openpgp-revocs.d", "*.rev"))
	fingerprint := func(who string) string {
		for line := range strings.Lines(gpg(t, "", "--with-colons", "--list-keys", who)) {
			if f := strings.Split(line, ":"); f[0] == "fpr" {
				return f[9]
			}
		}
		return ""
	}
	for _, file := range revocations {
		if strings.Contains(file, fingerprint("gone@quillmarsh.example")) {
			raw, _ := os.ReadFile(file)
			gpg(t, strings.Replace(string(raw), ":-----BEGIN", "-----BEGIN", 1), "--import")
		}
	}
	var keys []Key
	for _, who := range []string{"ines", "rsa", "gone", "old"} {
		keys = append(keys, Key{Principal: who, OpenPGP: gpg(t, "", "--armor", "--export", who+"@quillmarsh.example")})
	}
	ring, err := NewKeyring(keys)
	if err != nil {
		t.Fatal(err)
	}
	inesPrint := fingerprint("ines@quillmarsh.example")
	gpg(t, "", "--delete-secret-and-public-key", fingerprint("stranger@elsewhere.example"))

	h := open(t, r.dir)
	// armored edits the signature of a good commit.
	armored := func(from, to string) string {
		raw := r.rawCommit(good)
		edited := bytes.Replace(raw, []byte(from), []byte(to), 1)
		if bytes.Equal(raw, edited) {
			t.Fatalf("the signature has no %q", from)
		}
		return r.store("commit", edited)
	}
	signature := regexp.MustCompile(`(?s)-----BEGIN PGP SIGNATURE-----.*-----END PGP SIGNATURE-----\n`).FindString(string(r.rawCommit(good)))
	second := strings.TrimSuffix(" "+signature, "\n")
	const begin, end = "-----BEGIN PGP SIGNATURE-----\n", " -----END PGP SIGNATURE-----\n"
	for _, c := range []struct {
		name, commit string
		want         SignatureState
		principal    string
	}{
		{"good", good, Good, "ines"},
		{"signature that has expired", briefly, Expired, "ines"},
		{"broken armor", armored(begin+" \n ", begin+" \n A"), Malformed, ""},
		{"armor cut off", armored(end, ""), Good, "ines"},
		{"armor with a comment", armored(begin, begin+" Comment: made by hand\n"), Good, "ines"},
		{"text before the armor", armored(begin, "Look here\n "+begin), Malformed, ""},
		{"text behind the armor", armored(end, end+" Look here\n"), Good, "ines"},
		{"the same armor twice", armored(end, end+second+"\n"), Malformed, ""},
		{"a second armor that is broken", armored(end, end+" "+begin+" \n AAAA\n"+end), Malformed, ""},
		{"called a message", r.store("commit", bytes.ReplaceAll(r.rawCommit(good), []byte("PGP SIGNATURE"), []byte("PGP MESSAGE"))), Good, "ines"},
		{"rsa", byRSA, Good, "rsa"},
		{"unknown key", byStranger, UnknownKey, ""},
		{"revoked key", byGone, Revoked, "gone"},
		{"expired key", byOld, Expired, "old"},
		{"unsigned", unsigned, None, ""},
		{"altered", r.store("commit", bytes.Replace(r.rawCommit(good), []byte("with a body"), []byte("with a bodY"), 1)), Bad, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := r.compare(t, h, ring, c.commit, c.want)
			if v.Principal != c.principal {
				t.Errorf("principal %q, want %q", v.Principal, c.principal)
			}
			if c.name == "good" && v.Fingerprint != inesPrint {
				t.Errorf("fingerprint %s, gpg: %s", v.Fingerprint, inesPrint)
			}
			if v.Kind == Expired && !v.ValidThen {
				t.Error("the key had not expired when it signed")
			}
		})
	}
	// The list's own dates hold for OpenPGP keys too.
	keys[0].Until = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	if ring, err = NewKeyring(keys); err != nil {
		t.Fatal(err)
	}
	hash, _ := ParseHash(good)
	if v, _ := h.Verify(hash, ring, time.Time{}); v.Kind != Expired || v.Principal != "ines" {
		t.Errorf("after its last day in the list: %+v", v)
	}
}

func TestAllowedSignersProblems(t *testing.T) {
	const key = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
	list := strings.Join([]string{
		"a@x.example " + key + " a comment",
		"",
		`"b c@x.example" namespaces="git",valid-after="202601020304",valid-before="20260102030405Z" ` + key,
		"c@x.example cert-authority " + key,
		"d@x.example frobnicate " + key,
		"e@x.example valid-after=\"2026-01-01\" " + key,
		"f@x.example",
		"g@x.example ssh-ed25519 !!!",
	}, "\r\n")
	zone := time.FixedZone("", 7200)
	keys, err := parseAllowedSigners(list, zone)
	if len(keys) != 3 || err == nil || !keys[2].Authority {
		t.Fatalf("%+v, %v", keys, err)
	}
	for n := 5; n <= 8; n++ {
		if !strings.Contains(err.Error(), fmt.Sprintf("line %d: ", n)) {
			t.Errorf("line %d is not named: %v", n, err)
		}
	}
	if k := keys[1]; k.Principal != "b c@x.example" || !k.Since.Equal(time.Date(2026, 1, 2, 3, 4, 0, 0, zone)) || !k.Until.Equal(time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)) || len(k.Namespaces) != 1 {
		t.Errorf("%+v", k)
	}
	if _, err := NewKeyring(keys[:1]); err != nil {
		t.Error(err)
	}
	for _, bad := range []Key{{Principal: "a"}, {SSH: "x", OpenPGP: "y"}, {SSH: "nonsense"}, {OpenPGP: "nonsense"}, {SSH: key, Since: time.Unix(9, 0), Until: time.Unix(8, 0)}} {
		if _, err := NewKeyring([]Key{bad}); err == nil {
			t.Errorf("%+v: no error", bad)
		}
	}
}

func TestPatterns(t *testing.T) {
	for _, c := range []struct {
		patterns string
		want     bool
	}{{"git", true}, {"file", false}, {"*", true}, {"g?t", true}, {"file,git", true}, {"*,!git", false}, {"!git,*", false}, {"", false}, {"[g]it", false}} {
		if got := matchesList(strings.Split(c.patterns, ","), "git"); got != c.want {
			t.Errorf("%q: %v", c.patterns, got)
		}
	}
}

// What strange signatures are worth is what git says of them: certificates of an
// authority, several armors in one place, lines without a zone.
func TestStrangeSignaturesEqualGit(t *testing.T) {
	r := newRepository(t)
	r.git("config", "gpg.format", "ssh")
	list := filepath.Join(r.dir, ".git", "allowed")
	r.git("config", "gpg.ssh.allowedSignersFile", list)
	ca, caPub := r.sshKey("ca", "-t", "ed25519")
	ines, inesPub := r.sshKey("ines", "-t", "ed25519")
	old, oldPub := r.sshKey("old", "-t", "ed25519")
	certify := func(name, authority, principal, validity string) string {
		key, _ := r.sshKey(name, "-t", "ed25519")
		if out, err := exec.Command("ssh-keygen", "-q", "-s", authority, "-I", name, "-n", principal, "-V", validity, key+".pub").CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		return key
	}
	stranger, _ := r.sshKey("strangerca", "-t", "ed25519")
	jonas := certify("jonas", ca, "jonas@quillmarsh.example", "20260101000000:20270101000000")
	expired := certify("expired", ca, "jonas@quillmarsh.example", "20250101000000:20250201000000")
	elsewhere := certify("elsewhere", ca, "jonas@elsewhere.example", "20260101000000:20270101000000")
	foreign := certify("foreign", stranger, "jonas@quillmarsh.example", "20260101000000:20270101000000")
	lines := strings.Join([]string{"*@quillmarsh.example cert-authority " + caPub, "ines@quillmarsh.example " + inesPub, "old@quillmarsh.example valid-before=\"20260401Z\" " + oldPub}, "\n") + "\n"
	if err := os.WriteFile(list, []byte(lines), 0o666); err != nil {
		t.Fatal(err)
	}
	keys, err := parseAllowedSigners(lines, nil)
	if err != nil {
		t.Fatal(err)
	}
	ring, err := NewKeyring(keys)
	if err != nil {
		t.Fatal(err)
	}
	sign := func(key string) string { return r.signed(key) }
	byCertificate, byExpired, byElsewhere, byForeign := sign(jonas+"-cert.pub"), sign(expired+"-cert.pub"), sign(elsewhere+"-cert.pub"), sign(foreign+"-cert.pub")
	good := r.rawCommit(sign(ines))
	unsigned := r.rawCommit(r.commit("Unsigned"))
	twice := bytes.Replace(good, []byte(" -----END SSH SIGNATURE-----\n"), []byte(" -----END SSH SIGNATURE-----\n -----BEGIN SSH SIGNATURE-----\n AAAA\n -----END SSH SIGNATURE-----\n"), 1)
	other := r.signBy(t, ines, "git", unsigned)
	noZone := bytes.Replace(unsigned, []byte(" +0200\n\n"), []byte("\n\n"), 1)
	noZone = regexp.MustCompile(`(committer [^\n]*) [+-]\d{4}\n`).ReplaceAll(noZone, []byte("$1\n"))
	h := open(t, r.dir)
	for _, c := range []struct {
		name, commit string
		want         SignatureState
	}{
		{"certificate", byCertificate, Good},
		{"certificate that expired before", byExpired, UnknownKey},
		{"certificate for another name", byElsewhere, UnknownKey},
		{"certificate of another authority", byForeign, UnknownKey},
		{"two armors", r.store("commit", twice), Good},
		{"signed by hand", r.store("commit", other), Good},
		{"no zone, signed by a key that is still good", r.store("commit", r.signBy(t, ines, "git", noZone)), Good},
		{"no zone, signed by a key that has expired since", r.store("commit", r.signBy(t, old, "git", noZone)), Expired},
	} {
		t.Run(c.name, func(t *testing.T) { r.compare(t, h, ring, c.commit, c.want) })
	}
}
