package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/exchange/dataset"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/writer"
	"wj/lint"
	"wj/render"
	"wj/water/spelling"
)

type importCmd struct {
	File     string `arg:"" help:"The table: CSV, TSV or XLSX; or a complete export of wj: SQLite, a Parquet folder, a data package, JSON Lines; or a file of the page for the telephone."`
	Typed    string `arg:"" optional:"" name:"bench-file" help:"With bench before it: the file that the page for the telephone made."`
	Map      string `placeholder:"FILE" help:"The map: which column is what, in which unit."`
	As       string `placeholder:"NAME" help:"Keep the map in the journal under this name, or take the one that is kept so."`
	Ask      bool   `help:"Ask for what no map knows, also where the input is no terminal."`
	Guess    bool   `help:"Draft a map for the file and write nothing else."`
	Sheet    string `placeholder:"NAME" help:"With --guess: which sheet of a workbook."`
	Output   string `short:"o" placeholder:"FILE" help:"With --guess: where to; standard output if absent."`
	Journal  string `placeholder:"ID" help:"Of a complete export of several journals, the one to restore: its id or how it begins; that of the journal at hand if absent."`
	DryRun   bool   `short:"n" help:"Say what would become of every row, and write nothing."`
	Partial  bool   `help:"Import the good samples although rows are refused."`
	NoCommit bool   `help:"Write the files and do not commit."`
}

func (c *importCmd) Run(a *app) error {
	if c.File == "bench" && c.Typed != "" {
		return c.bench(a, c.Typed)
	}
	if c.Typed != "" {
		return withHint("wj import bench "+c.Typed, "one file at a time")
	}
	if !c.Guess && c.Map == "" && isBenchFile(c.File) {
		return c.bench(a, c.File)
	}
	if !c.Guess && c.Map == "" && exchange.IsComplete(c.File) {
		return c.restore(a)
	}
	if c.Guess && c.Map != "" {
		return withHint("wj import --guess "+filepath.Base(c.File)+" -o map.yaml drafts a map", "say either --map FILE or --guess")
	}
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	src, err := readLimited(c.File, exchange.MaxSheetFile)
	if err != nil {
		return err
	}
	by, byErr := a.draft(j, root, journal.KindSession).Person(a.Now())
	if byErr == nil && !j.Exists(journal.KindPerson, by) {
		by = ""
	}
	if c.Guess {
		return c.guess(a, j, src, by)
	}
	var mapSrc []byte
	var kept *writer.File
	var sheet *exchange.Sheet
	form := ""
	if c.Map+c.As == "" {
		if sheet, form, mapSrc, err = exchange.ReadView(j, src); err != nil {
			return fmt.Errorf("read %s: %w", c.File, err)
		}
	}
	if form != "" {
		a.say("a view that wj wrote (%s): what it left out does not come back: %s", form, dataset.Loses(form))
	} else if mapSrc, kept, err = c.mapping(a, j, root, src, by); err != nil {
		return err
	}
	m, problems := exchange.ParseMapping(c.Map, mapSrc)
	lines := strings.Split(string(mapSrc), "\n")
	if len(problems) > 0 {
		for _, p := range problems {
			if err := a.talking().Show(func(o render.Output) string { return o.Finding(problemFinding(p, c.Map, lines)) }); err != nil {
				return err
			}
		}
		return withHint("correct the map and run it again", "nothing was imported: %s in the map", journal.Count(len(problems), "mistake"))
	}
	if err := c.checkMap(j, m, by, byErr); err != nil {
		return err
	}
	if form == "" {
		sheet, err = exchange.Read(src, m)
	}
	if err != nil {
		return fmt.Errorf("read %s: %w", c.File, err)
	}
	plan, wrong := exchange.Import(j, m, sheet, exchange.ImportOptions{File: filepath.Base(c.File), By: by, Partial: c.Partial})
	if wrong != nil {
		var doc frontmatter.Document
		doc.ParseYAML(mapSrc)
		p := journal.Problem{Rule: "import/map", Path: c.Map, Start: wrong.Start, End: wrong.End, Message: wrong.Message, Help: wrong.Help}
		p.Line, p.Column = doc.Position(wrong.Start)
		if err := a.talking().Show(func(o render.Output) string { return o.Finding(problemFinding(p, c.Map, lines)) }); err != nil {
			return err
		}
		return withHint("correct the map and run it again", "nothing was imported: the map does not fit the file")
	}
	files, doubtful := check(j, plan, a.Now())
	if err := c.report(a, plan); err != nil {
		return err
	}
	if doubtful > 0 {
		a.say("%s in what is taken: wj lint shows them", journal.Count(doubtful, "finding"))
	}
	return c.finish(a, root, plan, files, kept)
}

