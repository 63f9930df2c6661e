package report

import (
	"fmt"

	"wj/journal"
	"wj/render"
)

// summaryNotes say how to read a summary.
var summaryNotes = []string{
	"Latest result (± 95 %). Range: lowest to highest in the period. * computed from other readings.",
	"< means below the method's range, > above it.",
	"Over or within a limit: the whole interval is on that side. Inconclusive: the interval includes the limit, and a repeat or a laboratory's test decides.",
	"Limits are those that the journal holds for this place on that day; a limit that the brewery set in place of another is named with it. Limits change: local rules come first.",
	"This page does not show whether the water is safe to drink; ask an accredited laboratory and follow local rules.",
}

func (s *Summary) title() string { return "Water of " + render.Line(s.Name) }

// Document lays the summary out.
func (s *Summary) Document() render.Document { return s.document(true) }

// Screen lays the summary out for a terminal, where four pictures are too many.
func (s *Summary) Screen() render.Document { return s.document(false) }

func (s *Summary) document(pictures bool) render.Document {
	d := render.Document{Title: s.title(), Lead: s.Answer}
	period := longDay(s.From.Time) + " to " + longDay(s.To.Time)
	if s.Brewery != "" && s.Brewery != s.Name {
		period = "Tested by " + render.Line(s.Brewery) + ", " + period
	}
	d.Answer("%s; written %s.", period, s.Written.Format("2 January 2006, 15:04 -07:00"))
	for _, site := range s.Sites {
		t := resultTable(site.Results, "range", s.Written.Time)
		d.Table(fmt.Sprintf("%s: %s, %s", site.Name, site.Stage, journal.Count(site.Sessions, "session")), t)
		if limits := limitLines(site.Results); len(limits) > 0 {
			d.Items("", limits)
		}
	}
	if pictures {
		for _, c := range s.charts {
			d.Draw(c, 12)
		}
	}
	for _, part := range []struct {
		title string
		items []Dated
		after string
	}{{"What happened", s.Events, ""}, {"What was decided and who signed", s.Decided, s.Policy}, {"What you were sent", s.Sent, ""}} {
		var items []string
		for _, i := range part.items {
			items = append(items, dayText(i.On.Time, s.Written.Time)+" "+i.Text)
		}
		d.Items(part.title, items)
		d.Paragraph("", "%s", part.after)
	}
	d.Items("How to read this", append(append([]string{}, summaryNotes...), s.LeftOut...))
	return d
}

// limitLines say of each result that has limits how it stands to them, those that it is not surely within first; a
// limit that replaces another is shown with what it replaces.
func limitLines(results []Result) []string {
	var out []string
	for _, r := range results {
		for _, l := range r.Limits {
			if l.Verdict == "within" && len(l.Replaces) == 0 {
				continue
			}
			text := fmt.Sprintf("%s: %s", r.Title, l.words())
			if l.Source != "" {
				text += " (" + l.Source + ")"
			}
			for _, other := range l.Replaces {
				text += ", in place of " + other.words
			}
			out = append(out, text)
		}
	}
	return out
}
