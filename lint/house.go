package lint

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/judge"
	"wj/query"
	"wj/water"
)

// A house rule is an expression of the query language in wj.yaml. It becomes a
// Rule like any other: settings, silences, outputs and editors treat it alike.

// RulesOf lists all rules of a journal: the program's, then those of the house that
// can be compiled, by name.
func RulesOf(j *journal.Journal) []*Rule {
	house, _ := houseRules(j)
	return append(Rules(), house...)
}

// FindIn finds a rule of the program or of the journal's house.
func FindIn(j *journal.Journal, name string) (*Rule, bool) {
	if strings.HasPrefix(name, journal.HousePrefix) && j != nil {
		house, _ := houseRules(j)
		i := slices.IndexFunc(house, func(r *Rule) bool { return r.Name == name })
		if i < 0 {
			return nil, false
		}
		return house[i], true
	}
	return Find(name)
}

// houseProblem is a house rule that cannot be used as it is written.
type houseProblem struct {
	name    string
	err     *query.Error // the mistake in its expression, or
	message string       // what its texts name that is not there
}

// houseRules compiles the house rules of a journal.
func houseRules(j *journal.Journal) (rules []*Rule, wrong []houseProblem) {
	for _, name := range slices.Sorted(maps.Keys(j.Settings.Rules)) {
		h := j.Settings.Rules[name]
		if strings.TrimSpace(h.Where) == "" {
			continue // reading the settings has reported it
		}
		x, err := query.Compile(h.Where)
		if err != nil {
			if e, ok := err.(*query.Error); ok {
				wrong = append(wrong, houseProblem{name: name, err: e})
			}
			continue
		}
		for _, note := range x.Notes(j) {
			wrong = append(wrong, houseProblem{name: name, message: note})
		}
		rules = append(rules, houseRule(name, h, x))
	}
	return rules, wrong
}

func houseRule(name string, h journal.HouseRule, x *query.Expression) *Rule {
	severity, ok := ParseSeverity(h.Severity)
	if !ok || severity == Off {
		severity = Warning
	}
	title, reach := cmp.Or(strings.TrimSpace(h.Message), h.Where), OfRecord
	if x.Pairs() {
		reach = OfSite
	}
	return &Rule{Name: name, Family: FamilyHouse, Severity: severity, Title: title, Scope: Session, Reach: reach, page: housePage(name, severity, h),
		Check: func(p *Pass) { p.house(h, x, title) }}
}

// house reports a session of which the expression holds, at the first of its readings
// that the expression names.
func (p *Pass) house(h journal.HouseRule, x *query.Expression, title string) {
	s := p.Session
	if !judge.SiteWater(s) && !x.Uses("sample") {
		return
	}
	m := p.cache.matchers[x]
	if m == nil {
		if p.cache.matchers == nil {
			p.cache.matchers = map[*query.Expression]*query.Matcher{}
		}
		m = x.Matcher(p.Journal, p.Now)
		p.cache.matchers[x] = m
	}
	if !m.Holds(s) {
		return
	}
	var keys []string
	var values []string
	for _, id := range x.Analytes() {
		if r, ok := s.Reading(id); ok {
			if keys == nil {
				keys = []string{"readings", id.String(), "value"}
			}
			values = append(values, id.String()+" "+journal.TypedReading(r))
		} else if v, err := p.Analysis().Value(id); err == nil && v.Bound == water.Exact {
			values = append(values, id.String()+" "+spread(id, v.Value, v.U))
		}
	}
	if keys == nil && x.Uses("site") {
		keys = []string{"site"}
	}
	message := title
	if len(values) > 0 {
		message += ": " + strings.Join(values, ", ")
	}
	f := p.Report(s.Path, keys, "%s", message)
	if h.Help != "" {
		f.Help("%s", h.Help)
	} else {
		f.Help("the house rule in %s: %s", journal.SettingsFile, h.Where)
	}
}

// housePage is the page of a house rule.
func housePage(name string, severity Severity, h journal.HouseRule) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n", name)
	fmt.Fprintf(&b, "A rule of this house, from `%s`. Severity: %s.\n", journal.SettingsFile, severity)
	if h.Message != "" {
		fmt.Fprintf(&b, "\n%s\n", h.Message)
	}
	fmt.Fprintf(&b, "\n## What it checks\n\nEach session of which this holds is reported:\n\n```\n%s\n```\n\n", h.Where)
	b.WriteString("The language is that of `wj query` (`wj explain query`). A session without one of the readings is passed over, and so are check standards and blanks, unless the expression names `sample`.\n")
	if h.Help != "" {
		fmt.Fprintf(&b, "\n## What to do\n\n%s\n", h.Help)
	}
	fmt.Fprintf(&b, "\n## Settings\n\n`lint: {%s: off}` turns it off, `lint_for` for some sites or files alone. A record silences it with `ignore: {%s: why}`.\n", name, name)
	return b.String()
}

// houseProblems reports what is wrong with the house rules.
func (r *run) houseProblems(wrong []houseProblem) {
	for _, w := range wrong {
		keys := []string{"rules", w.name, "where"}
		if w.err == nil {
			r.settingsProblem("format/value", keys, w.name+": "+w.message, "a rule that no record can match finds nothing").atMost(Warning)
			continue
		}
		r.settingsProblem("format/value", keys, fmt.Sprintf("%s: column %d of the expression: %s", w.name, w.err.Column, w.err.Message),
			cmp.Or(w.err.Help, "wj explain query shows the language")).inside = w.err
	}
}

// placeIn is the byte of the document at which a mistake in a scalar's text is.
func placeIn(d *frontmatter.Document, node int32, e *query.Error) int {
	n := d.Nodes[node]
	at, end := int(n.Start), int(n.End)
	want := e.Column - 1 // code points of the text before the mistake
	for i, line := range strings.Split(e.Source, "\n") {
		if i >= e.Line-1 {
			break
		}
		want += utf8.RuneCountInString(line) + 1
	}
	literal := n.Style == frontmatter.Literal || n.Style == frontmatter.Folded
	switch {
	case n.Style == frontmatter.SingleQuoted || n.Style == frontmatter.DoubleQuoted:
		at++
	case literal:
		for at < end && d.Source[at] != '\n' {
			at++
		}
		at = afterBlanks(d.Source, at, end)
	}
	for ; want > 0 && at < end; want-- {
		c := d.Source[at]
		switch {
		case c == '\'' && n.Style == frontmatter.SingleQuoted, c == '\\' && n.Style == frontmatter.DoubleQuoted:
			at += 2
		case c == '\n' || c == '\r':
			at = afterBlanks(d.Source, at, end) // a fold, with its indentation, is one blank
		default:
			_, size := utf8.DecodeRune(d.Source[at:end])
			at += size
		}
	}
	return min(at, max(end-1, int(n.Start)))
}

func afterBlanks(src []byte, at, end int) int {
	for at < end && strings.IndexByte(" \t\r\n", src[at]) >= 0 {
		at++
	}
	return at
}
