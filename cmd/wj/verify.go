package main

import (
	"errors"
	"fmt"
	"os"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
	"wj/journal/history"
	"wj/journal/judge"
	"wj/journal/plan"
	"wj/lint"
	"wj/query/report"
)

type verifyCmd struct {
	Base   string   `placeholder:"REF" help:"The branch that judges, whose people, keys and policy count; by default main (or master)."`
	Since  string   `placeholder:"REV" help:"Judge only what came after this revision, as for a pull request."`
	Anchor []string `placeholder:"LINE|FILE" help:"The receipt of an anchor that you kept, or a file that holds it; may be repeated."`
	Root   string   `placeholder:"COMMIT" help:"Trust people, keys and policy as they were at this commit, and judge what came after by the rules from there."`
	Format string   `enum:"text,json" default:"text" help:"${enum}."`
	All    bool     `help:"Show every sign-off, also those in force and old ones that no longer matter."`

	atFlag
}

func (c *verifyCmd) Help() string {
	return "Judges every sign-off by the people, keys and policy that the main branch had before it; looks for records that were deleted, or rewritten without an amendment, in history and in the working files; " +
		"judges signatures of commits, tags and anchors. Three outcomes: proven (all that the policy asks for holds, exit status 0), wrong (1), or cannot tell (2: nothing is wrong, but something that the policy asks for is unknown, " +
		"as without history). A name that no signature shows is reported as not verified.\n\n" +
		"In the data folder of a bundle the history is read from the bundle."
}

func (c *verifyCmd) Run(a *app) error {
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	a.collect(keeping) // history lives beside the sessions
	opt := evidence.Options{Base: c.Base, Since: c.Since, Root: c.Root}
	for _, word := range c.Anchor {
		line, err := receiptText(word)
		if err != nil {
			return err
		}
		opt.Anchors = append(opt.Anchors, line)
	}
	found, err := a.verify(j, root, opt)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		err = a.showJSON(report.NewVerification(found))
	} else {
		err = a.out.Print(report.VerificationText(found, a.out, c.All))
	}
	if err != nil {
		return err
	}
	switch found.Outcome() {
	case evidence.Wrong:
		return errFindings
	case evidence.Untold:
		return errUntold
	}
	return nil
}

// receiptText is a receipt as it was given: the line itself or a file.
func receiptText(word string) (string, error) {
	if _, err := evidence.ParseReceipt(word); err == nil {
		return word, nil
	}
	info, err := os.Stat(word)
	if err != nil || !info.Mode().IsRegular() || info.Size() > frontmatter.MaxFile {
		return "", withHint("the line that wj anchor printed, in quotes, or a file that holds it", "%.60q is no receipt of an anchor and no file", word)
	}
	content, err := os.ReadFile(word)
	if err != nil {
		return "", fmt.Errorf("read the receipt: %w", err)
	}
	if _, err := evidence.ParseReceipt(string(content)); err != nil {
		return "", withHint("it holds the line that wj anchor printed", "%w", err)
	}
	return string(content), nil
}

// verify judges a journal. Without a repository only what the files show is
// judged.
func (a *app) verify(j *journal.Journal, root string, opt evidence.Options) (*evidence.Report, error) {
	opt.Now, opt.Moved = a.now(), plan.Open(j).MovedWords
	opt.Wrong = func(p string) bool { return a.hasErrors(j, p) }
	opt.IsError = lint.IsErrorIn
	w, err := a.bundledProvenance(j, root, opt)
	if w == nil && err == nil {
		w, err = a.openProvenance(j, root, opt, true)
	}
	switch {
	case errors.Is(err, history.ErrNoRepository):
		w = &provenance{}
	case unreadable(err):
		w = &provenance{}
		opt.Unreadable = history.Reason(err)
	case err != nil:
		return nil, err
	}
	defer w.close()
	if w.line == nil && (opt.Base != "" || opt.Since != "" || opt.Root != "") {
		return nil, err
	}
	opt.Working, opt.Staged = w.working, w.staged
	facts := a.facts(j, w)
	facts.Unreadable = opt.Unreadable
	judgement := judge.NewChanges(j, facts)
	var explained []string
	if w.line != nil {
		opt.Others = func() (wrong, unknown []evidence.Finding) {
			wrong, unknown, explained = judgement.Brewed()
			return wrong, unknown
		}
	}
	found, err := evidence.Verify(a.ctx, j, w.line, opt, judgement.Settled)
	if err != nil {
		return nil, err
	}
	for _, text := range explained {
		found.Say("%s.", text)
	}
	return found, nil
}
