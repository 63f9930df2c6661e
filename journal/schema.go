package journal

import (
	"slices"
	"sync"

	"wj/water"
)

// Kind is one of the record kinds that a journal holds.
type Kind uint8

// The record kinds, in the order in which they are listed.
const (
	NoKind Kind = iota
	KindPerson
	KindOwner
	KindSite
	KindLot
	KindInstrument
	KindMethod
	KindSession
	KindTarget
	KindChange
	KindSignoff
	KindBatch
	KindEvent
	KindAction
	KindReport
	KindAnchor
	KindSettings // wj.yaml
	numKinds
)

var kindTable = [numKinds]struct{ name, folder, what string }{
	KindPerson:     {"person", "people", "who tests, brews, reviews: name, addresses, keys, roles, each with its dates"},
	KindOwner:      {"owner", "owners", "whose water it is: the brewery itself, or a client"},
	KindSite:       {"site", "sites", "a sampling point: owner, stage, what feeds it, place, schedule, limits, supply periods"},
	KindLot:        {"lot", "lots", "a lot of a reagent, a check standard or an additive"},
	KindInstrument: {"instrument", "instruments", "a meter: what it measures, in which units, range and accuracy"},
	KindMethod:     {"method", "methods", "a written test procedure with timed steps"},
	KindSession:    {"session", "sessions", "a test session: one site, one sampling moment, all its readings"},
	KindTarget:     {"target", "targets", "water that a beer wants, as ranges"},
	KindChange:     {"change", "changes", "a proposed water change: blend, additions, expected result"},
	KindSignoff:    {"signoff", "signoffs", "one person's review of one record"},
	KindBatch:      {"batch", "batches", "a brew: which change it used, what was weighed, the mash pH that came out"},
	KindEvent:      {"event", "events", "something done to the plant or the supply that a trend must know"},
	KindAction:     {"action", "actions", "a deviation: cause, correction, who closed it"},
	KindReport:     {"report", "reports", "what was sent to whom, with its digest and the records that it depends on"},
	KindAnchor:     {"anchor", "anchors", "a mark of the whole journal at one commit, signed: what was rewritten after it shows"},
	KindSettings:   {"settings", "", "name, time zone, preferred units, limits, policy and lint settings"},
}

// String is the kind's name: "session".
func (k Kind) String() string { return kindTable[k].name }

// Folder is the folder that records of the kind live in: "sessions".
func (k Kind) Folder() string { return kindTable[k].folder }

// What says in a line what a record of the kind is.
func (k Kind) What() string { return kindTable[k].what }

// Kinds lists the record kinds, without the settings.
func Kinds() []Kind {
	var kinds []Kind
	for k := KindPerson; k < KindSettings; k++ {
		kinds = append(kinds, k)
	}
	return kinds
}

// KindNamed finds a kind by its name or folder.
func KindNamed(name string) (Kind, bool) {
	for k := KindPerson; k < KindSettings; k++ {
		if kindTable[k].name == name || kindTable[k].folder == name {
			return k, true
		}
	}
	return NoKind, false
}

// Type is the type of a field's value.
type Type uint8

// The types of values in front matter.
const (
	TypeText        Type = iota // one line or a block of text
	TypeRef                     // the id of another record, of the kinds in Field.To
	TypeDate                    // 2026-03-04
	TypeMonth                   // 2026-11 or 2026-11-30: the end of that month or day
	TypeTime                    // 2026-03-04T08:15+01:00
	TypeDateOrTime              // either
	TypeChoice                  // one word of Field.Choices
	TypeNumber                  // a plain number, such as a dilution
	TypeInteger                 // a whole number
	TypeFlag                    // true or false
	TypeQuantity                // a number with a unit of Field.Families
	TypeAnalyteName             // the key of an analyte
	TypeValueName               // the key of an analyte or derived value
	TypeReading                 // a quantity that fits the analyte in the key, or a list, or {value: …}
	TypeAmount                  // a quantity (mass or volume), or {amount: …}
	TypeAccuracy                // "5 mg/L + 8 %"
	TypeDigest                  // 64 hexadecimal digits
	TypeUnitName                // a unit
	TypePlace                   // [latitude, longitude]
	TypeMap                     // a mapping with the keys of Field.Fields
	TypeDict                    // a mapping whose keys are named by Field.Keys and whose values have Field.Of
	TypeList                    // a list of Field.Of
	TypeOneOrList               // a value of Field.Of, or a list of them
	TypeRuleSetting             // a severity, or a mapping with a severity and thresholds
)

