// Package diff compares two states of a journal: which records differ, in which
// values, whether the file says so, and what depends on them.
//
//	changes := diff.Differences(before, after, pairs)
package diff

import (
	"bytes"
	"cmp"
	"math"
	"slices"
	"strings"
	"sync"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/trace"
	"wj/water"
)

// FilePair is one file in two states of a journal. Before or After is nil
// where it is not there.
type FilePair struct {
	Path   string // in the later state; of a deleted file in the earlier one
	From   string // the path in the earlier state, where that was another
	Before []byte
	After  []byte
}

// What says what became of a record.
type What uint8

// From the most to the least remarkable.
const (
	Deleted   What = iota // gone: wrong records are voided, not deleted
	Rewritten             // a recorded value differs, and the file does not say so
	Voided
	Amended // every changed value has its amendment
	Edited  // master data, a change before review, a note
	Moved   // the same content in another folder
	New
)

// String is the word for it.
func (w What) String() string {
	return [...]string{"deleted", "rewritten without an amendment", "voided", "amended", "edited", "moved", "new"}[min(w, New)]
}

// FieldChange is one value in two states.
type FieldChange struct {
	Path          string
	Before, After string // "" for absent
	Sameness      evidence.Sameness
	Amendment     *journal.Amendment
}

// DerivedChange is a derived value in two states, NaN where it could not be
// had; U is the standard uncertainty.
type DerivedChange struct {
	ID                             water.ID
	Before, BeforeU, After, AfterU float64
	BeforeBound, AfterBound        water.Bound
	Beyond                         bool // moved by more than twice its standard uncertainty
	BeforeKnown, AfterKnown        bool
}

// RecordChange is what two states of a journal say differently of one record.
type RecordChange struct {
	journal.File
	From    string // the path before, where that was another
	What    What
	Fields  []FieldChange
	Derived []DerivedChange // of a session
	Note    bool            // the Markdown body differs
	Reason  string          // of a void record
	Resting []journal.File  // changes, batches, reports and sign-offs that depend on it
}

// Input reports whether a change of the record is one of the rules by which
// everything else is judged: settings, policy, limits, people, targets, meters.
// Reviewers miss these, so they come first.
func (r RecordChange) Input() bool {
	switch r.Kind {
	case journal.KindSettings, journal.KindPerson, journal.KindTarget, journal.KindSite, journal.KindInstrument, journal.KindMethod, journal.KindOwner:
		return true
	}
	return false
}

// Differences compares two states of a journal, given the files that differ:
// inputs first, then by how remarkable it is, then by path. before and after
// are the journals loaded with their sessions; they give uncertainties and
// what depends on what.
func Differences(before, after *journal.Journal, pairs []FilePair) []RecordChange {
	graph := sync.OnceValue(func() *trace.Graph { return trace.NewGraph(after) })
	var out []RecordChange
	for _, p := range pairs {
		f, ok := journal.FileOf(p.Path)
		if p.Path == journal.SettingsFile {
			f, ok = journal.File{Kind: journal.KindSettings, ID: "settings", Path: p.Path}, true
		}
		if !ok {
			continue
		}
		r := difference(f, p, before, after)
		if r == nil {
			continue
		}
		if r.What != New {
			for _, reached := range graph().Walk(f, true).Reached() {
				switch reached.Kind {
				case journal.KindChange, journal.KindBatch, journal.KindReport, journal.KindSignoff:
					r.Resting = append(r.Resting, reached)
				}
			}
		}
		out = append(out, *r)
	}
	slices.SortStableFunc(out, func(a, b RecordChange) int {
		order := func(r RecordChange) int {
			if r.Input() {
				return int(r.Kind) - 100
			}
			return int(r.What)
		}
		return cmp.Or(cmp.Compare(order(a), order(b)), strings.Compare(a.Path, b.Path))
	})
	return out
}

