package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/judge"
	"wj/journal/safefile"
	"wj/query"
	"wj/render"
	"wj/water"
)

type exportCmd struct {
	Expr      string   `arg:"" optional:"" help:"Which sessions, as for wj query; all of them if absent."`
	As        string   `aliases:"format" enum:"csv,jsonl,geojson,ical,wqx,sqlite,parquet,datapackage" default:"csv" help:"${enum}."`
	Output    string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent. A data package goes to FILE.zip or, where it ends in /, to a folder."`
	Owner     []string `placeholder:"ID" help:"Waters of this owner only. Needed where the sessions are of several."`
	AllOwners bool     `help:"Waters of all owners in one file."`
	Since     string   `placeholder:"DATE" help:"Sampled on or after this day: 2026-03-01, 2026-03 or 2026."`
	Until     string   `placeholder:"DATE" help:"Sampled on or before this day."`
	Wide      bool     `help:"One row a session and a column for each value, instead of one row a value."`
	Measured  bool     `help:"Leave computed values out."`
	Void      bool     `help:"Void sessions too, marked as such."`
	Raw       bool     `help:"CSV without the apostrophe before texts that a spreadsheet would run as a formula."`
}

func (c *exportCmd) Help() string {
	return "wj export --owner quillmarsh --since 2026 -o results.csv\n    wj export --as sqlite --all-owners -o water.db && sqlite3 water.db 'select * from results'\n" +
		"    wj export --as parquet 'site == \"north-well\"' -o well.parquet\n    wj export --as ical -o tests.ics\n\n" +
		"Every row has the value in the standard unit and the reading as it was typed. Where only a bound is known (<5 mg/L) the value is empty and bound and limit say so."
}

// tableFormats are the formats in which a table is written.
var tableFormats = []string{"csv", "jsonl", "sqlite", "parquet", "datapackage"}

func (c *exportCmd) Run(a *app) error {
	if c.Wide && !slices.Contains(tableFormats, c.As) {
		return withHint("--wide goes with "+strings.Join(tableFormats, ", "), "%s has no wide form", c.As)
	}
	if c.AllOwners && len(c.Owner) > 0 {
		return withHint("give one of the two", "--owner and --all-owners say different things")
	}
	if err := a.binaryToTerminal(c.As, c.Output); err != nil {
		return err
	}
	j, _, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	if c.As == "ical" {
		return c.calendar(a)
	}
	sessions, err := a.choose(j, choice{c.Expr, c.Since, c.Until, c.Void, c.Owner, c.AllOwners, "export"})
	if err != nil {
		return err
	}
	if len(sessions) == 0 {
		a.say("no sessions")
		return errFindings
	}
	opt := exchange.Options{Derived: !c.Measured}
	progress := a.progress("session", len(sessions))
	opt.Progress = progress.at
	files, err := c.write(a, j, sessions, opt)
	progress.end()
	if err != nil {
		return err
	}
	return a.deliver(c.Output, files)
}

// write makes the file, or for a data package the files.
func (c *exportCmd) write(a *app, j *journal.Journal, sessions []*journal.Session, opt exchange.Options) ([]exchange.File, error) {
	one := func(content []byte, err error) ([]exchange.File, error) {
		return []exchange.File{{Content: content}}, err
	}
	var b bytes.Buffer
	switch c.As {
	case "geojson":
		text, err := render.JSON(exchange.SessionsGeoJSON(j, sessions, opt))
		return one([]byte(text+"\n"), err)
	case "wqx":
		t, leftOut := exchange.WaterQuality(j, sessions, opt)
		if leftOut > 0 {
			a.say("%s left out: the exchange has no characteristic for them", count(leftOut, "value"))
		}
		err := t.WriteCSV(&b, c.Raw)
		return one(b.Bytes(), err)
	}
	t := exchange.Results
	if c.Wide {
		t = exchange.Wide
	}
	main := t(j, sessions, opt)
	switch c.As {
	case "csv":
		err := main.WriteCSV(&b, c.Raw)
		return one(b.Bytes(), err)
	case "jsonl":
		err := main.WriteJSONLines(&b)
		return one(b.Bytes(), err)
	case "parquet":
		return one(exchange.Parquet(&main))
	case "sqlite":
		return one(exchange.SQLite([]exchange.Table{main, exchange.Sites(j, sessions), exchange.Analytes()}))
	}
	files, err := exchange.DataPackage(j, []exchange.Table{main, exchange.Sites(j, sessions), exchange.Analytes()}, a.now())
	if err != nil || strings.HasSuffix(c.Output, "/") || isFolder(c.Output) {
		return files, err
	}
	return one(exchange.Zip(files, a.now()))
}

