package trace

import (
	"cmp"

	"wj/journal"
	"wj/water"
)

// OffBehind takes the readings that a record stands behind to be in error: those of a lot, an instrument, a method, a site or a
// session. The errors are parts: -0.18 for readings that are 18 % too low.
func OffBehind(f journal.File, errs map[water.ID]float64) Off {
	return func(s *journal.Session, r *journal.Reading) float64 {
		behind := false
		switch f.Kind {
		case journal.KindLot:
			behind = r.Lot == f.ID
		case journal.KindInstrument:
			behind = cmp.Or(r.Instrument, s.Instrument) == f.ID
		case journal.KindMethod:
			behind = r.Method == f.ID
		case journal.KindSite:
			behind = s.Site == f.ID
		case journal.KindSession:
			behind = s.ID == f.ID
		}
		if !behind {
			return 0
		}
		return errs[r.Analyte]
	}
}

// Again works out a change ([OnChange]) or a batch that names one ([OnBatch]) as it would be with the readings put right; ok is false
// for every other record.
func Again(j *journal.Journal, f journal.File, off Off) (list []Effect, ok bool, err error) {
	switch f.Kind {
	case journal.KindChange:
		if c, found := j.Changes.Get(f.ID); found {
			list, err = OnChange(j, c, off)
			return list, true, err
		}
	case journal.KindBatch:
		if r, found := j.Batches.Get(f.ID); found && r.Change != "" {
			list, err = OnBatch(j, r, off)
			return list, true, err
		}
	}
	return nil, false, nil
}

// Outcome is what becomes of a value's place in the target.
type Outcome uint8

// Outcomes; the later ones are outside the target.
const (
	NoTarget Outcome = iota
	StaysInside
	StaysOutside
	FallsOutside // it was inside
)

// Outcome compares the value with its target, as it is and as it was.
func (e Effect) Outcome() Outcome {
	inside, known := e.Inside(e.After)
	was, _ := e.Inside(e.Before)
	switch {
	case !known:
		return NoTarget
	case inside:
		return StaysInside
	case was:
		return FallsOutside
	}
	return StaysOutside
}
