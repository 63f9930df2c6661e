package trace

import (
	"os"
	"testing"

	"wj/journal"
)

// TestWalksAreSymmetrical: for every pair of records of the example journal, the
// walk down from A reaches B exactly when the walk up from B reaches A.
func TestWalksAreSymmetrical(t *testing.T) {
	j, err := journal.Load(os.DirFS("../../example-journal"), journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	symmetrical(t, j)
}

func symmetrical(t interface{ Fatalf(string, ...any) }, j *journal.Journal) {
	g := NewGraph(j)
	down := map[[2]key]bool{}
	for _, f := range j.Files {
		for _, r := range g.Walk(f, true).Reached() {
			down[[2]key{keyOf(f), keyOf(r)}] = true
		}
	}
	up := 0
	for _, f := range j.Files {
		for _, r := range g.Walk(f, false).Reached() {
			if r.Path == "" {
				continue // names a record that does not exist
			}
			up++
			if !down[[2]key{keyOf(r), keyOf(f)}] {
				t.Fatalf("up from %s reaches %s, down from %[2]s does not reach %[1]s", f.ID, r.ID)
			}
		}
	}
	if up != len(down) {
		t.Fatalf("%d pairs down, %d up", len(down), up)
	}
}

// TestSupersededIsNoLeaf: a change that is first met as the successor of another
// one is shown with all that depends on it.
func TestSupersededIsNoLeaf(t *testing.T) {
	j, err := journal.Load(os.DirFS("../../example-journal"), journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	g := NewGraph(j)
	target := j.Find("wicket-bitter")[0]
	batches := 0
	for _, r := range g.Walk(target, true).Reached() {
		if r.Kind == journal.KindBatch {
			batches++
		}
	}
	brewed := 0
	for _, b := range j.Batches.List {
		if c, ok := j.Changes.Get(b.Change); ok && c.For == target.ID {
			brewed++
		}
	}
	if batches != brewed || brewed == 0 {
		t.Errorf("%d batches below the target, %d were brewed for it", batches, brewed)
	}
}
