package main

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/bench"
	"wj/render"
	"wj/water"
)

type methodCmd struct {
	Name   string `arg:"" optional:"" help:"A method's id, or an analyte; all methods are listed without it."`
	Run_   bool   `name:"run" help:"Go through the steps with their timers; nothing is recorded."`
	NoBell bool   `help:"No bell when a timer ends."`
	Plain  bool   `help:"Line by line, as without a terminal."`
	Format string `enum:"text,markdown,html" default:"text" help:"${enum}."`
}

func (c *methodCmd) Help() string {
	return "wj method sulfate\n    wj method sulfate --run\n    wj method sulfate --format html > sulfate.html   to print and hang beside the bench"
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
		machine := &bench.Machine{Plan: p, State: bench.Begin(p, a.now())}
		machine.Start(a.now())
		_, err := a.hold(machine, c.Plain, !c.NoBell, a.now, func() error { return nil })
		return err
	}
	text, err := a.methodPage(j, m, c.Format)
	if err != nil {
		return err
	}
	switch c.Format {
	case "markdown":
		return a.print(render.Clean(text))
	case "html":
		return a.page(m.Name, text)
	}
	return a.markdown(text)
}

func (c *methodCmd) list(a *app, j *journal.Journal) error {
	l := listing{columns: heads("method", "name", "for", "takes")}
	for _, m := range j.Methods.List {
		if m.Void == nil {
			l.add(m.ID, m.Name, names(m.Analytes), stepsTime(m))
		}
	}
	if len(l.rows) == 0 {
		a.say("no methods; wj explain method tells how to write one")
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
			return nil, withHint("wj method lists those that there are; wj explain method tells how to write one", "there is no method for %s", id)
		}
		return nil, withHint("name one: "+strings.Join(known, ", "), "there are %s for %s", count(len(known), "method"), id)
	}
	known = append(j.IDs(journal.KindMethod), water.AnalyteKeys()...)
	hint := "wj method lists them"
	if near := water.Nearest(name, known); near != "" {
		hint = "did you mean " + near + "?"
	}
	return nil, withHint(hint, "there is no method %q", name)
}

// stepsTime is how long the timers of a method run together.
func stepsTime(m *journal.Method) string {
	total := 0
	for _, s := range m.Steps {
		total += int((s.Mix + s.Wait).Seconds())
	}
	if total == 0 {
		return ""
	}
	return fmt.Sprintf("%d:%02d", total/60, total%60)
}

// methodPage writes a method as a page to work by.
func (a *app) methodPage(j *journal.Journal, m *journal.Method, format string) (string, error) {
	d, _, err := j.ReadRecord(journal.File{Kind: journal.KindMethod, ID: m.ID, Path: m.Path})
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n", plain(m.Name))
	if m.Void != nil {
		fmt.Fprintf(&b, "**VOID** since %s: %s\n\n", longTime(m.Void.On), plain(m.Void.Reason))
	}
	facts := []string{"for " + names(m.Analytes)}
	if m.StaleAfter > 0 {
		facts = append(facts, "within "+everyText(m.StaleAfter)+" of sampling")
	}
	if t := stepsTime(m); t != "" {
		facts = append(facts, "timers "+t)
	}
	if m.Principle != "" {
		facts = append(facts, m.Principle)
	}
	for i := range facts {
		facts[i] = plain(facts[i])
	}
	b.WriteString(strings.Join(facts, " · ") + "\n\n")
	for i, s := range m.Steps {
		var times []string
		if s.Mix > 0 {
			times = append(times, "mix "+clockText(s.Mix))
		}
		if s.Wait > 0 {
			times = append(times, "wait "+clockText(s.Wait))
		}
		text := plain(s.Do)
		if len(times) > 0 {
			text += " (" + strings.Join(times, ", ") + ")"
		}
		fmt.Fprintf(&b, "%d. %s\n", i+1, text)
	}
	if len(m.Interferences) > 0 {
		b.WriteString("\n## What disturbs it\n\n")
		for _, x := range m.Interferences {
			what := ""
			if x.HasAnalyte {
				what = x.Analyte.String()
				if x.Above.Value > 0 {
					what += " above " + x.Above.String()
				}
				what += ": "
			}
			line := what + x.Effect
			if x.Remedy != "" {
				line += "; " + x.Remedy
			}
			b.WriteString("- " + plain(line) + "\n")
		}
	}
	if len(m.Measures) > 0 {
		b.WriteString("\n## Range\n\n")
		for _, id := range m.Analytes {
			if x := m.Measures[id]; x != nil && x.Low.Set && x.High.Set {
				fmt.Fprintf(&b, "- %s %s to %s\n", id, x.Low, x.High)
			}
		}
	}
	if body := strings.TrimSpace(string(d.Source[d.Body:])); body != "" {
		b.WriteString("\n## Notes\n\n" + a.passage(format, body) + "\n")
	}
	return b.String(), nil
}
