package lint

import (
	"errors"
	"io/fs"
	"maps"
	"slices"

	"wj/journal"
)

var recordAttachment = &Rule{
	Name: "record/attachment", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkRecordAttachment,
	Title: "a file that a record names is gone, or is not the one that was attached",
}

// checkRecordAttachment compares each attached file with the digest that the record gives.
func checkRecordAttachment(p *Pass) {
	p.Journal.Each(func(record journal.Any) {
		b := record.Base()
		if len(b.Attachments) == 0 || !p.run.wanted(b.Path) {
			return
		}
		for _, name := range slices.Sorted(maps.Keys(b.Attachments)) {
			keys := []string{"attachments", name}
			switch a, err := p.Journal.Attachment(b, name); {
			case errors.Is(err, fs.ErrNotExist):
				p.Report(b.Path, keys, "the attached file %s is not there", name).Help("put it back; git log -- %s shows when it went", name)
			case err != nil:
				p.Report(b.Path, keys, "the attached file %s cannot be read: %v", name, err).Help("put it back")
			case !a.Holds(b):
				p.Report(b.Path, keys, "the attached file %s is not the one that was attached: its digest is %.12s…", name, a.SHA256).Help("compare it with the original; attach another one under a name of its own: wj attach %s FILE", b.ID)
			}
		}
	})
}
