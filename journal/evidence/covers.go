package evidence

import (
	"fmt"
	"sort"
	"strings"

	"wj/journal"
	"wj/water"
)

// Covers lists what a sign-off of a record must cover: everything whose change
// must end the approval. Of a change these are the record, its basis sessions
// and its target; of a batch its change; of another record itself alone. What a
// lot contributes must be in the change: a lot is covered only where the change
// leaves its strength or assay to the lot. The error names a record that is
// referred to and does not exist, or a lot that says otherwise than the change.
func Covers(j *journal.Journal, record journal.Any) ([]journal.File, error) {
	base := record.Base()
	needed := []journal.File{{Kind: base.Kind, ID: base.ID, Path: base.Path}}
	seen := map[string]bool{recordKey(base.Path): true}
	var wrong error
	fail := func(format string, args ...any) {
		if wrong == nil {
			wrong = fmt.Errorf(format, args...)
		}
	}
	need := func(kind journal.Kind, id string) {
		if id == "" || seen[kind.Folder()+" "+id] {
			return
		}
		seen[kind.Folder()+" "+id] = true
		f := fileOf(j, kind, id)
		if f.Path == "" {
			fail("%s depends on the %s %q, which does not exist", base.Path, kind, id)
			return
		}
		needed = append(needed, f)
	}
	switch r := record.(type) {
	case *journal.Change:
		for _, b := range r.Basis {
			need(journal.KindSession, b.Session)
		}
		need(journal.KindTarget, r.For)
		for _, a := range r.Add {
			switch why, open := lotDisagrees(j, a); {
			case why != "":
				fail("%s: %s", base.Path, why)
			case open:
				need(journal.KindLot, a.Lot)
			}
		}
	case *journal.Batch:
		need(journal.KindChange, r.Change)
	}
	sort.SliceStable(needed[1:], func(a, b int) bool { return needed[1+a].Path < needed[1+b].Path })
	return needed, wrong
}

// lotDisagrees compares what a change says of an addition with its lot. open
// says that the lot contributes something that the change does not state.
func lotDisagrees(j *journal.Journal, a journal.Addition) (why string, open bool) {
	if a.Lot == "" {
		return "", false
	}
	lot, ok := j.Lots.Get(a.Lot)
	switch {
	case !ok:
		return fmt.Sprintf("the lot %q of %s does not exist", a.Lot, a.Substance), false
	case lot.Void != nil:
		return fmt.Sprintf("the lot %s is void: %s", a.Lot, lot.Void.Reason), false
	case lot.Substance != "" && lot.Substance != a.Substance:
		return fmt.Sprintf("lot %s is %s, and the change doses %s", a.Lot, lot.Substance, a.Substance), false
	case lot.Strength != "" && a.Strength != "" && strengthOf(lot.Strength) != strengthOf(a.Strength):
		return fmt.Sprintf("lot %s has %s, and the change says %s", a.Lot, lot.Strength, a.Strength), false
	case !lot.Assay.Unit.IsNone() && !a.Assay.Unit.IsNone() && lot.Assay.String() != a.Assay.String():
		return fmt.Sprintf("lot %s has an assay of %s, and the change says %s", a.Lot, lot.Assay, a.Assay), false
	}
	return "", lot.Strength != "" && a.Strength == "" || !lot.Assay.Unit.IsNone() && a.Assay.Unit.IsNone()
}

// strengthOf brings a strength to one spelling: the per cent and what they are
// of. A density behind it follows from these.
func strengthOf(s string) string {
	s, _, _ = strings.Cut(s, ",")
	number, basis, ok := strings.Cut(s, "%")
	q, err := water.ParseQuantity(strings.TrimSpace(number) + " %")
	if !ok || err != nil {
		return strings.ToLower(strings.Join(strings.Fields(s), " "))
	}
	return fmt.Sprintf("%g ± %g %% %s", q.Value, q.Expanded, strings.ToLower(strings.TrimSpace(basis)))
}

// fileOf finds a record; Path is empty where it does not exist.
func fileOf(j *journal.Journal, kind journal.Kind, id string) journal.File {
	for _, f := range j.Find(id) {
		if f.Kind == kind {
			return f
		}
	}
	return journal.File{Kind: kind, ID: id}
}
