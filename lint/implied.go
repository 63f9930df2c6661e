package lint

import (
	"fmt"
	"slices"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
)

// One mistake gives one finding. What the engine says of a session explains what
// the rules of single readings, of the sum of the ions and of charts see of it;
// a few exact rules explain what is computed from a number that cannot be. What is
// implied is left out, and its severity goes to the finding that implies it. A
// finding that is silenced implies nothing, and neither does one that is implied.

type implication struct {
	rule    string
	of      within
	implies []string
}

// within is where a finding implies others.
type within int

const (
	ofReading within = iota // of the same reading
	ofRecord                // of the same record
	ofSums                  // of the same record, where the reading enters the sums
	ofDose                  // of the same record, where its dose is in doubt
)

// implications are those of exact rules.
var implications = []implication{
	{"format/id", ofRecord, []string{"record/authority", "record/dates", "change/basis-old", "change/lapsed", "change/unsigned-use", "instrument/check-due", "instrument/retired", "sample/stale", "sample/late-entry", "reagent/expired", "standard/expired", "site/trend", "site/control"}},
	{"cause/digits", ofReading, []string{"range/interference", "range/over"}},
	{"range/impossible", ofReading, []string{"cause/test", "cause/digits"}},
	{"format/duplicate-key", ofRecord, sums},
	{"format/date", ofRecord, []string{"change/not-verified", "change/unsigned-use", "change/lapsed"}},
	{"sample/order", ofRecord, []string{"instrument/check-due", "instrument/retired", "sample/stale", "sample/travel", "site/trend", "site/control", "reagent/expired", "standard/expired", "format/id"}},
	{"change/recompute", ofDose, []string{"change/target", "dose/ion-max", "dose/gypsum", "dose/over-acid", "dose/anion-from-acid", "dose/lime-base", "dose/sulfite"}},
	{"change/shares", ofRecord, []string{"change/recompute", "change/target"}},
	{"additive/contradicts", ofRecord, []string{"change/recompute", "change/target", "batch/weighed"}},
	{"record/authority", ofRecord, []string{"change/unsigned-use"}},
	{"record/dates", ofRecord, []string{"change/lapsed", "change/unsigned-use", "change/not-verified", "change/basis-old", "change/scale", "reagent/expired"}},
	{"ref/contradicts", ofRecord, []string{"change/verification-miss", "change/not-verified", "change/scale", "batch/weighed", "batch/double", "instrument/check-failed", "limit/stage", "record/silenced", "cause/cut", "cause/change", "cause/treatment"}},
	{"range/impossible", ofReading, []string{"range/over", "range/under", "limit/health", "limit/aesthetic", "limit/site", "limit/probable", "limit/brewing", "site/control"}},
	{"range/impossible", ofSums, sums},
	{"chemistry/calcium-over-total", ofReading, []string{"unit/instrument", "range/over", "site/control"}},
	{"chemistry/calcium-over-total", ofSums, sums},
	{"chemistry/part-of-whole", ofRecord, []string{"chemistry/two-forms"}},
	{"unit/instrument", ofReading, []string{"range/over", "range/under", "range/resolution"}},
	{"range/over", ofReading, []string{"site/control", "range/interference"}},
	{"range/over", ofSums, sums},
	{"range/under", ofReading, []string{"site/control"}},
	{"range/under", ofSums, sums},
	{"chemistry/conductivity", ofReading, []string{"site/control"}},
	{"sample/replicates", ofReading, []string{"site/control", "cause/test", "cause/lot", "cause/unit", "cause/digits", "cause/dilution"}},
	{"range/dilution", ofReading, []string{"cause/dilution", "cause/digits", "cause/unit", "cause/test"}},
}

// sums are the findings on what the ions make together.
var sums = []string{"chemistry/sodium-negative", "chemistry/conductivity", "chemistry/charge-balance", "chemistry/two-forms"}

// ofWater are the findings that a cause explains of any reading of its session.
var ofWater = append([]string{"chemistry/calcium-over-total", "chemistry/ph-alkalinity", "chemistry/saturation", "range/low-buffer", "limit/stage"}, sums...)

// ofNumber are the findings that a cause explains of the reading that it names.
var ofNumber = []string{"range/resolution", "range/over", "range/under", "range/impossible", "range/low-buffer", "range/interference", "unit/instrument", "site/control", "site/utility-gap", "site/lab-gap"}

// ofLimit are the limits that a number does not break where it is surely wrong.
// Limits of health are reported in any case.
var ofLimit = []string{"limit/aesthetic", "limit/site", "limit/probable", "limit/brewing"}

// reasons are the findings by which a session is doubtful: what depends on it is said with them.
var reasons = []string{"reagent/expired", "reagent/recalled", "instrument/check-failed", "ref/contradicts", "chemistry/two-forms", "chemistry/part-of-whole", "chemistry/calcium-over-total"}

