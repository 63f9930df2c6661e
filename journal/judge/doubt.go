package judge

import (
	"fmt"
	"slices"

	"wj/journal"
	"wj/water"
)

// Doubt says why a session's readings cannot be relied on: a recalled or expired
// lot, or a meter that failed the check before or after. "" if they can, also where
// somebody has settled the doubt: by the reason that the record gives for its lot or
// its check (ignore), or by an action about the session that was closed with its effect.
func Doubt(j *journal.Journal, checks Checks, s *journal.Session) string {
	why, _ := DoubtBy(j, checks, s)
	return why
}

// DoubtBy is Doubt with the path of the record that the reason is in: the session, or
// the check that failed.
func DoubtBy(j *journal.Journal, checks Checks, s *journal.Session) (why, by string) {
	if Settled(j, s.ID) {
		return "", ""
	}
	_, good := s.Ignore["reagent/recalled"]
	_, inDate := s.Ignore["reagent/expired"]
	for i := range s.Readings {
		r := &s.Readings[i]
		if lot, ok := j.Lots.Get(r.Lot); ok {
			if lot.Recalled != nil && !good {
				return fmt.Sprintf("%s was read with lot %s, recalled on %s", r.Analyte, lot.ID, journal.FormatDate(dayOf(j, lot.Recalled.On))), s.Path
			}
			if !inDate && !lot.Expires.IsZero() && dayOf(j, TestedAt(s, r)).After(lot.Expires) {
				return fmt.Sprintf("%s was read with lot %s after it expired on %s", r.Analyte, lot.ID, journal.FormatDate(lot.Expires)), s.Path
			}
		}
		if !Bench(s) {
			continue
		}
		meter := MeterOf(s, r)
		test, at := Test{Meter: meter, Analyte: r.Analyte}, TestedAt(s, r)
		if meter == "" {
			meter = "the method"
		}
		if before, ok := checks.Last(test, at); ok && before.doubts() {
			return fmt.Sprintf("%s had failed its check for %s on %s", meter, r.Analyte, journal.FormatDate(dayOf(j, before.At))), before.Session.Path
		}
		if next, ok := checks.Next(test, at); ok && next.doubts() {
			return fmt.Sprintf("%s failed its next check for %s, on %s", meter, r.Analyte, journal.FormatDate(dayOf(j, next.At))), next.Session.Path
		}
	}
	var a water.Analysis
	j.Analysis(s, &a)
	if r, ok := water.ReconcileForms(&a); ok && !r.Fits() {
		return "its readings contradict each other: " + r.Contradiction(), s.Path
	}
	return "", ""
}

// doubts reports whether what a meter read beside a check is in doubt for it.
func (c Check) doubts() bool {
	_, ignored := c.Session.Ignore["instrument/check-failed"]
	return !c.Passed && !ignored
}

// Settled reports whether an action about a record was closed and says whether it helped.
func Settled(j *journal.Journal, id string) bool {
	return slices.ContainsFunc(j.Actions.List, func(a *journal.Action) bool {
		return a.Void == nil && a.Closed != nil && a.Effect != "" && slices.Contains(a.About, id)
	})
}

// SettleDoubt is what is done about a doubtful basis.
const SettleDoubt = "repeat the reading with a good lot and a checked meter, then compute the change anew; an action record about the session, closed with its effect, settles it where a repeat agreed"
