package main

import (
	"errors"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/exchange/dataset"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/query"
	"wj/query/report"
)

type exportCmd struct {
	Expr         string   `arg:"" optional:"" help:"Which sessions, as for wj query; all of them if absent."`
	As           string   `aliases:"format" enum:"csv,jsonl,geojson,ical,wqx,wqx-csv,sqlite,parquet,datapackage" default:"csv" help:"${enum}."`
	Output       string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent. Parquet goes to a folder, a data package to FILE.zip or, where it ends in /, to a folder."`
	Owner        []string `placeholder:"ID" help:"Waters of this owner only. Needed where the journal has several."`
	AllOwners    bool     `help:"Waters of all owners in one file."`
	Since        string   `placeholder:"DATE" help:"Sampled on or after this day: 2026-03-01, 2026-03 or 2026."`
	Until        string   `placeholder:"DATE" help:"Sampled on or before this day."`
	ChangedSince string   `placeholder:"COMMIT" help:"Only records that changed after this commit, and all that depend on them: for a nightly job."`
	Wide         bool     `help:"CSV with one row a session and a column for each value, instead of one row a value."`
	Measured     bool     `help:"Leave computed values out."`
	Void         bool     `help:"Void sessions too, marked as such. A complete export has them always."`
	Raw          bool     `help:"CSV without the apostrophe before texts that a spreadsheet would run as a formula."`

	atFlag

	owners []string          // whose waters were chosen
	names  map[string]string // what they are called
}

func (c *exportCmd) Run(a *app) error {
	if c.Wide && c.As != "csv" {
		return withHint("--wide goes with csv", "%s has no wide form", c.As)
	}
	if c.AllOwners && len(c.Owner) > 0 {
		return withHint("give one of the two", "--owner and --all-owners contradict each other")
	}
	if c.ChangedSince != "" && (c.Expr+c.Since+c.Until != "" || len(c.Owner) > 0) {
		return withHint("wj export --changed-since "+c.ChangedSince+" --all-owners", "--changed-since goes with no expression, period or owner")
	}
	if a.out.Person && c.Output == "" && slices.Contains([]string{"sqlite", "parquet", "datapackage"}, c.As) {
		return withHint("name a file: -o water."+c.As, "%s is no text for a terminal", c.As)
	}
	if c.As == "ical" {
		return c.calendar(a)
	}
	if len(a.members) > 0 {
		return c.several(a)
	}
	return c.one(a)
}

// one exports one journal.
func (c *exportCmd) one(a *app) error {
	source, err := c.source(a)
	if err != nil {
		return err
	}
	return c.write(a, []exchange.Source{source})
}

// source is what of a journal is exported.
func (c *exportCmd) source(a *app) (s exchange.Source, err error) {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return s, err
	}
	a.collectFlow()
	if err := resolveAll(j, c.Owner, journal.KindOwner); err != nil {
		return s, err
	}
	s.Journal, s.Options.Measured = j, c.Measured
	if s.Origin, err = c.origin(a, j, root); err != nil {
		return s, err
	}
	sessions, err := c.choose(a, j, &s.Options)
	if err == nil && c.ChangedSince != "" {
		err = c.changes(a, j, root, &s.Options)
	}
	s.Records = len(j.Files) - len(j.SessionFiles()) + sessions
	return s, err
}

// write exports journals into one file or folder.
func (c *exportCmd) write(a *app, list []exchange.Source) error {
	total := 0
	for _, s := range list {
		total += s.Records
	}
	progress := a.progress("record", total)
	x := exchange.Export{Format: c.As, Wide: c.Wide, Raw: c.Raw, Output: c.Output, Stdout: a.stdout, Progress: progress.At}
	notes, err := x.Write(list)
	progress.End()
	if errors.Is(err, exchange.ErrNeedsName) {
		return withHint("-o lake", "parquet: %w", err)
	}
	if err != nil {
		return err
	}
	for _, n := range notes {
		a.say("note: %s", n)
	}
	if c.Output != "" && c.Output != "-" {
		a.say("wrote %s", c.Output)
	}
	form := c.As
	if c.Wide {
		form += " --wide"
	}
	if loses := dataset.Loses(form); loses != "" {
		a.say("%s leaves out %s; --as sqlite, parquet, datapackage or jsonl hold the whole journal", form, loses)
	}
	return nil
}

func (c *exportCmd) origin(a *app, j *journal.Journal, root string) (dataset.Origin, error) {
	o, note, err := exchange.OriginOf(a.Context, func() (*history.History, error) { return a.Repository(root) }, j, buildInfo().version, nil)
	if note != "" {
		a.say("note: %s", note)
	}
	return o, err
}

