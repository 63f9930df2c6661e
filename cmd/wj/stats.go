package main

import (
	"errors"
	"math"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/judge"
	"wj/query"
	"wj/query/profile"
	"wj/query/report"
	"wj/water"
)

type statsCmd struct {
	Value  string   `arg:"" help:"An analyte, a derived value or an expression: sulfate, residual_alkalinity, 'sulfate / chloride'."`
	Site   string   `placeholder:"ID" help:"The site."`
	Since  string   `placeholder:"DATE" help:"Sampled from then on: 2026-03-01, 2026-03, 2026-Q2, 2026 or last 90 d."`
	Until  string   `placeholder:"DATE" help:"Sampled up to then, that day or month included."`
	Source []string `enum:"bench,lab,utility" help:"Only results of the bench, a laboratory or the utility; pairs of bench and laboratory are shown all the same."`
	Limit  []string `sep:"none" placeholder:"QUANTITY" help:"When the trend comes to this: \"350 mg/L\"; by default the site's own limits."`
	Format string   `enum:"text,markdown,html,json" default:"text" help:"${enum}."`

	atFlag
}

func (c *statsCmd) Run(a *app) error {
	j, _, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	if c.Site == "" {
		return withHint("--site "+strings.Join(j.IDs(journal.KindSite), ", --site "), "which site?")
	}
	if err := resolve(j, &c.Site, journal.KindSite); err != nil {
		return err
	}
	site, _ := j.Sites.Get(c.Site)
	from, to, err := a.period(c.Since, c.Until, j.Settings.Zone)
	if err != nil {
		return err
	}
	series, err := c.series(j, site, from, to)
	if err != nil {
		return c.explain(a, err)
	}
	if len(series.Points) == 0 {
		left := report.LeftSessions(series)
		if len(left) > 0 {
			a.say("no values of %s at %s; sessions left out: %s", series.Name, c.Site, strings.Join(left, ", "))
		} else {
			a.say("no values of %s at %s", series.Name, c.Site)
		}
		return errFindings
	}
	options := profile.Options{Since: from, Until: report.PastEnd(to)}
	if options.Limits, err = c.limits(j, site, series); err != nil {
		return err
	}
	r, err := report.NewStats(j, site, series, options, a.Now())
	if err != nil {
		return err
	}
	if c.Format == "json" {
		return a.showJSON(r)
	}
	return a.show(r.Document(), c.Format)
}

// series is the history in the unit in which the site's owner reads it, for a
// program in the standard unit.
func (c *statsCmd) series(j *journal.Journal, site *journal.Site, from, to time.Time) (*query.Series, error) {
	q := query.SeriesRequest{Sources: c.Source, Since: from, Until: report.PastEnd(to)}
	if id, ok := water.Lookup(c.Value); ok && c.Format != "json" {
		q.Units = map[water.ID]water.Unit{id: j.Preferred(site.Owner, id)}
	}
	return query.History(j, site.ID, c.Value, q)
}

func (c *statsCmd) explain(a *app, err error) error {
	var qe *query.Error
	if !errors.As(err, &qe) {
		return err
	}
	if strings.ContainsAny(c.Value, "+-*/() ") {
		return (&queryCmd{}).explain(a, err)
	}
	return report.ValueHint(c.Value) // one word is a name, misspelt
}

// limits are those that were asked for, else the site's own.
func (c *statsCmd) limits(j *journal.Journal, site *journal.Site, s *query.Series) ([]profile.Target, error) {
	var out []profile.Target
	for _, text := range c.Limit {
		q, err := water.ParseQuantity(text)
		if err != nil {
			return nil, withHint("write it with its unit: --limit \"350 mg/L\"", "read --limit %q: %w", text, err)
		}
		if q.Bound != water.Exact {
			return nil, withHint("--limit \"350 mg/L\"", "a limit is a number, and %s is a bound", text)
		}
		v := q.Value
		switch {
		case s.Analyte < water.NumNames:
			v, err = s.Analyte.Info().Convert(q.Value, q.Unit, s.Unit)
		case q.Unit != s.Unit:
			err = errors.New("an expression's limit must be in its own unit")
		}
		if err != nil || math.IsNaN(v) {
			return nil, withHint("write it in "+unitOr(s.Unit, "a plain number"), "read --limit %q for %s: %w", text, s.Name, err)
		}
		out = append(out, profile.Target{Name: "asked for", Value: v})
	}
	if len(out) > 0 || s.Analyte >= water.NumNames {
		return out, nil
	}
	for _, l := range judge.NewLimits(j).Of(s.Analyte, site.ID, s.Points[len(s.Points)-1].Sampled) {
		lowest, highest := l.Ends(s.Unit)
		for _, end := range []*float64{lowest, highest} {
			if l.Own != nil && end != nil {
				out = append(out, profile.Target{Name: l.Label(), Value: *end})
			}
		}
	}
	return out, nil
}

func unitOr(u water.Unit, or string) string {
	if text := u.String(); text != "" {
		return text
	}
	return or
}
