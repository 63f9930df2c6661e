package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/audit"
	"wj/journal/bench"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/safefile"
	"wj/journal/writer"
	"wj/lint"
)

// keeper holds a session at the bench in a file beside the journal's settings,
// so that a closed lid or a lost terminal costs nothing. Its name begins with a
// dot, which the journal passes over.
type keeper struct {
	path string
	old  []byte
}

// keptPrefix begins the names of such files.
const keptPrefix = ".wj-enter-"

func newKeeper(root, site string) *keeper {
	return &keeper{path: filepath.Join(root, keptPrefix+site+".json")}
}

// load reads a kept session; ok is false where there is none.
func (k *keeper) load() (s bench.State, ok bool, err error) {
	src, err := os.ReadFile(k.path)
	if errors.Is(err, fs.ErrNotExist) {
		return s, false, nil
	}
	if err != nil {
		return s, false, fmt.Errorf("read the session that was kept: %w", err)
	}
	aside := "look into the file; wj enter --new puts it aside and begins anew"
	if err := json.Unmarshal(src, &s); err != nil {
		return s, false, withHint(aside, "the session kept in %s cannot be read: %v", k.path, err)
	}
	if s.Version != bench.Version || s.Current < 0 || s.Step < 0 {
		return s, false, withHint(aside, "the session kept in %s is of another version of wj", k.path)
	}
	k.old = src
	return s, true, nil
}

// save keeps the session as it is now.
func (k *keeper) save(s *bench.State) error {
	src, err := json.MarshalIndent(s, "", " ")
	if err != nil {
		return fmt.Errorf("keep the session: %w", err)
	}
	src = append(src, '\n')
	if string(src) == string(k.old) {
		return nil
	}
	err = safefile.Write(k.path, k.old, src)
	if errors.Is(err, safefile.ErrChanged) || errors.Is(err, safefile.ErrExists) {
		return withHint("go on in the other window, or close it and run wj enter again", "another wj enter holds the session at this site")
	}
	if err != nil {
		return fmt.Errorf("keep the session: %w", err)
	}
	k.old = src
	return nil
}

// drop takes the kept session away once it is recorded.
func (k *keeper) drop() error {
	if err := os.Remove(k.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("take away the kept session: %w", err)
	}
	k.old = nil
	return nil
}

// aside puts the kept session away under another name.
func (k *keeper) aside(now time.Time) (string, error) {
	to := strings.TrimSuffix(k.path, ".json") + "-put-aside-" + now.Format("20060102T150405") + ".json"
	err := os.Rename(k.path, to)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("put the kept session aside: %w", err)
	}
	return to, nil
}

// lateReading is how far apart two readings of a session are before each is
// given its own time.
const lateReading = 30 * time.Minute

// benchDraft composes the session record of a state.
func (a *app) benchDraft(j *journal.Journal, root string, p *bench.Plan, s *bench.State) (*draft, error) {
	zone := j.Settings.Zone
	var tested time.Time
	for _, e := range s.Done() {
		if tested.IsZero() || e.At.Before(tested) {
			tested = e.At
		}
	}
	if tested.IsZero() {
		return nil, errors.New("there is no reading yet")
	}
	d := a.draft(j, root, journal.KindSession)
	add := func(key, value string) {
		if value != "" {
			d.Entries = append(d.Entries, journal.Entry{Key: key, Value: writer.YAML(value)})
		}
	}
	sampled := s.Sampled.In(zone)
	add("site", s.Site)
	add("sampled", journal.FormatTime(sampled))
	add("tested", journal.FormatTime(tested.In(zone)))
	add("by", s.By)
	add("instrument", s.Instrument)
	if s.Place != "" {
		add("place", "["+s.Place+"]")
	}
	var readings []journal.Entry
	var subject, body []string
	for i := range s.Tests {
		e := &s.Tests[i]
		for _, try := range e.Tries {
			body = append(body, fmt.Sprintf("%s first showed %s, beyond the range; tested again on a diluted sample.", e.Analyte, try))
		}
		if len(e.Values) == 0 {
			continue
		}
		readings = append(readings, journal.Entry{Key: e.Analyte, Value: a.benchReading(p, e, tested, zone)})
		subject = append(subject, e.Analyte+" "+e.Text())
	}
	d.Entries = append(d.Entries, journal.Entry{Key: "readings", Below: readings})
	d.Body = strings.Join(append(body, s.Notes...), "\n\n")
	d.NameSession(s.Site, sampled)
	d.Subject = "Record " + d.ID + ": " + strings.Join(subject, ", ")
	return d, nil
}

