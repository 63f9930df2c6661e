package lint

// Family is what rules are about; it is the part of their names before the slash.
type Family string

// The families of rules, in the order in which they are documented.
const (
	FamilyFormat     Family = "format"
	FamilyRef        Family = "ref"
	FamilyUnit       Family = "unit"
	FamilyRange      Family = "range"
	FamilySample     Family = "sample"
	FamilyReagent    Family = "reagent"
	FamilyAdditive   Family = "additive"
	FamilyInstrument Family = "instrument"
	FamilyStandard   Family = "standard"
	FamilyChemistry  Family = "chemistry"
	FamilyLimit      Family = "limit"
	FamilyCause      Family = "cause"
	FamilySite       Family = "site"
	FamilyRecord     Family = "record"
	FamilyAction     Family = "action"
	FamilyChange     Family = "change"
	FamilyBatch      Family = "batch"
	FamilyDose       Family = "dose"
	FamilyHouse      Family = "house" // the rules of the journal's own
)

// registry lists all rules in the order in which they are documented. It is
// filled when the program starts, since the rules' functions look names up in it.
var registry []*Rule

func init() {
	for _, of := range []struct {
		family Family
		rules  []*Rule
	}{
		{FamilyFormat, []*Rule{
			formatFrontMatter, formatUnknownKey, formatMissingKey, formatValue, formatNumber, formatDuplicateKey,
			formatDecimalComma, formatDate, formatDSTTime, formatID, formatEncoding,
		}},
		{FamilyRef, []*Rule{refMissing, refContradicts}},
		{FamilyUnit, []*Rule{unitMissing, unitKind, unitBasis, unitInstrument, unitSpelling}},
		{FamilyRange, []*Rule{
			rangeOver, rangeUnder, rangeDilution, rangeResolution, rangeImpossible, rangeLowBuffer,
			rangeInterference,
		}},
		{FamilySample, []*Rule{
			sampleOrder, sampleStale, sampleLateEntry, samplePlace, sampleTravel, sampleReplicates, sampleCopied,
			sampleIncomplete,
		}},
		{FamilyReagent, []*Rule{
			reagentExpired, reagentExpiresSoon, reagentRecalled, reagentWrongAnalyte, reagentUnknown,
			reagentOverdrawn, reagentUnverified,
		}},
		{FamilyAdditive, []*Rule{additiveLot, additiveForm, additiveContradicts}},
		{FamilyInstrument, []*Rule{instrumentCheckDue, instrumentCheckFailed, instrumentDrift, instrumentRetired}},
		{FamilyStandard, []*Rule{standardExpired}},
		{FamilyChemistry, []*Rule{
			chemistryCalciumOverTotal, chemistrySodiumNegative, chemistryChargeBalance,
			chemistryBalanceByConstruction, chemistryConductivity, chemistryPHAlkalinity, chemistrySaturation,
			chemistryPartOfWhole, chemistryTwoForms,
		}},
		{FamilyLimit, []*Rule{limitHealth, limitAesthetic, limitSite, limitProbable, limitBrewing, limitStage}},
		{FamilyCause, []*Rule{
			causeUnit, causeDigits, causeSwapped, causeDilution, causeBottle, causeSupply, causeLot, causeTest,
			causeMeter, causeChange, causeTreatment, causeCut,
		}},
		{FamilySite, []*Rule{siteControl, siteTrend, siteOverdue, siteUtilityGap, siteLabGap}},
		{FamilyRecord, []*Rule{
			recordDates, recordAuthor, recordAuthority, recordAmended, recordDeleted, recordRewritten, recordSignedThenChanged,
			recordSilenced, recordPrivacy, recordReportStale, recordGuardChanged, recordAttachment,
			recordUnreviewed,
		}},
		{FamilyAction, []*Rule{actionOpenTooLong}},
		{FamilyChange, []*Rule{
			changeShares, changeBasisOld, changeBasisDoubtful, changeUnsignedUse, changeSelfSigned,
			changeNotVerified, changeScale, changeRecompute, changeTarget, changeLapsed, changeVerificationMiss,
			changeRival,
		}},
		{FamilyBatch, []*Rule{batchWeighed, batchDouble, batchImpossible, batchUnplanned}},
		{FamilyDose, []*Rule{
			doseGypsum, doseAcidStrength, doseOverAcid, doseAnionFromAcid, doseLimeBase, doseSulfite,
			doseIncompatible, doseIonMax, doseJurisdiction,
		}},
	} {
		for _, r := range of.rules {
			r.Family = of.family
			registry = append(registry, r)
		}
	}
}

// FamilyOf is the family of the rule of a name, "" where there is no such rule.
func FamilyOf(name string) Family {
	if r, ok := Find(name); ok {
		return r.Family
	}
	return ""
}
