package lint

var doseAnionFromAcid = &Rule{
	Name: "dose/anion-from-acid", Severity: Warning, Scope: Whole, Reach: OfRecord, Check: checkDose,
	Title:    "the acid leaves so much of its anion that it can be tasted, or that it precipitates calcium",
	Settings: []Threshold{{"lactate", "250", "", "most lactate in the liquor, mg/L (taste, an opinion)"}},
}
