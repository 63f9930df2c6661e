package lint

var batchUnplanned = &Rule{
	Name: "batch/unplanned", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkBatchUnplanned,
	Title: "a batch was dosed, and no change says with what",
}

// checkBatchUnplanned speaks where the journal keeps changes at all: a dose without
// one was computed and reviewed by nobody.
func checkBatchUnplanned(p *Pass) {
	if len(p.Journal.Changes.List) == 0 {
		return
	}
	for _, b := range p.Journal.Batches.List {
		if b.Void == nil && b.Change == "" && len(b.Weighed) > 0 {
			p.Report(b.Path, []string{"weighed"}, "%s was dosed without a change: nobody computed or reviewed it", b.ID).
				Help("name the change with change: …; if there was none, write one now and have it reviewed")
		}
	}
}
