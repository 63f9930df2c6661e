package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/frontmatter"
	"wj/lint"
	"wj/query"
	"wj/query/report"
	"wj/render"
	"wj/water"
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
	sort, page := explanation(c.Name, house)
	if sort == "" {
		known := append(query.Words(), "query", "import", "map")
		for _, r := range append(lint.Rules(), house...) {
			known = append(known, r.Name)
		}
		known = append(append(known, water.Keys()...), kindNames()...)
		return withHint(spelling.HintOr(c.Name, known, "wj explain lists what can be explained"), "nothing is known of %q", c.Name)
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

// explanation is the page of a name and what sort of thing it is; "" for one that
// is not known.
func explanation(name string, house []*lint.Rule) (sort, page string) {
	if name == "" {
		return "list", explainList(house)
	}
	for _, r := range house {
		if r.Name == name {
			return "rule", r.Page()
		}
	}
	if page, ok := lint.Page(name); ok {
		return "rule", page
	}
	if id, ok := water.LookupAnalyte(name); ok {
		return "analyte", water.Page(id)
	}
	if id, ok := water.Lookup(name); ok {
		return "computed value", water.Page(id)
	}
	if kind, ok := kindOrSettings(name); ok {
		return "kind of record", report.KindPage(kind)
	}
	if name == "query" || slices.Contains(query.Words(), name) {
		return "query language", query.Language()
	}
	if name == "import" || name == "map" {
		return "map of an import", exchange.MappingPage()
	}
	if page := familyPage(name, house); page != "" {
		return "family of rules", page
	}
	return "", ""
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

func explainList(house []*lint.Rule) string {
	var b strings.Builder
	b.WriteString("# What can be explained\n\n## Kinds of record: what they hold, and a command that writes one\n\n")
	for _, k := range append(journal.Kinds(), journal.KindSettings) {
		fmt.Fprintf(&b, "- `%s`: %s\n", k, k.What())
	}
	b.WriteString("\n## Lint rules\n\n")
	for _, r := range append(lint.Rules(), house...) {
		fmt.Fprintf(&b, "- `%s` (%s): %s\n", r.Name, r.Severity, r.Title)
	}
	b.WriteString("\n## The query language\n\n- `query`: names, functions, units and groups of `wj query`\n")
	b.WriteString("\n## Tables from elsewhere\n\n- `import`: the map that says what the columns of a table are\n")
	b.WriteString("\n## Analytes and derived values\n\n")
	for _, key := range water.Keys() {
		id, _ := water.Lookup(key)
		fmt.Fprintf(&b, "- `%s`: %s\n", key, id.Info().Doc)
	}
	return b.String()
}

// familyPage lists the rules of a family, such as cause or limit; "" where there
// is none of that name.
func familyPage(name string, house []*lint.Rule) string {
	var b strings.Builder
	for _, r := range append(slices.Clone(lint.Rules()), house...) {
		if string(r.Family) == name {
			fmt.Fprintf(&b, "- `%s`: %s\n", r.Name, r.Title)
		}
	}
	if b.Len() == 0 {
		return ""
	}
	return "# " + name + "\n\n" + b.String() + "\n`wj lint --only " + name + "` checks these alone; `wj explain RULE` has the page of each.\n"
}
