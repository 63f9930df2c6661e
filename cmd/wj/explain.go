package main

import (
	"errors"
	"os"
	"path/filepath"

	"github.com/alecthomas/kong"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/lint"
	"wj/query/report"
	"wj/render"
	"wj/water/spelling"
)

type explainCmd struct {
	Name   string `arg:"" optional:"" help:"A kind of record (lot, site, session …, settings), a rule (reagent/expired), an analyte or a derived value (residual_alkalinity), or query for the query language. Without it, the list of them."`
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	Site   string `placeholder:"DIR" help:"Write everything that can be explained, each command and the documentation as linked HTML pages with a search into a new folder."`
}

func (c *explainCmd) Run(a *app, k *kong.Kong) error {
	if c.Site != "" {
		return c.site(a, k)
	}
	house := a.houseRules()
	sort, page := report.Explain(c.Name, house)
	if sort == "" {
		return withHint(spelling.HintOr(c.Name, report.Explained(house), "wj explain lists what can be explained"), "nothing is known of %q", c.Name)
	}
	if c.Format == "text" {
		return a.markdown(page)
	}
	var name any
	if c.Name != "" {
		name = c.Name
	}
	return a.document("explain", render.Object{{Name: "name", Value: name}, {Name: "sort", Value: sort}, {Name: "page", Value: page}})
}

// markdown prints a Markdown text for a person or, in a pipe, as it is.
func (a *app) markdown(src string) error {
	var failed error
	err := a.out.Show(func(o render.Output) string {
		text, err := o.Markdown(src)
		failed = errors.Join(failed, err)
		return text
	})
	return errors.Join(failed, err)
}

// houseRules are the house's own rules, where the command runs in a journal.
func (a *app) houseRules() []*lint.Rule {
	root, err := a.root()
	if err != nil {
		return nil
	}
	src, err := os.ReadFile(filepath.Join(root, journal.SettingsFile))
	if err != nil || len(src) > frontmatter.MaxFile {
		return nil
	}
	var d frontmatter.Document
	d.ParseYAML(src)
	return lint.RulesOf(&journal.Journal{Settings: journal.DecodeSettings(&d)})[len(lint.Rules()):]
}