// calendar writes due tests, and the last days of lots where the brewery's own
// affairs are asked for.
func (c *exportCmd) calendar(a *app) error {
	if c.Expr != "" || c.Since != "" || c.Until != "" {
		return withHint("wj export --as ical --owner ID", "a calendar is of all that is due: it takes no expression and no period")
	}
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	own := len(c.Owner) == 0
	for _, id := range c.Owner {
		o, ok := j.Owners.Get(id)
		if !ok {
			return noOwner(j, id)
		}
		own = own || o.Self
	}
	owners := map[string]bool{}
	cal := exchange.Calendar{Now: a.now()}
	for _, d := range judge.Due(j, a.now()) {
		if len(c.Owner) > 0 && !slices.Contains(c.Owner, d.Site.Owner) {
			continue
		}
		owners[d.Site.Owner] = true
		cal.Due = append(cal.Due, d)
	}
	if len(owners) > 1 && len(c.Owner) == 0 && !c.AllOwners {
		return severalOwners("calendar", keys(owners))
	}
	if own {
		today := journal.Day(a.now().In(j.Settings.Zone))
		for _, l := range j.Lots.List {
			if !l.Expires.Before(today) {
				cal.Lots = append(cal.Lots, l)
			}
		}
	}
	return a.deliver(c.Output, []exchange.File{{Content: exchange.ICalendar(j, cal)}})
}

// choice says which sessions leave the journal.
type choice struct {
	expr, since, until string
	void               bool
	owners             []string
	allOwners          bool
	what               string // what leaves, in messages
}

// choose finds the sessions and keeps the owners apart: one owner's results
// never leave with another's unless that is asked for.
func (a *app) choose(j *journal.Journal, c choice) ([]*journal.Session, error) {
	where, err := query.Compile(c.expr)
	if err != nil {
		return nil, (&queryCmd{Expr: c.expr}).explain(a, err)
	}
	req := query.Request{Where: where, Columns: []string{"id"}, IncludeVoid: c.void, Now: a.now()}
	if req.Since, req.Until, err = a.period(c.since, c.until, j.Settings.Zone); err != nil {
		return nil, err
	}
	req.Until = pastEnd(req.Until)
	for _, id := range c.owners {
		if !j.Exists(journal.KindOwner, id) {
			return nil, noOwner(j, id)
		}
	}
	found, err := query.Run(j, req)
	if err != nil {
		return nil, (&queryCmd{Expr: c.expr}).explain(a, err)
	}
	for _, n := range found.Notes {
		a.say("%s", n)
	}
	var sessions []*journal.Session
	for _, row := range found.Rows {
		if len(c.owners) == 0 || slices.Contains(c.owners, exchange.OwnerOf(j, row.Session)) {
			sessions = append(sessions, row.Session)
		}
	}
	if owners := exchange.Owners(j, sessions); len(owners) > 1 && len(c.owners) == 0 && !c.allOwners {
		return nil, severalOwners(c.what, owners)
	}
	var left []string
	for _, l := range []struct {
		n   int
		why string
	}{{found.Void, "void"}, {found.Unreadable, "unreadable (see wj lint)"}, {found.NoReading, "without the reading"}, {found.Censored, "beyond the range of the method"}} {
		if l.n > 0 {
			left = append(left, fmt.Sprintf("%d %s", l.n, l.why))
		}
	}
	if len(left) > 0 {
		a.say("left out: %s", strings.Join(left, ", "))
	}
	return sessions, nil
}

