package main

import (
	"slices"
	"wj/journal"
	"wj/render/terminal"
)

// questions asks a person line by line.
func (a *app) questions() *terminal.Questions {
	q := terminal.NewQuestions(a.stdin)
	q.Print, q.Talk, q.Complain = a.printTalk, a.say, a.complain
	return q
}

// asks reports whether a person sits at both ends.
func (a *app) asks() bool {
	_, _, ok := terminal.Both(a.stdin, a.stdout, a.env)
	return ok
}

// progress shows on a terminal how far a long work is.
func (a *app) progress(what string, of int) *terminal.Meter {
	if !a.talk.Person {
		return terminal.NewMeter(nil, "")
	}
	return terminal.NewMeter(a.stderr, journal.Count(of, what))
}

// wait begins to show how long the command takes, where a person watches.
func (a *app) wait(command string) {
	if a.talk.Person && slices.Contains(append([]string{"export", "site", "bundle"}, paged...), command) {
		a.waits = terminal.Wait(a.stderr, "reading the journal")
		a.stderr, a.stdout, a.out.W = a.waits.Before(a.stderr), a.waits.Before(a.stdout), a.waits.Before(a.out.W)
	}
}

// paged are the commands whose answer is read from the top: what does not fit the screen goes through the pager.
var paged = []string{"", "home", "status", "due", "stock", "query", "show", "ls", "chart", "stats", "trace", "lint", "explain", "review", "log", "blame", "diff", "verify", "summary", "schema"}

// page puts the pager before standard output where a person reads there; none with --no-pager, --plain and --untrusted,
// which runs no program.
func (a *app) page(command string, cl *commandLine) {
	if !a.out.Person || cl.NoPager || cl.Plain || bool(cl.Untrusted) || !slices.Contains(paged, command) {
		return
	}
	if a.pager = terminal.NewPager(a.stdout, a.env); a.pager != nil {
		a.stdout, a.out.W = a.pager, a.pager
	}
}
