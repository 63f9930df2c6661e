package lint

// The rules of the form of a record. Reading the journal finds what they
// report, so they have no Check; they are here for their names, severities and
// pages. What a file cannot be read for is never silenced.
var (
	formatFrontMatter  = &Rule{Name: "format/front-matter", Severity: Error, Title: "the record's front matter does not open, close or read as plain YAML"}
	formatUnknownKey   = &Rule{Name: "format/unknown-key", Severity: Error, Title: "a key, rule or setting has a name that nothing here has"}
	formatMissingKey   = &Rule{Name: "format/missing-key", Severity: Error, Title: "a key that the record cannot do without is not there"}
	formatValue        = &Rule{Name: "format/value", Severity: Error, Title: "a value is not of the kind that its key needs"}
	formatNumber       = &Rule{Name: "format/number", Severity: Error, Title: "a number is not written as a meter shows it"}
	formatDuplicateKey = &Rule{Name: "format/duplicate-key", Severity: Error, Title: "a key appears twice in one place"}
	formatDecimalComma = &Rule{Name: "format/decimal-comma", Severity: Error, Title: "a number has a comma where the decimal point belongs"}
	formatDate         = &Rule{Name: "format/date", Severity: Error, Title: "a date or time cannot be read in one way only, or does not exist"}
	formatID           = &Rule{Name: "format/id", Severity: Error, Title: "a file name is no record id, or its date is not that of the sample"}
	formatEncoding     = &Rule{Name: "format/encoding", Severity: Error, Title: "the file holds bytes that hide or change what a reader sees"}

	refMissing   = &Rule{Name: "ref/missing", Severity: Error, Title: "a record names another one that does not exist"}
	unitMissing  = &Rule{Name: "unit/missing", Severity: Error, Title: "a number that needs a unit has none"}
	unitKind     = &Rule{Name: "unit/kind", Severity: Error, Title: "a unit is unknown or cannot be said of this analyte"}
	unitBasis    = &Rule{Name: "unit/basis", Severity: Error, Title: "a concentration does not say as which substance it is given"}
	additiveForm = &Rule{Name: "additive/form", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkAdditiveForm,
		Title: "a salt's hydrate or an acid's strength is not stated"}
)
