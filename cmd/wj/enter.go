package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/judge"
	"wj/render"
	"wj/water"
)

type enterCmd struct {
	Site       string   `arg:"" help:"The sampling point."`
	Tests      []string `placeholder:"ANALYTE,…" help:"These tests in this order, instead of those that the site's schedule asks for."`
	Sampled    string   `placeholder:"TIME" help:"When the sample was taken: 08:15, or 2026-03-04T08:15+01:00; now if absent."`
	By         string   `placeholder:"ID" help:"Who tests."`
	Instrument string   `placeholder:"ID" help:"The meter."`
	Place      string   `placeholder:"LAT,LON" help:"Where the sample was taken; the site's place if absent."`
	NoSteps    bool     `help:"Leave the methods' steps and timers out."`
	NoBell     bool     `help:"No bell when a timer ends."`
	Plain      bool     `help:"Questions and answers line by line, as they come without a terminal."`
	New        bool     `help:"Put a session that was left unfinished aside and begin anew."`
	NoCommit   bool     `help:"Write the record and leave the commit to me."`
}

func (c *enterCmd) Help() string {
	return "wj enter north-well\n    wj enter town-main --tests free_chlorine,temperature --sampled 08:15\n\n" +
		"One test after another: the lot, the method's steps with their timers, what the display shows, and at once whether it is plausible here. " +
		"enter accepts, b goes back, q leaves it for later. Everything typed is kept at once in a file beside wj.yaml; the same command goes on from there. At the end one record and one commit."
}

func (c *enterCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	site, ok := j.Sites.Get(c.Site)
	if !ok {
		return unknownSite(j, c.Site)
	}
	now := a.now().In(j.Settings.Zone)
	keep := newKeeper(root, site.ID)
	if c.New {
		to, err := keep.aside(now)
		if err != nil {
			return err
		}
		if to != "" {
			a.say("the unfinished session is in %s", to)
		}
	}
	state, going, err := keep.load()
	if err != nil {
		return err
	}
	ids, err := c.tests(j, site, &state, going, now)
	if err != nil {
		return err
	}
	instrument := c.Instrument
	if going {
		instrument = state.Instrument
	} else if instrument == "" {
		instrument = judge.CurrentInstrument(j, site.ID, ids, now)
	}
	plan := benchPlan(j, site, ids, instrument, now)
	if c.NoSteps {
		for i := range plan.Tests {
			plan.Tests[i].Steps = nil
		}
	}
	if !going {
		if plan.By = c.By; plan.By == "" {
			if plan.By, err = a.draft(j, root, journal.KindSession).Person(now); err != nil {
				return err
			}
		}
		if !j.Exists(journal.KindPerson, plan.By) {
			return withHint("people: "+strings.Join(j.IDs(journal.KindPerson), ", "), "there is no person %q", plan.By)
		}
		if plan.Place, err = c.place(site); err != nil {
			return err
		}
		state = bench.Begin(plan, now)
		if c.Sampled != "" {
			if state.Sampled, err = bench.SamplingTime(c.Sampled, now); err != nil {
				return fmt.Errorf("--sampled: %w", err)
			}
		}
	}
	if len(plan.Tests) == 0 {
		return withHint("wj enter "+site.ID+" --tests pH,alkalinity,sulfate, or add a schedule to "+site.Path, "the schedule of %s asks for no tests", site.ID)
	}
	if going && (c.Sampled != "" || c.Instrument != "" || c.By != "" && c.By != state.By) {
		a.say("time, person and meter stay as the session was begun; --new puts it aside and begins anew")
	}
	m := &bench.Machine{Plan: plan, State: state, Judge: a.judge(j, root, &plan)}
	if going {
		a.say("going on with the session of %s, begun %s (%s of %d tests done)", site.ID, state.Begun.In(j.Settings.Zone).Format("2006-01-02 15:04"), fmt.Sprint(len(state.Done())), len(state.Tests))
	}
	if m.State.Phase != bench.Record {
		save := func() error { return keep.save(&m.State) }
		clock := func() time.Time { return a.now().In(j.Settings.Zone) }
		done, err := a.hold(m, c.Plain, !c.NoBell, clock, save)
		if err != nil {
			return err
		}
		if !done {
			a.say("kept; wj enter %s goes on from here", site.ID)
			a.hintIgnore(root)
			return nil
		}
	}
	if err := a.recordBench(j, root, &plan, &m.State, keep, c.NoCommit); err != nil {
		if keep.old != nil { // not written: back to the summary, where it can be mended
			m.State.Phase = bench.Summary
			_ = keep.save(&m.State)
			a.say("everything typed is kept; wj enter %s goes on from the summary", site.ID)
		}
		return err
	}
	return nil
}

