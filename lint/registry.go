package lint

// registry lists all rules in the order in which they are documented. It is
// filled when the program starts, since the rules' functions look names up in it.
var registry []*Rule

func init() {
	registry = []*Rule{
		formatFrontMatter, formatUnknownKey, formatMissingKey, formatValue, formatNumber, formatDuplicateKey, formatDecimalComma,
		formatDate, formatDSTTime, formatID, formatEncoding,
		refMissing,
		unitMissing, unitKind, unitBasis, unitInstrument,
		rangeOver, rangeUnder, rangeDilution, rangeResolution, rangeImpossible, rangeLowBuffer, rangeInterference,
		reagentExpired, reagentRecalled, reagentWrongAnalyte, reagentOverdrawn,
		additiveForm,
		chemistryCalciumOverTotal, chemistrySodiumNegative, chemistryChargeBalance, chemistryBalanceByConstruction, chemistryPartOfWhole,
		recordSilenced,
	}
}
