package lint

import (
	"bytes"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
)

var recordGuardChanged = &Rule{
	Name: "record/guard-changed", Severity: Warning, Scope: Whole, Check: checkGuardChanged,
	Title: "a branch changes what it is judged by: rules, limits, policy, people, the baseline",
}

// guardKeys are the parts of the settings, and of a person, that decide what is
// told and who may agree to it. Names and addresses of offices are not among
// them, a person's addresses are: commits are recognised by them.
var (
	guardSettings = []string{"format", "timezone", "jurisdictions", "restricted", "limits", "policy", "lint"}
	guardPerson   = []string{"email", "roles", "keys", "since", "until", "void", "ignore"}
)

func checkGuardChanged(p *Pass) {
	base := p.run.opt.Base
	if base == nil {
		return
	}
	g := guard{p: p, base: base}
	g.file(journal.SettingsFile, guardSettings)
	for _, person := range base.Journal.People.List {
		if !p.Journal.Exists(journal.KindPerson, person.ID) {
			g.report(person.Path, nil, "%s is in people/ at %s and not here", person.ID, base.Name)
		}
	}
	for _, f := range p.Journal.Files {
		if f.Kind != journal.KindPerson {
			continue
		}
		if !base.Journal.Exists(journal.KindPerson, f.ID) {
			g.report(f.Path, nil, "%s is in people/ here and not at %s", f.ID, base.Name)
			continue
		}
		g.file(f.Path, guardPerson)
	}
	for _, name := range base.Files {
		here, errHere := fs.ReadFile(p.Journal.FS, name)
		there, errThere := fs.ReadFile(base.Journal.FS, name)
		if (errHere == nil) != (errThere == nil) || !bytes.Equal(here, there) {
			g.report(name, nil, "%s decides which findings are told, and it is another one at %s", name, base.Name)
		}
	}
}

// guard compares the files that bind the linter.
type guard struct {
	p    *Pass
	base *Base
}

func (g guard) report(path string, keys []string, format string, args ...any) {
	g.p.Report(path, keys, format, args...).
		Help("this branch was judged as %s has it; have somebody else than the author agree to the change before it is merged", g.base.Name)
}

// file compares the guarded keys of a file with the base's, value by value.
func (g guard) file(path string, guarded []string) {
	here, there := leaves(g.p.Journal.FS, path, guarded), leaves(g.base.Journal.FS, path, guarded)
	names := maps.Clone(there)
	maps.Copy(names, here)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		is, now := here[name]
		was, before := there[name]
		switch keys := strings.Split(name, "\x00"); {
		case is == was && now == before:
		case !before:
			g.report(path, keys, "%s is %s here and not set at %s", dotted(keys), is, g.base.Name)
		case !now:
			g.report(path, keys, "%s is %s at %s and not set here", dotted(keys), was, g.base.Name)
		default:
			g.report(path, keys, "%s is %s at %s and %s here", dotted(keys), was, g.base.Name, is)
		}
	}
}

func dotted(keys []string) string { return strings.Join(keys, ".") }

// leaves are the values below the keys of a file by the keys that lead to them,
// parted by NUL. A list of plain values is one value.
func leaves(fsys fs.FS, path string, keys []string) map[string]string {
	out := map[string]string{}
	src, err := fs.ReadFile(fsys, path)
	if err != nil || len(src) > frontmatter.MaxFile {
		return out
	}
	var d frontmatter.Document
	if path == journal.SettingsFile {
		d.ParseYAML(src)
	} else {
		d.Parse(src)
	}
	var walk func(node int32, at string)
	walk = func(node int32, at string) {
		n := d.Nodes[node]
		if n.Kind == frontmatter.Sequence && n.First != 0 && d.Nodes[n.First].Kind == frontmatter.Scalar {
			var items []string
			for c := range d.Children(node) {
				items = append(items, d.Text(c))
			}
			out[at] = "[" + strings.Join(items, ", ") + "]"
			return
		}
		if n.Kind == frontmatter.Scalar || n.First == 0 {
			out[at] = d.Text(node)
			return
		}
		i := 0
		for c := range d.Children(node) {
			step := d.Key(c)
			if n.Kind == frontmatter.Sequence {
				step = fmt.Sprint(i)
				i++
			}
			walk(c, at+"\x00"+step)
		}
	}
	for _, key := range keys {
		if node, ok := d.FindPath(key); ok {
			walk(node, key)
		}
	}
	return out
}
