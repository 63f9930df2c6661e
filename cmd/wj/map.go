package main

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"wj/journal"
	"wj/journal/exchange"
	"wj/render"
	"wj/water"
)

type mapCmd struct {
	As        string   `aliases:"format" enum:"table,geojson,svg" default:"table" help:"${enum}."`
	Output    string   `short:"o" placeholder:"FILE" help:"Where to; standard output if absent."`
	From      string   `placeholder:"SITE" help:"Distances from this site, or from a place given as latitude,longitude."`
	Within    string   `placeholder:"DISTANCE" help:"With --from: sites no farther than this, such as \"10 km\"."`
	Owner     []string `placeholder:"ID" help:"Sites of this owner only. Needed for a file where the sites are of several."`
	AllOwners bool     `help:"Sites of all owners in one file."`

	atFlag
}

func (c *mapCmd) Help() string {
	return "wj map --from north-well\n    wj map --from 54.69,25.28 --within \"10 km\"\n    wj map --as svg --all-owners -o sites.svg\n\n" +
		"Distances are great circles on a sphere of the mean radius of WGS 84 (at most 0.6 % off). The picture needs no map service."
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
	var sites []*journal.Site
	owners := map[string]bool{}
	for _, s := range j.Sites.List {
		switch {
		case s.Void != nil || len(c.Owner) > 0 && !slices.Contains(c.Owner, s.Owner):
			continue
		case within > 0 && (!s.Place.Set || journal.Distance(from, s.Place) > within):
			continue
		}
		sites, owners[s.Owner] = append(sites, s), true
	}
	if len(sites) == 0 {
		a.say("no sites")
		return errFindings
	}
	if c.As != "table" && len(owners) > 1 && len(c.Owner) == 0 && !c.AllOwners {
		return severalOwners("map", keys(owners))
	}
	if from.Set {
		sort.SliceStable(sites, func(x, y int) bool {
			if sites[x].Place.Set != sites[y].Place.Set {
				return sites[x].Place.Set
			}
			return journal.Distance(from, sites[x].Place) < journal.Distance(from, sites[y].Place)
		})
	}
	switch c.As {
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
	return c.table(a, j, sites, from)
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

func (c *mapCmd) table(a *app, j *journal.Journal, sites []*journal.Site, from journal.Place) error {
	last := exchange.LastTests(j)
	l := &listing{columns: heads("site", "latitude, longitude", "sampled", "distance#", "towards")}
	if !from.Set {
		l.columns[3].Head, l.columns[4].Head = "nearest", "which"
	}
	for _, s := range sites {
		distance, towards := "", ""
		switch {
		case !s.Place.Set:
		case from.Set:
			distance = exchange.FormatDistance(journal.Distance(from, s.Place))
			if journal.Distance(from, s.Place) > 0 {
				towards = exchange.Compass(exchange.Bearing(from, s.Place))
			}
		default:
			if other := exchange.NearestSite(s, j.Sites.List); other != nil {
				distance, towards = exchange.FormatDistance(journal.Distance(s.Place, other.Place)), other.ID
			}
		}
		l.add(s.ID, exchange.FormatPlace(s.Place), last[s.ID], distance, towards)
	}
	return l.print(a, "table")
}
