package main

import (
	"fmt"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/query/report"
	"wj/render"
	"wj/water"
)

type mapCmd struct {
	Format    string   `aliases:"as" enum:"table,csv,json,jsonl,markdown,geojson,svg" default:"table" help:"${enum}."`
	Output    string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent."`
	From      string   `placeholder:"SITE" help:"Distances from this site, or from a place given as latitude,longitude."`
	Within    string   `placeholder:"DISTANCE" help:"With --from: sites no farther than this, such as \"10 km\"."`
	Owner     []string `placeholder:"ID" help:"Sites of this owner only. Needed for a file where the sites are of several."`
	AllOwners bool     `help:"Sites of all owners in one file."`

	atFlag
}

func (c *mapCmd) Run(a *app) error {
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if err := resolveAll(j, c.Owner, journal.KindOwner); err != nil {
		return err
	}
	from, err := c.from(j)
	if err != nil {
		return err
	}
	within, err := c.within()
	if err != nil {
		return err
	}
	sites := report.SitesNear(j, c.Owner, from, within)
	if len(sites) == 0 {
		a.say("no sites")
		return errFindings
	}
	owners := map[string]bool{}
	for _, s := range sites {
		owners[s.Owner] = true
	}
	if c.Format == "geojson" || c.Format == "svg" {
		if err := exchange.Apart("map", owners, c.Owner, c.AllOwners); err != nil {
			return err
		}
	}
	switch c.Format {
	case "geojson":
		text, err := render.JSON(exchange.SitesGeoJSON(j, sites, j.Sessions.List))
		if err != nil {
			return err
		}
		return a.deliver(c.Output, []exchange.File{{Content: []byte(text + "\n")}})
	case "svg":
		title := "Sampling points"
		if j.Settings.Name != "" {
			title += " of " + j.Settings.Name
		}
		return a.deliver(c.Output, []exchange.File{{Content: []byte(exchange.MapSVG(title, exchange.MapPoints(j, sites, from)))}})
	}
	m := report.NewMap(j, sites, from, within)
	t := m.Values()
	switch c.Format {
	case "json":
		return a.showJSON(m)
	case "table", "markdown":
		t = m.Table()
	}
	return (&listing{columns: t.Columns, rows: t.Rows}).print(a, c.Format)
}

// from reads --from: a site's id or a place.
func (c *mapCmd) from(j *journal.Journal) (journal.Place, error) {
	if c.From == "" {
		if c.Within != "" {
			return journal.Place{}, withHint("wj map --from north-well --within \"10 km\"", "--within needs --from")
		}
		return journal.Place{}, nil
	}
	if strings.Contains(c.From, ",") {
		place, err := exchange.ParsePlace(c.From)
		if err != nil {
			return place, withHint("write latitude, then longitude, in degrees: 54.69,25.28", "%w", err)
		}
		return place, nil
	}
	if err := resolve(j, &c.From, journal.KindSite); err != nil {
		return journal.Place{}, err
	}
	site, _ := j.Sites.Get(c.From)
	if !site.Place.Set {
		return journal.Place{}, withHint("add place: [latitude, longitude] to its record", "the site %s has no place", c.From)
	}
	return site.Place, nil
}

// within reads --within, m; 0 where it is absent.
func (c *mapCmd) within() (float64, error) {
	if c.Within == "" {
		return 0, nil
	}
	q, err := water.ParseQuantity(c.Within)
	if err != nil {
		return 0, fmt.Errorf("--within: %w", err)
	}
	m, err := q.In(water.Metre)
	if err != nil || !(m > 0) || q.Bound != water.Exact {
		return 0, withHint("write it as \"10 km\" or \"500 m\"", "--within: %q is not a distance", c.Within)
	}
	return m, nil
}
