package main

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"wj/water"
)

// judge holds the journal to the ledger: what a day touched in its evening, all of it with its history each Sunday, at the end, and
// when somebody tampered.
func (s *sim) judge() error {
	if s.touched {
		if err := s.kept(); err != nil {
			return err
		}
	}
	whole := s.day%7 == 6 || s.day == s.options.days-1 || s.tampered()
	if whole || len(s.written) > 0 {
		if err := s.heed(whole); err != nil {
			return err
		}
	}
	if s.faults && s.touched && s.day > 20 && chance(dice(s.seed, "breaks", s.day), 0.04) {
		if err := s.fault(); err != nil {
			return err
		}
	}
	if s.day%28 == 2 || s.day == s.options.days-1 || s.tampered() {
		if err := s.agree(); err != nil {
			return err
		}
	}
	for ; s.shown < len(s.ledger.facts); s.shown++ { // each session once
		f := s.ledger.facts[s.shown]
		if f.site == "bench" || f.key != "conductivity" || s.slipped(f.record) {
			continue
		}
		if err := s.covers(f); err != nil {
			return err
		}
	}
	return nil
}

// seen is a session as this oracle reads it: by lines, not with the program's own reader.
type seen struct {
	id       string
	stamp    time.Time
	size     int64
	site     string
	sampled  string
	values   map[string]string
	amended  string
	conflict bool
}

var (
	readingLine  = regexp.MustCompile(`^  ([A-Za-z_]+): +(.*)$`)
	valueIn      = regexp.MustCompile(`^\{value: ([^,}]+)`)
	dilutionIn   = regexp.MustCompile(`dilution: (\d+)`)
	sessionsSeen = map[string]*seen{}
)

func readSession(name string, info os.FileInfo) (*seen, error) {
	if old := sessionsSeen[name]; old != nil && old.stamp.Equal(info.ModTime()) && old.size == info.Size() {
		return old, nil
	}
	src, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	out := &seen{id: strings.TrimSuffix(info.Name(), ".md"), stamp: info.ModTime(), size: info.Size(), values: map[string]string{}, conflict: strings.Contains(string(src), "<<<<<<<")}
	in := ""
	for i, line := range strings.Split(string(src), "\n") {
		if i > 0 && line == "---" {
			break
		}
		if !strings.HasPrefix(line, " ") {
			in, _, _ = strings.Cut(line, ":")
		}
		if text, ok := strings.CutPrefix(line, "site: "); ok {
			out.site = text
		}
		if text, ok := strings.CutPrefix(line, "sampled: "); ok {
			out.sampled = text
		}
		if m := readingLine.FindStringSubmatch(line); m != nil && in == "readings" {
			value := strings.Trim(m[2], `"`)
			if v := valueIn.FindStringSubmatch(m[2]); v != nil {
				value = strings.Trim(v[1], `"`)
			}
			if d := dilutionIn.FindStringSubmatch(m[2]); d != nil {
				value += " × " + d[1]
			}
			out.values[m[1]] = value
		}
		if in == "amended" {
			out.amended += line + "\n"
		}
	}
	sessionsSeen[name] = out
	return out, nil
}

// sessions reads all sessions of a clone, by site and moment of sampling.
func (s *sim) sessions(c *clone) (map[string][]*seen, error) {
	out := map[string][]*seen{}
	err := filepath.WalkDir(filepath.Join(c.dir, "sessions"), func(name string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			if os.IsNotExist(err) {
				return nil
			}
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		if !strings.HasSuffix(name, ".md") || strings.HasPrefix(d.Name(), ".wj-tmp-") {
			return nil
		}
		x, err := readSession(name, info)
		if err == nil {
			out[x.site+" "+x.sampled] = append(out[x.site+" "+x.sampled], x)
		}
		return err
	})
	return out, err
}

