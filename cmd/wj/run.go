package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/source"
	"wj/journal/workspace"
	"wj/query/report"
	"wj/render"
	"wj/render/terminal"
)

// commandLine is everything that can be typed after wj.
type commandLine struct {
	Dir     []string         `short:"C" sep:"none" placeholder:"DIR" type:"path" help:"Work on the journal at or above DIR instead of the current folder; several times to ask several."`
	Color   string           `enum:"auto,always,never" default:"auto" help:"Colour: ${enum}. NO_COLOR is honoured."`
	Version kong.VersionFlag `help:"Print the version."`
	Plain   bool             `help:"Letters of every terminal, no colour, no pager, questions line by line: for a screen reader or a simple terminal."`
	NoPager bool             `help:"Print a long answer at once, instead of through $PAGER."`

	Untrusted untrustedFlag `help:"Run no program, not even git: for a journal from somebody else."`

	Init initCmd `cmd:"" group:"start" help:"Start a journal in a folder."`
	Demo demoCmd `cmd:"" group:"start" help:"Build the example journal as a Git repository with three years of history."`

	Round  roundCmd  `cmd:"" group:"record" help:"Test several taps as one sitting and one commit."`
	Enter  enterCmd  `cmd:"" group:"record" help:"Record a session at the bench, one test after another, with timers."`
	New    newCmd    `cmd:"" group:"record" help:"Write a record: a session with its readings, a lot, a site …"`
	Page   pageCmd   `cmd:"" group:"record" help:"Write a page for the telephone, a bench sheet or labels to print."`
	Import importCmd `cmd:"" group:"record" help:"Bring results of a table (CSV, TSV, XLSX) into the journal, by a map."`
	Attach attachCmd `cmd:"" group:"record" help:"Keep a photo, a slip or a certificate with a record."`
	Amend  amendCmd  `cmd:"" group:"record" help:"Correct a value; what was there, who, when and why stay in the record."`
	Void   voidCmd   `cmd:"" group:"record" help:"Declare a whole record void; it is never deleted."`
	Method methodCmd `cmd:"" group:"record" help:"Show a test procedure, or run its timers."`

	Lint        lintCmd        `cmd:"" group:"check" help:"Check the journal."`
	Migrate     migrateCmd     `cmd:"" group:"check" help:"Bring a journal of an older format to the newest, and give it its id."`
	Resolve     resolveCmd     `cmd:"" group:"check" help:"Finish a merge: unite records, keep two samples of one name as two."`
	MergeDriver mergeDriverCmd `cmd:"" group:"check" hidden:"" name:"merge-driver" help:"Merge two versions of a record; git calls it."`
	Explain     explainCmd     `cmd:"" group:"check" help:"Explain a lint rule, an analyte or a derived value."`
	Convert     convertCmd     `cmd:"" group:"check" help:"Convert a quantity to another unit."`
	Hook        hookCmd        `cmd:"" group:"check" help:"Set the Git hook that checks the records of each commit."`
	Lsp         lspCmd         `cmd:"" group:"check" help:"Serve an editor over standard input and output (Language Server Protocol)."`
	Schema      schemaCmd      `cmd:"" group:"check" help:"Print the JSON Schema of a kind of record, for editors."`

	Home   homeCmd   `cmd:"" default:"1" hidden:"" help:"What to do now in this journal."`
	Status statusCmd `cmd:"" group:"ask" help:"Show the state of the water, worst first, and what there is to do."`
	Due    dueCmd    `cmd:"" group:"ask" help:"Show which tests are due and overdue."`
	Stock  stockCmd  `cmd:"" group:"ask" help:"Show which lots are left, until when, and when they run out."`
	Query  queryCmd  `cmd:"" group:"ask" help:"Ask the history: wj query 'sulfate > 300 && site == \"north-well\"'."`
	Show   showCmd   `cmd:"" group:"ask" help:"Show one record, with what follows from it."`
	Ls     lsCmd     `cmd:"" group:"ask" help:"List records."`
	Chart  chartCmd  `cmd:"" group:"ask" help:"Draw values over time, one against another, or the ions of a water."`
	Stats  statsCmd  `cmd:"" group:"ask" help:"Say what the statistics know of one value at one site: level, trend, shifts, outliers, agreement."`
	Map    mapCmd    `cmd:"" group:"ask" help:"Show where the sites are: distances, GeoJSON, a picture."`
	Trace  traceCmd  `cmd:"" group:"ask" help:"Walk from a record to all that depends on it, or that it depends on."`

	Treat  treatCmd  `cmd:"" group:"change" help:"Find the blend and the doses that bring water to a target, or work a dose out."`
	Review reviewCmd `cmd:"" group:"change" help:"Show what a reviewer must see of a record, on one screen."`
	Remark remarkCmd `cmd:"" group:"change" help:"Write a remark on a record, ask for changes, or answer."`
	Sign   signCmd   `cmd:"" group:"change" help:"Sign a record, or refuse it: a file of its own with digests of all it covers."`
	Sheet  sheetCmd  `cmd:"" group:"change" help:"Print the brew-day sheet of an approved change, scaled to a volume."`

	Anchor anchorCmd `cmd:"" group:"prove" help:"Mark the whole journal at this commit, signed; prints one line to keep elsewhere."`
	Verify verifyCmd `cmd:"" group:"prove" help:"Check that sign-offs, signatures and history can be trusted."`
	Log    logCmd    `cmd:"" group:"prove" help:"Show who recorded and changed a record, or everything at a site."`
	Blame  blameCmd  `cmd:"" group:"prove" help:"Show who set each reading and field, when, and what it was before."`
	Diff   diffCmd   `cmd:"" group:"prove" help:"Show what a branch or a period changed, in the terms of the trade."`
	Bundle bundleCmd `cmd:"" group:"prove" help:"Write an archive for an auditor: records, digests, the verification report."`

	Split    splitCmd    `cmd:"" group:"share" help:"Take one owner's water out into a journal of its own, with its history."`
	Join     joinCmd     `cmd:"" group:"share" help:"Bring another journal in under a prefix, with its history."`
	Transfer transferCmd `cmd:"" group:"record" help:"Give a site to another owner from a day on."`

	Site    siteCmd    `cmd:"" group:"share" help:"Write the journal as a folder of linked pages, for people without a terminal."`
	Summary summaryCmd `cmd:"" group:"share" help:"Write one page about an owner's water, for somebody who will never open a terminal."`
	Mail    mailCmd    `cmd:"" group:"share" help:"Write a draft message with results for their owner; nothing is sent."`
	Export  exportCmd  `cmd:"" group:"share" help:"Write results in an open format: CSV, JSON Lines, GeoJSON, iCalendar, WQX, SQLite, Parquet, Data Package."`

	Completion completionCmd `cmd:"" group:"program" help:"Print a script that completes commands, flags and ids in bash, zsh or fish."`
	Man        manCmd        `cmd:"" group:"program" help:"Print the manual page of wj or of one command, in roff."`
	Build      versionCmd    `cmd:"" group:"program" name:"version" help:"Print the version, with --format json also the commit, the Go version and the journal format."`
}

