package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/round"
	"wj/journal/safefile"
)

type initCmd struct {
	Folder   string `arg:"" optional:"" default:"." help:"The folder; it is made if it does not exist."`
	Name     string `placeholder:"NAME" help:"The brewery's name."`
	Timezone string `placeholder:"ZONE" help:"Its time zone, such as Europe/Vilnius."`
	Person   string `placeholder:"ID" help:"Your id in the journal, such as ines; otherwise made of your name in git."`
	Site     string `placeholder:"ID" help:"A first sampling point."`
	Git      bool   `help:"Make the folder a Git repository, if it is in none."`
	NoCommit bool   `help:"Write the files and leave the commit to me."`
	Hook     bool   `help:"Have git check the records of each commit before it is made (wj hook install)."`
}

func (c *initCmd) Run(a *app) error {
	dir := c.Folder
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(a.dir, dir)
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if _, err := os.Lstat(filepath.Join(dir, journal.SettingsFile)); err == nil {
		return withHint("wj -C "+c.Folder+" ls", "there is a journal in %s already", c.Folder)
	}
	name := c.Name
	if name == "" {
		name = filepath.Base(dir)
	}
	zone := c.Timezone
	if zone == "" {
		zone = localZone(a.env)
	}
	if _, err := time.LoadLocation(zone); err != nil || zone == "Local" {
		return withHint("give it as --timezone Europe/Vilnius", "%q is not a known time zone", zone)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("make %s: %w", c.Folder, err)
	}
	owner := slug(name)
	files := []struct {
		path    string
		content []byte
	}{{journal.SettingsFile, []byte(settingsText(name, zone))}, {ignoreFile, []byte(ignoreText)}}
	put := func(kind journal.Kind, id string, entries []journal.Entry, body string) {
		files = append(files, struct {
			path    string
			content []byte
		}{kind.Folder() + "/" + id + ".md", journal.Compose(kind, entries, body)})
	}
	quote := frontmatter.Quote
	put(journal.KindOwner, owner, []journal.Entry{{Key: "name", Value: quote(name)}, {Key: "self", Value: "true"}}, "")
	fullName, email, known := history.Identity(dir)
	person := c.Person
	if person == "" && known {
		person = slug(strings.Fields(fullName + " x")[0])
	}
	if person != "" {
		if !journal.ValidID(person, journal.KindPerson) {
			return withHint("lower-case letters, digits and hyphens", "%q cannot be a person's id", person)
		}
		entries := []journal.Entry{{Key: "name", Value: quote(orElse(fullName, person))}}
		if email != "" {
			entries = append(entries, journal.Entry{Key: "email", Value: quote(email)})
		}
		put(journal.KindPerson, person, append(entries, journal.Entry{Key: "since", Value: journal.FormatDate(a.now())}), "")
	}
	if c.Site != "" {
		if !journal.ValidID(c.Site, journal.KindSite) {
			return withHint("lower-case letters, digits and hyphens", "%q cannot be a site's id", c.Site)
		}
		put(journal.KindSite, c.Site, []journal.Entry{{Key: "name", Value: quote(strings.ReplaceAll(c.Site, "-", " "))}, {Key: "owner", Value: owner}, {Key: "stage", Value: "intake"}}, "")
	}
	var paths []string
	for _, f := range files {
		full := filepath.Join(dir, filepath.FromSlash(f.path))
		if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
			return fmt.Errorf("make the folder of %s: %w", f.path, err)
		}
		switch err := safefile.Write(full, nil, f.content); {
		case errors.Is(err, safefile.ErrExists) && f.path == ignoreFile:
			a.hintIgnore(dir)
			continue
		case err != nil && !errors.Is(err, safefile.ErrExists):
			return fmt.Errorf("write %s: %w", f.path, err)
		}
		paths = append(paths, f.path)
		if err := a.print(filepath.ToSlash(filepath.Join(c.Folder, f.path)) + "\n"); err != nil {
			return err
		}
	}
	if c.Git {
		made, err := history.Begin(a.ctx, dir)
		if err != nil {
			return err
		}
		if made {
			a.say("%s is a Git repository now", c.Folder)
		}
	}
	if !c.NoCommit {
		if err := a.commit(dir, paths, "Start the water journal of "+name); err != nil {
			return err
		}
	}
	if c.Hook {
		if err := a.installHook(dir); errors.Is(err, history.ErrNoRepository) {
			a.say("no hook is set yet: git init there, then wj hook install")
		} else if err != nil {
			return err
		}
	}
	site := orElse(c.Site, "town-main")
	if c.Site == "" {
		a.say("next: wj new site %s name=\"Town main\" owner=%s stage=intake", site, owner)
	}
	a.say("then: wj new session %s pH=7.4 alkalinity=\"118 mg/L CaCO3\" sulfate=\"84 mg/L\"", site)
	return nil
}

// ignoreFile names what git passes over: work that is not a record yet.
const ignoreFile = ".gitignore"

var ignoreText = "# a session at the bench that is not recorded yet, files in the making, and drafts of wj mail, which hold addresses\n" + round.KeptPrefix + "*\n" + safefile.TempPrefix + "*\n" + safefile.LockName + "\n*.eml\n"

// hintIgnore says what a journal's .gitignore lacks, where git would show or take
// an unfinished session.
func (a *app) hintIgnore(root string) {
	if _, err := os.Lstat(filepath.Join(root, ".git")); err != nil {
		return
	}
	for _, name := range []string{ignoreFile, filepath.Join(".git", "info", "exclude")} {
		if text, err := os.ReadFile(filepath.Join(root, name)); err == nil && strings.Contains(string(text), strings.TrimSuffix(round.KeptPrefix, "enter-")) {
			return
		}
	}
	a.say("hint: add %s* to %s, so that git passes over unfinished sessions", round.KeptPrefix, ignoreFile)
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// settingsText is the first wj.yaml: what must be there, and what can be.
func settingsText(name, zone string) string {
	return "# Settings of this water journal; wj explain settings tells what else can stand here.\n" +
		"format: 1\nname: " + frontmatter.Quote(name) + "\ntimezone: " + frontmatter.Quote(zone) + "\n" +
		"policy:\n  proof: none # signature: each sign-off needs its signer's own SSH or OpenPGP signature\n  changes:    {reviewers: 1, other_than_author: true, valid_for: 365 d, emergency_review: 24 h}\n" +
		"  amendments: {reason: required}\n"
}

// localZone is the machine's time zone by its IANA name.
func localZone(env func(string) string) string {
	if z := env("TZ"); z != "" {
		return strings.TrimPrefix(z, ":")
	}
	if link, err := os.Readlink("/etc/localtime"); err == nil {
		if _, z, ok := strings.Cut(link, "zoneinfo/"); ok {
			return z
		}
	}
	if src, err := os.ReadFile("/etc/timezone"); err == nil {
		if z := strings.TrimSpace(string(src)); z != "" {
			return z
		}
	}
	return "UTC"
}

var notSlug = regexp.MustCompile(`[^a-z0-9]+`)

// slug makes an id of a name.
func slug(name string) string {
	id := strings.Trim(notSlug.ReplaceAllString(strings.ToLower(name), "-"), "-")
	if id == "" {
		return "brewery"
	}
	return id
}
