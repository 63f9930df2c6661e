package journal

import (
	"time"

	"wj/water"
)

// IsFor reports whether the lot is a reagent for the analyte.
func (l *Lot) IsFor(id water.ID) bool {
	for _, a := range l.Analytes {
		if a == id {
			return true
		}
	}
	return false
}

// ExpiredOn reports whether the lot is past its last day at time t, by the day
// in t's own zone.
func (l *Lot) ExpiredOn(t time.Time) bool {
	return !l.Expires.IsZero() && Day(t).After(l.Expires)
}
