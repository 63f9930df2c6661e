package lint

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	example "wj/example-journal"
	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/journaltest"
	"wj/journal/judge"
)

// TestPresentSaysWhatTheWholeDoes compares what there is to do by the sessions that a look at
// the present reads with what there is to do by all of them, on several days.
func TestPresentSaysWhatTheWholeDoes(t *testing.T) {
	files, now := journaltest.Generate(t, rand.New(rand.NewPCG(3, 1)))
	demo := time.Date(2026, 9, 29, 10, 0, 0, 0, time.UTC)
	left := 0
	for _, back := range []int{0, 5, 13} {
		for name, fresh := range map[string]func(sessions bool) (*journal.Journal, error){
			"demo": func(sessions bool) (*journal.Journal, error) {
				return journal.Load(example.FS(), journal.Options{Check: true, Sessions: sessions})
			},
			"generated": func(sessions bool) (*journal.Journal, error) {
				return journal.Load(journaltest.FS(files), journal.Options{Check: true, Sessions: sessions})
			},
		} {
			at := now
			if name == "demo" {
				at = demo
			}
			at = at.AddDate(0, -back, 0)
			todo := func(j *journal.Journal) string {
				text := ""
				for _, d := range judge.ToDos(j, judge.NewChanges(j, evidence.Facts{Now: at})) {
					text += fmt.Sprintln(d.Topic, d.Text)
				}
				return text
			}
			whole, err := fresh(true)
			if err != nil {
				t.Fatal(err)
			}
			part, err := fresh(false)
			if err != nil {
				t.Fatal(err)
			}
			whole.Settings.Policy.Required, part.Settings.Policy.Required = nil, nil // which would have all of it read
			p := newPresent(part, at, false, 0, 3)
			p.Load(journal.Options{Check: true})
			if a, b := todo(whole), todo(part); a != b {
				n, of := p.Read()
				t.Errorf("%s, %d months before, %d of %d sessions:\n%s\nof the whole:\n%s", name, back, n, of, b, a)
			}
			left += len(whole.Sessions.List) - len(part.Sessions.List)
		}
	}
	if left == 0 {
		t.Error("no session was left out")
	}
}
