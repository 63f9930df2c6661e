package main

import (
	"path/filepath"
	"strings"

	"github.com/alecthomas/kong"

	"wj/docs"
	"wj/journal"
	"wj/journal/exchange"
	"wj/lint"
	"wj/query"
	"wj/query/report"
	"wj/render/site"
	"wj/render/usage"
	"wj/water"
)

// site writes the documentation as a folder of pages.
func (c *explainCmd) site(a *app, k *kong.Kong) error {
	if c.Name != "" {
		return withHint("leave the name out", "--site writes every page")
	}
	var pages []site.Page
	add := func(section, name, about, text string) {
		pages = append(pages, site.Page{Section: section, Name: name, About: about, Markdown: text})
	}
	for _, n := range k.Model.Children {
		if !n.Hidden {
			add("Commands", "wj "+n.Name, n.Help, usage.Markdown(n))
		}
	}
	for _, kind := range append(journal.Kinds(), journal.KindSettings) {
		add("Kinds of record", kind.String(), kind.What(), report.KindPage(kind))
	}
	add("Asking", "query", "the language of wj query", query.Language())
	add("Asking", "import", "the map of an import", exchange.MappingPage())
	for _, key := range water.Keys() {
		id, _ := water.Lookup(key)
		add("Analytes and computed values", key, id.Info().Doc, water.Page(id))
	}
	for _, r := range lint.Rules() {
		page, _ := lint.Page(r.Name)
		add("Rules", r.Name, r.Title, page)
	}
	for _, name := range docs.Names() {
		section, base := "Evidence and data", strings.TrimSuffix(filepath.Base(name), ".md")
		if strings.HasPrefix(name, "decisions/") {
			section = "Decisions"
		}
		add(section, base, "", docs.Read(name))
	}
	files, err := site.Site{Title: "wj: a water journal in plain text"}.Build(pages)
	if err != nil {
		return err
	}
	return a.writeSite(c.Site, "the documentation", files)
}
