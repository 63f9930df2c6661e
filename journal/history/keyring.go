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

// ParseAllowedSigners reads OpenSSH's list of signers (ssh-keygen(1), ALLOWED
// SIGNERS): principals, options and a key on each line. Times without Z are in
// zone, nil being UTC. Lines with an option that is not known here
// are left out and named with their line number in
// the joined error; the other keys are given all the same.
func ParseAllowedSigners(list string, zone *time.Location) ([]Key, error) {
	if zone == nil {
		zone = time.UTC
	}
	var keys []Key
	var errs []error
	number := 0
	for line := range strings.Lines(list) {
		number++
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		key, err := parseAllowedSigner(line, zone)
		if err != nil {
			errs = append(errs, fmt.Errorf("allowed signers: line %d: %w", number, err))
			continue
		}
		keys = append(keys, key)
	}
	return keys, errors.Join(errs...)
}

func parseAllowedSigner(line string, zone *time.Location) (Key, error) {
	var key Key
	var rest string
	var ok bool
	if line[0] == '"' {
		if key.Principal, rest, ok = strings.Cut(line[1:], `"`); !ok {
			return key, errors.New("a quotation mark is not closed")
		}
	} else if i := strings.IndexAny(line, " \t"); i > 0 {
		key.Principal, rest = line[:i], line[i:]
	}
	rest = strings.TrimSpace(rest)
	if key.Principal == "" || rest == "" {
		return key, errors.New("principals and a key are needed")
	}
	public, comment, options, _, err := ssh.ParseAuthorizedKey([]byte(rest))
	if err != nil {
		return key, fmt.Errorf("read the key of %s: %w", key.Principal, err)
	}
	key.SSH = strings.TrimSpace(string(ssh.MarshalAuthorizedKey(public)) + " " + comment)
	key.SSH = strings.ReplaceAll(key.SSH, "\n", "")
	for _, option := range options {
		name, value, _ := strings.Cut(option, "=")
		value = strings.TrimSuffix(strings.TrimPrefix(value, `"`), `"`)
		switch strings.ToLower(name) {
		case "namespaces":
			key.Namespaces = strings.Split(value, ",")
		case "valid-after":
			key.Since, err = sshTime(value, zone)
		case "valid-before":
			key.Until, err = sshTime(value, zone)
		case "cert-authority":
			key.Authority = true
		default:
			return key, fmt.Errorf("option %q is not known", name)
		}
		if err != nil {
			return key, err
		}
	}
	return key, nil
}

// sshTime reads YYYYMMDD[Z] and YYYYMMDDHHMM[SS][Z] (ssh-keygen(1), valid-after).
func sshTime(value string, zone *time.Location) (time.Time, error) {
	digits, utc := strings.CutSuffix(value, "Z")
	if utc {
		zone = time.UTC
	}
	layout := map[int]string{8: "20060102", 12: "200601021504", 14: "20060102150405"}[len(digits)]
	t, err := time.ParseInLocation(layout, digits, zone)
	if layout == "" || err != nil {
		return time.Time{}, fmt.Errorf("time %q is not YYYYMMDD or YYYYMMDDHHMM[SS], with Z for UTC", value)
	}
	return t, nil
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
