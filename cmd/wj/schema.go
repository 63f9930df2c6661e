package main

import (
	"slices"

	"wj/docs/schema"
	"wj/journal"
	"wj/lint"
	"wj/query/report"
	"wj/water/spelling"
)

type schemaCmd struct {
	Name   string `arg:"" help:"A kind of record (session, lot, site …, or settings for wj.yaml), or an output: the command with --format json."`
	Output bool   `help:"The output, where a kind of record has the same name."`
}

func (c *schemaCmd) Run(a *app) error {
	if kind, ok := report.KindNamed(c.Name); ok && !c.Output {
		src, err := journal.JSONSchema(kind, lint.Docs())
		if err != nil {
			return err
		}
		return a.print(string(src) + "\n")
	}
	src, ok := schema.Of(c.Name)
	if !ok {
		known := schema.Names()
		if !c.Output {
			known = slices.Concat(report.KindNames(), known)
		}
		return withHint(spelling.HintOr(c.Name, known, "known are "+spelling.Or(known)), "there is no schema of %q", c.Name)
	}
	return a.print(string(src))
}
