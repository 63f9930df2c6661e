package lint

import (
	"slices"
	"sync"

	"wj/journal"
)

// Settings may differ for some sites or some files: lint_for in wj.yaml. A rule
// then has a variant for each combination of parts that a record belongs to.

// part is what one item of lint_for changes of a rule.
type part struct {
	severity Severity
	set      bool
	values   map[int]float64 // thresholds, by their index
}

// variants are a rule's settings for parts of the journal.
type variants struct {
	of    *active
	parts []*part // as lint_for has them; nil where one says nothing of the rule
	made  sync.Map
}

// at is the rule as its settings are for a file.
func (a *active) at(r *run, file string) *active {
	if a.vary == nil {
		return a
	}
	v := a.vary
	key := make([]byte, len(v.parts))
	for i, p := range v.parts {
		if p != nil && r.belongs(&r.j.Settings.LintFor[i], file) {
			key[i] = 1
		}
	}
	if made, ok := v.made.Load(string(key)); ok {
		return made.(*active)
	}
	out := *v.of
	out.values = slices.Clone(out.values)
	for i, p := range v.parts {
		if key[i] == 0 {
			continue
		}
		if p.set {
			out.severity, out.set = p.severity, true
		}
		for k, value := range p.values {
			out.values[k] = value
		}
	}
	made, _ := v.made.LoadOrStore(string(key), &out)
	return made.(*active)
}

// base reports whether these are the rule's settings without those of parts.
func (a *active) base() bool { return a.vary == nil || a.vary.of == a }

// all lists the variants that the journal's files have.
func (a *active) all(r *run) []*active {
	if a.vary == nil {
		return []*active{a}
	}
	var out []*active
	add := func(file string) {
		if v := a.at(r, file); !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	add(journal.SettingsFile)
	for _, f := range r.j.Files {
		add(f.Path)
	}
	return out
}

// belongs reports whether a file is in a part of the journal.
func (r *run) belongs(p *journal.LintPart, file string) bool {
	if len(p.Sites) > 0 && slices.Contains(p.Sites, r.siteOf(file)) {
		return true
	}
	return slices.ContainsFunc(p.Paths, func(pattern string) bool { return journal.MatchPath(pattern, file) })
}

// siteOf is the site that a file is about: a session's, or its own.
func (r *run) siteOf(file string) string {
	r.siteOnce.Do(func() {
		r.siteByPath = map[string]string{}
		for _, s := range r.j.Sites.List {
			r.siteByPath[s.Path] = s.ID
		}
		for _, s := range r.j.Sessions.List {
			r.siteByPath[s.Path] = s.Site
		}
	})
	return r.siteByPath[file]
}
