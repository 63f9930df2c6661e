package lint

import (
	"slices"

	"wj/journal/evidence"
	"wj/journal/judge"
)

var recordSignedThenChanged = &Rule{
	Name: "record/signed-then-changed", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkSignedThenChanged,
	Title: "a file was changed after it was signed: the sign-off no longer holds",
}

// checkSignedThenChanged compares the digests of the newest sign-off of each
// person for each record with the files, LF line ends assumed, so that
// sha256sum alone can do the same.
func checkSignedThenChanged(p *Pass) {
	newest := map[[2]string]string{}
	for _, s := range p.Journal.Signoffs.List {
		if s.Void != nil {
			continue
		}
		key := [2]string{s.Of, s.By}
		if old, ok := p.Journal.Signoffs.Get(newest[key]); !ok || s.On.After(old.On) {
			newest[key] = s.ID
		}
	}
	for _, s := range p.Journal.Signoffs.List {
		if s.Void != nil || newest[[2]string{s.Of, s.By}] != s.ID {
			continue
		}
		if r := p.run.facts.changes()[s.Of]; r != nil && r.State == judge.Superseded {
			continue
		}
		paths := make([]string, 0, len(s.Covers))
		for path := range s.Covers {
			paths = append(paths, path)
		}
		slices.Sort(paths)
		for _, path := range paths {
			switch now, same := evidence.Same(p.Journal, path, s.Covers[path]); {
			case same:
			case now == "":
				p.Report(s.Path, []string{"covers", path}, "%s, which %s signed on %s, is no longer there", path, s.By, p.date(s.On)).Help("restore it, or sign again what is there now")
			default:
				p.Report(s.Path, []string{"covers", path}, "%s has changed since %s signed on %s: the sign-off of %s no longer holds", path, s.By, p.date(s.On), s.Of).
					See(path, nil, "what was signed").
					Help("look at the difference; then restore the file, or sign again")
			}
		}
	}
}
