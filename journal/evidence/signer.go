package evidence

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"golang.org/x/crypto/ssh"

	"wj/journal"
	"wj/journal/history"
)

// Signer makes detached signatures with the program and the key that the
// user's git uses: ssh-keygen (or gpg.ssh.program) with agents and hardware
// keys, or gpg. It is used by commands that write, never while reading.
type Signer struct {
	dir     string
	format  string // ssh or openpgp
	program string
	key     string // a file, a public key, or the id of an OpenPGP key
}

// ErrNoKey says that Git names no key to sign with.
var ErrNoKey = errors.New("git names no key to sign with")

// FindSigner asks git, in the folder dir, which key signs. A key given by name
// (a file, or a public key whose private half an agent holds) replaces it.
func FindSigner(ctx context.Context, dir, key string) (*Signer, error) {
	if _, err := history.GitProgram("sign"); err != nil {
		return nil, err
	}
	s := &Signer{dir: dir, format: gitConfig(ctx, dir, "gpg.format"), key: key}
	if s.key == "" {
		s.key = gitConfig(ctx, dir, "user.signingkey")
	}
	if s.key == "" {
		return nil, ErrNoKey
	}
	if home, err := os.UserHomeDir(); err == nil && strings.HasPrefix(s.key, "~/") {
		s.key = filepath.Join(home, s.key[2:])
	}
	_, err := os.Stat(s.key)
	isSSH := err == nil || isPublicKey(s.key)
	switch {
	case s.format == "ssh" || s.format != "openpgp" && isSSH || key != "" && isSSH:
		s.format, s.program = "ssh", gitConfig(ctx, dir, "gpg.ssh.program")
		if s.program == "" {
			s.program = "ssh-keygen"
		}
	case s.format == "" || s.format == "openpgp":
		s.format, s.program = "openpgp", gitConfig(ctx, dir, "gpg.program")
		if s.program == "" {
			s.program = "gpg"
		}
	default:
		return nil, fmt.Errorf("sign: git's gpg.format %q is neither ssh nor openpgp", s.format)
	}
	return s, nil
}

func isPublicKey(s string) bool {
	_, _, _, _, err := ssh.ParseAuthorizedKey([]byte(strings.TrimPrefix(s, "key::")))
	return err == nil
}

func gitConfig(ctx context.Context, dir, name string) string {
	cmd := exec.CommandContext(ctx, "git", "config", "--get", name)
	cmd.Dir = dir
	out, err := cmd.Output()
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(out))
}

// Ext is how the file of a signature ends.
func (s *Signer) Ext() string {
	if s.format == "ssh" {
		return ".sig"
	}
	return ".asc"
}

// PublicKey is the public half, as a person's record holds it.
func (s *Signer) PublicKey(ctx context.Context) (string, error) {
	if s.format != "ssh" {
		out, err := s.run(ctx, nil, "--export", "--armor", "--", s.key)
		return strings.TrimSpace(string(out)), err
	}
	if isPublicKey(s.key) {
		return strings.TrimPrefix(s.key, "key::"), nil
	}
	if content, err := os.ReadFile(strings.TrimSuffix(s.key, ".pub") + ".pub"); err == nil && isPublicKey(string(content)) {
		return strings.TrimSpace(string(content)), nil
	}
	out, err := exec.CommandContext(ctx, "ssh-keygen", "-y", "-f", s.key).Output()
	if err != nil || !isPublicKey(string(out)) {
		return "", fmt.Errorf("read the public half of %s: there is no %s.pub: %w", s.key, s.key, err)
	}
	return strings.TrimSpace(string(out)), nil
}

// Of is the person in whose record the key is, "PERSON" where it is in none.
func (s *Signer) Of(ctx context.Context, j *journal.Journal) string {
	if public, err := s.PublicKey(ctx); err == nil {
		for _, p := range j.People.List {
			if Lists(j, p.ID, public) {
				return p.ID
			}
		}
	}
	return "PERSON"
}

// Sign makes the detached signature of a statement.
func (s *Signer) Sign(ctx context.Context, statement []byte) ([]byte, error) {
	if s.format != "ssh" {
		return s.run(ctx, statement, "--detach-sign", "--armor", "--local-user", s.key)
	}
	args := []string{"-Y", "sign", "-n", Namespace, "-f", s.key}
	if isPublicKey(s.key) {
		file, err := os.CreateTemp("", "wj-key-*.pub")
		if err != nil {
			return nil, fmt.Errorf("sign: %w", err)
		}
		defer os.Remove(file.Name())
		if _, err = file.WriteString(strings.TrimPrefix(s.key, "key::") + "\n"); err == nil {
			err = file.Close()
		}
		if err != nil {
			return nil, fmt.Errorf("sign: %w", err)
		}
		args[5] = file.Name()
		args = append(args, "-U")
	}
	return s.run(ctx, statement, args...)
}

// run calls the program; what it asks of the user goes to the terminal.
func (s *Signer) run(ctx context.Context, stdin []byte, args ...string) ([]byte, error) {
	cmd := exec.CommandContext(ctx, s.program, args...)
	cmd.Dir, cmd.Stdin = s.dir, bytes.NewReader(stdin)
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("sign with %s: %w: %s", s.program, err, strings.TrimSpace(complaint.String()))
	}
	if !bytes.Contains(out.Bytes(), []byte("-----BEGIN ")) {
		return nil, fmt.Errorf("sign with %s: it gave no signature: %s", s.program, strings.TrimSpace(complaint.String()))
	}
	return out.Bytes(), nil
}

// Lists reports whether a person's record holds a public key that is not
// revoked, or the authority that certifies it; the comment behind it does not
// matter.
func Lists(j *journal.Journal, id, public string) bool {
	person, ok := j.People.Get(id)
	if !ok {
		return false
	}
	authority := ""
	if key, _, _, _, err := ssh.ParseAuthorizedKey([]byte(public)); err == nil {
		if cert, ok := key.(*ssh.Certificate); ok {
			authority = "cert-authority " + strings.TrimSpace(string(ssh.MarshalAuthorizedKey(cert.SignatureKey)))
		}
	}
	plain := func(key string) string {
		f := strings.Fields(key)
		switch {
		case strings.Contains(key, "BEGIN PGP") || len(f) < 2:
			return strings.TrimSpace(key)
		case f[0] == "cert-authority" && len(f) > 2:
			return strings.Join(f[:3], " ")
		}
		return f[0] + " " + f[1]
	}
	for _, k := range person.Keys {
		if is := plain(k.Key); k.Revoked == nil && (is == plain(public) || is == authority) {
			return true
		}
	}
	return false
}
