package journal

// The words of the fields that have a few, one table each. The schema, the checks,
// completion and explanations take them from here; what follows from a word is a
// column of its table, so that no command asks for the words themselves.

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
	{Choice: Choice{"routine", "the site's water, by its schedule or by chance"}, Water: true, Series: true},
	{Choice: Choice{"check-standard", "a solution of known value, to judge the test"}, Standard: true},
	{Choice: Choice{"blank", "water without what is tested, to judge the test"}, Standard: true},
	{Choice: Choice{"duplicate", "the same water at the same time, by a second sample"}, Water: true},
	{Choice: Choice{"verification", "the water after a change, to see whether it came out as computed"}, Water: true, Series: true},
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
	{"bench", "tested at the brewery"},
	{"lab", "a laboratory's report"},
	{"utility", "the supplier's own figures"},
}

// Stages of treatment at which a site may be.
var Stages = []Choice{
	{"intake", "water as it comes: from a main, a well or a bore"},
	{"carbon-outlet", "after activated carbon"},
	{"softener-outlet", "after a softener"},
	{"ro-feed", "before reverse osmosis"},
	{"ro-permeate", "what reverse osmosis lets through"},
	{"blend-tank", "waters mixed"},
	{"hot-liquor", "hot brewing liquor"},
	{"cold-liquor", "cold brewing liquor"},
	{"other", "anywhere else"},
}

// Roles of a person.
var Roles = []Choice{
	{"tester", "takes samples and tests them"},
	{"reviewer", "signs changes and other records"},
	{"brewer", "doses and brews"},
	{"quality", "keeps instruments, standards and deviations"},
	{"owner", "answers for the brewery"},
}

// Decisions of a sign-off.
var Decisions = []Choice{
	{"accepted", "the signer agrees"},
	{"refused", "the signer does not agree; the remarks say why"},
	{"proposed", "the author asks for review"},
	{"withdrawn", "the signer takes an own sign-off back"},
	{"requested", "the reviewer asks for changes; until they sign, refuse or withdraw it, nothing is approved"},
	{"remarked", "a remark or an answer, which decides nothing"},
}

// Names lists the words of a table.
func Names(choices []Choice) []string {
	names := make([]string, len(choices))
	for i, c := range choices {
		names[i] = c.Name
	}
	return names
}

func sampleNames() []string {
	names := make([]string, len(SampleKinds))
	for i, k := range SampleKinds {
		names[i] = k.Name
	}
	return names
}
