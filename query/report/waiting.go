package report

import (
	"fmt"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/judge"
	"wj/render"
)

// Waiting is what waits for decisions, worst first.
type Waiting struct {
	Schema string        `json:"schema"`
	At     Moment        `json:"at"`
	Person string        `json:"person"` // whose it is; "" for everybody's
	Answer []string      `json:"answer"`
	Waits  []WaitingItem `json:"waits"`

	name string
}

// WaitingItem is one decision that somebody waits for.
type WaitingItem struct {
	ID     string   `json:"id"`
	Text   string   `json:"text"`
	For    []string `json:"for"` // who can decide it: any of them; none where nobody may
	Since  Day      `json:"since"`
	Days   int      `json:"days"` // for how many days it waits
	Urgent bool     `json:"urgent"`
	Branch string   `json:"branch"` // the branch on which it waits; "" for the one that is checked out
	Next   string   `json:"next"`
}

// NewWaiting draws up what judge.Waiting lists for a person, or for all.
func NewWaiting(j *journal.Journal, list []judge.ToDo, person string, now time.Time) *Waiting {
	now = now.In(j.Settings.Zone)
	w := &Waiting{Schema: schema.ID("waiting"), At: Moment{now}, Person: person, Answer: []string{}, Waits: []WaitingItem{}, name: "everybody"}
	urgent := 0
	for _, t := range list {
		one := WaitingItem{ID: t.Subject, Text: t.Text, For: append([]string{}, t.For...), Urgent: t.Urgent, Branch: t.Branch, Next: t.Next}
		if !t.Since.IsZero() {
			one.Since = Day{journal.Day(t.Since.In(j.Settings.Zone))}
			one.Days = int(journal.Day(now).Sub(one.Since.Time).Hours() / 24)
		}
		if w.Waits = append(w.Waits, one); t.Urgent {
			urgent++
		}
	}
	text := "Nothing to decide"
	if n := len(w.Waits); n > 0 {
		text = journal.Count(n, "decision") + " to make"
	}
	if person != "" {
		w.name = j.PersonName(person)
		text += " by " + w.name
	}
	if urgent > 0 {
		text += fmt.Sprintf(", %d of them urgent", urgent)
	}
	w.Answer = append(w.Answer, text+".")
	return w
}

// Document lists what waits, each with whom it waits for and the next command.
func (w *Waiting) Document() render.Document {
	d := render.Document{Title: "What waits for " + w.name, Lead: w.Answer}
	for _, x := range w.Waits {
		head := x.ID
		if x.Branch != "" {
			head += " on " + x.Branch
		}
		if x.Urgent {
			head += ", urgent"
		}
		d.Blocks = append(d.Blocks, render.Block{Heading: head, Text: x.Text + "."})
		by := strings.Join(x.For, ", ")
		if by == "" {
			by = "nobody may: roles are in people/"
		}
		if x.Days > 0 {
			by += fmt.Sprintf(" · since %s, %s", DayText(x.Since.Time), journal.Count(x.Days, "day"))
		}
		d.Fact("waits for", "%s", by)
		d.Command("next", "", x.Next)
	}
	return d
}
