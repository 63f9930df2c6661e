package main

import (
	"fmt"
	"strings"

	"wj/render"
)

// summaryNote stands under every summary.
var summaryNote = []string{
	"± is the half-width of the 95 % interval: the true value lies within it nineteen times in twenty. < means below the method's range, > above it.",
	"\"Surely\" over or within: the whole interval lies on that side of the limit. \"Cannot tell\": the limit lies inside the interval, and a second or a laboratory's test decides.",
	"These are tests of brewing liquor. Whether a water may be drunk is for an accredited laboratory and your local code to say; limits are those in force where the brewery looked them up, and change.",
}

func (s *summary) title() string { return "Water of " + render.Line(s.Owner) }

func (s *summary) period() string {
	text := s.From.Format("2 January 2006") + " to " + s.To.Format("2 January 2006")
	if s.Brewery != "" && s.Brewery != s.Owner {
		text = "tested by " + render.Line(s.Brewery) + ", " + text
	}
	return text + "; written " + s.Written.Format("2 January 2006, 15:04 -07:00")
}

// sections are the lists below the figures.
func (s *summary) sections() []struct {
	title string
	items []dated
	after string
} {
	return []struct {
		title string
		items []dated
		after string
	}{{"What happened", s.Happened, ""}, {"What was decided and who signed", s.Decided, s.Policy}, {"What you were sent", s.Sent, ""}}
}

func (s *summary) markdown() string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n%s\n\n", plain(s.title()), plain(s.period()))
	for _, l := range s.Lead {
		b.WriteString(plain(l) + "\n\n")
	}
	for _, site := range s.Sites {
		fmt.Fprintf(&b, "## %s\n\n%s, %s\n\n", plain(site.Name), plain(site.Stage), count(site.Sessions, "session"))
		var rows [][]string
		for _, r := range site.Rows {
			rows = append(rows, []string{r.name(), r.newest(), r.Unit, day(r.On), r.span(), strings.TrimSpace(render.Spark(r.Course))})
		}
		mdTable(&b, []string{"value", "newest", "unit", "on", "in this time", "course"}, []bool{false, true, false, false, true, false}, rows)
		for _, r := range site.Rows {
			if len(r.Limits) > 0 {
				words := make([]string, len(r.Limits))
				for i, l := range r.Limits {
					words[i] = l.String()
				}
				fmt.Fprintf(&b, "- %s: %s\n", plain(r.name()), plain(strings.Join(words, "; ")))
			}
		}
		b.WriteString("\n")
	}
	for _, part := range s.sections() {
		if len(part.items) == 0 {
			continue
		}
		fmt.Fprintf(&b, "## %s\n\n", part.title)
		for _, d := range part.items {
			fmt.Fprintf(&b, "- %s %s\n", day(d.On), plain(d.Text))
		}
		b.WriteString("\n")
		if part.after != "" {
			b.WriteString(plain(part.after) + "\n\n")
		}
	}
	b.WriteString("## How to read this\n\n")
	for _, n := range append(append([]string{}, summaryNote...), s.LeftOut...) {
		b.WriteString("- " + plain(n) + "\n")
	}
	return b.String()
}
