package lint

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water/spelling"
)

// configure decides which rules run and with which thresholds, and reports
// settings that no rule has.
func (r *run) configure() {
	house, wrong := houseRules(r.j)
	r.rules = append(Rules(), house...)
	r.houseProblems(wrong)
	for _, rule := range r.rules {
		a := &active{rule: rule, severity: rule.Severity, values: make([]float64, len(rule.Settings))}
		for i := range rule.Settings {
			a.values[i], _ = rule.Settings[i].parse(rule.Settings[i].Default)
		}
		if s, ok := r.j.Settings.Lint[rule.Name]; ok {
			r.override(a, s, "lint")
		}
		if len(r.opt.Only) > 0 {
			if !names(r.opt.Only, rule) {
				continue
			}
			if a.severity == Off {
				a.severity = max(rule.Severity, Info)
			}
		}
		somewhere := r.vary(a)
		if a.severity == Off && !somewhere || names(r.opt.Skip, rule) || rule.NeedsHistory && r.opt.History == nil {
			continue
		}
		r.active[rule.Name] = a
		if rule.Check != nil {
			r.scopes[rule.Scope] = append(r.scopes[rule.Scope], a)
		}
	}
	r.unknownRules(r.j.Settings.Lint, "lint")
	for i, p := range r.j.Settings.LintFor {
		r.unknownRules(p.Lint, "lint_for", strconv.Itoa(i), "lint")
		if len(p.Sites)+len(p.Paths) == 0 {
			r.settingsProblem("format/missing-key", []string{"lint_for", strconv.Itoa(i)}, "this part names neither sites nor paths, so it is of no file", "add sites: [north-well] or paths: [sessions/2019]")
		}
	}
}

// vary takes over what parts of the journal have of their own for a rule; somewhere
// reports whether it runs in one of them.
func (r *run) vary(a *active) (somewhere bool) {
	for i := range r.j.Settings.LintFor {
		s, ok := r.j.Settings.LintFor[i].Lint[a.rule.Name]
		if !ok {
			continue
		}
		if a.vary == nil {
			a.vary = &variants{of: a, parts: make([]*part, len(r.j.Settings.LintFor))}
		}
		own := &active{rule: a.rule, values: make([]float64, len(a.values))}
		for k := range own.values {
			own.values[k] = -1 // a threshold is 0 or more
		}
		r.override(own, s, "lint_for", strconv.Itoa(i), "lint")
		p := &part{severity: own.severity, set: own.set, values: map[int]float64{}}
		for k, v := range own.values {
			if v >= 0 {
				p.values[k] = v
			}
		}
		a.vary.parts[i] = p
		somewhere = somewhere || p.set && p.severity != Off
	}
	return somewhere
}

// unknownRules reports settings of rules that are not there.
func (r *run) unknownRules(settings map[string]journal.RuleSettings, at ...string) {
	for _, name := range slices.Sorted(maps.Keys(settings)) {
		if !r.known(name) {
			help, near := r.nearestRule(name)
			r.settingsProblem("format/unknown-key", append(slices.Clone(at), name), fmt.Sprintf("%q is no lint rule", name), help).Mend(renameKey(near))
		}
	}
}

// known reports whether the journal has a rule; one of the house that cannot be
// compiled is reported by itself.
func (r *run) known(name string) bool {
	_, house := r.j.Settings.Rules[name]
	return house || slices.ContainsFunc(r.rules, func(rule *Rule) bool { return rule.Name == name })
}

// names reports whether a list names a rule or its family.
func names(list []string, rule *Rule) bool {
	return slices.Contains(list, rule.Name) || slices.Contains(list, string(rule.Family))
}

// nearestRule is the next step after a name that no rule has.
func (r *run) nearestRule(name string) (help, near string) {
	if now, ok := replaced[name]; ok {
		return "it was replaced by " + now + ": rename the line, or remove it", ""
	}
	known := make([]string, len(r.rules))
	for i, rule := range r.rules {
		known[i] = rule.Name
	}
	return spelling.HintOr(name, known, "wj explain lists the rules"), spelling.Nearest(name, known)
}

// Setting is a threshold of a rule as the journal's settings have it, in the
// threshold's unit; 0 where there is no such threshold. A setting that cannot be
// read is a finding of Run, and the default stands.
func Setting(j *journal.Journal, rule, key string) float64 {
	r, ok := Find(rule)
	if !ok {
		return 0
	}
	for i := range r.Settings {
		if t := &r.Settings[i]; t.Key == key {
			if v, err := t.parse(j.Settings.Lint[rule].Values[key]); err == nil {
				return v
			}
			v, _ := t.parse(t.Default)
			return v
		}
	}
	return 0
}

