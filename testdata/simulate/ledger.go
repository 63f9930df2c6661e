package main

import (
	"slices"
	"strings"
)

// ledger is what is true about the journal: what was recorded, which mistakes were made, what the plant did.
type ledger struct {
	facts    []*fact
	mistakes []*mistake
	alarms   []*alarm
	covered  map[string]*coverage
	doses    []dosed
	merges   int
	sheets   int
	letters  int
	refused  int
	faults   map[string]int
	backward int // batches that later knowledge made unapproved
	lost     int // facts that went with a laptop
}

// fact is a reading that the program acknowledged.
type fact struct {
	site, sampled, key string
	value              string // as it must be in the record
	was                []string
	truth              float64
	record             string // id when it was written
	day, sampledDay    int
	home               *clone
	pushed             bool
	amended            bool
	edited             bool // by somebody in an editor
	here               bool // it has come to the bench
	gone               bool // somebody deleted it, and it is not back
	reading            *reading
}

// mistake is something that went wrong: of people, of the plant or of the bench.
type mistake struct {
	kind    string
	site    string
	also    string   // a second site
	record  string   // what its finding is about: a part of the path; "" where it is the site, or an analyte
	keys    []string // analytes
	lot     string
	spoils  []string // changes that were made of a record with the mistake in it
	rules   []string // of which one must report it
	follow  []string // further rules that it is the cause of, anywhere
	day     int      // when it could first be seen
	until   int      // when it ended, 0: it lasts
	within  int      // days in which it is to be found
	gross   bool
	caught  bool // at once, before it was kept
	found   int  // day, 0: not yet
	noticed bool // by another name
	by      string
	mended  bool
	tamper  bool // wj verify must find it wrong
}

// alarm is a finding without one.
type alarm struct {
	day              int
	rule, path, text string
	cause            *mistake
}

// coverage counts how often an interval holds the truth.
type coverage struct{ In, All int }

func (l *ledger) cover(name string, in bool) {
	if l.covered == nil {
		l.covered = map[string]*coverage{}
	}
	c := l.covered[name]
	if c == nil {
		c = &coverage{}
		l.covered[name] = c
	}
	c.All++
	if in {
		c.In++
	}
}

// dosed is a batch: the chance that was stated, whether the dose keeps the target in the waters that were sampled, and whether the
// liquor of the day did.
type dosed struct {
	stated        float64
	kept, brewing bool
	day           int
}

// names reports whether a rule is one of those that name the mistake.
func (m *mistake) names(rule string) bool {
	return has(m.rules, rule)
}

func has(list []string, rule string) bool {
	return slices.ContainsFunc(list, func(name string) bool {
		return name == rule || strings.HasSuffix(name, "/") && strings.HasPrefix(rule, name)
	})
}

// explains reports whether an alarm is about the mistake.
func (m *mistake) explains(a *alarm, site string) bool {
	if a.day < m.day || m.until > 0 && a.day > m.until || m.caught {
		return false
	}
	if has(m.follow, a.rule) || m.mended && a.rule == "change/recompute" || m.record != "" && strings.Contains(a.text, m.record) {
		return true
	}
	if slices.ContainsFunc(m.spoils, func(change string) bool { return strings.Contains(a.path+a.text, change) }) {
		return true
	}
	of := m.site == site || m.also != "" && m.also == site
	switch {
	case m.record != "":
		if strings.Contains(a.path, m.record) {
			return true
		}
		if m.also != "" && strings.Contains(a.path, strings.Replace(m.record, m.site, m.also, 1)) {
			return true
		}
		return of && strings.HasPrefix(a.rule, "site/") // a chart that still holds the wrong number
	case m.lot != "":
		return strings.Contains(a.text+a.path, m.lot) || (m.names(a.rule) || strings.HasPrefix(a.rule, "change/") || strings.HasPrefix(a.rule, "site/") || strings.HasPrefix(a.rule, "chemistry/")) && m.mentions(a.text)
	case m.site == "":
		return m.names(a.rule)
	}
	return of && m.names(a.rule)
}

func (m *mistake) mentions(text string) bool {
	return len(m.keys) == 0 || slices.ContainsFunc(m.keys, func(key string) bool { return strings.Contains(text, key) })
}
