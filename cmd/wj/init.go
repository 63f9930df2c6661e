package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/overlay"
	"wj/journal/round"
	"wj/journal/safefile"
	"wj/journal/start"
	"wj/journal/writer"
)

type initCmd struct {
	Folder   string   `arg:"" optional:"" default:"." help:"The folder; it is made if it does not exist."`
	Name     string   `placeholder:"NAME" help:"The brewery's name."`
	Country  string   `placeholder:"XX" help:"Where it is, in two letters (DE, US, NO): whose limits for water are shown."`
	Timezone string   `placeholder:"ZONE" help:"Its time zone, such as Europe/Vilnius."`
	Person   string   `placeholder:"ID" help:"Your id in the journal, such as ines; otherwise made of your name in git."`
	FullName string   `placeholder:"NAME" help:"Your name; otherwise the one that git has."`
	Email    string   `placeholder:"ADDRESS" help:"Your address; otherwise the one that git has."`
	Site     []string `placeholder:"NAME" help:"A tap where samples are taken; NAME=STAGE where it is not water coming in. Several times or separated by commas."`
	Every    string   `placeholder:"SPAN" help:"How often each tap is tested, such as 30 d."`
	Tests    []string `placeholder:"ANALYTE" help:"What is tested there; otherwise what the meters measure."`
	Meter    []string `sep:"none" placeholder:"SORT:ID:…" help:"A meter as its leaflet has it: electrode:ph-1:pH=5 9 0.1;temperature=degC 0 60. Several times."`
	Ask      bool     `help:"Ask for all of this; without flags a terminal asks by itself."`
	Git      bool     `help:"Make the folder a Git repository, if it is in none."`
	NoCommit bool     `help:"Write the files, do not commit."`
	Hook     bool     `help:"Have git check the records of each commit before it is made (wj hook install)."`
}

func (c *initCmd) Run(a *app) error {
	dir := c.Folder
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(a.Dir, dir)
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if place, ok := history.FindBare(dir); ok {
		return withHint("git clone "+place.GitDir+", and start it there", "%s has no working tree (it is a bare repository)", place.GitDir)
	}
	if _, err := os.Lstat(filepath.Join(dir, journal.SettingsFile)); err == nil {
		return withHint("wj -C "+c.Folder+" ls", "there is a journal in %s already", c.Folder)
	}
	answers, err := c.answers(a, dir)
	if err != nil {
		return err
	}
	all, err := start.Files(answers, []string{round.KeptPrefix + "*", safefile.TempPrefix + "*", safefile.LockName, "*.eml"})
	if err != nil {
		return err
	}
	record := writer.Record{Subject: "Start the water journal of " + answers.Name, Kept: c.NoCommit}
	for _, f := range all { // what is there already stays
		if _, err := os.Lstat(filepath.Join(dir, filepath.FromSlash(f.Path))); err == nil {
			if f.Path == start.IgnoreFile {
				a.hintIgnore(dir)
			}
			continue
		}
		record.Files = append(record.Files, f)
	}
	j, err := journal.Load(overlay.New(nil, map[string][]byte{journal.SettingsFile: all[0].New}), journal.Options{})
	if err != nil {
		return err
	}
	if writer.Refused(writer.Check(j, a.Now(), record.Files)) { // before there is a folder
		_, err := a.put(j, dir, record, true)
		return err
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("make %s: %w", c.Folder, err)
	}
	if c.Git {
		made, err := history.Begin(a.Context, dir)
		if err != nil {
			return err
		}
		if made {
			a.say("%s is a Git repository now", c.Folder)
		}
	}
	out, err := a.put(j, dir, record, false)
	if err != nil {
		return err
	}
	for _, p := range out.Paths {
		if err := a.print(filepath.ToSlash(filepath.Join(c.Folder, p)) + "\n"); err != nil {
			return err
		}
	}
	a.saidCommit(dir, out)
	if c.Hook {
		if err := a.installHook(dir); errors.Is(err, history.ErrNoRepository) {
			a.say("no hook is set yet: git init there, then wj hook install")
		} else if err != nil {
			return err
		}
	}
	c.next(a, answers)
	return nil
}

// next says what comes next.
func (c *initCmd) next(a *app, answers start.Answers) {
	if answers.Country == "" {
		a.say("whose limits for water hold? add to wj.yaml: jurisdictions: [eu], [us] or [who]")
	}
	site := "town-main"
	if len(answers.Taps) > 0 {
		site = answers.Taps[0].ID
	} else {
		a.say("next: wj new site %s name=\"Town main\" owner=%s stage=intake", site, start.Slug(answers.Name, "brewery"))
	}
	if len(answers.Meters) == 0 {
		a.say("then: wj new instrument")
	}
	a.say("then: wj new session %s pH=7.4 alkalinity=\"118 mg/L CaCO3\" sulfate=\"84 mg/L\"", site)
}

// answers are those of the flags, and of the person where questions are wanted.
func (c *initCmd) answers(a *app, dir string) (out start.Answers, err error) {
	there := dir // the folder may not be there yet
	for _, err := os.Stat(there); err != nil && filepath.Dir(there) != there; _, err = os.Stat(there) {
		there = filepath.Dir(there)
	}
	fullName, email, known := history.Identity(there)
	out = start.Answers{Name: cmp.Or(c.Name, filepath.Base(dir)), Country: c.Country, Timezone: cmp.Or(c.Timezone, localZone(a.env)), Person: c.Person,
		FullName: cmp.Or(c.FullName, fullName), Email: cmp.Or(c.Email, email), Every: c.Every}
	flags := c.Name + c.Country + c.Timezone + c.Person + c.FullName + c.Email + c.Every + strings.Join(c.Site, "") + strings.Join(c.Meter, "")
	if c.Ask || flags == "" && a.asks() {
		return out, out.Ask(a.questions(), c.Site)
	}
	if out.Person == "" && (known || c.FullName != "") {
		out.Person = out.ID()
	}
	if err := start.CheckZone(out.Timezone); err != nil {
		return out, err
	}
	if err := start.CheckCountry(out.Country); err != nil {
		return out, err
	}
	tests, err := analytes(c.Tests)
	if err != nil {
		return out, err
	}
	for _, id := range tests {
		out.Tests = append(out.Tests, id.String())
	}
	for _, text := range c.Site {
		t, err := start.ParseTap(text)
		if err != nil {
			return out, err
		}
		out.Taps = append(out.Taps, t)
	}
	for _, text := range c.Meter {
		m, err := start.ParseMeter(text)
		if err != nil {
			return out, err
		}
		out.Meters = append(out.Meters, m)
	}
	return out, nil
}

// hintIgnore says what a journal's .gitignore lacks, where git would show or take
// an unfinished session.
func (a *app) hintIgnore(root string) {
	if _, err := os.Lstat(filepath.Join(root, ".git")); err != nil {
		return
	}
	for _, name := range []string{start.IgnoreFile, filepath.Join(".git", "info", "exclude")} {
		if text, err := os.ReadFile(filepath.Join(root, name)); err == nil && strings.Contains(string(text), strings.TrimSuffix(round.KeptPrefix, "enter-")) {
			return
		}
	}
	a.say("hint: add %s* to %s, so that git passes over unfinished sessions", round.KeptPrefix, start.IgnoreFile)
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
