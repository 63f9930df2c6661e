package main

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/bench/screen"
	"wj/journal/history"
	"wj/journal/round"
	"wj/journal/writer"
	"wj/render/terminal"
	"wj/water"
	"wj/water/spelling"
)

// sitting are the flags of enter and round.
type sitting struct {
	Tests      []string `placeholder:"ANALYTE" help:"These tests in this order, instead of those that the schedules ask for."`
	Sampled    string   `placeholder:"TIME" help:"When the samples were taken: 08:15, or 2026-03-04T08:15; now if absent."`
	By         string   `placeholder:"ID" help:"Who tests; by default the person with your git address."`
	Instrument string   `placeholder:"ID" help:"The meter."`
	Steps      bool     `help:"The steps and timers of each method before its reading; ? shows them one by one."`
	NoBell     bool     `help:"No bell when a timer ends."`
	New        bool     `help:"Put a sitting that was left unfinished aside and begin anew."`
	NoCommit   bool     `help:"Write the records, do not commit."`
}

type enterCmd struct {
	Site  string `arg:"" help:"The sampling point."`
	Place string `placeholder:"LAT,LON" help:"Where the sample was taken; the site's place if absent."`
	sitting
}

func (c *enterCmd) Run(a *app) error {
	place := ""
	if c.Place != "" {
		p, err := (&mapCmd{From: c.Place}).from(&journal.Journal{})
		if err != nil {
			return withHint("write latitude, then longitude, in degrees: 54.69,25.28", "--place %q is not a place", c.Place)
		}
		place = fmt.Sprintf("%.4f, %.4f", p.Latitude, p.Longitude)
	}
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	if err := resolve(j, &c.Site, journal.KindSite); err != nil {
		return err
	}
	return c.hold(a, j, root, c.Site, []string{c.Site}, round.Options{Place: place}, "wj enter "+c.Site)
}

type roundCmd struct {
	Name   string   `arg:"" optional:"" help:"The round, as wj.yaml names it; none lists the rounds."`
	Sites  []string `placeholder:"SITE" help:"These sites in this order, instead of those of the round."`
	ByTest bool     `help:"Take all samples first, then make one test after another on all of them."`
	sitting
}

func (c *roundCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	name, sites, err := roundSites(j, c.Name, c.Sites)
	if err != nil {
		return err
	}
	if len(sites) == 0 {
		return a.rounds(j)
	}
	command := strings.TrimSpace("wj round " + c.Name)
	if len(c.Sites) > 0 {
		command += " --sites " + strings.Join(sites, ",")
	}
	return c.hold(a, j, root, "@"+name, sites, round.Options{Name: roundTitle(c.Name, name), ByTest: c.ByTest}, command)
}

// roundTitle heads the screens of a round.
func roundTitle(asked, name string) string {
	if asked == "" {
		return "Round"
	}
	return journal.Capital(name) + " round"
}

// rounds lists the rounds that have a name.
func (a *app) rounds(j *journal.Journal) error {
	if len(j.Settings.Rounds) == 0 {
		return withHint("add to wj.yaml: rounds: {monday: ["+strings.Join(j.IDs(journal.KindSite), ", ")+"]}", "no round has a name yet")
	}
	for _, n := range slices.Sorted(maps.Keys(j.Settings.Rounds)) {
		if err := a.print(n + "  " + strings.Join(j.Settings.Rounds[n], ", ") + "\n"); err != nil {
			return err
		}
	}
	return nil
}

// roundSites are the sites of a round: those that are named, else those of the round of that name. Without either there are
// none.
func roundSites(j *journal.Journal, asked string, named []string) (name string, sites []string, err error) {
	names := slices.Sorted(maps.Keys(j.Settings.Rounds))
	name, sites = cmp.Or(asked, "sites"), slices.Clone(named)
	if asked != "" {
		found, candidates, ambiguous := spelling.Find(asked, names)
		switch {
		case ambiguous:
			return "", nil, withHint("one of "+spelling.Or(candidates), "%q can be more than one round", asked)
		case found == "" && len(sites) == 0:
			return "", nil, withHint(spelling.HintOr(asked, names, "add to wj.yaml: rounds: {"+asked+": [town-main, north-well]}"), "there is no round %q", asked)
		case len(sites) == 0:
			name, sites = found, slices.Clone(j.Settings.Rounds[found])
		}
	}
	for i := range sites {
		if err := resolve(j, &sites[i], journal.KindSite); err != nil {
			return "", nil, err
		}
		if slices.Contains(sites[:i], sites[i]) {
			return "", nil, withHint("name each site once", "%s is in the round twice", sites[i])
		}
	}
	return name, sites, nil
}