func difference(f journal.File, p FilePair, before, after *journal.Journal) *RecordChange {
	r := &RecordChange{File: f, From: p.From}
	switch {
	case p.Before == nil && p.After == nil, p.Before != nil && p.After != nil && journal.Digest(p.Before) == journal.Digest(p.After) && p.From == "":
		return nil
	case p.After == nil:
		r.What, r.Fields = Deleted, removedFields(settingsOrFields(f, p.Before))
		return r
	case p.Before == nil:
		r.What = New
		for _, x := range settingsOrFields(f, p.After) {
			r.Fields = append(r.Fields, FieldChange{Path: x.Path, After: x.Text, Sameness: evidence.Different})
			if x.Path == "void.reason" {
				r.Reason = x.Text
			}
		}
		if f.Kind == journal.KindSession {
			r.Derived = derivedChanges(nil, session(f, nil), after, session(f, p.After))
		}
		return r
	}
	r.What = Edited
	silent, amended := false, false
	used := evidence.Amendments(f.Kind, p.After)
	taken := make([]bool, len(used))
	old := evidence.ByPath(settingsOrFields(f, p.Before))
	now := settingsOrFields(f, p.After)
	change := func(path, was, is string, there bool) {
		c := FieldChange{Path: path, Before: was, After: is, Sameness: evidence.Compare(path, was, is)}
		switch {
		case there && c.Sameness != evidence.SameSpelled:
			c.Amendment = evidence.MatchAmendment(used, taken, path, was)
		case !there:
			c.Amendment = evidence.MatchAmendment(used, taken, path, evidence.Absent)
		}
		if c.Amendment != nil {
			amended = true
		} else if there && c.Sameness > evidence.SameSpelled && evidence.NeedsAmendment(f.Kind, path) {
			silent = true
		}
		r.Fields = append(r.Fields, c)
	}
	for _, x := range now {
		was, there := old[x.Path]
		if !there || was != x.Text {
			change(x.Path, was, x.Text, there)
		}
	}
	still := evidence.ByPath(now)
	for _, x := range settingsOrFields(f, p.Before) {
		if _, ok := still[x.Path]; !ok {
			change(x.Path, x.Text, "", true)
		}
	}
	r.Note = !bytes.Equal(body(p.Before), body(p.After))
	if amended {
		r.What = Amended
	}
	if void, ok := still["void.reason"]; ok {
		if _, before := old["void.reason"]; !before {
			r.What, r.Reason = Voided, void
		}
	}
	if silent {
		r.What = Rewritten
	}
	if len(r.Fields) == 0 && !r.Note {
		if p.From == "" {
			return nil // only written differently
		}
		r.What = Moved
	}
	if f.Kind == journal.KindSession {
		r.Derived = derivedChanges(before, session(f, p.Before), after, session(f, p.After))
	}
	return r
}

func settingsOrFields(f journal.File, src []byte) []evidence.Field {
	if f.Kind != journal.KindSettings {
		return evidence.Fields(src)
	}
	var d frontmatter.Document
	d.ParseYAML(src)
	return evidence.FieldsOf(&d)
}

func removedFields(fields []evidence.Field) []FieldChange {
	out := make([]FieldChange, len(fields))
	for i, x := range fields {
		out[i] = FieldChange{Path: x.Path, Before: x.Text, Sameness: evidence.Different}
	}
	return out
}

func body(src []byte) []byte {
	var d frontmatter.Document
	d.Parse(src)
	if !d.OK() {
		return nil
	}
	return bytes.TrimSpace(bytes.ReplaceAll(src[d.Body:], []byte("\r\n"), []byte("\n")))
}

func session(f journal.File, src []byte) *journal.Session {
	if src == nil {
		return nil
	}
	_, record := evidence.Read(f, src)
	s, _ := record.(*journal.Session)
	return s
}

// shownDerived are the derived values by which a brewer judges a session.
var shownDerived = []water.ID{water.Calcium, water.Magnesium, water.Sodium, water.ResidualAlkalinity, water.SulfateChlorideRatio, water.ChargeBalance}

// derivedChanges compares derived values of two versions of a session, each
// with the meters and methods of its own state.
func derivedChanges(before *journal.Journal, a *journal.Session, after *journal.Journal, b *journal.Session) []DerivedChange {
	values := func(j *journal.Journal, s *journal.Session) func(water.ID) (water.Value, bool) {
		var analysis water.Analysis
		if s != nil {
			if j == nil {
				j = after
			}
			j.Analysis(s, &analysis)
		}
		return func(id water.ID) (water.Value, bool) {
			if s == nil {
				return water.Value{}, false
			}
			if _, measured := analysis.Measured(id); measured {
				return water.Value{}, false // a reading, told among the fields
			}
			v, err := analysis.Derive(id)
			return v, err == nil
		}
	}
	was, is := values(before, a), values(after, b)
	var out []DerivedChange
	for _, id := range shownDerived {
		x, known := was(id)
		y, knownNow := is(id)
		if !known && !knownNow || known && knownNow && math.Abs(x.Value-y.Value) <= 1e-9*math.Abs(x.Value) && x.Bound == y.Bound {
			continue
		}
		c := DerivedChange{ID: id, Before: x.Value, BeforeU: x.U, After: y.Value, AfterU: y.U, BeforeBound: x.Bound, AfterBound: y.Bound, BeforeKnown: known, AfterKnown: knownNow}
		c.Beyond = known && knownNow && math.Abs(x.Value-y.Value) > 2*math.Max(x.U, y.U)
		out = append(out, c)
	}
	return out
}
