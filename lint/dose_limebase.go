package lint

var doseLimeBase = &Rule{
	Name: "dose/lime-base", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkDose,
	Title:    "a base and an acid in one change, a base that drives the pH out of bounds, or one that does not dissolve",
	Settings: []Threshold{{"pH", "10", "", "highest pH of a liquor"}},
}