// changes limits an export to what changed.
func (c *exportCmd) changes(a *app, j *journal.Journal, root string, opt *dataset.Options) error {
	if !slices.Contains(exchange.CompleteFormats, c.As) {
		return withHint("--as sqlite, parquet, datapackage or jsonl", "%s has no place for records that are gone", c.As)
	}
	h, err := a.History(root)
	if err != nil {
		return err
	}
	defer h.Close()
	changed, err := exchange.ChangesSince(h, c.ChangedSince, j)
	if errors.Is(err, exchange.ErrFullExport) {
		return withHint("leave --changed-since out and replace the whole", "%w", err)
	}
	if err != nil {
		return err
	}
	opt.Since, opt.Choose, opt.Gone = changed.Since, changed.Kept, changed.Gone
	a.say("%s changed since %.10s, and %d depend on them; %d gone", journal.Count(changed.Direct, "record"), changed.Since, len(changed.Keep)-changed.Direct, len(changed.Gone))
	return nil
}

// choose finds which sessions leave the journal, and how many. It keeps the owners
// apart: one owner's results never leave with another's unless that is asked for.
func (c *exportCmd) choose(a *app, j *journal.Journal, opt *dataset.Options) (int, error) {
	complete := slices.Contains(exchange.CompleteFormats, c.As)
	where, err := query.Compile(c.Expr)
	if err != nil {
		return 0, (&queryCmd{Expr: c.Expr}).explain(a, err)
	}
	ids, owners := map[string]bool{}, map[string]bool{}
	req := query.Request{Where: where, Columns: []string{"id"}, IncludeVoid: c.Void || complete, Now: a.Now(), Each: func(s *journal.Session) {
		owner := exchange.OwnerOf(j, s)
		if len(c.Owner) == 0 || slices.Contains(c.Owner, owner) {
			ids[s.ID], owners[owner] = true, true
		}
	}}
	if req.Since, req.Until, err = a.period(c.Since, c.Until, j.Settings.Zone); err != nil {
		return 0, err
	}
	req.Until = report.PastEnd(req.Until)
	found, err := query.Run(j, req)
	if err != nil {
		return 0, (&queryCmd{Expr: c.Expr}).explain(a, err)
	}
	for _, n := range found.Notes {
		a.say("%s", n)
	}
	c.names = map[string]string{}
	for id := range owners {
		if o, ok := j.Owners.Get(id); ok {
			c.names[id] = o.Name
		}
	}
	c.owners = slices.Sorted(maps.Keys(owners))
	if err := exchange.Apart("export", owners, c.Owner, c.AllOwners); err != nil {
		return 0, err
	}
	unfiltered := c.Expr+c.Since+c.Until == "" && len(c.Owner) == 0
	if left := report.LeftOut(found.Counts); len(left) > 0 && !(complete && unfiltered) {
		a.say("left out: %s", strings.Join(left, ", "))
	}
	if complete && unfiltered {
		return len(j.SessionFiles()), nil
	}
	if len(ids) == 0 {
		a.say("no sessions")
		return 0, errFindings
	}
	opt.RowFilter = strings.TrimSpace(strings.Join([]string{c.Expr, flagText("--since ", c.Since), flagText("--until ", c.Until)}, " "))
	opt.OwnerFilter = strings.Join(c.Owner, ", ")
	opt.Choose = exchange.Sessions(ids)
	if len(c.Owner) > 0 {
		own := exchange.OwnersPart(j, c.Owner, ids)
		opt.Choose, opt.Names = own.Keep, own.Names
	}
	return len(ids), nil
}

func flagText(name, value string) string {
	if value == "" {
		return ""
	}
	return name + value
}

// calendar writes due tests, and the last days of lots where the brewery's own
// affairs are asked for.
func (c *exportCmd) calendar(a *app) error {
	if c.Expr+c.Since+c.Until+c.ChangedSince != "" {
		return withHint("wj export --as ical --owner ID", "a calendar is of all that is due: it takes no expression and no period")
	}
	return a.calendar(c.Output, c.Owner, c.AllOwners, func(a *app) ([]exchange.Calendar, error) {
		j, _, err := a.load(journal.Options{Sessions: true})
		if err != nil {
			return nil, err
		}
		owners := slices.Clone(c.Owner)
		if err := resolveAll(j, owners, journal.KindOwner); err != nil {
			return nil, err
		}
		return []exchange.Calendar{exchange.NewCalendar(j, judge.Due(j, a.Now()), a.Now(), owners, true)}, nil
	})
}

// calendar writes the calendars of one journal or of several as one.
func (a *app) calendar(output string, owners []string, all bool, one func(*app) ([]exchange.Calendar, error)) error {
	list, err := across(a, one, func(journals []string, list [][]exchange.Calendar) []exchange.Calendar {
		for i := range list {
			list[i][0].As = journals[i]
		}
		return slices.Concat(list...)
	})
	if err != nil {
		return err
	}
	if err := exchange.CalendarsApart(list, owners, all); err != nil {
		return err
	}
	return a.deliver(output, []exchange.File{{Content: exchange.ICalendar(list...)}})
}