// knownOwners reports the first id that is no owner of the journal.
func knownOwners(j *journal.Journal, ids []string) error {
	for _, id := range ids {
		if !j.Exists(journal.KindOwner, id) {
			return noOwner(j, id)
		}
	}
	return nil
}

func noOwner(j *journal.Journal, id string) error {
	hint := "wj ls owners"
	if near := water.Nearest(id, j.IDs(journal.KindOwner)); near != "" {
		hint = "did you mean " + near + "?"
	}
	return withHint(hint, "there is no owner %q", id)
}

func severalOwners(what string, owners []string) error {
	names := make([]string, len(owners))
	for i, o := range owners {
		if names[i] = o; o == "" {
			names[i] = "(unknown site)"
		}
	}
	return withHint("name them: --owner "+strings.TrimPrefix(names[len(names)-1], "(unknown site)")+", or say --all-owners", "the %s would hold waters of several owners: %s", what, strings.Join(names, ", "))
}

func keys(m map[string]bool) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// binaryFormats are not for a terminal.
var binaryFormats = []string{"sqlite", "parquet", "datapackage"}

func (a *app) binaryToTerminal(format, output string) error {
	if a.out.Person && output == "" && slices.Contains(binaryFormats, format) {
		return withHint("name a file: -o water."+format, "%s is no text for a terminal", format)
	}
	return nil
}

func isFolder(name string) bool {
	info, err := os.Stat(name)
	return name != "" && err == nil && info.IsDir()
}

// deliver brings finished files to where they are asked for: standard output, a
// file, or a folder. A file is replaced as a whole.
func (a *app) deliver(output string, files []exchange.File) error {
	if len(files) == 1 && files[0].Name == "" {
		if output == "" || output == "-" {
			_, err := a.stdout.Write(files[0].Content)
			return err
		}
		if isFolder(output) {
			return withHint("name a file in it", "%s is a folder", output)
		}
		return a.replaceFile(output, files[0].Content)
	}
	for _, f := range files {
		if err := a.replaceFile(filepath.Join(output, f.Name), f.Content); err != nil {
			return err
		}
	}
	return nil
}

// replaceFile writes a file that is made anew at every call, such as an export.
func (a *app) replaceFile(name string, content []byte) error {
	if err := journal.Outside(name); err != nil {
		return withHint("choose another name", "%w", err)
	}
	old, err := os.ReadFile(name)
	if errors.Is(err, os.ErrNotExist) {
		old, err = nil, nil
	} else if err == nil && old == nil {
		old = []byte{}
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	if err := safefile.Write(name, old, content); err != nil {
		return err
	}
	a.say("wrote %s (%d bytes)", name, len(content))
	return nil
}

// meter shows how far a long work is, on a terminal and only after a moment.
type meter struct {
	w       io.Writer
	what    string
	of      int
	started time.Time
	shown   bool
}

func (a *app) progress(what string, of int) *meter {
	m := &meter{what: what, of: of, started: time.Now()}
	if a.talk.Person {
		m.w = a.stderr
	}
	return m
}

func (m *meter) at(done int) {
	if m.w == nil || !m.shown && time.Since(m.started) < 400*time.Millisecond {
		return
	}
	m.shown = true
	fmt.Fprintf(m.w, "\r%d of %s", done, count(m.of, m.what))
}

// end wipes the line.
func (m *meter) end() {
	if m.shown {
		fmt.Fprintf(m.w, "\r%s\r", strings.Repeat(" ", 40))
	}
}