// Dictionary keys.
type KeyType uint8

// What the keys of a Dict are.
const (
	AnyKey KeyType = iota
	AnalyteKey
	ValueKey     // analyte or derived value
	TargetKey    // analyte, derived value or mash_pH
	SubstanceKey // a salt, acid or base of water/substance
	PathKey      // a file of the journal
	RuleKey      // a lint rule
	HouseKey     // a lint rule of the house: house/iron
)

// Field is one key of a record kind.
type Field struct {
	Key      string
	Type     Type
	Required bool
	To       []Kind         // Ref: the kinds that it may name
	Choices  []string       // Choice
	Families []water.Family // Quantity, Amount
	Fields   []Field        // Map; Reading and Amount in their long form
	Of       *Field         // Dict, List, OneOrList
	Keys     KeyType        // Dict
	Doc      string
}

func text(key, doc string) Field { return Field{Key: key, Type: TypeText, Doc: doc} }
func ref(key string, to Kind, doc string) Field {
	return Field{Key: key, Type: TypeRef, To: []Kind{to}, Doc: doc}
}
func date(key, doc string) Field   { return Field{Key: key, Type: TypeDate, Doc: doc} }
func moment(key, doc string) Field { return Field{Key: key, Type: TypeTime, Doc: doc} }
func dated(key, doc string) Field  { return Field{Key: key, Type: TypeDateOrTime, Doc: doc} }
func mapping(key, doc string, fields ...Field) Field {
	return Field{Key: key, Type: TypeMap, Fields: fields, Doc: doc}
}
func list(key, doc string, of Field) Field { return Field{Key: key, Type: TypeList, Of: &of, Doc: doc} }
func oneOrList(key, doc string, of Field) Field {
	return Field{Key: key, Type: TypeOneOrList, Of: &of, Doc: doc}
}
func dict(key, doc string, keys KeyType, of Field) Field {
	return Field{Key: key, Type: TypeDict, Keys: keys, Of: &of, Doc: doc}
}
func quantity(key, doc string, families ...water.Family) Field {
	return Field{Key: key, Type: TypeQuantity, Families: families, Doc: doc}
}
func required(f Field) Field { f.Required = true; return f }

// span holds the dates between which something is so.
func span() []Field {
	return []Field{date("since", "first day"), date("until", "last day")}
}

func with(fields []Field, more ...Field) []Field { return append(more, fields...) }

// limitFields are the fields of one limit, in a site or in the settings.
var limitFields = []Field{
	{Key: "min", Type: TypeReading, Doc: "the value may not be below this"},
	{Key: "max", Type: TypeReading, Doc: "the value may not be above this"},
	text("source", "the law, standard or decision that sets it"),
	text("reason", "why; with a reason or a source a site's own limit replaces an indicator value"),
	text("action", "what to do when it is passed"),
	{Key: "severity", Type: TypeChoice, Choices: []string{"error", "warning", "info"}, Doc: "how the linter reports it"},
	date("since", "when it came into force"),
}

