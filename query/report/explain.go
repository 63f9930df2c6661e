package report

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/lint"
	"wj/query"
	"wj/water"
)

// Explain is the page of a name and what sort of thing it is: a kind of record, a rule (house are a journal's own), an
// analyte, a computed value, a language. "" is the list of them; the sort is "" for a name that is not known.
func Explain(name string, house []*lint.Rule) (sort, page string) {
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
	if kind, ok := KindNamed(name); ok {
		return "kind of record", KindPage(kind)
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

// KindNamed finds a kind of record, or the settings, by name or folder.
func KindNamed(name string) (journal.Kind, bool) {
	if name == journal.KindSettings.String() || name == journal.SettingsFile {
		return journal.KindSettings, true
	}
	return journal.KindNamed(name)
}

// KindNames are the kinds of record and the settings.
func KindNames() []string {
	names := []string{journal.KindSettings.String()}
	for _, k := range journal.Kinds() {
		names = append(names, k.String())
	}
	return names
}

// Explained are the names that [Explain] knows.
func Explained(house []*lint.Rule) []string {
	known := append(query.Words(), "query", "import", "map")
	for _, r := range append(lint.Rules(), house...) {
		known = append(known, r.Name)
	}
	return append(append(known, water.Keys()...), KindNames()...)
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