// checkMap checks what a map says of the journal's records.
func (c *importCmd) checkMap(j *journal.Journal, m *exchange.Mapping, by string, byErr error) error {
	if !m.By.Said() && by == "" {
		if byErr != nil {
			return byErr
		}
		return withHint("say by: ID in the map", "who answers for the records?")
	}
	if owner, ok := m.NewOwner(); ok && !j.Exists(journal.KindOwner, owner) {
		return withHint(spelling.HintOr(owner, j.IDs(journal.KindOwner), "wj ls owners"), "%s: there is no owner %q", c.Map, owner)
	}
	if site, ok := m.Site.Fixed(); ok && !j.Exists(journal.KindSite, site) {
		return withHint(spelling.HintOr(site, j.IDs(journal.KindSite), "wj ls sites"), "%s: there is no site %q", c.Map, site)
	}
	return nil
}

func (c *importCmd) guess(a *app, j *journal.Journal, src []byte, by string) error {
	text, unsure, err := exchange.Draft(j, src, c.File, c.Sheet, by)
	if err != nil {
		return fmt.Errorf("draft a map of %s: %w", c.File, err)
	}
	a.say("%s marked with ? in the map", journal.Count(unsure, "question"))
	return a.deliver(c.Output, []exchange.File{{Content: text}})
}

// readLimited reads a regular file of at most limit bytes.
func readLimited(name string, limit int64) ([]byte, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("read %s: it is not a regular file", name)
	}
	if info.Size() > limit {
		return nil, fmt.Errorf("read %s: it is larger than %d MiB", name, max(limit>>20, 1))
	}
	src, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	return src, nil
}

// report prints what becomes of every row, the refused ones last.
func (c *importCmd) report(a *app, plan *exchange.Plan) error {
	var b strings.Builder
	for _, line := range plan.Lines(c.File) {
		b.WriteString(render.Line(line) + "\n")
	}
	if err := a.out.Show(func(render.Output) string { return b.String() }); err != nil {
		return err
	}
	if len(plan.NotTaken) > 0 {
		a.say("columns that the map does not speak of: %s", strings.Join(plan.NotTaken, ", "))
	}
	a.say("%s taken, %d already there, %d skipped, %d refused", journal.Count(plan.Count(exchange.Taken), "row"), plan.Count(exchange.Already), plan.Count(exchange.Skipped), plan.Count(exchange.Refused))
	return nil
}

// check refuses the planned records that cannot be right, and counts the other findings. It
// gives the files that are left.
func check(j *journal.Journal, plan *exchange.Plan, now time.Time) (files []writer.File, doubtful int) {
	list := func() []writer.File {
		files := make([]writer.File, len(plan.Records))
		for i, r := range plan.Records {
			files[i] = writer.File{Path: r.Path, New: r.Source}
		}
		return files
	}
	for _, d := range writer.Check(j, now, list()) {
		switch {
		case d.Bars:
			plan.Refuse(d.Path, d.Rule+": "+d.Message, d.Help)
		case d.Severity >= lint.Warning:
			doubtful++
		}
	}
	return list(), doubtful
}

// maxCommitted is how many files are named to git at once: their names must fit
// into the arguments of a program, 2 MiB on Linux (execve(2)).
const maxCommitted = 15_000

// finish writes the planned records: all of them or none.
func (c *importCmd) finish(a *app, root string, plan *exchange.Plan, files []writer.File, kept *writer.File) error {
	refused := plan.Count(exchange.Refused)
	if kept != nil && !c.DryRun { // the answers stay, regardless of what becomes of the rows
		if _, err := writer.Write(a.Context, root, writer.Record{Files: []writer.File{*kept}, Kept: true}); err != nil {
			return err
		}
		a.say("the map is kept in %s", kept.Path)
		kept.Old = kept.New
	}
	switch {
	case refused > 0 && !c.Partial:
		a.say("nothing is imported while a row is refused; --partial imports the samples that are whole")
		return errFindings
	case c.DryRun:
		a.say("dry run: %s would be written", journal.Count(len(files), "record"))
	case len(files) > maxCommitted && !c.NoCommit:
		return withHint("import it in parts, or with --no-commit and commit it yourself", "%d records are more than one commit takes (%d)", len(files), maxCommitted)
	case len(files) > 0:
		sessions, name := 0, render.Line(filepath.Base(c.File))
		for _, r := range plan.Records {
			if r.Kind == journal.KindSession {
				sessions++
			}
		}
		n := len(files)
		if kept != nil {
			files = append(files, *kept)
		}
		m := a.progress("record", len(files))
		out, err := writer.Write(a.Context, root, writer.Record{Files: files, Kept: c.NoCommit, Progress: m.At,
			Subject: fmt.Sprintf("Import %s from %s", journal.Count(sessions, "session"), name), Trailers: []history.Trailer{{Key: "Source-File", Value: name}}})
		m.End()
		if err != nil {
			return err
		}
		a.say("wrote %s", journal.Count(n, "record"))
		a.saidCommit(root, out)
	case plan.Count(exchange.Already) == 0:
		a.say("there is nothing to import")
		return errFindings
	}
	if refused > 0 {
		return errFindings
	}
	return nil
}
