package main

import (
	"strings"
	"time"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/judge"
	"wj/query/report"
	"wj/render"
)

type summaryCmd struct {
	Owner  string `required:"" placeholder:"ID" help:"Whose water. Nothing of other owners is in the page."`
	Since  string `placeholder:"DATE" help:"From this day on: 2026-01-15, 2026-01 or 2026; the last twelve months if absent."`
	Until  string `placeholder:"DATE" help:"Up to this day."`
	Format string `enum:"text,html,markdown,json" default:"text" help:"${enum}."`
	Output string `short:"o" placeholder:"FILE" help:"Where to; standard output if absent. A name that ends in .html, .md or .json chooses the format."`

	atFlag
}

func (c *summaryCmd) Run(a *app) error {
	format := c.Format
	switch {
	case strings.HasSuffix(c.Output, ".html"):
		format = "html"
	case strings.HasSuffix(c.Output, ".md"):
		format = "markdown"
	case strings.HasSuffix(c.Output, ".json"):
		format = "json"
	case c.Output != "" && format == "text":
		return withHint("such as -o summary.html", "the name %q does not say which format", c.Output)
	}
	j, root, err := a.load(journal.Options{Check: true, Sessions: true})
	if err != nil {
		return err
	}
	if err := resolve(j, &c.Owner, journal.KindOwner); err != nil {
		return err
	}
	owner, _ := j.Owners.Get(c.Owner)
	now := a.Now().In(j.Settings.Zone)
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return err
	}
	if from.IsZero() {
		from = time.Date(now.Year()-1, now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	}
	if to.IsZero() || to.After(now) {
		to = now
	}
	if to.Before(from) {
		return withHint("give --since before --until", "the period ends before it begins")
	}
	w := a.ProvenanceOrNone(j, root)
	defer w.Close()
	s, err := report.NewSummary(j, owner, report.SummaryRequest{From: from, To: to, Now: now, Changes: judge.NewChanges(j, a.Facts(j, w))})
	if err != nil {
		return err
	}
	switch format {
	case "html":
		return a.deliver(c.Output, []exchange.File{{Content: []byte(s.Document().Page())}})
	case "markdown":
		return a.deliver(c.Output, []exchange.File{{Content: []byte(render.Clean(s.Document().Markdown()))}})
	case "json":
		text, err := render.Encode(s)
		if err != nil {
			return err
		}
		return a.deliver(c.Output, []exchange.File{{Content: []byte(text + "\n")}})
	}
	return a.show(s.Screen(), "text")
}
