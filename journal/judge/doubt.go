package judge

import (
	"fmt"

	"wj/journal"
	"wj/water"
)

// Doubt says why a session's readings cannot be relied on: a recalled or expired
// lot, or a meter that failed the check before or after. "" if they can.
func Doubt(j *journal.Journal, checks Checks, s *journal.Session) string {
	why, _ := DoubtBy(j, checks, s)
	return why
}

// DoubtBy is Doubt with the path of the record that the reason is in: the session, or
// the check that failed.
func DoubtBy(j *journal.Journal, checks Checks, s *journal.Session) (why, by string) {
	for i := range s.Readings {
		r := &s.Readings[i]
		if lot, ok := j.Lots.Get(r.Lot); ok {
			if lot.Recalled != nil {
				return fmt.Sprintf("%s was read with lot %s, recalled on %s", r.Analyte, lot.ID, journal.FormatDate(dayOf(j, lot.Recalled.On))), s.Path
			}
			if !lot.Expires.IsZero() && dayOf(j, TestedAt(s, r)).After(lot.Expires) {
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
		if before, ok := checks.Last(test, at); ok && !before.Passed {
			return fmt.Sprintf("%s had failed its check for %s on %s", meter, r.Analyte, journal.FormatDate(dayOf(j, before.At))), before.Session.Path
		}
		if next, ok := checks.Next(test, at); ok && !next.Passed {
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
