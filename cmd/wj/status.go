package main

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/round"
	"wj/journal/source"
	"wj/query/report"
	"wj/render"
)

type statusCmd struct {
	Format string `enum:"text,json" default:"text" help:"${enum}."`
	All    bool   `help:"Everything, from all sessions; otherwise a few of a topic, and of a very large journal the last year of each tap."`

	asOf
}

func (c *statusCmd) Run(a *app) error {
	s, err := a.status(c.asOf, c.All)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		err = a.showJSON(s)
	} else {
		err = a.screen(s.Document(c.All))
	}
	if err == nil && s.Attention {
		return errFindings
	}
	return err
}

// homeCmd is wj without a command.
type homeCmd struct{ asOf }

func (c *homeCmd) Run(a *app) error {
	if _, err := a.root(); len(a.members) == 0 && errors.Is(err, journal.ErrNoJournal) {
		d := render.Document{Title: "wj, a water journal in plain text"}
		d.Answer("There is no journal in this folder or above it.")
		d.Command("start one", "", "wj init my-brewery --git")
		d.Command("look round", "", "wj demo DIR")
		d.Command("elsewhere", "", "wj -C DIR status")
		d.Command("commands", "", "wj --help")
		return a.screen(d)
	}
	s, err := a.status(c.asOf, false)
	if err != nil {
		return err
	}
	return a.screen(s.Brief())
}

// status is the state of the water, with what Git and the bench add to what there is to do.
func (a *app) status(as asOf, all bool) (*report.Status, error) {
	return across(a, func(a *app) (*report.Status, error) { return a.statusOfOne(as, all) }, func(journals []string, list []*report.Status) *report.Status {
		folders := map[string]string{}
		for _, m := range a.members {
			folders[m.Name] = a.shown(m.Dir)
		}
		return report.UniteStatuses(journals, folders, list)
	})
}

func (a *app) statusOfOne(as asOf, all bool) (*report.Status, error) {
	j, root, err := a.load(journal.Options{Check: true})
	if err != nil {
		return nil, err
	}
	if err := as.set(a, j.Settings.Zone); err != nil {
		return nil, err
	}
	a.collect(keeping)
	present := a.LoadPresent(j, all)
	a.collectFor(j)
	todos, err := a.toDos(j, root)
	if err != nil {
		return nil, err
	}
	return report.NewStatus(j, report.StatusRequest{Now: a.Now(), Tasks: todos, Present: present})
}

// toDos are the tasks of the records, of sittings left unfinished, and of what is not committed.
func (a *app) toDos(j *journal.Journal, root string) ([]judge.ToDo, error) {
	w, err := a.ProvenanceOfTasks(j, root)
	var uncommitted []string
	switch {
	case err == nil:
		defer w.History.Close()
		uncommitted = slices.Sorted(maps.Keys(w.Dirty))
	case errors.Is(err, history.ErrNoRepository):
		a.say("not in a Git repository: nothing is kept in history (git init)")
		w = &source.Provenance{}
	default:
		a.say("history is not known: %s", history.Reason(err))
		w = &source.Provenance{Unreadable: history.Reason(err)}
	}
	todos := append(a.unfinished(j, root), judge.ToDos(j, judge.NewChanges(j, a.Facts(j, w)))...)
	if n := len(uncommitted); n > 0 {
		text := fmt.Sprintf("%s not committed: %s", journal.Count(n, "record"), uncommitted[0])
		if n > 1 {
			text += fmt.Sprintf(" and %d more", n-1)
		}
		todos = append(todos, judge.ToDo{Topic: "git", Subject: uncommitted[0], Text: text, Next: "git add " + adding(uncommitted) + " && git commit"})
	}
	if w.History != nil && !a.Committed() {
		for _, lock := range w.History.Place().StaleLocks() {
			todos = append(todos, judge.ToDo{Topic: "git", Subject: lock.Path, Urgent: true, Text: "git is locked: " + lock.String() + "; nothing can be committed until it goes. Make sure that no git is at work, then remove it and commit what was recorded meanwhile",
				Next: "git add . && git commit"})
		}
	}
	return todos, nil
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
func (a *app) unfinished(j *journal.Journal, root string) []judge.ToDo {
	if a.Committed() {
		return nil
	}
	var out []judge.ToDo
	for _, name := range round.Kept(root) {
		s, ok, err := round.NewKeeper(root, name).Load(a.Context, j)
		if err != nil || !ok {
			continue // for wj enter to report
		}
		next, what := "wj enter "+name, "the session of "+name
		if r, is := strings.CutPrefix(name, "@"); is {
			next, what = "wj round "+r, "the round "+r
		}
		out = append(out, judge.ToDo{Topic: "bench", Subject: strings.TrimPrefix(name, "@"), Next: next,
			Text: fmt.Sprintf("%s, begun %s, is not finished: %d of %s done", what, s.Begun.In(j.Settings.Zone).Format("2006-01-02 15:04"), len(s.Done()), journal.Count(len(s.Tests), "test"))})
	}
	return out
}
