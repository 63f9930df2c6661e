package main

import (
	"errors"
	"fmt"
	"io"
	"net/mail"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/safefile"
	"wj/journal/writer"
)

type mailCmd struct {
	ID       []string `arg:"" help:"The sessions, all of one owner's water."`
	To       []string `required:"" placeholder:"ADDRESS" help:"To whom; several times or separated by commas."`
	From     string   `placeholder:"ADDRESS" help:"From whom; by default the address of whoever writes."`
	Subject  string   `placeholder:"TEXT" help:"The subject; by default what it is about."`
	Note     string   `short:"m" placeholder:"TEXT" help:"A text before the results; - reads it from standard input."`
	Output   string   `short:"o" placeholder:"FILE" help:"The draft; by default REPORT.eml in the current folder."`
	Derived  bool     `help:"Computed values too."`
	Replaces string   `placeholder:"REPORT" help:"The earlier report that this one corrects."`
	NoCommit bool     `help:"Write the report's record and leave the commit to me."`
}

func (c *mailCmd) Help() string {
	return "wj mail 2026-09-15-tarrow-bore --to tove@tarrow-lane.example -o results.eml\n\n" +
		"Writes a draft that your mail program opens; nothing is sent. The results are in the owner's units, as text, as HTML and as a CSV attachment. " +
		"What was written is recorded under reports/, with digests, so that a later amendment shows that the report is stale."
}

func (c *mailCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	sessions, owner, err := c.sessions(j)
	if err != nil {
		return err
	}
	to, err := addresses(c.To)
	if err != nil {
		return err
	}
	now := a.now().In(j.Settings.Zone)
	d := a.draft(j, root, journal.KindReport)
	by, err := d.Person(now)
	if err != nil {
		return err
	}
	from, err := c.sender(j, root, by)
	if err != nil {
		return err
	}
	if err := resolve(j, &c.Replaces, journal.KindReport); err != nil {
		return err
	}
	note := c.Note
	if note == "-" {
		src, err := io.ReadAll(io.LimitReader(a.stdin, frontmatter.MaxFile))
		if err != nil {
			return fmt.Errorf("read the note: %w", err)
		}
		note = string(src)
	}
	if err := onlyTheirs(j, owner, to); err != nil {
		return err
	}
	letter, err := exchange.NewLetter(j, owner, sessions, note, c.Derived)
	if err != nil {
		return err
	}
	d.ID = writer.Free(j, journal.KindReport, journal.FormatDate(now)+"-"+owner.ID)
	d.Path = journal.KindReport.Folder() + "/" + d.ID + ".md"
	subject := c.Subject
	if subject == "" {
		subject = exchange.ReportSubject(j, sessions)
	}
	m := exchange.Message{From: from, To: to, Subject: subject, Date: now, Text: letter.Text, HTML: letter.HTML,
		Attachment: exchange.File{Name: "results-" + d.ID + ".csv", Content: letter.CSV}}
	content, err := m.Bytes()
	if err != nil {
		return err
	}
	output := c.Output
	if output == "" {
		output = d.ID + ".eml"
	}
	name := filepath.Base(output)
	if output == "-" {
		name = d.ID + ".eml"
	}
	record, err := exchange.Report{Owner: owner.ID, By: by, Subject: subject, Replaces: c.Replaces, To: to, Sent: now, Sessions: sessions,
		Files: map[string][]byte{name: content, m.Attachment.Name: letter.CSV}}.Record(j)
	if err != nil {
		return err
	}
	files := []writer.File{{Path: d.Path, New: record}}
	if findings := writer.Check(j, now, files); writer.Refused(findings) {
		return fmt.Errorf("record the report: %s: %s", findings[0].Rule, findings[0].Message)
	}
	for _, address := range to {
		if !slices.ContainsFunc(owner.Email, func(e string) bool { return strings.EqualFold(e, address.Address) }) {
			a.say("note: %s is not among the addresses of %s", address.Address, owner.Name)
		}
	}
	c.saySuperseded(a, j, owner.ID, sessions)
	if err := journal.Outside(output); output != "-" && err != nil {
		return withHint("choose another name with -o", "%w", err)
	}
	if output == "-" {
		if _, err := a.stdout.Write(content); err != nil {
			return err
		}
	} else if err := safefile.Write(output, nil, content); err != nil {
		return &hinted{err, "name another file with -o"}
	}
	out, err := writer.Write(a.ctx, root, writer.Record{Files: files, Subject: fmt.Sprintf("Report %s to %s", count(len(sessions), "session"), owner.Name), Kept: c.NoCommit})
	if err != nil {
		if output != "-" {
			err = errors.Join(err, os.Remove(output))
		}
		return fmt.Errorf("the report is not recorded, and no draft was written: %w", err)
	}
	if output != "-" {
		if err := a.print(output + "\n"); err != nil {
			return err
		}
		a.say("a draft for %s; nothing is sent until your mail program sends it", count(len(to), "reader"))
	}
	a.say("recorded as %s", a.relative(root, d.Path))
	a.saidCommit(root, out)
	return nil
}