// measuresFields say what a meter or method can show for one analyte.
var measuresFields = []Field{
	oneOrList("units", "the units that the display can show", Field{Type: TypeUnitName}),
	list("range", "lowest and highest reading", Field{Type: TypeReading}),
	{Key: "resolution", Type: TypeReading, Doc: "the step of the display"},
	{Key: "accuracy", Type: TypeAccuracy, Doc: "95 % half-width, such as 5 mg/L + 8 %"},
	{Key: "repeatability", Type: TypeAccuracy, Doc: "standard deviation of repeats, such as 2 mg/L + 1 %"},
	ref("method", KindMethod, "the written procedure"),
}

// readingFields are the fields of a reading in its long form.
var readingFields = []Field{
	required(Field{Key: "value", Type: TypeReading, Doc: "what the meter showed; a list is replicates"}),
	ref("lot", KindLot, "the reagent lot"),
	{Key: "dilution", Type: TypeNumber, Doc: "total volume over sample volume; the result is the mean times this"},
	ref("instrument", KindInstrument, "where it differs from the session's"),
	ref("method", KindMethod, "where it differs from the instrument's"),
	{Key: "tested", Type: TypeTime, Doc: "where it differs from the session's"},
	quantity("temperature", "of the sample when tested", water.Temperature),
	{Key: "tests", Type: TypeInteger, Doc: "how many tests of the lot it took, where that is more than the replicates: a first one ran past the range"},
	text("note", "a remark on this reading"),
}

// amountFields are the fields of an addition in its long form.
var amountFields = []Field{
	required(quantity("amount", "how much", water.Mass, water.Volume)),
	text("strength", "of an acid, such as 80 % w/w"),
	{Key: "assay", Type: TypeQuantity, Families: []water.Family{water.Fraction}, Doc: "share of the pure substance, such as 98 %"},
	ref("lot", KindLot, "the additive's lot"),
	text("stage", "where or when it goes in: dechlorination, liquor, mash, sparge, kettle; two stages never meet"),
	text("note", "a remark"),
}

var sinceUntil = span()

// commonFields may be in every record.
var commonFields = []Field{
	list("amended", "corrections: what was there, who changed it, when and why", Field{Type: TypeMap, Fields: []Field{
		required(text("key", "the field, such as readings.calcium_hardness")),
		required(text("was", "what stood there before")),
		required(ref("by", KindPerson, "who")),
		required(moment("on", "when")),
		text("reason", "why"),
	}}),
	mapping("void", "the whole record is wrong: never deleted, but void",
		required(ref("by", KindPerson, "who")), required(moment("on", "when")), required(text("reason", "why"))),
	dict("ignore", "lint rules that are silenced for this record, each with its reason", RuleKey, Field{Type: TypeText}),
	dict("attachments", "files that belong to the record, with their SHA-256", PathKey, Field{Type: TypeDigest}),
	text("note", "a remark in one line"),
}

var emergencyField = mapping("emergency", "used before review",
	required(ref("by", KindPerson, "who decided")), required(moment("on", "when")), required(text("reason", "why")))

