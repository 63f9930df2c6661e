package lint

// registry lists all rules in the order in which they are documented. It is
// filled when the program starts, since the rules' functions look names up in it.
var registry []*Rule

func init() {
	registry = []*Rule{
		formatFrontMatter, formatUnknownKey, formatMissingKey, formatValue, formatNumber, formatDuplicateKey, formatDecimalComma,
		formatDate, formatDSTTime, formatID, formatEncoding,
		refMissing,
		unitMissing, unitKind, unitBasis, unitInstrument, unitSpelling,
		rangeOver, rangeUnder, rangeDilution, rangeResolution, rangeImpossible, rangeLowBuffer, rangeInterference,
		sampleOrder, sampleStale, sampleLateEntry, samplePlace, sampleTravel, sampleReplicates, sampleCopied, sampleIncomplete,
		reagentExpired, reagentExpiresSoon, reagentRecalled, reagentWrongAnalyte, reagentUnknown, reagentOverdrawn, reagentUnverified,
		additiveLot, additiveForm, additiveContradicts,
		instrumentCheckDue, instrumentCheckFailed, instrumentDrift, instrumentRetired, standardExpired,
		chemistryCalciumOverTotal, chemistrySodiumNegative, chemistryChargeBalance, chemistryBalanceByConstruction,
		chemistryConductivity, chemistryPHAlkalinity, chemistrySaturation, chemistryPartOfWhole, chemistryTwoForms,
		limitHealth, limitAesthetic, limitSite, limitProbable, limitBrewing, limitStage,
		causeUnit, causeDigits, causeSwapped, causeDilution, causeBottle, causeSupply, causeLot, causeTest, causeMeter, causeChange, causeTreatment, causeCut,
		siteControl, siteTrend, siteOverdue, siteUtilityGap, siteLabGap,
		recordAuthor, recordAuthority, recordAmended, recordDeleted, recordRewritten, recordSignedThenChanged, recordSilenced, recordPrivacy, recordReportStale, recordGuardChanged,
		actionOpenTooLong,
		changeShares, changeBasisOld, changeBasisDoubtful, changeUnsignedUse, changeSelfSigned, changeNotVerified, changeScale, changeRecompute, changeTarget, changeLapsed, changeVerificationMiss,
		batchWeighed, batchDouble, batchImpossible, batchUnplanned,
		doseGypsum, doseAcidStrength, doseOverAcid, doseAnionFromAcid, doseLimeBase, doseSulfite, doseIncompatible, doseIonMax, doseJurisdiction,
	}
}
