package lint

var batchDouble = &Rule{
	Name: "batch/double", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkBatchDouble,
	Title: "a batch weighed twice the dose, as if it had been given twice",
}

// checkBatchDouble passes over an addition that says in a note that it was
// meant, such as a staged dose that the change splits.
func checkBatchDouble(p *Pass) {
	p.eachDose(func(d dose) {
		if d.weighed == nil || d.wanted == nil || !doubled(d.ratio) || d.weighed.Note != "" {
			return
		}
		p.Report(d.batch.Path, []string{"weighed", d.sub.Key}, "%s of %s was weighed, twice the %s that %s asks for", amount(d.weighed), d.sub.Key, inUnit(d.scaled, d.wanted), d.change.ID).
			See(d.change.Path, []string{"add"}, "what was asked for").
			Help("was the dose given twice? measure pH, alkalinity and the ion in the liquor before mashing; if the doubling was meant, say so in a note on the addition")
	})
}
