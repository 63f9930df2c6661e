package main

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/lint"
	"wj/query"
	"wj/water"
)

type explainCmd struct {
	Name string `arg:"" optional:"" help:"A kind of record (lot, site, session …, settings), a rule (reagent/expired), an analyte or a derived value (residual_alkalinity), or query for the query language. Without it, the list of them."`
}

func (c *explainCmd) Run(a *app) error {
	if c.Name == "" {
		return a.markdown(explainList())
	}
	if page, ok := lint.Page(c.Name); ok {
		return a.markdown(page)
	}
	if id, ok := water.Lookup(c.Name); ok {
		return a.markdown(water.Page(id))
	}
	if kind, ok := kindOrSettings(c.Name); ok {
		return a.markdown(kindPage(kind))
	}
	words := append(query.Words(), "query")
	if slices.Contains(words, c.Name) {
		return a.markdown(query.Language())
	}
	known := words
	for _, r := range lint.Rules() {
		known = append(known, r.Name)
	}
	known = append(append(known, water.Keys()...), kindNames()...)
	hint := "wj explain lists what can be explained"
	if near := water.Nearest(c.Name, known); near != "" {
		hint = "did you mean " + near + "?"
	}
	return withHint(hint, "nothing is known of %q", c.Name)
}

// markdown prints a Markdown text for a person or, in a pipe, as it is.
func (a *app) markdown(src string) error {
	text, err := a.out.Markdown(src)
	if err != nil {
		return err
	}
	return a.print(text)
}

func explainList() string {
	var b strings.Builder
	b.WriteString("# What can be explained\n\n## Kinds of record: what can stand in them, and a command that writes one\n\n")
	for _, k := range append(journal.Kinds(), journal.KindSettings) {
		fmt.Fprintf(&b, "- `%s`: %s\n", k, k.What())
	}
	b.WriteString("\n## Lint rules\n\n")
	for _, r := range lint.Rules() {
		fmt.Fprintf(&b, "- `%s` (%s): %s\n", r.Name, r.Severity, r.Title)
	}
	b.WriteString("\n## The query language\n\n- `query`: names, functions, units and groups of `wj query`\n")
	b.WriteString("\n## Analytes and derived values\n\n")
	for _, key := range water.Keys() {
		id, _ := water.Lookup(key)
		fmt.Fprintf(&b, "- `%s`: %s\n", key, id.Info().Doc)
	}
	return b.String()
}
