package main

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/pem"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/crypto/ssh"
)

// person is somebody who acts.
type person struct {
	id, name, domain string
	roles            []string
	care             float64 // chance that a doubt is looked into and a mistake caught before it is kept
	clone            *clone
	key, public      string        // files and text of the signing key
	clock            time.Duration // how wrong the computer's clock is
}

// clone is a computer with a copy of the journal.
type clone struct {
	name, dir string
	lost      bool
}

func newPeople(clones []*clone) []*person {
	return []*person{
		{id: "ines", name: "Ines Kaldre", domain: "quillmarsh.example", roles: []string{"tester", "quality", "reviewer"}, care: 0.85, clone: clones[0]},
		{id: "pia", name: "Pia Ormand", domain: "quillmarsh.example", roles: []string{"tester", "brewer"}, care: 0.5, clone: clones[0]},
		{id: "jonas", name: "Jonas Welk", domain: "quillmarsh.example", roles: []string{"reviewer", "quality"}, care: 0.3, clone: clones[1]},
		{id: "emil", name: "Emil Farr", domain: "farr-consulting.example", roles: []string{"reviewer", "tester"}, care: 0.7, clone: clones[2]},
	}
}

// makeKeys gives each person a key that follows from the seed.
func makeKeys(seed uint64, folder string, people []*person) error {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	for _, x := range people {
		if err := makeKey(seed, folder, x, x.id); err != nil {
			return err
		}
	}
	return nil
}

// makeKey gives somebody the key of a name.
func makeKey(seed uint64, folder string, x *person, name string) error {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %s", seed, name))
	private := ed25519.NewKeyFromSeed(sum[:])
	block, err := ssh.MarshalPrivateKey(private, name)
	if err != nil {
		return err
	}
	public, err := ssh.NewPublicKey(private.Public())
	if err != nil {
		return err
	}
	x.key = filepath.Join(folder, name)
	x.public = strings.TrimSpace(string(ssh.MarshalAuthorizedKey(public)))
	if err := os.WriteFile(x.key, pem.EncodeToMemory(block), 0o600); err != nil {
		return err
	}
	return os.WriteFile(x.key+".pub", []byte(x.public+"\n"), 0o600)
}

// env is the environment of a person's commands at a moment.
func (s *sim) env(x *person, now time.Time) []string {
	now = now.Add(x.clock)
	env := []string{"PATH=" + s.path, "HOME=" + s.dir, "XDG_CONFIG_HOME=" + s.dir, "TZ=Europe/Vilnius", "NO_COLOR=1", "COLUMNS=200", "LC_ALL=C.UTF-8", "GIT_CONFIG_NOSYSTEM=1", "WJ_TRACE=1",
		"WJ_NOW=" + iso(now), "GIT_TERMINAL_PROMPT=0", "TMPDIR=" + s.dir}
	for _, who := range []string{"AUTHOR", "COMMITTER"} {
		env = append(env, "GIT_"+who+"_NAME="+x.name, "GIT_"+who+"_EMAIL="+x.id+"@"+x.domain, "GIT_"+who+"_DATE="+now.Format(time.RFC3339))
	}
	config := []string{"core.autocrlf", "false", "gc.auto", "0", "maintenance.auto", "false", "advice.detachedHead", "false"}
	if x.key != "" {
		config = append(config, "gpg.format", "ssh", "user.signingkey", x.key)
	}
	env = append(env, fmt.Sprintf("GIT_CONFIG_COUNT=%d", len(config)/2))
	for i := 0; i < len(config); i += 2 {
		env = append(env, fmt.Sprintf("GIT_CONFIG_KEY_%d=%s", i/2, config[i]), fmt.Sprintf("GIT_CONFIG_VALUE_%d=%s", i/2, config[i+1]))
	}
	return env
}