// leaveOutFollowing takes out what is doubtful for a reason that is reported, and says so there.
func (r *run) leaveOutFollowing() {
	of, any := map[string]*Finding{}, false
	for _, f := range r.found {
		any = any || f.follows != ""
	}
	if !any {
		return
	}
	for _, f := range r.found {
		if f.d.Severity != Off && slices.Contains(reasons, f.d.Rule) && r.wanted(f.d.Path) {
			of[f.d.Path] = f
			for _, path := range f.also {
				of[path] = f
			}
		}
	}
	depend := map[*Finding]int{}
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool {
		by := of[f.follows]
		if f.follows == "" || by == nil {
			return false
		}
		by.See(f.d.Path, f.keys, "it depends on this")
		depend[by]++
		return true
	})
	for f, n := range depend {
		if n == 1 {
			f.d.Help += "; a change depends on it"
		} else {
			f.d.Help += fmt.Sprintf("; %d changes depend on it", n)
		}
	}
}

// leaveOutImplied takes out what follows from another finding.
func (r *run) leaveOutImplied() {
	of := map[string][]*Finding{}
	for _, f := range r.found {
		if f.verdict != nil || slices.ContainsFunc(implications, func(i implication) bool { return i.rule == f.d.Rule }) {
			of[f.d.Path] = append(of[f.d.Path], f)
			if f.d.Rule == formatID.Name {
				f.also = r.byDayOf(f.d.Path)
			}
			for _, path := range f.also {
				of[path] = append(of[path], f)
			}
		}
	}
	if len(of) == 0 {
		return
	}
	byCause, byRule := map[*Finding]bool{}, map[*Finding]bool{}
	for _, f := range r.found {
		for _, c := range of[f.d.Path] {
			if c.verdict != nil && c != f && c.explains(f) {
				byCause[f] = true
				if c.d.Path != f.d.Path {
					continue
				}
				c.d.Severity, c.d.Bars = max(c.d.Severity, f.d.Severity), c.d.Bars || f.d.Bars
			}
		}
	}
	for _, f := range r.found {
		for _, c := range of[f.d.Path] {
			if c.verdict == nil && c != f && !byCause[c] && c.implies(f) {
				byRule[f] = true
			}
		}
	}
	r.found = slices.DeleteFunc(r.found, func(f *Finding) bool { return byCause[f] || byRule[f] })
}

// byDayOf are the records whose dates are held against a session's.
func (r *run) byDayOf(path string) (out []string) {
	s := r.sessionAt(path)
	if s == nil {
		return nil
	}
	for _, c := range r.j.Changes.List {
		if slices.ContainsFunc(c.Basis, func(b journal.Basis) bool { return b.Session == s.ID }) {
			out = append(out, c.Path)
		}
	}
	for i := range s.Readings {
		if in, ok := r.j.Instruments.Get(judge.MeterOf(s, &s.Readings[i])); ok && !slices.Contains(out, in.Path) {
			out = append(out, in.Path)
		}
	}
	return out
}

// explains reports whether a cause explains another finding of the record.
func (f *Finding) explains(other *Finding) bool {
	if other.verdict != nil {
		return false
	}
	rule, of := other.d.Rule, other.analyte()
	if slices.Contains(ofWater, rule) && f.inSums() {
		return true
	}
	doubted := len(f.doubted) == 0 || f.doubted[of]
	if slices.Contains(ofNumber, rule) && (doubted || other.bySet && f.doubted[other.by]) {
		return true
	}
	return slices.Contains(ofLimit, rule) && doubted && f.verdict.Sure() && f.verdict.Odds >= 100
}

// inSums reports whether a cause is about a reading that the sum of the ions needs.
func (f *Finding) inSums() bool {
	if len(f.doubted) == 0 {
		return true
	}
	for id := range f.doubted {
		if slices.Contains(summed, id) {
			return true
		}
	}
	return false
}

// summed are the readings that what is computed depends on.
var summed = []water.ID{water.PHValue, water.Alkalinity, water.TotalHardness, water.CalciumHardness, water.MagnesiumHardness, water.Calcium, water.Magnesium,
	water.Sodium, water.Potassium, water.Chloride, water.Sulfate, water.Nitrate, water.Bicarbonate, water.ElectricalConductivity}

// implies reports whether an exact rule's finding implies another one.
func (f *Finding) implies(other *Finding) bool {
	for i := range implications {
		m := &implications[i]
		if m.rule != f.d.Rule || !slices.Contains(m.implies, other.d.Rule) {
			continue
		}
		if m.of.holds(f, other) {
			return true
		}
	}
	return false
}

// holds reports whether another finding of the record is within what one of them implies.
func (w within) holds(f, other *Finding) bool {
	switch w {
	case ofReading:
		id := other.analyte()
		return id == f.analyte() && id != water.NumNames || other.bySet && other.by == f.analyte()
	case ofSums:
		return slices.Contains(summed, f.analyte())
	case ofDose:
		return f.doses
	}
	return true
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

// replaced are rules of former versions, with what took their place.
var replaced = map[string]string{
	"unit/signature": "cause/unit, cause/digits and cause/dilution", "site/outlier": "cause/test", "site/step": "cause/change", "site/regime": "cause/supply",
	"site/looks-like": "cause/bottle", "reagent/lot-shift": "cause/lot", "chemistry/sodium-band": "cause/test",
}