// commandGroups are the headings of the help, in the order of the work.
var commandGroups = []kong.Group{
	{Key: "start", Title: "Start:"},
	{Key: "record", Title: "Record:"},
	{Key: "check", Title: "Check:"},
	{Key: "ask", Title: "Ask:"},
	{Key: "change", Title: "Change the water:"},
	{Key: "prove", Title: "Prove:"},
	{Key: "share", Title: "Share:"},
	{Key: "program", Title: "The program itself:"},
}

// app is what every command is given.
type app struct {
	source.Source // where the journal is read from

	stdin   io.Reader
	stdout  io.Writer
	stderr  io.Writer
	env     func(string) string
	command string             // its name
	members []workspace.Member // the journals that are asked together; none where it is one
	out     render.Output      // stdout
	talk    render.Output      // stderr
	plain   bool               // questions and answers line by line
	pager   *terminal.Pager    // before stdout; nil without
	waits   *terminal.Waiting  // before stdout and stderr; nil without
}

// Exit statuses: 0 fine, 1 findings or nothing matched, 2 could not do it.
const (
	statusFine = iota
	statusFindings
	statusFailed
)

// errFindings ends a command with status 1; what was found is printed already.
var errFindings = errors.New("findings")

// errUnknown ends a command with status 2; what is not known is printed
// already.
var errUnknown = errors.New("unknown")

// withHint is [journal.Hint].
func withHint(hint, format string, args ...any) error { return journal.Hint(hint, format, args...) }

// maxArgument is more than anybody types.
const maxArgument = 32 << 10

// exit carries kong's wish to stop (after --help, --version) out of the parser.
type exit int