// sessions finds the sessions and makes sure that they are one owner's and sound.
func (c *mailCmd) sessions(j *journal.Journal) ([]*journal.Session, *journal.Owner, error) {
	var out []*journal.Session
	seen := map[string]bool{}
	for _, id := range c.ID {
		f, err := find(j, id)
		if err != nil {
			return nil, nil, err
		}
		s, ok := j.Sessions.Get(f.ID)
		switch {
		case f.Kind != journal.KindSession || !ok:
			return nil, nil, withHint("wj ls sessions", "%s is a %s, and results of sessions are mailed", f.ID, f.Kind)
		case s.Void != nil:
			return nil, nil, withHint("leave it out, or send the session that replaces it", "%s is void: %s", s.ID, s.Void.Reason)
		case seen[s.ID]:
			continue
		}
		for i := range s.Readings {
			if s.Readings[i].Faulty {
				return nil, nil, withHint("wj lint "+s.Path, "%s: the reading of %s cannot be read", s.ID, s.Readings[i].Analyte)
			}
		}
		seen[s.ID] = true
		out = append(out, s)
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Sampled.Before(out[b].Sampled) })
	owners := exchange.Owners(j, out)
	if len(owners) != 1 {
		return nil, nil, withHint("write one draft for each", "the sessions are of several owners: %s", strings.Join(owners, ", "))
	}
	owner, ok := j.Owners.Get(owners[0])
	if !ok {
		return nil, nil, withHint("wj lint", "whose water it is cannot be told: there is no owner %q", owners[0])
	}
	return out, owner, nil
}

// onlyTheirs refuses an address that is another owner's: results go to whose
// water it is.
func onlyTheirs(j *journal.Journal, owner *journal.Owner, to []*mail.Address) error {
	has := func(o *journal.Owner, address string) bool {
		return slices.ContainsFunc(o.Email, func(e string) bool { return strings.EqualFold(e, address) })
	}
	for _, address := range to {
		for _, other := range j.Owners.List {
			if other.ID != owner.ID && !other.Self && other.Void == nil && has(other, address.Address) && !has(owner, address.Address) {
				return withHint("leave it out; if they may have it, add the address to "+owner.Path,
					"%s is an address of %s, and the results are of %s", address.Address, other.Name, owner.Name)
			}
		}
	}
	return nil
}

func addresses(texts []string) ([]*mail.Address, error) {
	var out []*mail.Address
	for _, s := range texts {
		address, err := exchange.ParseAddress(s)
		if err != nil {
			return nil, fmt.Errorf("--to: %w", err)
		}
		out = append(out, address)
	}
	return out, nil
}

// sender is who the draft is from: --from, else the person's own address, of
// several the one that git uses.
func (c *mailCmd) sender(j *journal.Journal, root, by string) (*mail.Address, error) {
	if c.From != "" {
		address, err := exchange.ParseAddress(c.From)
		if err != nil {
			return nil, fmt.Errorf("--from: %w", err)
		}
		return address, nil
	}
	p, ok := j.People.Get(by)
	if !ok || len(p.Email) == 0 {
		return nil, withHint("say --from, or add email: to the record of "+by, "there is no address to send from")
	}
	email := p.Email[0]
	if _, git, ok := history.Identity(root); ok && slices.Contains(p.Email, git) {
		email = git
	}
	address, err := exchange.ParseAddress(email)
	if err != nil {
		return nil, fmt.Errorf("people/%s.md: %w", by, err)
	}
	address.Name = strings.Map(func(r rune) rune {
		if r < ' ' {
			return ' '
		}
		return r
	}, p.Name)
	return address, nil
}

// saySuperseded names earlier reports whose figures have changed since.
func (c *mailCmd) saySuperseded(a *app, j *journal.Journal, owner string, sessions []*journal.Session) {
	if c.Replaces != "" {
		return
	}
	for _, old := range exchange.Superseded(j, owner, sessions) {
		a.say("note: %s was reported as %s before it changed; say --replaces %s if this corrects it", old.Session, old.Report, old.Report)
	}
}
