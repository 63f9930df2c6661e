package lint

import "slices"

var recordSignedThenChanged = &Rule{
	Name: "record/signed-then-changed", Severity: Error, Scope: Whole, Check: checkSignedThenChanged,
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
		if c, ok := p.Journal.Changes.Get(s.Of); ok && p.replaced(c.ID) {
			continue
		}
		paths := make([]string, 0, len(s.Covers))
		for path := range s.Covers {
			paths = append(paths, path)
		}
		slices.Sort(paths)
		for _, path := range paths {
			switch is := p.run.facts.digest(path); is {
			case s.Covers[path]:
			case "":
				p.Report(s.Path, []string{"covers", path}, "%s, which %s signed on %s, is no longer there", path, s.By, p.date(s.On)).Help("restore it, or sign again what is there now")
			default:
				p.Report(s.Path, []string{"covers", path}, "%s has changed since %s signed on %s: the sign-off of %s no longer holds", path, s.By, p.date(s.On), s.Of).
					Help("look at the difference; then restore the file, or sign again")
			}
		}
	}
}

// replaced reports whether a newer change supersedes this one.
func (p *Pass) replaced(change string) bool {
	for _, c := range p.Journal.Changes.List {
		if c.Void == nil && c.Supersedes == change && p.signed(c) {
			return true
		}
	}
	return false
}
