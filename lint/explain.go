package lint

import (
	"slices"

	"wj/journal"
	"wj/water"
)

// reach is how far a finding explains others.
type reach uint8

const (
	sameReading reach = iota // of the same reading
	sameRecord               // anywhere in the record
	hardnesses               // of any hardness or calcium reading of the record
	balanced                 // in the record, where the reading enters the sum of the ions
	alkaline                 // in the record, where the reading is alkalinity
	sameLot                  // wherever the analyte was read with the lot of the reading
)

// explanations say which findings follow from another one: a bottle under the
// wrong name is off in every analyte, a slip of the unit in all that is computed
// from it. What follows is not told beside its cause, so that one mistake gives
// one message; once the cause is mended or silenced, what is left is told.
//
// Health and other limits follow from nothing: they are told whatever may explain
// them, but for a number that no water can have.
var explanations = []struct {
	cause   string
	reach   reach
	follows []string
}{
	{"site/looks-like", sameRecord, ofOneWater},
	{"site/regime", sameRecord, ofOneWater},
	{"sample/order", sameRecord, []string{"instrument/check-due", "sample/stale", "sample/travel", "site/trend", "site/control"}},
	{"range/impossible", sameReading, []string{"range/over", "range/under", "limit/health", "limit/aesthetic", "limit/site", "limit/probable", "limit/brewing", "unit/signature", "site/outlier", "site/control"}},
	{"range/impossible", balanced, computed},
	{"chemistry/calcium-over-total", hardnesses, []string{"unit/signature", "unit/instrument", "range/over", "site/outlier", "site/control"}},
	{"chemistry/calcium-over-total", balanced, computed},
	{"chemistry/calcium-over-total", sameRecord, []string{"chemistry/two-forms"}},
	{"chemistry/part-of-whole", sameRecord, []string{"chemistry/two-forms"}},
	{"range/impossible", sameRecord, []string{"chemistry/two-forms"}},
	{"unit/signature", sameRecord, []string{"chemistry/two-forms"}},
	{"unit/instrument", sameReading, []string{"range/over", "range/under", "range/resolution"}},
	{"range/over", sameReading, []string{"unit/signature", "site/outlier", "site/control"}},
	{"range/over", balanced, computed},
	{"range/under", sameReading, []string{"unit/signature", "site/outlier", "site/control"}},
	{"range/under", balanced, computed},
	{"range/under", alkaline, []string{"range/low-buffer"}},
	{"unit/signature", sameReading, []string{"site/outlier", "site/control", "chemistry/conductivity"}},
	{"unit/signature", balanced, computed},
	{"unit/signature", alkaline, []string{"range/low-buffer"}},
	{"chemistry/conductivity", sameReading, []string{"site/outlier", "site/control"}},
	{"sample/replicates", sameReading, []string{"site/outlier", "site/control"}},
	{"reagent/lot-shift", sameLot, []string{"site/outlier", "site/control", "chemistry/sodium-band", "chemistry/sodium-negative"}},
	// Sodium by difference is a witness of its own beside an outlier: it tells
	// that the test is off rather than the water. Both are told.
	{"site/outlier", sameReading, []string{"site/control"}},
}

// ofOneWater are the findings that hold a session against its site's water.
var ofOneWater = []string{"unit/signature", "site/outlier", "site/control", "site/step", "chemistry/sodium-band", "site/utility-gap"}

// computed are the findings on what the sum of the ions gives.
var computed = []string{"chemistry/sodium-band", "chemistry/sodium-negative", "chemistry/conductivity", "chemistry/charge-balance"}

// sumOfIons are the readings that the sum of the ions rests on.
var sumOfIons = []water.ID{water.Alkalinity, water.TotalHardness, water.CalciumHardness, water.MagnesiumHardness, water.Calcium, water.Magnesium,
	water.Sodium, water.Potassium, water.Chloride, water.Sulfate, water.Nitrate, water.Bicarbonate}

// explain takes out the findings that follow from others.
func (r *run) explain() {
	causes := map[string][]*Finding{} // by path, and by "lot " and its id
	for _, f := range r.found {
		for i := range explanations {
			if e := &explanations[i]; e.cause == f.d.Rule {
				causes[f.d.Path] = append(causes[f.d.Path], f)
				if lot := r.lotOf(f.d.Path, f.analyte()); e.reach == sameLot && lot != "" {
					causes["lot "+lot] = append(causes["lot "+lot], f)
				}
				break
			}
		}
	}
	if len(causes) > 0 {
		r.found = slices.DeleteFunc(r.found, func(f *Finding) bool { return r.explained(f, causes) })
	}
}

// explained reports whether a finding follows from one of the causes.
func (r *run) explained(f *Finding, causes map[string][]*Finding) bool {
	if slices.ContainsFunc(causes[f.d.Path], func(cause *Finding) bool { return follows(cause, f) }) {
		return true
	}
	// A bad lot is told where it began, and shows wherever it was used.
	file, ok := journal.FileOf(f.d.Path)
	if !ok || file.Kind != journal.KindSession {
		return false
	}
	s, ok := r.j.Sessions.Get(file.ID)
	if !ok {
		return false
	}
	for i := range s.Readings {
		reading := &s.Readings[i]
		if of := f.analyte(); reading.Lot == "" || of != water.NumNames && of != reading.Analyte {
			continue
		}
		for _, cause := range causes["lot "+reading.Lot] {
			if cause.analyte() == reading.Analyte && follow(cause.d.Rule, sameLot, f.d.Rule) {
				return true
			}
		}
	}
	return false
}

// follows reports whether a finding follows from another one of the same record.
func follows(cause, f *Finding) bool {
	of, by := f.analyte(), cause.analyte()
	hard := []water.ID{water.CalciumHardness, water.TotalHardness, water.Calcium}
	return follow(cause.d.Rule, sameRecord, f.d.Rule) ||
		of == by && of != water.NumNames && follow(cause.d.Rule, sameReading, f.d.Rule) ||
		containsID(hard, of) && follow(cause.d.Rule, hardnesses, f.d.Rule) ||
		containsID(sumOfIons, by) && follow(cause.d.Rule, balanced, f.d.Rule) ||
		by == water.Alkalinity && follow(cause.d.Rule, alkaline, f.d.Rule)
}

// follow reports whether the findings of a rule follow from those of another.
func follow(cause string, how reach, rule string) bool {
	for i := range explanations {
		if e := &explanations[i]; e.cause == cause && e.reach == how && slices.Contains(e.follows, rule) {
			return true
		}
	}
	return false
}

// analyte is the reading that a finding is about; NumNames where it is about
// none or about all.
func (f *Finding) analyte() water.ID {
	if len(f.keys) > 1 && f.keys[0] == "readings" {
		if id, ok := water.Lookup(f.keys[1]); ok {
			return id
		}
	}
	return water.NumNames
}

// lotOf is the lot that a session's reading was made with.
func (r *run) lotOf(path string, id water.ID) string {
	if file, ok := journal.FileOf(path); ok {
		if s, ok := r.j.Sessions.Get(file.ID); ok {
			if reading, ok := s.Reading(id); ok {
				return reading.Lot
			}
		}
	}
	return ""
}
