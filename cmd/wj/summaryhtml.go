package main

import (
	"fmt"
	"html"
	"strings"

	"wj/render"
)

// summaryStyle: wide enough for a table and narrow enough to read; light or dark
// as the reader's system is (Media Queries Level 5), plain black on white on
// paper. Contrasts are above 4.5:1 (WCAG 2.2, 1.4.3).
const summaryStyle = `:root{color-scheme:light dark}
body{font:16px/1.5 system-ui,sans-serif;margin:0 auto;max-width:64rem;padding:1.2rem;color:#24292f;background:#fff}
h1{font-size:1.6rem;margin:0 0 .2rem}h2{font-size:1.15rem;margin:1.6rem 0 .3rem;border-bottom:1px solid #d8dee4}
.when,.soft,figcaption,footer,small{color:#57606a}.when,figcaption,footer{font-size:.9rem}.when{margin:0 0 .8rem}small{font-size:.8rem;display:block;font-weight:400;white-space:normal}
.scroll{overflow-x:auto}table{border-collapse:collapse;width:100%;font-size:.92rem}caption{text-align:left;color:#57606a;font-size:.9rem;position:sticky;left:0;max-width:88vw}td small{white-space:nowrap}
th,td{text-align:left;padding:.25rem .6rem .25rem 0;border-bottom:1px solid #e6eaee;vertical-align:top}
thead th{font-weight:600;border-bottom:2px solid #57606a;vertical-align:bottom}.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
thead .n{white-space:normal;min-width:5.5rem}tbody th{font-weight:500;background:#fff;position:sticky;left:0}.rule{font-size:.8rem;color:#57606a;min-width:11rem;padding-left:1rem}.over{color:#a0266b;font-weight:600}
.charts{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(24rem,100%),1fr));gap:.5rem 1.5rem;margin:1.2rem 0}
figure{margin:0;break-inside:avoid}svg{max-width:100%;height:auto;display:block}figcaption{font-size:.8rem;line-height:1.35}
ul{padding-left:1.2rem;margin:.4rem 0}li{margin:.2rem 0}time{font-variant-numeric:tabular-nums;color:#57606a;white-space:nowrap}
@media screen{.paper{display:none}}.lead{font-size:1.02rem}.lead li::marker{color:#57606a}
@media (prefers-color-scheme:dark){body,tbody th{background:#0d1117}body{color:#e6edf3}.when,.soft,figcaption,footer,caption,time,small,.rule{color:#9198a1}h2,th,td{border-color:#30363d}thead th{border-color:#9198a1}.over{color:#ff7ec8}}
@page{size:A4;margin:10mm 13mm}
@media print{:root{color-scheme:light}body{max-width:none;padding:0;font-size:8pt;line-height:1.28;color:#000;background:#fff}tbody th{background:none;position:static;white-space:nowrap}.when,.soft,figcaption,footer,caption,time,small,.rule{color:#333}.over{color:#a0266b}
h1{font-size:14pt;margin:0}h2{font-size:10pt;margin:2mm 0 .5mm;break-after:avoid;border-color:#999}.when,caption{font-size:8pt}.when{margin:0 0 1mm}.lead{font-size:8pt}
.scroll{overflow:visible}table{font-size:8pt;line-height:1.15}th,td{padding:.35mm 1.6mm .35mm 0;border-color:#ccc}thead th{border-bottom:1px solid #333}thead .n{min-width:0}small,.rule{font-size:6.6pt}.rule{min-width:0;padding-left:3mm}tr{break-inside:avoid}
.charts{grid-template-columns:1fr 1fr;gap:1mm 6mm;margin:1.5mm 0}.charts figure:only-child{max-width:60%}svg{max-height:36mm}figcaption{font-size:6.6pt;line-height:1.2}
.rest{display:none}ul{margin:.6mm 0;padding-left:4mm}li{margin:.3mm 0}p{margin:.6mm 0}footer{font-size:7pt;line-height:1.2;margin-top:2mm;border-top:1px solid #999}footer h2{position:absolute;clip-path:inset(50%)}}
`

