package main

import (
	"errors"
	"strings"
	"unicode"

	"wj/journal"
	"wj/journal/diff"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/source"
	"wj/journal/writer"
	"wj/lint"
	"wj/query/report"
)

// waiting lists what waits for a decision, of one person or of all.
func (c *reviewCmd) waiting(a *app) error {
	if c.ID != "" {
		return withHint("wj review --waiting", "--waiting lists all records")
	}
	if c.Format != "text" && c.Format != "json" {
		return withHint("--format text or json", "--waiting has no %s", c.Format)
	}
	j, root, err := a.load(journal.Options{Check: true, Sessions: true})
	if err != nil {
		return err
	}
	if err := c.set(a, j.Settings.Zone); err != nil {
		return err
	}
	if err := resolve(j, &c.Person, journal.KindPerson); err != nil {
		return err
	}
	w, err := a.ProvenanceIfAny(j, root)
	if err != nil {
		return err
	}
	defer w.Close()
	var base *journal.Journal
	if w.Base != nil {
		if base, err = journal.Load(w.Base.FS, journal.Options{}); err != nil {
			return err
		}
	}
	list, err := judge.Waiting(j, judge.NewChanges(j, a.Facts(j, w)), base, w.BaseName, c.Person, lint.IsErrorIn)
	if err != nil {
		return err
	}
	if w.Line != nil && !a.Committed() {
		aside, err := c.aside(a, j, root, w, list)
		if err != nil {
			return err
		}
		list = append(list, aside...)
		judge.SortWaiting(list)
	}
	r := report.NewWaiting(j, list, c.Person, a.Now())
	if c.Format == "json" {
		return a.showJSON(r)
	}
	return a.screen(r.Document())
}

// mostBranches is how many branches are looked at, the newest.
const mostBranches = 40

// aside is what waits on branches that are not checked out, each once.
func (c *reviewCmd) aside(a *app, j *journal.Journal, root string, w *source.Provenance, list []judge.ToDo) ([]judge.ToDo, error) {
	base := w.Line.Base()
	branches, err := evidence.BranchesAside(a.Context, w.History, base)
	if err != nil {
		return nil, err
	}
	if n := len(branches) - mostBranches; n > 0 {
		a.say("not looked at: %s that last changed before the other %d", journal.Count(n, "branch"), mostBranches)
		branches = branches[:mostBranches]
	}
	seen := map[[2]string]bool{}
	for _, t := range list {
		seen[[2]string{t.Subject, t.Text}] = true
	}
	var out []judge.ToDo
	for _, r := range branches {
		short := strings.TrimPrefix(strings.TrimPrefix(r.Name, "refs/heads/"), "refs/remotes/")
		more, err := c.onBranch(a, j, root, w, base, r, short)
		if errors.Is(err, diff.ErrRange) {
			err = errors.New("it is no branch of this journal")
		}
		if err != nil {
			a.say("%s is not looked at: %v", short, err)
			continue
		}
		for _, t := range more {
			if key := [2]string{t.Subject, t.Text}; !seen[key] {
				seen[key] = true
				out = append(out, t)
			}
		}
	}
	return out, nil
}

func (c *reviewCmd) onBranch(a *app, here *journal.Journal, root string, w *source.Provenance, base evidence.Base, r history.Reference, short string) ([]judge.ToDo, error) {
	states, err := diff.Open(a.Context, w.History, root, base.Commit.Hash.String()+"..."+r.Commit.String(), here.Settings.Zone)
	if err != nil {
		return nil, err
	}
	j, err := states.Load(true)
	if err != nil {
		return nil, err
	}
	on, err := a.Provenance(j, root, evidence.Options{Base: base.Commit.Hash.String(), Head: r.Commit.String()}, false)
	if err != nil {
		return nil, err
	}
	defer on.Close()
	list, err := judge.Waiting(j, judge.NewChanges(j, a.Facts(j, on)), on.Base, w.BaseName, c.Person, lint.IsErrorIn)
	if err != nil {
		return nil, err
	}
	var paths []string
	for _, p := range states.Pairs {
		paths = append(paths, p.Path)
	}
	name := short
	if found, err := w.History.Candidates(short); err != nil || len(found) != 1 || len(here.Find(short)) > 0 {
		name = r.Name
	}
	if strings.ContainsFunc(name, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-_./+@", r)
	}) {
		name = writer.ShellQuote(name)
	}
	return judge.WaitingAside(j, w.Line, list, paths, short, "wj review "+name), nil
}
