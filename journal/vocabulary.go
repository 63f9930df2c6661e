package journal

import "wj/water"

// The words of the fields that have a few, one table each. The schema, the checks,
// completion and explanations take them from here; what follows from a word is a
// column of its table, so that no command asks for the words themselves.

// The words that code asks for. Elsewhere none of them is written as a string
// (TestWordsAreOfTheTables).
const (
	SampleRoutine, SampleStandard, SampleBlank, SampleDuplicate, SampleVerification = "routine", "check-standard", "blank", "duplicate", "verification"

	SourceBench, SourceLab, SourceUtility = "bench", "lab", "utility"

	StageIntake, StageCarbon, StageSoftener = "intake", "carbon-outlet", "softener-outlet"
	StageFeed, StagePermeate, StageBlend    = "ro-feed", "ro-permeate", "blend-tank"
	StageHot, StageCold, StageOther         = "hot-liquor", "cold-liquor", "other"
	RoleTester, RoleReviewer, RoleBrewer    = "tester", "reviewer", "brewer"
	RoleQuality, RoleOwner                  = "quality", "owner"
	DecidedAccepted, DecidedRefused         = "accepted", "refused"
	DecidedProposed, DecidedWithdrawn       = "proposed", "withdrawn"
	DecidedRequested, DecidedRemarked       = "requested", "remarked"
)

// Choice is one word of such a field and what it means.
type Choice struct{ Name, Doc string }

// SampleKind is a kind of sample and what it shows of its site's water.
type SampleKind struct {
	Choice
	// Water: the sample is the site's water, as it was. A check standard and a
	// blank are not.
	Water bool
	// Series: it has a place in the history of the site's water. A duplicate is
	// the same moment a second time and would count twice.
	Series bool
	// Standard: it is tested to judge the test, by a value that is known.
	Standard bool
}

// SampleKinds are the kinds of sample; the first is that of a session that names
// none.
var SampleKinds = []SampleKind{
	{Choice: Choice{SampleRoutine, "the site's water, by its schedule or by chance"}, Water: true, Series: true},
	{Choice: Choice{SampleStandard, "a solution of known value, to judge the test"}, Standard: true},
	{Choice: Choice{SampleBlank, "water without what is tested, to judge the test"}, Standard: true},
	{Choice: Choice{SampleDuplicate, "the same water at the same time, by a second sample"}, Water: true},
	{Choice: Choice{SampleVerification, "the water after a change, to see whether it came out as computed"}, Water: true, Series: true},
}

// SampleNamed is the kind of sample of a word; "" is routine, and of a word that is
// none nothing is known.
func SampleNamed(word string) SampleKind {
	for _, k := range SampleKinds {
		if k.Name == word || word == "" {
			return k
		}
	}
	return SampleKind{}
}

// Sources say whose figures a session's are; the first is that of a session that
// names none.
var Sources = []Choice{
	{SourceBench, "tested at the brewery"},
	{SourceLab, "a laboratory's report"},
	{SourceUtility, "the supplier's own figures"},
}

// Stage is a stage of treatment at which a site may be, and what is known of the
// water there.
type Stage struct {
	Choice
	// Supplied: the water is as it came, from a well, a main, or before treatment.
	Supplied bool
	// Liquor: it goes into beer as it is.
	Liquor bool
	// Made: it is what the last recipe made of it, and has no usual value.
	Made bool
	// Cold: nobody heats it.
	Cold bool
	// Removes is what the plant is there to take out, that which shows most first.
	Removes []water.ID
}

// Stages are the stages of treatment.
var Stages = []Stage{
	{Choice: Choice{StageIntake, "water as it comes: from a main, a well or a bore"}, Supplied: true, Cold: true},
	{Choice: Choice{StageCarbon, "after activated carbon"}, Cold: true, Removes: []water.ID{water.TotalChlorine, water.FreeChlorine}},
	{Choice: Choice{StageSoftener, "after a softener"}, Cold: true, Removes: []water.ID{water.TotalHardness}},
	{Choice: Choice{StageFeed, "before reverse osmosis"}, Supplied: true},
	{Choice: Choice{StagePermeate, "what reverse osmosis lets through"}, Liquor: true, Cold: true, Removes: []water.ID{water.ElectricalConductivity}},
	{Choice: Choice{StageBlend, "waters mixed"}, Liquor: true, Made: true},
	{Choice: Choice{StageHot, "hot brewing liquor"}, Liquor: true, Made: true},
	{Choice: Choice{StageCold, "cold brewing liquor"}, Liquor: true, Made: true, Cold: true},
	{Choice: Choice{StageOther, "anywhere else"}, Supplied: true},
}

// StageNamed is the stage of a word; of a word that is none nothing is known.
func StageNamed(word string) Stage {
	for _, s := range Stages {
		if s.Name == word {
			return s
		}
	}
	return Stage{}
}

// Roles of a person.
var Roles = []Choice{
	{RoleTester, "takes samples and tests them"},
	{RoleReviewer, "signs changes and other records"},
	{RoleBrewer, "doses and brews"},
	{RoleQuality, "keeps instruments, standards and deviations"},
	{RoleOwner, "answers for the brewery"},
}

// Decisions of a sign-off.
var Decisions = []Choice{
	{DecidedAccepted, "the signer agrees"},
	{DecidedRefused, "the signer does not agree; the remarks say why"},
	{DecidedProposed, "the author asks for review"},
	{DecidedWithdrawn, "the signer takes an own sign-off back"},
	{DecidedRequested, "the reviewer asks for changes; until they sign, refuse or withdraw it, nothing is approved"},
	{DecidedRemarked, "a remark or an answer, which decides nothing"},
}

// Names lists the words of a table.
func Names[T interface{ word() string }](table []T) []string {
	names := make([]string, len(table))
	for i, row := range table {
		names[i] = row.word()
	}
	return names
}

func (c Choice) word() string { return c.Name }
