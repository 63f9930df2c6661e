package round

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/bench"
	"wj/journal/frontmatter"
	"wj/journal/writer"
	"wj/lint"
)

// lateReading is how far apart two readings of a session are before each is
// given its own time.
const lateReading = 30 * time.Minute

// Record makes the records of a sitting, one session for each tap that has a reading, and one
// commit. A session that was written before the program was ended is taken as it is.
func (r *Round) Record(s *bench.State) (writer.Record, error) {
	out := writer.Record{}
	var parts []string
	with := r.Journal
	laid := map[string][]byte{}
	for tap := range s.Taps {
		d, ok := r.draft(with, s, tap)
		if !ok {
			continue
		}
		f := d.File()
		if old, there := r.written(d, s, tap); there {
			f = writer.File{Path: old, Old: f.New, New: f.New}
		}
		out.Files = append(out.Files, f)
		laid[f.Path] = f.New
		with = r.Journal.With(laid)
		if len(s.Taps) == 1 {
			out.Subject = d.Subject
		}
		parts = append(parts, d.ID)
	}
	if len(out.Files) == 0 {
		return out, errors.New("there is no reading yet")
	}
	if out.Subject == "" {
		out.Subject = fmt.Sprintf("Record %s: %s", r.Plan.Name, strings.Join(parts, ", "))
	}
	return out, nil
}

// written finds the session file that holds the same already.
func (r *Round) written(d *writer.Draft, s *bench.State, tap int) (string, bool) {
	for _, old := range r.Journal.Sessions.List {
		if old.Site != s.Taps[tap].Site || !old.Sampled.Equal(s.Sampled[tap].Truncate(time.Minute)) {
			continue
		}
		if there, err := fs.ReadFile(r.Journal.FS, old.Path); err == nil && string(there) == string(d.Source()) {
			return old.Path, true
		}
	}
	return "", false
}

// draft composes the session of one tap; ok is false where it has no reading.
func (r *Round) draft(j *journal.Journal, s *bench.State, tap int) (d *writer.Draft, ok bool) {
	zone := r.now.Location()
	var tested time.Time
	for _, e := range s.Tests {
		if e.Site == s.Taps[tap].Site && len(e.Values) > 0 && (tested.IsZero() || e.At.Before(tested)) {
			tested = e.At
		}
	}
	if tested.IsZero() {
		return nil, false
	}
	d = &writer.Draft{Journal: j, Now: r.now}
	add := func(key, value string) {
		if value != "" {
			d.Entries = append(d.Entries, journal.Entry{Key: key, Value: frontmatter.Quote(value)})
		}
	}
	t := s.Taps[tap]
	sampled := s.Sampled[tap].In(zone)
	if tested.Before(sampled) {
		tested = sampled
	}
	add("site", t.Site)
	add("sampled", journal.FormatTime(sampled))
	add("tested", journal.FormatTime(tested.In(zone)))
	add("by", s.By)
	add("instrument", t.Instrument)
	if latitude, longitude, ok := strings.Cut(t.Place, ","); ok {
		d.Entries = append(d.Entries, journal.Entry{Key: "place", Value: "[" + frontmatter.Quote(strings.TrimSpace(latitude)) + ", " + frontmatter.Quote(strings.TrimSpace(longitude)) + "]"})
	}
	var readings []journal.Entry
	var subject, body []string
	for i := range s.Tests {
		e := &s.Tests[i]
		if e.Site != t.Site {
			continue
		}
		for _, try := range e.Tries {
			body = append(body, fmt.Sprintf("%s first showed %s, beyond the range; tested again on a diluted sample.", e.Analyte, try))
		}
		if len(e.Values) > 0 {
			readings = append(readings, journal.Entry{Key: e.Analyte, Value: r.reading(e, tested)})
			subject = append(subject, e.Analyte+" "+e.Text())
		}
	}
	d.Entries = append(d.Entries, journal.Entry{Key: "readings", Below: readings})
	d.Body = strings.Join(append(body, s.Notes[tap]...), "\n\n")
	d.NameSession(t.Site, sampled)
	d.Subject = "Record " + d.ID + ": " + strings.Join(subject, ", ")
	return d, true
}

