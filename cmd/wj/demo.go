package main

import (
	"fmt"
	"path/filepath"

	example "wj/example-journal"
	"wj/journal"
	"wj/journal/history"
)

type demoCmd struct {
	Folder string `arg:"" optional:"" default:"wj-demo" help:"The folder to make; it must not exist or be empty."`
}

func (c *demoCmd) Run(a *app) error {
	dir := c.Folder
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(a.Dir, dir)
	}
	steps, err := example.Story()
	if err != nil {
		return fmt.Errorf("write the example's history: %w", err)
	}
	commits := make([]history.ImportStep, len(steps))
	for i, s := range steps {
		commits[i] = history.ImportStep(s)
	}
	if err := history.Import(a.Context, dir, commits); err != nil {
		return err
	}
	a.say("Quillmarsh Brewery, an invented brewery: %s in %s", journal.Count(len(steps), "commit"), c.Folder)
	a.say("try:")
	for _, line := range []string{
		"wj -C %s show 2026-06-09-north-well",
		"wj -C %s query 'sulfate > 300 && site == \"north-well\"'",
		"wj -C %s chart sulfate --site north-well",
		"wj -C %s trace SU-2507 --down",
		"wj -C %s review 2026-06-11-wicket-bitter-less-gypsum",
	} {
		if err := a.print(fmt.Sprintf(line+"\n", c.Folder)); err != nil {
			return err
		}
	}
	return nil
}
