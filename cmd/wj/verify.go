package main

import (
	"fmt"
	"os"
	"wj/render"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
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
	found, err := a.Verify(j, root, opt)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		err = a.showJSON(report.NewVerification(found))
	} else {
		err = a.out.Show(func(o render.Output) string { return report.VerificationText(found, o, c.All) })
	}
	if err != nil {
		return err
	}
	switch found.Outcome() {
	case evidence.Wrong:
		return errFindings
	case evidence.Unknown:
		return errUnknown
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