// benchReading is a reading on one line: what was shown, its dilution, its lot.
func (a *app) benchReading(p *bench.Plan, e *bench.Entry, tested time.Time, zone *time.Location) string {
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
	if t := testOf(p, e.Analyte); t != nil && t.Instrument != "" {
		more += ", instrument: " + t.Instrument
	}
	if e.At.Sub(tested) > lateReading {
		more += ", tested: " + journal.FormatTime(e.At.In(zone))
	}
	if more == "" && len(values) == 1 {
		return value
	}
	return "{value: " + value + more + "}"
}

func testOf(p *bench.Plan, analyte string) *bench.Test {
	for i := range p.Tests {
		if p.Tests[i].Analyte.String() == analyte {
			return &p.Tests[i]
		}
	}
	return nil
}

// benchRules are the rules that say at once what is doubtful about a reading:
// those that need nothing but the readings and the site's history.
func benchRules() []string {
	families := []string{"unit", "range", "chemistry", "limit", "reagent"}
	single := []string{"sample/replicates", "site/outlier", "site/looks-like", "site/regime", "site/step"}
	var out []string
	for _, r := range lint.Rules() {
		if r.Scope != lint.Form && r.Severity != lint.Off && !r.NeedsHistory && (slices.Contains(families, r.Family()) || slices.Contains(single, r.Name)) {
			out = append(out, r.Name)
		}
	}
	return out
}

// urgency puts the likely mistake before what follows from it.
func urgency(rule string) int {
	for i, prefix := range []string{"unit/", "range/", "reagent/", "site/outlier", "site/step", "sample/", "chemistry/", "limit/"} {
		if strings.HasPrefix(rule, prefix) {
			return i
		}
	}
	return 99
}

// judge is what the linter says of the newest reading: what it says with it and
// does not say without it.
func (a *app) judge(j *journal.Journal, root string, p *bench.Plan) func(*bench.State) []bench.Doubt {
	rules := benchRules()
	findings := func(s *bench.State) []lint.Diagnostic {
		d, err := a.benchDraft(j, root, p, s)
		if err != nil {
			return nil // without any reading there is nothing to judge
		}
		_, record := audit.Read(journal.File{Kind: journal.KindSession, ID: d.ID, Path: d.Path}, journal.Compose(d.Kind, d.Entries, d.Body))
		session, ok := record.(*journal.Session)
		if !ok {
			return nil
		}
		with := *j
		with.Sessions.List = append(slices.Clone(j.Sessions.List), session)
		return lint.Run(&with, lint.Options{Paths: []string{d.Path}, Now: a.now(), Only: rules}).Diagnostics
	}
	return func(s *bench.State) []bench.Doubt {
		without := *s
		without.Tests = slices.Clone(s.Tests)
		without.Tests[s.Current].Values = nil
		known := map[string]bool{}
		for _, d := range findings(&without) {
			known[d.Rule+d.Message] = true
		}
		var out []bench.Doubt
		for _, d := range findings(s) {
			if !known[d.Rule+d.Message] {
				out = append(out, bench.Doubt{Rule: d.Rule, Message: d.Message, Help: d.Help})
			}
		}
		slices.SortStableFunc(out, func(a, b bench.Doubt) int { return urgency(a.Rule) - urgency(b.Rule) })
		return out
	}
}

// recordBench writes the session and commits it, once. A session that was
// recorded before the program was ended is found and not recorded again.
func (a *app) recordBench(j *journal.Journal, root string, p *bench.Plan, s *bench.State, k *keeper, noCommit bool) error {
	d, err := a.benchDraft(j, root, p, s)
	if err != nil {
		return err
	}
	src := journal.Compose(d.Kind, d.Entries, d.Body)
	for _, old := range j.Sessions.List {
		if old.Site != s.Site || !old.Sampled.Equal(s.Sampled.Truncate(time.Minute)) {
			continue
		}
		if there, err := fs.ReadFile(j.FS, old.Path); err == nil && string(there) == string(src) {
			a.say("%s is recorded already", old.ID)
			if err := a.commitLeft(root, old.Path, d.Subject, noCommit); err != nil {
				return err
			}
			return k.drop()
		}
	}
	if _, err := a.write(j, root, writer.Record{Files: []writer.File{d.File()}, Subject: d.Subject, Kept: noCommit}, false); err != nil {
		return err
	}
	return k.drop()
}

// commitLeft commits a record that was written and not committed.
func (a *app) commitLeft(root, path, subject string, noCommit bool) error {
	changes, err := history.Dirty(root, nil)
	if err != nil || noCommit {
		return nil
	}
	for _, c := range changes {
		if c.Path == path {
			return a.commit(root, []string{path}, subject)
		}
	}
	return nil
}
