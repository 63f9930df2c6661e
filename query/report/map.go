package report

import (
	"slices"
	"sort"
	"strconv"

	"wj/docs/schema"
	"wj/journal"
	"wj/journal/exchange"
	"wj/render"
)

// Map is where the sites are, and how far from each other or from a place.
type Map struct {
	Schema string    `json:"schema"`
	From   *MapPlace `json:"from"` // null: no place was given
	Within *Number   `json:"within_m"`
	Sites  []MapSite `json:"sites"` // by distance where there is a place to measure from
}

// MapPlace is a position in degrees, WGS 84.
type MapPlace struct {
	Latitude  float64 `json:"latitude_deg"`
	Longitude float64 `json:"longitude_deg"`
}

// MapSite is one site. Distances are great circles on a sphere of the mean radius
// of WGS 84, in metres; bearings are degrees from north by east.
type MapSite struct {
	Site            string    `json:"site"`
	Name            string    `json:"name"`
	Owner           string    `json:"owner"`
	Stage           string    `json:"stage"`
	Place           *MapPlace `json:"place"` // null: its record has none
	LastSampled     Day       `json:"last_sampled"`
	Distance        *Number   `json:"distance_m"`
	Bearing         *Number   `json:"bearing_deg"`
	Nearest         string    `json:"nearest"` // the nearest site at another place; "" where there is none
	NearestDistance *Number   `json:"nearest_m"`
}

// SitesNear chooses the sites of the owners (of all, where none is named) that are
// within a distance of a place, m; 0 is no limit. They come by distance where there
// is a place.
func SitesNear(j *journal.Journal, owners []string, from journal.Place, within float64) []*journal.Site {
	var sites []*journal.Site
	for _, s := range j.Sites.List {
		if s.Void == nil && (len(owners) == 0 || slices.Contains(owners, s.Owner)) &&
			(within <= 0 || s.Place.Set && journal.Distance(from, s.Place) <= within) {
			sites = append(sites, s)
		}
	}
	if from.Set {
		sort.SliceStable(sites, func(x, y int) bool {
			if sites[x].Place.Set != sites[y].Place.Set {
				return sites[x].Place.Set
			}
			return journal.Distance(from, sites[x].Place) < journal.Distance(from, sites[y].Place)
		})
	}
	return sites
}

// NewMap draws up where the sites are. The journal needs its sessions.
func NewMap(j *journal.Journal, sites []*journal.Site, from journal.Place, within float64) *Map {
	m := &Map{Schema: schema.ID("map"), From: mapPlace(from), Sites: []MapSite{}}
	if within > 0 {
		m.Within = number(within)
	}
	last := exchange.LastTests(j)
	for _, s := range sites {
		one := MapSite{Site: s.ID, Name: s.Name, Owner: s.Owner, Stage: s.Stage, Place: mapPlace(s.Place), LastSampled: Day{last[s.ID]}}
		if s.Place.Set {
			if from.Set {
				d := journal.Distance(from, s.Place)
				if one.Distance = number(d); d > 0 {
					one.Bearing = number(exchange.Bearing(from, s.Place))
				}
			}
			if other := exchange.NearestSite(s, j.Sites.List); other != nil {
				one.Nearest, one.NearestDistance = other.ID, number(journal.Distance(s.Place, other.Place))
			}
		}
		m.Sites = append(m.Sites, one)
	}
	return m
}

func mapPlace(p journal.Place) *MapPlace {
	if !p.Set {
		return nil
	}
	return &MapPlace{p.Latitude, p.Longitude}
}

// Table lists the sites with the distance from the place, or from the nearest site.
func (m *Map) Table() render.Table {
	t := lister{}
	t.Columns = render.Heads("site", "latitude, longitude", "sampled", "distance#", "towards")
	if m.From == nil {
		t.Columns[3].Head, t.Columns[4].Head = "nearest", "which"
	}
	for _, s := range m.Sites {
		texts := []string{s.Site, "", DayText(s.LastSampled.Time), "", ""}
		if s.Place != nil {
			texts[1] = exchange.FormatPlace(journal.Place{Latitude: s.Place.Latitude, Longitude: s.Place.Longitude, Set: true})
		}
		switch distance, towards := s.NearestDistance, s.Nearest; {
		case m.From != nil && s.Distance != nil:
			texts[3] = exchange.FormatDistance(float64(*s.Distance))
			if s.Bearing != nil {
				texts[4] = exchange.Compass(float64(*s.Bearing))
			}
		case m.From == nil && distance != nil:
			texts[3], texts[4] = exchange.FormatDistance(float64(*distance)), towards
		}
		t.add(texts...)
	}
	return t.Table
}

// Values is the list for another program: one value a column, distances in metres.
func (m *Map) Values() render.Table {
	t := lister{}
	t.Columns = render.Heads("site", "name", "owner", "stage", "latitude_deg#", "longitude_deg#", "last_sampled", "distance_m#", "bearing_deg#", "nearest", "nearest_m#")
	for _, s := range m.Sites {
		latitude, longitude := "", ""
		if s.Place != nil {
			latitude, longitude = strconv.FormatFloat(s.Place.Latitude, 'f', -1, 64), strconv.FormatFloat(s.Place.Longitude, 'f', -1, 64)
		}
		t.add(s.Site, s.Name, s.Owner, s.Stage, latitude, longitude, DayText(s.LastSampled.Time), valueText(s.Distance), valueText(s.Bearing), s.Nearest, valueText(s.NearestDistance))
	}
	return t.Table
}

func valueText(n *Number) string {
	if n == nil {
		return ""
	}
	text, _ := n.MarshalJSON() // it fails for no number
	return string(text)
}