// html is the page, whole in itself: no script, nothing fetched, text escaped. On
// paper it is one A4 sheet: what does not fit there (class "rest") stands on the
// screen, and the sheet says so (class "paper").
func (s *summary) html() string {
	room := s.fit()
	var b strings.Builder
	fmt.Fprintf(&b, "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"+
		"<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n<title>%s</title>\n<style>\n%s%s</style>\n</head>\n<body>\n", escaped(s.title()), summaryStyle, render.DrawingStyle())
	fmt.Fprintf(&b, "<header><h1>%s</h1><p class=\"when\">%s</p></header>\n<main>\n<ul class=\"lead\">\n", escaped(s.title()), escaped(s.period()))
	for _, l := range s.Lead {
		b.WriteString("<li>" + escaped(l) + "</li>\n")
	}
	b.WriteString("</ul>\n")
	s.tables(&b, room)
	if charts := s.Charts[:min(len(s.Charts), chartsOnPage)]; len(charts) > 0 {
		b.WriteString("<section aria-label=\"charts\"><div class=\"charts\">\n")
		for i, c := range charts {
			d := c.d.Drawing(52, 12)
			d.Width, d.Height = 440, 120
			notes := d.Notes
			d.Notes = nil
			fmt.Fprintf(&b, "<figure%s>%s", restClass(i >= room.charts), render.DrawingInline(d, fmt.Sprintf("c%d", i)))
			if len(notes) > 0 {
				b.WriteString("<figcaption>" + escaped(strings.Join(notes, "; ")) + "</figcaption>")
			}
			b.WriteString("</figure>\n")
		}
		b.WriteString("</div></section>\n")
	}
	for i, part := range s.sections() {
		if len(part.items) == 0 {
			continue
		}
		fmt.Fprintf(&b, "<section aria-labelledby=\"t%d\"><h2 id=\"t%d\">%s</h2>\n<ul>\n", i, i, part.title)
		older := max(len(part.items)-room.items, 0)
		if older > 0 {
			fmt.Fprintf(&b, "<li class=\"paper\">%d earlier: more in the journal</li>\n", older)
		}
		for k, d := range part.items {
			fmt.Fprintf(&b, "<li%s><time datetime=\"%s\">%s</time> %s</li>\n", restClass(k < older), day(d.On), day(d.On), clipped(d.Text, room.letters))
		}
		b.WriteString("</ul>\n")
		if part.after != "" {
			b.WriteString("<p class=\"soft\">" + escaped(part.after) + "</p>\n")
		}
		b.WriteString("</section>\n")
	}
	b.WriteString("</main>\n<footer><h2>How to read this</h2><ul>\n")
	for _, n := range append(s.notes(), s.LeftOut...) {
		b.WriteString("<li>" + escaped(n) + "</li>\n")
	}
	if room.leftOut != "" {
		b.WriteString("<li class=\"paper\">" + escaped(room.leftOut) + "</li>\n")
	}
	b.WriteString("</ul></footer>\n</body>\n</html>\n")
	return b.String()
}

func escaped(text string) string { return html.EscapeString(render.Line(text)) }

// restClass marks what the sheet of paper has no room for.
func restClass(rest bool) string {
	if rest {
		return ` class="rest"`
	}
	return ""
}

// clipped is a text of which only the beginning is printed, if it is long.
func clipped(text string, letters int) string {
	runes := []rune(text)
	if len(runes) <= letters+20 {
		return escaped(text)
	}
	cut := strings.LastIndexByte(string(runes[:letters]), ' ')
	if cut <= 0 {
		cut = len(string(runes[:letters]))
	}
	return escaped(text[:cut]) + "<span class=\"paper\"> … (more in the journal)</span><span class=\"rest\"> " + escaped(text[cut:]) + "</span>"
}
