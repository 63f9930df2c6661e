package terminal

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"
)

// TestWaiting is shown after a while and gone before anything else is written; a log gets none of it.
func TestWaiting(t *testing.T) {
	var out bytes.Buffer
	w := &Waiting{to: &out, doing: "reading the journal", done: make(chan struct{})}
	began := time.Now()
	w.tick(began, began.Add(3*time.Second))
	w.At("working on 5 records")
	w.tick(began, began.Add(4*time.Second))
	if _, err := w.Before(&out).Write([]byte("the answer\n")); err != nil {
		t.Fatal(err)
	}
	w.tick(began, began.Add(5*time.Second))
	w.End()
	if got, want := out.String(), "\rreading the journal, 3 s\rworking on 5 records, 4 s\r"+strings.Repeat(" ", 25)+"\rthe answer\n"; got != want {
		t.Errorf("%q, not %q", got, want)
	}
	var none *Waiting
	none.At("nothing")
	none.End()
}

// What does not fit is asked again; nothing typed is what was offered; without answers nothing goes on.
func TestQuestions(t *testing.T) {
	var said, wrong strings.Builder
	q := NewQuestions(strings.NewReader("x\n\n a, ,b \n"))
	q.Print = func(text string) error { said.WriteString(text); return nil }
	q.Complain = func(err error) { wrong.WriteString(err.Error()) }
	answer, err := q.Ask("which", "ph-1", func(text string) error {
		if text == "x" {
			return errors.New("not x")
		}
		return nil
	})
	if err != nil || answer != "ph-1" || wrong.String() != "not x" || said.String() != "which [ph-1]: which [ph-1]: " {
		t.Errorf("%q, %v, %q, %q", answer, err, wrong.String(), said.String())
	}
	list, err := q.List("taps", "", func(string) error { return nil })
	if err != nil || len(list) != 2 || list[0] != "a" || list[1] != "b" {
		t.Errorf("%q, %v", list, err)
	}
	if _, err := q.Ask("more", "", nil); err == nil {
		t.Error("the answers ended, and it goes on")
	}
}