// tests are the analytes of the session: those of the state where one goes on,
// with what --tests adds.
func (c *enterCmd) tests(j *journal.Journal, site *journal.Site, state *bench.State, going bool, now time.Time) ([]water.ID, error) {
	var asked, ids []water.ID
	for _, name := range c.Tests {
		id, ok := water.LookupAnalyte(strings.TrimSpace(name))
		if !ok {
			hint := "wj explain lists the analytes"
			if near := water.Nearest(name, water.AnalyteKeys()); near != "" {
				hint = "did you mean " + near + "?"
			}
			return nil, withHint(hint, "%q is no analyte", name)
		}
		asked = append(asked, id)
	}
	if !going {
		if len(asked) > 0 {
			return asked, nil
		}
		return plannedTests(j, site, now), nil
	}
	known := map[water.ID]bool{}
	kept := state.Tests[:0]
	for _, e := range state.Tests {
		if id, ok := water.LookupAnalyte(e.Analyte); ok && !known[id] {
			ids, kept, known[id] = append(ids, id), append(kept, e), true
		}
	}
	state.Tests = kept
	for _, id := range asked {
		if !known[id] {
			ids, state.Tests, known[id] = append(ids, id), append(state.Tests, bench.Entry{Analyte: id.String()}), true
		}
	}
	return ids, nil
}

func (c *enterCmd) place(site *journal.Site) (string, error) {
	if c.Place != "" {
		p, err := (&mapCmd{From: c.Place}).from(&journal.Journal{})
		if err != nil {
			return "", withHint("write latitude, then longitude, in degrees: 54.69,25.28", "--place %q is not a place", c.Place)
		}
		return fmt.Sprintf("%.4f, %.4f", p.Latitude, p.Longitude), nil
	}
	if !site.Place.Set {
		return "", nil
	}
	return fmt.Sprintf("%.4f, %.4f", site.Place.Latitude, site.Place.Longitude), nil
}

// hold holds a session at the terminal or line by line; done is false where it
// was left for later.
func (a *app) hold(m *bench.Machine, plain, bell bool, clock func() time.Time, save func() error) (done bool, err error) {
	if err := save(); err != nil {
		return false, err
	}
	if in, out, ok := a.terminal(); ok && !plain {
		return a.holdScreen(m, in, out, bell, clock, save)
	}
	return a.holdLines(m, clock, save)
}

func over(m *bench.Machine) bool {
	return m.State.Phase == bench.Record || m.State.Phase == bench.Ended
}

// holdLines asks line by line. Timers do not hold it up: it says how long to
// wait, and the next line goes on.
func (a *app) holdLines(m *bench.Machine, clock func() time.Time, save func() error) (bool, error) {
	in := bufio.NewReaderSize(a.stdin, 4096)
	shown := ""
	for !over(m) {
		v := m.View(clock())
		if text := lineView(v); text != shown || v.Message != "" {
			if err := a.printTalk(text); err != nil {
				return false, err
			}
			shown = text
		}
		prompt := "> "
		if v.Ask != "" {
			prompt = v.Ask + " > "
			if v.Typed != "" {
				prompt = v.Ask + " (enter takes " + v.Typed + ") > "
			}
		}
		if err := a.printTalk(render.Line(prompt)); err != nil {
			return false, err
		}
		line, err := in.ReadString('\n')
		if err != nil && line == "" {
			_ = a.printTalk("\n")
			if errors.Is(err, io.EOF) {
				return false, nil
			}
			return false, fmt.Errorf("read the answer: %w", err)
		}
		text := strings.TrimSpace(line)
		bare := *m
		bare.State.Typed = "" // a line stands for itself
		if r := []rune(text); len(r) == 1 && bare.Leaves(bench.Input{Key: bench.Rune, Rune: r[0]}) {
			return false, nil
		}
		m.Line(text, clock())
		if err := save(); err != nil {
			return false, err
		}
	}
	return true, nil
}

func lineView(v bench.View) string {
	var b strings.Builder
	b.WriteString("\n" + render.Line(strings.Join(nonEmpty(v.Where, v.Count, v.Test), " · ")) + "\n")
	for _, l := range v.Lines {
		b.WriteString("  " + render.Line(l.Text) + "\n")
	}
	if v.Timer > 0 {
		b.WriteString("  wait " + clockText(v.Timer) + "\n")
	}
	if v.Message != "" {
		b.WriteString("  ! " + render.Line(v.Message) + "\n")
	}
	b.WriteString("  [" + keyLine(v) + "]\n")
	return b.String()
}

func keyLine(v bench.View) string {
	var parts []string
	for _, k := range v.Keys {
		switch { // lines are not erased: another one takes their place
		case k.Key == "backspace":
			continue
		case k.Key == "ctrl-c" && v.Typed != "":
			k.Key = "q"
		}
		parts = append(parts, k.Key+" "+render.Line(k.Does))
	}
	return strings.Join(parts, " · ")
}

func nonEmpty(parts ...string) []string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return out
}

func clockText(d time.Duration) string {
	sec := int((d + time.Second - 1) / time.Second)
	return fmt.Sprintf("%d:%02d", sec/60, sec%60)
}
