package main

import (
	"cmp"
	"errors"
	"io"
	"os"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/round"
)

type pageCmd struct {
	What       string   `arg:"" enum:"bench,sheet,labels" help:"bench: the sitting for a telephone, in one file that needs no network. sheet: the same sitting on paper. labels: QR codes for taps and bottles, to print."`
	Round      string   `placeholder:"NAME" help:"The round, as wj.yaml names it; without it every site that has a schedule."`
	Site       []string `placeholder:"SITE" help:"These sites in this order."`
	Tests      []string `placeholder:"ANALYTE" help:"These tests, instead of those that the schedules ask for."`
	By         string   `placeholder:"ID" help:"Who tests; the page asks."`
	Instrument string   `placeholder:"ID" help:"The meter."`
	Lot        []string `placeholder:"ID" help:"With labels: these lots; with --site or --lot nothing else."`
	Labels     int      `placeholder:"N" enum:"14,21,24,40,65" default:"24" help:"Labels on a sheet of A4: ${enum}."`
	Used       int      `placeholder:"N" help:"So many labels of the first sheet are used already."`
	Output     string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent."`
}

func (c *pageCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if c.What == "labels" {
		return c.labels(a, j)
	}
	name, sites, err := roundSites(j, c.Round, c.Site)
	if err != nil {
		return err
	}
	if len(sites) == 0 {
		for _, s := range j.Sites.List {
			if s.Void == nil && len(s.Schedule) > 0 && s.Covers(journal.Day(a.Now())) {
				sites = append(sites, s.ID)
			}
		}
	}
	if len(sites) == 0 {
		return withHint("name them with --site and --tests, or add a schedule to a site's record: wj explain site", "no site has a schedule")
	}
	opt := round.Options{Name: roundTitle(c.Round, name), Now: a.Now().In(j.Settings.Zone), Instrument: c.Instrument}
	if len(sites) == 1 && c.Round == "" {
		name, opt.Name = sites[0], ""
	}
	if opt.Tests, err = analytes(c.Tests); err != nil {
		return err
	}
	d := a.draft(j, root, journal.KindSession)
	d.By = cmp.Or(c.By, d.By)
	if by, err := d.Person(opt.Now); err == nil && j.Exists(journal.KindPerson, by) {
		opt.By = by // else the page asks
	}
	r, err := round.New(j, sites, opt)
	if err != nil {
		return err
	}
	text := ""
	if c.What == "sheet" {
		text = r.Sheet()
	} else if text, err = r.Page(name); err != nil {
		return err
	}
	return c.give(a, text)
}

func (c *pageCmd) give(a *app, text string) error {
	if c.Output != "" {
		return a.replaceFile(c.Output, []byte(text))
	}
	return a.print(text)
}

func (c *pageCmd) labels(a *app, j *journal.Journal) error {
	if err := errors.Join(resolveAll(j, c.Site, journal.KindSite), resolveAll(j, c.Lot, journal.KindLot)); err != nil {
		return err
	}
	labels := round.Labels(j, c.Site, c.Lot, a.Now().In(j.Settings.Zone))
	if len(labels) == 0 {
		return withHint("wj new site, wj new lot", "there is nothing to label")
	}
	text, err := round.LabelPage("Labels of "+cmp.Or(j.Settings.Name, "the journal"), round.LabelSheets[c.Labels], labels, max(c.Used, 0))
	if err != nil {
		return err
	}
	return c.give(a, text)
}

// isBenchFile reports whether a file is what the page for the telephone made.
func isBenchFile(name string) bool {
	f, err := os.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	head, _ := io.ReadAll(io.LimitReader(f, 64))
	return round.IsFile(head)
}

// bench imports a sitting that was typed on a telephone: all of it or nothing, in one commit.
func (c *importCmd) bench(a *app, name string) error {
	if c.Guess || c.Map != "" || c.Partial {
		return withHint("wj import bench "+name, "a file of the page needs no map and is taken whole")
	}
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	src, err := readLimited(name, frontmatter.MaxFile)
	if err != nil {
		return err
	}
	if !round.IsFile(src) {
		return withHint("share the round anew from the page that wj page bench wrote", "%s is no file of the page for the telephone", name)
	}
	d := a.draft(j, root, journal.KindSession)
	by, byErr := d.Person(a.Now())
	if byErr != nil {
		by = ""
	}
	r, state, faults := round.ReadFile(j, src, by, a.Now().In(j.Settings.Zone))
	for _, f := range faults {
		a.say("%s:%d: %s", name, f.Line, f.Message)
	}
	if len(faults) > 0 {
		return withHint("correct it on the telephone and share it again, or edit the file", "nothing was imported: %s of %s cannot be taken", journal.Count(len(faults), "line"), name)
	}
	if state.By == "" {
		return byErr
	}
	if !j.Exists(journal.KindPerson, state.By) {
		return withHint("wj new person "+state.By+" name=…", "there is no person %q", state.By)
	}
	record, err := r.Record(&state)
	if err != nil {
		return err
	}
	record.Kept = c.NoCommit
	known := 0
	for _, f := range record.Files {
		if f.Old != nil {
			known++
		}
	}
	if known == len(record.Files) {
		a.say("recorded already: nothing to do")
		return nil
	}
	if _, err = a.write(r.Journal, root, record, c.DryRun); errors.Is(err, history.ErrUnchanged) {
		return nil
	}
	return err
}
