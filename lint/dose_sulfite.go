package lint

var doseSulfite = &Rule{
	Name: "dose/sulfite", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkDose,
	Title:    "more metabisulfite than the chlorine of the water needs",
	Settings: []Threshold{{"excess", "1.1", "", "times what the total chlorine needs"}},
}
