package report

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"wj/docs/schema"
	"wj/journal"
	"wj/query"
	"wj/render"
	"wj/water"
	"wj/water/spelling"
)

// Chart is what one picture shows, as values: one part is set, and Kind names it.
type Chart struct {
	Schema   string         `json:"schema"`
	Kind     string         `json:"kind"` // control, lines, pairs, ions or waters
	Title    string         `json:"title"`
	Subtitle string         `json:"subtitle,omitempty"`
	Control  *ControlChart  `json:"control,omitempty"`
	Lines    []ChartLine    `json:"lines,omitempty"`
	Pairs    *PairsChart    `json:"pairs,omitempty"`
	Ions     *IonsChart     `json:"ions,omitempty"`
	Waters   []WaterShares  `json:"waters,omitempty"`
	LeftOut  map[string]int `json:"left_out,omitempty"` // why, and how many
	Nothing  string         `json:"nothing,omitempty"`  // why there is no picture
	Notes    []string       `json:"notes"`
}

// ChartRequest says what to draw: Values, the ions of a session, or the shares of the ions of all waters.
type ChartRequest struct {
	Values   []string // over time; or the second against the first, with Against or mash_pH
	Against  bool
	Beer     string // with mash_pH: batches of this beer only
	Ions     string // id of a session
	Waters   bool
	Sites    []string // none: all
	Owners   []string // none: all
	EachSite bool     // all sites in one chart where none is named
	OneOwner bool     // refuse to put waters of several owners into one picture
	Sources  []string // none: all
	From, To time.Time
}

// mashPH is the name of what is measured in a mash, which no session has.
const mashPH = "mash_pH"

// NewChart gathers what a chart shows. The error has a hint where the request cannot be met; where there is nothing to show,
// Nothing says so.
func NewChart(j *journal.Journal, q ChartRequest) (*Chart, error) {
	modes := 0
	for _, on := range []bool{q.Ions != "", q.Waters, len(q.Values) > 0} {
		if on {
			modes++
		}
	}
	if modes != 1 {
		return nil, journal.Hint("wj chart sulfate --site north-well", "say one thing to draw: values, --ions or --piper")
	}
	c := &Chart{Schema: schema.ID("chart"), Notes: []string{}, LeftOut: map[string]int{}}
	switch {
	case q.Ions != "":
		return c, c.ions(j, q)
	case q.Waters:
		return c, c.waters(j, q)
	case len(q.Values) == 2 && slices.Contains(q.Values, mashPH):
		return c, c.mashes(j, q)
	case len(q.Values) == 2 && q.Against:
		return c, c.sessions(j, q)
	}
	return c, c.overTime(j, q)
}

// ValueHint is the error for a single word that is no value.
func ValueHint(name string) error {
	known := append(append(water.Keys(), query.PairNames()...), mashPH)
	return journal.Hint(spelling.HintOr(name, known, "wj explain lists them"), "%q is no analyte or derived value", name)
}

// ChartValues reads the names of analytes and derived values.
func ChartValues(names []string) ([]water.ID, error) {
	var ids []water.ID
	for _, name := range names {
		id, ok := water.Lookup(name)
		if !ok {
			return nil, ValueHint(name)
		}
		ids = append(ids, id)
	}
	return ids, nil
}

// sites are the sites asked for, kept apart by owner.
func (q *ChartRequest) sites(j *journal.Journal) ([]string, error) {
	var out, owners []string
	for _, s := range j.Sites.List {
		if s.Void != nil || len(q.Sites) > 0 && !slices.Contains(q.Sites, s.ID) || len(q.Owners) > 0 && !slices.Contains(q.Owners, s.Owner) {
			continue
		}
		out, owners = append(out, s.ID), append(owners, cmp.Or(s.Owner, "(unknown site)"))
	}
	slices.Sort(owners)
	if owners = slices.Compact(owners); q.OneOwner && len(owners) > 1 {
		return nil, journal.Hint("name them: --owner "+owners[len(owners)-1]+", or say --all-owners", "the picture would hold waters of several owners: %s", strings.Join(owners, ", "))
	}
	if len(out) == 0 {
		return nil, journal.Hint("wj ls sites", "no such site of that owner")
	}
	return out, nil
}

// histories are the series of some values at the sites asked for, in the units that their owner reads.
func (q *ChartRequest) histories(j *journal.Journal, values []string) (series []*query.Series, sites []string, err error) {
	if sites, err = q.sites(j); err != nil {
		return nil, nil, err
	}
	owner := ""
	for i, id := range sites {
		if s, ok := j.Sites.Get(id); ok && (i == 0 || s.Owner == owner) {
			owner = s.Owner
		} else {
			owner = "" // several owners: the journal's units
			break
		}
	}
	units := map[water.ID]water.Unit{}
	for _, value := range values {
		if id, ok := water.Lookup(value); ok {
			units[id] = j.Preferred(owner, id)
		} else if !strings.ContainsAny(value, "+-*/() ") && !slices.Contains(query.PairNames(), value) {
			return nil, nil, ValueHint(value)
		}
	}
	series, err = query.Histories(j, query.SeriesRequest{Sites: sites, Values: values, Units: units, Sources: q.Sources, Since: q.From, Until: PastEnd(q.To)})
	return series, sites, err
}

