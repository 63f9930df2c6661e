package githistory_test

import (
	"context"
	"path/filepath"
	"slices"
	"testing"
	"time"

	example "wj/example-journal"
	"wj/journal"
	"wj/journal/history"
	"wj/lint"
	"wj/lint/githistory"
	"wj/lint/report"
)

// TestSinceTellsWhatIsNew: the findings that history gives since a commit are those
// that looking at all of it gives now and did not give then.
func TestSinceTellsWhatIsNew(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "journal")
	steps, err := example.Story()
	if err != nil {
		t.Fatal(err)
	}
	if err := history.Import(context.Background(), dir, steps); err != nil {
		t.Skip(err)
	}
	h, err := history.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	at := func(rev string) (*journal.Journal, history.Hash) {
		r, err := h.Resolve(rev, nil)
		if err != nil {
			t.Fatal(err)
		}
		files, err := h.FS(r.Hash)
		if err != nil {
			t.Fatal(err)
		}
		j, err := journal.Load(files, journal.Options{Check: true, Sessions: true})
		if err != nil {
			t.Fatal(err)
		}
		return j, r.Hash
	}
	now := time.Date(2026, 9, 29, 10, 0, 0, 0, time.UTC)
	judge := func(j *journal.Journal, tip, since history.Hash) lint.Result {
		facts := githistory.New(githistory.Request{Context: context.Background(), History: h, Journal: j, Tip: tip, Since: since, Now: func() time.Time { return now }})
		result := lint.Run(j, lint.Options{Now: now, History: facts})
		if facts.Err() != nil {
			t.Fatal(facts.Err())
		}
		return result
	}
	fresh := func(now, then lint.Result) (list []string) {
		kept, _ := report.NewBaseline(then.Diagnostics).Filter(now)
		for _, d := range kept.Diagnostics {
			list = append(list, d.Path+" "+d.Rule+" "+d.Message)
		}
		return list
	}
	tipJournal, tip := at("HEAD")
	whole := judge(tipJournal, tip, history.Hash{})
	for _, rev := range []string{"HEAD~1", "HEAD~7", "HEAD~40", "HEAD~160"} {
		then, since := at(rev)
		want := fresh(whole, judge(then, since, history.Hash{}))
		got := fresh(judge(tipJournal, tip, since), judge(then, since, since))
		if !slices.Equal(got, want) {
			t.Errorf("since %s:\n%q\nwant\n%q", rev, got, want)
		}
	}
}
