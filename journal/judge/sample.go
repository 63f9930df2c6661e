package judge

import (
	"time"

	"wj/journal"
)

// SampleOf is what a session's kind of sample shows; one that names none is
// routine.
func SampleOf(s *journal.Session) journal.SampleKind { return journal.SampleNamed(s.Sample) }

// SiteWater reports whether a session tells what the water of its site was: it
// is not void, and neither a check standard nor a blank.
func SiteWater(s *journal.Session) bool { return s.Void == nil && SampleOf(s).Water }

// InSeries reports whether a session has a place in the history of its site's
// water: SiteWater without duplicates.
func InSeries(s *journal.Session) bool { return s.Void == nil && SampleOf(s).Series }

// SeriesSamples are the kinds of sample that InSeries takes.
func SeriesSamples() (names []string) {
	for _, k := range journal.SampleKinds {
		if k.Series {
			names = append(names, k.Name)
		}
	}
	return names
}

// Bench reports whether the figures of a session are the brewery's own.
func Bench(s *journal.Session) bool { return s.Source == journal.SourceBench || s.Source == "" }

// TestedAt is when a reading was made: its own time, the session's, or else the
// sampling. r may be nil for the session as a whole.
func TestedAt(s *journal.Session, r *journal.Reading) time.Time {
	switch {
	case r != nil && !r.Tested.IsZero():
		return r.Tested
	case !s.Tested.IsZero():
		return s.Tested
	}
	return s.Sampled
}

// MeterOf is the id of the instrument that made a reading; "" if none is named.
func MeterOf(s *journal.Session, r *journal.Reading) string {
	if r.Instrument != "" {
		return r.Instrument
	}
	return s.Instrument
}

// zoneOf is the journal's time zone.
func zoneOf(j *journal.Journal) *time.Location {
	if z := j.Settings.Zone; z != nil {
		return z
	}
	return time.UTC
}

// dayOf is the day of a moment in the journal's zone, as midnight UTC.
func dayOf(j *journal.Journal, t time.Time) time.Time { return journal.Day(t.In(zoneOf(j))) }

// BrewEnd is the latest moment at which a batch may have been brewed: the moment
// itself, or the end of the day where only the day is known.
func BrewEnd(j *journal.Journal, b *journal.Batch) time.Time {
	if b.Brewed.Location() == time.UTC && b.Brewed.Equal(journal.Day(b.Brewed)) {
		y, m, d := b.Brewed.Date()
		return time.Date(y, m, d+1, 0, 0, 0, 0, zoneOf(j)).Add(-time.Second)
	}
	return b.Brewed
}
