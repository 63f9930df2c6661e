package history

import (
	"errors"
	"fmt"
	"path"
	"strings"
	"time"

	"github.com/ProtonMail/go-crypto/openpgp"
	"golang.org/x/crypto/ssh"
)

// Key is one entry of a list of people's keys. Exactly one of SSH and OpenPGP
// is set.
type Key struct {
	Principal  string    // whose it is: a person's id, or an address or pattern
	SSH        string    // a line as in a .pub file: "ssh-ed25519 AAAA… comment"
	OpenPGP    string    // an ASCII-armored public key
	Since      time.Time // first moment at which it counts, zero: no limit
	Until      time.Time // last moment at which it counts, zero: no limit
	Revoked    time.Time // when its holder took it back, zero: never; it counts no more, regardless of the date that a signature bears
	Authority  bool      // of SSH: the key of an authority that issues certificates
	Names      []string  // of an authority: further names that its certificates may bear
	Namespaces []string  // purposes that it may sign for, patterns; empty: all
}

// Keyring is a list of keys, ready for use by several goroutines. The zero
// Keyring knows nobody.
type Keyring struct {
	ssh         map[string][]Key // by SHA256 fingerprint
	authorities map[string][]Key // of SSH, by SHA256 fingerprint
	openPGP     map[string][]Key // by fingerprint of the primary key
	entities    openpgp.EntityList
}

// NewKeyring reads a list of keys. Keys that cannot be read are left out and
// the joined error names their principals; the ring with the others is given
// all the same.
func NewKeyring(keys []Key) (*Keyring, error) {
	ring := &Keyring{ssh: map[string][]Key{}, authorities: map[string][]Key{}, openPGP: map[string][]Key{}}
	var errs []error
	for _, key := range keys {
		if err := ring.add(key); err != nil {
			errs = append(errs, fmt.Errorf("key of %s: %w", key.Principal, err))
		}
	}
	return ring, errors.Join(errs...)
}

func (k *Keyring) add(key Key) error {
	switch {
	case (key.SSH == "") == (key.OpenPGP == ""):
		return errors.New("exactly one of an SSH and an OpenPGP key is needed")
	case !key.Since.IsZero() && !key.Until.IsZero() && key.Until.Before(key.Since):
		return errors.New("its last day is before its first")
	case key.SSH != "":
		public, _, options, rest, err := ssh.ParseAuthorizedKey([]byte(key.SSH))
		if len(options) == 1 && options[0] == "cert-authority" {
			key.Authority, options = true, nil
		}
		if err != nil || len(options) > 0 || strings.TrimSpace(string(rest)) != "" {
			return errors.New("not an SSH public key (one line as in a .pub file)")
		}
		if _, isCertificate := public.(*ssh.Certificate); isCertificate {
			return errors.New("this is a certificate: list the key itself, or the key of the authority that issued it with cert-authority before it")
		}
		fingerprint := ssh.FingerprintSHA256(public)
		if key.Authority {
			k.authorities[fingerprint] = append(k.authorities[fingerprint], key)
			return nil
		}
		k.ssh[fingerprint] = append(k.ssh[fingerprint], key)
	default:
		entities, err := openpgp.ReadArmoredKeyRing(strings.NewReader(key.OpenPGP))
		if err != nil || len(entities) == 0 {
			return fmt.Errorf("not an armored OpenPGP public key: %w", err)
		}
		for _, e := range entities {
			if e.PrivateKey != nil {
				return errors.New("this is a private key: it does not belong here, list the public one")
			}
			fingerprint := string(e.PrimaryKey.Fingerprint)
			if len(k.openPGP[fingerprint]) == 0 {
				k.entities = append(k.entities, e)
			}
			k.openPGP[fingerprint] = append(k.openPGP[fingerprint], key)
		}
	}
	return nil
}

// matchesList applies OpenSSH's pattern lists (ssh_config(5), PATTERNS): * and
// ? match anything, a ! before a pattern excludes what it matches.
func matchesList(patterns []string, s string) bool {
	matched := false
	for _, p := range patterns {
		pattern, excludes := strings.CutPrefix(p, "!")
		// OpenSSH knows no other special characters than * and ?.
		pattern = strings.NewReplacer(`\`, `\\`, "[", `\[`, "/", "\x00").Replace(pattern)
		if ok, err := path.Match(pattern, strings.ReplaceAll(s, "/", "\x00")); err == nil && ok {
			if excludes {
				return false
			}
			matched = true
		}
	}
	return matched
}