func run(args []string, stdin io.Reader, stdout, stderr io.Writer, env func(string) string) (status int) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	defer history.CloseAll()
	a := &app{Source: source.Source{Context: ctx, Now: clock(env)}, stdin: stdin, stdout: stdout, stderr: stderr, env: env}
	a.Say = a.say
	a.collect(streaming)
	a.out, a.talk = render.Detect(stdout, env, "auto"), render.Detect(stderr, env, "auto")
	defer func() {
		if e, ok := recover().(exit); ok {
			status = int(e)
		}
	}()
	defer func() {
		if p := recover(); p != nil {
			if e, ok := p.(exit); ok {
				panic(e)
			}
			a.complain(fmt.Errorf("this is a fault in wj itself: %v", p))
			if env("WJ_TRACE") != "" {
				fmt.Fprintf(stderr, "%s\n", debug.Stack())
			}
			status = statusFailed
		}
	}()
	var cl commandLine
	parser, err := kong.New(grammar(&cl, args), kong.Name("wj"),
		kong.Description("A water journal in plain text: record tests, check them, ask their history, sign water changes."),
		kong.Writers(helpWriter{a.out}, stderr), kong.Exit(func(code int) { panic(exit(code)) }),
		kong.UsageOnError(), kong.ExplicitGroups(commandGroups), kong.ConfigureHelp(kong.HelpOptions{Compact: true, FlagsLast: true, WrapUpperBound: a.out.Width}),
		kong.Vars{"version": version()}, kong.Help(printHelp))
	if err != nil {
		a.complain(err)
		return statusFailed
	}
	describe(parser.Model.Node)
	for _, arg := range args {
		if len(arg) > maxArgument { // splitting a list takes the square of its length
			a.complain(withHint("give a long text on standard input, with -m -", "an argument has %d bytes, and %d are the most", len(arg), maxArgument))
			return statusFailed
		}
	}
	args = negative(args)
	k, err := parser.Parse(args)
	if err != nil && slices.ContainsFunc(args, func(s string) bool {
		return s == "--at" || s == "--now" || strings.HasPrefix(s, "--at=") || strings.HasPrefix(s, "--now=")
	}) {
		if home, homeErr := parser.Parse(append([]string{"home"}, args...)); homeErr == nil {
			k, err = home, nil // wj --at REV
		}
	}
	if err != nil {
		var pe *kong.ParseError
		hint := "wj --help"
		if errors.As(err, &pe) && pe.Context != nil && pe.Context.Selected() != nil {
			hint = "wj " + strings.Fields(pe.Context.Selected().Path())[0] + " --help"
			if fields := strings.Fields(pe.Context.Selected().FullPath()); len(fields) > 1 {
				hint = strings.Join(fields, " ") + " --help"
			}
			hint = "wj " + pe.Context.Selected().Summary() + "; " + hint
			if kind, ok := report.KindNamed(cl.New.Kind); ok {
				hint = "wj explain " + kind.String() + " shows one; " + hint
			}
		}
		a.complain(withHint(hint, "%w", err))
		return statusFailed
	}
	a.out, a.talk = render.Detect(stdout, env, cl.Color), render.Detect(stderr, env, cl.Color)
	if cl.Plain {
		a.out, a.talk, a.plain = a.out.Plain(), a.talk.Plain(), true
	}
	a.command = strings.Fields(k.Command() + " home")[0]
	a.page(a.command, &cl)
	defer a.pager.End() // also after a fault
	a.wait(strings.Fields(k.Command() + " home")[0])
	defer a.waits.End()
	if command, ok := k.Selected().Target.Addr().Interface().(reader); ok {
		a.At, a.Reads = command.looksAt()
	}
	if err = a.findJournals(cl.Dir); err == nil {
		err = k.Run(a)
	}
	a.waits.End()
	a.pager.End()
	switch {
	case err == nil:
		return statusFine
	case errors.Is(err, errFindings):
		return statusFindings
	case errors.Is(err, errUnknown):
		return statusFailed
	default:
		a.complain(err)
		return statusFailed
	}
}

// clock is the time of day. WJ_NOW sets it still, so that scripts and examples
// give the same answer on any day; it changes nothing that Git records.
func clock(env func(string) string) func() time.Time {
	if t, err := journal.ParseTime(env("WJ_NOW")); err == nil {
		return func() time.Time { return t }
	}
	return time.Now
}

// root finds the journal's folder.
func (a *app) root() (string, error) {
	if len(a.members) > 0 {
		return "", a.errSeveral()
	}
	return a.Root()
}

// load reads the journal: its files as they are, or as they were at the revision
// that --at names.
func (a *app) load(opt journal.Options) (*journal.Journal, string, error) {
	root, err := a.root()
	if err != nil {
		return nil, "", err
	}
	if opt.Sessions {
		a.collect(keeping)
	}
	j, err := a.Load(root, opt)
	if err == nil {
		a.collectFor(j)
		a.waits.At("working on " + journal.Count(len(j.Files), "record"))
	}
	return j, root, err
}

// relative is a journal path as the person would type it from where they are.
func (a *app) relative(root, p string) string {
	return a.shown(filepath.Join(root, filepath.FromSlash(p)))
}

// shown is a full path as the person would type it from where they are.
func (a *app) shown(full string) string {
	if cwd, err := os.Getwd(); err == nil {
		if rel, err := filepath.Rel(cwd, full); err == nil && !strings.HasPrefix(rel, "..") {
			return filepath.ToSlash(rel)
		}
	}
	return filepath.ToSlash(full)
}
