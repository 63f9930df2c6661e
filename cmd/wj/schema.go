package main

import (
	"strings"

	"wj/journal"
	"wj/water"
)

type schemaCmd struct {
	Kind string `arg:"" help:"Which kind of record: session, lot, site …, or settings for wj.yaml."`
}

func (c *schemaCmd) Run(a *app) error {
	kind, ok := journal.KindNamed(c.Kind)
	if c.Kind == "settings" || c.Kind == journal.SettingsFile {
		kind, ok = journal.KindSettings, true
	}
	if !ok {
		names := []string{"settings"}
		for _, k := range journal.Kinds() {
			names = append(names, k.String())
		}
		hint := "kinds: " + strings.Join(names, ", ")
		if near := water.Nearest(c.Kind, names); near != "" {
			hint = "did you mean " + near + "?"
		}
		return withHint(hint, "%q is no kind of record", c.Kind)
	}
	text, err := journal.JSONSchema(kind)
	if err != nil {
		return err
	}
	return a.print(string(text) + "\n")
}
