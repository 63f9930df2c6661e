package lint

import (
	"bytes"
	"io/fs"
	"slices"
	"time"

	"wj/journal"
	"wj/journal/evidence"
)

var recordGuardChanged = &Rule{
	Name: "record/guard-changed", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkGuardChanged,
	Title: "a branch changes what it is judged by, and no second authorised person has signed that",
}

// checkGuardChanged compares what a branch is judged by with the branch that it
// is to be merged into. A change that enough authorised others have signed is no
// finding.
func checkGuardChanged(p *Pass) {
	base := p.run.opt.Base
	if base == nil {
		return
	}
	signed, why := map[string]bool{}, map[string]string{}
	ask := func(path string) bool {
		if _, asked := why[path]; !asked {
			why[path] = ""
			if base.Signed != nil {
				signed[path], why[path] = base.Signed(path)
			}
		}
		return signed[path]
	}
	report := func(path string, keys []string, format string, args ...any) {
		if ask(path) {
			return
		}
		text := "this branch was judged as %s has it; a second authorised person signs the change: wj sign %s"
		if missing := why[path]; missing != "" {
			text += " (" + missing + ")"
		}
		p.Report(path, keys, format, args...).Help(text, base.Name, guardName(path))
	}
	for _, c := range evidence.Guards(base.Journal, p.Journal, base.Name, func(rule string) bool { return IsErrorIn(base.Journal, rule) }) {
		report(c.Path, c.Keys, "%s", c.Text)
	}
	for _, name := range base.Files {
		here, errHere := fs.ReadFile(p.Journal.FS, name)
		there, errThere := fs.ReadFile(base.Journal.FS, name)
		if (errHere == nil) != (errThere == nil) || !bytes.Equal(here, there) {
			report(name, nil, "%s decides which findings are reported, and it is another one at %s", name, base.Name)
		}
	}
}

// IsErrorIn reports whether the findings of a rule are errors by the settings of
// a journal.
func IsErrorIn(j *journal.Journal, rule string) bool {
	r, ok := Find(rule)
	if !ok {
		return false
	}
	if said := j.Settings.Lint[rule].Severity; said != "" {
		return said == severityNames[Error]
	}
	return r.Severity == Error
}

// WrongInItself reports whether a change is wrong in itself: its form, or what the
// rules for changes say of it. The rest of the journal is not judged for that.
func WrongInItself(j *journal.Journal, path string, now time.Time) bool {
	file, ok := journal.FileOf(path)
	if !ok {
		return true
	}
	d, record, err := j.ReadRecord(file)
	if err != nil || record == nil {
		return true
	}
	if slices.ContainsFunc(journal.Check(d, file.Kind, path, j), func(p journal.Problem) bool { return !p.Warning }) {
		return true
	}
	return Run(j, Options{Now: now, Paths: []string{path}, Only: []string{string(FamilyChange), string(FamilyDose)}}).Count(Error) > 0
}

// guardName is what a person types to sign a file.
func guardName(path string) string {
	if f, ok := journal.FileOf(path); ok {
		return f.ID
	}
	return path
}
