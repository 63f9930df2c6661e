package main

import (
	"errors"

	"wj/journal"
	"wj/journal/exchange"
	"wj/query/report"
	"wj/render"
)

type chartCmd struct {
	Values    []string `arg:"" optional:"" help:"Analytes or derived values; with --scatter or mash_pH the second is drawn against the first."`
	Site      []string `placeholder:"ID" help:"The site, or several."`
	By        string   `enum:",site" default:"" placeholder:"site" help:"site: a line for each site that has the value."`
	Since     string   `placeholder:"DATE" help:"Sampled on or after this day: 2026-03-01, 2026-03 or 2026."`
	Until     string   `placeholder:"DATE" help:"Sampled on or before this day."`
	Source    []string `enum:"bench,lab,utility" help:"Only results of the bench, a laboratory or the utility."`
	Scatter   bool     `help:"The second value against the first, from the same sessions."`
	Beer      string   `placeholder:"ID" help:"With mash_pH: batches of this beer only."`
	Ions      string   `placeholder:"SESSION" help:"The ions of one session as bars of cations and anions in meq/L (Collins 1923)."`
	Piper     bool     `help:"Where waters lie by the shares of their ions (Piper 1944)."`
	Owner     []string `placeholder:"ID" help:"Sites of this owner only. Needed for a file where the sites are of several."`
	AllOwners bool     `help:"Sites of all owners in one file."`
	Format    string   `enum:"text,svg,json" default:"text" help:"${enum}."`
	Output    string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent."`
	Height    int      `placeholder:"LINES" help:"Lines of the drawing."`

	atFlag
}

func (c *chartCmd) Run(a *app) error {
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if err := errors.Join(resolveAll(j, c.Owner, journal.KindOwner), resolveAll(j, c.Site, journal.KindSite), resolve(j, &c.Ions, journal.KindSession), resolve(j, &c.Beer, journal.KindTarget)); err != nil {
		return err
	}
	if c.Format != "svg" && c.Output != "" {
		return withHint("--format svg -o "+c.Output, "-o goes with --format svg")
	}
	q := report.ChartRequest{Values: c.Values, Against: c.Scatter, Beer: c.Beer, Ions: c.Ions, Waters: c.Piper, Sites: c.Site, Owners: c.Owner, EachSite: c.By != "",
		OneOwner: c.Format == "svg" && len(c.Owner) == 0 && !c.AllOwners, Sources: c.Source}
	if q.From, q.To, err = a.period(c.Since, c.Until, j.Settings.Zone); err != nil {
		return err
	}
	chart, err := report.NewChart(j, q)
	switch {
	case err != nil:
		return err
	case c.Format == "json":
		if err := a.showJSON(chart); err != nil {
			return err
		}
	case chart.Nothing != "":
		a.say("%s", chart.Nothing)
	case c.Format == "svg":
		picture, err := chart.SVG()
		if err != nil {
			return err
		}
		return a.deliver(c.Output, []exchange.File{{Content: []byte(picture)}})
	default:
		return a.out.Show(func(o render.Output) string { return chart.Text(o, c.Height) })
	}
	if chart.Nothing != "" {
		return errFindings
	}
	return nil
}