// hold holds a sitting, goes on with one that is kept, and records it.
func (c *sitting) hold(a *app, j *journal.Journal, root, name string, sites []string, opt round.Options, command string) error {
	now := a.Now().In(j.Settings.Zone)
	j = writer.Recent(j, now)
	keep := round.NewKeeper(root, name)
	if c.New {
		to, err := keep.Aside(now)
		if err != nil {
			return err
		}
		if to != "" {
			a.say("the unfinished sitting is in %s", a.shown(to))
		}
	}
	opt.Now, opt.Instrument, opt.Guided = now, c.Instrument, c.Steps
	var err error
	if opt.Tests, err = analytes(c.Tests); err != nil {
		return err
	}
	state, going, err := keep.Load(a.Context, j)
	if err != nil {
		return err
	}
	var r *round.Round
	if going {
		r = round.Resume(j, &state, opt)
		if c.Sampled != "" || c.Instrument != "" || c.By != "" && c.By != state.By {
			a.say("time, person and meter stay as the sitting was begun; --new puts it aside and begins anew")
		}
		a.say("going on with %s, begun %s (%d of %s done)", strings.TrimPrefix(command, "wj "), state.Begun.In(j.Settings.Zone).Format("2006-01-02 15:04"), len(state.Done()), journal.Count(len(state.Tests), "test"))
	} else if r, state, err = c.begin(a, j, root, sites, opt); err != nil {
		return err
	}
	m := &bench.Machine{Plan: r.Plan, State: state, Judge: r.Judge}
	save := func() error { return keep.Save(&m.State) }
	if m.State.Phase != bench.Record {
		clock := func() time.Time { return a.Now().In(j.Settings.Zone) }
		done, err := a.hold(m, a.plain, !c.NoBell, clock, save)
		if err != nil {
			return err
		}
		if !done {
			a.say("kept; %s goes on from here", command)
			a.hintIgnore(root)
			return nil
		}
	}
	if err := c.record(a, r, root, &m.State); err != nil {
		m.State.Phase = bench.Summary // not written: back to the summary, where it can be corrected
		_ = save()
		a.say("everything typed is kept; %s goes on from the summary", command)
		return err
	}
	return keep.Drop()
}

// begin begins a sitting.
func (c *sitting) begin(a *app, j *journal.Journal, root string, sites []string, opt round.Options) (*round.Round, bench.State, error) {
	d := a.draft(j, root, journal.KindSession)
	d.By = cmp.Or(c.By, d.By)
	by, err := d.Person(d.Now)
	if err != nil {
		return nil, bench.State{}, err
	}
	opt.By = by
	r, err := round.New(j, sites, opt)
	if err != nil {
		return nil, bench.State{}, err
	}
	state := bench.Begin(r.Plan, opt.Now)
	if c.Sampled != "" {
		if state.Earlier, err = bench.SamplingTime(c.Sampled, opt.Now); err != nil {
			return nil, state, fmt.Errorf("--sampled: %w", err)
		}
	}
	return r, state, nil
}

// record writes the records and commits them once. What was written before the program was
// ended is not written again.
func (c *sitting) record(a *app, r *round.Round, root string, s *bench.State) error {
	record, err := r.Record(s)
	if err != nil {
		return err
	}
	record.Kept = c.NoCommit
	for _, f := range record.Files {
		if f.Old != nil {
			a.say("%s is recorded already", strings.TrimSuffix(f.Path[strings.LastIndexByte(f.Path, '/')+1:], ".md"))
		}
	}
	if _, err := a.write(r.Journal, root, record, false); !errors.Is(err, history.ErrUnchanged) {
		return err
	}
	return nil // it was committed before too
}

// hold holds a sitting at the terminal or line by line; done is false where it was left for later.
func (a *app) hold(m *bench.Machine, plain, bell bool, clock func() time.Time, save func() error) (done bool, err error) {
	if err := save(); err != nil {
		return false, err
	}
	s := &screen.Screen{Out: a.out, In: a.stdin, Talk: a.stderr, Bell: bell, Clock: clock, Save: save}
	if in, out, ok := terminal.Both(a.stdin, a.stdout, a.env); ok && !plain {
		return s.Hold(m, in, out)
	}
	return s.Lines(m)
}

// analytes reads names of analytes.
func analytes(names []string) ([]water.ID, error) {
	var out []water.ID
	for _, name := range names {
		id, ok := water.LookupAnalyte(strings.TrimSpace(name))
		if !ok {
			return nil, withHint(spelling.HintOr(name, water.AnalyteKeys(), "wj explain lists the analytes"), "%q is no analyte", name)
		}
		out = append(out, id)
	}
	return out, nil
}
