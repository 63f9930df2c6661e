package main

import (
	"cmp"
	"path"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/start"
	"wj/journal/writer"
	"wj/water/spelling"
)

type newCmd struct {
	Kind     string   `arg:"" help:"The kind of record: session, lot, site, change, event …"`
	Name     string   `arg:"" optional:"" help:"For a session the site; otherwise the record's id."`
	Fields   []string `arg:"" optional:"" help:"Fields as key=value, readings too: sulfate=\"84 mg/L\" sulfate.dilution=2 by=ines. A lone + begins another record."`
	Note     string   `short:"m" placeholder:"TEXT" help:"The notes below the fields; - reads them from standard input."`
	Ask      bool     `help:"Ask for the fields of a lot or an instrument; a terminal asks by itself where none is given."`
	NoCommit bool     `help:"Write the file, do not commit."`
	DryRun   bool     `short:"n" help:"Show findings and the file, write nothing."`
}

func (c *newCmd) Run(a *app) error {
	body, err := a.text(c.Note)
	if err != nil {
		return err
	}
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	args := append([]string{c.Kind, c.Name}, c.Fields...)
	kind, _ := journal.KindNamed(c.Kind)
	switch asked := (kind == journal.KindLot || kind == journal.KindInstrument) && len(c.Fields) == 0; {
	case asked && (c.Ask || a.asks()):
		name, fields, err := start.AskRecord(a.questions(), kind, c.Name)
		if err != nil {
			return err
		}
		args = append([]string{kind.String(), name}, fields...)
	case c.Name == "":
		return withHint("wj explain "+cmp.Or(kind.String(), "lot")+" shows one; wj new KIND NAME key=value …", "a record needs a name")
	}
	groups := split(args)
	if j, err = a.sessionsFor(j, groups); err != nil {
		return err
	}
	var drafts []*draft
	record, with, laid := writer.Record{Kept: c.NoCommit}, j, map[string][]byte{}
	for i, args := range groups {
		d, err := a.compose(with, root, args)
		if err != nil {
			return err
		}
		if i == 0 {
			d.Body = body
		}
		for _, note := range d.Notes {
			a.say("%s", note)
		}
		f := d.File()
		if len(groups) > 1 {
			f.Stem = "" // one may name the other
		}
		drafts, record.Files = append(drafts, d), append(record.Files, f)
		if record.Subject = cmp.Or(record.Subject, d.Subject); i > 0 {
			record.Subject += ", " + d.ID
		}
		laid[f.Path] = f.New
		with = j.With(laid)
	}
	out, err := a.write(j, root, record, c.DryRun)
	if err != nil || c.DryRun {
		return err
	}
	for i, d := range drafts {
		d.ID = strings.TrimSuffix(path.Base(out.Paths[i]), ".md")
		if err := d.verdict(!c.NoCommit); err != nil {
			return err
		}
	}
	return nil
}

// split parts arguments at each lone +.
func split(args []string) [][]string {
	var out [][]string
	for {
		i := slices.Index(args, "+")
		if i < 0 {
			return append(out, args)
		}
		out, args = append(out, args[:i]), args[i+1:]
	}
}

// sessionsFor adds the sessions that the records are composed from and compared with: for a
// session the newer ones, for a change or a batch all.
func (a *app) sessionsFor(j *journal.Journal, groups [][]string) (*journal.Journal, error) {
	now := a.Now().In(j.Settings.Zone)
	from, needed, all := now, false, false
	for _, args := range groups {
		if len(args) < 2 {
			return nil, withHint("wj new lot SU-1 analyte=sulfate + lot CL-1 analyte=chloride", "after + a kind and a name begin the next record")
		}
		kind, _ := journal.KindNamed(args[0])
		needed = needed || kind == journal.KindSession
		all = all || kind == journal.KindChange || kind == journal.KindBatch
		for _, arg := range args[2:] {
			key, value, _ := strings.Cut(arg, "=")
			if t, err := journal.ParseClock(value, now); err == nil && (key == "sampled" || key == "tested") && t.Before(from) {
				from = t
			}
		}
	}
	switch {
	case all:
		return j.WithSessions(func(journal.File) bool { return true }), nil
	case needed:
		return writer.Recent(j, from), nil
	}
	return j, nil
}

// compose composes one record of a kind and a name from its fields.
func (a *app) compose(j *journal.Journal, root string, args []string) (*draft, error) {
	kind, ok := journal.KindNamed(args[0])
	if !ok {
		var names []string
		for _, k := range journal.Kinds() {
			names = append(names, k.String())
		}
		return nil, withHint(spelling.HintOr(args[0], names, "kinds: "+strings.Join(names, ", ")), "%q is no kind of record", args[0])
	}
	d := a.draft(j, root, kind)
	var err error
	if d.Fields, err = writer.ParseFields(args[2:]); err != nil {
		return d, err
	}
	if kind == journal.KindSession {
		return d, d.Session(args[1])
	}
	return d, d.record(args[1])
}

// record composes a record of any kind but a session.
func (d *draft) record(name string) error {
	if err := d.Other(name); err != nil {
		return err
	}
	if d.Kind == journal.KindBatch {
		if err := d.Batch(); err != nil {
			return err
		}
	}
	return d.Fill()
}
