package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/query"
	"wj/query/report"
	"wj/render"
	"wj/water"
	"wj/water/spelling"
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
	Format    string   `enum:"text,svg" default:"text" help:"${enum}."`
	Output    string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent."`
	Height    int      `placeholder:"LINES" help:"Lines of the drawing."`
}

func (c *chartCmd) Help() string {
	return "wj chart sulfate --site north-well\n    wj chart conductivity --by site --since 2025\n    wj chart residual_alkalinity mash_pH --beer wicket-bitter\n" +
		"    wj chart --ions 2026-06-05-north-well\n    wj chart --piper --since 2026 --format svg -o waters.svg\n\n" +
		"One value at one site is a control chart: what is expected in each supply regime, limits, what was done to the plant, new lots, and the trend. " +
		"A bar at a point is its 95 % interval. Nothing is left out silently: what cannot be drawn is counted below."
}

func (c *chartCmd) Run(a *app) error {
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if err := errors.Join(resolveAll(j, c.Owner, journal.KindOwner), resolveAll(j, c.Site, journal.KindSite)); err != nil {
		return err
	}
	if c.Format == "text" && c.Output != "" {
		return withHint("--format svg -o "+c.Output, "-o goes with --format svg")
	}
	d, err := c.drawing(a, j)
	if err != nil {
		return err
	}
	if d.chart != nil {
		if c.Format == "svg" {
			return a.deliver(c.Output, []exchange.File{{Content: []byte(render.SVG(*d.chart))}})
		}
		return a.print(a.out.Chart(*d.chart, c.Height) + strings.Join(append(d.notes, ""), "\n"))
	}
	if c.Format == "svg" {
		return a.deliver(c.Output, []exchange.File{{Content: []byte(render.DrawingSVG(d.Drawing))}})
	}
	return a.print(a.out.Drawing(d.Drawing, d.height))
}

// picture is what a chart command draws: a drawing, or several series in one
// chart.
type picture struct {
	render.Drawing
	height int
	chart  *render.Chart
	notes  []string
}

// size is the room for a picture, in columns and lines of text.
func (c *chartCmd) size(a *app, lines int) (int, int) {
	if c.Height > 0 {
		lines = c.Height
	}
	if c.Format == "svg" {
		return 88, 18
	}
	return max(a.out.Width, 40) - 8, lines
}

func (c *chartCmd) drawing(a *app, j *journal.Journal) (picture, error) {
	modes := 0
	for _, on := range []bool{c.Ions != "", c.Piper, len(c.Values) > 0} {
		if on {
			modes++
		}
	}
	if modes != 1 {
		return picture{}, withHint("wj chart sulfate --site north-well", "say one thing to draw: values, --ions or --piper")
	}
	switch {
	case c.Ions != "":
		return c.ions(a, j)
	case c.Piper:
		return c.piper(a, j)
	case len(c.Values) == 2 && (c.Scatter || slices.Contains(c.Values, "mash_pH")):
		return c.scatter(a, j)
	}
	return c.overTime(a, j)
}

// valueIDs reads the names of analytes and derived values.
func valueIDs(names []string) ([]water.ID, error) {
	var ids []water.ID
	for _, name := range names {
		id, ok := water.Lookup(name)
		if !ok {
			return nil, withHint(spelling.HintOr(name, append(water.Keys(), "mash_pH"), "wj explain lists them"), "%q is no analyte or derived value", name)
		}
		ids = append(ids, id)
	}
	return ids, nil
}

// sites are the sites asked for, kept apart by owner.
func (c *chartCmd) sites(a *app, j *journal.Journal) ([]string, error) {
	var out []string
	owners := map[string]bool{}
	for _, s := range j.Sites.List {
		if s.Void != nil || len(c.Site) > 0 && !slices.Contains(c.Site, s.ID) || len(c.Owner) > 0 && !slices.Contains(c.Owner, s.Owner) {
			continue
		}
		out, owners[s.Owner] = append(out, s.ID), true
	}
	if c.Format == "svg" && len(owners) > 1 && len(c.Owner) == 0 && !c.AllOwners {
		return nil, severalOwners("picture", keys(owners))
	}
	if len(out) == 0 {
		return nil, withHint("wj ls sites", "no such site of that owner")
	}
	return out, nil
}

func (c *chartCmd) overTime(a *app, j *journal.Journal) (picture, error) {
	ids, err := valueIDs(c.Values)
	if err != nil {
		return picture{}, err
	}
	if len(c.Site) == 0 && c.By == "" {
		return picture{}, withHint("--site "+strings.Join(j.IDs(journal.KindSite), ", --site ")+"; or --by site", "which site?")
	}
	sites, err := c.sites(a, j)
	if err != nil {
		return picture{}, err
	}
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return picture{}, err
	}
	units := map[water.ID]water.Unit{}
	for _, id := range ids {
		owner := ""
		if s, ok := j.Sites.Get(sites[0]); ok {
			owner = s.Owner
		}
		units[id] = j.Preferred(owner, id)
	}
	series, err := query.Histories(j, query.SeriesRequest{Sites: sites, Analytes: ids, Units: units, Sources: c.Source, Since: from, Until: pastEnd(to)})
	if err != nil {
		return picture{}, err
	}
	var full []*query.Series
	for _, s := range series {
		if len(s.Points) > 0 {
			full = append(full, s)
		}
	}
	switch {
	case len(full) == 0:
		a.say("no values")
		return picture{}, errFindings
	case len(full) == 1:
		site, _ := j.Sites.Get(full[0].Site)
		columns, lines := c.size(a, 16)
		chart := report.NewControlChart(j, site, full[0], from, to)
		chart.Bars = columns / 3 // nearer than three columns apart, bars hide the values
		if c.Format == "svg" {
			chart.Bars = 150
		}
		return picture{Drawing: chart.Drawing(columns, lines), height: lines}, nil
	}
	return severalSeries(full, ids)
}

// mostSeries is how many lines can be told apart.
const mostSeries = 8

func severalSeries(full []*query.Series, ids []water.ID) (picture, error) {
	if len(full) > mostSeries {
		return picture{}, withHint("name sites with --site", "%d lines in one chart cannot be told apart", len(full))
	}
	chart := &render.Chart{Unit: full[0].Unit.String()}
	var names []string
	for _, id := range ids {
		names = append(names, id.String())
	}
	chart.Title = strings.Join(names, ", ")
	bounds := 0
	for _, s := range full {
		if s.Unit != full[0].Unit {
			return picture{}, withHint("draw them one by one, or --scatter against each other", "%s in %s and %s in %s do not go on one scale", full[0].Analyte, full[0].Unit, s.Analyte, s.Unit)
		}
		line := render.Series{Name: s.Site}
		if len(ids) > 1 {
			line.Name = s.Analyte.String() + ", " + s.Site
		}
		for _, p := range s.Points {
			if p.Bound != water.Exact {
				bounds++
			}
			line.Points = append(line.Points, render.Point{At: p.Sampled, Value: p.Value, State: boundState(p.Bound)})
		}
		chart.Series = append(chart.Series, line)
	}
	out := picture{chart: chart}
	if bounds > 0 {
		out.notes = append(out.notes, boundsNote(bounds))
	}
	return out, nil
}

func boundsNote(n int) string {
	return fmt.Sprintf("%s beyond the range of the method (< or >), drawn at the bound", count(n, "reading"))
}

func boundState(b water.Bound) render.State {
	switch b {
	case water.Below:
		return render.Under
	case water.Above:
		return render.Over
	}
	return render.Plain
}
