package main

import (
	"strings"
	"testing"
	"time"
)

// TestWaiting is shown after a while and gone before anything else is written; a log gets none of it.
func TestWaiting(t *testing.T) {
	var out terminal
	w := &waiting{to: &out.Buffer, doing: "reading the journal", done: make(chan struct{})}
	began := time.Now()
	w.tick(began, began.Add(3*time.Second))
	w.at("working on 5 records")
	w.tick(began, began.Add(4*time.Second))
	if _, err := (after{&out.Buffer, w}).Write([]byte("the answer\n")); err != nil {
		t.Fatal(err)
	}
	w.tick(began, began.Add(5*time.Second))
	w.end()
	if got, want := out.String(), "\rreading the journal, 3 s\rworking on 5 records, 4 s\r"+strings.Repeat(" ", 25)+"\rthe answer\n"; got != want {
		t.Errorf("%q, not %q", got, want)
	}
	a := &app{stderr: &out}
	if a.wait("lint"); a.waits != nil {
		t.Error("a log is told how long it takes")
	}
}