// schema is the one description of every record kind: what the reader checks,
// what editors complete and what the JSON Schema says.
var schema = [numKinds][]Field{
	KindPerson: {
		required(text("name", "the person's name")),
		oneOrList("email", "addresses that the person commits with", Field{Type: TypeText}),
		list("roles", "what the person may do", Field{Type: TypeMap, Fields: with(sinceUntil,
			required(Field{Key: "role", Type: TypeChoice, Choices: Names(Roles), Doc: "the role"}),
			list("methods", "the methods that the person is trained for", Field{Type: TypeRef, To: []Kind{KindMethod}}),
			list("owners", "reviewer: only for the water of these owners", Field{Type: TypeRef, To: []Kind{KindOwner}}),
			list("kinds", "reviewer: only for these kinds of record", Field{Type: TypeChoice, Choices: kindFolders()}),
			list("paths", "reviewer: only for these files or folders; * is any part of a name, ** any folders", Field{Type: TypeText}),
			list("stages", "reviewer: only for water of these stages", Field{Type: TypeChoice, Choices: Names(Stages)}))}),
		list("keys", "public keys that the person signs commits with", Field{Type: TypeMap, Fields: with(sinceUntil,
			required(text("key", "an OpenSSH public key, or an armored OpenPGP public key")),
			mapping("revoked", "the key is lost or in wrong hands: nothing counts that came after this entry, even with an earlier date",
				required(date("on", "when")), required(text("reason", "why"))))}),
		date("since", "first day"), date("until", "last day"),
	},
	KindOwner: {
		required(text("name", "the name in full")),
		oneOrList("email", "where results are sent", Field{Type: TypeText}),
		dict("units", "the units that the owner likes to read", ValueKey, Field{Type: TypeUnitName}),
		{Key: "self", Type: TypeFlag, Doc: "true for the brewery that keeps the journal"},
		date("since", "first day"), date("until", "last day"),
	},
	KindSite: {
		required(text("name", "the name in full")),
		required(Field{Key: "owner", Type: TypeOneOrList, Of: &Field{Type: TypeRef, To: []Kind{KindOwner}, Fields: with(sinceUntil,
			required(ref("owner", KindOwner, "whose water it is in that time")))}, Doc: "whose water it is; a list of {owner, since} where it changed hands"}),
		required(Field{Key: "stage", Type: TypeChoice, Choices: Names(Stages), Doc: "where in the plant it is"}),
		oneOrList("fed_by", "the sites whose water arrives here", Field{Type: TypeRef, To: []Kind{KindSite}}),
		quantity("capacity", "how much of this water there is in a day, as of a reverse osmosis", water.Volume),
		quantity("reject", "how much of its feed a membrane throws away", water.Fraction),
		text("price", "what this water costs, such as 2.40 EUR/m3, with its feed and reject"),
		{Key: "place", Type: TypePlace, Doc: "latitude and longitude, WGS 84"},
		quantity("radius", "how far from the place a sample may be taken", water.Length),
		list("schedule", "what is tested how often", Field{Type: TypeMap, Fields: []Field{
			required(quantity("every", "the interval", water.Duration)),
			required(list("analytes", "what is tested", Field{Type: TypeAnalyteName})),
			date("since", "from when"), date("until", "until when"),
		}}),
		dict("limits", "the site's own limits", ValueKey, Field{Type: TypeMap, Fields: limitFields}),
		list("supply", "the periods of a changing supply", Field{Type: TypeMap, Fields: with(sinceUntil,
			required(text("regime", "what the water was, such as reservoir or wellfield")),
			text("evidence", "how it is known"))}),
		date("since", "first day"), date("until", "last day"),
	},
	KindLot: {
		oneOrList("analyte", "reagent: what it tests", Field{Type: TypeAnalyteName}),
		{Key: "form", Type: TypeChoice, Choices: []string{"sachet", "drops", "tablet", "strip", "vial", "solution"}, Doc: "reagent: how a portion comes"},
		{Key: "substance", Type: TypeChoice, Doc: "additive: the salt, acid or base, hydrate spelled out"},
		dict("standard", "check standard: its values", AnalyteKey, Field{Type: TypeReading}),
		{Key: "expires", Type: TypeMonth, Doc: "the last day, or the last month"},
		date("received", "when it came"), date("opened", "when it was opened"), date("finished", "when it was used up or thrown away"),
		{Key: "tests", Type: TypeInteger, Doc: "how many tests the pack holds"},
		{Key: "losses", Type: TypeInteger, Doc: "tests lost: dropped, wetted, spoilt"},
		quantity("amount", "how much was received", water.Mass, water.Volume),
		{Key: "assay", Type: TypeQuantity, Families: []water.Family{water.Fraction}, Doc: "share of the pure substance"},
		text("strength", "of an acid, such as 80 % w/w"),
		text("grade", "the evidence that it is food grade"),
		text("price", "price per amount, such as 2.10 EUR/kg"),
		text("supplier", "who sold it"),
		mapping("recalled", "the maker or supplier called it back",
			required(date("on", "when")), required(text("reason", "why"))),
	},
	KindInstrument: {
		required(text("name", "what it is")),
		text("serial", "its serial number"),
		{Key: "sort", Type: TypeChoice, Choices: []string{"photometer", "electrode", "conductivity", "thermometer", "scale", "laboratory", "other"}, Doc: "what sort of meter; a laboratory or supplier declares its accuracy by analyte here, and is found by the name that sessions give it"},
		dict("measures", "what it can show", AnalyteKey, Field{Type: TypeMap, Fields: measuresFields}),
		quantity("resolution", "of a scale: its step", water.Mass, water.Volume),
		date("since", "first day in use"), date("until", "last day in use"),
	},
	KindMethod: {
		required(text("name", "what is tested, and how")),
		oneOrList("analyte", "what it tests", Field{Type: TypeAnalyteName}),
		text("principle", "how the reagent shows the analyte"),
		dict("measures", "range and accuracy", AnalyteKey, Field{Type: TypeMap, Fields: measuresFields}),
		list("steps", "what to do, in order", Field{Type: TypeMap, Fields: []Field{
			required(text("do", "the step")), quantity("wait", "how long", water.Duration), quantity("mix", "how long to mix", water.Duration)}}),
		list("interferences", "what disturbs it", Field{Type: TypeMap, Fields: []Field{
			{Key: "analyte", Type: TypeAnalyteName, Doc: "what disturbs"}, {Key: "above", Type: TypeQuantity, Doc: "from which value on"}, text("effect", "what it does"), text("remedy", "what to do")}}),
		{Key: "end_point", Type: TypeNumber, Doc: "alkalinity: the pH at which the titration ends, such as 4.3; 4.5 if absent. Doses are predicted as this method reads them"},
		quantity("stale_after", "longest time from sampling to test", water.Duration),
		date("since", "first day in use"), date("until", "last day in use"),
	},
	KindSession: {
		required(ref("site", KindSite, "where the sample was taken")),
		required(moment("sampled", "when the sample was taken")),
		moment("tested", "when it was tested"),
		required(ref("by", KindPerson, "who tested")),
		ref("recorded_by", KindPerson, "who typed it, where that was another person"),
		ref("instrument", KindInstrument, "the meter"),
		{Key: "place", Type: TypePlace, Doc: "where the sample was taken: latitude and longitude, WGS 84"},
		{Key: "source", Type: TypeChoice, Choices: Names(Sources), Doc: "whose figures they are; bench if absent"},
		text("laboratory", "which laboratory or utility; an instrument record of the sort laboratory with this name declares its accuracy"),
		{Key: "sample", Type: TypeChoice, Choices: Names(SampleKinds), Doc: "what was tested; routine if absent"},
		dict("standard", "a check standard's true values", AnalyteKey, Field{Type: TypeReading}),
		ref("standard_lot", KindLot, "the check standard's lot"),
		ref("duplicate_of", KindSession, "the session that this one repeats"),
		ref("change", KindChange, "the change that a verification verifies"),
		ref("batch", KindBatch, "the batch that a verification belongs to"),
		required(dict("readings", "the results as the meter showed them", AnalyteKey, Field{Type: TypeReading, Fields: readingFields})),
	},
	KindTarget: {
		required(text("name", "the beer")),
		required(dict("ranges", "what the water should be", TargetKey, Field{Type: TypeMap, Fields: []Field{
			{Key: "min", Type: TypeReading, Doc: "not below"}, {Key: "max", Type: TypeReading, Doc: "not above"}, {Key: "aim", Type: TypeReading, Doc: "best"},
			{Key: "weight", Type: TypeNumber, Doc: "how much a miss counts, 1 if absent"}}})),
		ref("owner", KindOwner, "whose beer"),
		list("grist", "the malts of a usual batch", Field{Type: TypeMap, Fields: gristFields}),
		quantity("liquor", "total liquor of a usual batch", water.Volume),
		quantity("mash_liquor", "of that, what the grist is mashed with", water.Volume),
		date("since", "first day"), date("until", "last day"),
	},
	KindChange: {
		required(ref("for", KindTarget, "the target")),
		required(ref("author", KindPerson, "who proposes it")),
		required(date("proposed", "when")),
		ref("supersedes", KindChange, "the change that it replaces"),
		required(list("basis", "the waters that are blended", Field{Type: TypeMap, Fields: []Field{
			required(ref("session", KindSession, "the session that measured it")), required(quantity("share", "its part of the blend", water.Fraction))}})),
		required(quantity("volume", "how much liquor", water.Volume)),
		quantity("temperature", "of the liquor when it is dosed, where it is not that of the samples", water.Temperature),
		{Key: "tank", Type: TypeChoice, Choices: []string{"all", "mash", "sparge"}, Doc: "which liquor it is for: all if absent"},
		{Key: "open", Type: TypeFlag, Doc: "the liquor is open to the air or heated until its carbon dioxide is that of the air"},
		dict("add", "salts, acids and bases", SubstanceKey, Field{Type: TypeAmount, Families: []water.Family{water.Mass, water.Volume}, Fields: amountFields}),
		dict("expect", "the computed result, ± 95 %", ValueKey, Field{Type: TypeReading}),
		emergencyField,
	},
	KindSignoff: {
		required(Field{Key: "of", Type: TypeRef, To: append(Kinds(), KindSettings), Doc: "the record that is signed, or wj.yaml"}),
		required(ref("by", KindPerson, "who signs")),
		required(moment("on", "when")),
		required(Field{Key: "decision", Type: TypeChoice, Choices: Names(Decisions), Doc: "the decision; remarks are the body. The author of a record proposes it; a signer withdraws an own sign-off"}),
		text("meaning", "what the signature means"),
		{Key: "seen", Type: TypeText, Doc: "the commit that the signer had before them: the sign-off is not older"},
		{Key: "policy", Type: TypeDigest, Doc: "digest of the policy under which it was given"},
		{Key: "settings", Type: TypeDigest, Doc: "digest of the settings that the computation used"},
		required(dict("covers", "the record and everything it depends on, with their SHA-256", PathKey, Field{Type: TypeDigest})),
	},
	KindBatch: {
		required(text("beer", "which beer, or its target")),
		required(dated("brewed", "when")),
		ref("change", KindChange, "the water change that it used"),
		quantity("volume", "how much liquor was treated", water.Volume),
		dict("weighed", "what was weighed in", SubstanceKey, Field{Type: TypeAmount, Families: []water.Family{water.Mass, water.Volume}, Fields: amountFields}),
		ref("dosed_by", KindPerson, "who dosed"), ref("witnessed_by", KindPerson, "who read the labels with them"),
		mapping("mash_pH", "the mash pH that came out",
			required(Field{Key: "value", Type: TypeNumber, Doc: "pH"}), quantity("temperature", "of the sample when read", water.Temperature),
			quantity("after", "time since mash-in", water.Duration), ref("instrument", KindInstrument, "the meter")),
		list("grist", "the malts", Field{Type: TypeMap, Fields: gristFields}),
		ref("owner", KindOwner, "whose beer"),
	},
	KindEvent: {
		required(oneOrList("site", "where", Field{Type: TypeRef, To: []Kind{KindSite}})),
		required(dated("on", "when")),
		required(text("what", "what was done, in a few words")),
		{Key: "sort", Type: TypeChoice, Choices: []string{"maintenance", "replacement", "regeneration", "cleaning", "supply", "failure", "other"}, Doc: "what sort of event"},
		ref("by", KindPerson, "who did it"),
	},
	KindAction: {
		required(oneOrList("about", "the records that it is about", Field{Type: TypeRef, To: Kinds()})),
		required(date("opened", "when it was found")),
		ref("by", KindPerson, "who found it"),
		required(text("deviation", "what was wrong")),
		text("cause", "why it happened"), text("correction", "what was done"), text("effect", "whether that helped"),
		date("due", "when it must be closed"),
		mapping("closed", "who closed it", required(ref("by", KindPerson, "who")), required(date("on", "when"))),
	},
	KindReport: {
		required(ref("owner", KindOwner, "whose results")),
		required(oneOrList("to", "whom it was sent to", Field{Type: TypeText})),
		required(moment("sent", "when")),
		ref("by", KindPerson, "who sent it"),
		text("subject", "its subject"),
		required(dict("files", "what was sent, with the SHA-256", AnyKey, Field{Type: TypeDigest})),
		required(dict("rests_on", "the records that it depends on, with their SHA-256 then", PathKey, Field{Type: TypeDigest})),
		ref("replaces", KindReport, "the report that it corrects"),
	},
	KindAnchor: {
		required(ref("by", KindPerson, "who sets it")),
		required(moment("on", "when")),
		required(text("commit", "the mainline commit that it marks")),
		required(Field{Key: "journal", Type: TypeDigest, Doc: "digest over all files of the journal at that commit"}),
		{Key: "files", Type: TypeInteger, Doc: "how many files these are"},
		dict("before", "the anchor before it, with its SHA-256", PathKey, Field{Type: TypeDigest}),
	},
	KindSettings: {
		required(Field{Key: "format", Type: TypeInteger, Doc: "the version of the journal format: 1"}),
		text("journal", "the journal's own name among all journals, such as quillmarsh-k7m3q9x2wd: written once, by wj init, and never changed"),
		text("name", "the brewery's name"),
		list("joined", "other journals that were brought in (wj join): their records have a prefix, and their sign-offs are judged by their own history", Field{Type: TypeMap, Fields: []Field{
			required(text("prefix", "what stands before their names")),
			required(text("commit", "the last commit of that history, as it was brought in")),
			required(ref("by", KindPerson, "who joined it")), required(moment("on", "when"))}}),
		mapping("origin", "the journal that this one was split off from (wj split): what was there before is what whoever did it says",
			required(text("commit", "its last commit then, which is not in this history")),
			required(Field{Key: "journal", Type: TypeDigest, Doc: "SHA-256 over all its files at that commit, as an anchor has it"}),
			required(Field{Key: "files", Type: TypeInteger, Doc: "how many they were"}),
			text("anchor", "the receipt of its last anchor"),
			required(ref("by", KindPerson, "who split it off")), required(moment("on", "when"))),
		text("timezone", "an IANA time zone, such as Europe/Vilnius"),
		dict("units", "how people like to read values", ValueKey, Field{Type: TypeUnitName}),
		dict("limits", "limits for all sites", ValueKey, Field{Type: TypeMap, Fields: limitFields}),
		oneOrList("jurisdictions", "whose limits are shown: eu, us, who", Field{Type: TypeChoice, Choices: []string{"eu", "us", "who"}}),
		dict("restricted", "salts, acids and bases that must not go into beer where it is brewed, by the brewery's own dated list", SubstanceKey, Field{Type: TypeMap, Fields: restrictedFields}),
		mapping("policy", "who must review what",
			Field{Key: "proof", Type: TypeChoice, Choices: []string{"none", "signature"}, Doc: "what a sign-off needs: nothing (it is a claim), or the signer's own signature beside it"},
			mapping("guards", "changes of people, keys, roles, policy, limits and what else decides",
				Field{Key: "reviewers", Type: TypeInteger, Doc: "how many others must sign; 1 if absent"}),
			list("required", "who must sign some records, beside what is asked of all of their kind", Field{Type: TypeMap, Fields: with(sinceUntil,
				list("kinds", "of these kinds of record", Field{Type: TypeChoice, Choices: append(kindFolders(), SettingsFile)}),
				list("owners", "about water of one of these owners", Field{Type: TypeRef, To: []Kind{KindOwner}}),
				list("paths", "these files or folders; * is any part of a name, ** any folders", Field{Type: TypeText}),
				list("stages", "about water of one of these stages", Field{Type: TypeChoice, Choices: Names(Stages)}),
				list("people", "of these people, who may sign them", Field{Type: TypeRef, To: []Kind{KindPerson}}),
				Field{Key: "role", Type: TypeChoice, Choices: Names(Roles), Doc: "of those with this role, who may sign them; reviewer if neither people nor role is there"},
				Field{Key: "reviewers", Type: TypeInteger, Doc: "how many of them must sign; 1 if absent"})}),
			mapping("changes", "water changes",
				Field{Key: "reviewers", Type: TypeInteger, Doc: "how many people must sign"},
				Field{Key: "other_than_author", Type: TypeFlag, Doc: "the author may not sign"},
				quantity("valid_for", "how long an approval lasts", water.Duration),
				quantity("emergency_review", "within which time an emergency must be reviewed", water.Duration)),
			mapping("amendments", "corrections", Field{Key: "reason", Type: TypeChoice, Choices: []string{"required", "optional"}, Doc: "whether a reason must be given"})),
		mapping("scale", "the steps of the brewery's scale and measuring cylinder",
			quantity("mass", "smallest step", water.Mass), quantity("volume", "smallest step", water.Volume)),
		dict("rounds", "sites that are tested in one sitting, in this order", AnyKey, Field{Type: TypeList, Of: &Field{Type: TypeRef, To: []Kind{KindSite}}}),
		lintField,
		list("lint_for", "lint settings for a part of the journal; a later part wins", Field{Type: TypeMap, Fields: []Field{
			oneOrList("sites", "their records and sessions", Field{Type: TypeRef, To: []Kind{KindSite}}),
			oneOrList("paths", "files or folders; * is any part of a name, ** any folders", Field{Type: TypeText}),
			required(lintField)}}),
		dict("rules", "lint rules of the house: sessions of which an expression holds are reported (wj explain query)", HouseKey, Field{Type: TypeMap, Fields: []Field{
			required(text("where", "an expression of the query language, such as stage == 'liquor' && surely(iron > 0.1)")),
			{Key: "severity", Type: TypeChoice, Choices: []string{"error", "warning", "info"}, Doc: "how it is reported; warning if absent"},
			required(text("message", "what is wrong where it holds")),
			text("help", "the next step")}}),
	},
}

