package main

// silence is a rule that holds its tongue on one record, and why. at is when
// that was written, where it was not there from the first; by whom in who.
type silence struct {
	rule, reason string
	at, who      string
}

const (
	meterFailed  = "action 2025-03-04-meter-1"
	badLot       = "action 2025-10-14-su-2507"
	carbonSpent  = "action 2025-08-07-carbon"
	membraneWorn = "action 2025-12-04-ro-rejection"
	wellRises    = "action 2026-04-14-north-well-sulfate"
	lateReview   = "action 2025-02-19-late-review"

	lotRecalled = "2025-11-03T12:05" // when the sessions on SU-2507 were gone through
	noStandard  = "no sulfate standard to be had from July to October, " + badLot
	lactate     = "the acid's lactate is an anion that the kit does not see"
)

// silences are the findings that are true and looked after, by the record's id.
// The recalled lot's sessions get one more each.
var silences = map[string][]silence{
	"2025-034":                   {{"change/unsigned-use", "reviewed after 41 h, the only reviewer was on the mainland, " + lateReview, "2025-02-19T08:26", "ines"}},
	"2025-02-17-hot-liquor-tank": {{rule: "chemistry/sodium-negative", reason: lactate}},
	"2025-03-04-bench": {
		{"instrument/check-failed", "repeated with a new portion, same; meter-1 is retired, " + meterFailed, "2025-03-04T10:14", "ines"}},
	"2025-05-21-hot-liquor-tank": {{rule: "chemistry/sodium-negative", reason: lactate}},
	"2025-07-22-north-well":      {{"reagent/unverified", noStandard, lotRecalled, "ines"}},
	"2025-07-28-town-main":       {{"instrument/check-due", noStandard, lotRecalled, "ines"}},
	"2025-08-07-carbon-outlet": {
		{"limit/site", "no brewing liquor from here until the carbon is changed, " + carbonSpent, "2025-08-07T09:08", "pia"},
		{"limit/stage", "the same chlorine, " + carbonSpent, "2025-08-07T09:08", "pia"}},
	"2025-10-14-bench": {
		{"instrument/check-failed", "the reagent, not the meter: a fresh pack reads 99 on the same bottle, " + badLot, "2025-10-14T09:24", "ines"}},
	"2025-12-04-ro-permeate":     {{"limit/stage", "membrane ordered, " + membraneWorn, "2025-12-04T10:33", "ines"}},
	"2026-01-08-ro-permeate":     {{rule: "limit/stage", reason: "known, the membrane is on order, " + membraneWorn}},
	"2026-02-05-ro-permeate":     {{rule: "limit/stage", reason: "known, the membrane is still on order, " + membraneWorn}},
	"2026-03-05-ro-permeate":     {{rule: "limit/stage", reason: "known, the new membrane comes next week, " + membraneWorn}},
	"2026-06-05-north-well":      {{rule: "limit/site", reason: "expected since April; the dose is being recomputed, " + wellRises}},
	"2026-06-09-ro-permeate":     {{rule: "range/low-buffer", reason: "taken as ± 0.5; the electrode was away for service"}},
	"2026-07-08-hot-liquor-tank": {{rule: "chemistry/sodium-negative", reason: lactate}},
	"2026-09-15-north-well": {
		{rule: "limit/probable", reason: "the laboratory said over 300 in June and is asked again in November, " + wellRises},
		{rule: "site/trend", reason: "known since 2023, gypsum in the ground; every dose on the well is held against its newest session, " + wellRises}},
}

// silenced is what a record says to the linter: at first, and in the end; and
// when and by whom the rest was written.
func silenced(id string, onBadLot bool) (first, last []pair, later silence) {
	list := silences[id]
	if onBadLot {
		recalled := silence{"reagent/recalled", "sulfate reads about 18 % low; kept as shown, nothing rests on it any more", lotRecalled, "ines"}
		list = append([]silence{recalled}, list...)
	}
	for _, x := range list {
		last = append(last, pair{x.rule, x.reason})
		if x.at == "" {
			first = append(first, pair{x.rule, x.reason})
		} else {
			later = x
		}
	}
	return first, last, later
}

// silence writes the later state of a record, if it has one.
func (j *journal) silence(path, id, content string, later silence) {
	if later.at == "" {
		return
	}
	message := "Say in " + id + " who looks after its finding\n\nReason: " + later.reason
	if later.at == lotRecalled {
		message = "Silence the 14 sessions on SU-2507, each with its reason\n\nReason: recalled lot; the readings stay as shown"
	}
	j.add(path, clockTime(later.at[:10], later.at[11:]), later.who, message, content)
}
