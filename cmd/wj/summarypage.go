package main

import (
	"fmt"
	"html"
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
			latest := r.Latest
			if r.Half != "" {
				latest += " ± " + r.Half
			}
			span := r.Least
			if r.Most != r.Least {
				span += " to " + r.Most
			}
			rows = append(rows, []string{r.Title, latest, r.Unit, r.On, span, strings.TrimSpace(render.Spark(r.Course))})
		}
		mdTable(&b, []string{"value", "newest", "unit", "on", "in this time", "course"}, []bool{false, true, false, false, true, false}, rows)
		for _, r := range site.Rows {
			if len(r.Limits) > 0 {
				fmt.Fprintf(&b, "- %s: %s\n", plain(r.Title), plain(strings.Join(r.Limits, "; ")))
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

// summaryStyle: one column, wide enough for a table and narrow enough to read;
// light or dark as the reader's system is (Media Queries Level 5), plain black on
// white on paper. Contrasts are above 4.5:1 (WCAG 2.2, 1.4.3).
const summaryStyle = `:root{color-scheme:light dark}
body{font:16px/1.5 system-ui,sans-serif;margin:0 auto;max-width:52rem;padding:1.2rem;color:#24292f;background:#fff}
h1{font-size:1.6rem;margin:0 0 .2rem}h2{font-size:1.2rem;margin:1.8rem 0 .3rem;border-bottom:1px solid #d8dee4}
.when,.soft,figcaption,footer{color:#57606a;font-size:.9rem}.when{margin:0 0 1rem}
.scroll{overflow-x:auto}table{border-collapse:collapse;width:100%;font-size:.92rem}caption{text-align:left;color:#57606a;font-size:.9rem}
th,td{text-align:left;padding:.25rem .6rem .25rem 0;border-bottom:1px solid #e6eaee;vertical-align:top}
thead th{font-weight:600;border-bottom:2px solid #57606a}.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
tbody th{font-weight:500}figure{margin:1rem 0;break-inside:avoid}svg{max-width:100%;height:auto}
ul{padding-left:1.2rem}li{margin:.2rem 0}time{font-variant-numeric:tabular-nums;color:#57606a;white-space:nowrap}
.lead{font-size:1.05rem}.lead li::marker{color:#57606a}
@media (prefers-color-scheme:dark){body{color:#e6edf3;background:#0d1117}.when,.soft,figcaption,footer,caption,time{color:#9198a1}h2,th,td{border-color:#30363d}thead th{border-color:#9198a1}}
@page{size:A4;margin:12mm 14mm}
@media print{:root{color-scheme:light}body{max-width:none;padding:0;font-size:9.5pt;line-height:1.35;color:#000;background:#fff}.when,.soft,figcaption,footer,caption,time{color:#333}h2{break-after:avoid;border-color:#999}th,td{border-color:#ccc}tr{break-inside:avoid}svg{max-height:46mm}table{font-size:8.5pt}th,td{padding:.12rem .5rem .12rem 0}h1{font-size:15pt}h2{font-size:12pt;margin-top:.8rem}figure{margin:.5rem 0}ul{margin:.3rem 0}footer{font-size:8pt}figcaption{font-size:8pt}}
`

// html is the page, whole in itself: no script, nothing fetched, text escaped.
func (s *summary) html() string {
	e := func(text string) string { return html.EscapeString(render.Line(text)) }
	var b strings.Builder
	fmt.Fprintf(&b, "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"+
		"<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n<title>%s</title>\n<style>\n%s%s</style>\n</head>\n<body>\n", e(s.title()), summaryStyle, render.DrawingStyle())
	fmt.Fprintf(&b, "<header><h1>%s</h1><p class=\"when\">%s</p></header>\n<main>\n<ul class=\"lead\">\n", e(s.title()), e(s.period()))
	for _, l := range s.Lead {
		b.WriteString("<li>" + e(l) + "</li>\n")
	}
	b.WriteString("</ul>\n")
	drawn := 0
	for i, site := range s.Sites {
		fmt.Fprintf(&b, "<section aria-labelledby=\"s%d\">\n<h2 id=\"s%d\">%s</h2>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"%s\"><table><caption>%s</caption>\n", i, i, e(site.Name), e("results at "+site.Name), e(site.Stage+", "+count(site.Sessions, "session")))
		b.WriteString("<thead><tr><th scope=\"col\">value</th><th scope=\"col\" class=\"n\">newest</th><th scope=\"col\">unit</th><th scope=\"col\">on</th><th scope=\"col\" class=\"n\">in this time</th><th scope=\"col\">limit, and the newest</th></tr></thead>\n<tbody>\n")
		for _, r := range site.Rows {
			latest, span := e(r.Latest), e(r.Least)
			if r.Half != "" {
				latest += " ± " + e(r.Half)
			}
			if r.Most != r.Least {
				span += " to " + e(r.Most)
			}
			if span == "" {
				span = "<span class=\"soft\">beyond the range</span>"
			}
			var limits []string
			for _, l := range r.Limits {
				limits = append(limits, e(l))
			}
			fmt.Fprintf(&b, "<tr><th scope=\"row\">%s</th><td class=\"n\">%s</td><td>%s</td><td class=\"n\">%s</td><td class=\"n\">%s</td><td>%s</td></tr>\n", e(r.Title), latest, e(r.Unit), e(r.On), span, strings.Join(limits, "<br>"))
		}
		b.WriteString("</tbody></table></div>\n")
		for _, d := range site.Charts {
			notes := d.Notes
			d.Notes = nil
			fmt.Fprintf(&b, "<figure>%s", render.DrawingInline(d, fmt.Sprintf("c%d", drawn)))
			if len(notes) > 0 {
				var parts []string
				for _, n := range notes {
					parts = append(parts, e(n))
				}
				b.WriteString("<figcaption>" + strings.Join(parts, "<br>") + "</figcaption>")
			}
			b.WriteString("</figure>\n")
			drawn++
		}
		b.WriteString("</section>\n")
	}
	for i, part := range s.sections() {
		if len(part.items) == 0 {
			continue
		}
		fmt.Fprintf(&b, "<section aria-labelledby=\"t%d\"><h2 id=\"t%d\">%s</h2>\n<ul>\n", i, i, part.title)
		for _, d := range part.items {
			fmt.Fprintf(&b, "<li><time datetime=\"%s\">%s</time> %s</li>\n", day(d.On), day(d.On), e(d.Text))
		}
		b.WriteString("</ul>\n")
		if part.after != "" {
			b.WriteString("<p class=\"soft\">" + e(part.after) + "</p>\n")
		}
		b.WriteString("</section>\n")
	}
	b.WriteString("</main>\n<footer><h2>How to read this</h2><ul>\n")
	for _, n := range append(append([]string{}, summaryNote...), s.LeftOut...) {
		b.WriteString("<li>" + e(n) + "</li>\n")
	}
	b.WriteString("</ul></footer>\n</body>\n</html>\n")
	return b.String()
}
