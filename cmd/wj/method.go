package main

import (
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/bench"
	"wj/query/report"
	"wj/water"
	"wj/water/spelling"
)

type methodCmd struct {
	Name   string `arg:"" optional:"" help:"A method's id, or an analyte; all methods are listed without it."`
	Run_   bool   `name:"run" help:"Go through the steps with their timers; nothing is recorded."`
	NoBell bool   `help:"No bell when a timer ends."`
	Format string `enum:"text,markdown,html,json" default:"text" help:"${enum}."`

	atFlag
}

func (c *methodCmd) Run(a *app) error {
	j, _, err := a.load(journal.Options{})
	if err != nil {
		return err
	}
	if c.Name == "" {
		return c.list(a, j)
	}
	m, err := findMethod(j, c.Name)
	if err != nil {
		return err
	}
	if c.Run_ {
		if len(m.Steps) == 0 {
			return withHint("add steps: to "+m.Path, "the method %s has no steps", m.ID)
		}
		t := bench.Test{MethodName: m.Name, Steps: m.Steps, Method: m.ID}
		if len(m.Analytes) > 0 {
			t.Analyte = m.Analytes[0]
		}
		p := bench.Plan{Name: m.Name, StepsOnly: true, Tests: []bench.Test{t}}
		machine := &bench.Machine{Plan: p, State: bench.Begin(p, a.Now())}
		machine.Start(a.Now())
		_, err := a.hold(machine, a.plain, !c.NoBell, a.Now, func() error { return nil })
		return err
	}
	r, err := report.NewMethod(j, m)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		return a.showJSON(r)
	}
	return a.show(r.Document(), c.Format)
}

func (c *methodCmd) list(a *app, j *journal.Journal) error {
	l := listing{columns: heads("method", "name", "for", "takes")}
	for _, m := range j.Methods.List {
		if m.Void == nil {
			l.add(m.ID, m.Name, names(m.Analytes), report.ClockText(report.Timers(m)))
		}
	}
	if len(l.rows) == 0 {
		a.say("no methods; wj explain method shows how to write one")
		return errFindings
	}
	return l.print(a, "table")
}

// findMethod finds a method by its id, or the one for an analyte.
func findMethod(j *journal.Journal, name string) (*journal.Method, error) {
	if m, ok := j.Methods.Get(strings.TrimSuffix(name, ".md")); ok {
		return m, nil
	}
	var known []string
	if id, ok := water.LookupAnalyte(name); ok {
		for _, m := range j.Methods.List {
			if m.Void == nil && slices.Contains(m.Analytes, id) {
				known = append(known, m.ID)
			}
		}
		switch len(known) {
		case 1:
			m, _ := j.Methods.Get(known[0])
			return m, nil
		case 0:
			return nil, withHint("wj method lists those that there are; wj explain method shows how to write one", "there is no method for %s", id)
		}
		return nil, withHint("name one: "+strings.Join(known, ", "), "there are %s for %s", journal.Count(len(known), "method"), id)
	}
	if id, err := j.ID(name, journal.KindMethod); err == nil {
		m, _ := j.Methods.Get(id)
		return m, nil
	}
	known = append(j.IDs(journal.KindMethod), water.AnalyteKeys()...)
	return nil, withHint(spelling.HintOr(name, known, "wj method lists them"), "there is no method %q", name)
}
