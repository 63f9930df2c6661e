package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/round"
	"wj/render"
)

type statusCmd struct {
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	All    bool   `help:"Everything; otherwise ten of a topic at most."`

	asOf
}

func (c *statusCmd) Help() string {
	return "What waits for somebody: tests due and overdue, lots that expire or run out, changes that wait for a signature, open actions, stale reports, records that are not committed, sessions at the bench that were left in the middle. " +
		"The exit status is 0 whatever is found."
}

func (c *statusCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return err
	}
	w, err := a.witness(j, root, "")
	var uncommitted []string
	switch {
	case err == nil:
		defer w.h.Close()
		uncommitted = slices.Sorted(maps.Keys(w.dirty))
	case errors.Is(err, history.ErrNoRepository):
		a.say("not in a Git repository: nothing is kept in history (git init)")
		w = &witness{}
	default:
		a.say("history is not known: %s", reasonOf(err))
		w = &witness{unreadable: reasonOf(err)}
	}
	todos := append(unfinished(a.ctx, j, root), judge.ToDos(j, judge.NewChanges(j, a.facts(j, w)))...)
	if n := len(uncommitted); n > 0 {
		text := fmt.Sprintf("%s not committed: %s", count(n, "record"), uncommitted[0])
		if n > 1 {
			text += fmt.Sprintf(" and %d more", n-1)
		}
		todos = append(todos, judge.ToDo{Topic: "git", Subject: uncommitted[0], Text: text, Next: "wj diff; git add " + adding(uncommitted) + " && git commit"})
	}
	if w.h != nil {
		for _, lock := range w.h.Place().StaleLocks() {
			todos = append(todos, judge.ToDo{Topic: "git", Subject: lock.Path, Urgent: true, Text: "git is locked: " + lock.String() + "; nothing can be committed until it goes",
				Next: "make sure that no git is at work, then remove it; what was recorded meanwhile: git add . && git commit"})
		}
	}
	if c.Format == "json" {
		items := []any{}
		for _, m := range todos {
			items = append(items, render.Object{{Name: "sort", Value: string(m.Topic)}, {Name: "subject", Value: m.Subject}, {Name: "text", Value: m.Text}, {Name: "urgent", Value: m.Urgent}, {Name: "next", Value: m.Next}})
		}
		text, err := render.JSON(items)
		if err != nil {
			return err
		}
		return a.print(text + "\n")
	}
	return a.out.Print(c.text(a.out, todos))
}

// adding are the paths for git add: the one record, or the folders of several.
func adding(paths []string) string {
	if len(paths) == 1 {
		return paths[0]
	}
	var folders []string
	for _, p := range paths {
		if folder, _, _ := strings.Cut(p, "/"); !slices.Contains(folders, folder) {
			folders = append(folders, folder)
		}
	}
	return strings.Join(folders, " ")
}

// unfinished are the sessions at the bench that wj enter keeps.
func unfinished(ctx context.Context, j *journal.Journal, root string) []judge.ToDo {
	var out []judge.ToDo
	for _, name := range round.Kept(root) {
		s, ok, err := round.NewKeeper(root, name).Load(ctx, j)
		if err != nil || !ok {
			continue // for wj enter to report
		}
		next, what := "wj enter "+name, "the session of "+name
		if r, is := strings.CutPrefix(name, "@"); is {
			next, what = "wj round "+r, "the round "+r
		}
		out = append(out, judge.ToDo{Topic: "bench", Subject: strings.TrimPrefix(name, "@"), Next: next,
			Text: fmt.Sprintf("%s, begun %s, is not finished: %d of %s done", what, s.Begun.In(j.Settings.Zone).Format("2006-01-02 15:04"), len(s.Done()), count(len(s.Tests), "test"))})
	}
	return out
}

func (c *statusCmd) text(out render.Output, todos []judge.ToDo) string {
	if len(todos) == 0 {
		return "nothing to do\n"
	}
	var b strings.Builder
	of := map[judge.Topic]int{}
	for _, m := range todos {
		of[m.Topic]++
	}
	shown := map[judge.Topic]int{}
	for _, m := range todos {
		shown[m.Topic]++
		if !c.All && shown[m.Topic] > 10 {
			if shown[m.Topic] == 11 {
				fmt.Fprintf(&b, "%-9s and %d more (wj status --all)\n", m.Topic, of[m.Topic]-10)
			}
			continue
		}
		mark, state := "  ", render.Plain
		if m.Urgent {
			mark, state = "! ", render.Warning
		}
		lines := strings.Split(render.Wrap(render.Line(m.Text), out.Width-12), "\n")
		for i, line := range lines {
			head := strings.Repeat(" ", 12)
			if i == 0 {
				head = fmt.Sprintf("%-10s%s", m.Topic, out.Paint(state, mark))
			}
			b.WriteString(head + line + "\n")
		}
		b.WriteString(strings.Repeat(" ", 12) + out.Paint(render.Dim, "next: "+render.Line(m.Next)) + "\n")
	}
	return b.String()
}
