package lint

import (
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water/spelling"
)

// configure decides which rules run and with which thresholds, and reports
// settings that no rule has.
func (r *run) configure() {
	for _, rule := range registry {
		a := &active{rule: rule, severity: rule.Severity, values: make([]float64, len(rule.Settings))}
		for i := range rule.Settings {
			a.values[i], _ = rule.Settings[i].parse(rule.Settings[i].Default)
		}
		if s, ok := r.j.Settings.Lint[rule.Name]; ok {
			r.override(a, s)
		}
		if len(r.opt.Only) > 0 {
			if !names(r.opt.Only, rule) {
				continue
			}
			if a.severity == Off {
				a.severity = max(rule.Severity, Info)
			}
		}
		if a.severity == Off || names(r.opt.Skip, rule) || rule.NeedsHistory && r.opt.History == nil {
			continue
		}
		r.active[rule.Name] = a
		if rule.Check != nil {
			r.scopes[rule.Scope] = append(r.scopes[rule.Scope], a)
		}
	}
	names := make([]string, 0, len(r.j.Settings.Lint))
	for name := range r.j.Settings.Lint {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if _, known := Find(name); !known {
			r.settingsProblem("format/unknown-key", []string{"lint", name}, fmt.Sprintf("%q is no lint rule", name), nearestRule(name))
		}
	}
}

// names reports whether a list names a rule or its family.
func names(list []string, rule *Rule) bool {
	return slices.Contains(list, rule.Name) || slices.Contains(list, rule.Family())
}

// nearestRule is the next step after a name that no rule has.
func nearestRule(name string) string {
	if now, ok := replaced[name]; ok {
		return "it was replaced by " + now + ": rename the line, or remove it"
	}
	return spelling.HintOr(name, Names(), "wj explain lists the rules")
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
func (r *run) override(a *active, s journal.RuleSettings) {
	rule := a.rule
	if s.Severity != "" {
		severity, ok := ParseSeverity(s.Severity)
		switch {
		case !ok:
			// Reading the settings has told it of a word alone, not of one in a mapping.
			message := fmt.Sprintf("%q is no severity", s.Severity)
			if !slices.ContainsFunc(r.j.Problems, func(p journal.Problem) bool {
				return p.Path == journal.SettingsFile && p.Message == message
			}) {
				r.settingsProblem("format/value", []string{"lint", rule.Name, "severity"}, message, "write error, warning, info or off")
			}
		case severity == Off && rule.Scope == Form && rule.Family() == "format":
			r.settingsProblem("format/value", []string{"lint", rule.Name, "severity"}, rule.Name+" cannot be turned off: what cannot be read cannot be judged", "write info or warning, or mend the records")
		default:
			a.severity, a.set = severity, true
		}
	}
	keys := make([]string, 0, len(s.Values))
	for key := range s.Values {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for _, key := range keys {
		at := slices.IndexFunc(rule.Settings, func(t Threshold) bool { return t.Key == key })
		place := []string{"lint", rule.Name, key}
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

func (r *run) settingsProblem(rule string, keys []string, message, help string) {
	f := &Finding{keys: keys}
	f.d = Diagnostic{Path: journal.SettingsFile, Rule: rule, Severity: Error, Message: message, Help: help}
	r.found = append(r.found, f)
}

// silence takes out what records ignore, and reports silences that are of no
// use: without a reason, of no rule, or that no longer match anything.
func (r *run) silence() {
	silences := map[string]*journal.Record{}
	r.j.Each(func(record journal.Any) {
		b := record.Base()
		if len(b.Ignore) > 0 {
			silences[b.Path] = b
		}
	})
	if len(silences) == 0 {
		return
	}
	used := map[[2]string]bool{}
	kept := r.found[:0]
	for _, f := range r.found {
		if b, ok := silences[f.d.Path]; ok && !strings.HasPrefix(f.d.Rule, "format/") {
			if _, ignored := b.Ignore[f.d.Rule]; ignored {
				used[[2]string{f.d.Path, f.d.Rule}] = true
				continue
			}
		}
		kept = append(kept, f)
	}
	r.found = kept
	a, ok := r.active[recordSilenced.Name]
	if !ok {
		return
	}
	p := &Pass{Journal: r.j, Now: r.opt.Now, run: r, rule: a, found: &r.found}
	for _, b := range silences {
		for name, reason := range b.Ignore {
			p.silence(b, name, reason, used[[2]string{b.Path, name}])
		}
	}
}

// silence judges one silence of a record.
func (p *Pass) silence(b *journal.Record, name, reason string, used bool) {
	keys := []string{"ignore", name}
	_, known := Find(name)
	_, ran := p.run.active[name]
	switch {
	case !known:
		p.Report(b.Path, keys, "%q is no lint rule: the line silences nothing", name).Help("%s", nearestRule(name))
	case strings.HasPrefix(name, "format/"):
		p.Report(b.Path, keys, "%s cannot be silenced: a record that cannot be read cannot be judged", name).Help("mend the record, then remove the line").Mend(removeSilence)
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