func (c *Chart) overTime(j *journal.Journal, q ChartRequest) error {
	if len(q.Sites) == 0 && !q.EachSite {
		return journal.Hint("--site "+strings.Join(j.IDs(journal.KindSite), ", --site ")+"; or --by site", "which site?")
	}
	series, _, err := q.histories(j, q.Values)
	if err != nil {
		return err
	}
	series = slices.DeleteFunc(series, func(s *query.Series) bool { return len(s.Points) == 0 })
	switch len(series) {
	case 0:
		c.Kind, c.Nothing = "control", "no values"
		return nil
	case 1:
		site, _ := j.Sites.Get(series[0].Site)
		c.Kind, c.Title = "control", SiteLine(j, site, series[0])+" · "+strings.ReplaceAll(series[0].Name, "_", " ")
		if c.Control, err = NewControlChart(j, site, series[0], q.From, q.To, historyFindings(j, []string{series[0].Site})); err != nil {
			return err
		}
		c.Notes = c.Control.notes
		return nil
	}
	c.Kind, c.Title = "lines", strings.Join(q.Values, ", ")
	return c.several(series, len(q.Values) > 1)
}

// ChartLine is one of several series in a chart.
type ChartLine struct {
	Name   string  `json:"name"`
	Site   string  `json:"site"`
	Value  string  `json:"value"`
	Unit   string  `json:"unit"`
	Points []Point `json:"points"`
	apart  []bool  // of each point: another supply than the one before
}

// mostLines is how many lines can be distinguished.
const mostLines = 8

func (c *Chart) several(series []*query.Series, named bool) error {
	if len(series) > mostLines {
		return journal.Hint("name sites with --site", "%d lines in one chart cannot be distinguished", len(series))
	}
	first := series[0]
	var newest []string
	for _, s := range series {
		if s.Unit != first.Unit {
			return journal.Hint("draw them one by one, or --scatter against each other", "%s in %s and %s in %s do not go on one scale", first.Name, first.Unit, s.Name, s.Unit)
		}
		line := ChartLine{Name: s.Site, Site: s.Site, Value: s.Name, Unit: s.Unit.String()}
		if named {
			line.Name = line.Value + ", " + s.Site
		}
		for i, p := range s.Points {
			line.Points, line.apart = append(line.Points, pointOf(p)), append(line.apart, i > 0 && p.Regime != s.Points[i-1].Regime)
		}
		c.Lines = append(c.Lines, line)
		last := s.Points[len(s.Points)-1]
		v := valueOf(last.Value, last.U, last.Bound, "")
		newest = append(newest, line.Name+" "+v.String())
	}
	c.Subtitle = "Newest: " + strings.Join(newest, ", ") + "."
	return nil
}

// lines lays several series out in one chart.
func (c *Chart) lines() render.Chart {
	out := render.Chart{Title: c.Title, Subtitle: c.Subtitle, Unit: c.Lines[0].Unit, Notes: c.Notes}
	for _, l := range c.Lines {
		s := render.Series{Name: l.Name}
		for i, p := range l.Points {
			bound := 0
			if p.Bound != nil {
				bound = map[string]int{"<": -1, ">": 1}[*p.Bound]
			}
			s.Points = append(s.Points, render.Point{At: p.Sampled.Time, Value: float64(*p.Value), Bound: bound, Apart: l.apart[i]})
		}
		out.Series = append(out.Series, s)
	}
	return out
}

// leftOut says what a chart left out: "2 void, 3 without sodium"; "" for nothing.
func (c *Chart) leftOut() string {
	var parts []string
	for why, n := range c.LeftOut {
		parts = append(parts, fmt.Sprintf("%d %s", n, why))
	}
	sort.Strings(parts)
	if len(parts) == 0 {
		return ""
	}
	return "left out: " + strings.Join(parts, ", ")
}

// none is a chart without anything to show.
func (c *Chart) none(why string) error {
	c.Nothing = why
	if left := c.leftOut(); left != "" {
		c.Nothing += "; " + left
	}
	return nil
}

// drawing lays a chart out for a plane of so many columns and lines; bars are drawn where there are no more points than that.
func (c *Chart) drawing(columns, lines, bars int) render.Drawing {
	switch c.Kind {
	case "ions":
		return c.ionBars(columns - 4)
	case "waters":
		return c.piper()
	case "pairs":
		return c.scatter().Drawing(columns, lines)
	case "lines":
		return c.lines().Drawing(columns, lines)
	}
	d := c.Control.drawing()
	d.Title, d.Bars = c.Title, bars
	return d.Drawing(columns, lines)
}

// Text draws the chart for a screen; 0 lines for the usual height.
func (c *Chart) Text(out render.Output, lines int) string {
	if usual := map[string]int{"control": 16, "lines": 16, "pairs": 18}[c.Kind]; lines <= 0 && usual > 0 {
		lines = usual
	}
	columns := max(out.Width, 40) - 8
	d := c.drawing(columns, lines, columns/3) // nearer than three columns apart, bars hide the values
	if c.Kind == "ions" {
		lines = 10
	}
	return out.Drawing(d, lines)
}

// SVG draws the chart as a picture.
func (c *Chart) SVG() (string, error) {
	if c.Nothing != "" {
		return "", errors.New(c.Nothing)
	}
	return render.DrawingSVG(c.drawing(88, 18, 150)), nil
}