// reading is a reading on one line: what was shown, its dilution, its lot.
func (r *Round) reading(e *bench.Entry, tested time.Time) string {
	values := make([]string, len(e.Values))
	for i, v := range e.Values {
		values[i] = frontmatter.Quote(v)
	}
	value := strings.Join(values, ", ")
	if len(values) > 1 {
		value = "[" + value + "]"
	}
	more := ""
	if e.Dilution > 1 {
		more += ", dilution: " + strconv.FormatFloat(e.Dilution, 'f', -1, 64)
	}
	if n := e.Taken(); n > len(e.Values) {
		more += ", tests: " + strconv.Itoa(n)
	}
	if e.Lot != "" {
		more += ", lot: " + frontmatter.Quote(e.Lot)
	}
	for _, t := range r.Plan.Tests {
		if t.Instrument != "" && t.Analyte.String() == e.Analyte && r.Plan.Taps[t.Tap].Site == e.Site {
			more += ", instrument: " + frontmatter.Quote(t.Instrument)
		}
	}
	if e.At.Sub(tested) > lateReading {
		more += ", tested: " + journal.FormatTime(e.At.In(r.now.Location()))
	}
	if more == "" && len(values) == 1 {
		return value
	}
	return "{value: " + value + more + "}"
}

// benchRules are the rules that say at once what is doubtful about a reading:
// those that need nothing but the readings and the site's history.
func benchRules() []string {
	families := []lint.Family{lint.FamilyUnit, lint.FamilyRange, lint.FamilyChemistry, lint.FamilyLimit, lint.FamilyReagent, lint.FamilyCause, lint.FamilyHouse}
	single := []string{"sample/replicates"}
	var out []string
	for _, r := range lint.Rules() {
		if r.Scope != lint.Form && r.Severity != lint.Off && !r.NeedsHistory && (slices.Contains(families, r.Family) || slices.Contains(single, r.Name)) {
			out = append(out, r.Name)
		}
	}
	return out
}

// urgency puts the likely mistake before what follows from it.
func urgency(rule string) int {
	order := []lint.Family{lint.FamilyCause, lint.FamilyUnit, lint.FamilyRange, lint.FamilyReagent, lint.FamilySample, lint.FamilyChemistry, lint.FamilyLimit}
	if i := slices.Index(order, lint.FamilyOf(rule)); i >= 0 {
		return i
	}
	return len(order)
}

// Judge is what the linter finds with the newest reading and does not find without it.
func (r *Round) Judge(s *bench.State) []bench.Doubt {
	current := s.Tests[s.Current]
	tap := slices.IndexFunc(s.Taps, func(t bench.Tap) bool { return t.Site == current.Site })
	rules := benchRules()
	findings := func(s *bench.State) []lint.Diagnostic {
		d, ok := r.draft(r.Journal, s, tap)
		if !ok {
			return nil // without any reading there is nothing to judge
		}
		return lint.Run(r.Journal.With(map[string][]byte{d.Path: d.Source()}), lint.Options{Paths: []string{d.Path}, Now: r.now, Only: rules}).Diagnostics
	}
	without := *s
	without.Tests = slices.Clone(s.Tests)
	without.Tests[s.Current].Values = nil
	known := map[string]bool{}
	for _, d := range findings(&without) {
		known[d.Rule+d.Message] = true
	}
	var out []bench.Doubt
	for _, d := range findings(s) {
		if !known[d.Rule+d.Message] && (d.Bars || d.Severity >= lint.Warning) {
			out = append(out, bench.Doubt{Rule: d.Rule, Message: d.Message, Help: d.Help, Bars: d.Bars})
		}
	}
	slices.SortStableFunc(out, func(a, b bench.Doubt) int { return urgency(a.Rule) - urgency(b.Rule) })
	return out
}
