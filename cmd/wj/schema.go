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
	kind, ok := kindOrSettings(c.Kind)
	if !ok {
		names := kindNames()
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

// kindOrSettings finds a record kind, or the settings, by name or folder.
func kindOrSettings(name string) (journal.Kind, bool) {
	if name == journal.KindSettings.String() || name == journal.SettingsFile {
		return journal.KindSettings, true
	}
	return journal.KindNamed(name)
}

// kindNames are the record kinds and the settings.
func kindNames() []string {
	names := []string{journal.KindSettings.String()}
	for _, k := range journal.Kinds() {
		names = append(names, k.String())
	}
	return names
}