// kept is the first oracle: no acknowledged fact is missing or changed.
func (s *sim) kept() error {
	for _, c := range s.clones {
		if c.lost {
			continue
		}
		sessions, err := s.sessions(c)
		if err != nil {
			return err
		}
		for _, f := range s.ledger.facts {
			if f.gone || f.home != c && !(f.here && c == s.clones[0]) {
				continue
			}
			if c != s.clones[0] && (f.amended || f.edited) {
				continue // it was changed elsewhere, and that may not have come here
			}
			if err := s.holds(c, sessions[f.site+" "+f.sampled], f); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *sim) holds(c *clone, found []*seen, f *fact) error {
	if len(found) == 0 {
		return s.fail("lost: %s of %s at %s was acknowledged on day %d as %s, and no session of that moment is in the clone %s", f.key, f.site, f.sampled, f.day, f.value, c.name)
	}
	var values []string
	for _, x := range found {
		if x.conflict {
			return s.fail("a conflict was committed in the session of %s at %s", f.site, f.sampled)
		}
		v, ok := x.values[f.key]
		values = append(values, v)
		if !ok || v != f.value {
			continue
		}
		for _, was := range f.was {
			if !strings.Contains(x.amended, "was: "+was) {
				return s.fail("changed: %s of %s at %s was %s once, and no amendment says so", f.key, f.site, f.sampled, was)
			}
		}
		return nil
	}
	return s.fail("changed: %s of %s at %s must be %q, and is %q in the clone %s", f.key, f.site, f.sampled, f.value, values, c.name)
}

// finding is one of wj lint --format json.
type finding struct {
	Path, Severity, Rule, Message string
}

// heed reads the findings: each is caused by a mistake of the ledger, or is a false alarm.
func (s *sim) heed(whole bool) error {
	args := []string{"lint", "--format", "json"}
	if !whole {
		args = append(append(args, "--no-history"), slices.Sorted(maps.Keys(s.written))...)
	}
	clear(s.written)
	r, err := s.wj(s.person("ines"), at(s.day, 20, 0), args...)
	if err != nil {
		return err
	}
	if whole {
		if err := s.grown(r); err != nil {
			return err
		}
	}
	var doc struct{ Findings []finding }
	if err := json.Unmarshal([]byte(r.Out), &doc); err != nil {
		return s.fail("wj lint: %v: %s%s", err, r.Out, r.Talk)
	}
	for _, d := range doc.Findings {
		if d.Severity == "info" {
			continue
		}
		key := d.Path + " " + d.Rule
		if slices.ContainsFunc(s.ledger.alarms, func(a *alarm) bool { return a.path+" "+a.rule == key }) {
			continue
		}
		a := &alarm{day: s.day, rule: d.Rule, path: d.Path, text: d.Message}
		s.ledger.alarms = append(s.ledger.alarms, a)
		s.explain(a)
	}
	return nil
}

// explain finds the mistake that an alarm is about. One that names it counts as found.
func (s *sim) explain(a *alarm) {
	site := s.siteIn(a.path + " " + a.text)
	for _, m := range s.ledger.mistakes {
		if !m.explains(a, site) {
			continue
		}
		if m.names(a.rule) && m.found == 0 {
			m.found = a.day
		}
		m.noticed = m.noticed || !m.names(a.rule) && m.record != "" && strings.Contains(a.path, m.record)
		if a.cause == nil || m.names(a.rule) {
			a.cause = m
		}
	}
}

func (s *sim) siteIn(text string) string {
	for _, st := range sites {
		if strings.Contains(text, st.id) {
			return st.id
		}
	}
	return ""
}

// slipped reports whether a mistake is in a record: its intervals are not held to the truth.
func (s *sim) slipped(record string) bool { return len(s.slips(record)) > 0 }

// slips are the mistakes in a record.
func (s *sim) slips(record string) (out []*mistake) {
	for _, m := range s.ledger.mistakes {
		if m.record != "" && (strings.Contains(record, m.record) || m.also != "" && strings.Contains(record, strings.Replace(m.record, m.site, m.also, 1))) {
			out = append(out, m)
		}
	}
	return out
}

// covers asks wj show for what it says of a session, and counts whether each interval holds the truth. A lot or a meter that reads
// wrong by far is a mistake of its own and left out.
func (s *sim) covers(f *fact) error {
	x := *s.person("ines")
	x.clone = f.home
	sessions, err := s.sessions(f.home)
	if err != nil || len(sessions[f.site+" "+f.sampled]) == 0 {
		return err
	}
	record := sessions[f.site+" "+f.sampled][0].id // a merge may have given it another name
	if s.trouble.lamp != nil || len(s.trouble.lots) > 0 {
		return nil
	}
	t := s.at(f.site, f.sampledDay)
	truth := t.truth
	r, err := s.must(&x, at(s.day, 20, 0), "show", record, "--format", "json")
	if err != nil {
		return err
	}
	type value struct {
		Value *float64
		Unit  string
		U     float64
	}
	var doc struct{ Readings, Derived map[string]value }
	if err := json.Unmarshal([]byte(r.Out), &doc); err != nil {
		return s.fail("wj show %s: %v", record, err)
	}
	for _, set := range []map[string]value{doc.Readings, doc.Derived} {
		for key, v := range set {
			id, ok := water.Lookup(key)
			if !ok || v.Value == nil || !(v.U > 0) {
				continue
			}
			if t := truth(id); t == t {
				s.ledger.cover(key, abs(*v.Value-t) <= 2*v.U)
			}
		}
	}
	return nil
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}

// tampered reports whether somebody did something to the journal today or yesterday.
func (s *sim) tampered() bool {
	return slices.ContainsFunc(s.ledger.mistakes, func(m *mistake) bool { return m.tamper && s.day-m.day < 2 })
}

// grown is the oracle that time and memory stay proportional: what linting the journal takes for each record, five times as long
// after years as in the first, is too much. The times of a busy machine err by a factor of two.
func (s *sim) grown(r reply) error {
	records := 0
	for _, folder := range []string{"sessions/*", "changes", "batches", "signoffs", "events", "lots", "actions"} {
		found, err := filepath.Glob(filepath.Join(s.clones[0].dir, folder, "*.md"))
		if err != nil {
			return err
		}
		records += len(found)
	}
	for len(s.growth) <= s.day/365 {
		s.growth = append(s.growth, growth{})
	}
	g, first := &s.growth[s.day/365], &s.growth[0]
	g.N, g.Records, g.Spent, g.Memory = g.N+1, g.Records+records, g.Spent+r.Own+r.Git, max(g.Memory, r.Memory)
	each := func(g *growth) float64 { return g.Spent.Seconds() / float64(g.Records) }
	if g.N >= 20 && each(g) > 5*each(first) {
		return s.fail("wj lint takes %.1f ms a record, and took %.1f in the first year", 1e3*each(g), 1e3*each(first))
	}
	if g.Memory > 1<<20 {
		return s.fail("wj lint takes %d MiB of memory for %d records", g.Memory>>10, records)
	}
	return nil
}