var lintField = dict("lint", "severity of a rule (error, warning, info, off), or a mapping with its thresholds", RuleKey, Field{Type: TypeRuleSetting})

var restrictedFields = append([]Field{required(text("source", "the law or rule, and when it was read")), text("where", "where it holds")}, span()...)

var gristFields = []Field{
	required(text("malt", "which malt")), required(quantity("mass", "how much", water.Mass)),
	{Key: "distilled_pH", Type: TypeNumber, Doc: "mash pH in distilled water, 20 degC"},
	{Key: "buffer", Type: TypeNumber, Doc: "buffer capacity, meq/(kg·pH)"},
}

// Fields is the schema of a kind: its own fields, then those of every record.
func (k Kind) Fields() []Field { return fields()[k] }

// fields joins the two tables once: every check of a record asks for them.
var fields = sync.OnceValue(func() [][]Field {
	all := make([][]Field, KindSettings+1)
	for k := range all {
		all[k] = schema[Kind(k)]
		if Kind(k) != KindSettings {
			all[k] = append(slices.Clip(schema[Kind(k)]), commonFields...)
		}
	}
	return all
})

// kindFolders names the kinds of record as roles do.
func kindFolders() []string {
	var names []string
	for _, k := range Kinds() {
		names = append(names, k.Folder())
	}
	return names
}