// override takes over what wj.yaml says of a rule.
func (r *run) override(a *active, s journal.RuleSettings, at ...string) {
	rule := a.rule
	keys := func(last string) []string { return append(slices.Clone(at), rule.Name, last) }
	if s.Severity != "" {
		severity, ok := ParseSeverity(s.Severity)
		switch {
		case !ok:
			// Reading the settings has reported it of a word alone, not of one in a mapping.
			message := fmt.Sprintf("%q is no severity", s.Severity)
			if !slices.ContainsFunc(r.j.Problems, func(p journal.Problem) bool {
				return p.Path == journal.SettingsFile && p.Message == message
			}) {
				r.settingsProblem("format/value", keys("severity"), message, "write error, warning, info or off")
			}
		case severity == Off && rule.Scope == Form && rule.Family == FamilyFormat:
			r.settingsProblem("format/value", keys("severity"), rule.Name+" cannot be turned off: what cannot be read cannot be judged", "write info or warning, or correct the records")
		default:
			a.severity, a.set = severity, true
		}
	}
	for _, key := range slices.Sorted(maps.Keys(s.Values)) {
		at := slices.IndexFunc(rule.Settings, func(t Threshold) bool { return t.Key == key })
		place := keys(key)
		if at < 0 {
			known := []string{"severity"}
			for i := range rule.Settings {
				known = append(known, rule.Settings[i].Key)
			}
			help := strings.TrimSpace(spelling.Hint(key, known) + " known: " + strings.Join(known, ", "))
			r.settingsProblem("format/unknown-key", place, fmt.Sprintf("%s has no setting %q", rule.Name, key), help)
			continue
		}
		v, err := rule.Settings[at].parse(s.Values[key])
		if err != nil {
			r.settingsProblem("format/value", place, fmt.Sprintf("%s of %s: %v", key, rule.Name, err), "write it as "+rule.Settings[at].Default)
			continue
		}
		a.values[at] = v
	}
}

func (r *run) settingsProblem(rule string, keys []string, message, help string) *Finding {
	f := &Finding{keys: keys}
	f.d = Diagnostic{Path: journal.SettingsFile, Rule: rule, Severity: Error, Message: message, Help: help}
	r.found = append(r.found, f)
	return f
}

// silencing are the records that silence rules, by path.
func (r *run) silencing() map[string]*journal.Record {
	r.silenceOnce.Do(func() {
		r.silences = map[string]*journal.Record{}
		r.j.Each(func(record journal.Any) {
			if b := record.Base(); len(b.Ignore) > 0 {
				r.silences[b.Path] = b
			}
		})
	})
	return r.silences
}

// silence takes out what records ignore, and reports silences that are of no
// use: without a reason, of no rule, or that no longer match anything.
func (r *run) silence() {
	used := map[[2]string]bool{}
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool {
		gone := r.silenced(f)
		if gone {
			used[[2]string{f.d.Path, f.d.Rule}] = true
		}
		return gone
	})
	a, ok := r.active[recordSilenced.Name]
	if !ok {
		return
	}
	p := &Pass{Journal: r.j, Now: r.opt.Now, run: r, rule: a, found: &r.found}
	for _, b := range r.silencing() {
		if r.opt.Part.partial() && b.Kind == journal.KindSession && !slices.ContainsFunc(r.j.SitesNamed(b.ID), r.opt.Part.whole) {
			continue // not every rule saw all that it has to see
		}
		for name, reason := range b.Ignore {
			p.silence(b, name, reason, used[[2]string{b.Path, name}])
		}
	}
}

// silence judges one silence of a record.
func (p *Pass) silence(b *journal.Record, name, reason string, used bool) {
	keys := []string{"ignore", name}
	_, ran := p.run.active[name]
	switch {
	case !p.run.known(name):
		help, near := p.run.nearestRule(name)
		p.Report(b.Path, keys, "%q is no lint rule: the line silences nothing", name).Help("%s", help).Mend(renameKey(near))
	case FamilyOf(name) == FamilyFormat:
		p.Report(b.Path, keys, "%s cannot be silenced: a record that cannot be read cannot be judged", name).Help("correct the record, then remove the line").Mend(removeSilence)
	case strings.TrimSpace(reason) == "":
		p.Report(b.Path, keys, "%s is silenced without a reason", name).Help("write why it does not matter here, for whoever reads this next year")
	case ran && !used && b.Void == nil:
		p.Report(b.Path, keys, "%s no longer finds anything here", name).Help("remove the line, so that a new finding is seen").Mend(removeSilence)
	}
}

func removeSilence(d *frontmatter.Document, node int32) (Fix, bool) {
	edit, err := frontmatter.RemoveNode(d, node)
	if ignore, ok := d.FindPath("ignore"); ok && d.Nodes[ignore].Kind == frontmatter.Mapping && d.Nodes[d.Nodes[ignore].First].Next == 0 {
		edit, err = frontmatter.RemoveNode(d, ignore) // the last one goes with its key
	}
	return Fix{Message: "remove the silence", Edits: []frontmatter.Edit{edit}}, err == nil
}
