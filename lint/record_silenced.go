package lint

// Its findings come from Run, when all other rules have spoken.
var recordSilenced = &Rule{
	Name: "record/silenced", Severity: Warning, Scope: Whole, Reach: OfJournal,
	Title: "a record silences a rule without a reason, or one that no longer finds anything",
}
