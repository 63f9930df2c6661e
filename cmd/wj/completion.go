package main

import (
	"slices"
	"sort"
	"strings"

	"github.com/alecthomas/kong"

	"wj/journal"
	"wj/lint"
	"wj/query"
	"wj/render/usage"
	"wj/water"
	"wj/water/spelling"
)

type completionCmd struct {
	Shell string `arg:"" enum:"bash,zsh,fish,words" help:"bash, zsh or fish; words prints what the other scripts ask for."`
	What  string `arg:"" optional:"" help:"With words: a kind of record, or record, analyte, rule, unit."`
}

func (c *completionCmd) looksAt() (string, bool) { return "", true }

func (c *completionCmd) Run(a *app, k *kong.Kong) error {
	script := usage.Completion{Model: k.Model, After: wordsAfter}
	switch c.Shell {
	case "words":
		return a.print(strings.Join(append(a.words(c.What), ""), "\n"))
	case "zsh":
		return a.print(script.Zsh())
	case "fish":
		return a.print(script.Fish())
	}
	return a.print(script.Bash())
}

// words lists what can be in a place of the command line: ids come from the
// journal. Where there is none there are no words, and no complaint, since a
// shell asks while somebody is typing.
func (a *app) words(what string) []string {
	switch what {
	case "analyte":
		return append(water.Keys(), query.PairNames()...)
	case "rule":
		return append(lint.Names(), water.Keys()...)
	case "unit":
		return water.UnitNames()
	case "kind":
		var out []string
		for _, k := range journal.Kinds() {
			out = append(out, k.String())
		}
		return out
	}
	if len(a.members) > 0 {
		var all []string
		for _, m := range a.members {
			all = append(all, a.member(m).words(what)...)
		}
		slices.Sort(all)
		return slices.Compact(all)
	}
	root, err := a.root()
	if err != nil {
		return nil
	}
	files, err := a.Files(root)
	if err != nil {
		return nil
	}
	j, err := journal.Load(files, journal.Options{})
	if err != nil {
		return nil
	}
	var out []string
	if what == "record" {
		for _, f := range j.Files {
			out = append(out, f.ID)
		}
	} else if kind, ok := journal.KindNamed(what); ok {
		out = j.IDs(kind)
	}
	safe := out[:0]
	for _, id := range out {
		if journal.ValidID(id, journal.KindLot) { // a shell would run what else a file may be called
			safe = append(safe, id)
		}
	}
	sort.Strings(safe)
	return safe
}

// wordsAfter shows which words a command's arguments and flags take, where
// their help alone does not (usage.Completion).
var wordsAfter = map[string]string{
	"<id>": "record", "<kind>": "kind", "<site>": "site",
	"schema": "kind", "diff": "record", "mail": "session", "sheet": "change", "treat": "target", "--target": "target", "--water": "session", "--basis": "session",
	"explain": "rule", "method": "method", "chart": "analyte", "stats": "analyte", "completion": "", "page": "",
	"--site": "site", "--owner": "owner", "--by": "", "--beer": "target", "--ions": "session", "--from": "site", "--to": "unit",
	"chart --by": "=site", "transfer --to": "owner",
	"--change": "change", "--instrument": "instrument", "--tests": "analyte", "--lot": "lot",
}

type manCmd struct {
	Command string `arg:"" optional:"" help:"The page of one command; the whole program's without it."`
	Out     string `short:"o" placeholder:"DIR" help:"Write all pages, one a file, into this folder."`
}

func (c *manCmd) Run(a *app, k *kong.Kong) error {
	if c.Out != "" {
		return c.all(a, k)
	}
	if c.Command == "" {
		return a.print(usage.Manual(k.Model))
	}
	var known []string
	for _, n := range k.Model.Children {
		if n.Name == c.Command {
			return a.print(usage.ManualOf(n))
		}
		known = append(known, n.Name)
	}
	return withHint(spelling.HintOr(c.Command, known, "commands: "+strings.Join(known, ", ")), "there is no command %q", c.Command)
}

// all writes every manual page, as packages want them.
func (c *manCmd) all(a *app, k *kong.Kong) error {
	pages := map[string]string{"wj.1": usage.Manual(k.Model)}
	for _, n := range k.Model.Children {
		if !n.Hidden {
			pages["wj-"+n.Name+".1"] = usage.ManualOf(n)
		}
	}
	return a.writeFolder(c.Out, pages)
}
