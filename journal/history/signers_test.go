package history

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"golang.org/x/crypto/ssh"
)

// parseAllowedSigners reads OpenSSH's list of signers (ssh-keygen(1), ALLOWED
// SIGNERS): principals, options and a key on each line. Times without Z are in
// zone, nil being UTC. Lines with an option that is not known here
// are left out and named with their line number in
// the joined error; the other keys are given all the same.
func parseAllowedSigners(list string, zone *time.Location) ([]Key, error) {
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
