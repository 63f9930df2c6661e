package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
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
	NoCommit bool     `help:"Write the report's record, do not commit."`
}

func (c *mailCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	sessions, owner, err := mailed(j, c.ID)
	if err != nil {
		return err
	}
	to, err := exchange.ParseAddresses(c.To)
	if err != nil {
		return err
	}
	now := a.Now().In(j.Settings.Zone)
	d := a.draft(j, root, journal.KindReport)
	by, err := d.Person(now)
	if err != nil {
		return err
	}
	_, git, _ := history.Identity(root)
	from, err := exchange.Sender(j, by, c.From, git)
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
	if err := exchange.OnlyTheirs(j, owner, to); err != nil {
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
	if c.Replaces == "" {
		for _, old := range exchange.Superseded(j, owner.ID, sessions) {
			a.say("note: %s was reported as %s before it changed; say --replaces %s if this corrects it", old.Session, old.Report, old.Report)
		}
	}
	if err := journal.Outside(output); output != "-" && err != nil {
		return withHint("choose another name with -o", "%w", err)
	}
	if output == "-" {
		if _, err := a.stdout.Write(content); err != nil {
			return err
		}
	} else if err := safefile.Write(output, nil, content); err != nil {
		return withHint("name another file with -o", "%w", err)
	}
	out, err := writer.Write(a.Context, root, writer.Record{Files: files, Subject: fmt.Sprintf("Report %s to %s", journal.Count(len(sessions), "session"), owner.Name), Kept: c.NoCommit})
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
		a.say("a draft for %s; nothing is sent until your mail program sends it", journal.Count(len(to), "reader"))
	}
	a.say("recorded as %s", a.relative(root, d.Path))
	a.saidCommit(root, out)
	return nil
}

// mailed finds the sessions, which must be one owner's and sound.
func mailed(j *journal.Journal, ids []string) ([]*journal.Session, *journal.Owner, error) {
	var files []journal.File
	for _, id := range ids {
		f, err := find(j, id)
		if err != nil {
			return nil, nil, err
		}
		files = append(files, f)
	}
	return exchange.Reported(j, files)
}
