package lint

var doseGypsum = &Rule{
	Name: "dose/gypsum", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkDose,
	Title: "more gypsum than dissolves in cold liquor",
	Settings: []Threshold{
		{"slow", "1.5", "", "from this on it dissolves slowly and needs stirring, g/L"},
		{"most", "2.4", "", "more than this does not dissolve at 10 degC, g/L"},
	},
}
