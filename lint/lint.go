// Package lint judges a water journal: a journal goes in, diagnostics come
// out. A rule is data and one pure function, in a file of its own, with a page
// in Markdown beside it; nothing here reads a clock, a network or Git.
//
//	j, err := journal.Load(os.DirFS(root), journal.Options{Check: true, Sessions: true})
//	for _, d := range lint.Run(j, lint.Options{Now: now}).Diagnostics {
//		fmt.Printf("%s:%d: %s: %s [%s]\n", d.Path, d.Line, d.Severity, d.Message, d.Rule)
//	}
package lint

import (
	"embed"
	"fmt"
	"slices"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/water"
)

// Severity is how much a finding matters.
type Severity uint8

// The severities. A rule that is Off does not run.
const (
	Off Severity = iota
	Info
	Warning
	Error
)

var severityNames = [...]string{"off", "info", "warning", "error"}

// String is the severity as settings write it.
func (s Severity) String() string { return severityNames[min(s, Error)] }

// ParseSeverity reads a severity as settings write it.
func ParseSeverity(text string) (Severity, bool) {
	for i, name := range severityNames {
		if name == text {
			return Severity(i), true
		}
	}
	return Off, false
}

// Diagnostic is one finding with its place. Line and Column count from 1,
// columns in characters; Start and End are bytes in the file.
type Diagnostic struct {
	Path                    string
	Line, Column, EndColumn int
	Start, End              int
	Severity                Severity
	Rule, Message, Help     string
	Source                  string // the line's text
	Fixes                   []Fix
	Related                 []Place // what else the finding speaks of
	// Bars says that the record cannot be right as a record: what writes records refuses it, and
	// so does the hook. What was measured never bars, however bad the water.
	Bars bool
}

// Place is a further place of the journal, counted as a Diagnostic's is.
type Place struct {
	Path                    string
	Line, Column, EndColumn int
	Start, End              int
	Message                 string
}

// Fix is one way to correct a finding: edits of the file's bytes. An Unsafe fix
// may change what a reading means and is made only when asked for. A Guess is for a
// person to choose: an editor offers it, and nothing makes it by itself.
type Fix struct {
	Message       string
	Edits         []frontmatter.Edit
	Unsafe, Guess bool
}

// byItself reports whether wj lint --fix makes a fix.
func (f *Fix) byItself(unsafe bool) bool { return !f.Guess && (unsafe || !f.Unsafe) }

// Fixable reports whether wj lint --fix fixes a finding.
func (d *Diagnostic) Fixable() bool {
	return slices.ContainsFunc(d.Fixes, func(f Fix) bool { return f.byItself(false) })
}

// Scope is how much of the journal a rule sees at a time.
type Scope uint8

// The scopes.
const (
	Form    Scope = iota // no Check: its findings come with reading the journal
	Session              // one session that is not void
	History              // one site with all its sessions
	Whole                // the journal, once
)

// Rule is one rule. Check is pure; what it reports goes through the Pass.
type Rule struct {
	Name         string // "reagent/expired": a name is never used for another meaning
	Family       Family // set by the registry
	Severity     Severity
	Title        string // one sentence: what is wrong when it fires
	Scope        Scope
	Reach        Reach
	Settings     []Threshold
	NeedsHistory bool // it asks Git, through Options.History
	AsksHistory  bool // it asks Git too, where there is a repository
	Bars         bool // its errors are of a record that cannot be right as a record, or of one that lost what it said; a finding may say otherwise of itself
	Check        func(*Pass)

	page string // of a house rule; the others' are files
}

// Threshold is a number that settings may change.
type Threshold struct {
	Key     string
	Default string // as it is written in wj.yaml: "30 d"
	Unit    string // the unit of the number that Check gets; "" for a plain number
	Doc     string
}

// Page is the rule's page in Markdown.
func (r *Rule) Page() string {
	if r.page != "" {
		return r.page
	}
	page, _ := Page(r.Name)
	return page
}

// parse reads a threshold as it is written in settings.
func (t *Threshold) parse(text string) (float64, error) {
	q, err := water.ParseQuantity(text)
	if err != nil {
		return 0, err
	}
	switch {
	case q.Bound != water.Exact || q.Expanded != 0 || q.Value < 0:
		return 0, fmt.Errorf("%q is not a plain number of 0 or more", text)
	case t.Unit == "" && !q.Unit.IsNone():
		return 0, fmt.Errorf("%q has a unit, and %s is a number without one", text, t.Key)
	case t.Unit == "":
		return q.Value, nil
	}
	want, ok := water.ParseUnit(t.Unit)
	if !ok {
		return 0, fmt.Errorf("%q is in no known unit", t.Default)
	}
	if q.Unit.IsNone() {
		return 0, fmt.Errorf("%q has no unit", text)
	}
	return q.In(want)
}

// Rules lists all rules, by family in the order in which they are documented.
func Rules() []*Rule { return append([]*Rule(nil), registry...) }

// Find finds a rule by its name.
func Find(name string) (*Rule, bool) {
	for _, r := range registry {
		if r.Name == name {
			return r, true
		}
	}
	return nil, false
}

// Known reports whether a name is that of a rule or of a family of the journal: what Options.Only and Skip take.
func Known(j *journal.Journal, name string) bool {
	for _, r := range RulesOf(j) {
		if r.Name == name || string(r.Family) == name {
			return true
		}
	}
	return false
}

// Docs are the rules as a JSON Schema of records and settings takes them.
func Docs() []journal.RuleDoc {
	out := make([]journal.RuleDoc, len(registry))
	for i, r := range registry {
		out[i] = journal.RuleDoc{Name: r.Name, Title: r.Title, Settings: map[string]string{}}
		for _, t := range r.Settings {
			out[i].Settings[t.Key] = t.Doc + " (" + t.Default + " if absent)"
		}
	}
	return out
}

// Names lists the names of all rules.
func Names() []string {
	names := make([]string, len(registry))
	for i, r := range registry {
		names[i] = r.Name
	}
	return names
}

//go:embed rules
var pages embed.FS

// Page is the page of a rule in Markdown: what it checks, why it matters, a
// bad and a good record, what to do, its settings and its source.
func Page(name string) (markdown string, ok bool) {
	if _, known := Find(name); !known {
		return "", false
	}
	page, err := pages.ReadFile("rules/" + name + ".md")
	if err != nil {
		return "", false
	}
	return string(page), true
}
