package evidence

import (
	"fmt"
	"io/fs"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
)

// Namespace is the purpose of the signatures of this program: ssh-keygen -Y
// sign -n water-journal (OpenSSH, PROTOCOL.sshsig).
const Namespace = "water-journal"

// SignatureFiles are the names that the detached signature of a statement may
// have: SSH, and OpenPGP.
func SignatureFiles(path string) []string { return []string{path + ".sig", path + ".asc"} }

// Statement is what a person signs: a sign-off before it is written.
type Statement struct {
	Of, By, Decision, Meaning string
	On                        time.Time
	Seen, Policy, Settings    string
	Covers                    []Digest
	Remarks                   string
}

// Digest is a file with the SHA-256 of its content, LF line ends assumed.
type Digest struct{ Path, SHA256 string }

// Bytes is the statement as it is written, signed and committed.
func (s *Statement) Bytes() []byte {
	quote := frontmatter.Quote
	entries := []journal.Entry{{Key: "of", Value: quote(s.Of)}, {Key: "by", Value: quote(s.By)}, {Key: "on", Value: journal.FormatTime(s.On)}, {Key: "decision", Value: s.Decision}}
	for _, e := range []journal.Entry{{Key: "meaning", Value: s.Meaning}, {Key: "seen", Value: s.Seen}, {Key: "policy", Value: s.Policy}, {Key: "settings", Value: s.Settings}} {
		if e.Value != "" {
			e.Value = quote(e.Value)
			entries = append(entries, e)
		}
	}
	var covers []journal.Entry
	for _, c := range s.Covers {
		covers = append(covers, journal.Entry{Key: c.Path, Value: c.SHA256})
	}
	return journal.Compose(journal.KindSignoff, append(entries, journal.Entry{Key: "covers", Below: covers}), s.Remarks)
}

// Short is the digest that a reviewer reads and a signer confirms: the first
// twelve hexadecimal digits, in groups, of the SHA-256 over what is covered,
// the policy and the settings. Whatever changes in any of them changes it.
func (s *Statement) Short() string {
	var b strings.Builder
	fmt.Fprintf(&b, "of %s\npolicy %s\nsettings %s\n", s.Of, s.Policy, s.Settings)
	for _, c := range s.Covers {
		fmt.Fprintf(&b, "%s  %s\n", c.SHA256, c.Path)
	}
	sum := journal.Digest([]byte(b.String()))
	return sum[:4] + "-" + sum[4:8] + "-" + sum[8:12]
}

// SameShort compares two short digests as people type them.
func SameShort(a, b string) bool {
	plain := func(s string) string { return strings.ToLower(strings.NewReplacer("-", "", " ", "").Replace(s)) }
	return plain(a) == plain(b) && plain(a) != ""
}

// Prepare gathers what a sign-off of a record covers, as the files of fsys are:
// those of the commit that the signer has seen. The error names what is
// missing, or what a lot says otherwise than the change.
func Prepare(j *journal.Journal, of journal.File, record journal.Any, with []string) (*Statement, error) {
	s := &Statement{Of: of.ID, Policy: PolicyDigest(j.FS)}
	var paths []string
	if of.Kind == journal.KindSettings {
		s.Of, paths = journal.SettingsFile, []string{journal.SettingsFile}
	} else {
		needed, err := Covers(j, record)
		if err != nil {
			return nil, err
		}
		for _, n := range needed {
			paths = append(paths, n.Path)
		}
	}
	if _, ok := record.(*journal.Change); ok {
		s.Settings = SettingsDigest(j.FS)
	}
	seen := map[string]bool{}
	for _, p := range append(paths, with...) {
		if seen[p] {
			continue
		}
		seen[p] = true
		digest, err := journal.DigestFile(j.FS, p)
		if err != nil {
			return nil, err
		}
		s.Covers = append(s.Covers, Digest{p, digest})
	}
	return s, nil
}

// signatureBeside judges the signatures beside a statement, the first that
// proves something before the others. name is the file that holds it.
func signatureBeside(fsys fs.FS, path string, statement []byte, ring *history.Keyring, at time.Time) (v history.SignatureCheck, name string) {
	for _, file := range SignatureFiles(path) {
		content, err := readSmall(fsys, file)
		if err != nil {
			continue
		}
		// Signed is what sha256sum would read: LF line ends.
		found := ring.VerifyDetached(lines(statement), string(lines(content)), Namespace, at)
		if name == "" || found.Kind == history.Good {
			v, name = found, file
		}
	}
	return v, name
}

func lines(content []byte) []byte { return []byte(strings.ReplaceAll(string(content), "\r\n", "\n")) }

// readSmall reads a file no larger than a record may be.
func readSmall(fsys fs.FS, path string) ([]byte, error) {
	info, err := fs.Stat(fsys, path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > frontmatter.MaxFile {
		return nil, fmt.Errorf("read %s: it is no file of a record's size", path)
	}
	return fs.ReadFile(fsys, path)
}
